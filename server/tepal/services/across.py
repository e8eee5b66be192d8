"""What has been found here before: the finished trials of this book, pooled by question.

Effects of a trial are computed from its analysed cells, kept beside them, and joined to what the
trial received each time they are asked for. Commits what was computed, nothing else.
"""

from __future__ import annotations

import hashlib
import json
from collections import defaultdict
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any, Final

from sqlalchemy import func, select

from tepal import __version__
from tepal.domain.errors import NotFoundError
from tepal.services.across_effects import Effect, effects_of, wanted_cells
from tepal.services.across_questions import Found, crop_key, crop_keys, fits, plain, questions_of
from tepal.services.across_view import AcrossView
from tepal.services.catalogue import words_for
from tepal.services.trial_analysis import ANALYSIS
from tepal.services.trial_book import trial_data
from tepal.services.trial_received import Registers, crops_of, dose_of_mix, received_of
from tepal.services.trial_results import cells_of, number_format_here
from tepal.store import records as record_rows
from tepal.store.database import read_session, write_session
from tepal.store.models import AnalysisResult

if TYPE_CHECKING:
    from collections.abc import Iterable

    from sqlalchemy.orm import Session as DbSession

    from tepal.domain.rounding import NumberFormat
    from tepal.services.across_questions import Question
    from tepal.services.trial_results import Desk
    from tepal.sync.merge import RecordState

#: Changes whenever the same values would give other effects.
ACROSS: Final = "tepal-across-1"
# The name under which a trial's effects are kept among its cells; no cell has a name without space.
_CELL: Final = "across"
_FINISHED: Final = ("finished", "closed")


@dataclass(frozen=True, slots=True)
class Past:
    """The finished trials: what is known of each, which still have to be computed."""

    found: tuple[Found, ...]
    waiting: tuple[RecordState, ...]
    silent: tuple[tuple[RecordState, str], ...]
    registers: Registers
    n_trials: int
    number_format: NumberFormat


def overview(desk: Desk) -> dict[str, Any]:
    """Return every question with its short answer, the mixes that fit it, and what is waiting.

    `waiting` names finished trials whose effects must be computed first (`compute`); `silent` those
    that answer nothing, with the end of a code of words. Reads only.
    """
    with read_session() as db:
        past = _past(db, desk.establishment)
    questions = questions_of(past.found)
    doses = {
        mix.id: (mix.revision, dose_of_mix(mix.fields, past.registers.products))
        for mix in past.registers.mixes.values()
        if mix.state != "void" and not mix.fields.get("retired")
    }
    rows = []
    for q in questions:
        mixes = {
            mix_id: revision
            for mix_id, (revision, dose) in doses.items()
            if dose is not None and fits(q, dose)
        }
        rows.append({**_view(desk, q, past.number_format).summary(), "mixes": mixes})
    return {
        "questions": rows,
        "waiting": [_named(trial) for trial in past.waiting],
        "silent": [{**_named(trial), "why": why} for trial, why in past.silent],
        "n_trials": past.n_trials,
    }


def question(desk: Desk, key: str) -> dict[str, Any]:
    """Return one question whole, with those of other rates on the same crop. Reads only.

    Raises
    ------
    NotFoundError   `across.no_such_question`.
    """
    with read_session() as db:
        past = _past(db, desk.establishment)
    questions = questions_of(past.found)
    wanted = next((q for q in questions if q.key == key), None)
    if wanted is None:
        raise NotFoundError(
            "across.no_such_question",
            "No finished trial answers this question any more; look at the list.",
        )
    others = []
    for q in questions:
        if q.key != key and _subject(q) == _subject(wanted):
            summary = _view(desk, q, past.number_format).summary()
            others.append({name: summary[name] for name in ("key", "dose", "facts", "short")})
    return {**_view(desk, wanted, past.number_format).view(), "others": others}


def compute(desk: Desk, trial_id: str) -> dict[str, Any]:
    """Analyse what is missing of a trial, in the worker, and keep its effects. Commits.

    Raises
    ------
    NotFoundError   `trials.no_such_trial`.
    """
    with read_session() as db:
        data = trial_data(db, desk.establishment, trial_id)
        states = _fingerprints(db, desk.establishment, _applications(db, desk.establishment))
        trial = record_rows.load(db, desk.establishment, [("trial", trial_id)])["trial", trial_id]
        digest = states.of(trial)
    cells = cells_of(desk, trial_id, data, wanted_cells(data))
    effects = effects_of(data, cells)
    with write_session() as db, db.begin():
        db.merge(
            AnalysisResult(
                establishment=desk.establishment, trial=trial_id, cell=_CELL, input_hash=digest,
                result={"effects": [asdict(one) for one in effects]}, made_at=desk.chance.instant(),
            )
        )  # fmt: skip
    return {"id": trial_id, "n_effects": len(effects)}


def _view(desk: Desk, q: Question, number_format: NumberFormat) -> AcrossView:
    return AcrossView(q, words_for(desk.locale, desk.language), number_format)


