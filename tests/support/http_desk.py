"""A signed-in device over real HTTP: the other phone or the office that a test needs.

Cookies are kept by hand: the app's cookies are Secure, and the test server speaks plain HTTP.
"""

from __future__ import annotations

import http.client
import itertools
import json
import uuid
from typing import Any

from tepal.services.demo import PASSWORD


class HttpDesk:
    """A person of the demo on a device of their own; entries as JSON texts."""

    def __init__(self, address: str, name: str) -> None:
        self._host = address.removeprefix("http://")
        self._cookies: dict[str, str] = {}
        self._numbers = itertools.count(1)
        self._cursor: str | None = None
        self.name = name
        self.device = str(uuid.uuid4())
        device = {"id": self.device, "label": f"Phone of {name}"}
        body = {"name": name, "password": PASSWORD, "device": device}
        self.member: str = self.call("POST", "/api/v1/sign-in", body)["member"]["id"]
        self.records: dict[str, list[dict[str, Any]]] = {}
        while self.exchange()["more"]:
            pass

    def call(self, method: str, path: str, body: Any = None) -> dict[str, Any]:
        """Return the JSON answer; AssertionError where the server refuses."""
        found: dict[str, Any] = json.loads(self.fetch(method, path, body))
        return found

    def fetch(self, method: str, path: str, body: Any = None, *, timeout_s: float = 60) -> bytes:
        """Return the body of the answer; AssertionError where the server refuses."""
        connection = http.client.HTTPConnection(self._host, timeout=timeout_s)
        cookies = "; ".join(f"{name}={value}" for name, value in self._cookies.items())
        headers = {
            "Content-Type": "application/json",
            "Sec-Fetch-Site": "same-origin",
            "Cookie": cookies,
        }
        sent = None if body is None else json.dumps(body)
        connection.request(method, path, sent, headers)
        answer = connection.getresponse()
        for name, value in answer.getheaders():
            if name.lower() == "set-cookie":
                cookie, _, rest = value.partition("=")
                self._cookies[cookie] = rest.split(";")[0]
        content = answer.read()
        connection.close()
        assert answer.status < 400, f"{path}: {answer.status} {content[:400]!r}"
        return content

    def entry(
        self,
        kind: str,
        action: str,
        changes: dict[str, tuple[Any, Any]],
        *,
        record: str | None = None,
        reason: str | None = None,
    ) -> str:
        """Return the text of an entry; `changes` holds (was, to) pairs."""
        return json.dumps(
            {
                "id": str(uuid.uuid4()), "device": self.device, "number": next(self._numbers),
                "member": self.member, "kind": kind, "record": record or str(uuid.uuid4()),
                "action": action, "reason": reason, "group": None, "form_version": 1,
                "changes": {n: {"was": was, "to": to} for n, (was, to) in changes.items()},
                "made_at": {
                    "local": "2026-05-12T16:20:00", "offset_min": -240, "zone": "America/New_York",
                },
            }
        )  # fmt: skip

    def exchange(self, *texts: str, **more: Any) -> dict[str, Any]:
        """Send entries and take the news; `records` grows by kind."""
        body = {"device": self.device, "cursor": self._cursor, "entries": list(texts), **more}
        reply = self.call("POST", "/api/v1/exchange", body)
        self._cursor = reply["cursor"]
        for record in reply["records"]:
            kept = self.records.setdefault(record["kind"], [])
            kept[:] = [one for one in kept if one["id"] != record["id"]] + [record]
        return reply

    def send(self, kind: str, action: str, changes: dict[str, tuple[Any, Any]], **more: Any) -> str:
        """Send one entry; return its outcome."""
        reply = self.exchange(self.entry(kind, action, changes, **more))
        return str(reply["results"][0]["outcome"])

    def record(self, kind: str, record_id: str) -> dict[str, Any]:
        """Return a record as the server has it now."""
        self.exchange()
        return next(one for one in self.records[kind] if one["id"] == record_id)

    def apply(self, litres: str, *, month: str = "2026-05", purpose: str = "") -> str:
        """Log and sign an application of the demo's mix; return its id."""
        product = self.records["product"][0]
        bench = self.records["bench"][0]
        lot = self.records["lot"][0]
        at = {"offset_min": -240, "zone": "America/New_York"}
        ended = {"local": f"{month}-12T08:05:00", **at}
        fields: dict[str, Any] = {
            "lines": [
                {
                    "bench": bench["id"], "lot": lot["id"], "house": bench["fields"]["house"],
                    "crop": lot["fields"]["crop"], "volume": {"value": litres, "unit": "L"},
                }
            ],
            "products": [
                {
                    "product": product["id"], "name": product["fields"]["name"],
                    "registration_number": product["fields"]["registration_number"],
                    "ingredients": product["fields"]["ingredients"],
                    "amount": {"value": "60.4", "unit": "mL"},
                }
            ],
            "mix_name": "Height, bedding", "method": "spray", "purpose": purpose or "height",
            "volume": {"value": litres, "unit": "L"}, "area": {"value": "39.6", "unit": "m2"},
            "operator": self.member, "operator_name": self.name,
            "started_at": {"local": f"{month}-12T07:32:00", **at}, "ended_at": ended,
            "signature": {
                "member": self.member, "name": self.name, "method": "password", "at": ended,
            },
        }  # fmt: skip
        record = str(uuid.uuid4())
        changes = {name: (None, value) for name, value in fields.items()}
        assert self.send("application", "create", changes, record=record) == "accepted"
        return record


def litres(value: str) -> dict[str, str]:
    """Return a stored volume."""
    return {"value": value, "unit": "L"}
