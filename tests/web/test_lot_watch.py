"""An ordinary lot watched: what is asked about a number, and what its growth is said to be."""

from __future__ import annotations

from typing import Any

import pytest

from support.node_calls import call_js

pytestmark = pytest.mark.node

NUMBERS = {"decimal": ".", "thousands": ""}


def many(name: str, cases: list[list[Any]]) -> list[Any]:
    """Call a function of lot-watch.js once for each list of arguments, in one process."""
    return [
        one.get("value", one.get("error")) for one in call_js("state/lot-watch.js", name, cases)
    ]


def test_a_number_that_no_plant_has_is_refused() -> None:
    cases = [("0", 100_000, None), ("14.65", 100_000, None), ("-0.1", 100_000, "below_0"),
             ("100001", 100_000, "too_large"), ("100.5", 100, "too_large"),
             ("14.651", 100_000, "too_fine")]  # fmt: skip
    assert many("numberProblem", [[value, most] for value, most, _ in cases]) == [
        problem for *_, problem in cases
    ]


def test_a_number_of_a_lot_is_asked_about_against_the_time_before() -> None:
    seen = [{"day": "2026-05-08", "fields": {"m_height": "14.6", "m_flowers": "9"}}]
    cases: list[tuple[dict[str, str], str, list[tuple[str, str]]]] = [
        ({"m_height": "15.2"}, "2026-05-15", []),
        ({"m_height": "146"}, "2026-05-15", [("height", "rose")]),  # 14.6 without its point
        ({"m_height": "151"}, "2026-05-15", [("height", "above_range")]),
        ({"m_height": "1.5"}, "2026-05-15", [("height", "fell")]),
        ({"m_height": "1.5"}, "2026-05-01", []),  # nothing is on file before that day
        ({"m_flowers": "3.4"}, "2026-05-15", []),  # a mean of counted flowers need not be whole
        ({"m_leaf_colour": "6"}, "2026-05-15", [("leaf_colour", "above_range")]),
    ]
    found = many("questionsAbout", [[values, seen, day, NUMBERS] for values, day, _ in cases])
    assert [[(one["measure"], one["code"]) for one in asked] for asked in found] == [
        asked for *_, asked in cases
    ]


def application(on: str, kinds: list[str | None], lot: str = "l", state: str = "signed") -> Any:
    return {"shown": {"state": state, "fields": {
        "lines": [{"lot": lot}], "products": [{"kind": kind} for kind in kinds],
        "started_at": {"local": f"{on}T10:00:00"}, "mix_name": on,
    }}}  # fmt: skip


def test_the_last_application_is_one_of_a_product_on_this_lot() -> None:
    rows = [
        application("2026-05-20", ["product"]),
        application("2026-05-01", [None]),
        application("2026-05-25", ["adjuvant", "water_conditioner"]),
        application("2026-05-26", ["product"], lot="other"),
        application("2026-05-27", ["product"], state="void"),
    ]
    assert many("lastApplied", [[rows, "l"], [rows[2:], "l"]]) == [
        {"on": "2026-05-20", "name": "2026-05-20", "before": "2026-05-01"}, None
    ]  # fmt: skip


def test_growth_around_an_application_speaks_of_the_looks_next_to_it() -> None:
    points = [
        {"on": "2026-04-01", "height_cm": 1},  # six weeks before: too far to tell
        {"on": "2026-05-01", "height_cm": 3},
        {"on": "2026-05-08", "height_cm": 10},
        {"on": "2026-05-15", "height_cm": 17},
        {"on": "2026-05-22", "height_cm": 20.5},
    ]
    cases: list[tuple[dict[str, Any], tuple[int, float | None], tuple[int, float | None]]] = [
        # by hand: 7 cm in the week before, 3.5 cm in the week after; the day itself counts twice
        ({"on": "2026-05-15", "before": None}, (3, 1.0), (2, 0.5)),
        # what lies before the application before it says nothing about this one
        ({"on": "2026-05-15", "before": "2026-05-08"}, (2, 1.0), (2, 0.5)),
        # one look alone has no growth
        ({"on": "2026-05-22", "before": "2026-05-21"}, (1, None), (1, None)),
    ]
    found = many("growthAround", [[points, applied] for applied, *_ in cases])
    assert [[(one[k]["n"], one[k]["cm_per_d"]) for k in ("before", "after")] for one in found] == [
        [before, after] for _, before, after in cases
    ]
