"""Strength of a product from any label statement: how much active ingredient a measure holds.

Twin: web/app/core/strength.js. A per cent figure says nothing without its basis, so a missing
basis is an error that asks for it: 23 % w/w and 25 % w/v stand side by side on one paclobutrazol
label, and mixing them up is an error of 9 %. Where a label states an active ingredient both as a
salt and as acid equivalent, the one that the target counts must be named.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from tepal.domain.errors import OutOfRangeError, TepalError, text_of
from tepal.domain.ranges import positive, within
from tepal.domain.units import decimal_value, quantity_value, unit_of

if TYPE_CHECKING:
    from collections.abc import Mapping

__all__ = [
    "MAX_DENSITY_G_PER_ML",
    "MAX_STRENGTH_G_PER_L",
    "MIN_DENSITY_G_PER_ML",
    "Strength",
    "StrengthError",
    "density_from_w_w_and_w_v",
    "density_g_per_ml",
    "g_per_l_from_lb_per_gal",
    "g_per_l_from_w_v",
    "g_per_l_from_w_w",
    "mg_per_g_from_w_w",
    "strengths_of",
]

# Own bounds, no source: no liquid formulation is lighter than petrol or heavier than a slurry.
MIN_DENSITY_G_PER_ML = 0.5
MAX_DENSITY_G_PER_ML = 2.5
MAX_STRENGTH_G_PER_L = 2000.0

# International pound over US gallon, both exact (NIST Handbook 44, appendix C).
_G_PER_LB = 453.59237
_L_PER_US_GAL = 3.785411784


class StrengthError(TepalError, ValueError):
    """A label's strength is incomplete, contradictory or impossible."""


@dataclass(frozen=True, slots=True)
class Strength:
    """Active ingredient in one measure of product: mg/mL of a liquid (g/L), mg/g of a dry one.

    `expressed_as` is what the label counts: as_labelled, salt or acid_equivalent.
    """

    ai: str
    expressed_as: str
    mg_per_measure: float


def _percent(pct: float, name: str) -> float:
    number = positive(pct, name)
    if number > 100:
        raise StrengthError(
            "strength.above_100_percent",
            f"{name} is {number!r} %; a strength cannot be above 100 %.",
            name=name,
            value=number,
        )
    return number


def g_per_l_from_w_w(strength_pct_w_w: float, density: float) -> float:
    """Return g a.i. per litre of a liquid labelled in % w/w, from its density in g/mL.

    % w/w x 10 x density. Source of the formula's check: a label that prints 23 % w/w = 25 % w/v
    (CIB&RC, India), density 1.087. Vectors: tests/vectors/strength/g_per_l_from_w_w.json
    """
    pct = _percent(strength_pct_w_w, "strength_pct_w_w")
    g_per_ml = within(density, "density_g_per_ml", MIN_DENSITY_G_PER_ML, MAX_DENSITY_G_PER_ML)
    return pct * 10 * g_per_ml


def g_per_l_from_w_v(strength_pct_w_v: float) -> float:
    """Return g a.i. per litre of a liquid labelled in % w/v (g in 100 mL): % x 10."""
    return _percent(strength_pct_w_v, "strength_pct_w_v") * 10


def g_per_l_from_lb_per_gal(strength_lb_per_gal: float) -> float:
    """Return g a.i. per litre of a liquid labelled in lb a.i. per US gallon (x 119.826)."""
    return positive(strength_lb_per_gal, "strength_lb_per_gal") * _G_PER_LB / _L_PER_US_GAL


def mg_per_g_from_w_w(strength_pct_w_w: float) -> float:
    """Return mg a.i. per gram of a dry product labelled in % w/w: % x 10."""
    return _percent(strength_pct_w_w, "strength_pct_w_w") * 10


def density_from_w_w_and_w_v(strength_pct_w_w: float, strength_pct_w_v: float) -> float:
    """Return the density in g/mL of a liquid whose label prints both bases: % w/v / % w/w."""
    return _percent(strength_pct_w_v, "strength_pct_w_v") / _percent(
        strength_pct_w_w, "strength_pct_w_w"
    )


def density_g_per_ml(product: Mapping[str, Any]) -> float | None:
    """Return the density that a product's record states, in g/mL; None where it states none."""
    stated = product.get("density")
    if stated is None:
        return None
    g_per_ml = quantity_value(stated, "mass_concentration", "density") / 1000000
    return within(g_per_ml, "density_g_per_ml", MIN_DENSITY_G_PER_ML, MAX_DENSITY_G_PER_ML)


def _is_dry(product: Mapping[str, Any]) -> bool:
    form = product.get("physical_form")
    if form not in ("liquid", "dry"):
        raise StrengthError(
            "strength.physical_form_missing",
            "The product is neither marked liquid nor dry; say which it is.",
            product=product.get("name"),
        )
    return bool(form == "dry")


