"""A tank mix from partners, lines, tank and instruments to amounts per load and per lot.

Twin: web/app/core/tank.js. `tank_plan` reads one JSON record (mix.schema.json) and returns a frozen
plan. Volumes are final volumes: half the water, the partners in mixing order, water up to it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from tepal.domain.amounts import AmountText, amount_text
from tepal.domain.errors import Finding
from tepal.domain.leftover import LeftoverOption, leftover_options
from tepal.domain.lines import line_findings
from tepal.domain.loads import Load, TankError, load_findings, loads_of, tank_loads
from tepal.domain.mix_request import read_request
from tepal.domain.mixing_order import MixingStep, mix_findings, mixing_steps, use_within_h
from tepal.domain.ranges import positive
from tepal.domain.shares import (
    AiShare,
    LineShare,
    LotTotal,
    ai_shares,
    line_shares,
    lot_totals,
)
from tepal.domain.slips import slip_question
from tepal.domain.strength import density_g_per_ml
from tepal.domain.units import quantity_value

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from tepal.domain.components import Rate
    from tepal.domain.rounding import NumberFormat

__all__ = ["MANY_LOADS", "ComponentPlan", "TankPlan", "tank_plan"]

# Own bound, no source: more loads than anyone plans for one batch.
MANY_LOADS = 20


@dataclass(frozen=True, slots=True)
class ComponentPlan:
    """One partner over the whole batch."""

    id: str
    product_id: str | None
    product_name: str
    kind: str
    unit: str
    amount_per_l: float
    total: float
    total_text: AmountText
    ais: tuple[AiShare, ...]


@dataclass(frozen=True, slots=True)
class TankPlan:
    """The whole mix. `volume_l` goes into tanks; `applied_l` onto lines; `extra_l` stays over."""

    method: str
    applied_l: float
    extra_l: float
    volume_l: float
    volume_text: AmountText
    injector_factor: float
    injector_ratio: float | None
    injector_meaning: str | None
    components: tuple[ComponentPlan, ...]
    steps: tuple[MixingStep, ...]
    loads: tuple[Load, ...]
    lines: tuple[LineShare, ...]
    lots: tuple[LotTotal, ...]
    leftover_ais: tuple[AiShare, ...]
    leftover_options: tuple[LeftoverOption, ...]
    use_within_h: float | None
    findings: tuple[Finding, ...]


def _slip_questions(
    rates: Sequence[Rate], components: Sequence[Mapping[str, Any]]
) -> tuple[Finding, ...]:
    """Compare what a chart or a note states per litre with what the target needs."""
    findings: list[Finding] = []
    for rate, component in zip(rates, components, strict=True):
        stated = component.get("stated_per_l")
        if stated is None:
            continue
        dimension = "mass_concentration" if rate.unit == "g" else "volume_ratio"
        base = quantity_value(stated, dimension, "stated_per_l")
        entered = positive(base / 1000 if rate.unit == "g" else base, "stated_per_l")
        density = None if rate.unit == "g" else density_g_per_ml(component["product"])
        question = slip_question(entered, rate.amount_per_l, density)
        if question is not None:
            unit = "g/L" if rate.unit == "g" else "mL/L"
            named = {**question.context, "component": rate.product_name, "unit": unit}
            findings.append(replace(question, context=named))
    return tuple(findings)


def _room_findings(rates: Sequence[Rate], factor: float) -> tuple[Finding, ...]:
    """Refuse partners that leave no water, and ask where half the water would be too much.

    1 g of a dry partner is counted as 1 mL at most.
    """
    ml_per_l = 0.0
    for rate in rates:
        ml_per_l += rate.amount_per_l * factor
    if ml_per_l > 1000:
        raise TankError(
            "tank.no_room_for_water",
            f"The partners alone fill {ml_per_l!r} mL of every litre.",
            ml_per_l=ml_per_l,
        )
    if ml_per_l <= 500:
        return ()
    return (
        Finding(
            "tank.partners_over_half",
            "caution",
            f"The partners fill {ml_per_l!r} mL of a litre; start with less than half the water.",
            "components",
            None,
            {"ml_per_l": ml_per_l},
        ),
    )


def _many_loads_findings(n_loads: int) -> tuple[Finding, ...]:
    """Ask about a tank that has to be filled very often: its capacity may be in another unit."""
    if n_loads <= MANY_LOADS:
        return ()
    return (
        Finding(
            "tank.many_loads",
            "caution",
            f"{n_loads} tank loads; check the unit of the tank's capacity.",
            "tank",
            None,
            {"n": n_loads},
        ),
    )


def _component_plan(rate: Rate, final_l: float, number_format: NumberFormat) -> ComponentPlan:
    total = rate.amount_per_l * final_l
    return ComponentPlan(
        rate.id,
        rate.product_id,
        rate.product_name,
        rate.kind,
        rate.unit,
        rate.amount_per_l,
        total,
        amount_text(total, "mass" if rate.unit == "g" else "volume", number_format),
        ai_shares([rate], final_l),
    )


def tank_plan(request: Mapping[str, Any]) -> TankPlan:
    """Return the plan of a mix: amounts per load, per line and per lot, findings, left-over.

    Parameters
    ----------
    request : mapping, see mix.schema.json and `mix_request.read_request`

    Returns
    -------
    TankPlan, unrounded but for the measured amounts. Vectors: tests/vectors/tank/tank_plan.json

    Raises
    ------
    TankError    `tank.too_many_loads`, `tank.no_room_for_water`, and those of `read_request`.
    TepalError   What lines, components, strength, dilution, measuring, injector and units raise.
    """
    mix = read_request(request)
    number_format = mix.number_format
    rates = mix.rates
    final_l = mix.applied_l + mix.extra_l
    room_findings = _room_findings(rates, mix.injector_factor)
    volume_l = final_l / mix.injector_factor
    volumes = tank_loads(volume_l, mix.capacity_l)
    steps = mixing_steps(rates)
    by_id = {rate.id: rate for rate in rates}
    loads = loads_of(
        [by_id[step.component_id] for step in steps],
        mix.injector_factor,
        volumes,
        mix.instruments,
        mix.max_error_pct,
        number_format,
    )
    return TankPlan(
        mix.method,
        mix.applied_l,
        mix.extra_l,
        volume_l,
        amount_text(volume_l * 1000, "volume", number_format),
        mix.injector_factor,
        mix.injector_ratio,
        mix.injector_meaning,
        tuple(_component_plan(rate, final_l, number_format) for rate in rates),
        steps,
        loads,
        line_shares(mix.lines, rates, mix.season, number_format),
        lot_totals(mix.lines, rates, mix.season),
        ai_shares(rates, mix.extra_l) if mix.extra_l > 0 else (),
        leftover_options(mix.method, mix.extra_l),
        use_within_h([component["product"] for component in mix.components]),
        (
            *mix.calibration_findings,
            *line_findings(mix.lines),
            *room_findings,
            *_many_loads_findings(len(volumes)),
            *mix_findings(rates, mix.components, request),
            *load_findings(rates, loads),
            *_slip_questions(rates, mix.components),
        ),
    )
