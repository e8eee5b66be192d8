"""The world of the sync simulation: the real app, and three phones that run the shipped modules.

The server's side is set up once (passwords are slow); each run starts by putting that first state
back. The same two functions make and put back the backups that the simulation restores.
"""

from __future__ import annotations

import copy
import json
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING, Any, Final

from sqlalchemy import delete, exists, insert, literal, select, union_all

from support.book import SAME_ORIGIN, Book
from support.devices import OFFLINE, Devices
from tepal.api.state import allowances
from tepal.forms.kinds import KINDS
from tepal.services.access import issue_token
from tepal.services.restore import mark_restored
from tepal.services.server_acts import Act, Chance, act
from tepal.services.verify import VerifyResult, verify
from tepal.services.wire import wire_record
from tepal.store.database import Base, read_session, write_session
from tepal.store.journal import journal_rows, read_head
from tepal.store.models import DeviceTally
from tepal.store.records import load_every
from tepal.sync.ports import Numbers

if TYPE_CHECKING:
    from pathlib import Path

    from flask.testing import FlaskClient
    from sqlalchemy import CompoundSelect, Table
    from sqlalchemy.orm import Session

    from tepal.sync.ports import Head, JournalRow

Dump = dict[str, list[dict[str, Any]]]

# Signed-in state is no part of a backup that is put back here: phones keep their cookies.
_NOT_IN_BACKUPS: Final = ("session_token", "member_secret", "device_heard")
# The phones' clocks at the start, ms from the server's: slow by 3 h, right, ahead by 2 years.
CLOCKS_MS: Final = (-3 * 3_600_000, 0, 2 * 365 * 86_400_000)
_LOST: Final = {"ok": False, "cause": "busy", "code": "http.500"}


@dataclass(frozen=True, slots=True)
class ServerView:
    """The server as the invariants see it, read from one snapshot."""

    head: Head
    rows: tuple[JournalRow, ...]
    records: dict[str, dict[str, Any]]
    tallies: dict[str, Numbers]
    verified: VerifyResult


@dataclass(frozen=True, slots=True)
class Phone:
    """One phone: its device id, its cookies, and who uses it."""

    name: str
    device: str
    client: FlaskClient
    members: tuple[str, ...]


