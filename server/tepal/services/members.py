"""Passwords of members, set by a manager. Reads here; the write commits in services/access."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tepal.domain.errors import NotFoundError
from tepal.services.access import AccessError, Proof, set_password
from tepal.services.exchange import device_state, member_roles
from tepal.store import records as record_rows

if TYPE_CHECKING:
    from sqlalchemy.orm import Session as DbSession

    from tepal.services.server_acts import Chance


def require_manager(db: DbSession, who: Proof) -> None:
    """Raise unless an active manager has a password session on a device that a manager may use.

    Raises
    ------
    AccessError   `access.not_permitted`.
    """
    roles = member_roles(db, who.establishment)
    ceiling, revoked = device_state(db, who.establishment, who.device)
    if roles.get(who.member or "") != "manager" or ceiling != "manager" or revoked:
        raise AccessError("access.not_permitted", "this needs a manager's own password session")


def require_member(db: DbSession, establishment: str, member: str) -> None:
    """Raise unless the office has a person of this id.

    Raises
    ------
    NotFoundError   `members.no_such_member`.
    """
    if not record_rows.load(db, establishment, [("member", member)]):
        raise NotFoundError("members.no_such_member", "the office has no such person yet")


def manager_named(db: DbSession, establishment: str, name: str | None) -> str:
    """Return the id of the active manager of that name; without a name, of the first.

    Raises
    ------
    NotFoundError   `members.no_such_manager`.
    """
    for record in record_rows.load_all(db, establishment, "member"):
        fields = record.fields
        is_manager = fields.get("role") == "manager" and fields.get("active") is True
        if is_manager and record.state != "void" and name in (None, fields.get("name")):
            return record.id
    raise NotFoundError("members.no_such_manager", f"no active manager is called {name!r}")


def set_member_password(
    db: DbSession, who: Proof, member: str, password: str, chance: Chance
) -> None:
    """Set the password of a member; that member's person sessions end. Commits.

    Called for a manager in a password session on a device that a manager may use: `who.member`
    comes from the person cookie, never from a body.

    Raises
    ------
    AccessError     `access.not_permitted` for anybody but an active manager, or on a device with a
                    lower ceiling; `access.password_length`.
    NotFoundError   `members.no_such_member`: no such person has reached the office.
    """
    require_manager(db, who)
    require_member(db, who.establishment, member)
    db.rollback()
    set_password(db, who.establishment, member, password, chance)
