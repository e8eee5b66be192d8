"""A tank mix from partners, lines, tank and instruments to amounts per load and per lot.

Twin: web/app/core/tank.js. `tank_plan` reads one JSON record (mix.schema.json) and returns a frozen
plan. Volumes are final volumes: half the water, the partners in mixing order, water up to it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from tepal.domain.amounts import AmountText, amount_text
from tepal.domain.calibration import calibration_of
from tepal.domain.components import Rate, rates_of
from tepal.domain.errors import text_of
from tepal.domain.injector import injector_factor
from tepal.domain.leftover import LeftoverOption, leftover_options
from tepal.domain.lines import calibration_findings, line_findings, lines_of
from tepal.domain.loads import Load, TankError, load_findings, loads_of, tank_loads
from tepal.domain.measuring import DEFAULT_MAX_ERROR_PCT, instruments_of
from tepal.domain.mixing_order import MixingStep, mix_findings, mixing_steps, use_within_h
from tepal.domain.ranges import not_negative, positive, within
from tepal.domain.rounding import PLAIN_FORMAT, NumberFormat
from tepal.domain.shares import (
    AiShare,
    LineShare,
    LotTotal,
    ai_shares,
    line_shares,
    lot_totals,
    season_before,
)
from tepal.domain.slips import slip_question
from tepal.domain.strength import density_g_per_ml
from tepal.domain.units import quantity_value, unit_of

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from tepal.domain.errors import Finding

__all__ = ["METHODS", "ComponentPlan", "TankPlan", "tank_plan"]

METHODS = (
    "spray",
    "sprench",
    "drench",
    "liner_dip",
    "bulb_dip",
    "sub_irrigation",
    "injector",
)


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
    components: tuple[ComponentPlan, ...]
    steps: tuple[MixingStep, ...]
    loads: tuple[Load, ...]
    lines: tuple[LineShare, ...]
    lots: tuple[LotTotal, ...]
    leftover_ais: tuple[AiShare, ...]
    leftover_options: tuple[LeftoverOption, ...]
    use_within_h: float | None
    findings: tuple[Finding, ...]


_REQUEST_FIELDS = frozenset(
    {
        "method",
        "number_format",
        "components",
        "lines",
        "tank",
        "instruments",
        "extra",
        "max_error",
        "injector",
        "calibrated",
        "calibration",
        "season",
        "water",
        "incompatible_pairs",
        "jar_tests",
        "note",
    }
)
_COMPONENT_FIELDS = frozenset(
    {
        "id",
        "product",
        "target",
        "target_of",
        "target_ai",
        "target_expressed_as",
        "matches",
        "is_reference",
        "stated_per_l",
        "note",
    }
)
_LINE_FIELDS = frozenset(
    {
        "id",
        "bench",
        "lot",
        "area",
        "volume_per_area",
        "n_containers",
        "volume_per_container",
        "volume",
        "n_plants",
        "note",
    }
)
_SEASON_FIELDS = frozenset({"lot", "ai", "expressed_as", "amount", "note"})


def _check_fields(record: Mapping[str, Any], known: frozenset[str], where: str) -> None:
    """Refuse a field that nothing reads: a misspelt one would be passed over in silence."""
    unknown = sorted(set(record) - known)
    if unknown:
        raise TankError(
            "tank.unknown_field",
            f"{where} has a field that is not known: {unknown[0]}.",
            where=where,
            field=unknown[0],
        )


def _records(request: Mapping[str, Any], name: str) -> Sequence[Mapping[str, Any]]:
    """Return a list of records of the request; an absent one is empty."""
    value = request.get(name)
    if value is None:
        return []
    if not isinstance(value, list) or not all(isinstance(item, dict) for item in value):
        raise TankError("tank.not_a_list", f"{name} must be a list of records.", field=name)
    return value


def _check_registers(request: Mapping[str, Any]) -> None:
    """Refuse registers of another shape than `mix_findings` reads."""
    _record(request, "water")
    for pair in _records(request, "incompatible_pairs"):
        if not isinstance(pair.get("a"), str) or not isinstance(pair.get("b"), str):
            raise TankError(
                "tank.register",
                "An incompatible pair names two partners.",
                field="pairs",
            )
    for test in _records(request, "jar_tests"):
        products = test.get("products")
        if not isinstance(products, list) or not all(isinstance(name, str) for name in products):
            raise TankError("tank.register", "A jar test lists its products.", field="jar_tests")


def _record(request: Mapping[str, Any], name: str) -> Mapping[str, Any] | None:
    value = request.get(name)
    if value is not None and not isinstance(value, dict):
        raise TankError("tank.not_a_record", f"{name} must be a record.", field=name)
    return value


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


def _extra_l(extra: Mapping[str, Any] | None, applied_l: float) -> float:
    if extra is None:
        return 0.0
    if unit_of(extra.get("unit")).dimension == "fraction":
        pct = within(quantity_value(extra, "fraction", "extra"), "extra", 0, 100)
        return applied_l * pct / 100
    return not_negative(quantity_value(extra, "volume", "extra") / 1000, "extra")


def _factor(method: str, injector: Mapping[str, Any] | None) -> float:
    if injector is None:
        if method == "injector":
            raise TankError(
                "tank.injector_missing", "An injector needs its ratio and what the ratio means."
            )
        return 1.0
    return injector_factor(injector.get("ratio"), injector.get("meaning"))


def _capacity_l(tank: Mapping[str, Any] | None) -> float:
    if tank is None or tank.get("capacity") is None:
        raise TankError("tank.capacity_missing", "The tank needs its capacity.")
    return positive(quantity_value(tank["capacity"], "volume", "capacity") / 1000, "capacity")


def _max_error_pct(max_error: Mapping[str, Any] | None) -> float:
    if max_error is None:
        return DEFAULT_MAX_ERROR_PCT
    return within(quantity_value(max_error, "fraction", "max_error"), "max_error", 0.1, 50)


def _calibrated(request: Mapping[str, Any]) -> tuple[float | None, tuple[Finding, ...]]:
    """Return what the sprayer puts down, stated or measured, with what is doubtful about it."""
    stated = _record(request, "calibrated")
    measured = _record(request, "calibration")
    if stated is not None and measured is not None:
        raise TankError(
            "tank.two_calibrations",
            "A stated volume per area and a calibration are both given; say which one counts.",
        )
    if measured is not None:
        calibration = calibration_of(measured)
        return (calibration.ml_per_m2, calibration.findings)
    if stated is None:
        return (None, ())
    ml_per_m2 = quantity_value(stated, "volume_per_area", "calibrated")
    return (positive(ml_per_m2, "calibrated"), ())


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
    request : mapping, see mix.schema.json
        `method`; `components`; `lines`; `tank` {capacity}; `instruments`; `extra` {value, unit}
        (what hose and bath keep, a volume or % of the applied volume); `number_format`;
        `max_error` {value, '%'}; `injector` {ratio, meaning}; `calibrated` {value, unit} (volume
        per area that the sprayer puts down) or `calibration` (see `calibration_of`); `season`
        [{lot, ai, amount}]; `water` {ph, ...}; `incompatible_pairs`, `jar_tests`.

    Returns
    -------
    TankPlan, unrounded but for the measured amounts. Vectors: tests/vectors/tank/tank_plan.json

    Raises
    ------
    TankError
        `tank.unknown_field`, `tank.method_unknown`, `tank.capacity_missing`,
        `tank.injector_missing`, `tank.two_calibrations`, `tank.too_many_loads`,
        `tank.no_room_for_water`, `tank.not_a_list`, `tank.not_a_record`, `tank.register`.
    TepalError   What lines, components, strength, dilution, measuring, injector and units raise.
    """
    _check_fields(request, _REQUEST_FIELDS, "request")
    method = request.get("method")
    if method not in METHODS:
        raise TankError(
            "tank.method_unknown",
            f"{method!r} is no method of application.",
            method=text_of(method),
        )
    stated_format: Any = _record(request, "number_format")
    number_format: NumberFormat = PLAIN_FORMAT if stated_format is None else stated_format
    calibrated_ml_per_m2, nozzle_findings = _calibrated(request)
    for record in _records(request, "lines"):
        _check_fields(record, _LINE_FIELDS, "lines")
    lines = lines_of(_records(request, "lines"), calibrated_ml_per_m2)
    everything = _records(request, "components")
    for component in everything:
        _check_fields(component, _COMPONENT_FIELDS, "components")
    components = [item for item in everything if not item.get("is_reference")]
    rates = rates_of(everything, lines)
    applied_l = 0.0
    for line in lines:
        applied_l += line.volume_l
    extra_l = _extra_l(_record(request, "extra"), applied_l)
    final_l = applied_l + extra_l
    factor = _factor(method, _record(request, "injector"))
    _check_room(rates, factor)
    volume_l = final_l / factor
    _check_registers(request)
    steps = mixing_steps(rates)
    by_id = {rate.id: rate for rate in rates}
    loads = loads_of(
        [by_id[step.component_id] for step in steps],
        factor,
        tank_loads(volume_l, _capacity_l(_record(request, "tank"))),
        instruments_of(_records(request, "instruments")),
        _max_error_pct(_record(request, "max_error")),
        number_format,
    )
    for record in _records(request, "season"):
        _check_fields(record, _SEASON_FIELDS, "season")
    season = season_before(_records(request, "season"))
    return TankPlan(
        method,
        applied_l,
        extra_l,
        volume_l,
        amount_text(volume_l * 1000, "volume", number_format),
        factor,
        tuple(_component_plan(rate, final_l, number_format) for rate in rates),
        steps,
        loads,
        line_shares(lines, rates, season, number_format),
        lot_totals(lines, rates, season),
        ai_shares(rates, extra_l) if extra_l > 0 else (),
        leftover_options(method, extra_l),
        use_within_h([component["product"] for component in components]),
        (
            *nozzle_findings,
            *line_findings(lines),
            *calibration_findings(lines, calibrated_ml_per_m2),
            *mix_findings(rates, components, request),
            *load_findings(rates, loads),
            *_slip_questions(rates, components),
        ),
    )
