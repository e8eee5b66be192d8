"""The push: entries in, journal and records out, under one lock, each entry once in effect.

`prepare` parses, validates and hashes outside the lock. `apply` runs under it: known entries are
answered from the journal, the others are judged, merged, numbered and chained. Nothing that
arrives is dropped: it is accepted, merged, conflicted, waiting or quarantined.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from tepal.sync import chain
from tepal.sync.entry import Change, Entry, EntryError, digest_of, identify, parse, storable
from tepal.sync.ids import effect_id
from tepal.sync.merge import RecordState, merge, same
from tepal.sync.ports import (
    ALLOW,
    CONFLICT,
    HELD,
    Head,
    JournalPort,
    JournalRow,
    Key,
    KindRules,
    Numbers,
    StoreRefusedError,
    Verdict,
    empty_record,
    new_values,
)

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from tepal.sync.ports import Authority, KnownEntry, Validator

_OWN_KINDS = {CONFLICT: KindRules(1), HELD: KindRules(1)}
# Reasons that hold an entry until a person with the right says yes.
_HELD_ACTIONS = {"request": "asked_for", "propose": "proposed"}


@dataclass(frozen=True, slots=True)
class Prepared:
    """A text after the checks that need no lock; `problem` is set where it must be quarantined."""

    text: str
    digest: str
    entry: Entry | None
    problem: str | None = None


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


def prepare(texts: Iterable[str], validator: Validator) -> list[Prepared]:
    """Parse, validate and hash texts. No lock, no I/O; never raises for bad content."""
    return [_prepare(text, validator) for text in texts]


def _prepare(text: str, validator: Validator) -> Prepared:
    wrapped = storable(text)
    if wrapped is not None:
        return Prepared(wrapped, digest_of(wrapped), None, "not_text")
    try:
        entry = parse(text)
    except EntryError as error:
        return Prepared(text, digest_of(text), None, error.code.removeprefix("sync."))
    rules = _OWN_KINDS.get(entry.kind) or validator.rules(entry.kind)
    problem = None
    if rules is None:
        problem = "kind_unknown"
    elif entry.form_version > rules.form_version:
        problem = "form_newer_than_server"
    elif (entry.action == "decide") != (entry.kind in _OWN_KINDS):
        problem = "action_not_for_kind"
    elif _bad_fields(entry, validator):
        problem = "invalid_fields"
    return Prepared(text, entry.digest, entry, problem)


def _bad_fields(entry: Entry, validator: Validator) -> bool:
    if entry.action == "restore":  # it tells of the journal, not of a record's fields
        return False
    if entry.kind in _OWN_KINDS:
        return _bad_decision(entry)
    return bool(validator.problems(entry.kind, new_values(entry.changes)))


def _bad_decision(entry: Entry) -> bool:
    """A decision is {"value", "over"} on a conflict, "accept" or "refuse" on a held entry."""
    if set(entry.changes) != {"decision"}:
        return True
    to = entry.changes["decision"].to
    if entry.kind == HELD:
        return to not in ("accept", "refuse")
    return not (isinstance(to, dict) and set(to) == {"value", "over"})


def apply(
    prepared: Sequence[Prepared],
    *,
    device: str,
    journal: JournalPort,
    authority: Authority,
    validator: Validator,
    received_at: str,
    quarantine_all: str | None = None,
) -> PushResult:
    """Apply prepared texts of one device, in the order given, under the establishment's lock.

    Parameters
    ----------
    device : str             The device of the session; an entry that names another is quarantined.
    quarantine_all : str     A reason that holds every entry back (`device_revoked`,
                             `from_file`), or None.

    Returns
    -------
    PushResult. The caller commits.
    """
    state = _Progress(journal.lock(), journal.numbers(device))

    def push(batch: Sequence[Prepared]) -> list[EntryResult]:
        with journal.savepoint():
            run = _Run(journal, authority, validator, state.head, received_at)
            run.preread(batch, state.numbers)
            results = [run.take(one, device, quarantine_all) for one in batch]
            run.write()
        state.head, state.numbers = run.head, _advance(state.numbers, run.taken)
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


def _advance(numbers: Numbers, taken: set[int]) -> Numbers:
    beyond = sorted({*numbers.beyond, *taken})
    ack = numbers.ack
    while beyond and beyond[0] <= ack + 1:
        ack = max(ack, beyond.pop(0))
    return Numbers(ack, tuple(beyond))


def missing_ranges(numbers: Numbers, limit: int = 100) -> tuple[int, list[list[int]]]:
    """Return (seen, holes): numbers up to `seen` are in the journal except the ranges in `holes`.

    At most `limit` ranges are named; `seen` stops before the first that is not.
    """
    seen = numbers.ack
    holes: list[list[int]] = []
    for number in numbers.beyond:
        if number > seen + 1:
            if len(holes) == limit:
                break
            holes.append([seen + 1, number - 1])
        seen = number
    return seen, holes


class _Run:
    """One push under the lock: the working copy of everything it touches."""

    def __init__(
        self,
        journal: JournalPort,
        authority: Authority,
        validator: Validator,
        head: Head,
        received_at: str,
    ) -> None:
        self.journal = journal
        self.authority = authority
        self.validator = validator
        self.head = head
        self.received_at = received_at
        self.rows: list[JournalRow] = []
        self.records: dict[Key, RecordState] = {}
        self.touched: dict[Key, RecordState] = {}
        self.asked: set[Key] = set()  # the keys that `records` was read for, found or not
        self.waiting: dict[Key, list[RecordState]] = {}  # by what they wait for, where read
        self.waiting_here: dict[Key, dict[str, None]] = {}  # the same, held in this push
        self.by_id: dict[str, KnownEntry | EntryResult] = {}
        self.by_digest: dict[str, KnownEntry | EntryResult] = {}
        self.taken: set[int] = set()
        self.numbers_held: set[int] = set()
        self.number_ack = 0

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
        self.number_ack = numbers.ack
        self.numbers_held = set(numbers.beyond)

    def take(self, one: Prepared, device: str, quarantine_all: str | None) -> EntryResult:
        """Take one text into the journal, or answer from it where it is known."""
        entry = one.entry
        entry_id, named_device, number = (
            (entry.id, entry.device, entry.number) if entry else identify(one.text)
        )
        own_number = number if named_device == device else None
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
        return number <= self.number_ack or number in self.numbers_held or number in self.taken

    def effect(self, entry: Entry | None, problem: str | None, seq: int) -> tuple[str, str | None]:
        if entry is None or problem is not None:
            return "quarantined", problem
        key = (entry.kind, entry.record)
        verdict = self.authority.judge(entry, self.get(key))
        if verdict.word == "refuse":
            return "quarantined", verdict.reason
        if verdict.word == "wait":
            return "waiting", verdict.reason
        if entry.action in _HELD_ACTIONS:
            return "waiting", _HELD_ACTIONS[entry.action]
        if entry.action == "restore":
            return "accepted", None
        if entry.action == "decide":
            return self._decide(entry, seq)
        return self._merge(entry, entry.action, entry.reason, entry.member, seq)

    def _merge(
        self, entry: Entry, action: str, reason: str | None, author: str, seq: int
    ) -> tuple[str, str | None]:
        key = (entry.kind, entry.record)
        rules = self.validator.rules(entry.kind) or _OWN_KINDS[entry.kind]
        current = self.get(key)
        result = merge(
            current,
            action=action,
            changes=entry.changes,
            reason=reason,
            new=empty_record(*key, author=author, form_version=entry.form_version, seq=seq),
            signed_field=rules.signed_field,
        )
        if result.record is None or result.waits_for is not None:
            return "waiting", result.waits_for
        self._put(replace(result.record, revision=seq))
        for conflict in result.conflicts:
            self._put(
                _own_record(
                    CONFLICT, effect_id(entry.digest, conflict.field), entry.member, seq,
                    {
                        "of_kind": entry.kind, "of_id": entry.record, "field": conflict.field,
                        "current": conflict.current, "other": conflict.other,
                        "was": conflict.was, "member": entry.member, "device": entry.device,
                        "entry": entry.id, "reason": reason, "made_at": entry.made_at,
                        "entry_form_version": entry.form_version,
                    },
                )
            )  # fmt: skip
        if current is None:
            self._release(key, seq)
        for conflict in result.conflicts:
            self._release((CONFLICT, effect_id(entry.digest, conflict.field)), seq)
        return result.outcome, None

    def hold(
        self,
        one: Prepared,
        named: tuple[str | None, str | None, int | None],
        reason: str | None,
        seq: int,
        outcome: str,
    ) -> None:
        """Keep a text that does not take effect; a decision about it may have come before it."""
        record = _held(one, named, reason, seq, outcome)
        self._put(record)
        self._release((HELD, record.id), seq)

    def _read_waiting(self, keys: Sequence[Key]) -> None:
        for key in keys:
            self.waiting[key] = []
        for held in self.journal.held_for(keys):
            self.records.setdefault((HELD, held.id), held)
            self.asked.add((HELD, held.id))
            self.waiting[str(held.fields["of_kind"]), str(held.fields["of_id"])].append(held)

    def _release(self, key: Key, seq: int) -> None:
        """Entries that waited for this record take effect now, in the order they arrived."""
        if key not in self.waiting:
            self._read_waiting([key])
        ids = dict.fromkeys(held.id for held in self.waiting[key]) | self.waiting_here.get(key, {})
        for held_id in ids:
            live = self.get((HELD, held_id))
            if live is None or live.fields.get("decision") is not None:
                continue
            late = parse(str(live.fields["text"]))
            if late.action == "decide":
                outcome, reason = self._decide(late, seq)
            else:
                outcome, reason = self._merge(late, late.action, late.reason, late.member, seq)
            if outcome in ("waiting", "quarantined"):
                self._put(_with_fields(live, seq, reason=reason))
            else:
                self._settle(live, "released", None, seq)

    def _decide(self, entry: Entry, seq: int) -> tuple[str, str | None]:
        case = self.get((entry.kind, entry.record))
        if case is None:
            return "waiting", "record_missing"
        if case.fields.get("decision") is not None:
            return "merged", None
        to = entry.changes["decision"].to
        if entry.kind == CONFLICT:
            return self._decide_conflict(entry, case, to, seq)
        if to == "accept":
            held = parse_or_none(str(case.fields["text"]))
            if held is None or held.action == "restore":
                return "quarantined", "cannot_be_accepted"
            if held.action == "decide":  # it waited for its member's own session
                outcome, reason = self._decide(held, seq)
                if outcome in ("accepted", "merged"):
                    self._settle(case, to, entry.member, seq)
                return outcome, reason
            action = _action_of_held(held, self.get((held.kind, held.record)))
            rules = self.validator.rules(held.kind)
            if rules is None or self.validator.problems(held.kind, new_values(held.changes)):
                return "quarantined", "cannot_be_accepted"
            outcome, reason = self._merge(
                held, action, held.reason or entry.reason, held.member, seq
            )
            if outcome == "waiting":
                return outcome, reason
        self._settle(case, to, entry.member, seq)
        return "accepted", None

    def _decide_conflict(
        self, entry: Entry, case: RecordState, to: dict[str, Any], seq: int
    ) -> tuple[str, str | None]:
        """Choose a value over the one the decider saw; a newer value still is not overwritten."""
        key = (str(case.fields["of_kind"]), str(case.fields["of_id"]))
        target = self.get(key)
        if target is None:
            return "waiting", "record_missing"
        field = str(case.fields["field"])
        if self.validator.problems(key[0], {field: to["value"]}):
            return "quarantined", "invalid_fields"
        if not same(target.fields.get(field), to["value"]):
            chosen = replace(
                entry, kind=key[0], record=key[1],
                changes={field: Change(was=to["over"], to=to["value"])},
                form_version=int(case.fields["entry_form_version"]),
            )  # fmt: skip
            reason = entry.reason or case.fields.get("reason") or "conflict decided"
            self._merge(chosen, "amend", reason, entry.member, seq)
        self._settle(case, to, entry.member, seq)
        return "accepted", None

    def _settle(self, case: RecordState, decision: Any, member: str | None, seq: int) -> None:
        self._put(_with_fields(case, seq, decision=decision, decided_by=member))

    def get(self, key: Key) -> RecordState | None:
        """Return the record as this push sees it, reading it once where the pre-read missed it."""
        if key in self.touched:
            return self.touched[key]
        if key not in self.asked:
            self.asked.add(key)
            self.records.update(self.journal.records([key]))
        return self.records.get(key)

    def _put(self, record: RecordState) -> None:
        self.touched[record.kind, record.id] = record
        if record.kind == HELD and record.fields.get("reason") == "record_missing":
            of = str(record.fields.get("of_kind")), str(record.fields.get("of_id"))
            self.waiting_here.setdefault(of, {})[record.id] = None

    def write(self) -> None:
        """Write rows and records in one bulk."""
        if self.rows:
            self.journal.append(self.rows)
            self.journal.store(list(self.touched.values()))


def _own_record(
    kind: str, record_id: str, member: str, seq: int, fields: dict[str, Any]
) -> RecordState:
    present = {name: value for name, value in fields.items() if value is not None}
    return RecordState(kind, record_id, present, "open", seq, 1, member, seq)


def _held(
    one: Prepared,
    named: tuple[str | None, str | None, int | None],
    reason: str | None,
    seq: int,
    outcome: str,
) -> RecordState:
    """The held entry as a record: the whole text, why, and what it is about."""
    entry = one.entry
    entry_id, device, number = named
    fields = {
        "entry": entry_id, "outcome": outcome, "reason": reason or "unknown", "text": one.text,
        "device": device, "number": number,
        "member": entry.member if entry else None,
        "of_kind": entry.kind if entry else None,
        "of_id": entry.record if entry else None,
        "action": entry.action if entry else None,
    }  # fmt: skip
    member = entry.member if entry else ""
    return _own_record(HELD, effect_id(one.digest, "held"), member, seq, fields)


def _with_fields(record: RecordState, seq: int, **fields: Any) -> RecordState:
    merged = {**record.fields, **fields}
    return replace(record, revision=seq, fields={k: v for k, v in merged.items() if v is not None})


def _action_of_held(held: Entry, current: RecordState | None) -> str:
    """What a held entry does once accepted: a request amends or voids, a proposal creates."""
    if held.action == "request":
        return "amend" if held.changes else "void"
    if held.action == "propose" and current is None:
        return "create"
    signed = current is not None and current.state == "signed"
    if signed and held.action in ("create", "change", "propose"):
        return "amend"
    return "change" if held.action == "propose" else held.action  # unsigned: no reason is owed


def parse_or_none(text: str) -> Entry | None:
    """Return the entry of a text, or None where it is none."""
    try:
        return parse(text)
    except EntryError:
        return None


class _AllowAll:
    """On a replay the stored outcome already is what authority said at the time."""

    def judge(self, entry: Entry, current: RecordState | None) -> Verdict:
        del entry, current
        return ALLOW


def _replaying(journal: JournalPort, validator: Validator, row: JournalRow) -> _Run:
    return _Run(journal, _AllowAll(), validator, Head("", row.seq - 1, ""), row.received_at)


def hold_again(
    prepared: Prepared, row: JournalRow, journal: JournalPort, validator: Validator
) -> list[RecordState]:
    """Return the records that a waiting or quarantined row brought about."""
    run = _replaying(journal, validator, row)
    run.hold(prepared, identify(prepared.text), row.reason, row.seq, row.outcome)
    return list(run.touched.values())


def merge_again(
    prepared: Prepared, row: JournalRow, journal: JournalPort, validator: Validator
) -> tuple[str, list[RecordState]]:
    """Return (outcome, records touched) of a row that took effect."""
    run = _replaying(journal, validator, row)
    outcome, _ = run.effect(prepared.entry, None, row.seq)
    return outcome, list(run.touched.values())
