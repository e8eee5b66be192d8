"""The journal on SQLAlchemy: implements sync's JournalPort for one establishment."""

from __future__ import annotations

import logging
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any, NamedTuple, cast

from sqlalchemy import Table, func, insert, or_, select, update
from sqlalchemy.exc import (
    DataError,
    DBAPIError,
    IntegrityError,
    ProgrammingError,
    StatementError,
)

from tepal.store import records as record_rows
from tepal.store.models import (
    DeviceTally,
    HeldRecord,
    Journal,
    JournalHead,
    RecordHead,
)
from tepal.sync.chain import genesis
from tepal.sync.ports import (
    CONFLICT,
    HELD,
    Head,
    JournalRow,
    Key,
    KnownEntry,
    Numbers,
    StoreRefusedError,
)

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Iterator, Sequence

    from sqlalchemy.orm import Session

    from tepal.sync.merge import RecordState

LOG = logging.getLogger("tepal.store")
_JOURNAL = cast("Table", Journal.__table__)
_HEADS = cast("Table", RecordHead.__table__)
_HELD = cast("Table", HeldRecord.__table__)
_CHUNK = 500
_MANY = 20
_HEAD = (JournalHead.epoch, JournalHead.seq, JournalHead.hash)
_REFUSALS = (DataError, IntegrityError, ProgrammingError)
# drivers raise UnicodeError and OverflowError as they are, for values they cannot send
_ROW_FAULTS = (StatementError, UnicodeError, OverflowError)


