"""A trial in open formats: tidy CSV, workbook, JSON, and an R script with its table.

The R script re-runs the main models in base R, multcomp and emmeans from the plot values.
"""

from __future__ import annotations

import csv
import io
import json
import math
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Any

from tepal.services.trial_analysis import (
    analyse_trial,
    cell_keys,
    is_factorial,
    scaled_weights,
    spec_of,
)
from tepal.services.trial_table import cell_rows, covariate_of, table_of
from tepal.stats.cells import cell_of, values_of
from tepal.stats.results import to_json

if TYPE_CHECKING:
    from collections.abc import Iterable

    from tepal.designs.trial import Contrast, TrialData
    from tepal.services.trial_analysis import CellAnalysis

_R_BODY = Path(__file__).with_name("trial_models.R")
FORMAT = "urn:tepal:trial-results:1"

TIDY = (
    "trial", "measurement", "unit", "type", "assessment", "day", "block", "row", "column",
    "whole_plot", "plot", "plot_code", "plant", "treatment", "treatment_name", "value",
    "why_empty", "observer", "potted_code",
)  # fmt: skip
PLOTS = (
    "cell", "measurement", "assessment", "type", "plot", "block", "whole_plot", "square_row",
    "square_column", "row", "column", "treatment", "n_plants", "value", "total", "covariate",
    "covariate_used",
)  # fmt: skip


def _cell(value: Any) -> str:
    """Return a value as CSV text; a text that a spreadsheet would run as a formula is quoted."""
    if value is None:
        return ""
    if isinstance(value, str):
        return f"'{value}" if value[:1] in ("=", "+", "-", "@", "\t") else value
    return repr(value)


def csv_text(heads: Iterable[str], rows: Iterable[Iterable[Any]]) -> str:
    """Return rows as CSV (RFC 4180: comma, CRLF, quotes where needed), numbers with a point."""
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(list(heads))
    writer.writerows([_cell(value) for value in row] for row in rows)
    return out.getvalue()


def tidy_rows(data: TrialData) -> list[tuple[Any, ...]]:
    """Return one row per plant, measurement and assessment, in the order of TIDY."""
    code = {p.number: p.code for p in data.plots}
    potted = {(x.plot, x.plant): x.code for x in (data.potting.moves if data.potting else ())}
    observer = {(v.assessment, v.measurement, v.plot, v.plant): v.observer for v in data.values}
    rows = []
    for measurement, assessment in cell_keys(data):
        m, a = data.measurement(measurement), data.assessment(assessment)
        for r in cell_rows(data, m, assessment, None):
            value: Any = r.value
            if value and not value.startswith(">"):
                value = float(value)
            rows.append(
                (
                    data.code, m.code, m.unit, m.type, a.code, a.day, r.block, r.row, r.column,
                    r.whole_plot, r.plot, code[r.plot], r.plant, r.treatment,
                    data.treatment(r.treatment).label, value, r.why,
                    observer.get((a.code, m.code, r.plot, r.plant), ""),
                    potted.get((r.plot, r.plant), ""),
                )
            )  # fmt: skip
    return rows


def tidy_csv(data: TrialData) -> str:
    """Return the tidy table: one value a row."""
    return csv_text(TIDY, tidy_rows(data))


def plot_rows(data: TrialData) -> list[tuple[Any, ...]]:
    """Return one row per plot and cell as the models take it, in the order of PLOTS."""
    rows = []
    place = {p.number: p for p in data.plots}
    for measurement, assessment in cell_keys(data):
        m = data.measurement(measurement)
        covariate = covariate_of(data, m, assessment)
        table = table_of(data, m, cell_rows(data, m, assessment, covariate), covariate)
        cell = cell_of(
            table, spec_of(data, m, assessment, covariate is not None), m.code, m.type, None
        )
        values = values_of(cell)
        for i, plot in enumerate(cell.plots.plots):
            p = place[int(plot)]
            known = not math.isnan(values[i])
            total = float(cell.plots.total[i]) if m.type in ("count", "proportion") else None
            rows.append(
                (
                    f"{m.code} {assessment}", m.code, assessment, m.type, p.number, p.block,
                    p.whole_plot, p.square_row, p.square_column, p.row, p.column, p.treatment,
                    int(cell.plots.n_plants[i]), float(values[i]) if known else None,
                    total if known else None,
                    None if cell.covariate is None else cell.covariate[i],
                    "no" if covariate is None else "yes",
                )
            )  # fmt: skip
    return rows


