"""Records as they travel, each written once: at shift end a hundred phones pull the same ones.

A text is known by the record, the chain's hash at the entry that moved it last, which stands for
everything up to there, and the journal's epoch, since a redaction changes texts and no hash.
"""

from __future__ import annotations

import json
import threading
from collections import OrderedDict
from typing import TYPE_CHECKING, Any, Final

from tepal.store import records as record_rows
from tepal.sync.ports import CONFLICT, HELD

if TYPE_CHECKING:
    from collections.abc import Sequence

    from sqlalchemy.orm import Session as DbSession

    from tepal.store.journal import Moved
    from tepal.sync.merge import RecordState

MAX_HELD_CHARS: Final = 8192
# What a device's cursor was read in: a change of the ceiling starts again from a snapshot.
SCOPE: Final = "all1"  # every kind
WALL_SCOPE: Final = "wall1"  # a wall tablet's
# What no wall needs to say stays in the office: it names people.
_WALL_DROPS: Final = frozenset(
    {"operator", "operator_name", "operator_number", "signature", "note", "reason", "member"}
)
_Known = tuple[str, str, str, str]  # epoch, hash, kind, id


def wire_record(record: RecordState, scope: str = SCOPE) -> dict[str, Any]:
    """Return a record as it travels; a held text too long to read on a phone stays here."""
    fields = record.fields
    if scope == WALL_SCOPE and record.kind in ("application", "restriction", CONFLICT):
        fields = {name: fields[name] for name in fields if name not in _WALL_DROPS}
    if record.kind == HELD and len(str(fields.get("text", ""))) > MAX_HELD_CHARS:
        fields = {**fields, "text": "", "text_chars": len(str(fields["text"]))}
    return {
        "kind": record.kind,
        "id": record.id,
        "revision": record.revision,
        "state": record.state,
        "form_version": record.form_version,
        "author": record.author if scope == SCOPE else "",
        "fields": fields,
    }


def wire_text(record: RecordState, scope: str = SCOPE) -> str:
    """Return the JSON text of a record as it travels."""
    return json.dumps(wire_record(record, scope), ensure_ascii=False, separators=(",", ":"))


class WireTexts:
    """Keeps the texts sent last, up to so many characters. One for a process, for all threads."""

    def __init__(self, most_chars: int = 32_000_000) -> None:
        self.most_chars = most_chars
        self._lock = threading.Lock()
        self._texts: OrderedDict[_Known, str] = OrderedDict()
        self._chars = 0

    def of(
        self, db: DbSession, establishment: str, epoch: str, moved: Sequence[Moved]
    ) -> tuple[str, ...]:
        """Return the texts of moved records, from the snapshot that named them."""
        wanted = {(one.kind, one.id): (epoch, one.hash, one.kind, one.id) for one in moved}
        with self._lock:
            found = {key: self._texts[key] for key in wanted.values() if key in self._texts}
            for key in found:
                self._texts.move_to_end(key)
        unread = [record for record, key in wanted.items() if key not in found]
        rows = record_rows.load(db, establishment, unread)
        fresh = {wanted[record]: wire_text(row) for record, row in rows.items()}
        self._keep(fresh)
        found |= fresh
        return tuple(found[key] for key in wanted.values())

    def _keep(self, fresh: dict[_Known, str]) -> None:
        with self._lock:
            for key, text in fresh.items():
                if key not in self._texts:
                    self._chars += len(text)
                self._texts[key] = text
            while self._chars > self.most_chars:
                _, text = self._texts.popitem(last=False)
                self._chars -= len(text)
