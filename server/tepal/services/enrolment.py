"""Letting a device in by a code, and the PINs of people who share one.

A PIN is an author's mark and a screen lock, not a proof: whoever holds the phone can try all PINs
of four digits in minutes. So it never gives a password session. Commits.
"""

from __future__ import annotations

import hashlib
import re
from datetime import timedelta
from typing import TYPE_CHECKING, Any, Final

from sqlalchemy import delete, select

from tepal.forms.kinds import ROLES
from tepal.services.access import AccessError, admit_device
from tepal.services.members import require_member
from tepal.services.server_acts import instant_text
from tepal.store.kind_models import MemberRecord
from tepal.store.models import EnrolmentCode, MemberSecret

if TYPE_CHECKING:
    from sqlalchemy.orm import Session as DbSession

    from tepal.services.server_acts import Chance

CODE_MINUTES: Final = 10
# Signs without 0/O and 1/I/L: read out loud or from a screen without a mistake.
_SIGNS: Final = "23456789ABCDEFGHJKMNPQRSTUVWXYZ"
_CODE_LENGTH: Final = 8  # 31^8 = 8.5e11 codes, ten minutes, tries limited
# Rounds of PBKDF2-HMAC-SHA-256 as the OWASP password storage cheat sheet gives them (from memory)
PIN_ROUNDS: Final = 600_000
_PIN: Final = re.compile(r"[0-9]{4,8}")


def make_code(
    db: DbSession, establishment: str, *, ceiling: str, label: str, made_by: str, chance: Chance
) -> dict[str, str]:
    """Return {"code", "expires_at"} of a new code for one device. Commits.

    Raises
    ------
    AccessError   `access.unknown_ceiling`.
    """
    if ceiling not in ROLES:
        raise AccessError("access.unknown_ceiling", f"{ceiling!r} is no role", ceiling=ceiling)
    raw = chance.random_bytes(4 * _CODE_LENGTH)
    code = "".join(
        _SIGNS[int.from_bytes(raw[4 * i : 4 * i + 4], "big") % len(_SIGNS)]
        for i in range(_CODE_LENGTH)
    )
    now = chance.now()
    expires_at = instant_text(now + timedelta(minutes=CODE_MINUTES))
    with db.begin():
        db.execute(delete(EnrolmentCode).where(EnrolmentCode.expires_at <= instant_text(now)))
        db.add(
            EnrolmentCode(
                code_hash=_hash(code), establishment=establishment, ceiling=ceiling,
                label=label[:80], made_by=made_by, expires_at=expires_at,
            )
        )  # fmt: skip
    return {"code": f"{code[:4]}-{code[4:]}", "expires_at": expires_at}


def _hash(code: str) -> str:
    plain = re.sub(r"[^0-9A-Z]", "", code.upper())
    return hashlib.sha256(plain.encode()).hexdigest()


def enrol(
    db: DbSession, code: str, device: str, chance: Chance, *, is_in_hand: bool = False
) -> str:
    """Let a device in by a code, which is used up; return the establishment. Commits.

    `is_in_hand`: see `access.admit_device`.

    Raises
    ------
    AccessError   `access.wrong_code`: unknown, used or older than ten minutes; what
                  `access.admit_device` raises.
    """
    # before the device is admitted: a code that failed is used up too. One statement: of two who
    # come at once the second finds nothing, on each database
    used_up = (
        delete(EnrolmentCode)
        .where(
            EnrolmentCode.code_hash == _hash(code),
            EnrolmentCode.expires_at > instant_text(chance.now()),
        )
        .returning(EnrolmentCode)
    )
    with db.begin():
        found = db.execute(used_up).scalar_one_or_none()
        if found is None:
            raise AccessError("access.wrong_code", "this code is unknown, used or too old")
    admit_device(
        db, found.establishment, device, label=found.label, ceiling=found.ceiling,
        member=found.made_by, chance=chance, is_in_hand=is_in_hand,
    )  # fmt: skip
    return found.establishment


def set_pin(db: DbSession, establishment: str, member: str, pin: str, chance: Chance) -> None:
    """Set a member's PIN: 4 to 8 digits. Commits.

    Raises
    ------
    AccessError     `access.pin_digits`, `access.pin_too_easy` (all digits the same, or a run).
    NotFoundError   `members.no_such_member`.
    """
    if not _PIN.fullmatch(pin):
        raise AccessError("access.pin_digits", "a PIN has 4 to 8 digits", least=4, most=8)
    if len(set(pin)) == 1 or pin in "01234567890" or pin in "09876543210":
        raise AccessError("access.pin_too_easy", "this PIN is the first that anybody tries")
    salt = chance.random_bytes(16)
    hashed = hashlib.pbkdf2_hmac("sha256", pin.encode(), salt, PIN_ROUNDS).hex()
    with db.begin():
        require_member(db, establishment, member)
        secret = db.get(MemberSecret, (establishment, member))
        if secret is None:
            secret = MemberSecret(establishment=establishment, member=member)
            db.add(secret)
        secret.pin_salt = salt.hex()
        secret.pin_hash = hashed


def pin_verifiers(db: DbSession, establishment: str) -> list[dict[str, Any]]:
    """Return {"member", "salt", "hash", "rounds"} of active members with a PIN, for a device."""
    query = (
        select(MemberSecret.member, MemberSecret.pin_salt, MemberSecret.pin_hash)
        .join(
            MemberRecord,
            (MemberRecord.establishment == MemberSecret.establishment)
            & (MemberRecord.id == MemberSecret.member),
        )
        .where(
            MemberSecret.establishment == establishment,
            MemberSecret.pin_hash.is_not(None),
            MemberRecord.active.is_(True),
            MemberRecord.state != "void",
        )
        .order_by(MemberSecret.member)
    )
    return [
        {"member": row[0], "salt": row[1], "hash": row[2], "rounds": PIN_ROUNDS}
        for row in db.execute(query)
    ]
