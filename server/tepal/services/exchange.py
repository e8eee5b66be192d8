"""One exchange: push in one transaction, then pull from one snapshot.

Commits: the push, and the note of when the device was heard. Called by the API for a device that
its cookie has named, and by the server's own acts.
"""

from __future__ import annotations

import functools
import json
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING, Any, Final

from sqlalchemy import select

from tepal.forms.deriver import form_specs
from tepal.services.authority import RoleAuthority, Session
from tepal.services.kind_rules import VALIDATOR
from tepal.services.restrictions import ReopeningGate
from tepal.services.server_acts import follow_within
from tepal.services.trials import LayoutGate
from tepal.services.wall import on_wall
from tepal.services.wire import SCOPE, WALL_SCOPE, wire_text
from tepal.store import records as record_rows
from tepal.store.journal import SqlJournal, hash_at, page_after, read_head
from tepal.store.kind_models import DeviceRecord, MemberRecord
from tepal.store.models import DeviceHeard, DeviceTally
from tepal.sync.cursor import HASH_CHARS, Cursor, read_cursor
from tepal.sync.engine import PushResult, apply, missing_ranges
from tepal.sync.ports import CONFLICT, Numbers
from tepal.sync.prepared import prepare

if TYPE_CHECKING:
    from collections.abc import Sequence

    from sqlalchemy.orm import Session as DbSession

    from tepal.services.wire import WireTexts
    from tepal.sync.ports import Head

