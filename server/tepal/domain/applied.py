"""What a record of an application put down: concentration, and dose per area and per container.

Twin: web/app/core/applied.js. Read from the record's own fields, so that a plan, a done application
and one of last month give their doses by the same rule: amount of product in the whole solution,
times strength, shared by the volume of each line. What a record does not say is None, never zero.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from tepal.domain.errors import TepalError, text_of
from tepal.domain.strength import strengths_of
from tepal.domain.units import quantity_value, unit_of

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

__all__ = ["AppliedDose", "applied_doses", "supplier_doses"]


@dataclass(frozen=True, slots=True)
class AppliedDose:
    """One substance on one line: an a.i. in mg, or with `ai` '' the product itself in mL or g.

    `per_l` of final solution; `per_m2`, `per_container`: None where area, containers or volume are
    not on record. `line` counts from 0; -1 for a treatment by the supplier.
    """

    line: int
    lot: str | None
    product: str | None
    name: str
    ai: str
    unit: str
    per_l: float | None
    per_m2: float | None
    per_container: float | None


def _read(quantity: Any, dimension: str) -> float | None:
    """Return a quantity in base units; None where there is none, or none above zero."""
    if quantity is None:
        return None
    value = quantity_value(quantity, dimension, dimension)
    return value if value > 0 else None


def _amount(product: Mapping[str, Any]) -> tuple[float, str] | None:
    """Return how much product went in, and its unit: mL or g."""
    quantity = product.get("amount")
    if quantity is None:
        return None
    is_mass = unit_of(quantity.get("unit")).dimension == "mass"
    value = _read(quantity, "mass" if is_mass else "volume")
    return None if value is None else (value, "g" if is_mass else "mL")


def _whole_l(application: Mapping[str, Any], volumes: Sequence[float | None]) -> float | None:
    """Return the litres of final solution; behind an injector the tank holds the stock."""
    applied = 0.0
    is_known = bool(volumes)
    for volume in volumes:
        if volume is None:
            is_known = False
        else:
            applied += volume
    mixed = _read(application.get("volume"), "volume")
    if application.get("method") == "injector" or mixed is None:
        return applied / 1000 if is_known and applied > 0 else None
    return max(applied, mixed) / 1000


def _strengths(product: Mapping[str, Any], unit: str) -> list[tuple[str, float]]:
    """Return (a.i., mg per mL or g of product); nothing where the label's strength is not read."""
    form = product.get("physical_form") or ("dry" if unit == "g" else "liquid")
    if (form == "dry") != (unit == "g"):
        return []
    try:
        found = strengths_of({**product, "physical_form": form})
    except TepalError:
        return []
    # a label that counts salt and acid equivalent says the same substance twice: the larger counts
    largest: dict[str, float] = {}
    for one in found:
        if one.ai not in largest or one.mg_per_measure > largest[one.ai]:
            largest[one.ai] = one.mg_per_measure
    return list(largest.items())


def applied_doses(application: Mapping[str, Any]) -> tuple[AppliedDose, ...]:
    """Return the doses of an application: per line and product, the product and each a.i.

    An a.i. whose strength cannot be read is there with None, so that nothing passes as zero.
    """
    lines: Sequence[Mapping[str, Any]] = application.get("lines") or []
    volumes = [_read(line.get("volume"), "volume") for line in lines]
    whole_l = _whole_l(application, volumes)
    doses: list[AppliedDose] = []
    for number, line in enumerate(lines):
        volume = volumes[number]
        m2 = _read(line.get("area"), "area")
        containers = line.get("n_containers") or None
        for product in application.get("products") or []:
            amount = _amount(product)
            unit = "mL" if amount is None else amount[1]
            per_l = None if amount is None or whole_l is None else amount[0] / whole_l
            strengths = dict(_strengths(product, unit))
            substances: list[tuple[str, str, float | None]] = [("", unit, per_l)]
            for ingredient in product.get("ingredients") or []:
                ai = text_of(ingredient.get("ai"))
                if ai == "" or any(one[0] == ai for one in substances):
                    continue
                mg = strengths.get(ai)
                mg_per_l = None if per_l is None or mg is None else per_l * mg
                substances.append((ai, "mg", mg_per_l))
            for ai, of_unit, concentration in substances:
                whole = (
                    None
                    if concentration is None or volume is None
                    else concentration * volume / 1000
                )
                doses.append(
                    AppliedDose(
                        number,
                        line.get("lot"),
                        product.get("product"),
                        text_of(product.get("name")),
                        ai,
                        of_unit,
                        concentration,
                        None if whole is None or m2 is None else whole / m2,
                        None if whole is None or containers is None else whole / containers,
                    )
                )
    return tuple(doses)


def supplier_doses(treatment: Mapping[str, Any]) -> tuple[AppliedDose, ...]:
    """Return the doses of a treatment by the supplier: its `dose`, of its one a.i. or the product.

    A mass counts for the a.i. where there is exactly one; a volume is the product's.
    """
    ingredients = treatment.get("ingredients") or []
    ais = [text_of(one.get("ai")) for one in ingredients]
    dose = treatment.get("dose")
    dimension = "" if dose is None else unit_of(dose.get("unit")).dimension
    amount = None if dose is None else _read(dose, dimension)
    is_mass = dimension in ("mass_per_area", "mass_per_item")
    doses: list[AppliedDose] = []
    for ai in ["", *dict.fromkeys(one for one in ais if one)]:
        is_meant = is_mass and len(ais) == 1 if ai else dimension == "volume_per_area"
        value = amount if is_meant else None
        per_area = dimension in ("mass_per_area", "volume_per_area")
        doses.append(
            AppliedDose(
                -1,
                treatment.get("lot"),
                None,
                text_of(treatment.get("product_name")),
                ai,
                "mg" if ai else "mL",
                None,
                value if per_area else None,
                None if per_area else value,
            )
        )
    return tuple(doses)
