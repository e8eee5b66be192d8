"""Addresses under which a calendar program reads the spray orders: hashed, named, revocable.

Who has the address may read the plan (titles, places, days; no people, no amounts) until it is
revoked. Commits where a token is made or revoked.
"""

from __future__ import annotations

import base64
import hashlib
import re
from typing import TYPE_CHECKING, Any, Final

from sqlalchemy import select

from tepal.domain.errors import NotFoundError
from tepal.services.access import AccessError
from tepal.services.calendar_text import PlannedOrder, calendar_text
from tepal.services.exchange import device_state, member_roles
from tepal.store import records as record_rows
from tepal.store.models import FeedToken

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from sqlalchemy.orm import Session as DbSession

    from tepal.services.access import Proof
    from tepal.services.server_acts import Chance
    from tepal.sync.merge import RecordState

_ROLES: Final = ("grower", "manager")
_TOKEN_BYTES: Final = 24
_ID_CHARS: Final = 16  # of the hash: names a token without giving it away
_TIME: Final = re.compile(r"(?:[01][0-9]|2[0-3]):[0-5][0-9]")


def _hash(token: str) -> str:
    return hashlib.sha256(token.encode()).hexdigest()


def require_planner(db: DbSession, who: Proof) -> None:
    """Raise `access.not_permitted` unless a grower or manager has a password session here."""
    role = member_roles(db, who.establishment).get(who.member or "")
    ceiling, revoked = device_state(db, who.establishment, who.device)
    if role not in _ROLES or ceiling not in _ROLES or revoked:
        raise AccessError("access.not_permitted", "this needs a grower's own password session")


def make_feed(db: DbSession, who: Proof, label: str, chance: Chance) -> dict[str, str]:
    """Return {"id", "token"} of a new address; the token is shown this once. Commits."""
    token = base64.urlsafe_b64encode(chance.random_bytes(_TOKEN_BYTES)).decode()
    with db.begin():
        require_planner(db, who)
        db.add(
            FeedToken(
                token_hash=_hash(token), establishment=who.establishment, label=label[:80],
                made_by=who.member or "", made_at=chance.instant(), revoked_at=None,
            )
        )  # fmt: skip
    return {"id": _hash(token)[:_ID_CHARS], "token": token}


def feeds(db: DbSession, who: Proof) -> list[dict[str, Any]]:
    """Return the addresses that were made, newest first, without their tokens."""
    query = (
        select(FeedToken)
        .where(FeedToken.establishment == who.establishment)
        .order_by(FeedToken.made_at.desc())
    )
    return [
        {
            "id": row.token_hash[:_ID_CHARS], "label": row.label, "made_at": row.made_at,
            "revoked_at": row.revoked_at,
        }
        for row in db.execute(query).scalars()
    ]  # fmt: skip


def revoke_feed(db: DbSession, who: Proof, feed: str, now: str) -> None:
    """Revoke an address; it answers no more from then on. Commits.

    Raises
    ------
    NotFoundError   `feeds.no_such_feed`.
    """
    with db.begin():
        require_planner(db, who)
        query = select(FeedToken).where(
            FeedToken.establishment == who.establishment,
            FeedToken.token_hash.startswith(feed, autoescape=True),
        )
        row = db.execute(query).scalars().first() if len(feed) == _ID_CHARS else None
        if row is None:
            raise NotFoundError("feeds.no_such_feed", "there is no such calendar address")
        row.revoked_at = row.revoked_at or now


def feed_of(db: DbSession, token: str, chance: Chance) -> str:
    """Return the calendar of a token.

    Raises
    ------
    NotFoundError   `feeds.no_such_feed`: unknown or revoked; the two are not told apart.
    """
    row = db.get(FeedToken, _hash(token))
    if row is None or row.revoked_at is not None:
        raise NotFoundError("feeds.no_such_feed", "there is no such calendar address")
    return orders_calendar(db, row.establishment, chance)


def orders_calendar(db: DbSession, establishment: str, chance: Chance) -> str:
    """Return the establishment's spray orders that have a day, as an iCalendar stream."""
    own = record_rows.load(db, establishment, [("establishment", establishment)])
    fields = next(iter(own.values())).fields if own else {}
    named = {
        kind: {row.id: row.fields for row in record_rows.load_all(db, establishment, kind)}
        for kind in ("lot", "bench", "house", "tank_mix")
    }
    ended = _ended(db, establishment)
    orders = [
        planned
        for row in record_rows.load_all(db, establishment, "spray_order")
        if row.state != "void" and (planned := _planned(row, named, ended)) is not None
    ]
    zone = str(fields.get("zone") or "Etc/UTC")
    return calendar_text(str(fields.get("name") or "Tepal"), orders, zone, chance.now())


def _ended(db: DbSession, establishment: str) -> set[str]:
    """Return the orders that are over: applied, or said to be done or skipped."""
    applied = {
        str(row.fields["order"])
        for row in record_rows.load_all(db, establishment, "application")
        if row.state != "void" and row.fields.get("order") and row.fields.get("ended_at")
    }
    said = {
        str(row.fields.get("order"))
        for row in record_rows.load_all(db, establishment, "order_outcome")
        if row.state != "void" and row.fields.get("result") in ("done", "skipped")
    }
    return applied | said


def _planned(
    row: RecordState, named: Mapping[str, Mapping[str, Mapping[str, Any]]], ended: set[str]
) -> PlannedOrder | None:
    fields = row.fields
    first = fields.get("window_from") or fields.get("window_to")
    last = fields.get("window_to") or fields.get("window_from")
    if not first or not last or last < first:
        return None
    mix = named["tank_mix"].get(str(fields.get("tank_mix")), {}).get("name")
    times = [_time(fields.get(name)) for name in ("from_time", "to_time")]
    status = "planned"
    if row.id in ended:
        status = "done"
    if fields.get("cancelled") is True:
        status = "cancelled"
    lines = fields.get("lines") or []
    left = [line for line in lines if line.get("untreated")]
    details = [
        str(mix) if mix and fields.get("title") else "",
        " - ".join(time for time in times if time),
        f"Untreated: {_places(left, named)}" if left else "",
        str(fields.get("note") or ""),
    ]
    return PlannedOrder(
        id=row.id,
        revision=row.revision,
        title=str(fields.get("title") or mix or "Spray order"),
        places=_places([line for line in lines if not line.get("untreated")], named),
        details="\n".join(one for one in details if one),
        first=str(first),
        last=str(last),
        from_time=times[0],
        to_time=times[1],
        status=status,
    )


def _time(text: Any) -> str | None:
    return text if isinstance(text, str) and _TIME.fullmatch(text) else None


def _places(
    lines: Sequence[Mapping[str, Any]], named: Mapping[str, Mapping[str, Mapping[str, Any]]]
) -> str:
    found = []
    for line in lines:
        bench = named["bench"].get(str(line.get("bench")), {})
        house = named["house"].get(str(bench.get("house")), {})
        lot = named["lot"].get(str(line.get("lot")), {})
        parts = (house.get("name"), bench.get("name"), lot.get("code"))
        found.append(", ".join(str(part) for part in parts if part))
    return "; ".join(dict.fromkeys(one for one in found if one))
