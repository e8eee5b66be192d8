"""A sheet to fill in for one trial: its own plots, plants and measurements, as XLSX. Reads only."""

from __future__ import annotations

import io
import re
from typing import TYPE_CHECKING, Any

from openpyxl import Workbook

from tepal.services.trial_harvests import plants_of
from tepal.services.trial_sheet_words import HEADS
from tepal.services.trials import TrialError, load_trial, measured_plots

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from sqlalchemy.orm import Session as DbSession

    from tepal.services.import_sample import Language

_WIDTH = 16  # characters
_NOT_IN_A_TITLE = re.compile(r"[\[\]:*?/\\']")


def sample_values(
    db: DbSession, establishment: str, trial_id: str, assessment: str | None, language: Language
) -> bytes:
    """Return a workbook with a sheet for each assessment, or for the one that is asked for.

    Every row is a plot's plant that stands then; the columns of the measurements are empty.

    Raises
    ------
    NotFoundError   `trials.no_such_trial`.
    TrialError      `trials.no_layout`.
    """
    fields = load_trial(db, establishment, trial_id).fields
    if not measured_plots(fields):
        raise TrialError("trials.no_layout", "This trial has no layout yet; draw one first.")
    looks = [
        one
        for one in fields.get("assessments") or ()
        if one.get("sort") != "warm_up" and assessment in (None, one.get("code"))
    ]
    book = Workbook()
    book.remove(book.active)
    for look in looks:
        _fill(book, fields, look, language)
    if not looks:
        book.create_sheet("–")
    file = io.BytesIO()
    book.save(file)
    return file.getvalue()


def _fill(
    book: Workbook, fields: Mapping[str, Any], look: Mapping[str, Any], language: Language
) -> None:
    title = _NOT_IN_A_TITLE.sub(" ", str(look.get("name") or look["code"]))[:28].strip()
    sheet = book.create_sheet(title or str(look["code"]))  # a title that is taken gets a number
    codes = look.get("measurements") or ()
    measured = [m for m in fields.get("measurements") or () if m.get("code") in codes]
    heads = [HEADS[x][language][0] for x in ("plot", "plant", "assessment")]
    heads += [f"{m.get('name') or m['code']}{_unit(m)}" for m in measured]
    sheet.append([*heads, HEADS["note"][language][0]])
    for plot, plant in _rows(fields, look, measured):
        sheet.append([plot, plant, look["code"]])
    for at, head in enumerate(heads, start=1):
        column = sheet.column_dimensions[sheet.cell(1, at).column_letter]
        column.width = max(_WIDTH, len(head) + 2)
    sheet.freeze_panes = "D2"


def _unit(measurement: Mapping[str, Any]) -> str:
    is_day = measurement.get("type") == "days"
    unit = "YYYY-MM-DD" if is_day else str(measurement.get("unit") or "")
    return f" ({unit})" if unit else ""


def _rows(
    fields: Mapping[str, Any], look: Mapping[str, Any], measured: list[Mapping[str, Any]]
) -> Iterator[tuple[str, int | None]]:
    """Return (plot code, plant) in walking order; a whole plot has no plant."""
    of_plot = any(m.get("per") == "plot" for m in measured)
    of_plants = any(m.get("per") != "plot" for m in measured)
    for plot in measured_plots(fields):
        code = str(plot.get("code") or plot["plot"])
        if of_plot:
            yield code, None
        if of_plants:
            for plant in plants_of(fields, int(plot["plot"]), str(look["code"])):
                yield code, plant
