"""Planning and the treatment day: problems of what was typed, layouts, lots, orders, rinsing."""

from __future__ import annotations

from typing import Any

import pytest

from support.node_calls import APP, call_js
from tepal.services.catalogue import words_for
from tepal.services.trial_papers import LaidOut, field_sheet_view

pytestmark = pytest.mark.node

LOCALE = APP / "locale"
POINT, COMMA = {"decimal": ".", "thousands": ""}, {"decimal": ",", "thousands": ""}


def order_problem(trial: dict[str, Any], number: int) -> str:
    treatment = next(t for t in trial["treatments"] if t["number"] == number)
    said = call_js("state/trial-orders.js", "orderProblem", [[trial, treatment]])[0]["value"]
    return str(said)


DAY: dict[str, Any] = {
    "code": "T07", "permit": "p1", "plot_area": {"value": "0.1", "unit": "m2"},
    "treatments": [
        {"number": 1, "name": "untreated", "role": "untreated"},
        {"number": 2, "name": "both", "role": "mix", "tank_mix": "m2"},
        {"number": 3, "name": "4 mg/L", "role": "rate", "rate": "4", "tank_mix": "m3"},
        {"number": 4, "name": "1 mg/L", "role": "rate", "rate": "1", "tank_mix": "m4"},
        {"number": 5, "name": "blank", "role": "blank"},
        {"number": 6, "name": "standard", "role": "standard", "tank_mix": "m6"},
    ],
    "plots": [
        {"plot": 1, "treatment": 1, "bench": "b1", "lot": "l1"},
        {"plot": 2, "treatment": 2, "bench": "b1", "lot": "l1"},
        {"plot": 3, "treatment": 3, "bench": "b1", "lot": "l1"},
        {"plot": 4, "treatment": 3, "bench": "b2", "lot": "l2"},
        {"plot": 5, "treatment": 4, "bench": "b1", "lot": "l1"},
        {"plot": 6, "treatment": 5, "bench": "b1", "lot": "l1"},
        {"plot": 7, "treatment": 6},
        {"plot": 8, "treatment": 3, "bench": "b1", "lot": "l1"},
    ],
}  # fmt: skip


def test_treatments_become_spray_orders_of_their_own_plots_weakest_first() -> None:
    form = {"day": "2026-05-01", "operator": None, "sprayer": "s1"}

    orders = call_js(
        "state/trial-orders.js", "orderFields", [["t1", DAY, [1, 2, 3, 4, 5, 6], form]]
    )
    found = orders[0]["value"]

    assert [one["treatment"] for one in found] == [4, 3, 2]
    assert found[1]["lines"] == [{"bench": "b1", "lot": "l1"}, {"bench": "b2", "lot": "l2"}]
    assert {one["permit"] for one in found} == {"p1"}
    assert {(one["window_from"], one["window_to"], one["trial"]) for one in found} == {
        ("2026-05-01", "2026-05-01", "t1")
    }


def test_treatment_without_mix_or_bench_says_why_it_has_no_order() -> None:
    assert [order_problem(DAY, n) for n in (1, 2, 5, 6)] == ["untreated", "", "no_mix", "no_bench"]
    assert order_problem(DAY | {"plot_area": None}, 2) == "no_area"


def application(mix: str, at: str, *, rinsed: bool | None = None) -> dict[str, Any]:
    fields = {
        "trial": "t1", "tank_mix": mix, "sprayer": "s1", "tank_cleaned": rinsed,
        "started_at": {"local": f"2026-05-01T{at}:00"},
    }  # fmt: skip
    return {"id": at, "shown": {"state": "signed", "fields": fields}}


@pytest.mark.parametrize(
    ("before", "found"),
    [
        ([application("m3", "08:00")], "08:00"),
        ([application("m3", "08:00", rinsed=True)], None),
        ([application("m3", "08:00"), application("m4", "09:00", rinsed=True)], None),
        (
            [application("m4", "09:00", rinsed=True), application("m3", "10:00", rinsed=False)],
            "10:00",
        ),
        ([application("m2", "08:00")], None),
    ],
)
def test_sprayer_that_nobody_noted_as_rinsed_is_told(
    before: list[dict[str, Any]], found: str | None
) -> None:
    job = {"trial": "t1", "mix": "m2", "sprayer": "s1", "today": "2026-05-01"}

    said = call_js("state/trial-orders.js", "unrinsedBefore", [[before, job]])[0]["value"]

    assert (said or {}).get("id") == found


