"""Entries and pushes for tests of the engine: short to write, over any JournalPort."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

from tepal.services.authority import RoleAuthority, Session
from tepal.services.kind_rules import VALIDATOR
from tepal.sync.engine import apply
from tepal.sync.memory import MemoryJournal
from tepal.sync.prepared import prepare

if TYPE_CHECKING:
    from tepal.sync.engine import EntryResult, PushResult
    from tepal.sync.ports import JournalPort

RECEIVED = "2026-05-12T14:00:00.000Z"
ESTABLISHMENT = "00000000-0000-7000-8000-00000000e5ab"
ROLES = ("operator", "technician", "grower", "manager", "inspector", "display")
SIGNATURE = {
    "member": "00000000-0000-7000-8000-0000000000c3",
    "name": "Gia Moreau",
    "method": "pin",
    "at": {"local": "2026-05-12T10:00:00", "offset_min": -240, "zone": "Etc/UTC"},
}


def uuid(n: int) -> str:
    """Return the n-th id."""
    return f"{n:08x}-0000-7000-8000-{n:012x}"


MEMBERS = {role: uuid(0xC1 + place) for place, role in enumerate(ROLES)}
DEVICE = uuid(0xD1)
OTHER_DEVICE = uuid(0xD2)


class Pusher:
    """Makes entries of one device and pushes them into a journal."""

    def __init__(
        self,
        journal: JournalPort | None = None,
        *,
        device: str = DEVICE,
        ceiling: str = "manager",
        signed_in: str | None = None,
        first_id: int = 0x1000,
    ) -> None:
        self.journal = MemoryJournal(ESTABLISHMENT) if journal is None else journal
        self.session = Session(device, ceiling, MEMBERS[signed_in] if signed_in else None)
        self.number = 0
        self.last_id = first_id

    def entry(self, action: str = "create", kind: str = "application", **more: Any) -> str:
        """Return the text of the device's next entry; `fields` may hold (was, to) pairs."""
        self.number += 1
        self.last_id += 1
        changes = {
            name: {"was": value[0], "to": value[1]} if isinstance(value, tuple) else
            {"was": None, "to": value}
            for name, value in more.pop("fields", {}).items()
        }  # fmt: skip
        whole = {
            "id": uuid(self.last_id), "device": self.session.device, "number": self.number,
            "member": MEMBERS[more.pop("role", "grower")], "kind": kind, "record": uuid(1),
            "action": action, "changes": changes, "reason": None,
            "made_at": {"local": "2026-05-12T10:00:00"}, "form_version": 1, "group": None,
        }  # fmt: skip
        return json.dumps(whole | more)

    def push(self, *texts: str, quarantine_all: str | None = None) -> PushResult:
        """Push texts as the device's session."""
        authority = RoleAuthority(self.session, {m: role for role, m in MEMBERS.items()})
        return apply(
            prepare(texts, VALIDATOR), device=self.session.device, journal=self.journal,
            authority=authority, validator=VALIDATOR, received_at=RECEIVED,
            quarantine_all=quarantine_all,
        )  # fmt: skip

    def one(self, text: str) -> EntryResult:
        """Push one text and return what became of it."""
        return self.push(text).results[-1]

    def do(self, action: str = "create", kind: str = "application", **more: Any) -> EntryResult:
        """Make an entry, push it, return what became of it."""
        return self.one(self.entry(action, kind, **more))

    def fields(self, kind: str = "application", record: str = "") -> dict[str, Any]:
        """Return the fields of a record that have a value."""
        found = self.journal.records([(kind, record or uuid(1))])[kind, record or uuid(1)].fields
        return {name: value for name, value in found.items() if value is not None}

    def state(self, kind: str = "application", record: str = "") -> str:
        """Return the state of a record."""
        return self.journal.records([(kind, record or uuid(1))])[kind, record or uuid(1)].state
