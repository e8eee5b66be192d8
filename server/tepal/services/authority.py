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

# Words of the table, from free to shut.
YES, ASK, PASSWORD, NO = "yes", "ask", "password", "no"
_STRICTNESS: Final = {YES: 0, PASSWORD: 1, ASK: 2, NO: 3}

# act -> role -> word; a role that is not named may not.
TABLE: Final[dict[str, dict[str, str]]] = {
    "create_field": {"operator": YES, "technician": YES, "grower": YES, "manager": YES},
    "amend_own": {"operator": ASK, "technician": ASK, "grower": YES, "manager": YES},
    "amend_other": {"operator": ASK, "technician": ASK, "grower": PASSWORD, "manager": PASSWORD},
    "registers": {"operator": ASK, "technician": ASK, "grower": YES, "manager": YES},
    "trial_authority": {
        "operator": ASK,
        "technician": ASK,
        "grower": PASSWORD,
        "manager": PASSWORD,
    },
    "reopen": {"operator": YES, "technician": NO, "grower": YES, "manager": YES},
    "decide": {"operator": NO, "technician": NO, "grower": PASSWORD, "manager": PASSWORD},
    "admin": {"manager": PASSWORD},
    "ask": {"operator": YES, "technician": YES, "grower": YES, "manager": YES},
}


REOPENING: Final = "reopened_at"  # the field of a restriction whose change lets people in
# What happens to a restriction after the end of the application; all else says what was applied.
_LATER: Final = frozenset(
    ("ventilation", "signs_up_at", "signs_up_by", "signs_down_at", "signs_down_by", "oral_notices",
     "measured_level", "measured_with", "measured_at", "note", "inhalation_level")
)  # fmt: skip


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
        word = max(_word(act, role), _word(act, self.session.ceiling), key=_STRICTNESS.__getitem__)
        if word == NO:
            return Verdict("refuse", "not_permitted")
        if word == ASK:
            return Verdict("wait", "needs_grower")
        if word == PASSWORD and self.session.member != entry.member:
            return Verdict("wait", "needs_password")
        if act == "reopen" and self.reopening is not None and entry.changes[REOPENING].to:
            reason = self.reopening(entry, current)
            if reason is not None:
                return Verdict("wait", reason)
        return ALLOW


def _word(act: str, role: str) -> str:
    return TABLE[act].get(role, NO)


def act_of(entry: Entry, current: RecordState | None) -> str:
    """Return the row of the table that an entry falls under."""
    if entry.action in ("request", "propose"):
        return "ask"
    if entry.kind in (CONFLICT, HELD):
        return "decide"
    guard = KINDS[entry.kind].guard
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
    if entry.action in ("create", "change"):
        return "create_field"
    if current is None:  # not here yet: whose it is nobody knows, so the stricter act counts
        return "amend_other"
    if current.state == "open":
        return "create_field"
    return "amend_own" if current.author == entry.member else "amend_other"


def _shortens(entry: Entry, current: RecordState | None) -> bool:
    """Whether an entry could let people in by the back door: void it, or rewrite what was done."""
    if entry.action not in ("create", "change"):
        return True
    has_ended = current is not None and current.fields.get("ended_at") is not None
    return has_ended and bool(set(entry.changes) - _LATER)
