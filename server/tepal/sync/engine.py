"""The push: entries in, journal and records out, under one lock, each entry once in effect.

`prepared.prepare` parses, validates and hashes outside the lock. `apply` runs under it: known
entries are answered from the journal, the others are judged, merged, numbered and chained. Nothing
that arrives is dropped: it is accepted, merged, conflicted, waiting or quarantined.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from tepal.sync import chain
from tepal.sync.effects import Effects
from tepal.sync.entry import identify
from tepal.sync.ids import effect_id
from tepal.sync.ports import HELD, Head, JournalPort, JournalRow, Numbers, StoreRefusedError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from tepal.sync.ports import Authority, KnownEntry, Validator
    from tepal.sync.prepared import Prepared


@dataclass(frozen=True, slots=True)
class EntryResult:
    """What became of one sent text. `repeated`: the journal already had it."""

    entry_id: str | None
    number: int | None
    seq: int
    outcome: str
    reason: str | None
    repeated: bool = False


@dataclass(frozen=True, slots=True)
class PushResult:
    """The results in the order sent, the head after them, and the device's numbers."""

    results: tuple[EntryResult, ...]
    head: Head
    numbers: Numbers


def apply(
    prepared: Sequence[Prepared],
    *,
    device: str,
    journal: JournalPort,
    authority: Authority,
    validator: Validator,
    received_at: str,
    quarantine_all: str | None = None,
    is_own: bool = True,
) -> PushResult:
    """Apply prepared texts of one device, in the order given, under the establishment's lock.

    Parameters
    ----------
    device : str             The device of the session; an entry that names another is quarantined.
    quarantine_all : str     A reason that holds every entry back (`device_revoked`,
                             `from_file`), or None.
    is_own : bool            Whether the device itself sends. What others bring takes no number.

    Returns
    -------
    PushResult. The caller commits.
    """
    state = _Progress(journal.lock(), journal.numbers(device))

    def push(batch: Sequence[Prepared]) -> list[EntryResult]:
        with journal.savepoint():
            run = _Run(journal, authority, validator, state.head, received_at, is_own=is_own)
            run.preread(batch, state.numbers)
            results = [run.take(one, device, quarantine_all) for one in batch]
            run.write()
        state.head, state.numbers = run.head, state.numbers.with_taken(run.taken)
        return results

    try:
        results = push(prepared)
    except StoreRefusedError:  # one row is poison: find it, the others must not wait for it
        results = []
        for one in prepared:
            try:
                results += push([one])
            except StoreRefusedError:
                results += push([replace(one, problem="store_refused")])
    journal.finish(state.head, device, state.numbers)
    return PushResult(tuple(results), state.head, state.numbers)


@dataclass(slots=True)
class _Progress:
    head: Head
    numbers: Numbers


def missing_ranges(numbers: Numbers, limit: int = 100) -> tuple[int, list[list[int]]]:
    """Return (seen, holes): numbers up to `seen` are in the journal except the ranges in `holes`.

    At most `limit` ranges are named; `seen` stops before the first that is not.
    """
    seen = numbers.ack
    holes: list[list[int]] = []
    for first, last in numbers.beyond[:limit]:
        holes.append([seen + 1, first - 1])
        seen = last
    return seen, holes


class _Run(Effects):
    """One push under the lock: its effects, and their places in journal and numbering."""

    def __init__(
        self,
        journal: JournalPort,
        authority: Authority,
        validator: Validator,
        head: Head,
        received_at: str,
        *,
        is_own: bool,
    ) -> None:
        super().__init__(journal, authority, validator)
        self.head = head
        self.received_at = received_at
        self.is_own = is_own
        self.rows: list[JournalRow] = []
        self.by_id: dict[str, KnownEntry | EntryResult] = {}
        self.by_digest: dict[str, KnownEntry | EntryResult] = {}
        self.taken: set[int] = set()
        self.numbers = Numbers(0)

    def preread(self, prepared: Sequence[Prepared], numbers: Numbers) -> None:
        """Read all that the batch touches in one go."""
        ids = {p.entry.id for p in prepared if p.entry} | {
            i for p in prepared if not p.entry and (i := identify(p.text)[0])
        }
        for known in self.journal.known(ids, {p.digest for p in prepared}):
            self.by_digest[known.digest] = known
            if known.entry_id is not None:
                self.by_id[known.entry_id] = known
        keys = {(p.entry.kind, p.entry.record) for p in prepared if p.entry}
        self.records = self.journal.records(keys)
        self.asked = keys
        self._read_waiting(
            [key for key in keys if key not in self.records]
            + [(HELD, effect_id(p.digest, "held")) for p in prepared]
        )
        self.numbers = numbers

    def take(self, one: Prepared, device: str, quarantine_all: str | None) -> EntryResult:
        """Take one text into the journal, or answer from it where it is known."""
        entry = one.entry
        entry_id, named_device, number = (
            (entry.id, entry.device, entry.number) if entry else identify(one.text)
        )
        own_number = number if self.is_own and named_device == device else None
        known = self.by_digest.get(one.digest)
        if known is not None:
            if own_number is not None and not self._number_taken(own_number):
                self.taken.add(own_number)  # it came first from a file, now from its own device
            return EntryResult(entry_id, number, known.seq, known.outcome, known.reason, True)
        problem = one.problem
        free_id = entry_id if entry_id not in self.by_id else None
        if entry_id is not None and free_id is None:
            problem = "id_with_other_content"
        if own_number is not None and self._number_taken(own_number):
            problem, own_number = problem or "number_used_twice", None
        if problem is None and named_device != device and quarantine_all is None:
            problem = "device_not_of_session"
        if problem is None and quarantine_all is not None:
            problem = quarantine_all
        seq = self.head.seq + 1
        outcome, reason = self.effect(entry, problem, seq)
        if outcome in ("waiting", "quarantined"):
            self.hold(one, (entry_id, named_device, number), reason, seq, outcome)
        row_hash = chain.link(self.head.hash, seq, self.received_at, outcome, one.digest)
        self.head = Head(self.head.epoch, seq, row_hash)
        self.rows.append(
            JournalRow(
                seq, row_hash, self.received_at, outcome, reason, one.text, one.digest, free_id,
                named_device if entry else device, own_number,
                entry.member if entry else None, entry.kind if entry else None,
                entry.record if entry else None, entry.action if entry else None,
            )
        )  # fmt: skip
        result = EntryResult(entry_id, number, seq, outcome, reason)
        self.by_digest[one.digest] = result
        if free_id is not None:
            self.by_id[free_id] = result
        if own_number is not None:
            self.taken.add(own_number)
        return result

    def _number_taken(self, number: int) -> bool:
        return self.numbers.holds(number) or number in self.taken

    def write(self) -> None:
        """Write rows and records in one bulk."""
        if self.rows:
            self.journal.append(self.rows)
            self.journal.store(list(self.touched.values()))
