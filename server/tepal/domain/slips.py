"""Likely slips: a number that is off by a factor people really confuse gets a question.

Twin: web/app/core/slips.js. The question compares what someone stated with what arithmetic gives;
it names a slip only where the factor fits within 3 %, and asks without a name where none fits.
"""

from __future__ import annotations

from tepal.domain.errors import Finding
from tepal.domain.ranges import positive

__all__ = ["FIT", "QUESTION_ABOVE", "likely_slip", "slip_question"]

# Kitchen-measure tables are up to 6.4 % off through honest rounding (University of Missouri G7510),
# so a difference is a question only above the 7 % that such a table is allowed.
QUESTION_ABOVE = 0.07
# A slip is named only where its factor fits this well.
FIT = 0.03

# Exact ratios of units (NIST Handbook 44); slips of ten, five (another row of a table), thousand.
_FACTORS: tuple[tuple[str, float], ...] = (
    ("us_imperial_gallon", 4.54609 / 3.785411784),
    ("litre_us_gallon", 3.785411784),
    ("neighbouring_row", 5.0),
    ("decimal_place", 10.0),
    ("square_foot_square_metre", 1 / 0.09290304),
    ("gram_ounce", 28.349523125),
    ("millilitre_fluid_ounce", 29.5735295625),
    ("decimal_place", 100.0),
    ("thousand", 1000.0),
)


def likely_slip(ratio: float, density_g_per_ml: float | None = None) -> str | None:
    """Return the code of the slip whose factor fits `ratio` or its inverse best, within 3 %.

    Parameters
    ----------
    ratio : float, > 0                          Stated over computed.
    density_g_per_ml : float, g/mL, or None     Density of the product: w/w taken for w/v.
    """
    off = positive(ratio, "ratio")
    size = off if off >= 1 else 1 / off
    factors = list(_FACTORS)
    if density_g_per_ml is not None:
        density = positive(density_g_per_ml, "density_g_per_ml")
        # First in the list: where it fits as well as another slip, the known density is likelier.
        factors.insert(0, ("w_w_w_v", density if density >= 1 else 1 / density))
    best: str | None = None
    best_misfit = FIT
    for code, factor in factors:
        misfit = abs(size / factor - 1)
        if misfit < best_misfit:
            best = code
            best_misfit = misfit
    return best


def slip_question(
    stated: float, computed: float, density_g_per_ml: float | None = None
) -> Finding | None:
    """Return the question that a stated number deserves, or None where it agrees.

    Parameters
    ----------
    stated, computed : float, same unit, > 0    What someone wrote, and what arithmetic gives.
    density_g_per_ml : float, g/mL, or None     Where known, the w/w - w/v difference is looked for,
                                                also below 7 % if it fits better than agreement.

    Returns
    -------
    Finding or None
        `slip.<code>` with a named slip, or `slip.unexplained`; context has `stated`, `computed` and
        `ratio`.
    """
    ratio = positive(stated, "stated") / positive(computed, "computed")
    size = ratio if ratio >= 1 else 1 / ratio
    off = size - 1
    slip: str | None = None
    if off > QUESTION_ABOVE:
        slip = likely_slip(ratio, density_g_per_ml)
    elif density_g_per_ml is not None and _is_basis_slip(size, density_g_per_ml):
        slip = "w_w_w_v"
    else:
        return None
    code = "slip.unexplained" if slip is None else f"slip.{slip}"
    return Finding(
        code,
        "caution",
        f"{stated!r} was stated where {computed!r} is expected, a factor of {ratio!r}; check it.",
        None,
        None,
        {"stated": stated, "computed": computed, "ratio": ratio},
    )


def _is_basis_slip(size: float, density_g_per_ml: float) -> bool:
    """Return whether a small difference fits the density better than it fits agreement."""
    density = positive(density_g_per_ml, "density_g_per_ml")
    factor = density if density >= 1 else 1 / density
    return factor - 1 > FIT and abs(size / factor - 1) < FIT and size - 1 > (factor - 1) / 2
