"""Air and light: vapour pressure deficit (VPD) and daily light integral (DLI) from readings.

Twin: web/app/core/air.js. Formulas of FAO Irrigation and Drainage Paper 56 (Allen et al. 1998),
chapter 3. `exp` differs in the last digit between languages, so the twins agree to 1e-12.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from tepal.domain.errors import TepalError, text_of
from tepal.domain.ranges import not_negative, within

if TYPE_CHECKING:
    from collections.abc import Sequence

__all__ = [
    "LUX_PER_PPFD",
    "LightError",
    "dli_from_readings_mol",
    "dli_mol",
    "leaf_vpd_kpa",
    "mean_svp_kpa",
    "ppfd_from_lux",
    "svp_kpa",
    "vapour_pressure_daily_kpa",
    "vapour_pressure_from_mean_rh_kpa",
    "vapour_pressure_kpa",
    "vpd_kpa",
]

# Lux per umol m-2 s-1 by light source: Thimijan & Heins 1983, as quoted in a teaching list.
LUX_PER_PPFD: dict[str, float] = {
    "sun": 54.0,
    "high_pressure_sodium": 82.0,
    "metal_halide": 71.0,
    "cool_white": 74.0,
}


class LightError(TepalError, ValueError):
    """Light readings are missing, out of order, or of an unknown source."""


def svp_kpa(temperature_c: float) -> float:
    """Return the saturation vapour pressure in kPa (FAO-56 eq. 11), for -20 to 60 degC."""
    t = within(temperature_c, "temperature_c", -20, 60)
    return 0.6108 * math.exp(17.27 * t / (t + 237.3))


def mean_svp_kpa(min_c: float, max_c: float) -> float:
    """Return the day's saturation vapour pressure (FAO-56 eq. 12): mean of both extremes."""
    return (svp_kpa(max_c) + svp_kpa(min_c)) / 2


def vapour_pressure_kpa(temperature_c: float, rh_pct: float) -> float:
    """Return the actual vapour pressure at a temperature and relative humidity."""
    return svp_kpa(temperature_c) * within(rh_pct, "rh_pct", 0, 100) / 100


def vapour_pressure_daily_kpa(
    min_c: float, max_c: float, rh_max_pct: float, rh_min_pct: float
) -> float:
    """Return the day's actual vapour pressure from both extremes (FAO-56 eq. 17, the best)."""
    morning = svp_kpa(min_c) * within(rh_max_pct, "rh_max_pct", 0, 100) / 100
    noon = svp_kpa(max_c) * within(rh_min_pct, "rh_min_pct", 0, 100) / 100
    return (morning + noon) / 2


def vapour_pressure_from_mean_rh_kpa(min_c: float, max_c: float, rh_mean_pct: float) -> float:
    """Return the day's actual vapour pressure from the mean humidity (FAO-56 eq. 19, the worst)."""
    return within(rh_mean_pct, "rh_mean_pct", 0, 100) / 100 * mean_svp_kpa(min_c, max_c)


def vpd_kpa(temperature_c: float, rh_pct: float) -> float:
    """Return the vapour pressure deficit of the air in kPa."""
    return svp_kpa(temperature_c) * (1 - within(rh_pct, "rh_pct", 0, 100) / 100)


def leaf_vpd_kpa(leaf_c: float, air_c: float, rh_pct: float) -> float:
    """Return the leaf-to-air deficit in kPa; below zero water condenses on the leaf."""
    return svp_kpa(leaf_c) - within(rh_pct, "rh_pct", 0, 100) / 100 * svp_kpa(air_c)


def dli_mol(ppfd_umol: float, hours: float) -> float:
    """Return mol m-2 d-1 of a constant lamp: PPFD x hours x 0.0036; for sunlight sum readings."""
    flux = within(ppfd_umol, "ppfd_umol", 0, 5000)
    return flux * within(hours, "hours", 0, 24) * 0.0036


def dli_from_readings_mol(readings: Sequence[Sequence[float]]) -> float:
    """Return mol m-2 over readings of one day, by the trapezoid rule.

    Parameters
    ----------
    readings : sequence of (seconds since midnight, PPFD in umol m-2 s-1), two or more, by time

    Raises
    ------
    LightError        `light.readings_missing`, `light.readings_not_in_order`
    OutOfRangeError   A time is outside 0 to 86400 s, or a flux outside 0 to 5000.
    """
    if len(readings) < 2:
        raise LightError("light.readings_missing", "A light sum needs two readings or more.")
    total = 0.0
    previous: tuple[float, float] | None = None
    for reading in readings:
        seconds = within(reading[0], "seconds", 0, 86400)
        flux = within(reading[1], "ppfd_umol", 0, 5000)
        if previous is not None:
            if seconds <= previous[0]:
                raise LightError(
                    "light.readings_not_in_order", "Light readings must be in order of time."
                )
            total += (seconds - previous[0]) * (flux + previous[1]) / 2
        previous = (seconds, flux)
    return total / 1000000


def ppfd_from_lux(lux: float, light_source: str) -> float:
    """Return umol m-2 s-1 from lux for a light source of LUX_PER_PPFD.

    Raises `LightError` (`light.source_unknown`).
    """
    per_ppfd = LUX_PER_PPFD.get(light_source)
    if per_ppfd is None:
        raise LightError(
            "light.source_unknown",
            f"{light_source!r} is no light source with a known factor.",
            light_source=text_of(light_source),
        )
    return not_negative(lux, "lux") / per_ppfd