def r_table(data: TrialData) -> str:
    """Return the table that the R script reads."""
    return csv_text(PLOTS, plot_rows(data))


def r_script(data: TrialData) -> str:
    """Return the R script: reads `<code>-plots.csv` beside it, writes `<code>-answers.csv`."""
    plan = data.plan
    wanted = next((m.wanted for m in data.measurements if m.code == plan.primary), "none")
    side = "two.sided"
    if not plan.is_two_sided and wanted != "none":
        side = "less" if wanted == "lower" else "greater"
    pairs = ", ".join(
        f"c({', '.join(_r(str(n)) for n in (p.control, p.first, p.second, p.both))})"
        for p in data.partners
    )
    name = file_name(data)
    head = [
        f"# Trial {_plain(data.code)}: {_plain(data.title)}",
        "# Least-squares means, F tests, differences from the control, planned contrasts and the",
        "# partners' departure, from plot values.",
        f"# Run in the folder of the table: Rscript {name}.R",
        *(f"# treatment {t.number}: {_plain(t.label)}" for t in data.treatments),
        f"table_file <- {_r(f'{name}-plots.csv')}",
        f"answers_file <- {_r(f'{name}-answers.csv')}",
        f"control <- {_r('' if plan.control is None else str(plan.control))}",
        f"primary <- {_r(plan.primary)}",
        f"alternative <- {_r(side)}",
        f"scale <- {_r(plan.scale)}",
        f"partners <- list({pairs})",
        "# planned contrasts: weights divided by the sum of the plus weights",
        f"planned <- list({', '.join(_planned(c) for c in plan.contrasts)})",
        *_levels(data),
    ]
    return "\n".join(head) + "\n" + _R_BODY.read_text(encoding="utf-8")


def _planned(contrast: Contrast) -> str:
    """Return a contrast as a named R vector under its name."""
    weights = ", ".join(f"{_r(str(n))} = {w!r}" for n, w in scaled_weights(contrast).items())
    return f"{_r(contrast.name)} = c({weights})"


def _levels(data: TrialData) -> list[str]:
    """Return the factors and a matrix of their levels, a row per treatment; NULL without."""
    if not is_factorial(data):
        return ["factors_ <- character(0)", "levels_ <- NULL"]
    rows = ", ".join(f"c({', '.join(_r(x) for x in t.levels)})" for t in data.treatments)
    numbers = ", ".join(_r(str(t.number)) for t in data.treatments)
    codes = ", ".join(_r(f"factor_{i + 1}") for i in range(len(data.factors)))
    return [
        *(f"# factor_{i}: {_plain(name)}" for i, name in enumerate(data.factors, start=1)),
        f"factors_ <- c({codes})",
        f"levels_ <- rbind({rows}); rownames(levels_) <- c({numbers})",
    ]


def file_name(data: TrialData) -> str:
    """Return the trial's code as a file name: letters, digits, dash; "trial" where none is left."""
    kept = "".join(c if c.isascii() and (c.isalnum() or c == "-") else "-" for c in data.code)
    return kept.strip("-") or "trial"


def _r(text: str) -> str:
    """Return a text as an R string."""
    return json.dumps("".join(c for c in text if c.isprintable()), ensure_ascii=True)


def _plain(text: str) -> str:
    """Return a text on one line, for a comment."""
    return " ".join("".join(c if c.isprintable() else " " for c in text).split())


def results_json(data: TrialData, cells: tuple[CellAnalysis, ...]) -> str:
    """Return data and results as JSON: the figures as the engine gives them, nothing rounded."""
    found = {
        "format": FORMAT,
        "trial": asdict(data),
        "cells": [
            {
                "measurement": c.measurement,
                "assessment": c.assessment,
                **{
                    name: _result(getattr(c, name))
                    for name in (
                        "result", "letters", "pairs", "trend", "trend_fit", "dose", "interactions",
                        "formulations", "contrasts", "factorial", "strata", "curves",
                    )
                },
                "plots": [asdict(p) for p in c.plots],
                "refusals": [asdict(r) for r in c.refusals],
            }
            for c in cells
        ],
    }  # fmt: skip
    return json.dumps(found, ensure_ascii=False, indent=1, allow_nan=False) + "\n"


