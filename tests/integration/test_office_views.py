"""The office's online views and the password route, over a real app and database."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING, Any

import pytest

from support.book import PASSWORD, Book, Desk
from tepal.services.arrivals import midnight

if TYPE_CHECKING:
    from pathlib import Path

MOMENT = {"local": "2026-05-12T07:40:00", "offset_min": -240, "zone": "America/New_York"}
SIGNED = {
    "started_at": MOMENT,
    "volume": {"value": "10", "unit": "L"},
    "signature": {"name": "Ines Prado", "method": "password", "at": MOMENT},
}


@pytest.fixture
def book(tmp_path: Path) -> Book:
    return Book(tmp_path)


def signed_application(desk: Desk, **fields: Any) -> str:
    record = desk.book.uuid()
    text = desk.entry("application", "create", record=record, fields={**SIGNED, **fields})
    assert desk.exchange(text)["results"][0]["outcome"] == "accepted"
    return record


def litres(was: str, to: str) -> dict[str, Any]:
    return {"volume": {"was": {"value": was, "unit": "L"}, "to": {"value": to, "unit": "L"}}}


def month(desk: Desk) -> dict[str, Any]:
    rows = desk.get("/api/v1/applications?month=2026-05").json["applications"]
    return {row["id"]: row for row in rows}


def history(desk: Desk, record: str, kind: str = "application") -> dict[str, Any]:
    found: dict[str, Any] = desk.get(f"/api/v1/records/{kind}/{record}/history").json
    return found


def test_list_says_amended_only_after_an_amend_took_effect(book: Book) -> None:
    desk = book.manager
    plain, amended = signed_application(desk), signed_application(desk)
    desk.exchange(
        desk.entry("application", "amend", record=amended, fields=litres("10", "12"), reason="typo")
    )

    rows = month(desk)

    assert (rows[plain]["amended"], rows[amended]["amended"]) == (False, True)


def test_list_does_not_say_amended_for_a_request_that_waits(book: Book) -> None:
    book.manager.add_member("Rosa Lind", "operator")
    rosa = Desk(book, "Rosa Lind")
    record = signed_application(rosa)
    rosa.exchange(
        rosa.entry(
            "application", "request", record=record, fields=litres("10", "12"), reason="typo"
        )
    )

    assert month(rosa)[record]["amended"] is False


def test_list_says_amended_when_a_request_was_granted(book: Book) -> None:
    book.manager.add_member("Rosa Lind", "operator")
    rosa = Desk(book, "Rosa Lind")
    record = signed_application(rosa)
    reply = rosa.exchange(
        rosa.entry(
            "application", "request", record=record, fields=litres("10", "12"), reason="typo"
        )
    )
    held = next(one for one in reply["records"] if one["kind"] == "held")
    book.manager.exchange(
        book.manager.entry("held", "decide", record=held["id"], fields={"decision": "accept"})
    )

    row = month(rosa)[record]
    assert (row["amended"], row["fields"]["volume"]["value"]) == (True, "12")


def test_history_names_person_device_reason_and_both_values(book: Book) -> None:
    desk = book.manager
    record = signed_application(desk)
    desk.exchange(
        desk.entry("application", "amend", record=record, fields=litres("10", "12"), reason="typo")
    )

    found = history(desk, record)

    last = found["entries"][-1]
    assert (last["member_name"], last["device_label"], last["reason"]) == (
        "Ines Prado", "browser of Ines Prado", "typo",
    )  # fmt: skip
    assert last["changes"] == litres("10", "12")
    assert found["former"] == {"volume": [{"value": "10", "unit": "L"}]}
    assert found["record"]["fields"]["volume"]["value"] == "12"


def test_history_holds_the_decision_on_a_conflict_of_the_record(book: Book) -> None:
    desk = book.manager
    record = signed_application(desk)
    for value in ("12", "15"):  # both saw 10 L: the second is a conflict
        reply = desk.exchange(
            desk.entry(
                "application", "amend", record=record, fields=litres("10", value), reason="typo"
            )
        )
    conflict = next(one for one in reply["records"] if one["kind"] == "conflict")
    chosen = {"value": {"value": "15", "unit": "L"}, "over": {"value": "12", "unit": "L"}}
    desk.exchange(
        desk.entry("conflict", "decide", record=conflict["id"], fields={"decision": chosen})
    )

    last = history(desk, record)["entries"][-1]

    assert (last["kind"], last["action"]) == ("conflict", "decide")
    assert last["about"] == {
        "field": "volume",
        "current": {"value": "12", "unit": "L"},
        "other": {"value": "15", "unit": "L"},
    }


def test_values_before_the_signature_are_no_former_values(book: Book) -> None:
    desk = book.manager
    record = book.uuid()
    first = {name: SIGNED[name] for name in ("started_at", "volume")}
    desk.exchange(
        desk.entry("application", "create", record=record, fields=first),
        desk.entry("application", "change", record=record, fields=litres("10", "12")),
        desk.entry(
            "application", "change", record=record, fields={"signature": SIGNED["signature"]}
        ),
    )

    assert history(desk, record)["former"] == {}
    assert month(desk)[record]["amended"] is False


def test_history_of_an_unknown_record_says_so(book: Book) -> None:
    reply = book.manager.get(f"/api/v1/records/application/{book.uuid()}/history")

    assert (reply.status_code, reply.json["code"]) == (404, "office.no_such_record")


def password(desk: Desk, member: str, value: str) -> Any:
    return desk.post(f"/api/v1/members/{member}/password", {"password": value})


def new_member(desk: Desk, name: str, role: str) -> str:
    member = desk.book.uuid()
    fields = {"name": name, "role": role, "active": True}
    desk.exchange(desk.entry("member", "create", record=member, fields=fields))
    return member


def test_person_signs_in_with_the_password_a_manager_set(book: Book) -> None:
    member = new_member(book.manager, "Rosa Lind", "operator")

    reply = password(book.manager, member, PASSWORD)

    assert reply.status_code == 200, reply.text
    assert Desk(book, "Rosa Lind").member == member


@pytest.mark.parametrize("role", ["operator", "technician", "grower", "inspector"])
def test_password_is_set_by_a_manager_only(book: Book, role: str) -> None:
    other = new_member(book.manager, "Dinh Thorne", "grower")
    book.manager.add_member("Rosa Lind", role)
    rosa = Desk(book, "Rosa Lind")

    reply = password(rosa, other, PASSWORD)

    assert (reply.status_code, reply.json["code"]) == (403, "access.not_permitted")


def test_password_needs_the_managers_own_session(book: Book) -> None:
    member = new_member(book.manager, "Rosa Lind", "operator")
    book.manager.post("/api/v1/sign-out", {})

    reply = password(book.manager, member, PASSWORD)

    assert (reply.status_code, reply.json["code"]) == (401, "access.no_person")


def test_manager_on_a_phone_of_an_operator_sets_no_password(book: Book) -> None:
    """The lower of device and role counts: the phone was enrolled for an operator."""
    member = book.manager.add_member("Rosa Lind", "operator")
    rosa = Desk(book, "Rosa Lind")
    body = {
        "name": "Ines Prado",
        "password": PASSWORD,
        "device": {"id": rosa.device, "label": "phone"},
    }
    assert rosa.post("/api/v1/sign-in", body).status_code == 200

    reply = password(rosa, member, "another good password")

    assert (reply.status_code, reply.json["code"]) == (403, "access.not_permitted")


def test_operator_in_the_managers_browser_sets_no_password(book: Book) -> None:
    """The other half of the lower of the two: the device may, the person may not."""
    member = book.manager.add_member("Rosa Lind", "operator")
    device = {"id": book.manager.device, "label": "office browser"}
    body = {"name": "Rosa Lind", "password": PASSWORD, "device": device}
    assert book.manager.post("/api/v1/sign-in", body).status_code == 200

    reply = password(book.manager, member, "another good password")

    assert (reply.status_code, reply.json["code"]) == (403, "access.not_permitted")


def test_new_password_ends_the_members_sessions(book: Book) -> None:
    member = book.manager.add_member("Rosa Lind", "operator")
    rosa = Desk(book, "Rosa Lind")

    password(book.manager, member, "another good password")

    assert rosa.get("/api/v1/session").json["member"] is None


@pytest.mark.parametrize("value", ["short", "x" * 201])
def test_password_of_a_wrong_length_is_refused(book: Book, value: str) -> None:
    member = new_member(book.manager, "Rosa Lind", "operator")

    reply = password(book.manager, member, value)

    assert reply.json["code"] == "access.password_length"
    assert json.loads(reply.text)["fields"] == {"least": 10, "most": 200}


def test_password_for_somebody_the_office_does_not_know_is_refused(book: Book) -> None:
    reply = password(book.manager, book.uuid(), PASSWORD)

    assert (reply.status_code, reply.json["code"]) == (404, "members.no_such_member")


def test_arrivals_tell_who_sent_how_much_since_midnight(book: Book) -> None:
    """The book's clock: 12 May 2026, 14:00 UTC; midnight by the nursery's clock begins the count."""
    book.manager.add_member("Rosa Lind", "operator")
    rosa = Desk(book, "Rosa Lind")
    signed_application(rosa, mix_name="Yesterday")
    book.clock.time += timedelta(days=1)
    today = signed_application(rosa, mix_name="Today")
    for _ in range(2):
        rosa.exchange(rosa.entry("observation", "create", fields={"plot": 1}))

    reply = book.manager.get("/api/v1/arrivals").json

    [row] = [one for one in reply["rows"] if one["member_name"] == "Rosa Lind"]
    assert row["entries"] == 3
    assert (row["member"], row["device"]) == (rosa.member, rosa.device)
    assert row["device_label"]
    assert row["applications"] == [{"id": today, "mix_name": "Today", "started_at": MOMENT}]
    assert row["last_at"] > reply["since"]


@pytest.mark.parametrize(
    ("zone", "now", "since"),
    [
        # by hand: EDT is UTC-4, EST is UTC-5; the clocks go back on 1 November 2026 at 02:00 EDT
        ("America/New_York", "2026-05-12T03:59:00", "2026-05-11T04:00:00"),
        ("America/New_York", "2026-05-12T04:00:00", "2026-05-12T04:00:00"),
        ("America/New_York", "2026-11-01T17:00:00", "2026-11-01T04:00:00"),
        ("America/New_York", "2026-11-02T17:00:00", "2026-11-02T05:00:00"),
        ("Nowhere/At_All", "2026-05-12T03:59:00", "2026-05-12T00:00:00"),
    ],
)
def test_midnight_is_the_nurserys(zone: str, now: str, since: str) -> None:
    at = datetime.fromisoformat(now).replace(tzinfo=UTC)
    assert midnight(zone, at).isoformat()[:19] == since
