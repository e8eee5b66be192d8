"""Which area is kept out of during and after an application: 40 CFR 170.405(b)(4).

Twin: web/app/core/areas.js. The table is from memory but for its first row, columns B and C. What
is not on file counts as the stricter case, and a finding says so.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from tepal.domain.errors import Finding, TepalError

if TYPE_CHECKING:
    from collections.abc import Mapping

__all__ = ["KeepOut", "MethodClass", "RestrictionError", "keep_out", "method_class"]

_TABLE = "40 CFR 170.405(b)(4), from memory"
_FINE = ("extremely_fine", "very_fine", "fine")
_COARSE = ("medium", "coarse", "very_coarse", "extremely_coarse", "ultra_coarse")
_LOW = ("drench", "liner_dip", "bulb_dip", "sub_irrigation", "injector")

# class -> (kept out of during, until, REI area afterwards, basis of the row)
_CLASSES: dict[int, tuple[str, str, str | None, str]] = {
    1: (
        "whole_house",
        "ventilation",
        None,
        "40 CFR 170.405(b)(4): area and end read, REI area from memory",
    ),
    2: ("whole_house", "ventilation", "whole_house", _TABLE),
    3: ("whole_house", "ventilation", "treated_area", _TABLE),
    4: ("treated_area_25_ft", "end", "treated_area", _TABLE),
    5: ("treated_area", "end", "treated_area", _TABLE),
}


class RestrictionError(TepalError, ValueError):
    """A restriction names no known method class."""


@dataclass(frozen=True, slots=True)
class MethodClass:
    """The class of 170.405(b)(4), and what was not on file and so counted strictly."""

    number: int
    findings: tuple[Finding, ...]


@dataclass(frozen=True, slots=True)
class KeepOut:
    """Areas: whole_house, treated_area_25_ft, treated_area; None: no area is left for the REI.

    `until`: the `during` area is kept out of until 'end' (of the application) or 'ventilation'.
    `and_adjoining`: also any adjoining space that cannot be sealed off.
    """

    during: str
    and_adjoining: bool
    until: str
    rei_area: str | None
    source: str


def _not_on_file(code: str, message: str, field: str) -> Finding:
    return Finding(code, "note", message, field, _TABLE)


def method_class(facts: Mapping[str, Any]) -> MethodClass:
    """Return the class of an application; what is not on file counts as the stricter case.

    Parameters
    ----------
    facts : mapping
        `method` a method of an application; `droplet` a droplet class of the sprayer or None;
        `is_respirator_on_label` True, False or None (any label of the mix); `is_above_12_in` the
        liquid leaves more than 12 in above the medium (low methods only; None is no);
        `is_fumigant`, `is_aerosol` (smoke, mist, fog) true or absent.
    """
    if facts.get("is_fumigant") is True:
        return MethodClass(1, ())
    findings: list[Finding] = []
    method = facts.get("method")
    droplet = facts.get("droplet")
    if method == "fog" or facts.get("is_aerosol") is True:
        return MethodClass(2, ())
    if method not in _LOW:
        if droplet in _FINE:
            return MethodClass(2, ())
        if droplet not in _COARSE:
            findings.append(
                _not_on_file(
                    "restriction.droplet_not_on_file",
                    "The droplet class is not on file: counted as finer than medium.",
                    "droplet",
                )
            )
            return MethodClass(2, tuple(findings))
    respirator = facts.get("is_respirator_on_label")
    if respirator is None:
        findings.append(
            _not_on_file(
                "restriction.respirator_not_on_file",
                "Whether the label asks for a respirator is not on file: counted as asked for.",
                "respirator",
            )
        )
    if respirator is not False:
        return MethodClass(3, tuple(findings))
    if method in _LOW and facts.get("is_above_12_in") is not True:
        return MethodClass(5, ())
    return MethodClass(4, ())


def keep_out(number: int, is_whole_house: bool = False) -> KeepOut:
    """Return the areas of a class; `is_whole_house`: house policy widens each to the whole space.

    Raises `RestrictionError` (`restriction.class_unknown`).
    """
    row = _CLASSES.get(number)
    if row is None:
        raise RestrictionError(
            "restriction.class_unknown", f"{number!r} is no method class; allowed: 1 to 5."
        )
    during, until, rei_area, source = row
    if is_whole_house:
        return KeepOut("whole_house", number == 1, until, "whole_house", source)
    return KeepOut(during, number == 1, until, rei_area, source)
