"""What the engine needs from outside, as protocols; `store` and `services` fill them.

The contract of each port is tested once and runs against the real store and the fake.
"""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal, Protocol

from tepal.domain.errors import TepalError

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence
    from contextlib import AbstractContextManager

    from tepal.sync.entry import Change, Entry
    from tepal.sync.merge import RecordState

# The engine's own record kinds: two values for one field; an entry held back.
CONFLICT = "conflict"
HELD = "held"

Key = tuple[str, str]  # (kind, id)


class StoreRefusedError(TepalError):
    """The database refused a row that passed validation."""


@dataclass(frozen=True, slots=True)
class Verdict:
    """What authority says of an entry: `allow`, `wait` or `refuse`, with the reason's code."""

    word: Literal["allow", "wait", "refuse"]
    reason: str | None = None


ALLOW = Verdict("allow")


@dataclass(frozen=True, slots=True)
class KindRules:
    """What the engine must know of a kind: newest form version, and what makes it signed.

    `is_sealed`: no decision that comes into effect late may change it.
    """

    form_version: int
    signed_field: str | None = None
    is_sealed: bool = False


@dataclass(frozen=True, slots=True)
class JournalRow:
    """One row of the journal. `entry_id`, `device`, `number` are None where unreadable or taken."""

    seq: int
    hash: str
    received_at: str
    outcome: str
    reason: str | None
    text: str
    digest: str
    entry_id: str | None
    device: str | None
    number: int | None
    member: str | None
    kind: str | None
    record: str | None
    action: str | None
    redacted: bool = False


@dataclass(frozen=True, slots=True)
class Head:
    """The end of the journal: epoch, last seq (0 = empty) and the hash there."""

    epoch: str
    seq: int
    hash: str


@dataclass(frozen=True, slots=True)
class KnownEntry:
    """What the journal already holds under an id or a digest."""

    entry_id: str | None
    digest: str
    seq: int
    outcome: str
    reason: str | None


@dataclass(frozen=True, slots=True)
class Numbers:
    """What the journal holds of a device's numbers: all of them up to `ack`, and `beyond`.

    `beyond` holds ranges (first, last), ascending, with a hole before each: a device that never
    fills a hole adds to the last range, not a number for each entry.
    """

    ack: int
    beyond: tuple[tuple[int, int], ...] = ()

    @classmethod
    def stored(cls, ack: int, beyond: Iterable[Sequence[int]]) -> Numbers:
        """Return the numbers as a tally's row holds them."""
        return cls(ack, tuple((first, last) for first, last in beyond))

    def holds(self, number: int) -> bool:
        """Whether the journal holds a number."""
        if number <= self.ack:
            return True
        at = bisect_right(self.beyond, number, key=lambda one: one[0])
        return at > 0 and number <= self.beyond[at - 1][1]

    def with_taken(self, taken: Iterable[int]) -> Numbers:
        """Return the numbers with further ones, ranges that meet made one."""
        ranges = [(0, self.ack)]
        for first, last in sorted([*self.beyond, *((number, number) for number in taken)]):
            if first <= ranges[-1][1] + 1:
                ranges[-1] = (ranges[-1][0], max(ranges[-1][1], last))
            else:
                ranges.append((first, last))
        return Numbers(ranges[0][1], tuple(ranges[1:]))


class Validator(Protocol):
    """Checks the new values of an entry against the kind's schema."""

    def rules(self, kind: str) -> KindRules | None:
        """Return the kind's rules, or None for a kind that is not registered."""

    def problems(self, kind: str, values: Mapping[str, Any]) -> dict[str, list[str]]:
        """Return {field: [code, ...]} of values that the schema refuses."""


class Authority(Protocol):
    """Decides what the session and the member may do; sync.md and access.md are its law."""

    def judge(self, entry: Entry, current: RecordState | None) -> Verdict:
        """Judge one entry against the record as it stands."""

    def may_let_in(self, decider: str, entry: Entry, current: RecordState | None) -> bool:
        """Whether a member may decide that a held entry takes effect, as the entry would."""


class JournalPort(Protocol):
    """The journal and the tables it feeds, of one establishment, inside one transaction."""

    def lock(self) -> Head:
        """Lock the establishment row and return its head. Must be the first call."""

    def known(self, ids: Iterable[str], digests: Iterable[str]) -> Sequence[KnownEntry]:
        """Return the journal's rows under any of these ids or digests."""

    def numbers(self, device: str) -> Numbers:
        """Return which of the device's numbers the journal holds."""

    def records(self, keys: Iterable[Key]) -> dict[Key, RecordState]:
        """Return the current state of those records that exist."""

    def held_for(self, keys: Iterable[Key]) -> list[RecordState]:
        """Return open held entries that wait for these records to appear, oldest first."""

    def held_together(self, device: str, group: str) -> list[RecordState]:
        """Return the open held entries of one group of a device, oldest first."""

    def append(self, rows: Sequence[JournalRow]) -> None:
        """Append rows to the journal."""

    def store(self, records: Sequence[RecordState]) -> None:
        """Insert or update records and move their place in `record_head` to their revision."""

    def finish(self, head: Head, device: str, numbers: Numbers) -> None:
        """Write the new head and the device's numbers."""

    def savepoint(self) -> AbstractContextManager[None]:
        """Undo what was written inside and raise `StoreRefusedError` where the database refuses."""


def empty_record(
    kind: str, record_id: str, *, author: str, form_version: int, seq: int
) -> RecordState:
    """Return a record with no fields, as it is before its first entry."""
    from tepal.sync.merge import RecordState as State

    return State(kind, record_id, {}, "open", seq, form_version, author, seq)


def new_values(changes: Mapping[str, Change]) -> dict[str, Any]:
    """Return {field: to} of the changes."""
    return {name: change.to for name, change in changes.items()}
