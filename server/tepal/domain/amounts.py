"""An amount as both systems of measures read it.

Twin: web/app/core/amounts.js. Texts follow the establishment's number format; amounts carry no
thousands separator.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from tepal.domain.rounding import format_quantity
from tepal.domain.units import shown_in

if TYPE_CHECKING:
    from tepal.domain.rounding import NumberFormat

__all__ = ["AmountText", "amount_text"]


@dataclass(frozen=True, slots=True)
class AmountText:
    """One amount as both systems of measures read it; `metric` and `us` are formatted texts."""

    base: float
    metric: str
    us: str


def amount_text(base: float, dimension: str, number_format: NumberFormat) -> AmountText:
    """Return an amount in mL, g or another base unit as text in both systems of measures."""
    metric = shown_in(base, dimension, "metric")
    us = shown_in(base, dimension, "us")
    return AmountText(
        base,
        format_quantity(metric.value, metric.unit, number_format),
        format_quantity(us.value, us.unit, number_format),
    )
