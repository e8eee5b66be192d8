"""The real server as a process, with the demo nursery: started, stopped, killed, moved.

On a free port of this machine, with a database and photos in a folder that goes away afterwards.
What it says on stderr is in the error when it does not start. `tepal demo` runs once a process (the
passwords' hashes take seconds); each server starts from a copy of the folder it made.
"""

from __future__ import annotations

import atexit
import hashlib
import json
import os
import shutil
import signal
import socket
import sqlite3
import subprocess
import sys
import time
import urllib.error
import urllib.request
from contextlib import closing, contextmanager, suppress
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Iterator

SERVER = Path(__file__).resolve().parents[2] / "server"
# Ports that this process's servers have let go of. The next server gets one of them: a browser profile
# keeps the app's files by their address, and a file costs Chromium ten times as much anew.
_PORTS: list[int] = []
_START_S = 60.0  # a cold start under load; a warm one takes two seconds


@cache
def _prepared_demo() -> Path:
    """Return the folder that `tepal demo` has made; it goes away with this process."""
    made = TemporaryDirectory(prefix="tepal-prepared-")
    atexit.register(made.cleanup)
    folder = Path(made.name)
    done = subprocess.run(
        [sys.executable, "-m", "tepal.cli", "demo", "--small"],
        env=_environment(folder),
        check=False,
        capture_output=True,
        text=True,
    )
    if done.returncode != 0:
        raise RuntimeError(f"the demo was not made:\n{done.stderr[-4000:]}")
    return folder


def _environment(folder: Path) -> dict[str, str]:
    return {**os.environ, "PYTHONPATH": str(SERVER), "TEPAL_INSTANCE": str(folder)}


class LiveServer:
    """A server with the demo in `instance`; same port and data at every start."""

    def __init__(self, folder: Path, environment: dict[str, str] | None = None) -> None:
        self.instance = folder
        self.is_shared = False  # whether several tests work on it, each on records of its own
        self._environment = {**_environment(folder), **(environment or {})}
        self._log = folder / "server.log"
        self._port = _PORTS.pop() if _PORTS else free_port()
        self._process: subprocess.Popen[bytes] | None = None
        self.address = f"http://127.0.0.1:{self._port}"
        shutil.copytree(_prepared_demo(), folder, dirs_exist_ok=True)

    @property
    def port(self) -> int:
        """Where it listens now."""
        return self._port

    @property
    def is_running(self) -> bool:
        """Whether a process was started and not stopped."""
        return self._process is not None

    def start(self) -> None:
        """Start the server and wait until it answers."""
        with self._log.open("ab") as log:
            self._process = subprocess.Popen(
                [sys.executable, "-m", "tepal.cli", "serve", "--bind", f"127.0.0.1:{self._port}"],
                env=self._environment,
                stdout=log,
                stderr=log,
            )
        until = time.monotonic() + _START_S
        while not self._answers():
            if self._process.poll() is not None or time.monotonic() > until:
                raise RuntimeError(f"the server did not start:\n{self._log.read_text()[-4000:]}")
            time.sleep(0.1)

    def _answers(self) -> bool:
        try:
            with urllib.request.urlopen(f"{self.address}/healthz", timeout=2) as answer:
                return bool(answer.status == 200)
        except (urllib.error.URLError, OSError):
            return False

    def stop(self) -> None:
        """Stop the server; its data stay until the context ends."""
        if self._process is not None:
            self._process.terminate()
            self._process.wait(timeout=30)
            self._process = None

    def kill(self) -> None:
        """End the server with SIGKILL: no farewell, no flush."""
        if self._process is None:
            return
        # gunicorn's worker is a child of the master and outlives it for a moment
        children = _children(self._process.pid)
        self._process.kill()
        self._process.wait(timeout=30)
        for pid in children:
            _kill(pid)
        self._process = None

    def move(self) -> None:
        """Listen on another port from the next start on: its old one is for a proxy."""
        self._port = free_port()
        self.address = f"http://127.0.0.1:{self._port}"

    def serve_web_from(self, root: Path) -> None:
        """Serve another web folder from the next start on."""
        self._environment["TEPAL_WEB_ROOT"] = str(root)

    def command(self, *arguments: str) -> subprocess.CompletedProcess[str]:
        """Run `tepal ARGUMENTS` on the same data."""
        return subprocess.run(
            [sys.executable, "-m", "tepal.cli", *arguments],
            env=self._environment,
            capture_output=True,
            text=True,
            check=False,
            timeout=120,
        )

    def rows(self, query: str, *values: Any) -> list[tuple[Any, ...]]:
        """Read the database behind the server's back."""
        path = self.instance / "tepal.db"
        with closing(sqlite3.connect(f"file:{path}?mode=ro", uri=True, timeout=10)) as db:
            return db.execute(query, values).fetchall()

    def entries(self, kind: str, device: str | None = None) -> list[dict[str, Any]]:
        """Return what the journal holds of a kind, oldest first, texts read."""
        found = self.rows(
            "SELECT seq, device, number, member, action, outcome, record, text FROM journal"
            " WHERE kind = ? AND (? IS NULL OR device = ?) ORDER BY seq",
            kind, device, device,
        )  # fmt: skip
        names = ("seq", "device", "number", "member", "action", "outcome", "record")
        return [
            {**dict(zip(names, row, strict=False)), "entry": json.loads(row[-1])} for row in found
        ]

    def numbers(self, device: str) -> list[int]:
        """Return the numbers of a device in the journal, in order of arrival."""
        return [n for (n,) in self.rows(
            "SELECT number FROM journal WHERE device = ? ORDER BY seq", device
        )]  # fmt: skip

    def photo_files(self) -> dict[str, str]:
        """Return the stored photos: name without suffix -> SHA-256 of the bytes on the disk."""
        return {
            path.stem: hashlib.sha256(path.read_bytes()).hexdigest()
            for path in (self.instance / "photos").rglob("*.jpg")
        }


def _children(pid: int) -> list[int]:
    try:
        text = Path(f"/proc/{pid}/task/{pid}/children").read_text()
    except FileNotFoundError:
        return []
    found = [int(word) for word in text.split()]
    return found + [deeper for child in found for deeper in _children(child)]


def _kill(pid: int) -> None:
    with suppress(ProcessLookupError):  # it went with the master
        os.kill(pid, signal.SIGKILL)


def free_port() -> int:
    """Return a port of this machine that nothing listens on."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@contextmanager
def live_server(environment: dict[str, str] | None = None) -> Iterator[LiveServer]:
    """Run a server with the demo as long as the context lasts."""
    with TemporaryDirectory(prefix="tepal-live-") as folder:
        server = LiveServer(Path(folder), environment)
        server.start()
        try:
            yield server
        finally:
            server.stop()
            _PORTS.append(server.port)
