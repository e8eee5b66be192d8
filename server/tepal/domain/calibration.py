"""Calibration of sprayers: from a catch, a plot, a walk or a boom to the volume per area.

Twin: web/app/core/calibration.js. All results are mL/m2; `units.convert` gives gal/acre and others.
A calibration record names its `method`; `calibration_of` reads it and the result feeds the spray
volume of a mix.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from tepal.domain.errors import Finding, TepalError, text_of
from tepal.domain.ranges import positive, whole_number
from tepal.domain.units import quantity_value

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

__all__ = [
    "ACRE_128_M2",
    "MAX_NOZZLE_DEVIATION_PCT",
    "BenchWalk",
    "Calibration",
    "CalibrationError",
    "NozzleSpread",
    "acre_128_length_m",
    "area_rate_ml_per_m2",
    "bench_walk",
    "boom_rate_ml_per_m2",
    "calibration_of",
    "coverage_m2",
    "flow_ml_per_min",
    "nozzle_spread",
    "plot_rate_ml_per_m2",
    "speed_m_per_min",
    "walked_rate_ml_per_m2",
]

# 1/128 of 43 560 ft2 in m2: fluid ounces caught on it are gallons per acre (LSU AgCenter, 'Ounces
# equal gallons'; Kansas State University, hand sprayer calibration).
ACRE_128_M2 = 43560 / 128 * 0.09290304
# Common practice, no source: a nozzle more than 10 % off the mean is replaced.
MAX_NOZZLE_DEVIATION_PCT = 10.0


class CalibrationError(TepalError, ValueError):
    """A calibration record is incomplete or names no known method."""


@dataclass(frozen=True, slots=True)
class NozzleSpread:
    """Catches of several nozzles: mean, each one's deviation from it, and those over the bound."""

    mean_ml: float
    deviations_pct: tuple[float, ...]
    largest_deviation_pct: float
    uneven_numbers: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class BenchWalk:
    """How to walk a bench: litres, minutes and walking speed over `n_passes` of its length."""

    volume_l: float
    minutes: float
    m_per_min: float


@dataclass(frozen=True, slots=True)
class Calibration:
    """What a sprayer puts down, and what is doubtful about the measurement."""

    method: str
    ml_per_m2: float
    flow_ml_per_min: float | None
    spread: NozzleSpread | None
    findings: tuple[Finding, ...]


def flow_ml_per_min(catch_ml: float, seconds: float) -> float:
    """Return a nozzle's flow from what it gives in a time."""
    return positive(catch_ml, "catch_ml") * 60 / positive(seconds, "seconds")


def speed_m_per_min(distance_m: float, seconds: float) -> float:
    """Return the walking or driving speed over a course."""
    return positive(distance_m, "distance_m") * 60 / positive(seconds, "seconds")


def plot_rate_ml_per_m2(catch_ml: float, plot_m2: float) -> float:
    """Return the rate from what was used on a plot (caught in its time, or refilled).

    On `ACRE_128_M2` the catch in fluid ounces is the rate in gallons per acre.
    """
    return positive(catch_ml, "catch_ml") / positive(plot_m2, "plot_m2")


def acre_128_length_m(swath_m: float) -> float:
    """Return the course length that makes 1/128 acre with a swath (LSU AgCenter table)."""
    return ACRE_128_M2 / positive(swath_m, "swath_m")


def area_rate_ml_per_m2(ml_per_min: float, m_per_min: float, swath_m: float) -> float:
    """Return the rate of a sprayer in motion: flow (mL/min) / (speed (m/min) x swath (m)).

    The same as gal/acre = 5940 x gal/min / (mph x in) (UF/IFAS WG013).
    """
    m2_per_min = positive(m_per_min, "m_per_min") * positive(swath_m, "swath_m")
    return positive(ml_per_min, "ml_per_min") / m2_per_min


def boom_rate_ml_per_m2(
    nozzles_ml_per_min: Sequence[float], m_per_min: float, spacing_m: float
) -> float:
    """Return the rate of a boom from each nozzle's flow, speed and nozzle spacing."""
    n_nozzles = whole_number(len(nozzles_ml_per_min), "n_nozzles")
    total = 0.0
    for ml_per_min in nozzles_ml_per_min:
        total += positive(ml_per_min, "ml_per_min")
    return area_rate_ml_per_m2(total / n_nozzles, m_per_min, spacing_m)


def walked_rate_ml_per_m2(ml_per_min: float, minutes: float, area_m2: float) -> float:
    """Return the rate of a timed walk over a bench: flow (mL/min) x minutes / area (m2)."""
    used = positive(ml_per_min, "ml_per_min") * positive(minutes, "minutes")
    return used / positive(area_m2, "area_m2")


def bench_walk(
    area_m2: float, ml_per_m2: float, ml_per_min: float, length_m: float, n_passes: int = 1
) -> BenchWalk:
    """Return volume, minutes and walking speed for a bench at a rate and a flow (mL/min)."""
    used_ml = positive(area_m2, "area_m2") * positive(ml_per_m2, "ml_per_m2")
    minutes = used_ml / positive(ml_per_min, "ml_per_min")
    course_m = positive(length_m, "length_m") * whole_number(n_passes, "n_passes")
    return BenchWalk(used_ml / 1000, minutes, course_m / minutes)