MAX_ENTRIES: Final = 200
MAX_RECORDS: Final = 1000
MAX_STATUS_CHARS: Final = 4096  # what a device says of itself; more is none of our app's
# Restrictions, the central display and the emergency page are made from these, and from no other.
WALL_KINDS: Final = frozenset(
    {
        "establishment", "house", "bay", "bench", "product", "label_file", "application",
        "restriction", CONFLICT,
    }
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Pull:
    """Records after a cursor, up to seq `upto`. `reset`: the device starts from a snapshot.

    `texts` : each record as it travels, JSON.
    """

    upto: int
    texts: tuple[str, ...]
    cursor: str
    more: bool
    reset: bool
    head: Head


@functools.cache
def form_spec() -> dict[str, Any]:
    """Return the form specs, derived once per process."""
    return form_specs()


def forms_version() -> str:
    """Return the version of the form specs."""
    return str(form_spec()["version"])


def member_roles(db: DbSession, establishment: str) -> dict[str, str]:
    """Return {member id: role} of the active members."""
    query = select(MemberRecord.id, MemberRecord.role).where(
        MemberRecord.establishment == establishment,
        MemberRecord.active.is_(True),
        MemberRecord.state != "void",
    )
    return {row[0]: row[1] for row in db.execute(query) if row[1] is not None}


def device_state(db: DbSession, establishment: str, device: str) -> tuple[str, bool]:
    """Return (ceiling, whether revoked) of a device; an unknown one may do nothing."""
    row = db.execute(
        select(DeviceRecord.ceiling, DeviceRecord.revoked, DeviceRecord.state).where(
            DeviceRecord.establishment == establishment, DeviceRecord.id == device
        )
    ).one_or_none()
    if row is None:
        return "display", True
    return row[0] or "display", bool(row[1]) or row[2] == "void"


def push(
    db: DbSession,
    establishment: str,
    session: Session,
    texts: Sequence[str],
    received_at: str,
    *,
    quarantine_all: str | None = None,
    is_own: bool = True,
    status: dict[str, Any] | None = None,
) -> PushResult:
    """Take entries into the journal, and note that the device was heard. Commits.

    Parameters
    ----------
    db : a session on the writers' engine, with no transaction open.
    texts : at most `MAX_ENTRIES` entry texts of the session's device, in number order.
    received_at : UTC, ISO 8601, milliseconds, `Z`.
    is_own : False where the device of the session only brings what others made.
    """
    prepared = prepare(texts, VALIDATOR)  # before the lock: no validation under it
    with db.begin():
        journal = SqlJournal(db, establishment)
        journal.lock()
        ceiling, revoked = device_state(db, establishment, session.device)
        if revoked and not session.is_server and quarantine_all is None:
            quarantine_all = "device_revoked"
        acting = Session(session.device, ceiling, session.member, session.is_server)
        _heard(db, establishment, session.device, received_at, status)
        now = datetime.fromisoformat(received_at)
        gate = ReopeningGate(db, establishment, now.timestamp() * 1000)
        result = apply(
            prepared,
            device=session.device,
            journal=journal,
            authority=RoleAuthority(
                acting,
                member_roles(db, establishment),
                gate.reason,
                LayoutGate(db, establishment).reason,
            ),
            validator=VALIDATOR,
            received_at=received_at,
            quarantine_all=quarantine_all,
            is_own=is_own,
        )
        follow_within(db, establishment, prepared, result, now)
        return result


def scope_of(ceiling: str) -> str:
    """Return the scope of a device with this ceiling."""
    return WALL_SCOPE if ceiling == "display" else SCOPE


def pull(
    db: DbSession,
    establishment: str,
    cursor_text: str | None,
    scope: str = SCOPE,
    *,
    now: datetime,
    wire: WireTexts,
) -> Pull:
    """Return the records after a cursor, from one snapshot of the readers' engine.

    `now` is for a wall tablet, which gets the applications that are on display. `wire` keeps the
    texts that other devices were sent.

    A cursor of another epoch or scope, beyond the end, or whose hash is not the chain's at that
    seq (the server was put back, and perhaps grew again) starts again from a snapshot.
    """
    head = read_head(db, establishment)
    cursor = read_cursor(cursor_text)
    reset = cursor is None or not _continues(db, establishment, cursor, head, scope)
    start = 0 if reset or cursor is None else cursor.seq
    if start == head.seq:
        cursor_text = Cursor(head.epoch, scope, head.seq, head.hash).text()
        return Pull(head.seq, (), cursor_text, False, reset, head)
    kinds = WALL_KINDS if scope == WALL_SCOPE else None
    rows, more = page_after(db, establishment, start, MAX_RECORDS, kinds)
    if scope == WALL_SCOPE:
        found = record_rows.load(db, establishment, [(row.kind, row.id) for row in rows])
        shown = on_wall((found[row.kind, row.id] for row in rows), now, is_first=reset)
        texts = tuple(wire_text(record, scope) for record in shown)
    else:
        texts = wire.of(db, establishment, head.epoch, rows)
    seq = rows[-1].seq if more else head.seq
    hash_there = (hash_at(db, establishment, seq) if more else head.hash) or head.hash
    cursor_text = Cursor(head.epoch, scope, seq, hash_there).text()
    return Pull(seq, texts, cursor_text, more, reset, head)


def _continues(db: DbSession, establishment: str, cursor: Cursor, head: Head, scope: str) -> bool:
    if cursor.epoch != head.epoch or cursor.scope != scope or cursor.seq > head.seq:
        return False
    at = head.hash if cursor.seq == head.seq else hash_at(db, establishment, cursor.seq)
    return at is not None and at[:HASH_CHARS] == cursor.hash


def read_numbers(db: DbSession, establishment: str, device: str) -> Numbers:
    """Return which numbers of a device the journal holds."""
    query = select(DeviceTally.ack, DeviceTally.beyond).where(
        DeviceTally.establishment == establishment, DeviceTally.device == device
    )
    row = db.execute(query).one_or_none()
    return Numbers(0) if row is None else Numbers.stored(*row)


def note_heard(
    db: DbSession, establishment: str, device: str, heard_at: str, status: dict[str, Any] | None
) -> None:
    """Remember when a device was heard and what it said of itself. Commits."""
    with db.begin():
        _heard(db, establishment, device, heard_at, status)


def _heard(
    db: DbSession, establishment: str, device: str, heard_at: str, status: dict[str, Any] | None
) -> None:
    row = db.get(DeviceHeard, device)
    if row is None:
        row = DeviceHeard(device=device, establishment=establishment)
        db.add(row)
    row.heard_at = heard_at
    if (
        status is not None and len(json.dumps(status)) <= MAX_STATUS_CHARS
    ):  # its own time of arrival: a later exchange may say nothing
        row.status = {**status, "said_at": heard_at}


def wire_numbers(numbers: Numbers) -> dict[str, Any]:
    """Return `ack` (gapless), `seen` and the holes below it, as they travel."""
    seen, missing = missing_ranges(numbers)
    return {"ack": numbers.ack, "seen": seen, "missing": missing}
