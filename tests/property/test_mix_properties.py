"""What must hold for any mix: scaling, round trips, order, sums, conserved mass, stated errors."""

from __future__ import annotations

import copy
import math
from typing import TYPE_CHECKING, Any

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from tepal.domain import dilution, units
from tepal.domain.errors import TepalError
from tepal.domain.loads import tank_loads
from tepal.domain.measuring import Instrument, measured_amount, two_step_dilution
from tepal.domain.rounding import (
    PLAIN_FORMAT,
    NumberFormat,
    NumberFormatError,
    decimal_text,
    for_measuring,
    format_number,
    parse_number,
    round_half_up,
)
from tepal.domain.slips import slip_question
from tepal.domain.tank import TankPlan, tank_plan

if TYPE_CHECKING:
    from collections.abc import Callable

amounts = st.floats(1e-3, 1e4)
FORMATS: list[NumberFormat] = [
    {"decimal": ".", "thousands": ","},
    {"decimal": ",", "thousands": "."},
    {"decimal": ",", "thousands": " "},
    {"decimal": ".", "thousands": "'"},
]
# Sums and products of a few dozen terms in binary64 (2^-53 each) stay well within this.
ROUNDING = 1e-12


# Seeded by the test's name, so that a red run is red again; no deadline on a shared machine.
pytestmark = pytest.mark.full

steady = settings(
    deadline=None,
    derandomize=True,
    max_examples=200,
    suppress_health_check=[HealthCheck.too_slow],
)


def outcome(run: Callable[[], Any]) -> Any:
    """Return what a call returns, or the error that it raises on purpose."""
    try:
        return run()
    except TepalError as error:
        return error


def text(value: float) -> str:
    return decimal_text(value, 6)


def volume(litres: float) -> dict[str, str]:
    return {"value": text(litres), "unit": "L"}


@st.composite
def requests(draw: st.DrawFn) -> dict[str, Any]:
    """Requests that a plan exists for: 1 to 5 partners, 1 to 6 lines."""
    n_partners = draw(st.integers(1, 5))
    components = []
    for number in range(n_partners):
        is_dry = draw(st.booleans())
        strength = (
            {"strength": {"value": text(draw(st.floats(10, 95))), "unit": "%"}, "basis": "w_w"}
            if is_dry
            else {"strength": {"value": text(draw(st.floats(50, 500))), "unit": "g/L"}}
        )
        components.append(
            {
                "id": f"c{number}",
                "product": {
                    "name": f"P{number}",
                    "physical_form": "dry" if is_dry else "liquid",
                    "ingredients": [{"ai": f"ai{number}", **strength}],
                },
                "target": {"value": text(draw(st.floats(1, 3000))), "unit": "mg/L"},
            }
        )
    lines = [
        {
            "id": f"l{number}",
            "lot": draw(st.sampled_from(["A", "B", "C"])),
            "area": {"value": text(draw(st.floats(1, 500))), "unit": "m2"},
            "volume_per_area": {"value": text(draw(st.floats(50, 800))), "unit": "mL/m2"},
            "n_containers": draw(st.integers(1, 5000)),
        }
        for number in range(draw(st.integers(1, 6)))
    ]
    return {
        "method": "spray",
        "components": components,
        "lines": lines,
        "tank": {"capacity": volume(draw(st.floats(5, 500)))},
        "extra": volume(draw(st.floats(0, 5))),
        "instruments": [
            instrument("c25", "0.5", "25", "mL"),
            instrument("c1000", "10", "1000", "mL"),
            instrument("s1", "0.01", "1", "mL"),
            instrument("bal", "0.1", "500", "g"),
        ],
    }


def instrument(name: str, resolution: str, capacity: str, unit: str) -> dict[str, Any]:
    return {
        "id": name,
        "name": name,
        "resolution": {"value": resolution, "unit": unit},
        "capacity": {"value": capacity, "unit": unit},
    }


def close(a: float, b: float) -> bool:
    return math.isclose(a, b, rel_tol=ROUNDING, abs_tol=1e-15)


@steady
@given(amounts, amounts, st.floats(50, 900), st.floats(0.01, 100))
def test_product_scales_with_volume(
    target: float, litres: float, strength: float, factor: float
) -> None:
    once = dilution.product_ml(target, litres, strength)

    assert close(dilution.product_ml(target, litres * factor, strength), once * factor)


@steady
@given(amounts, amounts, st.floats(50, 900))
def test_concentration_undoes_product(target: float, litres: float, strength: float) -> None:
    ml = dilution.product_ml(target, litres, strength)

    assert close(dilution.concentration_mg_per_l(ml, strength, litres), target)


