"""The server's own acts: set-up, imports, demo, command line. They are entries like any other.

The server writes as a device of its own (ceiling manager); its numbers are taken under the lock.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from tepal.services.authority import RoleAuthority, Session
from tepal.services.exchange import VALIDATOR
from tepal.store.journal import SqlJournal
from tepal.sync.engine import apply
from tepal.sync.ids import uuid7
from tepal.sync.prepared import prepare

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import datetime

    from sqlalchemy.orm import Session as DbSession

    from tepal.sync.engine import PushResult


@dataclass(frozen=True, slots=True)
class Act:
    """One act before it is an entry: `changes` holds new values, or (was, to) pairs."""

    kind: str
    record: str
    action: str
    member: str
    changes: dict[str, Any]
    reason: str | None = None
    group: str | None = None


@dataclass(frozen=True, slots=True)
class Chance:
    """Time and randomness, handed in: `now()` in UTC, `token(n)` random bytes."""

    now: Any
    random_bytes: Any

    def instant(self) -> str:
        """Return now as UTC text with milliseconds."""
        return instant_text(self.now())

    def uuid7(self) -> str:
        """Return a new UUIDv7."""
        return uuid7(int(self.now().timestamp() * 1000), self.random_bytes(10))


def instant_text(moment: datetime) -> str:
    """Return a UTC instant as `2026-05-12T14:42:13.123Z`."""
    return f"{moment:%Y-%m-%dT%H:%M:%S}.{moment.microsecond // 1000:03d}Z"


def entry_text(act: Act, *, entry_id: str, device: str, number: int, now: datetime) -> str:
    """Return the text of an entry that the server makes."""
    changes = {
        name: {"was": value[0], "to": value[1]} if isinstance(value, tuple) else
        {"was": None, "to": value}
        for name, value in act.changes.items()
    }  # fmt: skip
    return json.dumps(
        {
            "id": entry_id, "device": device, "number": number, "member": act.member,
            "kind": act.kind, "record": act.record, "action": act.action, "changes": changes,
            "reason": act.reason, "group": act.group, "form_version": 1,
            "made_at": {
                "local": f"{now:%Y-%m-%dT%H:%M:%S}", "offset_min": 0, "zone": "Etc/UTC",
                "device_utc": instant_text(now), "server_offset_ms": 0,
            },
        },
        ensure_ascii=False,
        separators=(",", ":"),
    )  # fmt: skip


def act(
    db: DbSession, establishment: str, device: str, acts: Sequence[Act], chance: Chance
) -> PushResult:
    """Make entries of the server device and apply them. Commits.

    Raises
    ------
    ValueError   An act was not accepted: a fault of the caller, since the server's acts are checked
                 before they are made.
    """
    with db.begin():
        return act_within(db, establishment, device, acts, chance)


def act_within(
    db: DbSession, establishment: str, device: str, acts: Sequence[Act], chance: Chance
) -> PushResult:
    """Do as `act` does, inside the caller's transaction. The caller commits."""
    journal = SqlJournal(db, establishment)
    journal.lock()
    number = journal.numbers(device).ack
    texts = [
        entry_text(
            one,
            entry_id=chance.uuid7(),
            device=device,
            number=number + place,
            now=chance.now(),
        )
        for place, one in enumerate(acts, start=1)
    ]
    result = apply(
        prepare(texts, VALIDATOR),
        device=device,
        journal=journal,
        authority=RoleAuthority(Session(device, "manager", is_server=True), {}),
        validator=VALIDATOR,
        received_at=chance.instant(),
    )
    for one in result.results:
        if one.outcome not in ("accepted", "merged"):
            raise ValueError(f"server act {one.number}: {one.outcome} ({one.reason})")
    return result
