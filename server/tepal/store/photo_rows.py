"""Photo pieces and files as rows: implements the port of `photos`."""

from __future__ import annotations

from typing import TYPE_CHECKING

from sqlalchemy import delete, select

from tepal.store.kind_models import PhotoRecord
from tepal.store.models import PhotoFile, PhotoPiece

if TYPE_CHECKING:
    from collections.abc import Sequence

    from sqlalchemy.orm import Session


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
        """Keep a piece; the same piece again changes nothing."""
        if self.session.get(PhotoPiece, (self.establishment, sha256, n)) is None:
            piece = PhotoPiece(establishment=self.establishment, sha256=sha256, n=n)
            piece.content = content
            self.session.add(piece)
            self.session.flush()

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

    def mark_stored(self, sha256: str, size: int) -> None:
        """Note that the photo is in storage, and forget its pieces."""
        self.drop(sha256)
        self.session.add(
            PhotoFile(
                establishment=self.establishment, sha256=sha256, size=size, stored_at=self.now
            )
        )


def have_pieces(session: Session, establishment: str, sha256: str) -> list[int]:
    """Return the numbers of a photo's pieces that are here, in order."""
    query = (
        select(PhotoPiece.n)
        .where(PhotoPiece.establishment == establishment, PhotoPiece.sha256 == sha256)
        .order_by(PhotoPiece.n)
    )
    return list(session.execute(query).scalars())


def announced_size(session: Session, establishment: str, sha256: str) -> int | None:
    """Return the size that a photo record announces for these bytes; None where none does."""
    query = select(PhotoRecord.size).where(
        PhotoRecord.establishment == establishment, PhotoRecord.sha256 == sha256
    )
    return session.execute(query.limit(1)).scalar_one_or_none()


def owed_by(session: Session, establishment: str, digests: Sequence[str]) -> list[tuple[str, int]]:
    """Return (sha256, size) of those photos among the digests whose bytes are not in storage."""
    if not digests:
        return []
    query = (
        select(PhotoRecord.sha256, PhotoRecord.size)
        .outerjoin(
            PhotoFile,
            (PhotoFile.establishment == PhotoRecord.establishment)
            & (PhotoFile.sha256 == PhotoRecord.sha256),
        )
        .where(
            PhotoRecord.establishment == establishment,
            PhotoRecord.sha256.in_(list(digests)),
            PhotoFile.sha256.is_(None),
        )
    )
    return [(row[0] or "", row[1] or 0) for row in session.execute(query)]


def stored_among(session: Session, establishment: str, digests: Sequence[str]) -> list[str]:
    """Return those of the digests that are noted as stored."""
    query = select(PhotoFile.sha256).where(
        PhotoFile.establishment == establishment, PhotoFile.sha256.in_(list(digests))
    )
    return list(session.execute(query).scalars())


def stored_digests(session: Session, establishment: str) -> set[str]:
    """Return the digests of all photos noted as stored."""
    query = select(PhotoFile.sha256).where(PhotoFile.establishment == establishment)
    return set(session.execute(query).scalars())
