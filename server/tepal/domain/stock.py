"""What is left of a delivered batch, and what a use of it cost.

Twin: web/app/core/stock.js. Amounts of one batch are in one base unit throughout (mL or g); the
caller converts by density where a product is bought in one measure and used in the other.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from tepal.domain.ranges import finite, not_negative, positive

if TYPE_CHECKING:
    from collections.abc import Sequence

__all__ = ["StockMove", "batch_left", "cost_of_use"]


@dataclass(frozen=True, slots=True)
class StockMove:
    """An amount that was used, or that somebody counted, and when (ms since 1970)."""

    at_ms: float
    amount: float


def batch_left(delivered: float, used: Sequence[StockMove], counted: Sequence[StockMove]) -> float:
    """Return what should be left of a batch.

    Delivered less everything used; a count replaces what was reckoned up to its moment, and only
    uses after it are taken off. A use in the very moment of a count is in the count already.

    Parameters
    ----------
    delivered : mL or g, >= 0.
    used, counted : amounts >= 0 in the same unit, in any order.

    Returns
    -------
    mL or g. Below zero where more was recorded as used than there was: the caller says so, since
    one of the records is wrong.

    Notes
    -----
    Own definition: what a stock card does. Vectors: tests/vectors/stock/batch_left.json
    """
    start, since = not_negative(delivered, "delivered"), None
    for move in counted:
        at = finite(move.at_ms, "at_ms")
        if since is None or at >= since:
            start, since = not_negative(move.amount, "amount"), at
    left = start
    for move in used:
        amount = not_negative(move.amount, "amount")
        if since is None or finite(move.at_ms, "at_ms") > since:
            left -= amount
    return left


def cost_of_use(cost: float, delivered: float, used: float) -> float:
    """Return what a use cost: the share of the batch's price that its amount is.

    Parameters
    ----------
    cost : price of the whole batch, any currency, >= 0.
    delivered, used : mL or g; delivered > 0, used >= 0.
    """
    share = not_negative(used, "used") / positive(delivered, "delivered")
    return not_negative(cost, "cost") * share
