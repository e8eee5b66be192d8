"""What the mix page computes from registers: formulas that come out by hand, season, calibrations.

The formulas are followed as a person would: the digits that are shown, with a pocket calculator.
"""

from __future__ import annotations

import re
from typing import Any

import pytest

from support.node_calls import call_js
from tepal.domain.number_format import NUMBER_FORMATS
from tepal.services.mixing import MixJob, TreatedPlace, newest_calibration
from tepal.sync.merge import RecordState

pytestmark = pytest.mark.node

POINT, COMMA = NUMBER_FORMATS["1234.5"], NUMBER_FORMATS["1234,5"]
# Shown numbers have five digits: each is off by half a unit of the fifth, 1/20000 of it at most; three that
# are reckoned with and the result that is compared make 4/20000.
BY_HAND = 1 / 5000


def q(value: str, unit: str) -> dict[str, str]:
    return {"value": value, "unit": unit}


LIQUID = {
    "name": "Stemwright SL", "kind": "product", "physical_form": "liquid", "formulation_type": "SL",
    "ingredients": [{"ai": "chlormequat chloride", "strength": q("118", "g/L")}],
}  # fmt: skip
DRY = {
    "name": "Halfpace SG", "kind": "product", "physical_form": "dry", "formulation_type": "SG",
    "ingredients": [{"ai": "daminozide", "strength": q("85", "%"), "basis": "w_w"}],
}  # fmt: skip
BY_WEIGHT = {
    "name": "Rootpost SC", "kind": "product", "physical_form": "liquid", "formulation_type": "SC",
    "density": q("1.02", "g/mL"),
    "ingredients": [{"ai": "paclobutrazol", "strength": q("0.4", "%"), "basis": "w_w"}],
}  # fmt: skip
WETTER = {"name": "Evenwet", "kind": "adjuvant", "physical_form": "liquid"}
BLANK = {"name": "Blank", "kind": "formulation_blank", "physical_form": "liquid"}
BENCH = {"volume_per_area": q("200", "mL/m2"), "area": q("39.6", "m2")}


def request(*components: dict[str, Any], **more: Any) -> dict[str, Any]:
    lines = more.pop("lines", [{"id": "a", **BENCH}, {"id": "b", **BENCH}])
    return {
        "method": "spray",
        "number_format": more.pop("number_format", POINT),
        "components": [{"id": str(i), **one} for i, one in enumerate(components, start=1)],
        "lines": lines,
        "tank": {"capacity": q(more.pop("tank", "10"), "L")},
        "instruments": [],
        **more,
    }


def reckoning(asked: dict[str, Any]) -> dict[str, Any]:
    (planned,) = call_js("core/tank.js", "tankPlan", [[asked]])
    assert "value" in planned, planned
    (told,) = call_js("state/mix.js", "reckoningOf", [[asked, planned["value"], {"a": "Bench 1"}]])
    assert "value" in told, told
    found: dict[str, Any] = told["value"]
    return found


def sides(formula: str, decimal: str = ".") -> tuple[float, float]:
    """Both sides of "900 mg/L × 23.76 L ÷ 118 mg/mL = 181.2 mL", units left out."""
    left, right = formula.replace("\u00a0", " ").split(" = ")
    number = re.compile(rf"^\d+(?:\{decimal}\d+)?")

    def value(term: str) -> float:
        return float(number.match(term).group().replace(decimal, "."))  # type: ignore[union-attr]

    total = 0.0
    for part in left.split(" + "):
        terms = re.split(r" ([×÷]) ", part)
        result = value(terms[0])
        for sign, term in zip(terms[1::2], terms[2::2], strict=True):
            result = result * value(term) if sign == "×" else result / value(term)
        total += result
    return total, value(right)


def formulas(told: dict[str, Any], partner: int) -> list[tuple[str, str]]:
    steps = told["partners"][partner]["steps"]
    return [(step["code"], step["formula"].replace("\u00a0", " ")) for step in steps]


def test_liquid_is_followed_by_hand() -> None:
    """39.6 m2 x 200 mL/m2 = 7.92 L, twice 15.84 L; 900 x 15.84 / 118 = 120.81 mL; of 10 L 76.271, of 5.84 L 44.542."""
    told = reckoning(request({"product": LIQUID, "target": q("900", "mg/L")}))

    assert formulas(told, 0) == [
        ("mix.how.strength_label", "118 g/L = 118 mg/mL"),
        ("mix.how.c1v1", "900 mg/L × 15.84 L ÷ 118 mg/mL = 120.81 mL"),
        ("mix.how.load", "120.81 mL × 10 L ÷ 15.84 L = 76.271 mL"),
        ("mix.how.load", "120.81 mL × 5.84 L ÷ 15.84 L = 44.542 mL"),
    ]


