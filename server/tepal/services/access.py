"""Set-up, sign-in and the two cookies: the device's and the person's.

Tokens are random; only their SHA-256 is stored. Passwords are scrypt hashes (stdlib). Commits.
"""

from __future__ import annotations

import hashlib
import hmac
from dataclasses import dataclass
from datetime import timedelta
from typing import TYPE_CHECKING, Final

from sqlalchemy import delete, select

from tepal.domain.errors import TepalError
from tepal.services.authority import covers
from tepal.services.exchange import device_state
from tepal.services.server_acts import Act, Chance, act, act_within, instant_text, server_device
from tepal.store import records as record_rows
from tepal.store.journal import found_journal
from tepal.store.kind_models import MemberRecord
from tepal.store.models import JournalHead, MemberSecret, SessionToken

if TYPE_CHECKING:
    from datetime import datetime

    from sqlalchemy.orm import Session as DbSession

DEVICE_DAYS: Final = 180
PERSON_HOURS: Final = 12
# scrypt cost: N=2^14, r=8, p=5: one of the equivalent settings of the OWASP password storage
# cheat sheet (from memory: not checked against the page)
_SCRYPT: Final = {"n": 2**14, "r": 8, "p": 5, "maxmem": 64 * 1024 * 1024}


class AccessError(TepalError, PermissionError):
    """A sign-in, a token or an act that is not permitted."""


@dataclass(frozen=True, slots=True)
class Proof:
    """What a request's cookies prove. `revoked`: the device may still hand in, not read.

    `ceiling` of the device, where it was read with the cookies; None = it is read when asked for.
    `sliding` names the sorts of cookies whose end lies 5 % of their life behind a fresh one's.
    """

    establishment: str
    device: str
    member: str | None
    revoked: bool = False
    sliding: tuple[str, ...] = ()
    ceiling: str | None = None


def hash_password(password: str, salt: bytes) -> str:
    """Return `scrypt$salt$hash` in hex."""
    digest = hashlib.scrypt(password.encode(), salt=salt, **_SCRYPT)
    return f"scrypt${salt.hex()}${digest.hex()}"


def check_password(password: str, stored: str) -> bool:
    """Whether the password is the one stored; constant time in the comparison."""
    _, salt, _ = stored.split("$")
    return hmac.compare_digest(hash_password(password, bytes.fromhex(salt)), stored)


def check_new_password(password: str) -> None:
    """Raise where a new password is too short or absurdly long (10 to 200 characters)."""
    if not 10 <= len(password) <= 200:
        raise AccessError(
            "access.password_length", "a password has 10 to 200 characters", least=10, most=200
        )


def is_set_up(db: DbSession) -> bool:
    """Whether an establishment exists on this server."""
    return db.execute(select(JournalHead.establishment).limit(1)).first() is not None


def only_establishment(db: DbSession) -> str:
    """Return the id of the server's establishment.

    Raises
    ------
    AccessError   `access.not_set_up`: nobody has set the server up yet.
    """
    found = db.execute(select(JournalHead.establishment).limit(1)).scalar_one_or_none()
    if found is None:
        raise AccessError("access.not_set_up", "this server is not set up yet")
    return found


def set_up(
    db: DbSession,
    chance: Chance,
    *,
    name: str,
    zone: str,
    country: str,
    number_format: str,
    unit_system: str,
    member_name: str,
    password: str,
    language: str,
) -> tuple[str, str]:
    """Create the establishment, the server's device and the first manager. Commits.

    Returns
    -------
    (establishment id, member id)
    """
    check_new_password(password)
    establishment, device, member = chance.uuid7(), chance.uuid7(), chance.uuid7()
    acts = [
        Act("device", device, "create", member, {"label": "server", "ceiling": "manager"}),
        Act(
            "establishment", establishment, "create", member,
            {
                "name": name, "zone": zone, "country": country, "number_format": number_format,
                "unit_system": unit_system, "paper": "letter" if unit_system == "us" else "a4",
            },
        ),
        Act(
            "member", member, "create", member,
            {"name": member_name, "role": "manager", "language": language, "active": True},
        ),
    ]  # fmt: skip
    with db.begin():  # one transaction: a server is set up or it is not
        if is_set_up(db):
            raise AccessError("access.already_set_up", "this server is already set up")
        found_journal(db, establishment, chance.random_bytes(4).hex())
        db.add(
            MemberSecret(
                establishment=establishment,
                member=member,
                password_hash=hash_password(password, chance.random_bytes(16)),
            )
        )
        act_within(db, establishment, device, acts, chance)
    return establishment, member


def set_password(
    db: DbSession, establishment: str, member: str, password: str, chance: Chance
) -> None:
    """Set a member's password and end that member's person sessions. Commits."""
    check_new_password(password)
    hashed = hash_password(password, chance.random_bytes(16))
    with db.begin():
        secret = db.get(MemberSecret, (establishment, member))
        if secret is None:
            db.add(MemberSecret(establishment=establishment, member=member, password_hash=hashed))
        else:
            secret.password_hash = hashed
        db.execute(
            delete(SessionToken).where(SessionToken.member == member, SessionToken.sort == "person")
        )


