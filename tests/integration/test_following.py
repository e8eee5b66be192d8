"""A restriction follows its application: stricter at once, shorter only by a grower.

Intervals are invented inputs, as in the records reference. 40 CFR 170.407(c): the longest interval
of the mix, from the end of the application.
"""

from __future__ import annotations

from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

import pytest

from support.book import Book, Desk

if TYPE_CHECKING:
    from collections.abc import Iterator


def at(text: str) -> dict[str, Any]:
    return {"local": f"2026-05-12T{text}:00", "offset_min": -240, "zone": "America/New_York"}


def hours(value: str) -> dict[str, str]:
    return {"value": value, "unit": "h"}


@pytest.fixture(scope="module")
def book(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Book]:
    one = Book(tmp_path_factory.mktemp("following"))
    one.manager.add_member("Rosa Lind", "operator")
    yield one
    one.close()


@pytest.fixture(scope="module")
def operator(book: Book) -> Desk:
    return Desk(book, "Rosa Lind")


class Sprayed:
    """An application of 07:00 to 08:00 with 4 h, signed, and its restriction."""

    def __init__(self, desk: Desk, **more: Any) -> None:
        self.desk = desk
        self.product, self.application, self.restriction = (desk.book.uuid() for _ in range(3))
        self.used = {"product": self.product, "name": "Aster 5", "rei": hours("4")}
        manager = desk.book.manager
        made = manager.entry(
            "product", "create", record=self.product, fields={"name": "Aster 5", "rei": hours("4")}
        )
        assert manager.exchange(made)["results"][0]["outcome"] == "accepted"
        sprayed = {
            "started_at": at("07:00"), "ended_at": at("08:00"), "products": [self.used],
            "signature": {"member": desk.member, "name": "Rosa Lind", "method": "pin"},
        }  # fmt: skip
        kept_out = {
            "application": self.application, "place": "House 1", "started_at": at("07:00"),
            "ended_at": at("08:00"), "rei": hours("4"), "rei_unknown": False, "method_class": 5,
            "ventilation_owed": False, "double_notice": False, **more,
        }  # fmt: skip
        replies = desk.exchange(
            desk.entry("application", "create", record=self.application, fields=sprayed),
            desk.entry("restriction", "create", record=self.restriction, fields=kept_out),
        )["results"]
        assert [one["outcome"] for one in replies] == ["accepted", "accepted"]

    def amend(self, name: str, was: Any, to: Any, desk: Desk | None = None) -> str:
        by = desk or self.desk.book.manager
        text = by.entry(
            "application", "amend", record=self.application, reason="read wrongly",
            fields={name: {"was": was, "to": to}},
        )  # fmt: skip
        return str(by.exchange(text)["results"][0]["outcome"])

    def now(self) -> dict[str, Any]:
        """Return the restriction's fields as every phone gets them."""
        reply = self.desk.book.manager.get(
            f"/api/v1/records/restriction/{self.restriction}/history"
        )
        self.entries = reply.json["entries"]
        fields: dict[str, Any] = reply.json["record"]["fields"]
        return fields


def test_later_end_moves_the_restriction_at_once_and_says_so(book: Book, operator: Desk) -> None:
    one = Sprayed(operator)

    assert one.amend("ended_at", at("08:00"), at("09:30")) == "accepted"

    assert one.now()["ended_at"] == at("09:30")
    last = one.entries[-1]
    assert last["reason"] == "follows_application"
    assert last["changes"] == {"ended_at": {"was": at("08:00"), "to": at("09:30")}}
    assert last["member"] == book.manager.member
    pulled = [r for r in operator.exchange()["records"] if r["id"] == one.restriction]
    assert pulled[-1]["fields"]["ended_at"] == at("09:30")


