"""Shift end: phones come back into signal within 10 s, each with 50 entries and 3 photos.

    PYTHONPATH=server:tests python tests/bench/bench_shift_end.py [30 120]

A real server process over HTTP. A phone's time runs from its start to the last piece of its last
photo. Prints p50, p95 and max; the bars: p95 at 120 phones at most 4.5 times p95 at 30, and a client
that sends its body over 10 s does not hold the others up (p95 with it at most 1.5 times without).
"""

from __future__ import annotations

import hashlib
import http.client
import io
import json
import random
import statistics
import sys
import threading
import time
import uuid
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from PIL import Image

from support.live_server import LiveServer
from tepal.app import create_command_app
from tepal.config import Config
from tepal.photos.intake import PIECE_BYTES
from tepal.services import access
from tepal.store import records
from tepal.store.database import read_session, write_session

N_ENTRIES, N_PHOTOS, WINDOW_S = 50, 3, 10.0


def photo(seed: int) -> bytes:
    """Return a JPEG of about 90 kB: two pieces."""
    raw = random.Random(seed).randbytes(320 * 320 * 3)
    out = io.BytesIO()
    Image.frombytes("RGB", (320, 320), raw).save(out, "JPEG", quality=90)
    return out.getvalue()


class Phone:
    """A device that was let in, with entries and photos that nobody has yet."""

    def __init__(self, host: str, device: str, token: str, member: str, seed: int) -> None:
        self.host, self.device, self.token, self.member = host, device, token, member
        self.photos = [photo(seed * N_PHOTOS + n) for n in range(N_PHOTOS)]
        self.body = json.dumps(
            {"device": device, "cursor": None, "entries": [self._entry(n) for n in range(1, 54)]}
        )
        self.took_s = 0.0

    def _entry(self, number: int) -> str:
        at = {"local": "2026-05-12T15:40:00", "offset_min": -240, "zone": "America/New_York"}
        kind = "application" if number <= N_ENTRIES else "photo"
        fields: dict[str, Any] = {"started_at": at, "method": "spray", "mix_name": "Height"}
        if kind == "photo":
            content = self.photos[number - N_ENTRIES - 1]
            fields = {
                "of_kind": "application", "of_id": str(uuid.uuid4()), "size": len(content),
                "sha256": hashlib.sha256(content).hexdigest(), "media_type": "image/jpeg",
            }  # fmt: skip
        return json.dumps(
            {
                "id": str(uuid.uuid4()), "device": self.device, "number": number,
                "member": self.member, "kind": kind, "record": str(uuid.uuid4()),
                "action": "create", "reason": None, "group": None, "form_version": 1,
                "changes": {k: {"was": None, "to": v} for k, v in fields.items()}, "made_at": at,
            }
        )  # fmt: skip

    def _headers(self, media_type: str) -> dict[str, str]:
        return {
            "Content-Type": media_type, "Sec-Fetch-Site": "same-origin",
            "Cookie": f"__Host-device={self.token}",
        }  # fmt: skip

    def come_back(self, after_s: float) -> None:
        """Wait, then send everything over one connection; keep how long it took."""
        time.sleep(after_s)
        start = time.monotonic()
        line = http.client.HTTPConnection(self.host, timeout=300)
        self._call(line, "POST", "/api/v1/exchange", self.body.encode(), "application/json")
        for content in self.photos:
            digest = hashlib.sha256(content).hexdigest()
            for n, at in enumerate(range(0, len(content), PIECE_BYTES)):
                self._call(
                    line, "PUT", f"/api/v1/photos/{digest}/{n}", content[at : at + PIECE_BYTES],
                    "application/octet-stream",
                )  # fmt: skip
        line.close()
        self.took_s = time.monotonic() - start

    def _call(
        self, line: http.client.HTTPConnection, method: str, path: str, body: bytes, media: str
    ) -> None:
        line.request(method, path, body, self._headers(media))
        reply = line.getresponse()
        text = reply.read()
        assert reply.status < 300, (reply.status, text[:300])

    def drip(self, seconds: float) -> None:
        """Send the exchange's body in small parts over so many seconds."""
        line = http.client.HTTPConnection(self.host, timeout=300)
        raw = self.body.encode()
        line.putrequest("POST", "/api/v1/exchange")
        for name, value in self._headers("application/json").items():
            line.putheader(name, value)
        line.putheader("Content-Length", str(len(raw)))
        line.endheaders()
        step = len(raw) // 50 + 1
        for at in range(0, len(raw), step):
            line.send(raw[at : at + step])
            time.sleep(seconds / 50)
        line.getresponse().read()
        line.close()


def let_in(folder: Path, host: str, n: int) -> list[Phone]:
    """Admit `n` devices behind the server's back and return them as phones."""
    config = Config(f"sqlite:///{folder / 'tepal.db'}", str(folder / "photos"))
    app = create_command_app(config)
    chance = app.extensions["tepal_chance"]
    phones = []
    with app.app_context():
        with read_session() as db:
            establishment = access.only_establishment(db)
            people = records.load_all(db, establishment, "member")
        member = next(one.id for one in people if one.fields["role"] == "operator")
        for number in range(n):
            device = str(uuid.uuid4())
            with write_session() as db:
                access.admit_device(
                    db, establishment, device, label=f"Phone {number}", ceiling="operator",
                    member=member, chance=chance, is_in_hand=False,
                )  # fmt: skip
                token = access.issue_token(
                    db, chance, sort="device", establishment=establishment, device=device,
                    member=None,
                )  # fmt: skip
            phones.append(Phone(host, device, token, member, number))
    return phones


def run(n: int, *, slow: bool = False) -> float:
    """Play one shift end on a fresh server, print it, return p95 in seconds."""
    with TemporaryDirectory(prefix="tepal-shift-") as name:
        folder = Path(name)
        server = LiveServer(folder)
        server.start()
        try:
            phones = let_in(folder, server.address.removeprefix("http://"), n + slow)
            rng = random.Random(n)
            work = [
                threading.Thread(target=phone.come_back, args=(rng.uniform(0, WINDOW_S),))
                for phone in phones[:n]
            ]
            work += [threading.Thread(target=phones[n].drip, args=(10.0,))] if slow else []
            for one in work:
                one.start()
            for one in work:
                one.join()
        finally:
            server.stop()
    times = sorted(phone.took_s for phone in phones[:n])
    p95 = statistics.quantiles(times, n=20)[-1]
    print(
        f"{n} phones{' and a slow one' if slow else ''}: p50 {statistics.median(times):.2f} s, "
        f"p95 {p95:.2f} s, max {times[-1]:.2f} s", flush=True,
    )  # fmt: skip
    return p95


if __name__ == "__main__":
    few, many = [int(size) for size in sys.argv[1:]] or [30, 120]
    first = run(few)
    print(f"with a slow client {run(few, slow=True) / first:.2f} times (at most 1.5)", flush=True)
    print(f"{many} against {few} phones: {run(many) / first:.2f} times p95 (at most 4.5)")