def test_dry_product_is_followed_by_hand() -> None:
    """85 % is 850 mg/g; 1250 x 15.84 / 850 = 23.294 g."""
    told = reckoning(request({"product": DRY, "target": q("1250", "mg/L")}, tank="40"))

    assert formulas(told, 0) == [
        ("mix.how.strength_dry", "85 % × 10 = 850 mg/g"),
        ("mix.how.weigh", "1250 mg/L × 15.84 L ÷ 850 mg/g = 23.294 g"),
    ]


def test_drench_is_followed_by_hand() -> None:
    """0.25 mg in 60 mL is 4.1667 mg/L; 900 pots x 60 mL = 54 L; 0.4 % x 10 x 1.02 = 4.08 mg/mL;
    4.1667 x 54 / 4.08 = 55.147 mL.
    """
    line = {"id": "a", "n_containers": 900, "volume_per_container": q("60", "mL/{pot}")}
    asked = request(
        {"product": BY_WEIGHT, "target": q("0.25", "mg/{pot}")},
        lines=[line], tank="100", method="drench",
    )  # fmt: skip

    told = reckoning(asked)

    assert told["volume"][0]["formula"].replace("\u00a0", " ") == "900 × 60 mL ÷ 1000 = 54 L"
    assert formulas(told, 0) == [
        ("mix.how.strength_by_weight", "0.4 % × 10 × 1.02 g/mL = 4.08 mg/mL"),
        ("mix.how.dose_item", "0.25 mg × 1000 ÷ 60 mL = 4.1667 mg/L"),
        ("mix.how.c1v1", "4.1667 mg/L × 54 L ÷ 4.08 mg/mL = 55.147 mL"),
    ]


# (name, request, decimal mark)
FOLLOWED: list[tuple[str, dict[str, Any], str]] = [
    ("percent", request({"product": WETTER, "target": q("0.05", "%")}), "."),
    ("product-rate", request({"product": LIQUID, "target": q("1.5", "mL/L"), "target_of": "product"}), "."),
    ("us-rate", request({"product": LIQUID, "target": q("2", "[foz_us]/[gal_us]"), "target_of": "product"}), "."),
    ("per-area", request({"product": LIQUID, "target": q("1.2", "mL/m2"), "target_of": "product"}), "."),
    ("dose-per-area", request({"product": DRY, "target": q("250", "mg/m2")}), "."),
    ("weight-of-liquid", request({"product": BY_WEIGHT, "target": q("3", "g/L"), "target_of": "product"}), "."),
    ("ounces-dry", request({"product": DRY, "target": q("0.2", "[oz_av]/[gal_us]"), "target_of": "product"}), "."),
    ("matches", request({"product": LIQUID, "target": q("900", "mg/L")}, {"product": BLANK, "matches": "1"}), "."),
    ("comma", request({"product": LIQUID, "target": q("37.5", "mg/L")}, number_format=COMMA), ","),
    ("extra", request({"product": LIQUID, "target": q("900", "mg/L")}, extra=q("2", "L")), "."),
    ("injector", request({"product": LIQUID, "target": q("90", "mg/L")}, injector={"ratio": "100", "meaning": "part_to_water"}), "."),
    ("us-volume", request({"product": LIQUID, "target": q("900", "mg/L")}, lines=[{"id": "a", "area": q("250", "[sft_i]"), "volume_per_area": q("2", "[qt_us]/(100.[sft_i])")}]), "."),
]  # fmt: skip


@pytest.mark.parametrize(
    ("asked", "decimal"), [(r, d) for _, r, d in FOLLOWED], ids=[n for n, _, _ in FOLLOWED]
)
def test_every_shown_formula_comes_out(asked: dict[str, Any], decimal: str) -> None:
    """Conversions of units ("2 qt/100 ft² = 203.7 mL/m²") are checked by the vectors of units."""
    told = reckoning(asked)
    steps = told["volume"] + [step for partner in told["partners"] for step in partner["steps"]]

    assert steps
    for step in steps:
        if step["code"].endswith("_unit"):
            continue
        left, right = sides(step["formula"], decimal)
        assert left == pytest.approx(right, rel=BY_HAND), step["formula"]


# --- calibrations ---------------------------------------------------------------------------------


def row(kind: str, record_id: str, /, **fields: Any) -> dict[str, Any]:
    return {
        "kind": kind, "id": record_id, "pending": [],
        "shown": {"state": fields.pop("state", "open"), "fields": fields},
    }  # fmt: skip


PLOT = {"method": "plot", "plot_area": q("25", "m2")}


