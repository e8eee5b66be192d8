"""Which uses on a label fit a line of an application, and the limits that these uses state.

Twin: web/app/core/label_uses.js. A label is the user's copy: an empty field is "not on file", never
"no limit". Where several uses fit, the strictest limit counts. Tepal invents no limit.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from tepal.domain.errors import text_of
from tepal.domain.moments import add_days
from tepal.domain.units import quantity_value, unit_of

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

__all__ = [
    "Fit",
    "LabelLimit",
    "fit_of",
    "interval_d",
    "limit_of",
    "lineage",
    "most_applications",
    "next_day",
]

_DIMENSIONS = {
    "mass_concentration": ("per_l", "mg"),
    "volume_ratio": ("per_l", "mL"),
    "mass_per_area": ("per_m2", "mg"),
    "volume_per_area": ("per_m2", "mL"),
    "mass_per_item": ("per_container", "mg"),
    "volume_per_item": ("per_container", "mL"),
}


@dataclass(frozen=True, slots=True)
class Fit:
    """The uses that fit, and why none does: '', uses_not_on_file, crop, site, method.

    `unknown`: what could not be compared because it is not on file: crop, site, method.
    """

    uses: tuple[dict[str, Any], ...]
    without: str
    unknown: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class LabelLimit:
    """A limit as it is compared: `value` in `unit` (mg of a.i.; mL or g of product) by `per`.

    `stated` is the label's own quantity, `is_readable` false where it cannot be compared.
    """

    per: str
    is_ai: bool
    unit: str
    value: float
    stated: dict[str, Any]
    is_readable: bool


def _names(text: Any) -> list[str]:
    """Return the names of a list such as "petunia; calibrachoa", for comparison."""
    parts = text_of(text).replace(",", ";").split(";")
    return [part.strip().lower() for part in parts if part.strip()]


def _crop_fits(use: Mapping[str, Any], crop: Mapping[str, Any]) -> bool | None:
    codes = [one.upper() for one in _names(use.get("crop_eppo"))]
    code = text_of(crop.get("crop_eppo")).strip().upper()
    if codes and code and code in codes:
        return True
    names = _names(use.get("crop"))
    name = text_of(crop.get("crop")).strip().lower()
    if names and name and name in names:
        return True
    if not names and not codes:
        return None
    return None if name == "" and code == "" else False


def _listed(use: Mapping[str, Any], field: str, value: Any) -> bool | None:
    listed = use.get(field) or []
    if not listed or value is None:
        return None
    return value in listed


def fit_of(
    product: Mapping[str, Any], crop: Mapping[str, Any], site: str | None, method: str | None
) -> Fit:
    """Return the uses of a label that fit a crop, a site and a method.

    Parameters
    ----------
    product : mapping   Fields of a product; `uses` rows as its label was copied.
    crop : mapping      `crop` and `crop_eppo` of the lot; a use fits by EPPO code or by name.
    """
    uses: Sequence[dict[str, Any]] = product.get("uses") or []
    if not uses:
        return Fit((), "uses_not_on_file", ())
    unknown: list[str] = []
    for field in ("crop", "site", "method"):
        verdicts = []
        for use in uses:
            if field == "crop":
                verdict = _crop_fits(use, crop)
            elif field == "site":
                verdict = _listed(use, "sites", site)
            else:
                verdict = _listed(use, "methods", method)
            verdicts.append(verdict)
        fitting = [use for use, verdict in zip(uses, verdicts, strict=True) if verdict is not False]
        if not fitting:
            return Fit((), field, tuple(unknown))
        named = [use for use, verdict in zip(uses, verdicts, strict=True) if verdict is True]
        if not named:
            unknown.append(field)
        # a use that names the crop goes before one of which the crop is not on file
        uses = named if field == "crop" and named else fitting
    return Fit(tuple(uses), "", tuple(unknown))


def limit_of(uses: Sequence[Mapping[str, Any]], field: str, per_default: str) -> LabelLimit | None:
    """Return the lowest limit of a field over the fitting uses; None: not on file.

    `max_of` says whether it counts a.i. or product; where it is not on file, a mass counts the a.i.
    and a volume the product. A per cent figure cannot be compared without its basis.
    """
    lowest: LabelLimit | None = None
    for use in uses:
        stated = use.get(field)
        if stated is None:
            continue
        unit = unit_of(stated.get("unit"))
        row = _DIMENSIONS.get(unit.dimension)
        if row is None:
            return LabelLimit(per_default, True, "mg", 0.0, stated, False)
        per, of_unit = row
        value = quantity_value(stated, unit.dimension, field)
        is_ai = use.get("max_of") != "product" and of_unit == "mg"
        if of_unit == "mg" and not is_ai:
            of_unit = "g"
            value = value / 1000
        if of_unit == "mL" and use.get("max_of") == "ai":
            return LabelLimit(per, True, "mg", 0.0, stated, False)
        limit = LabelLimit(per, is_ai, of_unit, value, stated, True)
        if lowest is None:
            lowest = limit
        elif (lowest.per, lowest.is_ai, lowest.unit) != (per, is_ai, of_unit):
            return LabelLimit(per, True, "mg", 0.0, stated, False)
        elif value < lowest.value:
            lowest = limit
    return lowest


def interval_d(uses: Sequence[Mapping[str, Any]]) -> float | None:
    """Return the longest minimum interval of the fitting uses in days; None: not on file."""
    longest: float | None = None
    for use in uses:
        stated = use.get("min_interval")
        if stated is None:
            continue
        days = quantity_value(stated, "time", "min_interval") / 86_400
        longest = days if longest is None or days > longest else longest
    return longest


def most_applications(uses: Sequence[Mapping[str, Any]]) -> int | None:
    """Return the lowest number of applications that the fitting uses allow; None: not on file."""
    lowest: int | None = None
    for use in uses:
        stated = use.get("max_applications")
        if stated is not None and (lowest is None or stated < lowest):
            lowest = stated
    return lowest


def lineage(lot: str, lots: Mapping[str, Any]) -> tuple[str, ...]:
    """Return a lot and all lots that it was made from: what they had counts for it."""
    found = [lot]
    for one in found:
        for parent in (lots.get(one) or {}).get("from_lots") or []:
            if parent not in found:
                found.append(parent)
    return tuple(found)


def next_day(last_day: str, days: float) -> str:
    """Return the first day on which a minimum interval is over."""
    return add_days(last_day, math.ceil(days))
