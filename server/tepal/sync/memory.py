"""A journal in memory: what `tepal verify` replays into, and the fake that tests share.

It passes the same contract tests as the real store.
"""

from __future__ import annotations

from contextlib import contextmanager
from typing import TYPE_CHECKING

from tepal.sync.chain import genesis
from tepal.sync.ports import HELD, Head, JournalRow, Key, KnownEntry, Numbers

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from tepal.sync.merge import RecordState


class MemoryJournal:
    """Implements `ports.JournalPort` over dictionaries, for one establishment."""

    def __init__(self, establishment: str, epoch: str = "00000000") -> None:
        self.head = Head(epoch, 0, genesis(establishment))
        self.rows: list[JournalRow] = []
        self.table: dict[Key, RecordState] = {}
        self.tally: dict[str, Numbers] = {}
        self._waiting: dict[Key, set[str]] = {}  # ids of held entries by the record they wait for

    def lock(self) -> Head:
        """Return the head; one thread needs no lock."""
        return self.head

    def known(self, ids: Iterable[str], digests: Iterable[str]) -> Sequence[KnownEntry]:
        """Return the rows under any of these ids or digests."""
        wanted_ids, wanted = set(ids), set(digests)
        return [
            KnownEntry(r.entry_id, r.digest, r.seq, r.outcome, r.reason)
            for r in self.rows
            if r.digest in wanted or r.entry_id in wanted_ids
        ]

    def numbers(self, device: str) -> Numbers:
        """Return the device's numbers."""
        return self.tally.get(device, Numbers(0))

    def records(self, keys: Iterable[Key]) -> dict[Key, RecordState]:
        """Return the records that exist."""
        return {key: self.table[key] for key in keys if key in self.table}

    def held_for(self, keys: Iterable[Key]) -> list[RecordState]:
        """Return open held entries that wait for these records, oldest first."""
        ids = {held for key in set(keys) for held in self._waiting.get(key, ())}
        return sorted((self.table[HELD, held] for held in ids), key=lambda r: r.created_seq)

    def held_together(self, device: str, group: str) -> list[RecordState]:
        """Return the open held entries of one group of a device, oldest first."""
        found = [
            record
            for (kind, _), record in self.table.items()
            if kind == HELD
            and (record.fields.get("device"), record.fields.get("of_group")) == (device, group)
            and record.fields.get("decision") is None
        ]
        return sorted(found, key=lambda record: record.created_seq)

    def append(self, rows: Sequence[JournalRow]) -> None:
        """Append rows."""
        self.rows.extend(rows)

    def store(self, records: Sequence[RecordState]) -> None:
        """Insert or update records."""
        for record in records:
            self.table[record.kind, record.id] = record
            if record.kind == HELD:
                self._index(record)

    def _index(self, held: RecordState) -> None:
        fields = held.fields
        waiting = self._waiting.setdefault(
            (str(fields.get("of_kind")), str(fields.get("of_id"))), set()
        )
        if fields.get("reason") == "record_missing" and fields.get("decision") is None:
            waiting.add(held.id)
        else:
            waiting.discard(held.id)

    def finish(self, head: Head, device: str, numbers: Numbers) -> None:
        """Keep the head and the device's numbers."""
        self.head = head
        self.tally[device] = numbers

    @contextmanager
    def savepoint(self) -> Iterator[None]:
        """Nothing refuses here."""
        yield
