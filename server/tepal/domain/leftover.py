"""What stays in the tank and where it may go.

Twin: web/app/core/leftover.js. The options are general statements with their source; the label of
the product decides, and the app shows its text beside them.
"""

from __future__ import annotations

from dataclasses import dataclass

from tepal.domain.ranges import not_negative, positive

__all__ = ["LeftoverOption", "left_in_tank_l", "leftover_options", "used_deviation_pct"]


@dataclass(frozen=True, slots=True)
class LeftoverOption:
    """One thing to do (or not to do) with solution that is left; `code` names it in catalogues."""

    code: str
    message: str
    source: str


_ON_LABELLED_CROP = LeftoverOption(
    "leftover.labelled_crop",
    "Apply it to another lot only where the label allows crop, site and total amount.",
    "common practice (no source)",
)
_TODAY = LeftoverOption(
    "leftover.same_day",
    "Use it the same day; a mixed growth regulator is not stored.",
    "Michigan State University, PGR dilution guide",
)
_LABEL = LeftoverOption(
    "leftover.as_label_says",
    "Dispose of the rest and of rinse water as the label says; never into water or a drain.",
    "US label texts",
)
_BATH = LeftoverOption(
    "leftover.bath_spreads_disease",
    "A bath that many plants went through can carry disease to the next ones.",
    "North Carolina State University, HIL 529",
)


def leftover_options(method: str, leftover_l: float) -> tuple[LeftoverOption, ...]:
    """Return what may be done with the rest, most useful first; the label line always stands."""
    rest = not_negative(leftover_l, "leftover_l")
    options = [_ON_LABELLED_CROP, _TODAY] if rest > 0 else []
    if rest > 0 and method in {"liner_dip", "bulb_dip", "sub_irrigation"}:
        options.append(_BATH)
    return (*options, _LABEL)


def left_in_tank_l(mixed_l: float, used_l: float) -> float:
    """Return what is left of a mixed volume after use; below zero is refused as impossible."""
    mixed = positive(mixed_l, "mixed_l")
    used = not_negative(used_l, "used_l")
    return not_negative(mixed - used, "left_l")


def used_deviation_pct(planned_l: float, used_l: float) -> float:
    """Return how far the volume really used lies from the planned one, in per cent of it."""
    planned = positive(planned_l, "planned_l")
    return (not_negative(used_l, "used_l") - planned) / planned * 100
