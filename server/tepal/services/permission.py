"""What a request may read or do, from what its cookies prove: the table of authority, for routes.

Reads only. The word is the lower of the device's ceiling and the role of who has a person session
on it; on a shared phone without one the ceiling alone speaks, since PINs prove nothing here.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from tepal.services.access import AccessError, Proof
from tepal.services.authority import ASK, NO, PASSWORD, lower, word_of
from tepal.services.exchange import device_state, member_roles

if TYPE_CHECKING:
    from sqlalchemy.orm import Session as DbSession


def word_for(db: DbSession, who: Proof, act: str) -> str:
    """Return the table's word for an act of this request.

    A person who works here no longer counts as nobody.
    """
    ceiling = who.ceiling or device_state(db, who.establishment, who.device)[0]
    word = word_of(act, ceiling)
    if who.member is None:
        return word
    role = member_roles(db, who.establishment).get(who.member)
    return word if role is None else lower(word, word_of(act, role))


def require(db: DbSession, who: Proof, act: str) -> str:
    """Return the word, which lets the request through; what would wait for a grower is refused.

    Raises
    ------
    AccessError   `access.not_permitted`; `access.no_person` where a password session is needed.
    """
    word = word_for(db, who, act)
    if word in (NO, ASK):
        raise AccessError(
            "access.not_permitted", "the role of the person or of the device does not allow this"
        )
    if word == PASSWORD:
        require_person(db, who)
    return word


def require_person(db: DbSession, who: Proof) -> None:
    """Raise unless the person of the password session works here.

    Raises
    ------
    AccessError   `access.no_person`.
    """
    if who.member not in member_roles(db, who.establishment):
        raise AccessError("access.no_person", "sign in with your password first")