def plan(**changes: Any) -> dict[str, Any]:
    start: dict[str, Any] = {
        "code": "T07", "title": "Drench", "design": "rcbd", "n_blocks": "4", "plants_per_plot": "1",
        "rows": "", "columns": "", "guard_rows": "0", "guard_columns": "0", "out_of_use": "",
        "cv": "", "difference": "", "overage": "10", "wanted_value": "", "harvests": [],
        "lots": [], "block_lots": {}, "bench": None, "isPotted": False, "layout": None,
        "treatments": [{"role": "untreated", "name": "a"}, {"role": "rate", "name": "b"}],
        "factors": [], "measurements": [], "assessments": [],
    }  # fmt: skip
    return start | changes


def wrong_fields(number_format: dict[str, str], **changes: Any) -> set[str]:
    found = call_js("state/plan-problems.js", "problemsOf", [[plan(**changes), number_format]])
    return {
        f"{step}.{field}:{wrong['code']}"
        for step, fields in found[0]["value"].items()
        for field, wrong in fields.items()
    }


@pytest.mark.parametrize(
    ("changes", "wrong"),
    [
        ({}, set()),
        ({"n_blocks": ""}, {"design.n_blocks:whole"}),
        ({"n_blocks": "-3", "plants_per_plot": "2.5"},
         {"design.n_blocks:whole", "design.plants_per_plot:whole"}),
        ({"n_blocks": "999999"}, {"design.n_blocks:whole"}),
        ({"cv": "eight", "difference": "-1"}, {"design.cv:number", "design.difference:number"}),
        ({"cv": "7.5"}, set()),
        ({"rows": "6"}, {"layout.columns:both"}),
        ({"rows": "6", "columns": "12 pots"}, {"layout.columns:whole"}),
        ({"out_of_use": "2:3, 4"}, {"layout.out_of_use:cells"}),
        ({"treatments": [{"role": "rate", "rate": "4 mg/L"}, {"role": "blank", "blank_of": "2"}]},
         {"treatments.0.rate:number", "treatments.1.blank_of:blank_of"}),
        ({"measurements": [{"code": "h", "decimals": "1", "least": "60", "most": "5"}]},
         {"measurements.0.least:order"}),
        ({"assessments": [{"sort": "assessment", "day": "two weeks", "window": "2"}]},
         {"assessments.0.day:whole"}),
        ({"assessments": [{"sort": "assessment", "day": "\u22121", "window": ""}]}, set()),
        ({"assessments": [{"sort": "daily_round", "day": "21", "until_day": "14"}]},
         {"assessments.0.until_day:until"}),
    ],
)  # fmt: skip
def test_what_was_typed_wrong_is_told_at_its_field(
    changes: dict[str, Any], wrong: set[str]
) -> None:
    assert wrong_fields(POINT, **changes) == wrong


def test_decimal_comma_is_read_where_the_establishment_writes_one() -> None:
    assert wrong_fields(COMMA, cv="7,5") == set()
    assert wrong_fields(POINT, cv="7,5") == {"design.cv:number"}


LAID: dict[str, Any] = {
    "design": "rcbd", "plots": [
        {"plot": 1, "block": 1, "treatment": 1}, {"plot": 2, "block": 1, "treatment": 2},
        {"plot": 3, "block": 2, "treatment": 2}, {"plot": 4, "block": 2, "treatment": 1},
        {"guard": True, "row": 3, "column": 1},
    ],
}  # fmt: skip


@pytest.mark.parametrize(
    ("changes", "fits"),
    [
        ({"n_blocks": "2"}, True),
        ({"n_blocks": "3"}, False),
        ({"n_blocks": "2", "design": "crd"}, False),
        ({"n_blocks": "2", "treatments": [{}, {}, {}]}, False),
        ({"n_blocks": "3", "isPotted": True}, True),
    ],
)
def test_layout_that_no_longer_fits_its_plan_is_known(
    changes: dict[str, Any], *, fits: bool
) -> None:
    found = call_js("state/plan-problems.js", "layoutFits", [[plan(layout=LAID, **changes)]])

    assert found[0]["value"] is fits


