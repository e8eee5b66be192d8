"""Taking a photo in: 64 kB pieces in any order, any number of times, checked as a whole.

The pieces are rows behind `PiecePort` until all are there; then the hash and the picture are
checked and the photo is written once.
"""

from __future__ import annotations

import hashlib
import io
from typing import TYPE_CHECKING, Final, Protocol

from PIL import Image

from tepal.domain.errors import TepalError

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

PIECE_BYTES: Final = 64 * 1024
MAX_PIXELS: Final = 24_000_000  # a 1,600 px photo has under 3 million; this stops a bomb


class PhotoError(TepalError, ValueError):
    """A piece or a photo that cannot be taken."""


class PiecePort(Protocol):
    """The pieces of one establishment's photos, inside one transaction."""

    def is_stored(self, sha256: str) -> bool:
        """Whether the whole photo is in storage."""

    def put(self, sha256: str, n: int, content: bytes) -> None:
        """Keep a piece; the same piece again changes nothing."""

    def have(self, sha256: str) -> Sequence[int]:
        """Return the numbers of the pieces that are here, in order."""

    def whole(self, sha256: str) -> bytes:
        """Return the pieces joined in order."""

    def drop(self, sha256: str) -> None:
        """Forget the pieces."""

    def mark_stored(self, sha256: str, size: int) -> None:
        """Note that the photo is in storage, and forget its pieces."""


def n_pieces(size: int) -> int:
    """Return how many pieces a photo of `size` bytes has."""
    return -(-size // PIECE_BYTES)


def take_piece(
    port: PiecePort,
    *,
    sha256: str,
    size: int,
    n: int,
    content: bytes,
    write: Callable[[bytes], None],
) -> bool:
    """Take piece `n` (from 0) of a photo of `size` bytes; return whether the photo is whole now.

    Raises
    ------
    PhotoError   `photos.piece_size`, `photos.hash_differs` (the caller forgets the pieces once
                 it has rolled back, and the phone sends them again), `photos.not_a_jpeg`,
                 `photos.too_many_pixels`.
    """
    if port.is_stored(sha256):
        return True
    total = n_pieces(size)
    expected = PIECE_BYTES if n < total - 1 else size - PIECE_BYTES * (total - 1)
    if not 0 <= n < total or len(content) != expected:
        raise PhotoError("photos.piece_size", "piece has the wrong number or size", n=n)
    port.put(sha256, n, content)
    if len(port.have(sha256)) < total:
        return False
    photo = port.whole(sha256)
    if hashlib.sha256(photo).hexdigest() != sha256:
        raise PhotoError("photos.hash_differs", "the pieces do not add up to this photo")
    check_picture(photo)
    write(photo)
    port.mark_stored(sha256, size)
    return True


def check_picture(photo: bytes) -> None:
    """Raise where the bytes are not a JPEG of sane size."""
    try:
        with Image.open(io.BytesIO(photo), formats=["JPEG"]) as picture:
            width, height = picture.size
            if width * height > MAX_PIXELS:
                raise PhotoError("photos.too_many_pixels", "picture is too large", most=MAX_PIXELS)
            picture.load()
    except (OSError, SyntaxError, Image.DecompressionBombError) as error:
        raise PhotoError("photos.not_a_jpeg", "this file is not a JPEG picture") from error
