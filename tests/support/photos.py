"""Photos for tests: JPEGs of seeded random pixels, and how they travel."""

from __future__ import annotations

import hashlib
import io
import random
from typing import TYPE_CHECKING, Any

from PIL import Image

from tepal.photos.intake import PIECE_BYTES

if TYPE_CHECKING:
    from support.book import Book


def jpeg(side: int = 400, seed: int = 1) -> bytes:
    """Return a JPEG of random pixels, about 200 kB, so that it takes several pieces."""
    raw = random.Random(seed).randbytes(side * side * 3)
    out = io.BytesIO()
    Image.frombytes("RGB", (side, side), raw).save(out, "JPEG", quality=90)
    return out.getvalue()


def announce(book: Book, photo: bytes) -> str:
    """Send the entry of a photo; return the photo's SHA-256."""
    sha256 = hashlib.sha256(photo).hexdigest()
    fields = {
        "of_kind": "application", "of_id": book.uuid(), "sha256": sha256, "size": len(photo),
        "media_type": "image/jpeg",
    }  # fmt: skip
    text = book.manager.entry("photo", "create", fields=fields)
    assert book.manager.exchange(text)["results"][0]["outcome"] == "accepted"
    return sha256


def pieces(photo: bytes) -> list[bytes]:
    """Return the pieces of a photo, in order."""
    return [photo[at : at + PIECE_BYTES] for at in range(0, len(photo), PIECE_BYTES)]


def put(book: Book, sha256: str, n: int, piece: bytes) -> Any:
    """Send one piece; return the reply."""
    return book.manager.put(f"/api/v1/photos/{sha256}/{n}", piece)
