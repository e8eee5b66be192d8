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
    from collections.abc import Mapping

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
# what a restriction bars, and for how long: replacing a value that stands can let people in too
BARRING: Final = frozenset(
    {
        "application", "house", "benches", "area", "area_during", "started_at", "ended_at", "rei",
        "rei_unknown", "double_notice", "ventilation_owed",
    }
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
        if word == NO or (act == "reopen" and role == "operator" and not _is_named(entry)):
            return Verdict("refuse", "not_permitted")
        if entry.action in _ASKED:  # it waits for a grower, whatever the word: the engine holds it
            return ALLOW
        if word == ASK:
            return Verdict("wait", "needs_grower")
        if word == PASSWORD and self.session.member != entry.member:
            return Verdict("wait", "needs_password")
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


def _is_named(entry: Entry) -> bool:
    """Whether who reopens stands in it by name, where it reopens."""
    if REOPENING not in entry.changes:
        return True
    by = entry.changes.get("reopened_by")
    return by is not None and by.to == entry.member


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
    if guard == "restriction" and _lets_in(entry, current):
        return "reopen"
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


def _lets_in(entry: Entry, current: RecordState | None) -> bool:
    """Whether an entry about a restriction opens an area, or could open it sooner."""
    if REOPENING in entry.changes or entry.action == "void":
        return True
    if entry.action == "request" and not entry.changes:  # asks for it to be made void
        return True
    return any(
        change.was is not None or (current is not None and current.fields.get(name) is not None)
        for name, change in entry.changes.items()
        if name in BARRING
    )
