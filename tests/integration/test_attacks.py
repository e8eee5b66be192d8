"""What a stranger, a stolen phone or a broken file could try: refused or quarantined, nothing lost."""

from __future__ import annotations

import gzip
import io
import json
import zipfile
from typing import TYPE_CHECKING, Any

import pytest

from support.book import PASSWORD, SAME_ORIGIN, Book, Desk
from tepal.app import create_app
from tepal.services import limits
from tepal.services.limits import Allowance, SqlTally, TryLimiter

if TYPE_CHECKING:
    from collections.abc import Iterator

    from flask import Flask

HTTPS = "https://localhost"
STRANGER = "00000000-0000-7000-8000-0000000000ff"


@pytest.fixture(scope="module")
def book(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Book]:
    made = Book(tmp_path_factory.mktemp("attacks"))
    made.manager.add_member("Rosa Lind", "operator")
    yield made
    made.close()


@pytest.fixture(scope="module")
def phone(book: Book) -> Desk:
    return Desk(book, "Rosa Lind")


def outcome(desk: Desk, text: str) -> tuple[str, str | None]:
    result = desk.exchange(text)["results"][0]
    return result["outcome"], result["reason"]


def held_texts(book: Book) -> list[str]:
    book.manager.cursor = None
    records = book.manager.exchange()["records"]
    return [one["fields"]["text"] for one in records if one["kind"] == "held"]


@pytest.mark.parametrize(
    ("forged", "reason"),
    [
        ({"member": STRANGER}, "member_unknown"),
        ({"device": STRANGER}, "device_not_of_session"),
        ({"kind": "member_secret"}, "kind_unknown"),
        ({"action": "delete"}, "malformed"),
        ({"form_version": 999}, "form_newer_than_server"),
        ({"changes": {"password_hash": {"was": None, "to": "x"}}}, "invalid_fields"),
        ({"reason": "x" * 4001}, "malformed"),
    ],
)
def test_forged_entry_is_quarantined_whole(
    book: Book, phone: Desk, forged: dict[str, Any], reason: str
) -> None:
    text = json.dumps(json.loads(phone.entry("calibration", "create")) | forged)

    assert outcome(phone, text) == ("quarantined", reason)
    assert text in held_texts(book)


def test_operator_signing_as_the_manager_by_pin_gets_no_password_act(
    book: Book, phone: Desk
) -> None:
    """The name in an entry is a mark; what needs a password stays shut."""
    fields = {"role": {"was": "operator", "to": "manager"}}
    text = phone.entry(
        "member", "change", record=phone.member, member=book.manager.member, fields=fields
    )

    assert outcome(phone, text) == ("quarantined", "not_permitted")


def test_replayed_code_lets_nobody_in_and_the_first_device_stays(book: Book) -> None:
    code = book.manager.post("/api/v1/enrolment-codes", {"label": "x", "ceiling": "operator"}).json
    replies = [
        book.app.test_client().post(
            "/api/v1/enrol", headers=SAME_ORIGIN, base_url=HTTPS,
            json={"code": code["code"], "device": {"id": book.uuid(), "label": "x"}},
        )
        for _ in range(2)
    ]  # fmt: skip

    assert [reply.status_code for reply in replies] == [200, 403]
    assert replies[1].json["code"] == "access.wrong_code"


STATE_CHANGES = [
    "/api/v1/imports", "/api/v1/unsent-files", "/api/v1/export", "/api/v1/enrolment-codes",
    "/api/v1/pin", "/api/v1/feeds",
]  # fmt: skip


@pytest.mark.parametrize("address", STATE_CHANGES)
def test_post_from_another_site_does_nothing(book: Book, address: str) -> None:
    for headers in ({"Sec-Fetch-Site": "cross-site"}, {"Origin": "https://evil.example"}, {}):
        reply = book.manager.client.post(address, json={}, headers=headers, base_url=HTTPS)

        assert (reply.status_code, reply.json["code"]) == (403, "access.other_site")


@pytest.mark.parametrize("address", ["/api/v1/imports/dry-run", "/api/v1/unsent-files"])
def test_gzip_bomb_is_refused_before_it_is_unpacked(book: Book, address: str) -> None:
    bomb = gzip.compress(b"[" + b"0" * (17 << 20) + b"]")
    reply = book.manager.client.post(
        address, data=bomb, base_url=HTTPS, content_type="application/json",
        headers={**SAME_ORIGIN, "Content-Encoding": "gzip"},
    )  # fmt: skip

    assert (len(bomb) < 100_000, reply.status_code) == (True, 413)


@pytest.mark.parametrize(
    "name", ["../../etc/passwd", "C:\\Windows\\x", "a\x00b", "/etc/passwd", "x" * 300]
)
def test_file_name_never_becomes_a_path(book: Book, name: str) -> None:
    body = {"name": name, "content": "TmFtZQpOb3J0aAo=", "kind": "house"}  # "Name\nNorth\n"
    plan = book.manager.post("/api/v1/imports/dry-run", body)
    label = book.manager.entry(
        "label_file",
        "create",
        fields={"sort": "sds", "file_name": name, "sha256": "b" * 64, "size": 9},
    )
    book.manager.exchange(label)

    reply = book.manager.post("/api/v1/export", {})

    assert plan.status_code in (200, 422)
    with zipfile.ZipFile(io.BytesIO(reply.data)) as packed:
        for inside in packed.namelist():
            assert not inside.startswith("/")
            assert not {"..", "etc", "Windows"} & set(inside.replace("\\", "/").split("/"))


@pytest.mark.parametrize(
    "address",
    ["/api/v1/photos/..%2f..%2fetc", "/app/..%2f..%2fpyproject.toml", "/app/../../pyproject.toml"],
)
def test_path_out_of_the_folder_is_refused(book: Book, address: str) -> None:
    assert book.manager.get(address).status_code in (404, 422)


