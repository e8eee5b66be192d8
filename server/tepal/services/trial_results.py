"""Analyses on demand: computed in the worker, kept by the hash of their input, shown as views.

Reads the book in one session, computes outside of any, and commits what was computed.
"""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any

from sqlalchemy import select

from tepal.domain.errors import NotFoundError
from tepal.domain.number_format import number_format_of
from tepal.reports.chart_marks import colour_of, drawing_data, svg_of
from tepal.reports.charts import drawing_of
from tepal.reports.frozen import from_json
from tepal.reports.trial_report import render_trial_report
from tepal.services.catalogue import catalogue, words_for
from tepal.services.papers import Printing, keep_paper
from tepal.services.trial_analysis import (
    CellAnalysis,
    analyse_cell,
    analyse_course,
    cell_hash,
    cell_keys,
    course_keys,
)
from tepal.services.trial_book import trial_data
from tepal.services.trial_exports import (
    file_name,
    r_script,
    r_table,
    results_json,
    tidy_csv,
    workbook,
)
from tepal.services.trial_facts import report_facts
from tepal.services.trial_report import TrialReports
from tepal.store import records as record_rows
from tepal.store.database import read_session, write_session
from tepal.store.models import AnalysisResult

if TYPE_CHECKING:
    from collections.abc import Iterable
    from pathlib import Path

    from sqlalchemy.orm import Session as DbSession

    from tepal.designs.trial import TrialData
    from tepal.domain.rounding import NumberFormat
    from tepal.photos.storage import PhotoStorage
    from tepal.reports.charts import Chart
    from tepal.reports.trial_view import CellView, Style, TrialReportView
    from tepal.services.print_base import Book
    from tepal.services.server_acts import Chance
    from tepal.services.worker import Worker

EXPORTS = ("values.csv", "plots.csv", "results.json", "workbook.xlsx", "models.R")
# Narrow, so that the text of a chart can be read on a phone; a bench takes what its columns need.
_SCREEN_WIDTH = 250.0
_BENCH_CELL = 30.0


@dataclass(frozen=True, slots=True)
class Desk:
    """Who asks, in which language, and with what: the words' folder, clock and worker."""

    establishment: str
    language: str
    locale: Path
    chance: Chance
    worker: Worker


def matrix(desk: Desk, trial_id: str) -> dict[str, Any]:
    """Return the trial's cells with what is known of each now: fresh, stale or not computed.

    Raises
    ------
    NotFoundError   `trials.no_such_trial`.
    """
    with read_session() as db:
        data = trial_data(db, desk.establishment, trial_id)
        kept = _kept(db, desk.establishment, trial_id)
        views = _views(db, desk, data)
    cells = []
    for m, a in (*cell_keys(data), *((code, "") for code in course_keys(data))):
        digest = cell_hash(data, m, a)
        found = kept.get(f"{m} {a}")
        known = None if found is None else _read(found[1])
        shown = None if not known else views.view(known[0])
        cells.append(
            {
                "measurement": m,
                "assessment": a,
                "title": views.measurement_title(m, a),
                "is_primary": m == data.plan.primary and a != "",
                "state": None if shown is None else shown.state,
                "is_stale": found is not None and found[0] != digest,
                "rows": [] if shown is None else picture_rows(shown),
            }
        )
    return {
        "code": data.code,
        "title": data.title,
        "question": data.question,
        "primary": data.plan.primary,
        "measurements": [{"code": m.code, "name": m.name} for m in data.measurements],
        "assessments": [
            {"code": a.code, "name": a.name, "day": a.day}
            for a in sorted(data.assessments, key=lambda a: a.day)
        ],
        "plots": [{"plot": p.number, "code": p.code, "treatment": p.treatment} for p in data.plots],
        "exclusions": [asdict(e) for e in data.exclusions],
        "plan_changes": views.plan_changes(),
        "cells": cells,
    }


def cell(desk: Desk, trial_id: str, measurement: str, assessment: str) -> dict[str, Any]:
    """Return one cell's view with its charts laid out for the screen. Commits what it computed.

    Raises
    ------
    NotFoundError   `trials.no_such_trial`, `analysis.no_such_cell`.
    """
    views, found = _one(desk, trial_id, measurement, assessment)
    shown = [views.view(c) for c in found]
    return {
        "trial": trial_id,
        "file": file_name(views.data),
        "plan_changes": views.plan_changes(),
        "views": [screen_view(v) for v in shown],
    }


