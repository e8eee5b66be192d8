"""The cursor a device holds: opaque to it, `epoch.scope.seq.hash` to us."""

from __future__ import annotations

import re
from dataclasses import dataclass

_SHAPE = re.compile(r"([0-9a-f]{8})\.([0-9a-z]{1,32})\.(\d{1,15})\.([0-9a-f]{16})")
HASH_CHARS = 16  # of 64: enough to tell a regrown journal from the one the device saw


@dataclass(frozen=True, slots=True)
class Cursor:
    """How far a device has read: in which epoch and scope, to which seq, with which hash there."""

    epoch: str
    scope: str
    seq: int
    hash: str

    def text(self) -> str:
        """Return the wire form."""
        return f"{self.epoch}.{self.scope}.{self.seq}.{self.hash[:HASH_CHARS]}"


def read_cursor(text: str | None) -> Cursor | None:
    """Return the cursor, or None where there is none to read (a snapshot cures)."""
    match = _SHAPE.fullmatch(text or "")
    if not match:
        return None
    return Cursor(match[1], match[2], int(match[3]), match[4])
