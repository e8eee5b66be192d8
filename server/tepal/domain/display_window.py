"""How long an application stays on the central display, and by when it has to be there.

Twin: web/app/core/display_window.js. 40 CFR 170.311(b)(5) as in the reference on records, 1a: on
display no later than 24 hours after the application ends (read in a guide of the EPA's cooperative
agreement), until 30 days after the last restricted-entry interval has ended (read there), or 30
days after the application where there is none (from memory, not checked).
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from tepal.domain.ranges import finite
from tepal.domain.restriction import longest_rei_h

if TYPE_CHECKING:
    from collections.abc import Sequence

__all__ = ["display_due_ms", "display_until_ms"]

_HOUR_MS: Final = 3_600_000
_DUE_H: Final = 24
_KEPT_H: Final = 30 * 24


def display_due_ms(ended_ms: float) -> float:
    """Return by when an application has to be on display, ms since 1970."""
    return finite(ended_ms, "ended_ms") + _DUE_H * _HOUR_MS


def display_until_ms(ended_ms: float, intervals_h: Sequence[float | None]) -> float | None:
    """Return until when an application stays on display, ms since 1970.

    Parameters
    ----------
    ended_ms : when the application ended.
    intervals_h : the restricted-entry interval of each product that has one to have, h; None
        where it is not on file. Empty: nothing applied has an interval.

    Returns
    -------
    None where an interval is not on file: no end can be stated, so it stays until one is.
    """
    end = finite(ended_ms, "ended_ms")
    if len(intervals_h) == 0:
        return end + _KEPT_H * _HOUR_MS
    longest = longest_rei_h(intervals_h)
    return None if longest is None else end + (longest + _KEPT_H) * _HOUR_MS