class SqlJournal:
    """`ports.JournalPort` in one writing transaction. The caller commits."""

    def __init__(self, session: Session, establishment: str) -> None:
        self.session = session
        self.establishment = establishment
        self._existing: set[Key] = set()
        self._tally_exists = False

    def lock(self) -> Head:
        """Lock the establishment row; SQLite is locked by BEGIN IMMEDIATE already."""
        query = select(*_HEAD).where(JournalHead.establishment == self.establishment)
        return Head(*self.session.execute(query.with_for_update()).one())

    def known(self, ids: Iterable[str], digests: Iterable[str]) -> Sequence[KnownEntry]:
        """Return the journal's rows under any of these ids or digests."""
        ids, digests = list(ids), list(digests)
        columns = (
            _JOURNAL.c.entry_id, _JOURNAL.c.digest, _JOURNAL.c.seq, _JOURNAL.c.outcome,
            _JOURNAL.c.reason,
        )  # fmt: skip
        found = []
        for start in range(0, max(len(ids), len(digests)), _CHUNK):
            part = slice(start, start + _CHUNK)
            query = select(*columns).where(
                _JOURNAL.c.establishment == self.establishment,
                or_(_JOURNAL.c.entry_id.in_(ids[part]), _JOURNAL.c.digest.in_(digests[part])),
            )
            found += [KnownEntry(*row) for row in self.session.execute(query)]
        return found

    def numbers(self, device: str) -> Numbers:
        """Return which numbers of the device the journal holds."""
        # columns, not objects: an object from an earlier transaction would be stale
        query = select(DeviceTally.ack, DeviceTally.beyond).where(
            DeviceTally.establishment == self.establishment, DeviceTally.device == device
        )
        row = self.session.execute(query).one_or_none()
        self._tally_exists = row is not None
        return Numbers(0) if row is None else Numbers.stored(*row)

    def records(self, keys: Iterable[Key]) -> dict[Key, RecordState]:
        """Return the records that exist, and remember that they do."""
        found = record_rows.load(self.session, self.establishment, keys)
        self._existing |= found.keys()
        return found

    def held_for(self, keys: Iterable[Key]) -> list[RecordState]:
        """Return open held entries that wait for these records, oldest first."""
        names = record_rows.field_columns(HELD)
        wanted = set(keys)
        ids = sorted({record_id for _, record_id in wanted})
        if len(ids) > _MANY:  # asked of every batch, and nearly always nothing waits
            ids = sorted(self._missing_ids(ids))
        found = []
        for start in range(0, len(ids), _CHUNK):
            query = select(_HELD).where(
                _HELD.c.establishment == self.establishment,
                _HELD.c.reason == "record_missing",
                _HELD.c.decision.is_(None),
                _HELD.c.of_id.in_(ids[start : start + _CHUNK]),
            )
            for row in self.session.execute(query):
                record = record_rows.state_of(HELD, row, names)
                if (record.fields.get("of_kind"), record.fields.get("of_id")) in wanted:
                    found.append(record)
        self._existing |= {(HELD, record.id) for record in found}
        return sorted(found, key=lambda record: record.created_seq)

    def _missing_ids(self, ids: Sequence[str]) -> set[str]:
        """Return the ids among these that may be waited for; all where that is many."""
        query = select(_HELD.c.of_id).where(
            _HELD.c.establishment == self.establishment,
            _HELD.c.reason == "record_missing",
            _HELD.c.decision.is_(None),
        )
        awaited = set(self.session.execute(query.limit(_CHUNK)).scalars())
        return set(ids) if len(awaited) == _CHUNK else awaited & set(ids)

    def held_together(self, device: str, group: str) -> list[RecordState]:
        """Return the open held entries of one group of a device, oldest first."""
        names = record_rows.field_columns(HELD)
        query = select(_HELD).where(
            _HELD.c.establishment == self.establishment,
            _HELD.c.of_group == group,
            _HELD.c.device == device,
            _HELD.c.decision.is_(None),
        )
        found = [record_rows.state_of(HELD, row, names) for row in self.session.execute(query)]
        self._existing |= {(HELD, record.id) for record in found}
        return sorted(found, key=lambda record: record.created_seq)

    def append(self, rows: Sequence[JournalRow]) -> None:
        """Append rows in one statement."""
        self.session.execute(
            insert(_JOURNAL),
            [
                {"establishment": self.establishment, **{n: getattr(r, n) for n in _ROW_FIELDS}}
                for r in rows
            ],
        )

    def store(self, records: Sequence[RecordState]) -> None:
        """Insert or update records in bulk."""
        record_rows.save(self.session, self.establishment, records, self._existing)
        self._existing |= {(record.kind, record.id) for record in records}

    def finish(self, head: Head, device: str, numbers: Numbers) -> None:
        """Write the new head and the device's numbers."""
        self.session.execute(
            update(JournalHead)
            .where(JournalHead.establishment == self.establishment)
            .values(seq=head.seq, hash=head.hash, epoch=head.epoch)
        )
        values = {"ack": numbers.ack, "beyond": [list(one) for one in numbers.beyond]}
        key = {"establishment": self.establishment, "device": device}
        if self._tally_exists:
            statement: Any = update(DeviceTally).filter_by(**key).values(**values)
        else:
            statement = insert(DeviceTally).values(**key, **values)
        self.session.execute(statement)

    @contextmanager
    def savepoint(self) -> Iterator[None]:
        """Undo what was written inside where the database refuses a row."""
        existing = set(self._existing)
        try:
            with self.session.begin_nested():
                yield
        except _ROW_FAULTS as error:
            # a full disk or a deadlock is no fault of a row: it flies, and the phone comes again
            if isinstance(error, DBAPIError) and not isinstance(error, _REFUSALS):
                raise
            self._existing = existing
            # what it says holds the statement and its values: it is for the log, never for a phone
            LOG.warning("the database refused a row: %s", error)
            raise StoreRefusedError(
                "sync.store_refused", "the database refused a row; the server's log says why"
            ) from error


_ROW_FIELDS = (
    "seq", "hash", "received_at", "outcome", "reason", "text", "digest", "entry_id", "device",
    "number", "member", "kind", "record", "action", "redacted",
)  # fmt: skip


def found_journal(session: Session, establishment: str, epoch: str) -> None:
    """Create the head of an empty journal."""
    session.add(
        JournalHead(establishment=establishment, epoch=epoch, seq=0, hash=genesis(establishment))
    )
    session.flush()


def read_head(session: Session, establishment: str) -> Head:
    """Return the head without a lock."""
    query = select(*_HEAD).where(JournalHead.establishment == establishment)
    return Head(*session.execute(query).one())


def hash_at(session: Session, establishment: str, seq: int) -> str | None:
    """Return the chain's hash at a seq; None beyond the end."""
    if seq == 0:
        return genesis(establishment)
    return session.execute(
        select(_JOURNAL.c.hash).where(
            _JOURNAL.c.establishment == establishment, _JOURNAL.c.seq == seq
        )
    ).scalar_one_or_none()


class Moved(NamedTuple):
    """A record, the entry that moved it last, and the chain's hash there."""

    seq: int
    hash: str
    kind: str
    id: str