def _mg_per_measure(
    stated: Mapping[str, Any], product: Mapping[str, Any], is_dry: bool, ai: str
) -> float:
    quantity = stated.get("strength")
    if not isinstance(quantity, dict):
        raise StrengthError(
            "strength.missing",
            f"{ai}: the strength is missing; copy it from the label.",
            ai=ai,
        )
    dimension = unit_of(quantity.get("unit")).dimension
    if dimension == "fraction":
        pct = decimal_value(quantity.get("value"), "strength")
        return _mg_per_measure_from_percent(pct, stated.get("basis"), product, is_dry, ai)
    if dimension == "mass_fraction":  # g/kg says by itself that it is by weight
        pct = quantity_value(quantity, "mass_fraction", "strength") / 10
        return _mg_per_measure_from_percent(pct, "w_w", product, is_dry, ai)
    g_per_l = quantity_value(quantity, "mass_concentration", "strength") / 1000
    if is_dry:
        raise StrengthError(
            "strength.volume_for_dry_product",
            f"{ai}: a strength per volume needs a liquid; a dry product is labelled in % w/w.",
            ai=ai,
        )
    density = density_g_per_ml(product)
    highest = MAX_STRENGTH_G_PER_L if density is None else density * 1000
    if positive(g_per_l, "strength_g_per_l") > highest:
        raise OutOfRangeError(
            "strength.above_possible",
            f"{ai}: {g_per_l!r} g/L is more than a litre of the product can weigh.",
            ai=ai,
            value=g_per_l,
            highest=highest,
        )
    return g_per_l


def _mg_per_measure_from_percent(
    pct: float, basis: Any, product: Mapping[str, Any], is_dry: bool, ai: str
) -> float:
    if basis not in ("w_w", "w_v"):
        raise StrengthError(
            "strength.basis_missing",
            f"{ai}: {pct!r} % can be by weight (w/w) or in a volume (w/v); copy it from the label.",
            ai=ai,
            value=pct,
        )
    if is_dry:
        if basis == "w_v":
            raise StrengthError(
                "strength.volume_for_dry_product",
                f"{ai}: % w/v needs a liquid; a dry product is labelled in % w/w.",
                ai=ai,
            )
        return mg_per_g_from_w_w(pct)
    if basis == "w_v":
        return g_per_l_from_w_v(pct)
    density = density_g_per_ml(product)
    if density is None:
        raise StrengthError(
            "strength.density_missing",
            f"{ai}: a liquid labelled in % w/w needs its density (label or SDS) to be measured "
            "by volume.",
            ai=ai,
        )
    return g_per_l_from_w_w(pct, density)


def strengths_of(product: Mapping[str, Any]) -> tuple[Strength, ...]:
    """Return the strength of every active ingredient of a product's record.

    Parameters
    ----------
    product : mapping
        `physical_form` 'liquid' or 'dry'; `density` (mass per volume) where the label is in % w/w;
        `ingredients`, each with `ai`, `strength` {value, unit}, `basis` 'w_w' or 'w_v' for a per
        cent figure, and `expressed_as` ('salt' or 'acid_equivalent') where the label says so. The
        same `ai` may stand twice, once for each.

    Returns
    -------
    tuple of Strength, in the order of the record; empty for a product without ingredients.

    Raises
    ------
    StrengthError
        `strength.basis_missing`, `strength.density_missing`, `strength.above_100_percent`,
        `strength.ai_missing`, `strength.physical_form_missing`, `strength.missing`,
        `strength.ingredients_not_a_list`,
        `strength.volume_for_dry_product`,
        `strength.more_than_the_product` (the ingredients together weigh more than the product).
    OutOfRangeError, UnitError   A number is impossible or has a unit of another kind.
    """
    is_dry = _is_dry(product)
    found: list[Strength] = []
    ingredients = product.get("ingredients") or []
    if not isinstance(ingredients, list) or not all(isinstance(one, dict) for one in ingredients):
        raise StrengthError(
            "strength.ingredients_not_a_list", "The ingredients of a product are a list of records."
        )
    for ingredient in ingredients:
        ai = ingredient.get("ai")
        if not isinstance(ai, str) or ai == "":
            raise StrengthError("strength.ai_missing", "An ingredient of the product has no name.")
        expressed_as = text_of(ingredient.get("expressed_as")) or "as_labelled"
        mg = _mg_per_measure(ingredient, product, is_dry, ai)
        found.append(Strength(ai, expressed_as, mg))
    density = None if is_dry else density_g_per_ml(product)
    highest = 1000.0 if is_dry else MAX_STRENGTH_G_PER_L if density is None else density * 1000
    # Salt and acid equivalent state the same substance twice: only the larger one is weighed.
    largest: dict[str, float] = {}
    for strength in found:
        largest[strength.ai] = max(largest.get(strength.ai, 0.0), strength.mg_per_measure)
    total = 0.0
    for mg in largest.values():
        total += mg
    if total > highest * (1 + 1e-9):
        raise StrengthError(
            "strength.more_than_the_product",
            "The active ingredients together weigh more than the product.",
            value=total,
            highest=highest,
        )
    return tuple(found)
