"""A real app over a fresh database, with a clock that a test moves and seeded randomness."""

from __future__ import annotations

import itertools
import json
import random
import sqlite3
from contextlib import closing
from copy import deepcopy
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING, Any

from support.web_folder import make_web_folder
from tepal.app import create_app
from tepal.config import Config
from tepal.services.server_acts import Chance
from tepal.store.database import db

if TYPE_CHECKING:
    from pathlib import Path

    from flask import Flask
    from flask.testing import FlaskClient

PASSWORD = "correct horse staple"
SAME_ORIGIN = {"Sec-Fetch-Site": "same-origin"}


class Clock:
    """A clock that stands until it is moved."""

    def __init__(self, now: datetime = datetime(2026, 5, 12, 14, 0, tzinfo=UTC)) -> None:
        self.time = now

    def now(self) -> datetime:
        """Return the time it shows, a millisecond later at each look."""
        self.time += timedelta(milliseconds=1)
        return self.time


@dataclass(frozen=True, slots=True)
class _Start:
    """A book just set up, kept so that the next one of the same seed starts from its bytes."""

    content: bytes
    random_state: Any
    time: datetime
    manager: dict[str, str]
    cookies: Any


_STARTS: dict[int, _Start] = {}


class Book:
    """An app, set up with one manager, and clients that are signed in on it."""

    def __init__(
        self,
        folder: Path,
        *,
        database_url: str = "",
        seed: int = 1,
        web_root: Path | None = None,
        n_proxies: int = 0,
    ) -> None:
        self.random = random.Random(seed)
        self.clock = Clock()
        self.config = Config(
            database_url=database_url or f"sqlite:///{folder / 'book.db'}",
            photos_url=str(folder / "photos"),
            web_root=web_root or make_web_folder(folder / "web"),
            set_up_token="token-of-the-console",
            n_proxies=n_proxies,
        )
        path = None if database_url else folder / "book.db"
        start = _STARTS.get(seed) if path else None
        if path and start:
            path.write_bytes(start.content)
        self.app: Flask = create_app(self.config, Chance(self.clock.now, self.random.randbytes))
        self.manager = Desk(self, "Ines Prado", set_up=True, start=start)
        self.establishment = self.manager.establishment
        if start:
            self.random.setstate(start.random_state)
            self.clock.time = start.time
        elif path:
            _STARTS[seed] = self._started(path)

    def _started(self, path: Path) -> _Start:
        with closing(sqlite3.connect(path)) as connection:
            content = connection.serialize()
        desk = self.manager
        manager = {
            "device": desk.device, "member": desk.member, "establishment": desk.establishment
        }  # fmt: skip
        cookies = deepcopy(desk.client._cookies)
        return _Start(content, self.random.getstate(), self.clock.time, manager, cookies)

    def close(self) -> None:
        """Close the database connections."""
        with self.app.app_context():
            for engine in db.engines.values():
                engine.dispose()

    def uuid(self) -> str:
        """Return a fresh id."""
        raw = self.random.randbytes(16).hex()
        return f"{raw[:8]}-{raw[8:12]}-7{raw[13:16]}-8{raw[17:20]}-{raw[20:]}"


class Desk:
    """A signed-in browser, as raw HTTP: what an attacker or an old client could send too."""

    def __init__(
        self, book: Book, name: str, *, set_up: bool = False, start: _Start | None = None
    ) -> None:
        self.book = book
        self.client: FlaskClient = book.app.test_client()
        self.numbers = itertools.count(1)
        self.cursor: str | None = None
        self.member: str
        self.establishment: str
        if start:
            self.client._cookies = deepcopy(start.cookies)
            self.device, self.member, self.establishment = (
                start.manager[name] for name in ("device", "member", "establishment")
            )
            return
        self.device = book.uuid()
        body: dict[str, Any] = {
            "name": name,
            "password": PASSWORD,
            "device": {"id": self.device, "label": f"browser of {name}"},
        }
        if set_up:
            body |= {
                "token": book.config.set_up_token,
                "establishment": "Quillhaven Nursery",
                "zone": "America/New_York",
                "country": "US",
            }
        reply = self.post("/api/v1/set-up" if set_up else "/api/v1/sign-in", body)
        assert reply.status_code == 200, reply.text
        self.member = reply.json["member"]["id"]
        self.establishment = reply.json["establishment"]["id"]

    def post(self, path: str, body: Any) -> Any:
        """POST JSON from the same origin."""
        return self.client.post(path, json=body, headers=SAME_ORIGIN, base_url="https://localhost")

    def get(self, path: str) -> Any:
        """GET with the cookies."""
        return self.client.get(path, base_url="https://localhost")

    def put(self, path: str, content: bytes) -> Any:
        """PUT bytes from the same origin."""
        return self.client.put(
            path,
            data=content,
            headers={**SAME_ORIGIN, "Content-Type": "application/octet-stream"},
            base_url="https://localhost",
        )

    def entry(self, kind: str, action: str, **more: Any) -> str:
        """Return the text of an entry of this desk; `more` overrides any member."""
        changes = {
            name: value if isinstance(value, dict) and set(value) == {"was", "to"} else
            {"was": None, "to": value}
            for name, value in more.pop("fields", {}).items()
        }  # fmt: skip
        entry = {
            "id": self.book.uuid(),
            "device": self.device,
            "number": more.pop("number", None) or next(self.numbers),
            "member": self.member,
            "kind": kind,
            "record": self.book.uuid(),
            "action": action,
            "changes": changes,
            "reason": None,
            "made_at": {"local": "2026-05-12T10:00:00", "offset_min": -240, "zone": "Etc/UTC"},
            "form_version": 1,
            "group": None,
        }
        return json.dumps({**entry, **more})

    def exchange(self, *texts: str, **more: Any) -> dict[str, Any]:
        """Exchange; keep the cursor; return the reply."""
        body = {"device": self.device, "cursor": self.cursor, "entries": list(texts), **more}
        reply = self.post("/api/v1/exchange", body)
        assert reply.status_code == 200, reply.text
        self.cursor = reply.json["cursor"]
        found: dict[str, Any] = reply.json
        return found

    def add_member(self, name: str, role: str) -> str:
        """Create a member with the usual password; return its id."""
        from tepal.services.access import set_password
        from tepal.store.database import write_session

        member = self.book.uuid()
        text = self.entry(
            "member", "create", record=member, fields={"name": name, "role": role, "active": True}
        )
        assert self.exchange(text)["results"][0]["outcome"] == "accepted"
        with self.book.app.app_context(), write_session() as db:
            chance = Chance(self.book.clock.now, self.book.random.randbytes)
            set_password(db, self.establishment, member, PASSWORD, chance)
        return member
