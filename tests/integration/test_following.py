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


BENCH, OTHER, AFAR = (f"0190f3a0-0000-7000-8000-00000000000{n}" for n in (1, 2, 3))
NORTH, SOUTH = (f"0190f3a0-0000-7000-8000-0000000000a{n}" for n in (1, 2))
IN_NORTH = {"house": NORTH, "bench": BENCH, "place": "North, Bench 1"}
BESIDE = {"house": NORTH, "bench": OTHER, "place": "North, Bench 2"}
IN_SOUTH = {"house": SOUTH, "bench": AFAR, "place": "South, Bench 1"}


def sprayed_in(operator: Desk, *lines: dict[str, str]) -> Sprayed:
    """Return an application on these places, all in the north house, with its restriction."""
    one = Sprayed(
        operator, house=NORTH, benches=[line["bench"] for line in lines], area="treated_area",
        place="; ".join(line["place"] for line in lines),
    )  # fmt: skip
    assert one.amend("lines", None, list(lines)) == "accepted"
    return one


def restrictions_of(one: Sprayed) -> dict[str, dict[str, Any]]:
    """Return {house: record} of the restrictions that every phone gets for its application."""
    desk = Desk(one.desk.book, "Ines Prado")
    rows: list[dict[str, Any]] = []
    while more := desk.exchange():
        rows += [r for r in more["records"] if r["kind"] == "restriction"]
        if not more["more"]:
            break
    own = [r for r in rows if r["fields"].get("application") == one.application]
    assert len({r["fields"].get("house") for r in own}) == len(own)
    return {r["fields"].get("house"): r for r in own}


def test_bench_that_an_amendment_adds_is_restricted_at_once(operator: Desk) -> None:
    one = sprayed_in(operator, IN_NORTH)

    assert one.amend("lines", [IN_NORTH], [IN_NORTH, BESIDE]) == "accepted"

    assert one.now()["benches"] == [BENCH, OTHER]
    assert one.now()["place"] == "North, Bench 1; North, Bench 2"
    assert one.entries[-1]["reason"] == "follows_application"


def test_bench_taken_away_stays_restricted_until_a_grower_says_why(
    book: Book, operator: Desk
) -> None:
    one = sprayed_in(operator, IN_NORTH, BESIDE)

    assert one.amend("lines", [IN_NORTH, BESIDE], [IN_NORTH]) == "accepted"

    assert one.now()["benches"] == [BENCH, OTHER]
    less = {
        "benches": {"was": [BENCH, OTHER], "to": [BENCH]},
        "place": {"was": "North, Bench 1; North, Bench 2", "to": "North, Bench 1"},
    }
    by_operator = operator.entry("restriction", "change", record=one.restriction, fields=less)
    assert operator.exchange(by_operator)["results"][0]["outcome"] == "waiting"
    assert one.now()["benches"] == [BENCH, OTHER]
    taken = book.manager.entry(
        "restriction", "amend", record=one.restriction, fields=less, reason="as the record says"
    )
    assert book.manager.exchange(taken)["results"][0]["outcome"] == "accepted"
    assert one.now()["benches"] == [BENCH]


def test_house_that_an_amendment_adds_gets_its_own_restriction_once(operator: Desk) -> None:
    one = sprayed_in(operator, IN_NORTH)
    amended = [IN_NORTH, IN_SOUTH]

    assert one.amend("lines", [IN_NORTH], amended) == "accepted"
    assert one.amend("lines", amended, [*amended, BESIDE]) == "accepted"

    found = restrictions_of(one)
    assert set(found) == {NORTH, SOUTH}
    fields = found[SOUTH]["fields"]
    assert fields["benches"] == [AFAR]
    assert fields["place"] == "South, Bench 1"
    assert (fields["ended_at"], fields["rei"]) == (at("08:00"), hours("4"))
    assert fields["area"] == "treated_area"
    assert found[NORTH]["fields"]["benches"] == [BENCH, OTHER]


def test_house_of_a_restriction_that_was_voided_is_not_restricted_anew(
    book: Book, operator: Desk
) -> None:
    one = sprayed_in(operator, IN_NORTH)
    assert one.amend("lines", [IN_NORTH], [IN_NORTH, IN_SOUTH]) == "accepted"
    south = restrictions_of(one)[SOUTH]["id"]
    by_operator = operator.entry("restriction", "void", record=south, fields={}, reason="x")
    assert operator.exchange(by_operator)["results"][0]["outcome"] == "waiting"
    void = book.manager.entry("restriction", "void", record=south, fields={}, reason="not there")
    assert book.manager.exchange(void)["results"][0]["outcome"] == "accepted"

    longer = [{**one.used, "rei": hours("6")}]
    assert one.amend("products", [one.used], longer) == "accepted"
    assert one.amend("lines", [IN_NORTH, IN_SOUTH], [IN_NORTH, BESIDE, IN_SOUTH]) == "accepted"

    assert restrictions_of(one)[SOUTH]["state"] == "void"


def test_phone_that_starts_in_two_houses_gets_no_third_restriction(operator: Desk) -> None:
    """The second house's restriction may come with a later push than the application."""
    book = operator.book
    one = Sprayed(operator, house=NORTH, benches=[BENCH])
    application, north = book.uuid(), book.uuid()
    fields = {
        "started_at": at("07:00"), "products": [one.used], "lines": [IN_NORTH, IN_SOUTH],
    }  # fmt: skip
    kept_out = {"application": application, "house": NORTH, "benches": [BENCH]}
    operator.exchange(
        operator.entry("application", "create", record=application, fields=fields),
        operator.entry("restriction", "create", record=north, fields=kept_out),
    )
    one.application = application
    assert set(restrictions_of(one)) == {NORTH}
