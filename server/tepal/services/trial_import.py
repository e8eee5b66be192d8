"""Values of a trial from a sheet: a dry run, then all of it in one transaction or nothing. Commits.

A row is a plant of a plot at an assessment; every measurement has a column of its own, headed by
its code or its name. A value that is there already and differs is a problem, never overwritten.
"""

from __future__ import annotations

import dataclasses
import re
import unicodedata
from datetime import date
from typing import TYPE_CHECKING, Any, Final

from tepal.domain.number_format import number_format_of
from tepal.domain.rounding import NumberFormatError, parse_decimal
from tepal.forms.validator import problems as field_problems
from tepal.services.import_plan import Problem
from tepal.services.import_sheets import read_sheets
from tepal.services.server_acts import Act, act_within, server_device
from tepal.services.trial_book import of_trial
from tepal.services.trials import TrialError, load_trial, measured_plots
from tepal.store import records as record_rows
from tepal.sync.ids import shared_id

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from sqlalchemy.orm import Session as DbSession

    from tepal.services.import_sheets import Cell, Sheet
    from tepal.services.server_acts import Chance
    from tepal.sync.merge import RecordState

MOST_PROBLEMS: Final = 300
_HEADS: Final = {
    "plot": "plot", "plot code": "plot", "code": "plot", "parcela": "plot", "codigo": "plot",
    "plant": "plant", "planta": "plant", "assessment": "assessment", "evaluacion": "assessment",
    "note": "note", "nota": "note",
}  # fmt: skip
_MISSING: Final = {
    "dead": "dead", "muerta": "dead", "discarded": "discarded", "descartada": "discarded",
    "lost": "lost", "perdida": "lost", "na": "not_measured", "n/a": "not_measured",
    "-": "not_measured", ".": "not_measured", "not measured": "not_measured",
    "sin medir": "not_measured",
}  # fmt: skip
# columns that an export of this trial has and that say nothing new
_LEFT_ALONE: Final = {"treatment", "treatment name", "block", "row", "column", "observer", "trial"}


@dataclasses.dataclass(slots=True)
class TrialImport:
    """What an import would do: acts, counted values, and what stands against it."""

    acts: list[Act] = dataclasses.field(default_factory=list)
    n_values: int = 0
    n_known: int = 0
    sheets: list[str] = dataclasses.field(default_factory=list)
    problems: list[Problem] = dataclasses.field(default_factory=list)

    def view(self) -> dict[str, Any]:
        """Return it as JSON."""
        return {
            "n_observations": len({one.record for one in self.acts if one.kind == "observation"}),
            "n_values": self.n_values,
            "n_known": self.n_known,
            "sheets": self.sheets,
            "problems": [dataclasses.asdict(one) for one in self.problems[:MOST_PROBLEMS]],
            "n_problems": len(self.problems),
        }


def plan_values(
    db: DbSession,
    establishment: str,
    trial_id: str,
    name: str,
    content: bytes,
    assessment: str | None,
    member: str,
) -> TrialImport:
    """Return what importing the file would do. Reads only.

    Parameters
    ----------
    assessment : code, where the sheet has no such column

    Raises
    ------
    NotFoundError     `trials.no_such_trial`.
    TrialError        `trials.no_layout`.
    ImportFileError   `import.*`: no table.
    """
    trial = load_trial(db, establishment, trial_id)
    if not measured_plots(trial.fields):
        raise TrialError("trials.no_layout", "This trial has no layout yet; draw one first.")
    own = record_rows.load(db, establishment, [("establishment", establishment)])
    decimal_format = own["establishment", establishment].fields.get("number_format")
    reader = _Reader(
        trial,
        {one.id: one for one in of_trial(db, establishment, "observation", trial_id)},
        {one.id for one in of_trial(db, establishment, "assessment", trial_id)},
        number_format_of(decimal_format),
        assessment,
        member,
    )
    for sheet in read_sheets(name, content):
        reader.read(sheet)
    return reader.close()


def import_values(
    db: DbSession,
    establishment: str,
    trial_id: str,
    name: str,
    content: bytes,
    assessment: str | None,
    member: str,
    chance: Chance,
) -> TrialImport:
    """Import the file: everything, or, with a single problem, nothing. Commits.

    Raises
    ------
    TrialError   `trials.import_problems`; others as `plan_values`.
    """
    with db.begin():
        plan = plan_values(db, establishment, trial_id, name, content, assessment, member)
        if plan.problems:
            raise TrialError(
                "trials.import_problems", "The sheet has problems; nothing was imported.",
                n=len(plan.problems),
            )  # fmt: skip
        if plan.acts:
            group = chance.uuid7()
            acts = [dataclasses.replace(one, group=group) for one in plan.acts]
            act_within(db, establishment, server_device(db, establishment), acts, chance)
    return plan