def test_of_several_lots_each_block_takes_one() -> None:
    asked = plan(layout=LAID, lots=["a", "b"], bench="b1")
    chosen = asked | {"block_lots": {"1": "b"}}

    in_turn, by_choice = (
        [(p.get("lot"), p.get("bench")) for p in one["value"]]
        for one in call_js("state/plan-problems.js", "placedPlots", [[asked], [chosen]])
    )

    assert in_turn == [("a", "b1"), ("a", "b1"), ("b", "b1"), ("b", "b1"), (None, None)]
    assert [lot for lot, _ in by_choice] == ["b", "b", "b", "b", None]


def test_without_blocks_every_treatment_has_its_share_of_each_lot() -> None:
    plots = [{"plot": n + 1, "treatment": n % 2 + 1} for n in range(8)]
    asked = plan(layout={"design": "crd", "plots": plots}, lots=["a", "b"])

    placed = call_js("state/plan-problems.js", "placedPlots", [[asked]])[0]["value"]

    for treatment in (1, 2):
        lots = [p["lot"] for p in placed if p["treatment"] == treatment]
        assert sorted(lots) == ["a", "a", "b", "b"]


def test_observers_of_a_warm_up_measure_the_same_five_plants() -> None:
    warm_up = {"code": "warm", "sort": "warm_up", "day": 0, "measurements": ["height"]}
    trial = {
        "plants_per_plot": 3, "assessments": [warm_up],
        "measurements": [{"code": "height", "per": "plant", "type": "continuous"}],
        "plots": [{"plot": n, "code": f"1{n:02d}", "treatment": 1} for n in range(1, 13)],
    }  # fmt: skip

    stops = call_js("state/measure.js", "stopsOf", [[trial, warm_up]])[0]["value"]

    # by hand: 36 plants in the walk, every 7.2th of them
    assert [(s["plot"], s["plant"]) for s in stops] == [(1, 1), (3, 2), (5, 3), (8, 1), (10, 2)]
    sheet = field_sheet_view(LaidOut(trial, {}, words_for(LOCALE, "en"), "2026-05-01"), "warm")
    assert [line for _, lines in sheet.blocks for line in lines] == [
        (f"1{plot:02d}", str(plant)) for plot, plant in [(1, 1), (3, 2), (5, 3), (8, 1), (10, 2)]
    ]


def rows(**fields: dict[str, Any]) -> list[dict[str, Any]]:
    return [{"id": one, "shown": {"state": "open", "fields": of}} for one, of in fields.items()]


def test_planner_names_what_the_labels_on_file_do_not_allow() -> None:
    """A label's highest concentration and its crops are invented here, as the demo's labels are."""

    def component(product: str, value: str, **more: Any) -> dict[str, Any]:
        return {"product": product, "target": {"value": value, "unit": "mg/L"}, **more}

    use = {"crop": "salvia; lantana", "max_concentration": {"value": "4", "unit": "mg/L"}}
    book = {
        "lot": rows(l1={"crop": "Salvia"}, l2={"crop": "Petunia"}),
        "product": rows(
            p1={"kind": "product", "name": "Dwarfine", "uses": [use]},
            p2={"kind": "adjuvant", "name": "Wetter"},
            p3={"kind": "product", "name": "No label here"},
        ),
        "tank_mix": rows(
            m1={
                "components": [component("p1", "4"), component("p2", "900"), component("p3", "900")]
            },
            m2={"components": [component("p1", "4.5")]},
            m3={"components": [component("p1", "9", target_of="product")]},
        ),
    }
    treatments = [{"role": "untreated"}, *({"tank_mix": mix} for mix in ("m1", "m2", "m3"))]

    def told(*lots: str) -> list[Any]:
        trial = {"treatments": treatments, "lots": list(lots)}
        said: list[Any] = call_js("state/off-label.js", "offLabel", [[trial, book]])[0]["value"]
        return said

    above = {
        "number": 3, "product": "Dwarfine", "code": "concentration",
        "target": {"value": "4.5", "unit": "mg/L"}, "limit": {"value": "4", "unit": "mg/L"},
    }  # fmt: skip
    crop = {"product": "Dwarfine", "code": "crop", "crop": "Petunia"}
    assert told("l1") == told() == [above]
    assert told("l2") == [{"number": n, **crop} for n in (2, 3, 4)]
    assert told("l1", "l2") == [
        {"number": 2, **crop}, above, {"number": 3, **crop}, {"number": 4, **crop},
    ]  # fmt: skip
