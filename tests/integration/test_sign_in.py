"""Who is let in, and onto which device: what a name, a code or a copied id is good for."""

from __future__ import annotations

import threading
from typing import TYPE_CHECKING, Any

import pytest
from sqlalchemy import delete

from support.book import PASSWORD, SAME_ORIGIN, Book, Desk
from tepal.services import access, enrolment
from tepal.services.access import AccessError
from tepal.services.server_acts import Chance
from tepal.store.database import write_session
from tepal.store.models import EnrolmentCode

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

HTTPS = "https://localhost"


@pytest.fixture(scope="module")
def book(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Book]:
    made = Book(tmp_path_factory.mktemp("sign_in"))
    made.manager.add_member("Rosa Lind", "operator")
    made.manager.add_member("Dinh Thorne", "grower")
    made.manager.add_member("Tess Varga", "technician")  # guessed at
    made.manager.add_member("Edda Quill", "inspector")  # likewise
    yield made
    made.close()


def post(book: Book, path: str, body: dict[str, Any], address: str = "10.1.0.1") -> Any:
    """POST from a browser without cookies."""
    return book.app.test_client().post(
        f"/api/v1/{path}", json=body, headers=SAME_ORIGIN, base_url=HTTPS,
        environ_overrides={"REMOTE_ADDR": address},
    )  # fmt: skip


def sign_in(book: Book, name: str, device: str, password: str = PASSWORD) -> Any:
    body = {"name": name, "password": password, "device": {"id": device, "label": "x"}}
    return post(book, "sign-in", body)


def code(book: Book, ceiling: str) -> str:
    made = book.manager.post("/api/v1/enrolment-codes", {"label": "x", "ceiling": ceiling})
    return str(made.json["code"])


def test_person_who_was_voided_signs_in_nowhere(book: Book) -> None:
    member = book.manager.add_member("Ivo Kern", "grower")
    text = book.manager.entry("member", "void", record=member, reason="entered twice")
    assert book.manager.exchange(text)["results"][0]["outcome"] == "accepted"

    reply = sign_in(book, "Ivo Kern", book.uuid())

    assert (reply.status_code, reply.json["code"]) == (401, "access.wrong_name_or_password")


def test_wrong_password_costs_what_an_unknown_name_costs(
    book: Book, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Patched to count: the time itself is no figure for a busy machine."""
    hashed: list[str] = []
    real = access.hash_password
    monkeypatch.setattr(access, "hash_password", lambda *a: hashed.append("x") or real(*a))

    def cost(name: str) -> int:
        hashed.clear()
        sign_in(book, name, book.uuid(), "a wrong password")
        return len(hashed)

    assert cost("Edda Quill") == cost("Nobody At All") == 1


def test_copied_id_of_a_device_gives_no_higher_ceiling(book: Book) -> None:
    """Ids of devices are no secret: every device pulls them."""
    office = Desk(book, "Dinh Thorne")

    taken = sign_in(book, "Rosa Lind", office.device)
    again = sign_in(book, "Dinh Thorne", office.device)

    assert (taken.status_code, taken.json["code"]) == (403, "access.device_above_role")
    assert "Set-Cookie" not in taken.headers
    assert again.status_code == 200  # the own browser after its cookies were lost


def test_code_for_a_wall_tablet_lets_nobody_onto_the_managers_device(book: Book) -> None:
    body = {"code": code(book, "display"), "device": {"id": book.manager.device, "label": "x"}}

    reply = post(book, "enrol", body)

    assert (reply.status_code, reply.json["code"]) == (403, "access.device_above_role")


def test_operator_signs_in_on_a_growers_device_that_is_in_hand(book: Book) -> None:
    """The shared phone: its own cookie proves which device it is."""
    phone = Desk(book, "Dinh Thorne")
    body = {
        "name": "Rosa Lind", "password": PASSWORD, "device": {"id": phone.device, "label": "x"},
    }  # fmt: skip

    assert phone.post("/api/v1/sign-in", body).status_code == 200


def test_token_of_other_letters_is_a_wrong_token(book: Book) -> None:
    body = {
        "name": "A", "password": PASSWORD, "device": {"id": book.uuid(), "label": "x"},
        "token": "clé", "establishment": "A", "zone": "Etc/UTC",
    }  # fmt: skip

    reply = post(book, "set-up", body)

    assert (reply.status_code, reply.json["code"]) == (403, "access.wrong_set_up_token")


@pytest.mark.parametrize(
    ("path", "body"),
    [
        ("members/{member}/password", {"password": "ten letters \ud800"}),
        ("members/{member}/password", {"password": "ten letters \x07"}),
        ("enrolment-codes", {"label": "a\x00b", "ceiling": "operator"}),
        ("feeds", {"label": "a\x00b"}),
        ("pin", {"pin": "2580", "member": "a\x00b"}),
    ],
)
def test_text_that_no_database_takes_is_named(book: Book, path: str, body: dict[str, str]) -> None:
    reply = book.manager.post(f"/api/v1/{path.format(member=book.manager.member)}", body)

    assert (reply.status_code, reply.json["code"]) == (422, "http.invalid")


def test_nobody_who_is_not_on_file_gets_a_pin(book: Book) -> None:
    reply = book.manager.post("/api/v1/pin", {"pin": "2580", "member": book.uuid()})

    assert (reply.status_code, reply.json["code"]) == (404, "members.no_such_member")


@pytest.mark.parametrize(("n_proxies", "status"), [(0, 429), (1, 403)])
def test_behind_a_proxy_each_address_has_its_own_tries(
    tmp_path: Path, n_proxies: int, status: int
) -> None:
    """What a client says of its address counts only where a proxy is known to write it."""
    book = Book(tmp_path, n_proxies=n_proxies)
    body = {"code": "WRONG-22", "device": {"id": book.uuid(), "label": "x"}}

    def guess(address: str) -> int:
        return book.app.test_client().post(
            "/api/v1/enrol", json=body, base_url=HTTPS,
            headers={**SAME_ORIGIN, "X-Forwarded-For": address},
        ).status_code  # fmt: skip

    assert [guess("10.0.0.66") for _ in range(6)] == [403] * 5 + [429]
    assert guess("10.0.0.7") == status
    book.close()


def test_tries_at_the_same_moment_are_no_free_tries(book: Book) -> None:
    start = threading.Barrier(12)
    found: list[int] = []

    def guess() -> None:
        start.wait()
        found.append(sign_in(book, "Tess Varga", book.uuid(), "a wrong password").status_code)

    threads = [threading.Thread(target=guess) for _ in range(12)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()

    assert sorted(found) == [401] * 5 + [429] * 7


def test_code_lets_one_device_in_where_two_come_at_once(book_on_each: Book) -> None:
    book = book_on_each
    shown = code(book, "operator")
    outcomes: list[str] = []

    def come() -> None:
        with book.app.app_context(), write_session() as db:
            try:
                enrolment.enrol(
                    db, shown, book.uuid(), Chance(book.clock.now, book.random.randbytes)
                )
                outcomes.append("in")
            except AccessError as error:
                outcomes.append(error.code)

    second = threading.Thread(target=come)
    with book.app.app_context(), write_session() as first, first.begin():
        first.execute(delete(EnrolmentCode))  # what the first of the two has just done
        second.start()
        second.join(0.5)
    second.join()

    assert outcomes == ["access.wrong_code"]
