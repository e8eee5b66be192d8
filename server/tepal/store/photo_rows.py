"""Pieces and files of photos, labels and sounds as rows: implements the port of `photos`."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final, NamedTuple

from sqlalchemy import delete, insert, select

from tepal.store.kind_models import RECORD_MODELS
from tepal.store.models import PhotoFile, PhotoPiece

if TYPE_CHECKING:
    from collections.abc import Sequence

    from sqlalchemy.orm import Session


# The kinds whose records announce bytes, and what the bytes are where the record does not say.
ANNOUNCING: Final = {
    "photo": "image/jpeg",
    "label_file": "application/pdf",
    "voice_note": "audio/webm",
}


class Announced(NamedTuple):
    """What a record says of the bytes that travel apart from it."""

    kind: str
    size: int
    media_type: str


class SqlPieces:
    """`photos.intake.PiecePort` in one writing transaction. The caller commits."""

    def __init__(self, session: Session, establishment: str, now: str) -> None:
        self.session = session
        self.establishment = establishment
        self.now = now

    def is_stored(self, sha256: str) -> bool:
        """Whether the whole photo is in storage."""
        return self.session.get(PhotoFile, (self.establishment, sha256)) is not None

    def put(self, sha256: str, n: int, content: bytes) -> None:
        """Keep a piece that is not here yet."""
        key = {"establishment": self.establishment, "sha256": sha256, "n": n}
        self.session.execute(insert(PhotoPiece).values(**key, content=content))

    def have(self, sha256: str) -> Sequence[int]:
        """Return the numbers of the pieces that are here."""
        return have_pieces(self.session, self.establishment, sha256)

    def whole(self, sha256: str) -> bytes:
        """Return the pieces joined in order."""
        query = (
            select(PhotoPiece.content)
            .where(PhotoPiece.establishment == self.establishment, PhotoPiece.sha256 == sha256)
            .order_by(PhotoPiece.n)
        )
        return b"".join(self.session.execute(query).scalars())

    def drop(self, sha256: str) -> None:
        """Forget the pieces."""
        self.session.execute(
            delete(PhotoPiece).where(
                PhotoPiece.establishment == self.establishment, PhotoPiece.sha256 == sha256
            )
        )

    def mark_stored(self, sha256: str, size: int, media_type: str) -> None:
        """Note that the file is in storage, and forget its pieces."""
        self.drop(sha256)
        file = PhotoFile(establishment=self.establishment, sha256=sha256, size=size)
        file.media_type = media_type
        file.stored_at = self.now
        self.session.add(file)


def have_pieces(session: Session, establishment: str, sha256: str) -> list[int]:
    """Return the numbers of a photo's pieces that are here, in order."""
    query = (
        select(PhotoPiece.n)
        .where(PhotoPiece.establishment == establishment, PhotoPiece.sha256 == sha256)
        .order_by(PhotoPiece.n)
    )
    return list(session.execute(query).scalars())


def announced(session: Session, establishment: str, sha256: str) -> Announced | None:
    """Return what a record announces of these bytes; None where none does."""
    for kind, media_type in ANNOUNCING.items():
        model = RECORD_MODELS[kind]
        query = select(model.size, model.media_type).where(
            model.establishment == establishment, model.sha256 == sha256, model.size.is_not(None)
        )
        row = session.execute(query.limit(1)).one_or_none()
        if row is not None:
            return Announced(kind, row[0], row[1] or media_type)
    return None


def announcing_kinds(session: Session, establishment: str, sha256: str) -> set[str]:
    """Return the kinds of the records that announce these bytes."""
    found = set()
    for kind in ANNOUNCING:
        model = RECORD_MODELS[kind]
        query = select(model.id).where(model.establishment == establishment, model.sha256 == sha256)
        if session.execute(query.limit(1)).first() is not None:
            found.add(kind)
    return found


def owed_by(session: Session, establishment: str, digests: Sequence[str]) -> list[tuple[str, int]]:
    """Return (sha256, size) of those files among the digests whose bytes are not in storage."""
    if not digests:
        return []
    owed: dict[str, int] = {}
    for kind in ANNOUNCING:
        model = RECORD_MODELS[kind]
        query = (
            select(model.sha256, model.size)
            .outerjoin(
                PhotoFile,
                (PhotoFile.establishment == model.establishment)
                & (PhotoFile.sha256 == model.sha256),
            )
            .where(
                model.establishment == establishment,
                model.sha256.in_(list(digests)),
                PhotoFile.sha256.is_(None),
            )
        )
        for row in session.execute(query):
            owed.setdefault(row[0], row[1] or 0)
    return list(owed.items())


def stored_among(session: Session, establishment: str, digests: Sequence[str]) -> list[str]:
    """Return those of the digests that are noted as stored."""
    query = select(PhotoFile.sha256).where(
        PhotoFile.establishment == establishment, PhotoFile.sha256.in_(list(digests))
    )
    return list(session.execute(query).scalars())


def stored_type(session: Session, establishment: str, sha256: str) -> str | None:
    """Return the media type of a file that is in storage; None where it is not."""
    file = session.get(PhotoFile, (establishment, sha256))
    return None if file is None else file.media_type


def stored_files(session: Session, establishment: str) -> dict[str, str]:
    """Return {digest: media type} of all files noted as stored."""
    query = select(PhotoFile.sha256, PhotoFile.media_type).where(
        PhotoFile.establishment == establishment
    )
    return {row[0]: row[1] for row in session.execute(query)}
