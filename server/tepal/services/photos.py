"""Pieces of photos, labels and sounds in, whole files out. Commits."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from tepal.domain.errors import NotFoundError
from tepal.photos.intake import PIECE_BYTES, PhotoError, check_whole, take_piece
from tepal.store.photo_rows import (
    SqlPieces,
    announced,
    announcing_kinds,
    have_pieces,
    owed_by,
    stored_among,
    stored_type,
)

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
        told = announced(db, establishment, sha256)
        if told is None:
            raise NotFoundError("photos.not_announced", "no record announces this photo yet")
        port = SqlPieces(db, establishment, now)
        complete = take_piece(
            port,
            sha256=sha256,
            size=told.size,
            media_type=told.media_type,
            n=n,
            content=content,
            write=lambda photo: storage.write(establishment, sha256, photo, told.media_type),
        )
        return {"complete": complete, "have": [] if complete else list(port.have(sha256))}


def take_whole(
    db: DbSession, storage: PhotoStorage, establishment: str, sha256: str, content: bytes, now: str
) -> bool:
    """Store a file that came whole, of a person who may decide; return whether it was new. Commits.

    Its record may still be held: no entry is asked for, and nobody sees the file before one names
    it.

    Raises
    ------
    PhotoError   See `photos.intake.check_whole`.
    """
    media_type = check_whole(sha256, content)
    with db.begin():
        if SqlPieces(db, establishment, now).is_stored(sha256):
            return False
    storage.write(establishment, sha256, content, media_type)  # outside the lock: named by content
    with db.begin():
        port = SqlPieces(db, establishment, now)
        if port.is_stored(sha256):
            return False
        port.mark_stored(sha256, len(content), media_type)
    return True


@dataclass(frozen=True, slots=True)
class StoredFile:
    """A whole file; `is_document`: a label or safety data sheet, to be saved rather than shown."""

    content: bytes
    media_type: str
    is_document: bool


def read_file(
    db: DbSession,
    storage: PhotoStorage,
    establishment: str,
    sha256: str,
    *,
    only_documents: bool = False,
) -> StoredFile:
    """Return a stored file.

    Raises
    ------
    NotFoundError   `photos.not_stored`; also where the device may have documents only (a wall
                    tablet) and this is none.
    """
    media_type = stored_type(db, establishment, sha256)
    is_document = "label_file" in announcing_kinds(db, establishment, sha256)
    if media_type is None or (only_documents and not is_document):
        raise NotFoundError("photos.not_stored", "this file is not in storage")
    return StoredFile(storage.read(establishment, sha256, media_type), media_type, is_document)


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
