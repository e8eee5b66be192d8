"""Doses per pot, plant, bulb, tray and area, and the volumes behind them.

Twin: web/app/core/doses.js. mg = mg/L x mL / 1000 (MSU, PGR drench guidelines; North Carolina State
University HIL 529: the dose is concentration times volume, and both must be right).
"""

from __future__ import annotations

from tepal.domain.errors import OutOfRangeError
from tepal.domain.ranges import positive, whole_number

__all__ = [
    "area_volume_l",
    "bath_left_l",
    "item_volume_l",
    "items_from_volume",
    "items_per_l",
    "mg_per_item",
    "mg_per_l_for_item",
    "mg_per_l_for_m2",
    "mg_per_m2",
    "ml_per_item_for_dose",
]


def mg_per_item(mg_per_l: float, ml_per_item: float) -> float:
    """Return mg a.i. per pot, plant or bulb from the concentration and the mL each gets."""
    return positive(mg_per_l, "mg_per_l") * positive(ml_per_item, "ml_per_item") / 1000


def mg_per_l_for_item(mg: float, ml_per_item: float) -> float:
    """Return the concentration that gives `mg` per item with `ml_per_item` of solution."""
    return positive(mg, "mg_per_item") * 1000 / positive(ml_per_item, "ml_per_item")


def ml_per_item_for_dose(mg: float, mg_per_l: float) -> float:
    """Return the mL of a solution that carry `mg` a.i."""
    return positive(mg, "mg_per_item") * 1000 / positive(mg_per_l, "mg_per_l")


def mg_per_m2(mg_per_l: float, ml_per_m2: float) -> float:
    """Return mg a.i. per square metre from the concentration and the volume per area."""
    return positive(mg_per_l, "mg_per_l") * positive(ml_per_m2, "ml_per_m2") / 1000


def mg_per_l_for_m2(mg: float, ml_per_m2: float) -> float:
    """Return the concentration that gives `mg` per square metre at a volume per area."""
    return positive(mg, "mg_per_m2") * 1000 / positive(ml_per_m2, "ml_per_m2")


def area_volume_l(area_m2: float, ml_per_m2: float) -> float:
    """Return the litres for an area at a volume per area (spray, sprench)."""
    return positive(area_m2, "area_m2") * positive(ml_per_m2, "ml_per_m2") / 1000


def item_volume_l(n_items: float, ml_per_item: float) -> float:
    """Return the litres for a number of pots, plants, trays or bulbs (drench, dip)."""
    return whole_number(n_items, "n_items") * positive(ml_per_item, "ml_per_item") / 1000


def items_per_l(ml_per_item: float) -> float:
    """Return how many items a litre serves; not rounded."""
    return 1000 / positive(ml_per_item, "ml_per_item")


def items_from_volume(volume_l: float, ml_per_item: float) -> float:
    """Return how many items a volume serves (a bath by what each takes up); not rounded."""
    return positive(volume_l, "volume_l") * 1000 / positive(ml_per_item, "ml_per_item")


def bath_left_l(bath_l: float, n_items: float, ml_per_item: float) -> float:
    """Return what a bath still holds after dipping `n_items` that take up `ml_per_item` each.

    Raises `OutOfRangeError` (`doses.bath_too_small`) where they take up more than the bath holds.
    """
    bath = positive(bath_l, "bath_l")
    left = bath - item_volume_l(n_items, ml_per_item)
    if left < 0:
        raise OutOfRangeError(
            "doses.bath_too_small",
            f"The items take up {-left!r} L more than the bath of {bath!r} L holds.",
            bath_l=bath,
            missing_l=-left,
        )
    return left
