"""Bounds of single numbers: what every formula asks of its inputs before it computes.

Twin: web/app/core/ranges.js. A number that is text, missing, not finite or out of bounds raises
`OutOfRangeError` with the code `domain.out_of_range`; nothing is clamped. No quantity here is
above 1e12 or, unless it is zero, below 1e-12 in any unit used, so that no formula overflows.
"""

from __future__ import annotations

import math
from typing import Any

from tepal.domain.errors import OutOfRangeError

__all__ = [
    "MAX_NUMBER",
    "MIN_NUMBER",
    "finite",
    "not_negative",
    "positive",
    "positive_up_to",
    "whole_number",
    "within",
]

# Own bounds, no source: a billion cubic metres, a picogram.
MAX_NUMBER = 1e12
MIN_NUMBER = 1e-12


def _number(value: Any, name: str, allowed: str) -> float:
    is_number = isinstance(value, (int, float)) and not isinstance(value, bool)
    try:
        number = float(value) if is_number else math.nan
    except OverflowError:  # an integer beyond binary64
        number = math.inf
    if not math.isfinite(number):
        raise OutOfRangeError(
            "domain.out_of_range",
            f"{name} is not a finite number; allowed: {allowed}.",
            name=name,
            value=None,
            allowed=allowed,
        )
    return number


def _refuse(number: float, name: str, allowed: str) -> OutOfRangeError:
    return OutOfRangeError(
        "domain.out_of_range",
        f"{name} is {number!r}; allowed: {allowed}.",
        name=name,
        value=number,
        allowed=allowed,
    )


def _plain(bound: float) -> str:
    return repr(float(bound)).removesuffix(".0")


def finite(value: Any, name: str) -> float:
    """Return `value` as a float if it is a finite number of either sign."""
    return _number(value, name, "a finite number")


def positive(value: Any, name: str) -> float:
    """Return `value` as a float if it is above zero and no larger than any real quantity."""
    number = _number(value, name, "> 0")
    if number < MIN_NUMBER or number > MAX_NUMBER:
        raise _refuse(number, name, "> 0")
    return number


def positive_up_to(value: Any, name: str, high: float) -> float:
    """Return `value` as a float if it is `positive` and not above `high`."""
    allowed = f"> 0 to {_plain(high)}"
    number = _number(value, name, allowed)
    if number < MIN_NUMBER or number > high:
        raise _refuse(number, name, allowed)
    return number


def not_negative(value: Any, name: str) -> float:
    """Return `value` as a float if it is zero, or `positive`."""
    number = _number(value, name, ">= 0")
    if number != 0 and (number < MIN_NUMBER or number > MAX_NUMBER):
        raise _refuse(number, name, ">= 0")
    return number


def within(value: Any, name: str, low: float, high: float) -> float:
    """Return `value` as a float if it lies in `low` to `high`, both included."""
    allowed = f"{_plain(low)} to {_plain(high)}"
    number = _number(value, name, allowed)
    if number < low or number > high:
        raise _refuse(number, name, allowed)
    return number


def whole_number(value: Any, name: str) -> int:
    """Return `value` as an int if it is a whole number, 1 or more, below 2^53."""
    number = _number(value, name, "a whole number, 1 or more")
    if number < 1 or number > 9007199254740991 or number != math.floor(number):
        raise _refuse(number, name, "a whole number, 1 or more")
    return int(number)
