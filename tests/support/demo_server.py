"""The real server with the demo nursery, for pictures and browser tests.

A process of its own on a free port of this machine, with a database and photos in a folder that
goes away afterwards. What it says on stderr is in the error when it does not start.
"""

from __future__ import annotations

import os
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from contextlib import contextmanager
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator

SERVER = Path(__file__).resolve().parents[2] / "server"
_START_S = 60.0  # a cold start under load; a warm one takes two seconds


class DemoServer:
    """A running server: `address`, and `stop` / `start` to play a lost connection."""

    def __init__(self, folder: Path, environment: dict[str, str] | None = None) -> None:
        self._environment = {
            **os.environ,
            "PYTHONPATH": str(SERVER),
            "TEPAL_INSTANCE": str(folder),
            **(environment or {}),
        }
        self._log = folder / "server.log"
        self._port = free_port()
        self._process: subprocess.Popen[bytes] | None = None
        self.address = f"http://127.0.0.1:{self._port}"
        subprocess.run(
            [sys.executable, "-m", "tepal.cli", "demo", "--small"],
            env=self._environment,
            check=True,
            capture_output=True,
        )

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


def free_port() -> int:
    """Return a port of this machine that nothing listens on."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@contextmanager
def demo_server(environment: dict[str, str] | None = None) -> Iterator[DemoServer]:
    """Run the server with the demo as long as the context lasts."""
    with TemporaryDirectory(prefix="tepal-demo-") as folder:
        server = DemoServer(Path(folder), environment)
        server.start()
        try:
            yield server
        finally:
            server.stop()
