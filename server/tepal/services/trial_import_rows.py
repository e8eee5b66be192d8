"""Rows of a sheet -> observations of a trial, or what stands against each cell. Pure.

A row is a plant of a plot at an assessment; every measurement has a column of its own, headed by
its code or its name. A value or note that is there already and differs is a problem, never
overwritten. A number outside the bounds of its plan is asked about, as on the pad.
"""

from __future__ import annotations

import dataclasses
import re
from datetime import date
from typing import TYPE_CHECKING, Any, Final

from tepal.domain.rounding import NumberFormatError, parse_decimal
from tepal.forms.validator import problems as field_problems
from tepal.services.import_plan import Problem
from tepal.services.server_acts import Act
from tepal.services.trial_sheet_words import column_of, is_left_alone, plain, readings, why_missing
from tepal.services.trials import measured_plots
from tepal.sync.ids import shared_id

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from tepal.domain.rounding import NumberFormat
    from tepal.services.import_sheets import Cell, Sheet
    from tepal.sync.merge import RecordState

MOST_PROBLEMS: Final = 300


@dataclasses.dataclass(slots=True)
class TrialImport:
    """What an import would do: acts, counted values, what is unusual, what stands against it."""

    acts: list[Act] = dataclasses.field(default_factory=list)
    n_values: int = 0
    n_known: int = 0
    sheets: list[str] = dataclasses.field(default_factory=list)
    problems: list[Problem] = dataclasses.field(default_factory=list)
    unusual: list[Problem] = dataclasses.field(default_factory=list)

    def view(self) -> dict[str, Any]:
        """Return it as JSON."""
        return {
            "n_observations": len({one.record for one in self.acts if one.kind == "observation"}),
            "n_values": self.n_values,
            "n_known": self.n_known,
            "sheets": self.sheets,
            "problems": [dataclasses.asdict(one) for one in self.problems[:MOST_PROBLEMS]],
            "n_problems": len(self.problems),
            "unusual": [dataclasses.asdict(one) for one in self.unusual[:MOST_PROBLEMS]],
            "n_unusual": len(self.unusual),
        }


@dataclasses.dataclass(frozen=True, slots=True)
class OnFile:
    """A trial as the book has it; observations by id, ids of its assessments."""

    trial: RecordState
    observations: Mapping[str, RecordState]
    assessments: set[str]
    number_format: NumberFormat


@dataclasses.dataclass(frozen=True, slots=True)
class _Row:
    """A row that is being read: (sheet, its number) say where, the rest what it is about."""

    sheet: Sheet
    number: int
    assessment: str = ""
    plot: int = 0
    plant: int = 0


