"""The office's own look at a reopening: whether its conditions are met when it arrives.

The phone offers the button only when every condition is met by what it has heard; the office knows
more, and later. A reopening that comes too early waits for a grower: it is never lost, and until
somebody accepts it the place stays restricted. Reads only, inside the push's transaction.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from tepal.domain.errors import TepalError
from tepal.domain.restriction import restriction_state
from tepal.domain.stricter import stricter_fields
from tepal.store import records as record_rows

if TYPE_CHECKING:
    from collections.abc import Mapping

    from sqlalchemy.orm import Session as DbSession

    from tepal.sync.entry import Entry
    from tepal.sync.merge import RecordState

NOT_MET: Final = "conditions_not_met"


def parts_add(db: DbSession, establishment: str) -> bool:
    """Return whether parts of ventilation options add up here (California's rule)."""
    key = ("establishment", establishment)
    found = record_rows.load(db, establishment, [key]).get(key)
    return found is not None and found.fields.get("ventilation_parts_add") is True


def may_reopen(fields: Mapping[str, Any], now_ms: float, *, parts_add: bool) -> bool:
    """Return whether every condition of a restriction is met at `now_ms`, server time.

    A record that can't be judged (a spell that ends before it begins) is not reopened by itself.
    """
    standing = {name: value for name, value in fields.items() if name != "reopened_at"}
    try:
        state = restriction_state(standing, now_ms, now_ms, 0, parts_add)
    except TepalError:
        return False
    return state.may_reopen


def open_conflicts(
    db: DbSession, establishment: str, kind: str, record: str
) -> list[Mapping[str, Any]]:
    """Return the fields of the undecided conflicts of one record."""
    return [
        case.fields
        for case in record_rows.load_all(db, establishment, "conflict")
        if case.fields.get("of_kind") == kind
        and case.fields.get("of_id") == record
        and "decision" not in case.fields
    ]


class ReopeningGate:
    """Judges reopenings of one push against the record as it then stands."""

    def __init__(self, db: DbSession, establishment: str, now_ms: float) -> None:
        self.db = db
        self.establishment = establishment
        self.now_ms = now_ms
        self._parts_add: bool | None = None

    def reason(self, entry: Entry, current: RecordState | None) -> str | None:
        """Return why a reopening waits, or None where it may take effect."""
        named = entry.changes.get("reopened_by")
        if named is None or named.to != entry.member:
            return NOT_MET  # an act by a named person, under the person's own name
        if self._parts_add is None:
            self._parts_add = parts_add(self.db, self.establishment)
        fields = self._strict(current) if current else {}
        fields |= {name: change.to for name, change in entry.changes.items()}
        if may_reopen(fields, self.now_ms, parts_add=self._parts_add):
            return None
        return NOT_MET

    def _strict(self, current: RecordState) -> dict[str, Any]:
        """Two values of one field that nobody has decided on: the stricter one counts."""
        cases = open_conflicts(self.db, self.establishment, "restriction", current.id)
        return stricter_fields("restriction", current.fields, cases)