def test_tries_slow_down_five_free_then_doubling_to_a_quarter_of_an_hour() -> None:
    limiter, waits, now = TryLimiter(), [], 0.0
    for _ in range(17):
        assert limiter.take("enrol", now) == 0
        waits.append(limiter.take("enrol", now) if len(waits) >= 4 else 0)
        now += waits[-1]

    assert waits == [0, 0, 0, 0, 1, 2, 4, 8, 16, 32, 64, 128, 256, 512, 900, 900, 900]


def test_allowance_is_used_up_and_comes_back() -> None:
    allowance = Allowance(10, 0.5)

    assert [allowance.take("phone", 5, 0.0) for _ in range(3)] == [0, 0, 10]
    assert allowance.take("other", 10, 0.0) == 0
    assert allowance.take("phone", 1, 2.0) == 0  # 2 s at 0.5 a second


@pytest.fixture
def tally(book: Book) -> Iterator[SqlTally]:
    with book.app.app_context():
        yield SqlTally()


def test_wrong_tries_in_one_process_slow_down_the_others(tally: SqlTally) -> None:
    one, other = TryLimiter(tally), TryLimiter(SqlTally())
    waits = [limiter.take("Somebody", 1000.0) for _ in range(3) for limiter in (one, other)]

    assert waits == [0, 0, 0, 0, 0, 1]

    one.succeeded("Somebody")
    assert other.take("Somebody", 1000.0) == 0


def test_allowance_is_one_for_all_processes_but_for_a_share(tally: SqlTally) -> None:
    first, second = (Allowance(10, 0.5, sort="t", share=3, tally=tally) for _ in range(2))

    taken = [process.take("phone", 1, 0.0) for _ in range(5) for process in (first, second)]

    assert taken == [0] * 9 + [2]  # the tenth lies in the first one's share; 1 at 0.5 a second
    assert first.take("phone", 1, 0.0) == 0
    assert first.take("phone", 1, 0.0) == second.take("phone", 1, 0.0) == 2
    assert first.take("phone", 1, 2.0) == 0


def test_ever_new_names_do_not_fill_the_disk(
    tally: SqlTally, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(limits, "_MOST_ROWS", 4)
    for n in range(8):
        TryLimiter(tally).take(f"guess {n}", 9e9 + n)

    found = [tally.read("tries", f"guess {n}") is not None for n in range(8)]
    assert found == [False] * 4 + [True] * 4


def test_wrong_passwords_slow_down_also_when_another_process_answers(book: Book) -> None:
    book.manager.add_member("Ulf Roth", "operator")
    body = {"name": "Ulf Roth", "device": {"id": book.uuid(), "label": "x"}}

    def try_once(app: Flask, password: str = "wrong wrong wrong") -> Any:
        return app.test_client().post(
            "/api/v1/sign-in", json=body | {"password": password}, headers=SAME_ORIGIN,
            base_url=HTTPS,
        )  # fmt: skip

    second = create_app(book.app.extensions["tepal_config"], book.app.extensions["tepal_chance"])
    codes = [try_once(app).status_code for app in (book.app, second) * 3]
    right = try_once(second, PASSWORD)

    assert codes == [401] * 5 + [429]
    assert (right.status_code, right.json["code"]) == (429, "access.too_many_tries")


def test_device_that_asks_too_much_waits_and_loses_nothing(
    book: Book, phone: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    allowances = book.app.extensions["tepal_allowances"]
    monkeypatch.setitem(allowances, "rounds", Allowance(1, 0.1))
    text = phone.entry("calibration", "create", fields={"note": "kept"})
    body = {"device": phone.device, "entries": [text]}
    phone.post("/api/v1/exchange", {"device": phone.device})

    refused = phone.post("/api/v1/exchange", body)
    book.clock.time = book.clock.time.replace(hour=book.clock.time.hour + 1)
    taken = phone.post("/api/v1/exchange", body)

    assert (refused.status_code, refused.json["code"]) == (429, "access.too_much")
    assert refused.json["retryable"] is True
    assert taken.json["results"][0]["outcome"] == "accepted"


def test_guessed_codes_of_one_address_do_not_lock_out_another(book: Book) -> None:
    body = {"code": "WRONG-22", "device": {"id": book.uuid(), "label": "x"}}

    def guess(address: str) -> int:
        return book.app.test_client().post(
            "/api/v1/enrol", json=body, headers=SAME_ORIGIN, base_url=HTTPS,
            environ_overrides={"REMOTE_ADDR": address},
        ).status_code  # fmt: skip

    assert [guess("10.0.0.66") for _ in range(6)] == [403] * 5 + [429]
    assert guess("10.0.0.7") == 403


def test_session_of_a_person_who_left_opens_nothing(book: Book) -> None:
    member = book.manager.add_member("Ivo Kern", "grower")
    desk = Desk(book, "Ivo Kern")
    fields = {"active": {"was": True, "to": False}}
    book.manager.exchange(book.manager.entry("member", "change", record=member, fields=fields))

    replies = [
        desk.post("/api/v1/imports", {"name": "x", "content": "", "kind": "lot"}),
        desk.post("/api/v1/pin", {"pin": "2580"}),
        desk.get(f"/api/v1/trials/{STRANGER}/papers/mixing-sheet?treatment=1"),
    ]

    assert [(one.status_code, one.json["code"]) for one in replies] == [
        (401, "access.no_person")
    ] * 3
    assert json.loads(desk.get("/api/v1/session").text)["is_set_up"] is True
    assert all(PASSWORD not in one.text for one in replies)
