"""Taking a file in: 64 kB pieces in any order, any number of times, checked as a whole.

Photos, labels, safety data sheets and voice notes travel alike. The pieces are rows behind
`PiecePort` until all are there; then the hash is checked, and that the file is what its record
says it is, and it is written once.
"""

from __future__ import annotations

import hashlib
import io
import re
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
        """Keep a piece that is not here yet."""

    def have(self, sha256: str) -> Sequence[int]:
        """Return the numbers of the pieces that are here, in order."""

    def whole(self, sha256: str) -> bytes:
        """Return the pieces joined in order."""

    def drop(self, sha256: str) -> None:
        """Forget the pieces."""

    def mark_stored(self, sha256: str, size: int, media_type: str) -> None:
        """Note that the file is in storage, and forget its pieces."""


def n_pieces(size: int) -> int:
    """Return how many pieces a photo of `size` bytes has."""
    return -(-size // PIECE_BYTES)


def take_piece(
    port: PiecePort,
    *,
    sha256: str,
    size: int,
    media_type: str,
    n: int,
    content: bytes,
    write: Callable[[bytes], None],
) -> bool:
    """Take piece `n` (from 0) of a file of `size` bytes; return whether the file is whole now.

    Raises
    ------
    PhotoError   `photos.piece_size`, `photos.hash_differs` (the caller forgets the pieces once
                 it has rolled back, and the phone sends them again), `photos.not_a_jpeg`,
                 `photos.too_many_pixels`, `photos.not_a_pdf`, `photos.not_sound`,
                 `photos.unknown_type`.
    """
    if port.is_stored(sha256):
        return True
    total = n_pieces(size)
    expected = PIECE_BYTES if n < total - 1 else size - PIECE_BYTES * (total - 1)
    if not 0 <= n < total or len(content) != expected:
        raise PhotoError("photos.piece_size", "piece has the wrong number or size", n=n)
    have = port.have(sha256)
    if n not in have:  # the same piece again changes nothing
        port.put(sha256, n, content)
    if len({*have, n}) < total:
        return False
    photo = port.whole(sha256)
    if hashlib.sha256(photo).hexdigest() != sha256:
        raise PhotoError("photos.hash_differs", "the pieces do not add up to this photo")
    check_content(photo, media_type)
    write(photo)
    port.mark_stored(sha256, size, media_type)
    return True


def type_of(content: bytes) -> str:
    """Return the media type that a file's first bytes tell; `check_content` says if it is one.

    Raises
    ------
    PhotoError   `photos.unknown_type`.
    """
    if content[:2] == b"\xff\xd8":
        return "image/jpeg"
    for media_type, (start, mark) in _SOUND_MARKS.items():
        if content.startswith(mark, start):
            return media_type
    if _PDF_HEAD.search(content[:_PDF_ENDS]) is not None:
        return "application/pdf"
    raise PhotoError("photos.unknown_type", "no file of this type is kept here")


def check_whole(sha256: str, content: bytes) -> str:
    """Return the media type of a file that came whole.

    Raises
    ------
    PhotoError   As `take_piece`, the piece's own faults left out.
    """
    if hashlib.sha256(content).hexdigest() != sha256:
        raise PhotoError("photos.hash_differs", "these bytes are not this photo's")
    media_type = type_of(content)
    check_content(content, media_type)
    return media_type


def check_content(content: bytes, media_type: str) -> None:
    """Raise where the bytes are not what the record says they are."""
    match media_type:
        case "image/jpeg":
            check_picture(content)
        case "application/pdf":
            check_pdf(content)
        case "audio/webm" | "audio/mp4":
            check_sound(content, media_type)
        case _:
            raise PhotoError("photos.unknown_type", "no file of this type is kept here")


_PDF_HEAD = re.compile(rb"%PDF-[12]\.[0-9]")
_PDF_TAIL = re.compile(rb"startxref\s+([0-9]{1,10})\s+%%EOF\s*\Z")
_PDF_TABLE = re.compile(rb"\s*(?:xref\b|[0-9]{1,10}\s+[0-9]{1,5}\s+obj\b)")
_PDF_ENDS: Final = 1024  # bytes in which head and end may stand, as readers have long allowed


def check_pdf(content: bytes) -> None:
    """Raise `photos.not_a_pdf` where the bytes are no PDF file.

    ISO 32000-1 (from memory, not read): 7.5.2, the file begins with `%PDF-`; 7.5.5, it ends with
    `startxref`, the offset of the last cross-reference section, and `%%EOF`; 7.5.4 and 7.5.8, at
    that offset stand `xref` or a stream object. A page of a web site with a PDF's first line
    fails here.
    """
    head = _PDF_HEAD.search(content[:_PDF_ENDS])
    tail = _PDF_TAIL.search(content[-_PDF_ENDS:].rstrip(b"\0"))
    if head is not None and tail is not None:
        offset = int(tail[1])
        # offsets count from the head where something stands before it
        starts = {offset, offset + head.start()}
        if any(_PDF_TABLE.match(content[start : start + 64]) for start in starts):
            return
    raise PhotoError("photos.not_a_pdf", "this file is not a PDF document")


_SOUND_MARKS: Final = {"audio/webm": (0, b"\x1a\x45\xdf\xa3"), "audio/mp4": (4, b"ftyp")}


def check_sound(content: bytes, media_type: str) -> None:
    """Raise `photos.not_sound` where the bytes lack the first mark of their container.

    WebM begins with the EBML id 1A45DFA3, MP4 with a box `ftyp` (both from memory, not read).
    """
    start, mark = _SOUND_MARKS[media_type]
    if not content.startswith(mark, start):
        raise PhotoError("photos.not_sound", "this file is not the sound that its record says")


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