def page_after(
    session: Session,
    establishment: str,
    seq: int,
    limit: int,
    kinds: Collection[str] | None = None,
) -> tuple[list[Moved], bool]:
    """Return (records moved after `seq` in seq order, whether more follow).

    Records of one entry share a seq; a page never ends inside such a group. `kinds`: only these.
    """
    some = _HEADS.c.establishment == establishment
    if kinds is not None:
        some &= _HEADS.c.kind.in_(sorted(kinds))
    entry = (_JOURNAL.c.establishment == _HEADS.c.establishment) & (_JOURNAL.c.seq == _HEADS.c.seq)
    moved = select(_HEADS.c.seq, _JOURNAL.c.hash, _HEADS.c.kind, _HEADS.c.id).join(_JOURNAL, entry)
    query = moved.where(some, _HEADS.c.seq > seq).order_by(_HEADS.c.seq).limit(limit + 1)
    rows = [Moved(*row) for row in session.execute(query)]
    if len(rows) <= limit:
        return rows, False
    last = rows[-1].seq
    whole = [row for row in rows if row.seq < last]
    if not whole:  # one entry moved more records than a page holds: send them all
        whole = [Moved(*r) for r in session.execute(moved.where(some, _HEADS.c.seq == last))]
        newest = session.execute(select(func.max(_HEADS.c.seq)).where(some)).scalar_one()
        return whole, newest > last
    return whole, True


def journal_rows(session: Session, establishment: str) -> Iterator[JournalRow]:
    """Yield the whole journal in seq order, streamed."""
    query = (
        select(*(_JOURNAL.c[name] for name in _ROW_FIELDS))
        .where(_JOURNAL.c.establishment == establishment)
        .order_by(_JOURNAL.c.seq)
    )
    for row in session.execute(query, execution_options={"yield_per": 1000}):
        yield JournalRow(*row)


class Arrival(NamedTuple):
    """Who sent what about which record, and when it came."""

    received_at: str
    member: str | None
    device: str | None
    kind: str | None
    action: str | None
    record: str | None


def arrived_since(session: Session, establishment: str, since: str) -> list[Arrival]:
    """Return what arrived at or after an instant (as `received_at` is written), in seq order.

    The place is found by halving: a journal of years is not read for one morning. Instants are
    taken before the lock, so neighbours may stand the other way round: some earlier rows are
    looked at too.
    """
    low, high = 1, read_head(session, establishment).seq + 1
    own = _JOURNAL.c.establishment == establishment
    while low < high:
        middle = (low + high) // 2
        at = session.execute(
            select(_JOURNAL.c.received_at).where(own, _JOURNAL.c.seq == middle)
        ).scalar_one()
        if at < since:
            low = middle + 1
        else:
            high = middle
    query = (
        select(*(_JOURNAL.c[name] for name in Arrival._fields))
        .where(own, _JOURNAL.c.seq >= low - _CHUNK, _JOURNAL.c.received_at >= since)
        .order_by(_JOURNAL.c.seq)
    )
    return [Arrival(*row) for row in session.execute(query)]


def rows_about(session: Session, establishment: str, ids: Sequence[str]) -> list[JournalRow]:
    """Return the journal rows of these records, in seq order."""
    found = []
    for start in range(0, len(ids), _CHUNK):
        query = select(*(_JOURNAL.c[name] for name in _ROW_FIELDS)).where(
            _JOURNAL.c.establishment == establishment,
            _JOURNAL.c.record.in_(ids[start : start + _CHUNK]),
        )
        found += [JournalRow(*row) for row in session.execute(query)]
    return sorted(found, key=lambda row: row.seq)


def cases_about(
    session: Session, establishment: str, record_ids: Sequence[str]
) -> list[RecordState]:
    """Return the conflicts and held entries that speak of these records, oldest first."""
    found = []
    for kind in (CONFLICT, HELD):
        table, names = record_rows.table_of(kind), record_rows.field_columns(kind)
        for start in range(0, len(record_ids), _CHUNK):
            query = select(table).where(
                table.c.establishment == establishment,
                table.c.of_id.in_(record_ids[start : start + _CHUNK]),
            )
            found += [record_rows.state_of(kind, row, names) for row in session.execute(query)]
    return sorted(found, key=lambda record: record.created_seq)
