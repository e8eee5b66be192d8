"""The request of a mix: one JSON record read into volumes, rates and instruments.

Twin: web/app/core/mix_request.js. Reading refuses what nothing would use (a misspelt field) and
what has another shape, so that no part of a record is passed over in silence.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from tepal.domain.calibration import calibration_of
from tepal.domain.components import Rate, rates_of
from tepal.domain.errors import TepalError, text_of
from tepal.domain.injector import injector_factor
from tepal.domain.lines import Line, calibration_findings, lines_of
from tepal.domain.measuring import DEFAULT_MAX_ERROR_PCT, Instrument, instruments_of
from tepal.domain.ranges import not_negative, positive, within
from tepal.domain.rounding import PLAIN_FORMAT, NumberFormat
from tepal.domain.shares import season_before
from tepal.domain.units import quantity_value, unit_of

if TYPE_CHECKING:
    from collections.abc import Mapping

    from tepal.domain.errors import Finding

__all__ = ["METHODS", "MixRequest", "MixRequestError", "read_request"]

METHODS = (
    "spray",
    "sprench",
    "drench",
    "liner_dip",
    "bulb_dip",
    "sub_irrigation",
    "injector",
    "fog",
    "other",
)


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


class MixRequestError(TepalError, ValueError):
    """The record of a mix lacks something, or has another shape than a mix."""


@dataclass(frozen=True, slots=True)
class MixRequest:
    """A mix as read: `components` are the records that go into the tank, `rates` their amounts.

    The factor is 1 and ratio and meaning None without an injector.
    """

    method: str
    number_format: NumberFormat
    lines: tuple[Line, ...]
    components: tuple[dict[str, Any], ...]
    rates: tuple[Rate, ...]
    applied_l: float
    extra_l: float
    injector_factor: float
    injector_ratio: float | None
    injector_meaning: str | None
    capacity_l: float
    instruments: tuple[Instrument, ...]
    max_error_pct: float
    season: dict[str, float]
    calibration_findings: tuple[Finding, ...]


def _check_fields(record: Mapping[str, Any], known: frozenset[str], where: str) -> None:
    """Refuse a field that nothing reads: a misspelt one would be passed over in silence."""
    unknown = sorted(set(record) - known)
    if unknown:
        raise MixRequestError(
            "tank.unknown_field",
            f"{where} has a field that is not known: {unknown[0]}.",
            where=where,
            field=unknown[0],
        )


def _records(request: Mapping[str, Any], name: str) -> list[dict[str, Any]]:
    """Return a list of records of the request; an absent one is empty."""
    value = request.get(name)
    if value is None:
        return []
    if not isinstance(value, list) or not all(isinstance(item, dict) for item in value):
        raise MixRequestError("tank.not_a_list", f"{name} must be a list of records.", field=name)
    return value


def _check_registers(request: Mapping[str, Any]) -> None:
    """Refuse registers of another shape than `mix_findings` reads."""
    _record(request, "water")
    for pair in _records(request, "incompatible_pairs"):
        if not isinstance(pair.get("a"), str) or not isinstance(pair.get("b"), str):
            raise MixRequestError(
                "tank.register",
                "An incompatible pair names two partners.",
                field="pairs",
            )
    for test in _records(request, "jar_tests"):
        products = test.get("products")
        if not isinstance(products, list) or not all(isinstance(name, str) for name in products):
            raise MixRequestError(
                "tank.register", "A jar test lists its products.", field="jar_tests"
            )


def _record(request: Mapping[str, Any], name: str) -> Mapping[str, Any] | None:
    value = request.get(name)
    if value is not None and not isinstance(value, dict):
        raise MixRequestError("tank.not_a_record", f"{name} must be a record.", field=name)
    return value


def _extra_l(extra: Mapping[str, Any] | None, applied_l: float) -> float:
    if extra is None:
        return 0.0
    if unit_of(extra.get("unit")).dimension == "fraction":
        pct = within(quantity_value(extra, "fraction", "extra"), "extra", 0, 100)
        return applied_l * pct / 100
    return not_negative(quantity_value(extra, "volume", "extra") / 1000, "extra")


def _injector(
    method: str, injector: Mapping[str, Any] | None
) -> tuple[float, float | None, str | None]:
    """Return factor, ratio and meaning; without an injector the factor is 1."""
    if injector is None:
        if method == "injector":
            raise MixRequestError(
                "tank.injector_missing", "An injector needs its ratio and what the ratio means."
            )
        return (1.0, None, None)
    factor = injector_factor(injector.get("ratio"), injector.get("meaning"))
    meaning = str(injector["meaning"])
    return (factor, factor if meaning == "part_in_total" else factor - 1, meaning)


def _capacity_l(tank: Mapping[str, Any] | None) -> float:
    if tank is None or tank.get("capacity") is None:
        raise MixRequestError("tank.capacity_missing", "The tank needs its capacity.")
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
        raise MixRequestError(
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


def read_request(request: Mapping[str, Any]) -> MixRequest:
    """Return a mix as read from its JSON record.

    Parameters
    ----------
    request : mapping, see mix.schema.json
        `method`; `components`; `lines`; `tank` {capacity}; `instruments`; `extra` {value, unit}
        (what hose and bath keep, a volume or % of the applied volume); `number_format`;
        `max_error` {value, '%'}; `injector` {ratio, meaning}; `calibrated` {value, unit} (volume
        per area that the sprayer puts down) or `calibration` (see `calibration_of`); `season`
        [{lot, ai, amount}]; `water` {ph, ...}; `incompatible_pairs`, `jar_tests`.

    Raises
    ------
    MixRequestError
        `tank.unknown_field`, `tank.method_unknown`, `tank.capacity_missing`,
        `tank.injector_missing`, `tank.two_calibrations`, `tank.not_a_list`,
        `tank.not_a_record`, `tank.register`.
    TepalError   What lines, components, strength, dilution, measuring, injector and units raise.
    """
    _check_fields(request, _REQUEST_FIELDS, "request")
    method = request.get("method")
    if method not in METHODS:
        raise MixRequestError(
            "tank.method_unknown",
            f"{method!r} is no method of application.",
            method=text_of(method),
        )
    stated_format: Any = _record(request, "number_format")
    line_records = _records(request, "lines")
    everything = _records(request, "components")
    season_records = _records(request, "season")
    for record in line_records:
        _check_fields(record, _LINE_FIELDS, "lines")
    for record in everything:
        _check_fields(record, _COMPONENT_FIELDS, "components")
    for record in season_records:
        _check_fields(record, _SEASON_FIELDS, "season")
    _check_registers(request)
    calibrated_ml_per_m2, nozzle_findings = _calibrated(request)
    lines = lines_of(line_records, calibrated_ml_per_m2)
    rates = rates_of(everything, lines)
    applied_l = 0.0
    for line in lines:
        applied_l += line.volume_l
    factor, ratio, meaning = _injector(method, _record(request, "injector"))
    return MixRequest(
        method,
        PLAIN_FORMAT if stated_format is None else stated_format,
        lines,
        tuple(record for record in everything if not record.get("is_reference")),
        rates,
        applied_l,
        _extra_l(_record(request, "extra"), applied_l),
        factor,
        ratio,
        meaning,
        _capacity_l(_record(request, "tank")),
        instruments_of(_records(request, "instruments")),
        _max_error_pct(_record(request, "max_error")),
        season_before(season_records),
        (*nozzle_findings, *calibration_findings(lines, calibrated_ml_per_m2)),
    )