@steady
@given(st.sampled_from(sorted(units.UNITS)), st.floats(-1e6, 1e6), st.data())
def test_unit_round_trip(code: str, value: float, data: st.DataObject) -> None:
    same = [c for c, u in units.UNITS.items() if u.dimension == units.UNITS[code].dimension]
    other = data.draw(st.sampled_from(same))

    back = units.convert(units.convert(value, code, other), other, code)

    # Temperatures carry an offset of up to 460: what cancels there is lost absolutely.
    assert math.isclose(back, value, rel_tol=1e-12, abs_tol=1e-9)


@steady
@given(requests(), st.randoms(use_true_random=False))
def test_order_of_partners_is_irrelevant(request: dict[str, Any], random: Any) -> None:
    shuffled = {
        **request,
        "components": random.sample(request["components"], len(request["components"])),
    }

    first, second = tank_plan(request), tank_plan(shuffled)

    assert first.loads == second.loads
    assert first.steps == second.steps
    assert set(map(str, first.findings)) == set(map(str, second.findings))
    assert sorted(first.components, key=lambda c: c.id) == sorted(
        second.components, key=lambda c: c.id
    )


@steady
@given(st.floats(0.1, 5000), st.floats(6, 500))
def test_loads_sum_to_the_whole(litres: float, capacity: float) -> None:
    loads = tank_loads(litres, capacity)

    assert math.isclose(math.fsum(loads), litres, rel_tol=ROUNDING)
    assert all(load <= capacity * (1 + 1e-8) for load in loads)
    assert all(load == capacity for load in loads[:-1])


def all_mg(plan: TankPlan, ai: str) -> float:
    lines = math.fsum(share.mg for line in plan.lines for share in line.ais if share.ai == ai)
    return lines + math.fsum(share.mg for share in plan.leftover_ais if share.ai == ai)


@steady
@given(requests())
def test_active_ingredient_is_conserved_across_lines_lots_and_loads(
    request: dict[str, Any],
) -> None:
    plan = tank_plan(request)

    in_loads = {
        component.id: math.fsum(
            amount.exact * len(load.numbers)
            for load in plan.loads
            for amount in load.amounts
            if amount.component_id == component.id
        )
        for component in plan.components
    }
    for component, record in zip(plan.components, request["components"], strict=True):
        [ingredient] = record["product"]["ingredients"]
        stated = float(ingredient["strength"]["value"])
        mg_per_measure = stated * 10 if ingredient["strength"]["unit"] == "%" else stated
        poured_mg = in_loads[component.id] * mg_per_measure
        ai = ingredient["ai"]
        lots = math.fsum(s.mg for lot in plan.lots for s in lot.ais if s.ai == ai)
        lines = math.fsum(s.mg for line in plan.lines for s in line.ais if s.ai == ai)
        assert math.isclose(in_loads[component.id], component.total, rel_tol=1e-9)
        assert math.isclose(all_mg(plan, ai), poured_mg, rel_tol=1e-9)
        assert math.isclose(component.ais[0].mg, poured_mg, rel_tol=1e-9)
        assert math.isclose(lots, lines, rel_tol=1e-9)


@steady
@given(requests())
def test_measured_amounts_are_as_far_off_as_they_say(request: dict[str, Any]) -> None:
    plan = tank_plan(request)

    for load in plan.loads:
        for amount in load.amounts:
            measured = amount.measured
            if measured is None:
                continue
            steps = {"c25": 0.5, "c1000": 10.0, "s1": 0.01, "bal": 0.1}
            step = steps[measured.instrument_id]
            assert abs(measured.amount - amount.exact) <= step / 2 * (1 + 1e-9)
            stated = amount.exact * (1 + measured.error_pct / 100)
            assert math.isclose(stated, measured.amount_base, rel_tol=1e-9)
            assert abs(measured.error_pct) <= measured.reading_error_pct * (1 + 1e-9) + 1e-9


@steady
@given(st.floats(1e-4, 0.2))
def test_two_steps_put_the_amount_into_the_tank(exact: float) -> None:
    house = (
        Instrument("s1", "syringe", "volume", "mL", 0.01, 1.0),
        Instrument("c25", "cylinder", "volume", "mL", 0.5, 25.0),
        Instrument("c250", "cylinder", "volume", "mL", 2.0, 250.0),
    )
    steps = two_step_dilution(exact, "volume", house, 5.0, PLAIN_FORMAT)
    assume(steps is not None)
    assert steps is not None

    in_tank = steps.product.amount_base / steps.stock_ml * steps.aliquot.amount_base
    assert math.isclose(in_tank, exact * (1 + steps.error_pct / 100), rel_tol=1e-9)
    assert abs(steps.error_pct) <= 5.0 + 1e-9
    assert steps.aliquot.amount_base <= steps.stock_ml
    assert steps.product.is_measurable


