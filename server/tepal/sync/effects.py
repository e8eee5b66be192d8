"""What an entry does to the records, under the lock: merge, hold, release, decide.

`Effects` is the working copy of one push. It knows no numbers and no chain (engine.py) and is what
a replay runs again (replay.py).
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any, Final

from tepal.sync.entry import Change, Entry, EntryError, parse
from tepal.sync.ids import effect_id
from tepal.sync.merge import RecordState, merge, same
from tepal.sync.ports import CONFLICT, HELD, Key, empty_record, new_values
from tepal.sync.prepared import OWN_KINDS, Prepared

if TYPE_CHECKING:
    from collections.abc import Sequence

    from tepal.sync.ports import Authority, JournalPort, Validator

# Actions that hold an entry until a person with the right says yes.
_HELD_ACTIONS: Final = {"request": "asked_for", "propose": "proposed"}
# Held for a yes that nobody's own session can give: such entries of one group are one question.
_ASKED: Final = frozenset({*_HELD_ACTIONS.values(), "needs_grower"})


class Effects:
    """The records that one push touches, as it sees them."""

    def __init__(self, journal: JournalPort, authority: Authority, validator: Validator) -> None:
        self.journal = journal
        self.authority = authority
        self.validator = validator
        self.records: dict[Key, RecordState] = {}
        self.touched: dict[Key, RecordState] = {}
        self.asked: set[Key] = set()  # the keys that `records` was read for, found or not
        self.waiting: dict[Key, list[RecordState]] = {}  # by what they wait for, where read
        self.waiting_here: dict[Key, dict[str, None]] = {}  # the same, held in this push

    def effect(self, entry: Entry | None, problem: str | None, seq: int) -> tuple[str, str | None]:
        """Judge an entry and let it take effect; return (outcome, reason it is held for)."""
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
        rules = self.validator.rules(entry.kind) or OWN_KINDS[entry.kind]
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
            late = _entry_of(live)
            if late.action == "decide":
                outcome, reason = self._decide(late, seq, is_late=True)
            else:
                outcome, reason = self._merge(late, late.action, late.reason, late.member, seq)
            if outcome in ("waiting", "quarantined"):
                self._put(_with_fields(live, seq, reason=reason))
            else:
                self._settle(live, "released", None, seq)

    def _decide(
        self, entry: Entry, seq: int, decider: str | None = None, *, is_late: bool = False
    ) -> tuple[str, str | None]:
        """Let a decision take effect; `decider` stands for it where it was itself let in."""
        decider = decider or entry.member
        case = self.get((entry.kind, entry.record))
        if case is None:
            return "waiting", "record_missing"
        if case.fields.get("decision") is not None:
            return "merged", None
        if not self._may_let_in(decider, entry, case, is_late=is_late):
            return "quarantined", "not_permitted"
        to = entry.changes["decision"].to
        if entry.kind == CONFLICT:
            return self._decide_conflict(entry, case, to, seq)
        touched, waiting_here = (
            dict(self.touched),
            {k: dict(v) for k, v in self.waiting_here.items()},
        )
        for one in self._together(case):
            outcome, reason = self._decide_held(entry, one, seq, decider, is_late=is_late)
            if outcome not in ("accepted", "merged"):  # all of a group takes effect, or nothing
                self.touched, self.waiting_here = touched, waiting_here
                return outcome, reason
        return outcome, reason

    def _together(self, case: RecordState) -> list[RecordState]:
        """Return the held entries that one answer decides: the case, or its group, in order.

        A split of a lot is an event, a change and a new lot: half of it would count plants twice.
        """
        group, device = case.fields.get("of_group"), str(case.fields.get("device"))
        if group is None or case.fields.get("reason") not in _ASKED:
            return [case]
        held = {one.id: one for one in self.journal.held_together(device, str(group))}
        for one in held.values():
            self.records.setdefault((HELD, one.id), one)
            self.asked.add((HELD, one.id))
        held |= {one.id: one for (kind, _), one in self.touched.items() if kind == HELD}
        return sorted(
            (
                one
                for one in held.values()
                if (one.fields.get("device"), one.fields.get("of_group")) == (device, group)
                and one.fields.get("reason") in _ASKED
                and one.fields.get("decision") is None
            ),
            key=lambda one: (int(one.fields.get("number") or 0), one.created_seq),
        )

    def _decide_held(
        self, entry: Entry, case: RecordState, seq: int, decider: str, *, is_late: bool
    ) -> tuple[str, str | None]:
        """Let one held entry in, or refuse it."""
        to = entry.changes["decision"].to
        if to == "accept":
            if parse_or_none(str(case.fields["text"])) is None:
                return "quarantined", "cannot_be_accepted"
            held = _entry_of(case)
            if held.action == "restore":
                return "quarantined", "cannot_be_accepted"
            of = self.get((held.kind, held.record))
            action = held.action if held.action == "decide" else _action_of_held(held, of)
            if not self._may_let_in(decider, replace(held, action=action), of, is_late=is_late):
                return "quarantined", "not_permitted"
            if action == "decide":  # it waited for its member's own session
                outcome, reason = self._decide(held, seq, decider, is_late=is_late)
                if outcome in ("accepted", "merged"):
                    self._settle(case, to, entry.member, seq, entry.reason)
                return outcome, reason
            rules = self.validator.rules(held.kind)
            if rules is None or self.validator.problems(held.kind, new_values(held.changes)):
                return "quarantined", "cannot_be_accepted"
            outcome, reason = self._merge(
                held, action, held.reason or entry.reason, held.member, seq
            )
            if outcome == "waiting":
                return outcome, reason
        self._settle(case, to, entry.member, seq, entry.reason)
        return "accepted", None

    def _may_let_in(
        self, decider: str, entry: Entry, of: RecordState | None, *, is_late: bool
    ) -> bool:
        """Whether who decides may do what is decided on.

        A decision that comes into effect late does so in another's push, and again on a replay:
        there only what the kind's rules say counts, since roles may have changed meanwhile.
        """
        if not is_late:
            return self.authority.may_let_in(decider, entry, of)
        kind = entry.kind
        if kind in OWN_KINDS and of is not None:
            kind = str(of.fields.get("of_kind"))
        rules = self.validator.rules(kind)
        return rules is None or not rules.is_sealed

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
        self._settle(case, to, entry.member, seq, entry.reason)
        return "accepted", None

    def _settle(
        self,
        case: RecordState,
        decision: Any,
        member: str | None,
        seq: int,
        reason: str | None = None,
    ) -> None:
        told = {"decision_reason": reason} if case.kind == HELD else {}  # who asked reads it there
        self._put(_with_fields(case, seq, decision=decision, decided_by=member, **told))

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
        "digest": one.digest,
        "device": device, "number": number,
        "member": entry.member if entry else None,
        "of_kind": entry.kind if entry else None,
        "of_id": entry.record if entry else None,
        "action": entry.action if entry else None,
        "of_group": entry.group if entry else None,
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


def _entry_of(held: RecordState) -> Entry:
    """Return the entry of a held text, under the digest that it came with.

    A name may have been taken out of the text since; what follows from the digest must not change.
    """
    entry = parse(str(held.fields["text"]))
    digest = held.fields.get("digest")
    return replace(entry, digest=digest) if isinstance(digest, str) else entry


def parse_or_none(text: str) -> Entry | None:
    """Return the entry of a text, or None where it is none."""
    try:
        return parse(text)
    except EntryError:
        return None
