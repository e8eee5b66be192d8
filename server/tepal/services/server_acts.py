"""The server's own acts: set-up, imports, demo, command line. They are entries like any other.

The server writes as a device of its own (ceiling manager); its numbers are taken under the lock.
"""

from __future__ import annotations

import json
import uuid
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from sqlalchemy import select

from tepal.services.authority import RoleAuthority, Session
from tepal.services.following import REASON, Followed, followed
from tepal.services.kind_rules import VALIDATOR, version_of
from tepal.store.journal import SqlJournal
from tepal.store.kind_models import DeviceRecord
from tepal.sync.engine import apply
from tepal.sync.ids import uuid7
from tepal.sync.prepared import prepare

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from datetime import datetime

    from sqlalchemy.orm import Session as DbSession

    from tepal.sync.engine import PushResult
    from tepal.sync.prepared import Prepared


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
            "reason": act.reason, "group": act.group, "form_version": version_of(act.kind),
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


def server_device(db: DbSession, establishment: str) -> str:
    """Return the id of the server's own device: the first one ever made."""
    query = (
        select(DeviceRecord.id)
        .where(DeviceRecord.establishment == establishment)
        .order_by(DeviceRecord.created_seq, DeviceRecord.id)
        .limit(1)
    )
    return str(db.execute(query).scalar_one())


def act_within(
    db: DbSession, establishment: str, device: str, acts: Sequence[Act], chance: Chance
) -> PushResult:
    """Do as `act` does, inside the caller's transaction. The caller commits."""
    prepared, result = _written(
        db, establishment, device, acts, lambda _: chance.uuid7(), chance.now
    )
    follow_within(db, establishment, prepared, result, chance.now())
    return result


def follow_within(
    db: DbSession,
    establishment: str,
    prepared: Sequence[Prepared],
    result: PushResult,
    now: datetime,
) -> None:
    """Let restrictions follow what was just applied, in the same transaction."""
    moved = followed(db, establishment, prepared, result, now.timestamp() * 1000)
    if not moved:
        return
    device = server_device(db, establishment)
    acts = [
        Act("restriction", one.restriction, "change", one.member, dict(one.changes), REASON)
        if isinstance(one, Followed)
        # of one application there is one restriction a house, however often it is put right
        else Act(
            "restriction",
            str(uuid.uuid5(uuid.UUID(device), f"{one.application} {one.fields.get('house')}")),
            "create",
            one.member,
            one.fields,
            REASON,
        )
        for one in moved
    ]
    made = f"{instant_text(now)} {result.head.hash}"  # the chain's: no two entries share one
    _written(
        db, establishment, device, acts,
        lambda number: str(uuid.uuid5(uuid.UUID(device), f"{made} {number}")), lambda: now,
    )  # fmt: skip


def _written(
    db: DbSession,
    establishment: str,
    device: str,
    acts: Sequence[Act],
    new_id: Callable[[int], str],
    now: Callable[[], datetime],
) -> tuple[list[Prepared], PushResult]:
    journal = SqlJournal(db, establishment)
    journal.lock()
    number = journal.numbers(device).ack
    texts = [
        entry_text(one, entry_id=new_id(place), device=device, number=place, now=now())
        for place, one in enumerate(acts, start=number + 1)
    ]
    prepared = prepare(texts, VALIDATOR)
    result = apply(
        prepared,
        device=device,
        journal=journal,
        authority=RoleAuthority(Session(device, "manager", is_server=True), {}),
        validator=VALIDATOR,
        received_at=instant_text(now()),
    )
    for one in result.results:
        if one.outcome not in ("accepted", "merged"):
            raise ValueError(f"server act {one.number}: {one.outcome} ({one.reason})")
    return prepared, result