@steady
@given(st.floats(1e-3, 1e4), st.sampled_from([0.01, 0.05, 0.2, 0.25, 0.5, 1.0, 2.0, 5.0, 10.0]))
def test_measuring_is_within_half_a_division(value: float, step: float) -> None:
    rounded = for_measuring(value, step)

    assert abs(rounded - value) <= step / 2 * (1 + 1e-9)
    assert math.isclose(round(rounded / step), rounded / step, abs_tol=1e-6)


@steady
@given(st.floats(-1e9, 1e9), st.integers(0, 6))
def test_rounding_is_stable_and_near(value: float, places: int) -> None:
    once = round_half_up(value, places)

    assert round_half_up(once, places) == once
    assert abs(once - value) <= 0.5 * 10.0**-places * (1 + 1e-6) + abs(value) * 1e-15
    assert float(decimal_text(value, places)) == once


@steady
@given(st.floats(0, 1e9), st.integers(0, 4), st.sampled_from(FORMATS), st.booleans())
def test_a_number_reads_back_or_is_asked_about(
    value: float, places: int, number_format: NumberFormat, is_grouped: bool
) -> None:
    written = format_number(value, places, number_format, is_grouped)

    read = outcome(lambda: parse_number(written, number_format))

    if isinstance(read, NumberFormatError):
        assert read.code == "number.ambiguous"
        assert round_half_up(value, places) in {float(one) for one in read.context["readings"]}
    else:
        assert read == round_half_up(value, places)


@steady
@given(st.text(max_size=12), st.sampled_from(FORMATS))
def test_pasted_text_is_a_number_or_a_clear_error(pasted: str, number_format: NumberFormat) -> None:
    read = outcome(lambda: parse_number(pasted, number_format))

    if isinstance(read, NumberFormatError):
        assert read.code.startswith("number.")
    else:
        assert math.isfinite(read)


@steady
# 6.39 % off is the largest honest rounding among the published rows (University of Missouri G7510)
@given(st.floats(0.9361, 1.0683), amounts)
def test_an_honest_rounding_is_not_questioned(factor: float, computed: float) -> None:
    assert slip_question(computed * factor, computed) is None


@pytest.mark.parametrize(
    ("factor", "slip"),
    [
        (1.20095, "us_imperial_gallon"),
        (5, "neighbouring_row"),
        (10, "decimal_place"),
        (1000, "thousand"),
    ],
)
@steady
@given(amounts, st.floats(0.98, 1.02), st.booleans())
def test_a_known_factor_is_named(
    factor: float, slip: str, computed: float, near: float, is_less: bool
) -> None:
    stated = computed * near * (1 / factor if is_less else factor)

    question = slip_question(stated, computed)

    assert question is not None
    assert question.code == f"slip.{slip}"


JUNK = st.recursive(
    st.none() | st.booleans() | st.integers(-5, 5) | st.floats() | st.text(max_size=5),
    lambda inner: (
        st.lists(inner, max_size=2) | st.dictionaries(st.text(max_size=5), inner, max_size=2)
    ),
    max_leaves=4,
)


def places(value: Any, path: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    items: list[tuple[Any, Any]] = []
    if isinstance(value, dict):
        items = list(value.items())
    elif isinstance(value, list):
        items = list(enumerate(value))
    return [spot for key, item in items for spot in [(*path, key), *places(item, (*path, key))]]


@steady
@given(requests(), st.data())
def test_a_spoilt_request_is_refused_or_planned(
    request: dict[str, Any], data: st.DataObject
) -> None:
    spoilt = copy.deepcopy(request)
    *way, last = data.draw(st.sampled_from(places(spoilt)))
    parent: Any = spoilt
    for key in way:
        parent = parent[key]
    parent[last] = data.draw(JUNK)

    plan = outcome(lambda: tank_plan(spoilt))

    if isinstance(plan, TepalError):
        assert "." in plan.code
    else:
        assert math.isfinite(plan.volume_l)
        assert all(math.isfinite(a.exact) for load in plan.loads for a in load.amounts)


@steady
@given(st.floats(1e-6, 1e6))
def test_no_instrument_means_no_measured_amount(exact: float) -> None:
    assert measured_amount(exact, "volume", (), 5.0, PLAIN_FORMAT) is None
