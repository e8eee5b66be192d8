"""Codes let one device in once; PINs are verifiers for phones, set by their owner or a manager."""

from __future__ import annotations

import hashlib
from datetime import timedelta
from typing import TYPE_CHECKING, Any

import pytest

from support.book import SAME_ORIGIN, Book, Desk

if TYPE_CHECKING:
    from pathlib import Path


@pytest.fixture
def book(tmp_path: Path) -> Book:
    return Book(tmp_path)


def new_phone(book: Book, code: str) -> Any:
    client = book.app.test_client()
    device = book.uuid()
    reply = client.post(
        "/api/v1/enrol",
        json={"code": code, "device": {"id": device, "label": "typed here"}},
        headers=SAME_ORIGIN,
        base_url="https://localhost",
    )
    return client, device, reply


def make_code(book: Book, ceiling: str = "operator") -> str:
    reply = book.manager.post("/api/v1/enrolment-codes", {"label": "Phone 3", "ceiling": ceiling})
    assert reply.status_code == 200, reply.text
    return str(reply.json["code"])


def test_code_lets_a_device_in_with_its_ceiling_and_nobody_signed_in(book: Book) -> None:
    code = make_code(book)

    _, device, reply = new_phone(book, code.lower().replace("-", " "))

    assert reply.status_code == 200, reply.text
    assert reply.json["device"] == {"id": device, "label": "Phone 3", "ceiling": "operator"}
    assert reply.json["member"] is None


def test_code_counts_once(book: Book) -> None:
    code = make_code(book)
    new_phone(book, code)

    _, _, again = new_phone(book, code)

    assert (again.status_code, again.json["code"]) == (403, "access.wrong_code")


def test_code_counts_for_ten_minutes(book: Book) -> None:
    code = make_code(book)
    book.clock.time += timedelta(minutes=10, seconds=1)

    _, _, reply = new_phone(book, code)

    assert reply.json["code"] == "access.wrong_code"


def test_guessing_codes_slows_down(book: Book) -> None:
    for _ in range(5):
        new_phone(book, "AAAA-AAAA")

    _, _, reply = new_phone(book, make_code(book))

    assert (reply.status_code, reply.json["code"]) == (429, "access.too_many_tries")


def test_only_a_manager_in_a_password_session_makes_codes(book: Book) -> None:
    book.manager.add_member("Dinh Thorne", "grower")
    grower = Desk(book, "Dinh Thorne")

    reply = grower.post("/api/v1/enrolment-codes", {"label": "x", "ceiling": "manager"})

    assert (reply.status_code, reply.json["code"]) == (403, "access.not_permitted")


def test_entry_of_a_grower_on_an_operators_phone_is_an_operators(book: Book) -> None:
    """Authority is the lower of the device's ceiling and the member's role."""
    grower = book.manager.add_member("Dinh Thorne", "grower")
    client, device, _ = new_phone(book, make_code(book))
    text = book.manager.entry(
        "house", "create", device=device, number=1, member=grower, fields={"name": "House 9"}
    )

    reply = client.post(
        "/api/v1/exchange",
        json={"device": device, "cursor": None, "entries": [text]},
        headers=SAME_ORIGIN,
        base_url="https://localhost",
    )

    result = reply.json["results"][0]
    assert (result["outcome"], result["reason"]) == ("waiting", "needs_grower")


def test_pin_verifier_is_pbkdf2_of_the_pin(book: Book) -> None:
    """Checked against hashlib's PBKDF2-HMAC-SHA-256 (RFC 8018), the general-purpose reference."""
    assert book.manager.post("/api/v1/pin", {"pin": "2580"}).json == {"ok": True}

    found = book.manager.get("/api/v1/pins").json["pins"]

    assert [one["member"] for one in found] == [book.manager.member]
    one = found[0]
    expected = hashlib.pbkdf2_hmac("sha256", b"2580", bytes.fromhex(one["salt"]), one["rounds"])
    assert one["hash"] == expected.hex()


@pytest.mark.parametrize(
    ("pin", "code"),
    [
        ("123", "access.pin_digits"),
        ("123456789", "access.pin_digits"),
        ("12a4", "access.pin_digits"),
        ("٢٥٨٠", "access.pin_digits"),
        ("0000", "access.pin_too_easy"),
        ("1234", "access.pin_too_easy"),
        ("8765", "access.pin_too_easy"),
    ],
)
def test_pin_is_refused_when_it_is_no_pin(book: Book, pin: str, code: str) -> None:
    reply = book.manager.post("/api/v1/pin", {"pin": pin})

    assert (reply.status_code, reply.json["code"]) == (422, code)


def test_nobody_but_a_manager_sets_anothers_pin(book: Book) -> None:
    book.manager.add_member("Dinh Thorne", "grower")
    grower = Desk(book, "Dinh Thorne")

    reply = grower.post("/api/v1/pin", {"pin": "2580", "member": book.manager.member})

    assert reply.json["code"] == "access.not_permitted"


def test_pin_of_a_person_who_left_goes_to_no_phone(book: Book) -> None:
    member = book.manager.add_member("Rosa Lind", "operator")
    book.manager.post("/api/v1/pin", {"pin": "2580", "member": member})
    book.manager.exchange(
        book.manager.entry(
            "member", "change", record=member, fields={"active": {"was": True, "to": False}}
        )
    )

    assert book.manager.get("/api/v1/pins").json["pins"] == []
