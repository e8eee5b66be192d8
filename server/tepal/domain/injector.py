"""Injectors and stock solutions, with the two published meanings of 1:100 kept apart.

Twin: web/app/core/injector.js. '1:100' is read in two ways: one part of stock in 100 parts of final
solution (factor 100; University of Massachusetts), or one part injected into 100 parts of water
(factor 101; GrowerTalks 2018). The meaning is asked for and stored, never guessed: they differ by
1 % at 1:100 and by 6.3 % at 1:15.
"""

from __future__ import annotations

from typing import Any

from tepal.domain.dilution import product_ml
from tepal.domain.errors import TepalError
from tepal.domain.ranges import not_negative, positive, positive_up_to, within
from tepal.domain.units import decimal_value

__all__ = [
    "MEANINGS",
    "InjectorError",
    "injector_ec_deviation_pct",
    "injector_factor",
    "injector_flow_ratio",
    "injector_meaning_difference",
    "injector_pct",
    "net_ec_ms_per_cm",
    "stock_dry_g",
    "stock_mg_per_l",
    "stock_product_ml",
]

MEANINGS = ("part_in_total", "part_to_water")


class InjectorError(TepalError, ValueError):
    """An injector ratio that could mean two things, or a meaning that is not known."""


def injector_factor(ratio: Any, meaning: Any) -> float:
    """Return how many times the injector dilutes the stock.

    Parameters
    ----------
    ratio : float or decimal text, > 1 to 10000     The 100 of '1:100'.
    meaning : 'part_in_total' (factor = ratio) or 'part_to_water' (factor = ratio + 1)

    Raises
    ------
    InjectorError   `injector.meaning_missing`
    OutOfRangeError, UnitError
    """
    number = decimal_value(ratio, "ratio") if isinstance(ratio, str) else ratio
    parts = within(number, "ratio", 1, 10000)
    if meaning not in MEANINGS:
        raise InjectorError(
            "injector.meaning_missing",
            "1 part in the total, or 1 part to the water? The two differ; say which the injector "
            "means.",
            ratio=parts,
        )
    return parts if meaning == "part_in_total" else parts + 1


def injector_meaning_difference(ratio: float) -> float:
    """Return the relative difference of the final concentration between the two meanings."""
    parts = within(ratio, "ratio", 1, 10000)
    return 1 - parts / (parts + 1)


def injector_pct(ratio: float) -> float:
    """Return a ratio as per cent of the final solution (meaning 'part_in_total')."""
    return 100 / within(ratio, "ratio", 1, 10000)


def stock_mg_per_l(target_mg_per_l: float, factor: float) -> float:
    """Return the concentration of the stock: target x factor."""
    return positive(target_mg_per_l, "target_mg_per_l") * positive(factor, "factor")


def stock_product_ml(
    target_mg_per_l: float, factor: float, stock_l: float, strength_g_per_l: float
) -> float:
    """Return the mL of a liquid product in a stock of `stock_l` behind an injector."""
    return product_ml(stock_mg_per_l(target_mg_per_l, factor), stock_l, strength_g_per_l)


def stock_dry_g(
    target_mg_per_l: float, factor: float, stock_l: float, strength_mg_per_g: float
) -> float:
    """Return the grams of a dry product in a stock of `stock_l` behind an injector."""
    stock = stock_mg_per_l(target_mg_per_l, factor)
    strength = positive_up_to(strength_mg_per_g, "strength_mg_per_g", 1000)
    return stock * positive(stock_l, "stock_l") / strength


def injector_flow_ratio(diluted_l: float, stock_drawn_l: float) -> float:
    """Return the ratio that a flow check finds: diluted volume over stock drawn in that time."""
    return positive(diluted_l, "diluted_l") / positive(stock_drawn_l, "stock_drawn_l")


def net_ec_ms_per_cm(ec_out: float, ec_water: float) -> float:
    """Return the EC that the stock adds: reading behind the injector minus the raw water's."""
    return positive(ec_out, "ec_out") - not_negative(ec_water, "ec_water")


def injector_ec_deviation_pct(ec_out: float, ec_water: float, ec_chart: float) -> float:
    """Return how far the net EC lies from the chart's value, in per cent of the chart's."""
    chart = positive(ec_chart, "ec_chart")
    return (net_ec_ms_per_cm(ec_out, ec_water) - chart) / chart * 100
