"""Instants and calendar days: what a moment on record stands for, without any clock or zone table.

Twin: web/app/core/moments.js. A moment travels as `{"local": "2026-05-04T10:30:00", "offset_min":
-240, "zone": "America/New_York"}`: the wall time with the offset that was in force. Rules count
elapsed milliseconds since 1970 (UTC), so that a change of the clock neither shortens nor lengthens
an interval; whoever shows an end asks the zone for its offset at that instant. Days are texts such
as "2026-05-04" in the proleptic Gregorian calendar (ISO 8601).
"""

from __future__ import annotations

import re
from typing import Any

from tepal.domain.errors import TepalError, text_of
from tepal.domain.ranges import within

__all__ = [
    "MomentError",
    "add_days",
    "add_years",
    "day_number",
    "day_of_ms",
    "day_text",
    "local_text",
    "moment_ms",
]

_DAY = re.compile(r"([0-9]{4})-([0-9]{2})-([0-9]{2})", re.ASCII)
_LOCAL = re.compile(r"([0-9]{4}-[0-9]{2}-[0-9]{2})T([0-9]{2}):([0-9]{2}):([0-9]{2})", re.ASCII)
_DAYS_BEFORE = (0, 31, 59, 90, 120, 151, 181, 212, 243, 273, 304, 334)
_MONTH_DAYS = (31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)
_DAY_MS = 86_400_000


class MomentError(TepalError, ValueError):
    """A day or a moment is not written as it must be, or does not exist in the calendar."""


def _is_leap(year: int) -> bool:
    return (year % 4 == 0 and year % 100 != 0) or year % 400 == 0


def _start_of(year: int) -> int:
    """Return the days from 1970-01-01 to January 1st of a year."""
    before = year - 1
    leaps = before // 4 - before // 100 + before // 400
    return 365 * (year - 1970) + leaps - 477  # 477 leap days before 1970


def _month_days(year: int, month: int) -> int:
    return 29 if month == 2 and _is_leap(year) else _MONTH_DAYS[month - 1]


def day_number(day: Any) -> int:
    """Return the days from 1970-01-01 to a day; raise `MomentError` (`moment.not_a_day`)."""
    match = _DAY.fullmatch(day) if isinstance(day, str) else None
    if match is not None:
        year, month, number = int(match[1]), int(match[2]), int(match[3])
        if 1 <= month <= 12 and 1 <= number <= _month_days(year, month):
            leap = 1 if month > 2 and _is_leap(year) else 0
            return _start_of(year) + _DAYS_BEFORE[month - 1] + leap + number - 1
    raise MomentError(
        "moment.not_a_day", f"{day!r} is no day such as 2026-05-04.", text=text_of(day)
    )


def _two(number: int) -> str:
    return f"0{number}" if number < 10 else str(number)


def day_text(number: int) -> str:
    """Return the day that lies `number` days after 1970-01-01 (years 1000 to 9999)."""
    days = int(within(number, "day", -354285, 2932896))
    year = 1970 + days // 365
    while _start_of(year) > days:
        year -= 1
    while _start_of(year + 1) <= days:
        year += 1
    left = days - _start_of(year)
    month = 1
    while left >= _month_days(year, month):
        left -= _month_days(year, month)
        month += 1
    return f"{year}-{_two(month)}-{_two(left + 1)}"


def add_days(day: str, n_days: int) -> str:
    """Return the day `n_days` later."""
    return day_text(day_number(day) + n_days)


def add_years(day: str, n_years: int) -> str:
    """Return the same day `n_years` later; 1 March where it would be a 29 February that is none.

    A record that must be kept for years is never let go a day early.
    """
    day_number(day)
    year = int(day[:4]) + n_years
    if day[5:] == "02-29" and not _is_leap(year):
        return f"{year}-03-01"
    return f"{year}{day[4:]}"


def moment_ms(moment: Any) -> int:
    """Return the instant of a moment, ms since 1970; raise `MomentError` (`moment.not_a_moment`).

    The wall time less its own offset: no zone table is needed, and the two 01:30 of an autumn
    night are two instants.
    """
    local = moment.get("local") if isinstance(moment, dict) else None
    match = _LOCAL.fullmatch(local) if isinstance(local, str) else None
    offset = moment.get("offset_min") if isinstance(moment, dict) else None
    is_offset = isinstance(offset, int) and not isinstance(offset, bool) and abs(offset) <= 960
    if match is not None and is_offset:
        hour, minute, second = int(match[2]), int(match[3]), int(match[4])
        if hour < 24 and minute < 60 and second < 60:
            minutes = day_number(match[1]) * 1440 + hour * 60 + minute - int(offset or 0)
            return minutes * 60_000 + second * 1000
    raise MomentError(
        "moment.not_a_moment",
        "A moment is a local time such as 2026-05-04T10:30:00 with its offset in minutes.",
        text=text_of(local),
    )


def local_text(ms: float, offset_min: int) -> str:
    """Return the wall time at an offset, "2026-05-04T22:30:00"; parts of a second are cut off."""
    seconds = int((ms + within(offset_min, "offset_min", -960, 960) * 60_000) // 1000)
    days = seconds // 86_400
    left = seconds - days * 86_400
    hour = left // 3600
    minute = left % 3600 // 60
    return f"{day_text(days)}T{_two(hour)}:{_two(minute)}:{_two(left % 60)}"


def day_of_ms(ms: float, offset_min: int) -> str:
    """Return the calendar day at an offset."""
    return local_text(ms, offset_min)[:10]