class World:
    """The app over one database, and three phones."""

    def __init__(self, folder: Path, database_url: str = "") -> None:
        self.book = Book(folder, database_url=database_url)
        self.devices = Devices()
        self.signed_fields = {kind.name: kind.signed_field for kind in KINDS.values()}
        self.operator = self.book.uuid()
        self.grower = self.book.uuid()
        self.phones = self._enrol()
        self._first_state = self.dump()
        self._first_time = self.book.clock.time
        self.dirty = True
        self._view: ServerView | None = None

    @property
    def establishment(self) -> str:
        """The establishment's id."""
        return self.book.establishment

    def _chance(self) -> Chance:
        return Chance(self.book.clock.now, self.book.random.randbytes)

    def _enrol(self) -> tuple[Phone, ...]:
        """Put two members and three devices on record, and give the devices their cookies.

        Phone 0 is the operator's, phone 1 the grower's with a password session, phone 2 is shared
        and nobody has signed in on it with a password.
        """
        manager = self.book.manager.member
        ceilings = ("operator", "grower", "grower")
        ids = [self.book.uuid() for _ in ceilings]
        people = ((self.operator, "Olek Brandt", "operator"), (self.grower, "Gia Moreau", "grower"))
        acts = [
            Act("member", member, "create", manager, {"name": name, "role": role, "active": True})
            for member, name, role in people
        ] + [
            Act("device", device, "create", manager, {"label": f"phone {n}", "ceiling": ceiling})
            for n, (device, ceiling) in enumerate(zip(ids, ceilings, strict=True))
        ]
        with self.book.app.app_context(), write_session() as session:
            server = _server_device(session, self.establishment)
            session.rollback()
            act(session, self.establishment, server, acts, self._chance())
            cookies = [
                {
                    "__Host-device": self._token(session, device, None),
                    **(
                        {"__Host-person": self._token(session, device, self.grower)}
                        if n == 1
                        else {}
                    ),
                }
                for n, device in enumerate(ids)
            ]
        members = ((self.operator,), (self.grower,), (self.operator, self.grower))
        phones = []
        for n, device in enumerate(ids):
            client = self.book.app.test_client()
            for name, value in cookies[n].items():
                client.set_cookie(name, value, domain="localhost", secure=True, httponly=True)
            phones.append(Phone(f"phone {n}", device, client, members[n]))
        return tuple(phones)

    def _token(self, session: Any, device: str, member: str | None) -> str:
        return issue_token(
            session, self._chance(), sort="person" if member else "device",
            establishment=self.establishment, device=device, member=member,
        )  # fmt: skip

    def reset(self) -> None:
        """Put the first state back and give the phones empty stores."""
        self.put_back(self._first_state)
        self.book.clock.time = self._first_time
        # the clock went back, so what the phones may ask for would not come back by itself
        self.book.app.extensions["tepal_allowances"] = allowances()
        self.book.random.seed(7)
        self.devices.do("reset")
        start_ms = int(self._first_time.timestamp() * 1000)
        for n, phone in enumerate(self.phones):
            self.devices.do(
                "new", phone.name, id=phone.device, now_ms=start_ms + CLOCKS_MS[n], seed=1001 + n,
                signed_fields=self.signed_fields,
            )  # fmt: skip

    def post(self, phone: Phone, body: dict[str, Any]) -> dict[str, Any]:
        """Send one exchange to the real app; answer as web/app/net/http.js does."""
        reply = phone.client.post(
            "/api/v1/exchange", json=body, headers=SAME_ORIGIN, base_url="https://localhost"
        )
        if reply.status_code == 200:
            told: dict[str, Any] = reply.json or {}
            # a round that brought nothing and found the head where it was has changed nothing
            if (
                body["entries"]
                or self._view is None
                or told["head"]["hash"] != self._view.head.hash
            ):
                self.dirty = True
            return {"ok": True, "reply": told}
        self.dirty = True
        code: str = (reply.json or {})["code"]
        if reply.status_code >= 500 or reply.status_code in (409, 413, 429):
            return {"ok": False, "cause": "busy", "code": code}
        cause = "signed-out" if reply.status_code == 401 else "refused"
        return {"ok": False, "cause": cause, "code": code}

    def view(self) -> ServerView:
        """Read the server, once for each change."""
        if not self.dirty and self._view is not None:
            return self._view
        with self.book.app.app_context(), read_session() as session:
            head = read_head(session, self.establishment)
            rows = tuple(journal_rows(session, self.establishment))
            records = {
                f"{record.kind}/{record.id}": wire_record(record)
                for record in load_every(session, self.establishment)
            }
            tallies = {
                row[0]: Numbers.stored(row[1], row[2])
                for row in session.execute(
                    select(DeviceTally.device, DeviceTally.ack, DeviceTally.beyond)
                )
            }
            verified = verify(session, self.establishment, None)
        self._view = ServerView(head, rows, records, tallies, verified)
        self.dirty = False
        return self._view

    def dump(self) -> Dump:
        """Return every row of every table that a backup holds and that has any."""
        with self.book.app.app_context(), read_session() as session:
            return {
                table.name: [
                    dict(row._mapping)
                    for row in session.execute(select(table).order_by(*table.primary_key.columns))
                ]
                for table in _filled(session)
            }

    def put_back(self, dump: Dump) -> None:
        """Replace every table that a backup holds by the dump."""
        with self.book.app.app_context(), write_session() as session, session.begin():
            for table in reversed(_filled(session)):
                session.execute(delete(table))
            for table in Base.metadata.sorted_tables:
                if table.name in dump:
                    session.execute(insert(table), copy.deepcopy(dump[table.name]))
        self.dirty = True

    def mark_restored(self, lost: Head) -> None:
        """Say in the journal that a backup was put back."""
        with self.book.app.app_context(), write_session() as session:
            mark_restored(
                session, self.establishment, self._chance(), old_seq=lost.seq, old_hash=lost.hash,
                by=self.book.manager.member, note="backup put back",
            )  # fmt: skip
        self.dirty = True

    def close(self) -> None:
        """End the Node process and the connections."""
        self.devices.close()
        self.book.close()


@cache
def _backed_up() -> dict[str, Table]:
    return {t.name: t for t in Base.metadata.sorted_tables if t.name not in _NOT_IN_BACKUPS}


@cache
def _one_of_each() -> CompoundSelect[tuple[str]]:
    return union_all(
        *(
            select(literal(name)).where(exists(select(1).select_from(table)))
            for name, table in _backed_up().items()
        )
    )


def _filled(session: Session) -> list[Table]:
    """Return the tables of a backup that have a row, in the order of their keys."""
    names = {str(row[0]) for row in session.execute(_one_of_each())}
    return [table for name, table in _backed_up().items() if name in names]


def _server_device(session: Any, establishment: str) -> str:
    from tepal.services.server_acts import server_device

    return server_device(session, establishment)


class Line:
    """The network of one phone for one round: what it loses, repeats and delivers late."""

    def __init__(self, world: World, phone: Phone, fault: str, sent: list[dict[str, Any]],
                 replies: list[dict[str, Any]], pick: int) -> None:  # fmt: skip
        self.world = world
        self.phone = phone
        self.fault = fault
        self.sent = sent
        self.replies = replies
        self.pick = pick

    def __call__(self, device: str, body: dict[str, Any]) -> dict[str, Any]:
        """Carry one request, with the fault."""
        assert device == self.phone.name
        post = self.world.post
        if self.fault == "request_lost":
            return OFFLINE
        if self.fault == "not_our_server":
            return {"ok": True, "reply": {"title": "Log in to the network"}}
        if self.fault == "old_reply" and self.replies:
            return {"ok": True, "reply": self.replies[self.pick % len(self.replies)]}
        if self.fault == "late_first" and self.sent:
            post(self.phone, self.sent[self.pick % len(self.sent)])
        self.sent.append(json.loads(json.dumps(body)))
        answer = post(self.phone, body)
        if self.fault == "twice":
            answer = post(self.phone, body)
        if answer["ok"]:
            self.replies.append(answer["reply"])
        if self.fault == "reply_lost":
            return _LOST
        return answer
