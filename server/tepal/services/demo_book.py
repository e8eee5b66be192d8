"""The pen that writes the demo: entries of invented people on invented devices, over weeks.

Every entry is pushed as its device would push it and judged by its author's role. Nothing is
written past the journal. Deterministic: the clock and all randomness are handed in.
"""

from __future__ import annotations

import hashlib
import json
from collections import Counter
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING, Any, Final
from zoneinfo import ZoneInfo

from tepal.services.authority import RoleAuthority, Session
from tepal.services.exchange import MAX_ENTRIES, device_state, member_roles
from tepal.services.kind_rules import VALIDATOR, version_of
from tepal.services.restrictions import ReopeningGate
from tepal.services.server_acts import Chance, instant_text
from tepal.store.journal import SqlJournal
from tepal.store.models import DeviceHeard
from tepal.sync.engine import apply
from tepal.sync.ids import uuid7
from tepal.sync.prepared import prepare

if TYPE_CHECKING:
    import random
    from collections.abc import Iterable

    from sqlalchemy.orm import Session as DbSession

    from tepal.services.server_acts import Act

ZONE: Final = "America/New_York"
_SEND_AFTER: Final = timedelta(seconds=20)
_TOGETHER: Final = timedelta(minutes=100)  # a phone is out of reach for the length of a spraying


@dataclass(frozen=True, slots=True)
class Hand:
    """A person writing on a device. `password`: a password session of their own is open there."""

    device: str
    member: str
    name: str
    label: str
    password: bool = False
    is_server: bool = False


@dataclass(frozen=True, slots=True)
class _Written:
    made_at: datetime
    sent_at: datetime
    order: int
    hand: Hand
    body: dict[str, Any]


