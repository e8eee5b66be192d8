"""Photo pieces in, photos out. Commits."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from tepal.domain.errors import NotFoundError
from tepal.photos.intake import PIECE_BYTES, PhotoError, take_piece
from tepal.store.photo_rows import SqlPieces, announced_size, have_pieces, owed_by, stored_among

if TYPE_CHECKING:
    from collections.abc import Sequence

    from sqlalchemy.orm import Session as DbSession

    from tepal.photos.storage import PhotoStorage


def put_piece(
    db: DbSession,
    storage: PhotoStorage,
    establishment: str,
    sha256: str,
    n: int,
    content: bytes,
    now: str,
) -> dict[str, Any]:
    """Take piece `n` of a photo whose record has arrived; return what is still missing.

    Raises
    ------
    NotFoundError   `photos.not_announced`: its entry has not arrived yet; send entries first.
    PhotoError      See `photos.intake.take_piece`.
    """
    try:
        return _take(db, storage, establishment, sha256, n, content, now)
    except PhotoError as error:
        if error.code == "photos.hash_differs":  # its pieces must go, and an error rolls back
            with db.begin():
                SqlPieces(db, establishment, now).drop(sha256)
        raise


def _take(
    db: DbSession,
    storage: PhotoStorage,
    establishment: str,
    sha256: str,
    n: int,
    content: bytes,
    now: str,
) -> dict[str, Any]:
    with db.begin():
        size = announced_size(db, establishment, sha256)
        if size is None:
            raise NotFoundError("photos.not_announced", "no record announces this photo yet")
        port = SqlPieces(db, establishment, now)
        complete = take_piece(
            port,
            sha256=sha256,
            size=size,
            n=n,
            content=content,
            write=lambda photo: storage.write(establishment, sha256, photo),
        )
        return {"complete": complete, "have": [] if complete else list(port.have(sha256))}


def stored(db: DbSession, establishment: str, digests: Sequence[str]) -> list[str]:
    """Return which of a device's photos are whole and in storage."""
    return stored_among(db, establishment, digests[:200])


def owed(db: DbSession, establishment: str, digests: Sequence[str]) -> list[dict[str, Any]]:
    """Return which of a device's photos the server still waits for, and the pieces it has."""
    return [
        {
            "sha256": sha256,
            "size": size,
            "piece_bytes": PIECE_BYTES,
            "have": have_pieces(db, establishment, sha256),
        }
        for sha256, size in owed_by(db, establishment, digests[:200])
    ]
