"""What the office knew more: the checks again when an application has arrived.

Intervals are invented inputs, no label's. The label's interval is 14 days; the other phone sprayed
the same a.i. 3 days before, which the operator's phone had not heard.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest

from support.book import Book, Desk

if TYPE_CHECKING:
    from collections.abc import Iterator


def at(text: str) -> dict[str, Any]:
    return {"local": text, "offset_min": -240, "zone": "America/New_York"}


@pytest.fixture(scope="module")
def book(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Book]:
    one = Book(tmp_path_factory.mktemp("later"))
    yield one
    one.close()


def create(desk: Desk, kind: str, fields: dict[str, Any]) -> str:
    record = desk.book.uuid()
    reply = desk.exchange(desk.entry(kind, "create", record=record, fields=fields))
    assert reply["results"][0]["outcome"] == "accepted", reply["results"]
    return record


def test_application_of_another_phone_is_known_later(book: Book) -> None:
    desk = book.manager
    ai = [{"ai": "daminozide", "strength": {"value": "85", "unit": "%"}, "basis": "w_w"}]
    product = create(
        desk, "product",
        {
            "name": "Halfpace SG", "country": "US", "ingredients": ai, "physical_form": "dry",
            "uses": [{"crop": "Lantana", "min_interval": {"value": "14", "unit": "d"}}],
        },
    )  # fmt: skip
    lot = create(desk, "lot", {"code": "1-07", "crop": "Lantana"})

    def application(day: str, checks: list[dict[str, Any]]) -> str:
        line = {"lot": lot, "place": "House 1, Bench 1", "crop": "Lantana"}
        used = {"product": product, "name": "Halfpace SG", "kind": "product", "ingredients": ai}
        return create(
            desk, "application",
            {
                "lines": [line], "products": [used], "method": "spray", "checks": checks,
                "started_at": at(f"{day}T07:00:00"), "ended_at": at(f"{day}T08:00:00"),
            },
        )  # fmt: skip

    second = application("2026-05-12", [])

    def codes(record: str) -> list[str]:
        found = desk.get(f"/api/v1/applications/{record}/later").json["findings"]
        return [one["code"] for one in found]

    assert "checks.interval_too_short" not in codes(second)
    first = application("2026-05-09", [])  # the other phone gets signal only now
    found = desk.get(f"/api/v1/applications/{second}/later").json["findings"]
    (late,) = [one for one in found if one["code"] == "checks.interval_too_short"]
    assert (late["severity"], late["about"]) == ("stop", "Halfpace SG")
    assert "checks.interval_too_short" not in codes(first)

    # two people copied other intervals from the label, undecided: the longer one counts, 3 days or 1
    for days, outcome in (("1", "accepted"), ("4", "conflicted")):
        uses = [{"crop": "Lantana", "min_interval": {"value": days, "unit": "d"}}]
        was = [{"crop": "Lantana", "min_interval": {"value": "14", "unit": "d"}}]
        text = desk.entry(
            "product", "change", record=product, fields={"uses": {"was": was, "to": uses}}
        )
        assert desk.exchange(text)["results"][0]["outcome"] == outcome
    assert "checks.interval_too_short" in codes(second)

    told = [{"code": "checks.interval_too_short", "severity": "stop", "about": "Halfpace SG"}]
    assert "checks.interval_too_short" not in codes(application("2026-05-13", told))


def test_stock_and_typed_watering_are_known_to_the_office(book: Book) -> None:
    """100 mL came, another phone had used 80: 30 mL were not there. Water was due 2 h after the end."""
    desk = book.manager
    product = create(
        desk, "product",
        {
            "name": "Greenstop SL", "country": "US", "physical_form": "liquid",
            "water_wait": {"value": "4", "unit": "h"}, "uses": [{"crop": "Lantana"}],
        },
    )  # fmt: skip
    batch = create(
        desk, "batch",
        {
            "product": product, "code": "B1", "received_on": "2026-05-01",
            "amount": {"value": "100", "unit": "mL"},
        },
    )  # fmt: skip
    create(  # one that came afterwards was not there
        desk, "batch",
        {
            "product": product, "code": "B2", "received_on": "2026-06-01",
            "amount": {"value": "900", "unit": "mL"},
        },
    )  # fmt: skip

    def application(day: str, amount: str, **more: Any) -> str:
        used = {
            "product": product, "name": "Greenstop SL", "kind": "product", "batch": batch,
            "amount": {"value": amount, "unit": "mL"},
        }  # fmt: skip
        return create(
            desk, "application",
            {
                "lines": [{"place": "House 1", "crop": "Lantana"}], "products": [used],
                "method": "spray", "started_at": at(f"{day}T07:00:00"),
                "ended_at": at(f"{day}T08:00:00"), **more,
            },
        )  # fmt: skip

    def found(record: str) -> dict[str, dict[str, Any]]:
        reply = desk.get(f"/api/v1/applications/{record}/later").json["findings"]
        return {one["code"]: one["context"] for one in reply}

    own = application("2026-05-20", "30", water_due_at=at("2026-05-20T12:00:00"))
    assert {"checks.stock_short", "checks.water_due"}.isdisjoint(found(own))  # border: 4 h are 4 h

    application("2026-05-19", "80")  # the other phone gets signal only now
    short = found(own)["checks.stock_short"]
    assert (short["on_hand"], short["needed"]) == ("20 mL", "30 mL")
    application("2026-05-21", "10")  # later uses take nothing from it
    assert found(own)["checks.stock_short"]["on_hand"] == "20 mL"

    early = application("2026-05-22", "1", water_due_at=at("2026-05-22T10:00:00"))
    assert found(early)["checks.water_due"]["due"] == "10:00"

    count = {"value": "45", "unit": "mL"}
    create(
        desk, "stock_count",
        {"batch": batch, "counted_at": at("2026-05-19T18:00:00"), "amount": count},
    )  # fmt: skip
    assert "checks.stock_short" not in found(own)