def test_earlier_end_and_shorter_interval_wait_for_a_grower(book: Book, operator: Desk) -> None:
    one = Sprayed(operator)

    assert one.amend("ended_at", at("08:00"), at("07:30")) == "accepted"
    assert one.amend("products", [one.used], [{**one.used, "rei": hours("2")}]) == "accepted"

    assert (one.now()["ended_at"], one.now()["rei"]) == (at("08:00"), hours("4"))
    shorter = {
        "ended_at": {"was": at("08:00"), "to": at("07:30")},
        "rei": {"was": hours("4"), "to": hours("2")},
    }
    ask = operator.entry(
        "restriction", "request", record=one.restriction, fields=shorter, reason="x"
    )
    assert operator.exchange(ask)["results"][0]["outcome"] == "waiting"
    take = book.manager.entry(
        "restriction", "amend", record=one.restriction, fields=shorter, reason="as the record says"
    )
    assert book.manager.exchange(take)["results"][0]["outcome"] == "accepted"
    assert (one.now()["ended_at"], one.now()["rei"]) == (at("07:30"), hours("2"))


def test_longer_interval_of_record_or_register_moves_it(book: Book, operator: Desk) -> None:
    by_record, by_register = Sprayed(operator), Sprayed(operator)

    used = by_record.used
    assert by_record.amend("products", [used], [{**used, "rei": hours("12")}]) == "accepted"
    corrected = book.manager.entry(
        "product", "change", record=by_register.product,
        fields={"rei": {"was": hours("4"), "to": hours("24")}},
    )  # fmt: skip
    assert book.manager.exchange(corrected)["results"][0]["outcome"] == "accepted"

    assert by_record.now()["rei"] == hours("12")
    assert by_register.now()["rei"] == hours("24")
    assert by_register.entries[-1]["reason"] == "follows_application"


def test_interval_taken_out_is_unknown_and_not_zero(operator: Desk) -> None:
    one = Sprayed(operator)

    assert one.amend("products", [one.used], [{"product": None, "name": "Aster 5"}]) == "accepted"

    fields = one.now()
    assert (fields.get("rei"), fields["rei_unknown"]) == (None, True)


def test_reopening_on_the_shorter_interval_is_taken_back(book: Book, operator: Desk) -> None:
    """Reopened at 12:05 on 4 h; at 12:10 the record says 12 h: nobody goes in until 20:00."""
    reopened = {"reopened_at": at("12:05"), "reopened_by": operator.member, "reopened_name": "R"}
    one = Sprayed(operator)
    book.clock.time = datetime(2026, 5, 12, 16, 5, tzinfo=UTC)
    text = operator.entry("restriction", "change", record=one.restriction, fields=reopened)
    assert operator.exchange(text)["results"][0]["outcome"] == "accepted"
    book.clock.time = datetime(2026, 5, 12, 16, 10, tzinfo=UTC)

    assert one.amend("products", [one.used], [{**one.used, "rei": hours("12")}]) == "accepted"

    assert "reopened_at" not in one.now()
    assert one.now()["rei"] == hours("12")


def test_request_that_waits_moves_nothing_until_a_grower_accepts(
    book: Book, operator: Desk
) -> None:
    one = Sprayed(operator)
    assert one.amend("ended_at", at("08:00"), at("09:00"), operator) == "waiting"
    assert one.now()["ended_at"] == at("08:00")
    held = [r for r in book.manager.exchange()["records"] if r["kind"] == "held"]
    [case] = [r for r in held if r["fields"]["of_id"] == one.application]

    yes = book.manager.entry("held", "decide", record=case["id"], fields={"decision": "accept"})
    assert book.manager.exchange(yes)["results"][0]["outcome"] == "accepted"

    assert one.now()["ended_at"] == at("09:00")


def test_end_that_arrives_after_the_record_was_changed_follows(book: Book, operator: Desk) -> None:
    """The office changed the end before the phone's end of the restriction had arrived."""
    one = Sprayed(operator, ended_at=None)
    assert one.amend("ended_at", at("08:00"), at("09:00")) == "accepted"
    assert "ended_at" not in one.now()

    end = operator.entry(
        "restriction", "change", record=one.restriction, fields={"ended_at": at("08:00")}
    )
    assert operator.exchange(end)["results"][0]["outcome"] == "accepted"

    assert one.now()["ended_at"] == at("09:00")
