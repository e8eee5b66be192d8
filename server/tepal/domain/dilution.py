"""Amounts of product for a wanted concentration, and the concentration an amount gives.

Twin: web/app/core/dilution.js. Concentrations are mg a.i. per litre of final solution; the final
volume includes the product (fill part of the water, add the product, fill up to the volume).
A strength in g/L is the same number as mg/mL.
"""

from __future__ import annotations

from tepal.domain.errors import OutOfRangeError
from tepal.domain.ranges import not_negative, positive, positive_up_to

__all__ = [
    "TargetAboveStrengthError",
    "added_to_full_volume_mg_per_l",
    "adjuvant_ml",
    "concentration_dry_mg_per_l",
    "concentration_mg_per_l",
    "cost_per_item",
    "cost_per_mg",
    "diluted_amount",
    "implied_strength_g_per_l",
    "product_g",
    "product_ml",
    "scaled_amount",
    "stock_volume_ml",
]


class TargetAboveStrengthError(OutOfRangeError):
    """The wanted concentration is above what the product itself holds."""


def _refuse_above(target_mg_per_l: float, highest_mg_per_l: float) -> None:
    if target_mg_per_l > highest_mg_per_l:
        raise TargetAboveStrengthError(
            "dilution.target_above_strength",
            f"The target of {target_mg_per_l!r} mg/L is above the product's own strength of "
            f"{highest_mg_per_l!r} mg/L; check the target and the strength.",
            target_mg_per_l=target_mg_per_l,
            strength_mg_per_l=highest_mg_per_l,
        )


def product_ml(target_mg_per_l: float, final_l: float, strength_g_per_l: float) -> float:
    """Return the mL of a liquid product for a target concentration.

    Parameters
    ----------
    target_mg_per_l : float, mg/L, > 0     Active ingredient wanted in the final volume.
    final_l : float, L, > 0                Final volume, product included.
    strength_g_per_l : float, g/L, > 0     Strength of the product.

    Returns
    -------
    float, mL. Unrounded; round only with `rounding.for_measuring`.

    Raises
    ------
    OutOfRangeError             An input is not finite or not positive (`domain.out_of_range`).
    TargetAboveStrengthError    `dilution.target_above_strength`.

    Notes
    -----
    C1 x V1 = C2 x V2 with V2 the final volume. Vectors: tests/vectors/dilution/product_ml.json
    """
    target = positive(target_mg_per_l, "target_mg_per_l")
    volume = positive(final_l, "final_l")
    strength = positive(strength_g_per_l, "strength_g_per_l")
    _refuse_above(target, strength * 1000)
    return target * volume / strength


def product_g(target_mg_per_l: float, final_l: float, strength_mg_per_g: float) -> float:
    """Return the grams of a dry product (mg a.i. per g = % w/w x 10) for a target concentration.

    Raises as `product_ml`; the highest possible target is the pure product, 1000 g in a litre.
    """
    target = positive(target_mg_per_l, "target_mg_per_l")
    volume = positive(final_l, "final_l")
    strength = positive_up_to(strength_mg_per_g, "strength_mg_per_g", 1000)
    _refuse_above(target, strength * 1000)
    return target * volume / strength


def concentration_mg_per_l(amount_ml: float, strength_g_per_l: float, final_l: float) -> float:
    """Return mg a.i. per litre that an amount of liquid product gives in a final volume."""
    amount = positive(amount_ml, "amount_ml")
    strength = positive(strength_g_per_l, "strength_g_per_l")
    volume = positive(final_l, "final_l")
    if amount > volume * 1000:
        raise OutOfRangeError(
            "dilution.product_above_volume",
            f"{amount!r} mL of product do not fit into {volume!r} L.",
            amount_ml=amount,
            final_l=volume,
        )
    return amount * strength / volume


def concentration_dry_mg_per_l(amount_g: float, strength_mg_per_g: float, final_l: float) -> float:
    """Return mg a.i. per litre that an amount of dry product gives in a final volume."""
    amount = positive(amount_g, "amount_g")
    strength = positive_up_to(strength_mg_per_g, "strength_mg_per_g", 1000)
    return amount * strength / positive(final_l, "final_l")


def implied_strength_g_per_l(target_mg_per_l: float, final_l: float, amount_ml: float) -> float:
    """Return the strength in g/L that a printed rate (mL for mg/L in a volume) implies."""
    target = positive(target_mg_per_l, "target_mg_per_l")
    return target * positive(final_l, "final_l") / positive(amount_ml, "amount_ml")


def stock_volume_ml(target_mg_per_l: float, final_l: float, stock_mg_per_ml: float) -> float:
    """Return the mL of a stock solution for a target concentration in a final volume.

    As `product_ml`, for a stock made in the house; `dilution.target_above_strength` where the
    stock is weaker than the target.
    """
    return product_ml(target_mg_per_l, final_l, stock_mg_per_ml)


def diluted_amount(wanted_pct: float, total: float, source_pct: float) -> float:
    """Return how much of a concentrate of `source_pct` makes `total` of `wanted_pct`.

    C1 x V1 = C2 x V2 (US Army course MD0173); `total` and the answer share any one unit.
    """
    wanted = positive(wanted_pct, "wanted_pct")
    source = positive(source_pct, "source_pct")
    _refuse_above(wanted * 10000, source * 10000)
    return wanted * positive(total, "total") / source


def adjuvant_ml(pct_v_v: float, final_l: float) -> float:
    """Return the mL of an adjuvant at a per cent by volume (v/v) of the final volume."""
    pct = positive_up_to(pct_v_v, "pct_v_v", 100)
    return pct * 10 * positive(final_l, "final_l")


def scaled_amount(base_amount: float, base_volume: float, volume: float) -> float:
    """Return a printed amount per `base_volume` scaled to `volume` (same unit as the base)."""
    amount = positive(base_amount, "base_amount")
    return amount * positive(volume, "volume") / positive(base_volume, "base_volume")


def added_to_full_volume_mg_per_l(target_mg_per_l: float, amount_ml_per_l: float) -> float:
    """Return what the target becomes if the product is poured onto the full volume of water.

    Own arithmetic: the amount meant for 1 L of final solution then stands in 1 L plus its own mL.
    """
    target = positive(target_mg_per_l, "target_mg_per_l")
    amount = not_negative(amount_ml_per_l, "amount_ml_per_l")
    return target / (1 + amount / 1000)


def cost_per_mg(price_per_l: float, strength_g_per_l: float) -> float:
    """Return the price of one mg a.i. from the price of a litre of product."""
    price = not_negative(price_per_l, "price_per_l")
    return price / (positive(strength_g_per_l, "strength_g_per_l") * 1000)


def cost_per_item(price_per_mg: float, mg_per_item: float) -> float:
    """Return the price of the a.i. that one pot, plant or bulb gets."""
    return not_negative(price_per_mg, "price_per_mg") * positive(mg_per_item, "mg_per_item")