def sign_in(db: DbSession, establishment: str, name: str, password: str) -> tuple[str, str]:
    """Return (member id, role) of an active member with that name and password.

    Raises
    ------
    AccessError   `access.wrong_name_or_password`; which of the two is not said.
    """
    query = select(MemberRecord).where(
        MemberRecord.establishment == establishment,
        MemberRecord.name == name.strip(),
        MemberRecord.active.is_(True),
        MemberRecord.state != "void",
    )
    is_hashed = False
    for member in db.execute(query).scalars():
        secret = db.get(MemberSecret, (establishment, member.id))
        stored = None if secret is None else secret.password_hash
        is_hashed = is_hashed or stored is not None
        if stored is not None and check_password(password, stored):
            return member.id, member.role or "operator"
    if not is_hashed:
        hash_password(password, b"0" * 16)  # an unknown name takes as long as a wrong password
    raise AccessError("access.wrong_name_or_password", "name or password is wrong")


def admit_device(
    db: DbSession,
    establishment: str,
    device: str,
    *,
    label: str,
    ceiling: str,
    member: str,
    chance: Chance,
    is_in_hand: bool,
) -> None:
    """Put a device on record when it is new. A revoked one stays revoked. Commits.

    Parameters
    ----------
    ceiling : the role of who signs in, or what a code allows; a device on record keeps its own.
    is_in_hand : whether the request's own device cookie names this device. Ids are no secret:
        without the cookie nobody gets onto a device that may do more than the ceiling given.

    Raises
    ------
    AccessError   `access.device_above_role`.
    AccessError   `access.device_revoked`; `access.not_permitted` for the server's own device,
                  whose numbers and ceiling are nobody else's.
    """
    with db.begin():
        server = server_device(db, establishment)
        known = record_rows.load(db, establishment, [("device", device)])
    if device == server:
        raise AccessError("access.not_permitted", "this device id is the server's own")
    if known:
        record = known["device", device]
        if record.fields.get("revoked") or record.state == "void":
            raise AccessError("access.device_revoked", "this device was revoked")
        if not is_in_hand and not covers(ceiling, str(record.fields.get("ceiling") or "display")):
            raise AccessError(
                "access.device_above_role", "this device may do more than the one who asks for it"
            )
        return
    changes = {"label": label[:80], "ceiling": ceiling}
    act(db, establishment, server, [Act("device", device, "create", member, changes)], chance)


def issue_token(
    db: DbSession,
    chance: Chance,
    *,
    sort: str,
    establishment: str,
    device: str,
    member: str | None,
) -> str:
    """Return a new cookie value of sort `device` or `person`. Commits."""
    token: str = chance.random_bytes(32).hex()
    with db.begin():
        db.add(
            SessionToken(
                token_hash=hashlib.sha256(token.encode()).hexdigest(),
                sort=sort,
                establishment=establishment,
                device=device,
                member=member,
                expires_at=instant_text(chance.now() + _life(sort)),
            )
        )
    return token


def prove(
    db: DbSession, device_token: str | None, person_token: str | None, now: datetime
) -> Proof | None:
    """Return what the cookies prove, or None without a valid device cookie."""
    device = _live(db, device_token, "device", now)
    if device is None:
        return None
    person = _live(db, person_token, "person", now)
    member = person.member if person is not None and person.device == device.device else None
    ceiling, revoked = device_state(db, device.establishment, device.device)
    sliding = tuple(
        row.sort
        for row in (device, person)
        if row is not None and row.expires_at < instant_text(now + _life(row.sort) * 0.95)
    )
    return Proof(device.establishment, device.device, member, revoked, sliding, ceiling)


def _live(db: DbSession, token: str | None, sort: str, now: datetime) -> SessionToken | None:
    if not token:
        return None
    row = db.get(SessionToken, hashlib.sha256(token.encode()).hexdigest())
    if row is None or row.sort != sort or row.expires_at <= instant_text(now):
        return None
    return row


def _life(sort: str) -> timedelta:
    return timedelta(days=DEVICE_DAYS) if sort == "device" else timedelta(hours=PERSON_HOURS)


def slide(db: DbSession, token: str, sort: str, now: datetime) -> None:
    """Push a cookie's end a whole life forward. Commits."""
    with db.begin():
        row = db.get(SessionToken, hashlib.sha256(token.encode()).hexdigest())
        if row is not None:
            row.expires_at = instant_text(now + _life(sort))


def sign_out(db: DbSession, person_token: str | None) -> None:
    """End a person session; the device and its outbox stay. Commits."""
    if person_token:
        digest = hashlib.sha256(person_token.encode()).hexdigest()
        db.execute(delete(SessionToken).where(SessionToken.token_hash == digest))
        db.commit()
