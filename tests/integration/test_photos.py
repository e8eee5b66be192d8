"""Photo pieces: any order, any number of times, checked as a whole, written once."""

from __future__ import annotations

import io
from typing import TYPE_CHECKING, Any

import pytest
from PIL import Image

from support.photos import announce, jpeg, pieces, put
from tepal.photos import intake
from tepal.photos.intake import PIECE_BYTES

if TYPE_CHECKING:
    from support.book import Book


def owed(book: Book, sha256: str) -> dict[str, Any]:
    reply = book.manager.exchange(photos=[sha256])
    return {"owed": reply["photos_owed"], "stored": reply["photos_stored"]}


def test_photo_in_any_order_with_repeats_is_stored_once(book_on_each: Book) -> None:
    book, photo = book_on_each, jpeg()
    sha256 = announce(book, photo)
    parts = pieces(photo)
    assert len(parts) >= 3

    for n in [2, 0, 0, *range(len(parts) - 1, -1, -1)]:
        reply = put(book, sha256, n, parts[n])
        assert reply.status_code == 200, reply.text

    assert reply.json == {"complete": True, "have": []}
    assert owed(book, sha256) == {"owed": [], "stored": [sha256]}
    assert book.manager.get(f"/api/v1/photos/{sha256}").data == photo
    assert put(book, sha256, 0, parts[0]).json == {"complete": True, "have": []}


def test_upload_resumes_where_it_was_cut(book: Book) -> None:
    photo = jpeg()
    sha256 = announce(book, photo)
    put(book, sha256, 1, pieces(photo)[1])

    assert owed(book, sha256)["owed"] == [
        {"sha256": sha256, "size": len(photo), "piece_bytes": PIECE_BYTES, "have": [1]}
    ]


def test_photo_before_its_record_comes_again(book: Book) -> None:
    reply = put(book, "a" * 64, 0, b"x")

    assert (reply.status_code, reply.json["code"]) == (409, "photos.not_announced")
    assert reply.json["retryable"]


@pytest.mark.parametrize(("n", "cut"), [(0, -1), (0, 0), (9, 0), (10**12, 0)])
def test_piece_of_the_wrong_size_or_number_is_refused(book: Book, n: int, cut: int) -> None:
    photo = jpeg()
    sha256 = announce(book, photo)
    piece = pieces(photo)[0][:cut] if cut else pieces(photo)[0] + b"x"

    reply = put(book, sha256, n, piece)

    assert (reply.status_code, reply.json["code"]) == (422, "photos.piece_size")
    assert owed(book, sha256)["owed"][0]["have"] == []


def test_wrong_bytes_are_forgotten_and_can_be_sent_again(book_on_each: Book) -> None:
    book, photo = book_on_each, jpeg()
    sha256 = announce(book, photo)
    parts = pieces(photo)
    damaged = [bytes([parts[0][0] ^ 1]) + parts[0][1:], *parts[1:]]
    for n, piece in enumerate(damaged[:-1]):
        put(book, sha256, n, piece)

    reply = put(book, sha256, len(parts) - 1, damaged[-1])

    assert (reply.status_code, reply.json["code"]) == (409, "photos.hash_differs")
    assert owed(book, sha256)["owed"][0]["have"] == []
    for n, piece in enumerate(parts):
        reply = put(book, sha256, n, piece)
    assert reply.json["complete"]


@pytest.mark.parametrize(
    "content", [b"GIF89a" + b"x" * 500, b"<html>" * 50, b"\xff\xd8\xff\xe0" + b"x" * 500]
)
def test_what_is_no_jpeg_is_refused(book: Book, content: bytes) -> None:
    sha256 = announce(book, content)

    reply = put(book, sha256, 0, content)

    assert (reply.status_code, reply.json["code"]) == (422, "photos.not_a_jpeg")
    assert owed(book, sha256)["stored"] == []


def test_png_under_a_jpeg_name_is_refused(book: Book) -> None:
    out = io.BytesIO()
    Image.new("RGB", (8, 8)).save(out, "PNG")
    sha256 = announce(book, out.getvalue())

    assert put(book, sha256, 0, out.getvalue()).json["code"] == "photos.not_a_jpeg"


def test_picture_bomb_is_refused_before_it_is_unpacked(book: Book) -> None:
    # one colour: 36 million pixels, over intake.MAX_PIXELS, in some 600 kB
    out = io.BytesIO()
    Image.new("RGB", (6000, 6000)).save(out, "JPEG", quality=10)
    bomb = out.getvalue()
    assert intake.MAX_PIXELS < 6000 * 6000
    sha256 = announce(book, bomb)

    replies = [put(book, sha256, n, piece) for n, piece in enumerate(pieces(bomb))]

    assert replies[-1].json["code"] == "photos.too_many_pixels"


def test_photo_with_a_bad_name_is_refused(book: Book) -> None:
    assert book.manager.get("/api/v1/photos/..%2f..%2fetc").status_code in (404, 422)
    assert put(book, "A" * 64, 0, b"x").json["code"] == "photos.bad_digest"


def test_photo_that_is_not_stored_is_404(book: Book) -> None:
    assert book.manager.get(f"/api/v1/photos/{'a' * 64}").json["code"] == "photos.not_stored"


def test_photo_that_the_browser_has_is_not_sent_again(book: Book) -> None:
    photo = jpeg()
    sha256 = announce(book, photo)
    for n, part in enumerate(pieces(photo)):
        put(book, sha256, n, part)
    first = book.manager.get(f"/api/v1/photos/{sha256}")

    again = book.manager.client.get(
        f"/api/v1/photos/{sha256}", base_url="https://localhost",
        headers={"If-None-Match": first.headers["ETag"]},
    )  # fmt: skip

    assert (again.status_code, again.data) == (304, b"")
