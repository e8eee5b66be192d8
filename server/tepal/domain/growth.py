"""Sizes of plants: growth indices and per cent of control.

Twin: web/app/core/growth.js. The three published indices are not interchangeable; store which one
a number is.
"""

from __future__ import annotations

from tepal.domain.ranges import not_negative, positive

__all__ = [
    "growth_index_mean2",
    "growth_index_mean3",
    "growth_index_sum",
    "reduction_pct",
    "reduction_pct_from_control_pct",
]


def growth_index_mean3(height: float, width_1: float, width_2: float) -> float:
    """Return (height + width 1 + width 2) / 3 (common in ornamental trials; from memory)."""
    total = positive(height, "height") + positive(width_1, "width_1")
    return (total + positive(width_2, "width_2")) / 3


def growth_index_mean2(height: float, width_1: float, width_2: float) -> float:
    """Return (mean width + height) / 2 (Arboriculture & Urban Forestry, table note)."""
    mean_width = (positive(width_1, "width_1") + positive(width_2, "width_2")) / 2
    return (mean_width + positive(height, "height")) / 2


def growth_index_sum(height: float, width_1: float, width_2: float) -> float:
    """Return height + mean width (a hobby-grower page): a sum, not a mean."""
    mean_width = (positive(width_1, "width_1") + positive(width_2, "width_2")) / 2
    return positive(height, "height") + mean_width


def reduction_pct(control: float, treated: float) -> float:
    """Return how much smaller the treated is than the control, in per cent of the control."""
    size = positive(control, "control")
    return (size - not_negative(treated, "treated")) / size * 100


def reduction_pct_from_control_pct(treated_pct_of_control: float) -> float:
    """Return the reduction where a report prints the treated as per cent of the control."""
    return 100 - not_negative(treated_pct_of_control, "treated_pct_of_control")