def coverage_m2(tank_l: float, ml_per_m2: float) -> float:
    """Return the area that a tank covers at a rate."""
    return positive(tank_l, "tank_l") * 1000 / positive(ml_per_m2, "ml_per_m2")


def nozzle_spread(catches_ml: Sequence[float]) -> NozzleSpread:
    """Return the spread between nozzles caught for the same time; numbers count from 1.

    Uneven: more than 10 % off the mean (common practice, no source).
    """
    n_catches = whole_number(len(catches_ml), "n_catches")
    total = 0.0
    for catch in catches_ml:
        total += positive(catch, "catch_ml")
    mean = total / n_catches
    deviations = tuple((catch - mean) / mean * 100 for catch in catches_ml)
    largest = 0.0
    for deviation in deviations:
        largest = max(largest, abs(deviation))
    uneven = tuple(
        number
        for number, deviation in enumerate(deviations, start=1)
        if abs(deviation) > MAX_NOZZLE_DEVIATION_PCT
    )
    return NozzleSpread(mean, deviations, largest, uneven)


def _base(record: Mapping[str, Any], name: str, dimension: str) -> float:
    if record.get(name) is None:
        raise CalibrationError(
            "calibration.value_missing", f"The calibration needs {name}.", field=name
        )
    return positive(quantity_value(record[name], dimension, name), name)


def _catches_ml(record: Mapping[str, Any]) -> list[float]:
    catches = record.get("catches")
    if not isinstance(catches, list) or not catches:
        raise CalibrationError(
            "calibration.value_missing", "The calibration needs its catches.", field="catches"
        )
    amounts = [
        catch["amount"] if isinstance(catch, dict) and "amount" in catch else catch
        for catch in catches
    ]
    return [positive(quantity_value(amount, "volume", "catches"), "catches") for amount in amounts]


def _speed(record: Mapping[str, Any]) -> float:
    if record.get("speed") is not None:
        return _base(record, "speed", "speed")
    return speed_m_per_min(_base(record, "course", "length"), _base(record, "course_time", "time"))


def calibration_of(record: Mapping[str, Any]) -> Calibration:
    """Return the volume per area that a calibration record measured.

    Parameters
    ----------
    record : mapping, quantities as {value, unit}
        `method` 'plot' (`used`, `plot_area`), 'acre_128' (`used`: caught on 1/128 acre),
        'area_rate' (`catches`, `catch_time`, `swath`, and `speed` or `course` with `course_time`;
        the catches are the nozzles carried side by side), 'boom' (`catches`, `catch_time`,
        `spacing`, speed as before) or 'bench_walk' (`catches`, `catch_time`, `walk_time`, `area`).
        A catch is a quantity or a row with an `amount`.

    Raises
    ------
    CalibrationError   `calibration.method_unknown`, `calibration.value_missing`
    OutOfRangeError, UnitError

    Notes
    -----
    `calibration.uneven_nozzles` is a returned finding: more than 10 % between nozzles is common
    practice's bound and has no source.
    """
    method = record.get("method")
    if method == "plot":
        rate = plot_rate_ml_per_m2(
            _base(record, "used", "volume"), _base(record, "plot_area", "area")
        )
        return Calibration(method, rate, None, None, ())
    if method == "acre_128":
        rate = plot_rate_ml_per_m2(_base(record, "used", "volume"), ACRE_128_M2)
        return Calibration(method, rate, None, None, ())
    if method not in ("area_rate", "boom", "bench_walk"):
        raise CalibrationError(
            "calibration.method_unknown",
            f"{method!r} is no method of calibration.",
            method=text_of(method),
        )
    catches = _catches_ml(record)
    seconds = _base(record, "catch_time", "time")
    flows = [flow_ml_per_min(catch, seconds) for catch in catches]
    total = 0.0
    for flow in flows:
        total += flow
    if method == "boom":
        rate = boom_rate_ml_per_m2(flows, _speed(record), _base(record, "spacing", "length"))
    elif method == "area_rate":
        rate = area_rate_ml_per_m2(total, _speed(record), _base(record, "swath", "length"))
    else:
        minutes = _base(record, "walk_time", "time") / 60
        rate = walked_rate_ml_per_m2(total, minutes, _base(record, "area", "area"))
    spread = nozzle_spread(catches)
    findings: tuple[Finding, ...] = ()
    if spread.uneven_numbers:
        findings = (
            Finding(
                "calibration.uneven_nozzles",
                "caution",
                "Nozzles differ by more than 10 % from their mean; clean or replace them and "
                "calibrate again.",
                "catches",
                "common practice (no source)",
                {
                    "numbers": list(spread.uneven_numbers),
                    "largest_pct": spread.largest_deviation_pct,
                },
            ),
        )
    return Calibration(method, rate, total, spread, findings)
