"""The office as a program: signs in like a browser and exchanges entries, without a browser."""

from __future__ import annotations

import json
import os
import urllib.request
from datetime import UTC, datetime
from http.cookiejar import CookieJar, DefaultCookiePolicy
from typing import Any

from tepal.services.demo import PASSWORD
from tepal.services.server_acts import instant_text
from tepal.sync.ids import uuid7


class OfficeClient:
    """One device with one person, signed in with the password."""

    def __init__(self, address: str, name: str, password: str = PASSWORD) -> None:
        self._address = address
        # loopback is no HTTPS: browsers keep Secure cookies there, Python's jar has to be told
        policy = DefaultCookiePolicy(secure_protocols=("http", "https"))
        self._open = urllib.request.build_opener(
            urllib.request.HTTPCookieProcessor(CookieJar(policy))
        ).open
        self._number = 0
        self.device = self.new_id()
        found = self.post(
            "/sign-in",
            {"name": name, "password": password, "device": {"id": self.device, "label": "office"}},
        )
        self.member = found["member"]["id"]

    @staticmethod
    def new_id() -> str:
        """Return a fresh id for a record, an entry or a device."""
        return uuid7(int(datetime.now(UTC).timestamp() * 1000), os.urandom(10))

    def get(self, path: str, timeout_s: float = 60) -> bytes:
        """Return the body of a GET below /api/v1."""
        with self._open(f"{self._address}/api/v1{path}", timeout=timeout_s) as answer:
            return bytes(answer.read())

    def post(self, path: str, body: dict[str, Any]) -> Any:
        """Post JSON below /api/v1 and return the JSON answered."""
        request = urllib.request.Request(
            f"{self._address}/api/v1{path}",
            json.dumps(body).encode(),
            {"Content-Type": "application/json", "Origin": self._address},
        )
        with self._open(request, timeout=60) as answer:
            return json.loads(answer.read())

    def records(self) -> list[dict[str, Any]]:
        """Pull everything the office's devices hold."""
        found: list[dict[str, Any]] = []
        cursor, more = None, True
        while more:
            reply = self.post("/exchange", {"device": self.device, "cursor": cursor})
            found += reply["records"]
            cursor, more = reply["cursor"], reply["more"]
        return found

    def send(
        self,
        kind: str,
        record: str,
        action: str,
        changes: dict[str, dict[str, Any]],
        reason: str | None = None,
    ) -> dict[str, Any]:
        """Make one entry, send it, and return what became of it."""
        text = self.entry(kind, record, action, changes, reason)
        reply = self.post("/exchange", {"device": self.device, "cursor": None, "entries": [text]})
        result: dict[str, Any] = reply["results"][0]
        return result

    def entry(
        self,
        kind: str,
        record: str,
        action: str,
        changes: dict[str, dict[str, Any]],
        reason: str | None = None,
    ) -> str:
        """Return the text of one entry, with the next number; it is not sent."""
        self._number += 1
        now = datetime.now(UTC)
        return json.dumps(
            {
                "id": self.new_id(), "device": self.device, "number": self._number,
                "member": self.member, "kind": kind, "record": record, "action": action,
                "changes": changes, "reason": reason, "group": None, "form_version": 1,
                "made_at": {
                    "local": f"{now:%Y-%m-%dT%H:%M:%S}", "offset_min": 0, "zone": "Etc/UTC",
                    "device_utc": instant_text(now), "server_offset_ms": 0,
                },
            }
        )  # fmt: skip
