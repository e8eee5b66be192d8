"""The hash chain of the journal: what makes tampering show.

Each link covers the previous hash, the sequence number, the time of receipt, the outcome and the
digest of the entry's text. The text itself is not covered twice, so that a name can later be
redacted from it without breaking the chain.
"""

from __future__ import annotations

import hashlib


def genesis(establishment: str) -> str:
    """Return the hash before the first entry of an establishment, 64 hex characters."""
    return hashlib.sha256(f"tepal journal {establishment}".encode()).hexdigest()


def link(previous: str, seq: int, received_at: str, outcome: str, digest: str) -> str:
    """Return the hash of one journal row, 64 hex characters.

    Parameters
    ----------
    previous : str      Hash of the row before (or `genesis`).
    seq : int, >= 1     Place in the journal.
    received_at : str   UTC, ISO 8601 with milliseconds and `Z`, exactly as stored.
    outcome : str       One of `entry.OUTCOMES`.
    digest : str        SHA-256 of the entry's text, hex.
    """
    line = f"{previous}\n{seq}\n{received_at}\n{outcome}\n{digest}"
    return hashlib.sha256(line.encode()).hexdigest()
