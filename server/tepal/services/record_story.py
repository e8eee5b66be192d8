"""How records came to be what they are: each step that changed one, who, when and why.

The journal rows about the records, and about the conflicts and held entries on them, are replayed
with the engine itself, so that the story can never differ from the record. Read only.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from sqlalchemy import select

from tepal.services.kind_rules import VALIDATOR
from tepal.store import records as record_rows
from tepal.store.journal import rows_about
from tepal.store.models import ConflictRecord, HeldRecord
from tepal.sync.memory import MemoryJournal
from tepal.sync.replay import replay_row

if TYPE_CHECKING:
    from collections.abc import Sequence

    from sqlalchemy.orm import Session as DbSession

    from tepal.sync.merge import RecordState
    from tepal.sync.ports import JournalRow


@dataclass(frozen=True, slots=True)
class Step:
    """One entry that changed a record: the record before (None = it was made) and after."""

    row: JournalRow
    entry: dict[str, Any]
    before: RecordState | None
    after: RecordState

    @property
    def made_at(self) -> dict[str, Any]:
        """When it was made, by the author's clock."""
        found = self.entry.get("made_at")
        return found if isinstance(found, dict) else {}

    @property
    def reason(self) -> str:
        """The reason given; "" where none was asked for."""
        return str(self.entry.get("reason") or "")


def stories(
    db: DbSession, establishment: str, kind: str, ids: Sequence[str]
) -> dict[str, list[Step]]:
    """Return the steps of each record, oldest first."""
    wanted = set(ids)
    related = set(wanted)
    for start in range(0, len(ids), 500):
        part = ids[start : start + 500]
        for model in (ConflictRecord, HeldRecord):
            query = select(model.id).where(
                model.establishment == establishment, model.of_id.in_(part)
            )
            related |= set(db.execute(query).scalars())
    journal = MemoryJournal(establishment)
    told: dict[str, list[Step]] = {record_id: [] for record_id in ids}
    for row in rows_about(db, establishment, sorted(related)):
        before = {i: journal.table.get((kind, i)) for i in _touchable(row, kind, wanted, journal)}
        replay_row(row, journal, VALIDATOR)
        for record_id, old in before.items():
            new = journal.table.get((kind, record_id))
            if new is not None and (
                old is None or (old.fields, old.state) != (new.fields, new.state)
            ):
                told[record_id].append(Step(row, _entry(row), old, new))
    return told


def _touchable(row: JournalRow, kind: str, wanted: set[str], journal: MemoryJournal) -> set[str]:
    """The wanted records a row may change: its own, or the one its conflict or held entry is on."""
    if row.record is None:
        return set()
    if row.kind == kind:
        return {row.record} & wanted
    case = journal.table.get((row.kind or "", row.record))
    return {str(case.fields.get("of_id"))} & wanted if case else set()


def _entry(row: JournalRow) -> dict[str, Any]:
    try:
        found = json.loads(row.text)
    except ValueError:
        return {}
    return found if isinstance(found, dict) else {}


def names_of(db: DbSession, establishment: str, kind: str, field: str) -> dict[str, str]:
    """Return {id: text} of one field of every record of a kind."""
    return {
        record.id: str(record.fields.get(field, ""))
        for record in record_rows.load_all(db, establishment, kind)
    }
