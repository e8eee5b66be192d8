"""Bounds of single numbers: what every formula asks of its inputs before it computes.

Twin: web/app/core/ranges.js. A number that is text, missing, not finite or out of bounds raises
`OutOfRangeError` with the code `domain.out_of_range`; nothing is clamped.
"""

from __future__ import annotations

import math
from typing import Any

from tepal.domain.errors import OutOfRangeError

__all__ = ["not_negative", "positive", "whole_number", "within"]


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


def positive(value: Any, name: str) -> float:
    """Return `value` as a float if it is finite and above zero."""
    number = _number(value, name, "> 0")
    if number <= 0:
        raise _refuse(number, name, "> 0")
    return number


def not_negative(value: Any, name: str) -> float:
    """Return `value` as a float if it is finite and not below zero."""
    number = _number(value, name, ">= 0")
    if number < 0:
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
