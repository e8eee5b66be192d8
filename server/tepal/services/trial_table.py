"""The plants of one cell of a trial as the rows of the table that the engine reads.

The same rows go into the CSV files of the exports: what is analysed is what can be read.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from tepal.stats.cells import values_of
from tepal.stats.table import Table

if TYPE_CHECKING:
    from tepal.designs.trial import TrialData, TrialMeasurement, TrialValue
    from tepal.stats.cells import Cell
    from tepal.stats.results import AnalysisResult


@dataclass(frozen=True, slots=True)
class CellRow:
    """One plant (or whole plot) of a cell; `value` is text, "" where missing or left out.

    Days are written as the engine reads them: `28`, or `>42` for a plant still closed on day 42.
    """

    assessment: str
    day: int
    plot: int
    plant: int
    treatment: int
    block: str
    row: int
    column: int
    whole_plot: str
    square_row: str
    square_column: str
    value: str
    covariate: str
    why: str


def cell_rows(
    data: TrialData,
    m: TrialMeasurement,
    assessment: str,
    covariate: dict[int, float] | None,
) -> list[CellRow]:
    """Return a row per plant of every plot: excluded and missing values are empty, with why."""
    a = data.assessment(assessment)
    at = {
        (v.plot, v.plant): v
        for v in data.values
        if v.measurement == m.code and v.assessment == assessment
    }
    seen: dict[int, set[int]] = {}
    for plot, k in at:
        seen.setdefault(plot, set()).add(k)
    rows = []
    for p in data.plots:
        plants = (0,) if m.per == "plot" else data.plants_at(p.number, a.code)
        extra = sorted(seen.get(p.number, set()) - set(plants))
        if m.type == "days" and data.harvests:
            # opened before it was taken: its fellows that did not are left out, so is it
            taken = data.harvested_before(p.number, a.code)
            extra = [k for k in extra if k not in taken]
        for plant in (*plants, *extra):
            value = at.get((p.number, plant))
            text, why = _text(data, m, value, a.until_day, p.number, plant, a.code)
            rows.append(
                CellRow(
                    assessment,
                    a.day,
                    p.number,
                    plant,
                    p.treatment,
                    "" if p.block is None else str(p.block),
                    p.row,
                    p.column,
                    "" if p.whole_plot is None else str(p.whole_plot),
                    "" if p.square_row is None else str(p.square_row),
                    "" if p.square_column is None else str(p.square_column),
                    text,
                    "" if covariate is None else repr(covariate.get(p.number, "")).strip("'"),
                    why,
                )
            )
    return rows


def _text(
    data: TrialData,
    m: TrialMeasurement,
    value: TrialValue | None,
    until_day: int | None,
    plot: int,
    plant: int,
    assessment: str,
) -> tuple[str, str]:
    """Return a value as the engine reads it, and why there is none.

    A daily round notes only what opened: a plant without a note was still closed at its end.
    """
    excluded = next(
        (
            e
            for e in data.exclusions
            if e.plot == plot
            and e.plant in (0, plant)
            and e.measurement in ("", m.code)
            and e.assessment in ("", assessment)
        ),
        None,
    )
    if excluded is not None:
        return "", "excluded"
    if value is None:
        if m.type == "days" and until_day is not None:
            return f">{until_day}", ""
        return "", "not_recorded"
    if value.value is None:
        return "", value.why or "not_measured"
    if m.type == "days" and until_day is not None and value.value > until_day:
        return f">{until_day}", ""
    return repr(value.value), ""


def table_of(
    data: TrialData, m: TrialMeasurement, rows: list[CellRow], covariate: dict[int, float] | None
) -> Table:
    """Return the rows as the engine's table; columns that the design lacks are left out."""
    columns = {
        "treatment": [str(r.treatment) for r in rows],
        "plot": [str(r.plot) for r in rows],
        "plant": [str(r.plant) for r in rows],
        "day": [str(r.day) for r in rows],
        "row": [str(r.row) for r in rows],
        "column": [str(r.column) for r in rows],
        m.code: [r.value for r in rows],
    }
    if any(p.block is not None for p in data.plots):
        columns["block"] = [r.block for r in rows]
    if data.kind.startswith("split_plot"):
        columns["whole_plot"] = [r.whole_plot for r in rows]
    if data.kind == "latin_square":
        columns["square_row"] = [r.square_row for r in rows]
        columns["square_column"] = [r.square_column for r in rows]
    if covariate is not None:
        columns["covariate"] = [r.covariate for r in rows]
    levels = {t.number: t.levels for t in data.treatments}
    for i in range(len(data.factors)):
        if all(len(x) > i and x[i] for x in levels.values()):
            columns[f"factor_{i + 1}"] = [levels[r.treatment][i] for r in rows]
    return Table(
        {name: tuple(column) for name, column in columns.items()},
        tuple(range(2, len(rows) + 2)),
    )


def covariate_of(data: TrialData, m: TrialMeasurement, assessment: str) -> dict[int, float] | None:
    """Return plot -> mean of the same measurement before treatment; None where it is not planned.

    Only for continuous measurements after day 0, and only where it was measured on a plot's plants.
    """
    if m.type != "continuous" or data.plan.covariate != m.code:
        return None
    if data.assessment(assessment).day <= 0:
        return None
    before = sorted((a for a in data.assessments if a.day <= 0), key=lambda a: a.day)
    for a in reversed(before):
        sums: dict[int, list[float]] = {}
        for v in data.values:
            if v.assessment == a.code and v.measurement == m.code and v.value is not None:
                sums.setdefault(v.plot, []).append(v.value)
        if sums:
            return {plot: sum(x) / len(x) for plot, x in sums.items()}
    return None


def horizon_of(data: TrialData, m: TrialMeasurement, assessment: str) -> float | None:
    """Return the day up to which plots are compared for days: the last one all were looked at."""
    if m.type != "days":
        return None
    until = data.assessment(assessment).until_day
    return None if until is None else float(until)


def used_plots(cell: Cell, m: TrialMeasurement, result: AnalysisResult) -> list[str]:
    """Return the plots behind `result.trust.fitted`, in its order; [] where they cannot be told."""
    if result.trust is None:
        return []
    values = cell.plots.total if m.type == "count" else values_of(cell)
    edge = {back.label for back in (result.means.back if result.means else ()) if back.reason}
    treatments = cell.plots.factors["treatment"]
    used = [
        plot
        for i, plot in enumerate(cell.plots.plots)
        if not math.isnan(values[i])
        and cell.plots.n_plants[i] > 0
        and treatments[i] not in edge
        and (cell.covariate is None or cell.covariate[i] is not None)
    ]
    return used if len(used) == len(result.trust.fitted) else []
