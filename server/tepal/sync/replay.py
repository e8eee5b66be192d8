"""Replay a journal: prove that the chain is whole and that the tables are what it says.

Used by `tepal verify`. Waiting and quarantined rows are held again for their stored reason; the
others must come out with the outcome that the chain covers.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

from tepal.sync.chain import genesis, link
from tepal.sync.effects import Effects
from tepal.sync.entry import Entry, EntryError, digest_of, identify, parse
from tepal.sync.memory import MemoryJournal
from tepal.sync.merge import same
from tepal.sync.ports import ALLOW, Verdict
from tepal.sync.prepared import Prepared

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from tepal.sync.merge import RecordState
    from tepal.sync.ports import JournalPort, JournalRow, Key, Validator

AnchorWord = Literal["ok", "lost_in_restore", "not_reached", "contradicted"]


@dataclass(frozen=True, slots=True)
class Fault:
    """One disagreement: where in the journal or in which record, and what is wrong."""

    code: str
    seq: int | None = None
    kind: str | None = None
    record: str | None = None
    field: str | None = None


@dataclass(frozen=True, slots=True)
class Replay:
    """The records the journal leads to, the faults of the chain, and the head reached."""

    records: Mapping[Key, RecordState]
    faults: tuple[Fault, ...]
    seq: int
    hash: str


def replay(establishment: str, rows: Iterable[JournalRow], validator: Validator) -> Replay:
    """Replay rows in seq order.

    A redacted text differs from its digest, which the chain covers; whether the redaction is one
    that the journal itself tells of is for the caller to see (services/verify.py).
    """
    journal = MemoryJournal(establishment)
    faults: list[Fault] = []
    previous, expected_seq = genesis(establishment), 0
    for row in rows:
        expected_seq += 1
        if row.seq != expected_seq:
            faults.append(Fault("row_missing", seq=expected_seq))
            expected_seq = row.seq
        if link(previous, row.seq, row.received_at, row.outcome, row.digest) != row.hash:
            faults.append(Fault("chain_broken", seq=row.seq))
        if not row.redacted and digest_of(row.text) != row.digest:
            faults.append(Fault("text_changed", seq=row.seq))
        previous = row.hash
        faults += replay_row(row, journal, validator)
    return Replay(journal.table, tuple(faults), expected_seq, previous)


def replay_row(row: JournalRow, journal: MemoryJournal, validator: Validator) -> list[Fault]:
    """Apply one row to the journal in memory; return what disagrees with it."""
    faults = []
    try:
        entry = replace(parse(row.text), digest=row.digest)
    except EntryError:
        entry = None
    if not _columns_fit(row, entry):
        faults.append(Fault("columns_differ", seq=row.seq))
    prepared = Prepared(row.text, row.digest, entry)
    if row.outcome in ("waiting", "quarantined"):
        journal.store(_hold_again(prepared, row, journal, validator))
    elif entry is None:
        faults.append(Fault("text_unreadable", seq=row.seq))
    else:
        outcome, records = _merge_again(prepared, row, journal, validator)
        journal.store(records)
        if outcome != row.outcome:
            faults.append(Fault("outcome_differs", row.seq, entry.kind, entry.record))
    journal.append([row])
    return faults


def _columns_fit(row: JournalRow, entry: Entry | None) -> bool:
    """Whether the columns beside the text, which the chain does not cover, say what it says."""
    beside = (row.member, row.kind, row.record, row.action)
    if entry is None:
        entry_id, _, number = identify(row.text)
        fits = beside == (None, None, None, None)
    else:
        entry_id, number = entry.id, entry.number
        fits = beside == (entry.member, entry.kind, entry.record, entry.action)
        fits = fits and row.device == entry.device
    return fits and row.entry_id in (None, entry_id) and row.number in (None, number)


def compare(
    expected: Mapping[Key, RecordState], actual: Mapping[Key, RecordState]
) -> tuple[Fault, ...]:
    """Return the faults between the records a replay leads to and those in the tables."""
    faults = []
    for key in sorted(expected.keys() | actual.keys()):
        want, have = expected.get(key), actual.get(key)
        if have is None or want is None:
            code = "record_lost" if have is None else "record_without_entry"
            faults.append(Fault(code, None, *key))
            continue
        faults += [
            Fault("field_differs", want.revision, *key, name)
            for name in sorted(want.fields.keys() | have.fields.keys())
            if not same(want.fields.get(name), have.fields.get(name))
        ]
        if (want.state, want.revision, want.author) != (have.state, have.revision, have.author):
            faults.append(Fault("state_differs", want.revision, *key))
    return tuple(faults)


def judge_anchor(
    seq: int, hash_seen: str, hash_at: str | None, lost: Iterable[tuple[int, int]]
) -> AnchorWord:
    """Judge a printed or witnessed anchor SEQ:HASH against the journal.

    Parameters
    ----------
    hash_seen : str            At least 16 hex characters, as printed.
    hash_at : str or None      The journal's hash at that seq today; None beyond its end.
    lost : (after, up to)      Stretches that restores gave up: after < seq <= up to.
    """
    if hash_at is not None and hash_at.startswith(hash_seen):
        return "ok"
    if any(after < seq <= upto for after, upto in lost):
        return "lost_in_restore"
    return "not_reached" if hash_at is None else "contradicted"


class _AllowAll:
    """On a replay the stored outcome already is what authority said at the time."""

    def judge(self, entry: Entry, current: RecordState | None) -> Verdict:
        del entry, current
        return ALLOW

    def may_let_in(self, decider: str, entry: Entry, current: RecordState | None) -> bool:
        del decider, entry, current
        return True


def _hold_again(
    prepared: Prepared, row: JournalRow, journal: JournalPort, validator: Validator
) -> list[RecordState]:
    """Return the records that a waiting or quarantined row brought about."""
    run = Effects(journal, _AllowAll(), validator)
    run.hold(prepared, identify(prepared.text), row.reason, row.seq, row.outcome)
    return list(run.touched.values())


def _merge_again(
    prepared: Prepared, row: JournalRow, journal: JournalPort, validator: Validator
) -> tuple[str, list[RecordState]]:
    """Return (outcome, records touched) of a row that took effect."""
    run = Effects(journal, _AllowAll(), validator)
    outcome, _ = run.effect(prepared.entry, None, row.seq)
    return outcome, list(run.touched.values())
