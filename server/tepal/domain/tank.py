"""A tank mix from partners, lines, tank and instruments to amounts per load and per lot.

Twin: web/app/core/tank.js. `tank_plan` reads one JSON record (mix.schema.json) and returns a frozen
plan; the arithmetic stands in small functions above it. Volumes are final volumes: half the water,
the partners in mixing order, water up to the volume.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from tepal.domain.components import Doses, Rate, rates_of
from tepal.domain.errors import Finding, TepalError
from tepal.domain.injector import injector_factor
from tepal.domain.leftover import LeftoverOption, leftover_options
from tepal.domain.lines import (
    Line,
    line_findings,
    lines_of,
    shared_ml_per_container,
    shared_ml_per_m2,
)
from tepal.domain.measuring import (
    DEFAULT_MAX_ERROR_PCT,
    Instrument,
    MeasuredAmount,
    TwoStep,
    instruments_of,
    measured_amount,
    two_step_dilution,
)
from tepal.domain.mixing_order import MixingStep, mix_findings, mixing_steps, use_within_h
from tepal.domain.ranges import not_negative, positive, within
from tepal.domain.rounding import PLAIN_FORMAT, NumberFormat, format_quantity
from tepal.domain.slips import slip_question
from tepal.domain.units import quantity_value, shown_in, unit_of

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

__all__ = [
    "AiShare",
    "AmountText",
    "ComponentPlan",
    "LineShare",
    "Load",
    "LoadAmount",
    "LotTotal",
    "TankError",
    "TankPlan",
    "tank_loads",
    "tank_plan",
]

METHODS = (
    "spray",
    "sprench",
    "drench",
    "liner_dip",
    "bulb_dip",
    "sub_irrigation",
    "injector",
)


class TankError(TepalError, ValueError):
    """The tank, the water or the loads do not fit together."""


@dataclass(frozen=True, slots=True)
class AmountText:
    """One amount as both systems of measures read it; `metric` and `us` are formatted texts."""

    base: float
    metric: str
    us: str


@dataclass(frozen=True, slots=True)
class LoadAmount:
    """One partner in one load: exact amount in mL or g, what to measure, what that gives.

    `resulting_mg_per_l` is each a.i. in the final solution with the measured amount, in the order of
    the product's a.i.; empty, like `error_pct`, where no instrument measures it.
    """

    component_id: str
    exact: float
    unit: str
    text: AmountText
    measured: MeasuredAmount | None
    two_step: TwoStep | None
    error_pct: float | None
    resulting_mg_per_l: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Load:
    """One tank load, or several equal ones (`numbers` counts them from 1)."""

    numbers: tuple[int, ...]
    volume_l: float
    volume_text: AmountText
    water_half_text: AmountText
    amounts: tuple[LoadAmount, ...]


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
class AiShare:
    """Active ingredient: concentration, mass, and mass per area, container and plant if known.

    The `season_*` figures add what the lot had before in this season; None where nothing is on file
    or the basis is not known.
    """

    component_id: str
    ai: str
    expressed_as: str
    mg_per_l: float
    mg: float
    mg_per_m2: float | None
    mg_per_container: float | None
    mg_per_plant: float | None
    season_mg_per_m2: float | None
    season_mg_per_container: float | None
    season_mg_per_plant: float | None


@dataclass(frozen=True, slots=True)
class LineShare:
    """What one bench and lot gets."""

    id: str
    bench: str | None
    lot: str | None
    volume_l: float
    volume_text: AmountText
    ais: tuple[AiShare, ...]


@dataclass(frozen=True, slots=True)
class LotTotal:
    """What one lot gets over all its lines."""

    lot: str
    volume_l: float
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
    components: tuple[ComponentPlan, ...]
    steps: tuple[MixingStep, ...]
    loads: tuple[Load, ...]
    lines: tuple[LineShare, ...]
    lots: tuple[LotTotal, ...]
    leftover_ais: tuple[AiShare, ...]
    leftover_options: tuple[LeftoverOption, ...]
    use_within_h: float | None
    findings: tuple[Finding, ...]


def tank_loads(volume_l: float, capacity_l: float) -> tuple[float, ...]:
    """Return the volume of each tank load: full ones, then the partial rest.

    Parameters
    ----------
    volume_l, capacity_l : float, L, > 0

    Returns
    -------
    tuple of float, L; the sum is `volume_l`. A rest below a billionth of the tank is no load.

    Raises
    ------
    OutOfRangeError   An input is not positive.
    TankError         `tank.too_many_loads` (above 1000: a slip of unit).
    """
    volume = positive(volume_l, "volume_l")
    capacity = positive(capacity_l, "capacity_l")
    n_exact = volume / capacity
    if n_exact > 1000:
        raise TankError(
            "tank.too_many_loads",
            f"{volume!r} L in a tank of {capacity!r} L are more than 1000 loads; check the units.",
            volume_l=volume,
            capacity_l=capacity,
        )
    n_full = math.floor(n_exact + 1e-9)
    rest = volume - n_full * capacity
    if n_full > 0 and rest <= capacity * 1e-9:
        return (*([capacity] * (n_full - 1)), volume - (n_full - 1) * capacity)
    return (*([capacity] * n_full), rest)


def _amount_text(base: float, dimension: str, number_format: NumberFormat) -> AmountText:
    metric = shown_in(base, dimension, "metric")
    us = shown_in(base, dimension, "us")
    return AmountText(
        base,
        format_quantity(metric.value, metric.unit, number_format),
        format_quantity(us.value, us.unit, number_format),
    )


def _ai_shares(
    rates: Sequence[Rate],
    volume_l: float,
    area_m2: float | None,
    n_containers: int | None,
    n_plants: int | None,
    season: Mapping[str, float],
    lot: str | None,
) -> tuple[AiShare, ...]:
    shares: list[AiShare] = []
    for rate in rates:
        for ai in rate.ais:
            mg = ai.mg_per_l * volume_l
            per_m2 = None if area_m2 is None else mg / area_m2
            per_container = None if n_containers is None else mg / n_containers
            per_plant = None if n_plants is None else mg / n_plants
            shares.append(
                AiShare(
                    rate.id,
                    ai.ai,
                    ai.expressed_as,
                    ai.mg_per_l,
                    mg,
                    per_m2,
                    per_container,
                    per_plant,
                    _season_sum(season, lot, ai.ai, "m2", per_m2),
                    _season_sum(season, lot, ai.ai, "container", per_container),
                    _season_sum(season, lot, ai.ai, "plant", per_plant),
                )
            )
    return tuple(shares)


def _season_key(lot: str | None, ai: str, basis: str) -> str:
    return f"{lot}\n{ai}\n{basis}"


def _season_sum(
    season: Mapping[str, float], lot: str | None, ai: str, basis: str, now: float | None
) -> float | None:
    before = season.get(_season_key(lot, ai, basis))
    return None if before is None or now is None else before + now


_SEASON_BASES = {
    "mg/m2": "m2",
    "g/m2": "m2",
    "g/har": "m2",
    "kg/har": "m2",
    "mg/[sft_i]": "m2",
    "[oz_av]/(1000.[sft_i])": "m2",
    "[lb_av]/[acr_us]": "m2",
    "mg/{pot}": "container",
    "ug/{pot}": "container",
    "mg/{bulb}": "container",
    "mg/{plant}": "plant",
}


def _season(records: Sequence[Mapping[str, Any]]) -> dict[str, float]:
    """Return mg already given per lot, a.i. and basis; several records of one key are added."""
    before: dict[str, float] = {}
    for record in records:
        amount = record.get("amount")
        unit = unit_of(amount.get("unit") if isinstance(amount, dict) else None)
        basis = _SEASON_BASES.get(unit.code)
        dimension = "mass_per_area" if basis in {"m2", None} else "mass_per_item"
        mg = not_negative(quantity_value(amount, dimension, "season"), "season")
        key = _season_key(str(record.get("lot")), str(record.get("ai")), str(basis))
        before[key] = before.get(key, 0.0) + mg
    return before


def _load_amounts(
    rates: Sequence[Rate],
    factor: float,
    load_l: float,
    instruments: Sequence[Instrument],
    max_error_pct: float,
    number_format: NumberFormat,
) -> tuple[LoadAmount, ...]:
    amounts: list[LoadAmount] = []
    for rate in rates:
        exact = rate.amount_per_l * factor * load_l
        dimension = "mass" if rate.unit == "g" else "volume"
        measured = measured_amount(exact, dimension, instruments, max_error_pct, number_format)
        two_step = None
        if measured is None or not measured.is_measurable:
            two_step = two_step_dilution(
                exact, dimension, instruments, max_error_pct, number_format
            )
        best = two_step if two_step is not None else measured
        error_pct = None if best is None else best.error_pct
        amounts.append(
            LoadAmount(
                rate.id,
                exact,
                rate.unit,
                _amount_text(exact, dimension, number_format),
                measured,
                two_step,
                error_pct,
                ()
                if error_pct is None
                else tuple(ai.mg_per_l * (1 + error_pct / 100) for ai in rate.ais),
            )
        )
    return tuple(amounts)


def _loads(
    rates: Sequence[Rate],
    factor: float,
    volumes: Sequence[float],
    instruments: Sequence[Instrument],
    max_error_pct: float,
    number_format: NumberFormat,
) -> tuple[Load, ...]:
    """Return equal loads once: full ones share their amounts, the last partial one has its own."""
    loads: list[Load] = []
    start = 0
    while start < len(volumes):
        end = start + 1
        while end < len(volumes) and volumes[end] == volumes[start]:
            end += 1
        loads.append(
            Load(
                tuple(range(start + 1, end + 1)),
                volumes[start],
                _amount_text(volumes[start] * 1000, "volume", number_format),
                _amount_text(volumes[start] * 500, "volume", number_format),
                _load_amounts(
                    rates, factor, volumes[start], instruments, max_error_pct, number_format
                ),
            )
        )
        start = end
    return tuple(loads)


def _lots(
    lines: Sequence[Line], rates: Sequence[Rate], season: Mapping[str, float]
) -> list[LotTotal]:
    names = list(dict.fromkeys(line.lot for line in lines if line.lot is not None))
    totals: list[LotTotal] = []
    for name in names:
        own = [line for line in lines if line.lot == name]
        volume_l = 0.0
        for line in own:
            volume_l += line.volume_l
        totals.append(
            LotTotal(
                name,
                volume_l,
                _ai_shares(
                    rates,
                    volume_l,
                    _sum([line.area_m2 for line in own]),
                    _whole(_sum([line.n_containers for line in own])),
                    _whole(_sum([line.n_plants for line in own])),
                    season,
                    name,
                ),
            )
        )
    return totals


def _sum(values: Sequence[float | None]) -> float | None:
    """Return the sum, or None where one line does not say: a partial sum would understate."""
    total = 0.0
    for value in values:
        if value is None:
            return None
        total += value
    return total


def _whole(value: float | None) -> int | None:
    return None if value is None else int(value)


def _tank_findings(
    rates: Sequence[Rate], loads: Sequence[Load], components: Sequence[Mapping[str, Any]]
) -> list[Finding]:
    findings: list[Finding] = []
    names = {rate.id: rate.product_name for rate in rates}
    for load in loads:
        for amount in load.amounts:
            if amount.two_step is not None:
                findings.append(
                    Finding(
                        "tank.amount_too_small",
                        "caution",
                        f"{names[amount.component_id]}: the amount is too small to measure well; "
                        "dilute it in two steps.",
                        "components",
                        None,
                        {"component": names[amount.component_id], "load": load.numbers[0]},
                    )
                )
            elif amount.measured is None or not amount.measured.is_measurable:
                findings.append(
                    Finding(
                        "tank.amount_not_measurable",
                        "stop",
                        f"{names[amount.component_id]}: no instrument on file measures this amount "
                        "well enough.",
                        "instruments",
                        None,
                        {"component": names[amount.component_id], "load": load.numbers[0]},
                    )
                )
    for rate, component in zip(
        rates, [c for c in components if not c.get("is_reference")], strict=True
    ):
        stated = component.get("stated_per_l")
        if stated is None:
            continue
        dimension = "mass_concentration" if rate.unit == "g" else "volume_ratio"
        base = quantity_value(stated, dimension, "stated_per_l")
        entered = positive(base / 1000 if rate.unit == "g" else base, "stated_per_l")
        density = component["product"].get("density")
        question = slip_question(
            entered,
            rate.amount_per_l,
            None
            if density is None
            else quantity_value(density, "mass_concentration", "density") / 1000000,
        )
        if question is not None:
            findings.append(question)
    return findings


def _check_room(rates: Sequence[Rate], factor: float) -> None:
    """Refuse partners that leave no water; 1 g of a dry one is counted as 1 mL at most."""
    ml_per_l = 0.0
    for rate in rates:
        ml_per_l += rate.amount_per_l * factor
    if ml_per_l > 1000:
        raise TankError(
            "tank.no_room_for_water",
            f"The partners alone fill {ml_per_l!r} mL of every litre.",
            ml_per_l=ml_per_l,
        )


def tank_plan(request: Mapping[str, Any]) -> TankPlan:
    """Return the plan of a mix: amounts per load, per line and per lot, findings, left-over.

    Parameters
    ----------
    request : mapping, see mix.schema.json
        `method`; `components`; `lines`; `tank` {capacity}; `instruments`; `extra` {value, unit}
        (what hose and bath keep, a volume or % of the applied volume); `number_format`;
        `max_error` {value, '%'}; `injector` {ratio, meaning}; `calibrated` {value, unit} (volume
        per area that the sprayer puts down); `season` [{lot, ai, amount}]; `water` {ph, ...};
        `incompatible_pairs`, `jar_tests`.

    Returns
    -------
    TankPlan, unrounded but for the measured amounts.

    Raises
    ------
    TankError
        `tank.method_unknown`, `tank.capacity_missing`, `tank.too_many_loads`,
        `tank.no_room_for_water`.
    TepalError   What lines, components, strength, dilution, measuring, injector and units raise.
    """
    method = request.get("method")
    if method not in METHODS:
        raise TankError(
            "tank.method_unknown", f"{method!r} is no method of application.", method=str(method)
        )
    number_format = request.get("number_format") or PLAIN_FORMAT
    calibrated = request.get("calibrated")
    lines = lines_of(
        request.get("lines") or [],
        None
        if calibrated is None
        else positive(quantity_value(calibrated, "volume_per_area", "calibrated"), "calibrated"),
    )
    components = request.get("components") or []
    rates = rates_of(
        components,
        Doses(lambda: shared_ml_per_m2(lines), lambda: shared_ml_per_container(lines)),
    )
    applied_l = 0.0
    for line in lines:
        applied_l += line.volume_l
    extra_l = _extra_l(request.get("extra"), applied_l)
    injector = request.get("injector")
    factor = (
        1.0 if injector is None else injector_factor(injector.get("ratio"), injector.get("meaning"))
    )
    if method == "injector" and injector is None:
        raise TankError("tank.injector_missing", "An injector needs its ratio and what it means.")
    _check_room(rates, factor)
    volume_l = (applied_l + extra_l) / factor
    tank = request.get("tank") or {}
    if tank.get("capacity") is None:
        raise TankError("tank.capacity_missing", "The tank needs its capacity.")
    capacity_l = quantity_value(tank["capacity"], "volume", "capacity") / 1000
    max_error = request.get("max_error")
    max_error_pct = (
        DEFAULT_MAX_ERROR_PCT
        if max_error is None
        else within(quantity_value(max_error, "fraction", "max_error"), "max_error", 0.1, 50)
    )
    steps = mixing_steps(rates)
    ordered = [rate for step in steps for rate in rates if rate.id == step.component_id]
    loads = _loads(
        ordered,
        factor,
        tank_loads(volume_l, capacity_l),
        instruments_of(request.get("instruments") or []),
        max_error_pct,
        number_format,
    )
    season = _season(request.get("season") or [])
    return TankPlan(
        method,
        applied_l,
        extra_l,
        volume_l,
        _amount_text(volume_l * 1000, "volume", number_format),
        factor,
        tuple(_component_plan(rate, applied_l + extra_l, number_format) for rate in rates),
        steps,
        loads,
        tuple(
            LineShare(
                line.id,
                line.bench,
                line.lot,
                line.volume_l,
                _amount_text(line.volume_l * 1000, "volume", number_format),
                _ai_shares(
                    rates,
                    line.volume_l,
                    line.area_m2,
                    line.n_containers,
                    line.n_plants,
                    season,
                    line.lot,
                ),
            )
            for line in lines
        ),
        tuple(_lots(lines, rates, season)),
        _ai_shares(rates, extra_l, None, None, None, {}, None) if extra_l > 0 else (),
        leftover_options(method, extra_l),
        use_within_h([c["product"] for c in components if not c.get("is_reference")]),
        (
            *line_findings(lines),
            *mix_findings(rates, request),
            *_tank_findings(rates, loads, components),
        ),
    )


def _extra_l(extra: Any, applied_l: float) -> float:
    if extra is None:
        return 0.0
    unit = unit_of(extra.get("unit") if isinstance(extra, dict) else None)
    if unit.dimension == "fraction":
        pct = within(quantity_value(extra, "fraction", "extra"), "extra", 0, 100)
        return applied_l * pct / 100
    return not_negative(quantity_value(extra, "volume", "extra") / 1000, "extra")


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
        _amount_text(total, "mass" if rate.unit == "g" else "volume", number_format),
        _ai_shares([rate], final_l, None, None, None, {}, None),
    )
