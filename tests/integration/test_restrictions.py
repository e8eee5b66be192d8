"""Reopening is judged again on arrival; nobody lets people in by the back door.

Intervals are invented inputs, as in the 28 cases of the records reference; case 13 there: the
interval is over and a sign still hangs, so entry is not clear (40 CFR 170.407(b)).
"""

from __future__ import annotations

import itertools
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

import pytest

from support.book import Book, Desk

if TYPE_CHECKING:
    from collections.abc import Iterator


def at(text: str) -> dict[str, Any]:
    return {"local": text, "offset_min": -240, "zone": "America/New_York"}


@pytest.fixture(scope="module")
def book(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Book]:
    one = Book(tmp_path_factory.mktemp("restrictions"))
    yield one
    one.close()


@pytest.fixture(scope="module")
def operator(book: Book) -> Desk:
    book.manager.add_member("Rosa Lind", "operator")
    return Desk(book, "Rosa Lind")


def restricted(desk: Desk, **more: Any) -> str:
    """Create a restriction: sprayed 07:00 to 08:00 local, 4 h, class 5; return its id."""
    record = desk.book.uuid()
    fields = {
        "place": "House 1, Bench 1", "started_at": at("2026-05-12T07:00:00"),
        "ended_at": at("2026-05-12T08:00:00"), "rei": {"value": "4", "unit": "h"},
        "method_class": 5, "ventilation_owed": False, "double_notice": False, **more,
    }  # fmt: skip
    fields = {name: value for name, value in fields.items() if value is not None}
    reply = desk.exchange(desk.entry("restriction", "create", record=record, fields=fields))
    assert reply["results"][0]["outcome"] == "accepted"
    return record


def reopen(desk: Desk, record: str, by: str | None = None) -> tuple[str, str | None]:
    fields = {
        "reopened_at": at("2026-05-12T12:01:00"), "reopened_by": by or desk.member,
        "reopened_name": "Rosa Lind",
    }  # fmt: skip
    reply = desk.exchange(desk.entry("restriction", "change", record=record, fields=fields))
    return reply["results"][0]["outcome"], reply["results"][0]["reason"]


def set_local(book: Book, hour: int, minute: int) -> None:
    book.clock.time = datetime(2026, 5, 12, hour + 4, minute, tzinfo=UTC)  # local is UTC-4


def test_reopening_takes_effect_when_the_interval_is_over(book: Book, operator: Desk) -> None:
    record = restricted(operator)
    set_local(book, 12, 1)  # 08:00 + 4 h = 12:00

    assert reopen(operator, record) == ("accepted", None)


@pytest.mark.parametrize(
    ("hour", "minute", "more"),
    [
        (11, 59, {}),  # the interval runs
        (12, 1, {"ended_at": None}),  # still being sprayed
        (12, 1, {"rei": None, "rei_unknown": True}),  # unknown is never zero
        (12, 1, {"signs_up_at": at("2026-05-12T06:50:00")}),  # case 13: the sign hangs
        (12, 1, {"method_class": 2, "ventilation_owed": True}),  # fog without ventilation
    ],
)  # fmt: skip
def test_reopening_waits_for_a_grower_while_a_condition_is_not_met(
    book: Book, operator: Desk, hour: int, minute: int, more: dict[str, Any]
) -> None:
    record = restricted(operator, **more)
    set_local(book, hour, minute)

    assert reopen(operator, record) == ("waiting", "conditions_not_met")
    held = [one for one in operator.exchange()["records"] if one["kind"] == "restriction"]
    assert all("reopened_at" not in one["fields"] for one in held)


def test_stricter_of_two_undecided_intervals_counts(book: Book, operator: Desk) -> None:
    """4 h become 2 h and, by somebody else, 8 h: until it is decided 8 h hold, to 16:00."""
    record = restricted(operator)
    for hours, outcome in (("2", "accepted"), ("8", "conflicted")):
        rei = {"was": {"value": "4", "unit": "h"}, "to": {"value": hours, "unit": "h"}}
        text = book.manager.entry("restriction", "change", record=record, fields={"rei": rei})
        assert book.manager.exchange(text)["results"][0]["outcome"] == outcome
    set_local(book, 12, 1)

    assert reopen(operator, record) == ("waiting", "conditions_not_met")


def test_reopening_under_another_name_waits(book: Book, operator: Desk) -> None:
    record = restricted(operator)
    set_local(book, 12, 1)

    assert reopen(operator, record, by=book.manager.member) == ("waiting", "conditions_not_met")


def test_signs_down_and_reopening_in_one_exchange_count_in_their_order(
    book: Book, operator: Desk
) -> None:
    record = restricted(operator, signs_up_at=at("2026-05-12T06:50:00"))
    set_local(book, 12, 5)
    down = operator.entry(
        "restriction", "change", record=record,
        fields={"signs_down_at": at("2026-05-12T12:02:00"), "signs_down_by": operator.member},
    )  # fmt: skip
    opened = operator.entry(
        "restriction", "change", record=record,
        fields={"reopened_at": at("2026-05-12T12:03:00"), "reopened_by": operator.member},
    )  # fmt: skip

    outcomes = [one["outcome"] for one in operator.exchange(down, opened)["results"]]

    assert outcomes == ["accepted", "accepted"]


@pytest.mark.parametrize(
    ("action", "changes"),
    [
        ("void", {}),
        ("change", {"rei": {"was": {"value": "4", "unit": "h"}, "to": {"value": "0", "unit": "h"}}}),
        ("change", {"method_class": {"was": 5, "to": 4}}),
    ],
)  # fmt: skip
def test_operator_cannot_void_or_rewrite_a_restriction_that_ended(
    book: Book, operator: Desk, action: str, changes: dict[str, Any]
) -> None:
    record = restricted(operator)

    text = operator.entry("restriction", action, record=record, fields=changes, reason="x")
    result = operator.exchange(text)["results"][0]

    assert (result["outcome"], result["reason"]) == ("waiting", "needs_grower")


def test_technician_may_hang_signs_but_not_reopen(book: Book, operator: Desk) -> None:
    record = restricted(operator)
    book.manager.add_member("Ola Brandt", "technician")
    technician = Desk(book, "Ola Brandt")
    technician.numbers = itertools.count(1)
    up = technician.entry(
        "restriction", "change", record=record,
        fields={"signs_up_at": at("2026-05-12T08:05:00"), "signs_up_by": technician.member},
    )  # fmt: skip

    assert technician.exchange(up)["results"][0]["outcome"] == "accepted"
    set_local(book, 13, 0)
    assert reopen(technician, record) == ("quarantined", "not_permitted")