def _subject(q: Question) -> tuple[object, ...]:
    """Return what questions of other rates, volumes and days share."""
    e = q.first.effect
    return q.crop_key, [ai for ai, _ in q.first.dose.ais], e.measurement, e.type, e.comparator


def _named(trial: RecordState) -> dict[str, str]:
    fields = trial.fields
    return {
        "id": trial.id, "code": str(fields.get("code") or ""),
        "title": str(fields.get("title") or ""), "elsewhere": str(fields.get("elsewhere") or ""),
    }  # fmt: skip


# --- the book ------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _States:
    """What tells whether a trial's effects are still those of its values."""

    rows: dict[str, dict[str, tuple[int, int]]]
    applications: dict[str, list[RecordState]]

    def of(self, trial: RecordState) -> str:
        facts = [
            ACROSS, ANALYSIS, __version__, trial.revision,
            [self.rows[kind].get(trial.id) for kind in sorted(self.rows)],
            sorted((one.id, one.revision) for one in self.applications.get(trial.id, ())),
        ]  # fmt: skip
        return hashlib.sha256(json.dumps(facts).encode()).hexdigest()


def _fingerprints(
    db: DbSession, establishment: str, applications: dict[str, list[RecordState]]
) -> _States:
    rows = {}
    for kind in ("observation", "assessment", "exclusion"):
        table = record_rows.table_of(kind)
        query = (
            select(table.c.trial, func.count(), func.max(table.c.revision))
            .where(table.c.establishment == establishment, table.c.trial.is_not(None))
            .group_by(table.c.trial)
        )
        rows[kind] = {trial: (n, newest) for trial, n, newest in db.execute(query)}
    return _States(rows, applications)


def _applications(db: DbSession, establishment: str) -> dict[str, list[RecordState]]:
    table, names = record_rows.table_of("application"), record_rows.field_columns("application")
    query = (
        select(table)
        .where(table.c.establishment == establishment, table.c.trial.is_not(None))
        .order_by(table.c.created_seq, table.c.id)
    )
    found: dict[str, list[RecordState]] = defaultdict(list)
    for row in db.execute(query):
        one = record_rows.state_of("application", row, names)
        if one.state != "void":
            found[one.fields["trial"]].append(one)
    return found


def _by_id(db: DbSession, establishment: str, kind: str) -> dict[str, RecordState]:
    return {one.id: one for one in record_rows.load_all(db, establishment, kind)}


def _past(db: DbSession, establishment: str) -> Past:
    trials = [
        one
        for one in record_rows.load_all(db, establishment, "trial")
        if one.state != "void" and one.fields.get("phase") in _FINISHED
    ]
    applications = _applications(db, establishment)
    registers = Registers(
        _by_id(db, establishment, "tank_mix"), _by_id(db, establishment, "product"),
        _by_id(db, establishment, "lot"),
    )  # fmt: skip
    states = _fingerprints(db, establishment, applications)
    kept = _kept(db, establishment)
    codes = crop_keys(c for one in trials for c in crops_of(one.fields, registers.lots))
    found: list[Found] = []
    waiting, silent = [], []
    for trial in trials:
        digest, stored = kept.get(trial.id, ("", {}))
        if digest != states.of(trial):
            waiting.append(trial)
            continue
        effects = tuple(Effect(**one) for one in stored["effects"])
        own = _found(trial, effects, applications.get(trial.id, ()), registers)
        found += own
        why = _why_silent(trial, own, registers, codes) if effects else "no_effect"
        if why:
            silent.append((trial, why))
    return Past(
        tuple(found), tuple(waiting), tuple(silent), registers, len(trials),
        number_format_here(db, establishment),
    )  # fmt: skip


def _found(
    trial: RecordState,
    effects: Iterable[Effect],
    applications: Iterable[RecordState],
    registers: Registers,
) -> list[Found]:
    doses = received_of(trial.fields, applications, registers)
    crops = crops_of(trial.fields, registers.lots)
    named = _named(trial)
    day = str(trial.fields.get("day_zero_on") or "")
    return [
        Found(
            trial.id, named["code"], named["title"], named["elsewhere"], day, crops,
            doses[e.treatment], e,
        )
        for e in effects
        if e.treatment in doses
    ]  # fmt: skip


def _why_silent(
    trial: RecordState, own: list[Found], registers: Registers, codes: dict[str, str]
) -> str:
    """Return why a computed trial answers nothing; "" where it answers something."""
    crops = crops_of(trial.fields, registers.lots)
    if not any(plain(c.crop) or c.eppo for c in crops):
        return "no_crop"
    if not any(one.dose.ais for one in own):
        return "no_dose"
    return "several_crops" if crop_key(own[0], codes) is None else ""


def _kept(db: DbSession, establishment: str) -> dict[str, tuple[str, dict[str, Any]]]:
    query = select(AnalysisResult).where(
        AnalysisResult.establishment == establishment, AnalysisResult.cell == _CELL
    )
    return {row.trial: (row.input_hash, row.result) for row in db.execute(query).scalars()}