class _Reader:
    def __init__(
        self,
        trial: RecordState,
        known: Mapping[str, RecordState],
        assessments: set[str],
        number_format: Any,
        assessment: str | None,
        member: str,
    ) -> None:
        self.trial, self.known, self.member = trial, known, member
        self.assessment_ids, self.number_format = assessments, number_format
        self.only = assessment
        self.plan = TrialImport()
        self.wanted: dict[str, dict[str, Any]] = {}
        fields = trial.fields
        self.plots = {_plain(str(p.get("code") or p["plot"])): p["plot"] for p in
                      measured_plots(fields)}  # fmt: skip
        self.measured = fields.get("measurements") or ()
        self.planned = {a.get("code"): a for a in fields.get("assessments") or ()}
        self.by_name = {
            _plain(str(word)): code
            for code, a in self.planned.items()
            for word in (code, a.get("name"))
            if word
        }

    def read(self, sheet: Sheet) -> None:
        columns = self._columns(sheet)
        self.plan.sheets.append(sheet.name)
        if "plot" not in columns.values():
            self._problem(sheet, 1, "", "", "no_plot_column")
            return
        if "assessment" not in columns.values() and self.only is None:
            self._problem(sheet, 1, "", "", "no_assessment_column")
            return
        if not any(isinstance(what, dict) for what in columns.values()):
            codes = ", ".join(str(m.get("code")) for m in self.measured)
            self._problem(sheet, 1, "", "", "no_measurement_column", codes=codes)
            return
        for number, cells in sheet.rows:
            self._row(sheet, number, cells, columns)

    def close(self) -> TrialImport:
        made: set[str] = set()
        for record, values in self.wanted.items():
            code = values["assessment"]
            assessment = shared_id(self.trial.id, code)
            if assessment not in self.assessment_ids | made:
                made.add(assessment)
                fields = {"trial": self.trial.id, "code": code}
                self.plan.acts.append(Act("assessment", assessment, "create", self.member, fields))
            old = self.known.get(record)
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
        for at, head in enumerate(sheet.header):
            plain = _plain(re.sub(r"[,(\[].*$", "", head))
            measurement = next(
                (m for m in self.measured
                 if plain in (_plain(str(m.get("code"))), _plain(str(m.get("name") or "")))),
                None,
            )  # fmt: skip
            if plain in _HEADS:
                found[at] = _HEADS[plain]
            elif measurement is not None:
                found[at] = measurement
            elif plain and plain not in _LEFT_ALONE:
                self._problem(sheet, 1, head, head, "unknown_column")
        return found

    def _row(
        self, sheet: Sheet, number: int, cells: Sequence[Cell], columns: Mapping[int, Any]
    ) -> None:
        at = {
            what: (sheet.header[i], cells[i].text if i < len(cells) else "")
            for i, what in columns.items()
            if isinstance(what, str)
        }
        head, code = at["plot"]
        plot = self.plots.get(_plain(code.split("/")[-1]))
        if plot is None:
            some = ", ".join(list(self.plots)[:3])
            self._problem(sheet, number, head, code, "no_such_plot", some=some)
            return
        head, said = at.get("assessment", ("", self.only or ""))
        assessment = self.by_name.get(_plain(said))
        if assessment is None:
            codes = ", ".join(str(one) for one in self.planned)
            self._problem(sheet, number, head, said, "no_such_assessment", codes=codes)
            return
        plant = self._plant(sheet, number, at.get("plant", ("", "")))
        if plant is None:
            return
        note = at.get("note", ("", ""))[1]
        for i, what in columns.items():
            if isinstance(what, dict) and i < len(cells) and cells[i].text:
                of = 0 if what.get("per") == "plot" else plant
                value = self._value(sheet, number, sheet.header[i], cells[i], what)
                if value is not None:
                    self._keep(
                        sheet, number, sheet.header[i], (assessment, plot, of), what, value, note
                    )

    def _plant(self, sheet: Sheet, number: int, said: tuple[str, str]) -> int | None:
        head, text = said
        most = int(self.trial.fields.get("plants_per_plot") or 1)
        if text == "" and most == 1:
            return 1
        if not re.fullmatch(r"[0-9]{1,4}", text) or not 0 <= int(text) <= most:
            self._problem(sheet, number, head, text, "no_such_plant", most=str(most))
            return None
        return int(text)

    def _value(
        self, sheet: Sheet, number: int, head: str, cell: Cell, what: Mapping[str, Any]
    ) -> Any:
        why = _MISSING.get(_plain(cell.text))
        if why is not None:
            return {"missing": why, "note": None}
        if what.get("type") == "days":
            return self._day(sheet, number, head, cell)
        try:
            value = cell.number or parse_decimal(cell.text, self.number_format)
        except NumberFormatError as error:
            code = error.code.removeprefix("number.")
            self._problem(sheet, number, head, cell.text, code)
            return None
        if field_problems("observation", {"m_x": value}):
            self._problem(sheet, number, head, cell.text, "not_a_number")
            return None
        return value

    def _day(self, sheet: Sheet, number: int, head: str, cell: Cell) -> str | None:
        text = cell.day or cell.text
        try:
            return date.fromisoformat(text).isoformat()
        except ValueError:
            self._problem(sheet, number, head, cell.text, "not_a_day")
            return None

    def _keep(
        self,
        sheet: Sheet,
        number: int,
        head: str,
        key: tuple[str, int, int],
        what: Mapping[str, Any],
        value: Any,
        note: str,
    ) -> None:
        record = shared_id(self.trial.id, *key)
        name = f"m_{what['code']}"
        start = {
            "trial": self.trial.id, "assessment": key[0], "plot": key[1], "plant": key[2],
        }  # fmt: skip
        fields = self.wanted.setdefault(record, start)
        there = self.known[record].fields.get(name) if record in self.known else None
        told = there if there is not None else fields.get(name)
        if told is not None and told != value:
            shown = told if isinstance(told, str) else str(told.get("missing"))
            code = "differs" if there is not None else "twice"
            self._problem(sheet, number, head, str(value), code, there=shown)
            return
        if told is not None:
            self.plan.n_known += 1
            return
        fields[name] = value
        if note:
            fields["note"] = note[:2000]
        self.plan.n_values += 1

    def _problem(
        self, sheet: Sheet, row: int, column: str, value: str, code: str, **params: str
    ) -> None:
        self.plan.problems.append(Problem(sheet.name, row, column, value[:200], code, params))


def _plain(text: str) -> str:
    """Return a head or a word as it is compared: without accents, case and double spaces."""
    decomposed = unicodedata.normalize("NFD", text.strip().lower().replace("_", " "))
    return " ".join("".join(c for c in decomposed if not unicodedata.combining(c)).split())