@dataclass
class DemoBook:
    """Collects acts in any order; `write` sends them in the order in which they were made."""

    establishment: str
    now: datetime
    random: random.Random
    server: Hand
    ids: dict[str, str] = field(default_factory=dict)
    kinds: dict[str, str] = field(default_factory=dict)
    fields: dict[str, dict[str, Any]] = field(default_factory=dict)
    outcomes: Counter[str] = field(default_factory=Counter)
    _queue: list[_Written] = field(default_factory=list)
    _numbers: Counter[str] = field(default_factory=Counter)

    def continue_from(self, device: str, number: int) -> None:
        """Number a device's next entry after those that the journal holds of it."""
        self._numbers[device] = number

    def at(self, days: int, clock: str) -> datetime:
        """Return the UTC instant of a local clock time, `days` from today (negative: before)."""
        today = self.now.astimezone(ZoneInfo(ZONE)).date()
        local = datetime.fromisoformat(f"{today + timedelta(days=days)}T{clock}:00")
        return local.replace(tzinfo=ZoneInfo(ZONE)).astimezone(UTC)

    def day(self, days: int) -> str:
        """Return the local calendar day, `days` from today."""
        return str(self.now.astimezone(ZoneInfo(ZONE)).date() + timedelta(days=days))

    def uuid(self, at: datetime) -> str:
        """Return a UUIDv7 of an instant."""
        return uuid7(int(at.timestamp() * 1000), self.random.randbytes(10))

    def add(self, hand: Hand, at: datetime, kind: str, name: str, /, **fields: Any) -> str:
        """Create a record under a name that later acts refer to; return its id."""
        self.ids[name] = self.uuid(at)
        self.kinds[name] = kind
        kept = {key: value for key, value in fields.items() if value is not None}
        self.fields[name] = kept
        self._act(hand, at, kind, self.ids[name], "create", {k: (None, v) for k, v in kept.items()})
        return self.ids[name]

    def put(self, hand: Hand, at: datetime, one: Act) -> None:
        """Write an act that was made elsewhere; its values were empty before."""
        changes = {
            name: value if isinstance(value, tuple) else (None, value)
            for name, value in one.changes.items()
        }
        self._act(hand, at, one.kind, one.record, one.action, changes, one.reason)

    def change(
        self,
        hand: Hand,
        at: datetime,
        name: str,
        /,
        *,
        action: str = "change",
        reason: str | None = None,
        unseen: bool = False,
        sent_late_h: float = 0,
        **fields: Any,
    ) -> None:
        """Change fields of a named record.

        `unseen`: the value is not remembered, so that the next change contradicts this one (two
        people who did not see each other), or because it only asks.
        """
        known = self.fields[name]
        changes = {key: (known.get(key), value) for key, value in fields.items()}
        self._act(
            hand, at, self.kinds[name], self.ids[name], action, changes, reason, sent_late_h
        )  # fmt: skip
        if not unseen:
            known.update(fields)

    def _act(
        self, hand: Hand, at: datetime, kind: str, record: str, action: str,
        changes: dict[str, tuple[Any, Any]], reason: str | None = None, sent_late_h: float = 0,
    ) -> None:  # fmt: skip
        made_at = min(at, self.now - timedelta(seconds=60))
        sent_at = min(
            made_at + _SEND_AFTER + timedelta(hours=sent_late_h), self.now - timedelta(seconds=30)
        )
        body = {
            "kind": kind, "record": record, "action": action,
            "changes": {name: {"was": was, "to": to} for name, (was, to) in changes.items()},
            "reason": reason, "group": None,
        }  # fmt: skip
        self._queue.append(_Written(made_at, sent_at, len(self._queue), hand, body))

    def write(self, db: DbSession) -> None:
        """Push everything that was collected, in one transaction. Commits."""
        waiting = sorted(self._queue, key=lambda one: (one.sent_at, one.order))
        self._queue.clear()
        with db.begin():
            start = 0
            while start < len(waiting):
                end = start
                while (
                    end < len(waiting)
                    and waiting[end].hand == waiting[start].hand
                    and end - start < MAX_ENTRIES
                    and waiting[end].sent_at - waiting[start].sent_at < _TOGETHER
                ):
                    end += 1
                self._push(db, waiting[start:end])
                start = end

    def _push(self, db: DbSession, batch: list[_Written]) -> None:
        hand = batch[0].hand
        texts = [self._text(one) for one in batch]
        ceiling, is_revoked = device_state(db, self.establishment, hand.device)
        session = Session(
            hand.device, ceiling, hand.member if hand.password else None, hand.is_server
        )
        now_ms = batch[-1].sent_at.timestamp() * 1000
        gate = ReopeningGate(db, self.establishment, now_ms)
        result = apply(
            prepare(texts, VALIDATOR), device=hand.device,
            journal=SqlJournal(db, self.establishment),
            authority=RoleAuthority(session, member_roles(db, self.establishment), gate.reason),
            validator=VALIDATOR, received_at=instant_text(batch[-1].sent_at),
            quarantine_all="device_revoked" if is_revoked and not hand.is_server else None,
        )  # fmt: skip
        for one in result.results:
            self.outcomes[f"{one.outcome}:{one.reason}" if one.reason else one.outcome] += 1

    def _text(self, one: _Written) -> str:
        self._numbers[one.hand.device] += 1
        return json.dumps(
            {
                "id": self.uuid(one.made_at), "device": one.hand.device,
                "number": self._numbers[one.hand.device], "member": one.hand.member, **one.body,
                "form_version": version_of(one.body["kind"]),
                "made_at": {
                    **moment(one.made_at), "device_utc": instant_text(one.made_at),
                    "server_offset_ms": 0,
                },
            },
            ensure_ascii=False, separators=(",", ":"),
        )  # fmt: skip

    def heard(self, db: DbSession, said: Iterable[tuple[Hand, datetime, dict[str, Any]]]) -> None:
        """Note when devices were last heard and what they said of themselves. Commits."""
        with db.begin():
            for hand, at, status in said:
                db.add(
                    DeviceHeard(
                        device=hand.device, establishment=self.establishment,
                        heard_at=instant_text(at), status=status,
                    )
                )  # fmt: skip

    def chance(self) -> Chance:
        """Return clock and randomness for services that take them."""
        return Chance(lambda: self.now, self.random.randbytes)


def moment(at: datetime) -> dict[str, Any]:
    """Return an instant as a moment of the nursery's zone."""
    local = at.astimezone(ZoneInfo(ZONE))
    offset = local.utcoffset() or timedelta(0)
    return {
        "local": f"{local:%Y-%m-%dT%H:%M:%S}",
        "offset_min": int(offset.total_seconds() // 60),
        "zone": ZONE,
    }


def quantity(value: float | str, unit: str) -> dict[str, str]:
    """Return a quantity as it travels."""
    return {"value": str(value), "unit": unit}


def digest(content: bytes) -> str:
    """Return the SHA-256 of a file."""
    return hashlib.sha256(content).hexdigest()
