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
        word = max(_word(act, role), _word(act, self.session.ceiling), key=_STRICTNESS.__getitem__)
        if word == NO:
            return Verdict("refuse", "not_permitted")
        if word == ASK:
            return Verdict("wait", "needs_grower")
        if word == PASSWORD and self.session.member != entry.member:
            return Verdict("wait", "needs_password")
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
    if entry.action in ("create", "change"):
        return "create_field"
    if current is None:  # not here yet: whose it is nobody knows, so the stricter act counts
        return "amend_other"
    if current.state == "open":
        return "create_field"
    return "amend_own" if current.author == entry.member else "amend_other"
