"""Identifiers: UUIDv7 (RFC 9562) from a given time and given random bytes, UUIDv5 for effects."""

from __future__ import annotations

import uuid

# Namespace of records that an entry brings about (conflicts): same entry, same id, on any replay.
_EFFECTS = uuid.UUID("6f1d2b0e-5c1c-5d70-9c39-3a1f6f0f7a11")
# Namespace of records that two devices make apart from each other and that are yet the same one.
_SHARED = uuid.UUID("0b7d6f52-3c1e-5a94-8d27-9f40c2a6e815")


def uuid7(unix_ms: int, random_bytes: bytes) -> str:
    """Return a UUIDv7 in text.

    Parameters
    ----------
    unix_ms : int, ms since 1970     48 bits.
    random_bytes : bytes, 10         74 of their bits are used.
    """
    value = (unix_ms & (2**48 - 1)) << 80 | int.from_bytes(random_bytes[:10], "big")
    value = value & ~(0xF << 76) | (0x7 << 76)
    value = value & ~(0x3 << 62) | (0x2 << 62)
    return str(uuid.UUID(int=value))


def effect_id(entry_id: str, name: str) -> str:
    """Return the id of a record that entry `entry_id` brings about under `name`."""
    return str(uuid.uuid5(_EFFECTS, f"{entry_id} {name}"))


def shared_id(*parts: str | int) -> str:
    """Return the id (UUIDv5) of a record that follows from what it is about.

    Parameters
    ----------
    parts : str or int     In a fixed order; joined by line feeds, which no part holds.

    Notes
    -----
    Twin: `sharedId` of web/app/sync/ids.js. Vectors: tests/vectors/ids/shared_id.json.
    """
    return str(uuid.uuid5(_SHARED, "\n".join(str(part) for part in parts)))