def chart_svg(
    desk: Desk, trial_id: str, measurement: str, assessment: str, name: str, *, is_dark: bool
) -> str:
    """Return one chart as an SVG document.

    Raises
    ------
    NotFoundError   `trials.no_such_trial`, `analysis.no_such_cell`, `analysis.no_such_chart`.
    """
    views, found = _one(desk, trial_id, measurement, assessment)
    for c in found:
        for chart in views.view(c).charts:
            if chart.name == name:
                return svg_of(drawing_of(chart), chart.alt, "dark" if is_dark else "light")
    raise NotFoundError("analysis.no_such_chart", "This analysis has no chart of that name.")


def report_pdf(
    desk: Desk, trial_id: str, style: Style, *, member: str, storage: PhotoStorage
) -> tuple[str, bytes]:
    """Print the report of a trial: stored, numbered, drawn in the worker. Commits.

    Returns
    -------
    (file name without ending, PDF).
    """
    with read_session() as db:
        data = trial_data(db, desk.establishment, trial_id)
    cells = all_cells(desk, trial_id, data)
    with read_session() as db:
        printing = Printing(db, desk.establishment, desk.language, desk.locale, member, desk.chance)

        def view_of(book: Book) -> TrialReportView:
            reports = TrialReports(data, book.words, book.text.number_format, style)
            return reports.report_view(cells, report_facts(book, trial_id, data))

        view = keep_paper(printing, "trial", trial_id, view_of)
    photos = {}
    for photo in view.photos:
        try:
            photos[photo.sha256] = storage.read(desk.establishment, photo.sha256)
        except NotFoundError:  # still on a phone: the report is printed without it
            continue
    catalogue_ = catalogue(desk.locale, desk.language)
    return file_name(data), desk.worker.run(render_trial_report, view, catalogue_, photos)


def export(desk: Desk, trial_id: str, name: str) -> tuple[str, bytes]:
    """Return (file name, content) of one of EXPORTS.

    Raises
    ------
    NotFoundError   `trials.no_such_trial`, `analysis.no_such_export`.
    """
    with read_session() as db:
        data = trial_data(db, desk.establishment, trial_id)
    base = file_name(data)
    if name == "values.csv":
        return f"{base}-values.csv", tidy_csv(data).encode()
    if name == "plots.csv":
        return f"{base}-plots.csv", desk.worker.run(r_table, data).encode()
    if name == "models.R":
        return f"{base}.R", r_script(data).encode()
    if name == "results.json":
        cells = all_cells(desk, trial_id, data)
        return f"{base}-results.json", desk.worker.run(results_json, data, cells).encode()
    if name == "workbook.xlsx":
        cells = all_cells(desk, trial_id, data)
        return f"{base}.xlsx", desk.worker.run(workbook, data, cells)
    raise NotFoundError("analysis.no_such_export", f"There is no export called {name}.")


def all_cells(desk: Desk, trial_id: str, data: TrialData) -> tuple[CellAnalysis, ...]:
    """Return every cell and course of a trial, from what is kept and computed for the rest."""
    keys = (*cell_keys(data), *((code, "") for code in course_keys(data)))
    return cells_of(desk, trial_id, data, keys)


def cells_of(
    desk: Desk, trial_id: str, data: TrialData, keys: Iterable[tuple[str, str]]
) -> tuple[CellAnalysis, ...]:
    """Return the (measurement, assessment) cells asked for, kept or computed. Commits the latter.

    An assessment of "" is the course over time, which holds several.
    """
    with read_session() as db:
        kept = _kept(db, desk.establishment, trial_id)
    found: list[CellAnalysis] = []
    computed: dict[str, tuple[str, tuple[CellAnalysis, ...]]] = {}
    for m, a in keys:
        key, digest = f"{m} {a}", cell_hash(data, m, a)
        if key in kept and kept[key][0] == digest:
            found += _read(kept[key][1])
            continue
        fresh = desk.worker.run(analysis_of, data, m, a)
        computed[key] = (digest, fresh)
        found += fresh
    _keep(desk, trial_id, computed)
    return tuple(found)


