"""Drives the shipped browser sync modules in Node; their transport calls come back to Python."""

from __future__ import annotations

import json
import subprocess
from pathlib import Path
from typing import TYPE_CHECKING, Any

from support.node_calls import node_path

if TYPE_CHECKING:
    from collections.abc import Callable

DRIVER = Path(__file__).with_name("js") / "devices.mjs"
OFFLINE = {"ok": False, "cause": "offline", "code": "no_connection"}

Transport = "Callable[[str, dict[str, Any]], dict[str, Any]]"


class DeviceFailedError(AssertionError):
    """The shipped code threw."""


class DeviceKilledError(Exception):
    """The simulated device died where it was told to."""


class Devices:
    """One Node process with any number of devices in it."""

    def __init__(self) -> None:
        self._node = subprocess.Popen(
            [node_path(), str(DRIVER)], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
        )

    def do(
        self,
        op: str,
        device: str = "",
        *,
        transport: Callable[[str, dict[str, Any]], dict[str, Any]] | None = None,
        **more: Any,
    ) -> Any:
        """Run one operation; `transport(device, body)` answers what it asks the network."""
        self._say({"op": op, "device": device, **more})
        while True:
            line = self._hear()
            if "call" in line:
                assert transport is not None
                self._say({"sent": transport(line["device"], line["body"])})
            elif line.get("failed") == "killed":
                raise DeviceKilledError
            elif "failed" in line:
                raise DeviceFailedError(line["failed"])
            else:
                return line["done"]

    def _say(self, line: dict[str, Any]) -> None:
        assert self._node.stdin is not None
        self._node.stdin.write(json.dumps(line) + "\n")
        self._node.stdin.flush()

    def _hear(self) -> dict[str, Any]:
        assert self._node.stdout is not None
        line = self._node.stdout.readline()
        assert line, "the Node process ended"
        found: dict[str, Any] = json.loads(line)
        return found

    def close(self) -> None:
        """End the process."""
        assert self._node.stdin is not None
        assert self._node.stdout is not None
        self._node.stdin.close()
        self._node.wait(timeout=10)
        self._node.stdout.close()