class SheetReader:
    """Reads the sheets of one file; `close` gives what they would do.

    `only` is the assessment where the sheet has no such column.
    """

    def __init__(self, on_file: OnFile, only: str | None, member: str) -> None:
        self.on_file, self.only, self.member = on_file, only, member
        self.plan = TrialImport()
        self.wanted: dict[str, dict[str, Any]] = {}
        fields = on_file.trial.fields
        self.measured = fields.get("measurements") or ()
        self.most_plants = int(fields.get("plants_per_plot") or 1)
        self.plots = {
            plain(str(p.get("code") or p["plot"])): p["plot"] for p in measured_plots(fields)
        }
        # a spreadsheet makes 17 of "017"
        self.short = {code.lstrip("0"): plot for code, plot in self.plots.items()}
        self.planned = {a.get("code"): a for a in fields.get("assessments") or ()}
        self.by_name = {
            plain(str(word)): code
            for code, a in self.planned.items()
            for word in (a.get("name"), code)
            if word
        }

    def read(self, sheet: Sheet) -> None:
        """Read one sheet; what is wrong with its headings is told once, not with every row."""
        columns = self._columns(sheet)
        self.plan.sheets.append(sheet.name)
        top = _Row(sheet, sheet.head_row)
        if "plot" not in columns.values():
            self._problem(top, "", "", "no_plot_column")
            return
        if "assessment" not in columns.values() and self.only is None:
            self._problem(top, "", "", "no_assessment_column")
            return
        if not any(isinstance(what, dict) for what in columns.values()):
            codes = ", ".join(str(m.get("code")) for m in self.measured)
            self._problem(top, "", "", "no_measurement_column", codes=codes)
            return
        for number, cells in sheet.rows:
            self._row(_Row(sheet, number), cells, columns)

    def close(self) -> TrialImport:
        """Return what the sheets would do."""
        made: set[str] = set()
        for record, values in self.wanted.items():
            code = values["assessment"]
            assessment = shared_id(self.on_file.trial.id, code)
            if assessment not in self.on_file.assessments | made:
                made.add(assessment)
                fields = {"trial": self.on_file.trial.id, "code": code}
                self.plan.acts.append(Act("assessment", assessment, "create", self.member, fields))
            old = self.on_file.observations.get(record)
            if old is None:
                self.plan.acts.append(Act("observation", record, "create", self.member, values))
                continue
            changed = {
                name: (old.fields.get(name), value)
                for name, value in values.items()
                if old.fields.get(name) != value
            }
            if changed:
                self.plan.acts.append(Act("observation", record, "change", self.member, changed))
        return self.plan

    def _columns(self, sheet: Sheet) -> dict[int, Any]:
        """Return place -> "plot", "plant", "assessment", "note" or a measurement."""
        found: dict[int, Any] = {}
        names = [
            ({plain(str(m.get("code"))), plain(str(m.get("name") or m.get("code")))}, m)
            for m in self.measured
        ]
        top = _Row(sheet, sheet.head_row)
        for at, head in enumerate(sheet.header):
            measurement = next(
                (m for said in readings(head) for own, m in names if said in own), None
            )
            what = measurement or column_of(head)
            if what is None:
                if plain(head) and not is_left_alone(head):
                    self._problem(top, head, head, "unknown_column")
            elif what in found.values():
                self._problem(top, head, head, "column_twice")
            else:
                found[at] = what
        return found

    def _row(self, row: _Row, cells: Sequence[Cell], columns: Mapping[int, Any]) -> None:
        values = {
            i: what
            for i, what in columns.items()
            if isinstance(what, dict) and i < len(cells) and cells[i].text
        }
        at = {
            what: (row.sheet.header[i], cells[i].text if i < len(cells) else "")
            for i, what in columns.items()
            if isinstance(what, str)
        }
        note_head, note = at.get("note", ("", ""))
        if not values and not note:
            return  # a line of the sheet to fill in that was not filled in
        found = self._about(row, at, values.values())
        if found is None:
            return
        for i, what in values.items():
            of = 0 if what.get("per") == "plot" else found.plant
            value = self._value(found, row.sheet.header[i], cells[i], what)
            if value is not None:
                self._keep(
                    dataclasses.replace(found, plant=of), row.sheet.header[i],
                    f"m_{what['code']}", value,
                )  # fmt: skip
        if note:
            self._keep(found, note_head, "note", note[:2000])

    def _about(self, row: _Row, at: Mapping[str, tuple[str, str]], measured: Any) -> _Row | None:
        """Return which plant at which assessment a row is about; None where it does not say."""
        head, code = at["plot"]
        if not code:
            self._problem(row, head, "", "no_plot_here")
            return None
        said = plain(code.split("/")[-1])
        plot = self.plots.get(said) or self.short.get(said.lstrip("0"))
        if plot is None:
            some = ", ".join(list(self.plots)[:3])
            self._problem(row, head, code, "no_such_plot", some=some)
            return None
        head, said = at.get("assessment", ("", self.only or ""))
        assessment = self.by_name.get(plain(said)) or (
            self.by_name.get(plain(self.only or "")) if not said else None
        )
        if assessment is None:
            codes = ", ".join(str(one) for one in self.planned)
            self._problem(row, head, said, "no_such_assessment", codes=codes)
            return None
        head, text = at.get("plant", ("", ""))
        of_plants = any(m.get("per") != "plot" for m in measured)
        least = 1 if of_plants else 0
        plant = text or ("1" if of_plants and self.most_plants == 1 else "" if of_plants else "0")
        if not re.fullmatch(r"[0-9]{1,4}", plant) or not least <= int(plant) <= self.most_plants:
            self._problem(row, head, text, "no_such_plant", most=str(self.most_plants))
            return None
        return dataclasses.replace(row, assessment=assessment, plot=plot, plant=int(plant))

    def _value(self, row: _Row, head: str, cell: Cell, what: Mapping[str, Any]) -> Any:
        look = self.planned[row.assessment]
        if what["code"] not in (look.get("measurements") or ()):
            name = str(look.get("name") or row.assessment)
            self._problem(row, head, cell.text, "not_planned", assessment=name)
            return None
        why = why_missing(cell.text)
        if why is not None:
            return {"missing": why, "note": None}
        if cell.is_formula:
            self._problem(row, head, cell.text, "formula")
            return None
        if what.get("type") == "days":
            return self._day(row, head, cell)
        if cell.day:
            self._problem(row, head, cell.text, "is_a_day")
            return None
        try:
            value = cell.number or parse_decimal(cell.text, self.on_file.number_format)
        except NumberFormatError as error:
            self._problem(row, head, cell.text, error.code.removeprefix("number."))
            return None
        if field_problems("observation", {"m_x": value}):
            self._problem(row, head, cell.text, "not_a_number")
            return None
        if what.get("type") == "count" and "." in value:
            self._problem(row, head, cell.text, "not_whole")
            return None
        self._look_at(row, head, cell.text, float(value), what)
        return value

    def _look_at(
        self, row: _Row, head: str, text: str, value: float, what: Mapping[str, Any]
    ) -> None:
        least, most = what.get("least"), what.get("most")
        if least is not None and value < float(least):
            self._unusual(row, head, text, "below_range", bound=str(least))
        elif most is not None and value > float(most):
            self._unusual(row, head, text, "above_range", bound=str(most))

    def _day(self, row: _Row, head: str, cell: Cell) -> str | None:
        text = cell.day or cell.text
        try:
            day = date.fromisoformat(text).isoformat()
        except ValueError:
            self._problem(row, head, cell.text, "not_a_day")
            return None
        zero = str(self.on_file.trial.fields.get("day_zero_on") or "")
        if zero and day < zero:
            self._unusual(row, head, day, "before_treatment", bound=zero)
        return day

    def _keep(self, row: _Row, head: str, name: str, value: Any) -> None:
        trial = self.on_file.trial.id
        record = shared_id(trial, row.assessment, row.plot, row.plant)
        old = self.on_file.observations.get(record)
        there = None if old is None else old.fields.get(name)
        here = self.wanted.get(record, {}).get(name)
        told = there if there is not None else here
        if told is not None and _said(told) != _said(value):
            code = "differs" if there is not None else "twice"
            self._problem(row, head, _said(value), code, there=_said(told)[:80])
            return
        if told is not None:
            self.plan.n_known += there is not None and name != "note"
            return
        start = {
            "trial": trial, "assessment": row.assessment, "plot": row.plot, "plant": row.plant,
        }  # fmt: skip
        self.wanted.setdefault(record, start)[name] = value
        self.plan.n_values += name != "note"

    def _problem(self, row: _Row, column: str, value: str, code: str, **params: str) -> None:
        found = Problem(row.sheet.name, row.number, column, value[:200], code, params)
        self.plan.problems.append(found)

    def _unusual(self, row: _Row, column: str, value: str, code: str, **params: str) -> None:
        found = Problem(row.sheet.name, row.number, column, value[:200], code, params)
        self.plan.unusual.append(found)


def _said(value: Any) -> str:
    return value if isinstance(value, str) else str(value.get("missing"))
