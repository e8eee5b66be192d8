"""Who may do what: the lower of the device's ceiling and the member's role, act by act.

The table is the product's access table. A password act needs the author's own person session when
it arrives, else it waits. Authority never comes from the member an entry names alone.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from tepal.forms.kinds import KINDS
from tepal.sync.ports import ALLOW, CONFLICT, HELD, Verdict

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from tepal.sync.entry import Entry
    from tepal.sync.merge import RecordState

# Words of the table, from free to shut. `OWN` and `TRIALS` say which part of a reading is free.
YES, OWN, TRIALS, PASSWORD, ASK, NO = "yes", "own", "trials", "password", "ask", "no"
_STRICTNESS: Final = {YES: 0, OWN: 1, TRIALS: 1, PASSWORD: 2, ASK: 3, NO: 4}

_ALL: Final = {"operator": YES, "technician": YES, "grower": YES, "manager": YES}
_GROWERS: Final = {"operator": ASK, "technician": ASK, "grower": YES, "manager": YES}
_SIGNED_GROWERS: Final = {
    "operator": ASK, "technician": ASK, "grower": PASSWORD, "manager": PASSWORD,
}  # fmt: skip

# act -> role -> word; a role that is not named may not.
TABLE: Final[dict[str, dict[str, str]]] = {
    # entries
    "create_field": _ALL,
    "amend_own": _GROWERS,
    "amend_other": _SIGNED_GROWERS,
    "registers": _GROWERS,
    "trial_authority": _SIGNED_GROWERS,
    "reopen": {"operator": YES, "technician": NO, "grower": YES, "manager": YES},
    "decide": _SIGNED_GROWERS,
    "admin": {"manager": PASSWORD},
    # reading
    "read": {**_ALL, "inspector": YES},
    "central": {**_ALL, "inspector": YES, "display": YES},
    "papers": {
        "operator": OWN, "technician": TRIALS, "grower": YES, "manager": YES, "inspector": YES,
    },
}  # fmt: skip

REOPENING: Final = "reopened_at"  # the field of a restriction whose change lets people in
# What happens to a restriction after the end of the application; all else says what was applied.
_LATER: Final = frozenset(
    ("ventilation", "signs_up_at", "signs_up_by", "signs_down_at", "signs_down_by", "oral_notices",
     "measured_level", "measured_with", "measured_at", "note", "inhalation_level")
)  # fmt: skip
# what an entry that asks would do once somebody says yes
_ASKED: Final = {"request": "amend", "propose": "change"}


@dataclass(frozen=True, slots=True)
class Session:
    """What the request proved: the device and its ceiling, and who has a person session on it."""

    device: str
    ceiling: str
    member: str | None = None
    is_server: bool = False


@dataclass(frozen=True, slots=True)
class RoleAuthority:
    """`sync.ports.Authority` over the roles of the establishment's active members."""

    session: Session
    roles: Mapping[str, str]
    # why a reopening of a restriction waits, or None where its conditions are met
    reopening: Callable[[Entry, RecordState | None], str | None] | None = None
    # the same of a trial's new layout
    layout: Callable[[Entry, RecordState | None], str | None] | None = None

    def judge(self, entry: Entry, current: RecordState | None) -> Verdict:
        """Judge one entry against the record as it stands."""
        if self.session.is_server:
            return ALLOW
        if entry.action == "restore":
            return Verdict("refuse", "not_permitted")
        role = self.roles.get(entry.member)
        if role is None:
            return Verdict("refuse", "member_unknown")
        act = act_of(entry, current)
        word = lower(word_of(act, role), word_of(act, self.session.ceiling))
        if word == NO:
            return Verdict("refuse", "not_permitted")
        if entry.action in _ASKED:  # it waits for a grower, whatever the word: the engine holds it
            return ALLOW
        if word == ASK:
            return Verdict("wait", "needs_grower")
        if word == PASSWORD and self.session.member != entry.member:
            return Verdict("wait", "needs_password")
        if act == "reopen" and self.reopening is not None and entry.changes[REOPENING].to:
            reason = self.reopening(entry, current)
            if reason is not None:
                return Verdict("wait", reason)
        if entry.kind == "trial" and "plots" in entry.changes and self.layout is not None:
            reason = self.layout(entry, current)
            if reason is not None:
                return Verdict("wait", reason)
        return ALLOW

    def may_let_in(self, decider: str, entry: Entry, current: RecordState | None) -> bool:
        """Whether a member may let a held entry take effect: only what the role may do itself.

        Without this a grower could let in what only a manager may do, such as the own new role.
        """
        if self.session.is_server:
            return True
        word = word_of(act_of(entry, current), self.roles.get(decider, ""))
        return word in (YES, PASSWORD)


def word_of(act: str, role: str) -> str:
    """Return the table's word for an act and a role or ceiling."""
    return TABLE[act].get(role, NO)


def lower(one: str, other: str) -> str:
    """Return the stricter of two words; two different parts have nothing in common."""
    if {one, other} == {OWN, TRIALS}:
        return NO
    return max(one, other, key=_STRICTNESS.__getitem__)


def covers(role: str, ceiling: str) -> bool:
    """Whether a role may do all that a ceiling lets through."""
    return all(lower(word_of(act, role), word_of(act, ceiling)) == word_of(act, ceiling)
               for act in TABLE)  # fmt: skip


def act_of(entry: Entry, current: RecordState | None) -> str:
    """Return the row of the table that an entry falls under; for one that asks, of what it asks."""
    if entry.kind in (CONFLICT, HELD):
        return "admin" if _guard(_about(current)) == "admin" else "decide"
    guard = _guard(entry.kind)
    if guard == "admin":
        return "admin"
    if guard == "register":
        return "registers"
    if guard == "authority":
        return "trial_authority"
    if guard == "restriction" and REOPENING in entry.changes:
        return "reopen"
    if guard == "restriction" and _shortens(entry, current):
        return "amend_other"
    action = _ASKED.get(entry.action, entry.action)
    if action in ("create", "change"):
        return "create_field"
    if current is None:  # not here yet: whose it is nobody knows, so the stricter act counts
        return "amend_other"
    if current.state == "open":
        return "create_field"
    return "amend_own" if current.author == entry.member else "amend_other"


def _guard(kind: str | None) -> str | None:
    return KINDS[kind].guard if kind in KINDS else None


def _about(case: RecordState | None) -> str | None:
    """Return the kind that a conflict or a held entry speaks of; None where it is not known."""
    kind = None if case is None else case.fields.get("of_kind")
    return kind if isinstance(kind, str) else None


def _shortens(entry: Entry, current: RecordState | None) -> bool:
    """Whether an entry could let people in by the back door: void it, or rewrite what was done."""
    if entry.action not in ("create", "change"):
        return True
    has_ended = current is not None and current.fields.get("ended_at") is not None
    return has_ended and bool(set(entry.changes) - _LATER)