def _result(value: Any) -> Any:
    if value is None:
        return None
    return [to_json(v) for v in value] if isinstance(value, tuple) else to_json(value)


def workbook(data: TrialData, cells: tuple[CellAnalysis, ...] | None = None) -> bytes:
    """Return a workbook: what the trial is, every plant, every plot, means and comparisons."""
    from openpyxl import Workbook
    from openpyxl.styles import Font

    cells = analyse_trial(data) if cells is None else cells
    book = Workbook()
    book.remove(book.active)
    sheets: list[tuple[str, Iterable[str], Iterable[Iterable[Any]]]] = [
        ("treatments", ("number", "name", "role", "rate", "unit"),
         [(t.number, t.label, t.role, t.rate, t.rate_unit) for t in data.treatments]),
        ("measurements", ("code", "name", "type", "unit", "definition"),
         [(m.code, m.name, m.type, m.unit, m.definition) for m in data.measurements]),
        ("values", TIDY, tidy_rows(data)),
        ("plots", PLOTS, plot_rows(data)),
        ("means", ("measurement", "assessment", "treatment", "scale", "mean", "se", "df", "lower",
                   "upper", "plots", "letters", "procedure"), _mean_rows(cells)),
        ("comparisons", ("measurement", "assessment", "procedure", "comparison", "scale",
                         "estimate", "se", "df", "lower", "upper", "p", "p_adjusted", "reason"),
         _comparison_rows(cells)),
        ("contrasts", ("contrast", "treatment", "weight"),
         [(c.name, n, w) for c in data.plan.contrasts for n, w in c.coefficients]),
        ("plan changes", ("field", "before", "after", "by", "on", "reason"),
         [(p.name, p.before, p.after, p.by, p.on, p.reason) for p in data.plan_changes]),
        ("exclusions", ("plot", "plant", "measurement", "assessment", "reason", "by", "at"),
         [(e.plot, e.plant, e.measurement, e.assessment, e.reason, e.by, e.at)
          for e in data.exclusions]),
    ]  # fmt: skip
    if data.potting:
        names = ("liner_plot", "liner_plant", "potted_plot", "potted_code", "row", "column")
        moved = [(x.plot, x.plant, x.now, x.code, x.row, x.column) for x in data.potting.moves]
        sheets.append(("potting_on", names, moved))
    for title, heads, rows in sheets:
        sheet = book.create_sheet(title)
        sheet.append(list(heads))
        for cell in sheet[1]:
            cell.font = Font(bold=True)
        for row in rows:
            sheet.append([_text_cell(v) for v in row])
        sheet.freeze_panes = "A2"
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def _text_cell(value: Any) -> Any:
    """Return a value for a workbook: no text may be read as a formula, no character refused."""
    if not isinstance(value, str):
        return value
    clean = "".join(c for c in value if c.isprintable() or c == "\n")
    return f"'{clean}" if clean[:1] in ("=", "+", "-", "@") else clean


def _mean_rows(cells: tuple[CellAnalysis, ...]) -> list[tuple[Any, ...]]:
    rows = []
    for c in cells:
        if c.result.means is None:
            continue
        shown = dict(c.letters.letters) if c.letters else {}
        when = c.assessment or c.result.assessment
        rows += [
            (c.measurement, when, m.label, m.scale, m.value, m.se, m.df, m.lower, m.upper, m.n,
             shown.get(m.label, ""), c.letters.procedure if c.letters else "")
            for m in (c.result.means.back or c.result.means.means)
        ]  # fmt: skip
    return rows


def _comparison_rows(cells: tuple[CellAnalysis, ...]) -> list[tuple[Any, ...]]:
    rows = []
    for c in cells:
        when = c.assessment or c.result.assessment
        families = (
            c.result.comparison, c.result.percent_of_control, c.pairs, c.trend, c.contrasts,
            *c.formulations,
        )  # fmt: skip
        for family in families:
            if family is not None:
                rows += [
                    (c.measurement, when, family.procedure, e.label, e.scale, e.value, e.se, e.df,
                     e.lower, e.upper, e.p, e.p_adjusted, e.reason)
                    for e in family.comparisons
                ]  # fmt: skip
        for i in c.interactions:
            e = i.departure
            rows.append(
                (c.measurement, when, i.about.method, e.label, e.scale, e.value, e.se, e.df,
                 e.lower, e.upper, e.p, e.p_adjusted, e.reason)
            )  # fmt: skip
    return rows