def analysis_of(data: TrialData, measurement: str, assessment: str) -> tuple[CellAnalysis, ...]:
    """Return the analysis of a cell, or of a course where the assessment is "" (in the worker)."""
    if not assessment:
        return analyse_course(data, measurement)
    return (analyse_cell(data, measurement, assessment),)


def _one(
    desk: Desk, trial_id: str, measurement: str, assessment: str
) -> tuple[TrialReports, tuple[CellAnalysis, ...]]:
    with read_session() as db:
        data = trial_data(db, desk.establishment, trial_id)
        kept = _kept(db, desk.establishment, trial_id)
        views = _views(db, desk, data)
    known = cell_keys(data) if assessment else [(c, "") for c in course_keys(data)]
    if (measurement, assessment) not in known:
        raise NotFoundError(
            "analysis.no_such_cell",
            "Nothing was measured there yet. Exchange first, or choose another field.",
        )
    key, digest = f"{measurement} {assessment}", cell_hash(data, measurement, assessment)
    if key in kept and kept[key][0] == digest:
        return views, _read(kept[key][1])
    found = desk.worker.run(analysis_of, data, measurement, assessment)
    _keep(desk, trial_id, {key: (digest, found)})
    return views, found


def _views(db: DbSession, desk: Desk, data: TrialData) -> TrialReports:
    words = words_for(desk.locale, desk.language)
    return TrialReports(data, words, number_format_here(db, desk.establishment))


def number_format_here(db: DbSession, establishment: str) -> NumberFormat:
    """Return the format in which the establishment writes numbers."""
    own = record_rows.load(db, establishment, [("establishment", establishment)])
    return number_format_of(own["establishment", establishment].fields.get("number_format"))


def _kept(db: DbSession, establishment: str, trial_id: str) -> dict[str, tuple[str, Any]]:
    query = select(AnalysisResult).where(
        AnalysisResult.establishment == establishment, AnalysisResult.trial == trial_id
    )
    return {row.cell: (row.input_hash, row.result) for row in db.execute(query).scalars()}


def _read(stored: Any) -> tuple[CellAnalysis, ...]:
    return tuple(from_json(CellAnalysis, json.dumps(one)) for one in stored["cells"])


def _keep(
    desk: Desk, trial_id: str, computed: dict[str, tuple[str, tuple[CellAnalysis, ...]]]
) -> None:
    if not computed:
        return
    now = desk.chance.instant()
    with write_session() as db, db.begin():
        for key, (digest, cells) in computed.items():
            db.merge(
                AnalysisResult(
                    establishment=desk.establishment, trial=trial_id, cell=key, input_hash=digest,
                    result={"cells": [asdict(c) for c in cells]}, made_at=now,
                )
            )  # fmt: skip


# --- what the screen gets ------------------------------------------------------------------


def screen_view(view: CellView) -> dict[str, Any]:
    """Return a cell's view with its charts as drawings."""
    found = asdict(view)
    found["charts"] = [_screen_chart(chart) for chart in view.charts]
    found["rows"] = picture_rows(view)
    return found


def _screen_chart(chart: Chart) -> dict[str, Any]:
    drawing = drawing_of(chart, _screen_width(chart))
    inks = {"ink", "paper", *(mark.ink for mark in drawing.marks)}
    return {
        "name": chart.name,
        "title": chart.title,
        "alt": chart.alt,
        "note": chart.note,
        "drawing": drawing_data(drawing),
        "inks": {ink: colour_of(ink, "light") for ink in sorted(inks)},  # of a picture to keep
    }


def _screen_width(chart: Chart) -> float:
    if chart.bench is None:
        return _SCREEN_WIDTH
    return max(_SCREEN_WIDTH, _BENCH_CELL * chart.bench.n_columns + 20.0)


def picture_rows(view: CellView) -> list[dict[str, Any]]:
    """Return the rows of a cell's small picture: against the control, else the means."""
    charts = {c.name: c for c in view.charts}
    chart = charts.get("percent") or charts.get("difference") or charts.get("means")
    if chart is None or chart.intervals is None:
        return []
    return [
        {"value": r.value, "lower": r.lower, "upper": r.upper, "filled": r.is_filled}
        for r in chart.intervals.rows
    ]
