"""Height against its lines: a wanted curve from dates and finish height; what a week makes of it.

Twin: web/app/core/heights.js. Read: height is tracked weekly against a curve that is a general
guide (University of Florida, height-control page, 2011); the curve is a sigmoid with an exponential
lag, a near linear phase and a plateau (Fisher, Heins & Lieth, abstract); the control rule uses
deviation and rate of elongation (Fisher & Heins, HortTechnology, abstract). The numbers of the
published curve were not read: the logistic and its steepness here are our own, no source. `exp`
differs in the last digit between languages, so the twins agree to 1e-12.

  height_lines(start_cm, finish_cm, start_on, finish_on, tolerance_pct, day) -> HeightLines
  lot_height_lines(lot, day) -> HeightLines or None      from the lot's own fields
  height_verdict(height_cm, lines, slope_cm_per_d) -> HeightVerdict
  slopes(points, applied_on) -> Slopes                   cm per day before and after
  second_on(first_on, wanted_days, min_interval_d) -> SecondDate
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from tepal.domain.errors import TepalError
from tepal.domain.moments import add_days, day_number
from tepal.domain.ranges import finite, not_negative, positive, within
from tepal.domain.units import decimal_value, quantity_value

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

__all__ = [
    "STEEPNESS",
    "HeightError",
    "HeightLines",
    "HeightVerdict",
    "SecondDate",
    "Slopes",
    "height_lines",
    "height_verdict",
    "lot_height_lines",
    "second_on",
    "slopes",
]

# Own choice, no source: with 8 the middle half of the time brings 79 % of the growth.
STEEPNESS = 8.0
# Own choice, no source: a rate within a tenth of the line's own is neither faster nor slower.
_SAME_RATE = 0.1
# University of Florida 2004 schedule, read: 14 to 16 in at finish, 6.7 % around the middle.
_USUAL_TOLERANCE_PCT = 6.7


class HeightError(TepalError, ValueError):
    """Dates or heights of a curve contradict each other."""


@dataclass(frozen=True, slots=True)
class HeightLines:
    """Lower, wanted and upper height on a day in cm, and the wanted rate in cm per day."""

    lower_cm: float
    wanted_cm: float
    upper_cm: float
    cm_per_d: float


@dataclass(frozen=True, slots=True)
class HeightVerdict:
    """`verdict`: below, within, above. `trend`: slower, as_wanted, faster, unknown."""

    verdict: str
    deviation_cm: float
    deviation_pct: float
    trend: str


@dataclass(frozen=True, slots=True)
class Slopes:
    """Growth in cm per day before and after an application; None with fewer than two days."""

    before_cm_per_d: float | None
    after_cm_per_d: float | None


@dataclass(frozen=True, slots=True)
class SecondDate:
    """First day for a second application, and whether the plan or the label decides."""

    on: str
    by: str


def _share(x: float) -> float:
    """Return the share of growth done at a share of the time, 0 at 0 and 1 at 1."""
    low = 1 / (1 + math.exp(STEEPNESS * 0.5))
    high = 1 / (1 + math.exp(-STEEPNESS * 0.5))
    here = 1 / (1 + math.exp(-STEEPNESS * (x - 0.5)))
    return (here - low) / (high - low)


def height_lines(
    start_cm: float,
    finish_cm: float,
    start_on: str,
    finish_on: str,
    tolerance_pct: float,
    day: str,
) -> HeightLines:
    """Return the lines on a day; before the start those of the start, after the finish its own.

    Raises
    ------
    HeightError       `height.finish_before_start`, `height.finish_below_start`
    MomentError       A day is none.
    OutOfRangeError   A height is not possible, or the tolerance outside 0 to 100 %.
    """
    first = day_number(start_on)
    last = day_number(finish_on)
    low = not_negative(start_cm, "start_cm")
    high = positive(finish_cm, "finish_cm")
    part = within(tolerance_pct, "tolerance_pct", 0, 100) / 100
    if last <= first:
        raise HeightError(
            "height.finish_before_start",
            "The finish must be later than the start.",
            start_on=start_on,
            finish_on=finish_on,
        )
    if high <= low:
        raise HeightError(
            "height.finish_below_start",
            "The finish height must be above the start height.",
            start_cm=low,
            finish_cm=high,
        )
    n_days = last - first
    now = day_number(day) - first

    def at(days: int) -> float:
        if days <= 0:
            return low
        if days >= n_days:
            return high
        return low + (high - low) * _share(days / n_days)

    wanted = at(now)
    # the rate around the day, over two days
    rate = (at(now + 1) - at(now - 1)) / 2
    return HeightLines(wanted * (1 - part), wanted, wanted * (1 + part), rate)


def lot_height_lines(lot: Mapping[str, Any], day: str) -> HeightLines | None:
    """Return a lot's lines on a day; None where dates or finish height are not on file.

    A lot without a start height starts at 0; without a tolerance it gets 6.7 % (University of
    Florida 2004 schedule: 14 to 16 in at finish).
    """
    start_on = lot.get("growth_start_on")
    finish_on = lot.get("finish_on")
    finish = lot.get("finish_height")
    if start_on is None or finish_on is None or finish is None:
        return None
    start = lot.get("start_height")
    stated = lot.get("height_tolerance")
    return height_lines(
        0.0 if start is None else quantity_value(start, "length", "start_height") * 100,
        quantity_value(finish, "length", "finish_height") * 100,
        start_on,
        finish_on,
        _USUAL_TOLERANCE_PCT
        if stated is None
        else decimal_value(stated.get("value"), "height_tolerance"),
        day,
    )


def height_verdict(
    height_cm: float, lines: HeightLines, slope_cm_per_d: float | None = None
) -> HeightVerdict:
    """Return where a height lies, and whether the plants grow faster than the line asks."""
    height = not_negative(height_cm, "height_cm")
    verdict = "within"
    if height < lines.lower_cm:
        verdict = "below"
    elif height > lines.upper_cm:
        verdict = "above"
    deviation = height - lines.wanted_cm
    pct = deviation / lines.wanted_cm * 100 if lines.wanted_cm > 0 else 0.0
    trend = "unknown"
    if slope_cm_per_d is not None:
        slope = finite(slope_cm_per_d, "slope_cm_per_d")
        trend = "as_wanted"
        if slope > lines.cm_per_d * (1 + _SAME_RATE):
            trend = "faster"
        elif slope < lines.cm_per_d * (1 - _SAME_RATE):
            trend = "slower"
    return HeightVerdict(verdict, deviation, pct, trend)


def _slope(points: Sequence[tuple[int, float]]) -> float | None:
    """Return the least-squares slope; None where the points are all of one day."""
    n = len(points)
    if n < 2:
        return None
    sum_x = 0.0
    sum_y = 0.0
    for x, y in points:
        sum_x += x
        sum_y += y
    mean_x = sum_x / n
    mean_y = sum_y / n
    above = 0.0
    below = 0.0
    for x, y in points:
        above += (x - mean_x) * (y - mean_y)
        below += (x - mean_x) * (x - mean_x)
    return None if below == 0 else above / below


def slopes(points: Sequence[Mapping[str, Any]], applied_on: str) -> Slopes:
    """Return the growth before and after an application, by least squares.

    Parameters
    ----------
    points : sequence of {"on": day, "height_cm": cm}   In any order; a point on the day of the
        application counts for both sides.
    """
    day = day_number(applied_on)
    read = [
        (day_number(one.get("on")) - day, not_negative(one.get("height_cm"), "height_cm"))
        for one in points
    ]
    return Slopes(
        _slope([one for one in read if one[0] <= 0]),
        _slope([one for one in read if one[0] >= 0]),
    )


def second_on(first_on: str, wanted_days: float, min_interval_d: float | None) -> SecondDate:
    """Return the first day for a second application: as planned, but never inside the interval."""
    planned = math.ceil(not_negative(wanted_days, "wanted_days"))
    least = 0 if min_interval_d is None else math.ceil(not_negative(min_interval_d, "min_interval"))
    if least > planned:
        return SecondDate(add_days(first_on, least), "label")
    return SecondDate(add_days(first_on, planned), "plan")
