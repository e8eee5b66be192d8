"""A wall tablet: the applications on display, cut by field and time; documents and no other file."""

from __future__ import annotations

import hashlib
from typing import TYPE_CHECKING, Any

import pytest
from reportlab.pdfgen.canvas import Canvas

from support.book import Book, Desk
from support.photos import announce, jpeg, pieces, put
from tepal.photos.intake import PhotoError, check_pdf

if TYPE_CHECKING:
    from pathlib import Path


def pdf(tmp_path: Path) -> bytes:
    path = tmp_path / "label.pdf"
    canvas = Canvas(str(path), invariant=1)
    canvas.drawString(72, 720, "Invented label")
    canvas.save()
    return path.read_bytes()


def label(book: Book, content: bytes, **more: Any) -> tuple[str, dict[str, Any]]:
    """Announce a label file; return its digest and what became of the entry."""
    sha256 = hashlib.sha256(content).hexdigest()
    fields = {
        "product": book.uuid(), "sort": "sds", "version_on": "2026-01-15", "sha256": sha256,
        "size": len(content), "media_type": "application/pdf", "file_name": "label.pdf", **more,
    }  # fmt: skip
    reply = book.manager.exchange(book.manager.entry("label_file", "create", fields=fields))
    return sha256, reply["results"][0]


@pytest.fixture
def wall(book: Book) -> Desk:
    """A tablet whose ceiling is display, with nobody signed in."""
    code = book.manager.post("/api/v1/enrolment-codes", {"label": "Wall", "ceiling": "display"})
    desk = object.__new__(Desk)
    desk.book, desk.client, desk.device = book, book.app.test_client(), book.uuid()
    desk.cursor, desk.member = None, ""
    body = {"code": code.json["code"], "device": {"id": desk.device, "label": "Wall"}}
    reply = desk.post("/api/v1/enrol", body)
    assert reply.status_code == 200, reply.text
    return desk


def at(day: str, time: str = "10:00:00") -> dict[str, Any]:
    return {"local": f"2026-{day}T{time}", "offset_min": 0, "zone": "Etc/UTC"}


def apply(
    book: Book, ended: dict[str, Any] | None, *reis: str | None, kind: str = "product"
) -> str:
    """Log an application; the book's clock stands at 12 May 2026, 14:00 UTC."""
    record = book.uuid()
    products = [
        {"name": "Stemwright SL", "kind": kind, "product": book.uuid(), "amount": {"value": "1", "unit": "mL"},
         **({"rei": {"value": rei, "unit": "h"}} if rei else {})}
        for rei in reis
    ]  # fmt: skip
    fields = {
        "started_at": at("03-01"), "products": products, "operator_name": "Rosa Lind", "note": "no",
        **({"ended_at": ended} if ended else {}),
    }  # fmt: skip
    text = book.manager.entry("application", "create", record=record, fields=fields)
    assert book.manager.exchange(text)["results"][0]["outcome"] == "accepted"
    return record


def shown(wall: Desk) -> dict[str, dict[str, Any]]:
    return {r["id"]: r for r in wall.exchange()["records"] if r["kind"] == "application"}


def test_wall_holds_what_has_to_be_on_display(book: Book, wall: Desk) -> None:
    # now: 12 May, 14:00. 30 days before it: 12 April, 14:00.
    running = apply(book, None, "12")
    just = apply(book, at("04-12", "02:01:00"), "12")  # interval over at 14:01: a minute to go
    over = apply(book, at("04-12", "01:59:00"), "12")
    longest = apply(book, at("04-12", "01:59:00"), "4", "24")
    unknown = apply(book, at("03-02"), "12", None)
    blank = apply(book, at("04-12", "13:59:00"), None, kind="formulation_blank")

    found = shown(wall)

    assert set(found) == {running, just, longest, unknown}
    assert {over, blank}.isdisjoint(found)
    assert set(found[just]["fields"]) == {"started_at", "ended_at", "products"}
    assert "amount" not in found[just]["fields"]["products"][0]
    assert found[just]["author"] == ""


def test_voided_application_leaves_the_wall(book: Book, wall: Desk) -> None:
    record = apply(book, at("05-12"), "12")
    assert set(shown(wall)) == {record}

    book.manager.exchange(book.manager.entry("application", "void", record=record, reason="twice"))

    left = shown(wall)[record]
    assert (left["state"], left["fields"]) == ("void", {})


def test_wall_reads_documents_and_no_photo(book: Book, wall: Desk, tmp_path: Path) -> None:
    content = pdf(tmp_path)
    sha256, result = label(book, content)
    assert result["outcome"] == "accepted"
    assert put(book, sha256, 0, content).json["complete"]
    photo = jpeg()
    digest = announce(book, photo)
    for n, piece in enumerate(pieces(photo)):
        put(book, digest, n, piece)

    reply = wall.get(f"/api/v1/photos/{sha256}")

    assert reply.data == content
    assert reply.mimetype == "application/pdf"
    assert reply.headers["Content-Disposition"].startswith('attachment; filename="document-')
    assert reply.headers["X-Content-Type-Options"] == "nosniff"
    assert wall.get(f"/api/v1/photos/{digest}").json["code"] == "photos.not_stored"
    assert book.manager.get(f"/api/v1/photos/{digest}").data == photo


@pytest.mark.parametrize(
    "content",
    [b"<html>%PDF-1.4" + b"x" * 90, b"%PDF-1.7\nstartxref\n9999\n%%EOF", b"%PDF-1.7 only a head"],
)
def test_what_is_no_pdf_is_refused_and_its_entry_stays(book: Book, content: bytes) -> None:
    sha256, result = label(book, content)

    reply = put(book, sha256, 0, content)

    assert result["outcome"] == "accepted"
    assert (reply.status_code, reply.json["code"]) == (422, "photos.not_a_pdf")
    assert book.manager.get(f"/api/v1/photos/{sha256}").json["code"] == "photos.not_stored"


@pytest.mark.parametrize(
    "wrong",
    [
        {"file_name": "../../etc/passwd"}, {"file_name": "C:\\label.pdf"}, {"file_name": ".bashrc"},
        {"size": 20_000_001}, {"media_type": "text/html"},
    ],
    ids=["climbs", "drive", "hidden", "over-size", "web page"],
)  # fmt: skip
def test_path_trick_or_over_size_is_quarantined_whole(
    book: Book, tmp_path: Path, wrong: dict[str, Any]
) -> None:
    _, result = label(book, pdf(tmp_path), **wrong)

    assert result["outcome"] == "quarantined"
    held = [r for r in book.manager.exchange(cursor=None)["records"] if r["kind"] == "held"]
    assert str(next(iter(wrong.values()))).replace("\\", "\\\\") in held[0]["fields"]["text"]


def test_pdf_after_some_garbage_counts_offsets_from_its_head(tmp_path: Path) -> None:
    check_pdf(pdf(tmp_path))
    check_pdf(b"\n\n" + pdf(tmp_path))
    with pytest.raises(PhotoError):
        check_pdf(pdf(tmp_path)[:-40])