def test_newest_calibration_that_computes_counts() -> None:
    """5 L on 25 m2 is 200 mL/m2; the newer one lacks its volume, the newest is void."""
    rows = [
        row("calibration", "1", sprayer="s", measured_on="2026-04-01", used=q("5", "L"), **PLOT),
        row("calibration", "2", sprayer="s", measured_on="2026-05-01", **PLOT),
        row("calibration", "3", sprayer="s", measured_on="2026-06-01", used=q("9", "L"), state="void", **PLOT),
        row("calibration", "4", sprayer="t", measured_on="2026-07-01", used=q("9", "L"), **PLOT),
    ]  # fmt: skip

    (found,) = call_js("state/calibration.js", "newestOf", [[rows, "s"]])

    assert (found["value"]["row"]["id"], found["value"]["result"]["ml_per_m2"]) == ("1", 200)


@pytest.mark.parametrize(
    ("every", "today", "state", "due_on"),
    [
        ("60", "2026-06-30", "current", "2026-06-30"),  # 1 May + 60 days
        ("60", "2026-07-01", "overdue", "2026-06-30"),
        (None, "2027-01-01", "no_interval", None),
    ],
)
def test_calibration_is_due_when_its_interval_has_passed(
    every: str | None, today: str, state: str, due_on: str | None
) -> None:
    sprayer = row("sprayer", "s", calibrate_every=q(every, "d") if every else None)
    rows = [
        row("calibration", "1", sprayer="s", measured_on="2026-05-01", used=q("5", "L"), **PLOT)
    ]

    (found,) = call_js("state/calibration.js", "standingOf", [[sprayer, rows, today]])

    assert (found["value"]["state"], found["value"]["due_on"]) == (state, due_on)


def test_catches_are_read_nozzle_by_nozzle() -> None:
    """Four nozzles in 30 s: 804, 790, 796, 820 mL/min, mean 802.5; 20 m in 143 s is 8.3916 m/min;
    802.5 / (8.3916 x 0.5) = 191.26 mL/m2.
    """
    fields = {
        "method": "boom", "catches": [{"amount": q(ml, "mL")} for ml in ("402", "395", "398", "410")],
        "catch_time": q("30", "s"), "spacing": q("50", "cm"), "course": q("20", "m"),
        "course_time": q("143", "s"),
    }  # fmt: skip

    (found,) = call_js("state/calibration.js", "measuredBy", [[fields]])

    assert found["value"]["result"]["ml_per_m2"] == pytest.approx(191.26, rel=1e-4)


# --- season ---------------------------------------------------------------------------------------


def application(record_id: str, day: str, **more: Any) -> dict[str, Any]:
    fields = {
        "started_at": {"local": f"{day}T08:00:00"}, "volume": q("15.84", "L"),
        "lines": [
            {"lot": "L", "area": q("39.6", "m2"), "volume": q("7.92", "L"), "n_containers": 900},
            {"lot": "M", "area": q("39.6", "m2"), "volume": q("7.92", "L")},
        ],
        "products": [{**DRY, "amount": q("23.294", "g")}],
    } | more  # fmt: skip
    return row("application", record_id, **fields)


def season(*rows: dict[str, Any], started_on: str | None = None, but: str | None = None) -> Any:
    lot = row("lot", "L", started_on=started_on)
    (found,) = call_js("state/season.js", "seasonOf", [[list(rows), [lot], but]])
    return found["value"]


def test_season_counts_half_the_tank_for_half_the_volume() -> None:
    """23.294 g x 850 mg/g x 7.92 / 15.84 = 9899.95 mg; / 39.6 m2 = 249.999; / 900 pots = 10.99994."""
    records = season(application("a", "2026-05-01"))["records"]

    told = {one["amount"]["unit"]: float(one["amount"]["value"]) for one in records}
    assert told["mg/m2"] == pytest.approx(249.999, rel=1e-5)
    assert told["mg/{pot}"] == pytest.approx(10.99994, rel=1e-5)


def test_season_leaves_out_what_was_before_the_lot_void_or_itself() -> None:
    rows = [
        application("a", "2026-01-01"),
        application("b", "2026-05-01"),
        application("c", "2026-05-02", state="void"),
    ]

    assert season(*rows, started_on="2026-03-01", but="b")["records"] == []


def test_season_names_what_it_cannot_count() -> None:
    unread = application("a", "2026-05-01", products=[{**DRY, "amount": None}])

    assert [one["id"] for one in season(unread)["uncounted"]] == ["a"]


