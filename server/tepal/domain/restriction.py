"""When the restricted-entry interval (REI) of an application ends.

Twin: web/app/core/restriction.js. 40 CFR 170.407(c), read in the state copy WAC 16-233-116: two or
more products on one area at the same time, the longest interval counts; it runs from the end of
the application. Elapsed hours: a change of the clock does not shorten it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from tepal.domain.ranges import not_negative

if TYPE_CHECKING:
    from collections.abc import Sequence


def longest_rei_h(intervals_h: Sequence[float | None]) -> float | None:
    """Return the longest interval of a mix in hours, or None where one is not on file.

    Unknown is never treated as zero: with one unknown interval no end can be stated.

    Parameters
    ----------
    intervals_h : h, >= 0 or None   One per product; an empty list has no interval on file.
    """
    longest: float | None = None
    for interval in intervals_h:
        if interval is None:
            return None
        hours = not_negative(interval, "rei_h")
        longest = hours if longest is None or hours > longest else longest
    return longest


def rei_end_ms(ended_ms: float, rei_h: float | None) -> float | None:
    """Return when the interval ends, ms since 1970, or None where the interval is not on file."""
    if rei_h is None:
        return None
    return ended_ms + not_negative(rei_h, "rei_h") * 3_600_000
