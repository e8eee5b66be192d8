"""One bracketed root finder, because scipy.optimize takes longer to load than it saves here."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable


def increasing_root(
    f: Callable[[float], float], low: float, high: float, tolerance: float = 1e-11
) -> float:
    """Return x in [low, high] with f(x) = 0 for a function that rises through zero there.

    Parameters
    ----------
    f : callable       Continuous, f(low) <= 0 <= f(high).
    low, high : float  The bracket, in the unit of x.
    tolerance : float  Relative width at which the search stops (absolute below 1).

    Returns
    -------
    float, unit of x.

    Raises
    ------
    ValueError   The bracket does not hold a sign change.

    Notes
    -----
    Secant steps with the Illinois correction: Dowell & Jarratt 1971, BIT 11:168-174.

    Examples
    --------
    >>> abs(increasing_root(lambda x: x * x - 2, 0, 2) - 2**0.5) < 1e-10
    True
    """
    f_low, f_high = f(low), f(high)
    if f_low > 0 or f_high < 0:
        raise ValueError("the bracket holds no sign change")
    if f_low == 0:
        return low
    side = 0
    x = high
    for _ in range(200):
        if f_high == 0:
            return high
        x = high - f_high * (high - low) / (f_high - f_low)
        if not low < x < high:
            x = 0.5 * (low + high)
        value = f(x)
        step = min(x - low, high - x)
        if value < 0:
            low, f_low = x, value
            if side == -1:
                f_high /= 2
            side = -1
        else:
            high, f_high = x, value
            if side == 1:
                f_low /= 2
            side = 1
        scale = tolerance * max(1.0, abs(x))
        if high - low <= scale or value == 0 or step <= scale / 1e3:
            return x
    return x