# --- what was used --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("left", "used_l", "off_pct"),
    [
        (q("0", "L"), 10, 0),
        (q("1", "L"), 9, -10),
        (q("500", "mL"), 9.5, -5),
        (q("11", "L"), 0, -100),
    ],
)
def test_used_is_what_was_mixed_less_what_is_left(
    left: dict[str, str], used_l: float, off_pct: float
) -> None:
    fields = {"volume": q("10", "L"), "lines": [{"volume": q("10", "L")}]}

    (found,) = call_js("state/used.js", "usedOf", [[fields, left]])

    assert found["value"]["used_l"] == pytest.approx(used_l)
    assert found["value"]["off_pct"] == pytest.approx(off_pct)


# --- numbers that can be two ----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("typed", "stored", "code"),
    [
        ({"value": "1,200", "unit": "L"}, None, "number.ambiguous"),
        ({"value": "1,200", "unit": "L", "read": "1.200"}, {"value": "1.200", "unit": "L"}, None),
        ({"value": "1,200", "unit": "L", "read": "1200"}, {"value": "1200", "unit": "L"}, None),
        ({"value": "0", "unit": "L"}, None, "not_above_zero"),
        ({"value": " ", "unit": "L"}, None, None),
        ({"value": "12.5", "unit": "L"}, {"value": "12.5", "unit": "L"}, None),
    ],
)
def test_number_that_can_be_two_waits_for_the_person(
    typed: Any, stored: Any, code: str | None
) -> None:
    (found,) = call_js("forms/typed-quantity.js", "readQuantity", [[typed, POINT]])

    problem = found["value"]["problem"]
    assert found["value"]["stored"] == stored
    assert (problem and problem["code"]) == code


# --- the twin -------------------------------------------------------------------------------------


def test_paper_and_screen_ask_the_core_for_the_same() -> None:
    """The mixing sheet's request, built in Python, is the page's, built in JS."""
    registers = {
        "mix": ("tank_mix", "m", {
            "method": "injector", "injector_ratio": "100", "injector_meaning": "part_in_total",
            "extra": q("2", "L"), "volume_per_area": None, "volume_per_container": None,
            "components": [
                {"product": "p1", "target": q("900", "mg/L"), "stated_per_l": q("7", "mL/L")},
                {"product": "p2", "matches": 1, "is_reference": False},
            ],
        }),
        "p1": ("product", "p1", LIQUID), "p2": ("product", "p2", BLANK),
        "bench": ("bench", "b", {"name": "Bench 1", "house": "h", "area": q("39.6", "m2")}),
        "house": ("house", "h", {"name": "House 1"}),
        "lot": ("lot", "l", {"code": "1-07", "benches": ["b"], "n_containers": 900}),
        "i1": ("instrument", "i1", {"name": "cylinder", "resolution": q("2", "mL"), "capacity": q("250", "mL")}),
        "i2": ("instrument", "i2", {"name": "half filled in", "resolution": q("2", "mL")}),
        "pair": ("incompatible_pair", "x", {"a": "daminozide", "b": "copper", "source": "label"}),
        "jar": ("jar_test", "j", {"products": ["p1", "p2"], "result": "compatible", "tested_on": "2026-03-02"}),
        "cal": ("calibration", "c", {"sprayer": "s", "measured_on": "2026-05-01", "used": q("5", "L"), **PLOT}),
    }  # fmt: skip
    js = {name: row(kind, key, **fields) for name, (kind, key, fields) in registers.items()}
    py = {
        name: RecordState(kind=kind, id=key, fields=fields, revision=1, created_seq=1, state="open", form_version=1, author="")
        for name, (kind, key, fields) in registers.items()
    }  # fmt: skip
    newest = newest_calibration([py["cal"]], "s")
    assert newest is not None
    (places,) = call_js("state/apply.js", "placesOf", [[[js["house"]], [js["bench"]], [js["lot"]]]])
    treated = [{**places["value"][0], "treated": q("39.6", "m2"), "containers": 900}]
    (asked,) = call_js("state/apply.js", "requestOf", [[{
        "mix": js["mix"], "products": [js["p1"], js["p2"]], "places": treated,
        "instruments": [js["i1"], js["i2"]], "tank": q("40", "L"), "numberFormat": POINT,
        "calibrated": newest.calibrated, "pairs": [js["pair"]], "jarTests": [js["jar"]],
        "water": {"ph": "6.5"},
    }]])  # fmt: skip

    job = MixJob(
        mix=py["mix"], products={"p1": py["p1"], "p2": py["p2"]},
        places=[TreatedPlace(py["bench"], py["lot"], py["house"], q("39.6", "m2"), 900)],
        instruments=[py["i1"], py["i2"]], tank=q("40", "L"), number_format=POINT,
        calibrated=newest.calibrated, pairs=[py["pair"]], jar_tests=[py["jar"]], water_ph="6.5",
    )  # fmt: skip

    assert job.request() == asked["value"]
