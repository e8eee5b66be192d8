"""While a conflict is open the stricter value counts, for restriction, interval and ceiling.

Twin: web/app/core/stricter.js. Two people gave different values to one field; until somebody
decides, rules read the record with the value that lets people and plants be safer: unknown before
known, later before earlier, longer before shorter, more product on less area. It is for rules only:
screens and papers show both values.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from tepal.domain.errors import text_of
from tepal.domain.moments import moment_ms
from tepal.domain.units import quantity_value, unit_of

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

__all__ = ["STRICTER", "stricter_fields"]

# kind -> field -> rule. later, longer, larger: none is the strictest; smaller: what is there.
STRICTER: dict[str, dict[str, str]] = {
    "restriction": {
        "ended_at": "later",
        "signs_down_at": "later",
        "reopened_at": "later",
        "measured_at": "later",
        "rei": "longer",
        "rei_unknown": "yes",
        "double_notice": "yes",
        "ventilation_owed": "yes",
        "method_class": "lower",
        "ventilation": "common",
        "area": "wider",
        "area_during": "wider",
    },
    "application": {
        "started_at": "later",
        "ended_at": "later",
        "volume": "smaller",
        "products": "products",
        "lines": "lines",
    },
    "product": {
        "rei": "longer",
        "water_wait": "longer",
        "double_notice": "yes",
        "respirator": "yes",
        "restricted_use": "yes",
        "hours_limited": "yes",
        "stage_limited": "yes",
        "uses": "uses",
    },
    "supplier_treatment": {"applied_on": "later_day", "dose": "longer"},
    "lot": {"started_on": "earlier_day", "n_containers": "lower"},
}

_AREAS = ("treated_area", "treated_area_25_ft", "whole_house")


def _base(quantity: Mapping[str, Any]) -> float:
    return quantity_value(quantity, unit_of(quantity["unit"]).dimension, "value")


def _larger(one: Any, other: Any) -> Any:
    """The larger quantity; none is the strictest, and units of two kinds cannot be compared."""
    if one is None or other is None:
        return None
    if unit_of(one["unit"]).dimension != unit_of(other["unit"]).dimension:
        return None
    return other if _base(other) > _base(one) else one


def _smaller(one: Any, other: Any) -> Any:
    """The smaller quantity or number of those that are there."""
    if one is None or other is None:
        return other if one is None else one
    if isinstance(one, dict) and isinstance(other, dict):
        if unit_of(one["unit"]).dimension != unit_of(other["unit"]).dimension:
            return one
        return other if _base(other) < _base(one) else one
    return min(other, one)


def _later(one: Any, other: Any) -> Any:
    if one is None or other is None:
        return None
    return other if moment_ms(other) > moment_ms(one) else one


def _yes(one: Any, other: Any) -> Any:
    if one is True or other is True:
        return True
    return None if one is None or other is None else False


def _wider(one: Any, other: Any) -> Any:
    ranks = [_AREAS.index(area) if area in _AREAS else len(_AREAS) for area in (one, other)]
    return other if ranks[1] > ranks[0] else one


def _day(one: Any, other: Any, is_later: bool) -> Any:
    if one is None or other is None:
        return None
    return max(one, other) if is_later else min(one, other)


def _common(one: Any, other: Any) -> list[Any]:
    """Rows that both lists have: what only one says is not agreed on."""
    return [row for row in one or [] if row in (other or [])]


def _crop(use: Mapping[str, Any]) -> tuple[str, str]:
    names = (text_of(use.get("crop")), text_of(use.get("crop_eppo")))
    return (names[0].strip().lower(), names[1].strip().upper())


def _uses(one: Any, other: Any) -> list[Any]:
    """Uses of both lists for the crops that both name, so that the strictest limit of both counts.

    Where they agree on no crop, a use is left that fits none: nothing is allowed until decided.
    """
    ours, theirs = one or [], other or []
    agreed = [_crop(use) for use in ours if any(_crop(use) == _crop(held) for held in theirs)]
    rows = [use for use in [*ours, *theirs] if _crop(use) in agreed]
    return rows or [{"crop": "?"}]


def _merged(one: Any, other: Any, keys: Sequence[str], rules: Mapping[str, str]) -> list[Any]:
    """Rows of both lists; of a row in both, the stricter values."""
    rows = [dict(row) for row in one or []]
    names = [tuple(row.get(key) for key in keys) for row in rows]
    for row in other or []:
        name = tuple(row.get(key) for key in keys)
        if name not in names:
            rows.append(dict(row))
            names.append(name)
            continue
        held = rows[names.index(name)]
        for field, rule in rules.items():
            held[field] = _strict(rule, held.get(field), row.get(field))
    return rows


def _strict(rule: str, one: Any, other: Any) -> Any:
    if rule == "later":
        return _later(one, other)
    if rule in ("longer", "larger"):
        return _larger(one, other)
    if rule in ("smaller", "lower"):
        return _smaller(one, other)
    if rule == "yes":
        return _yes(one, other)
    if rule == "wider":
        return _wider(one, other)
    if rule in ("later_day", "earlier_day"):
        return _day(one, other, rule == "later_day")
    if rule == "uses":
        return _uses(one, other)
    if rule == "products":
        return _merged(one, other, ("product", "name"), {"amount": "larger", "rei": "longer"})
    if rule == "lines":
        return _merged(
            one,
            other,
            ("bench", "lot", "place"),
            {"volume": "larger", "area": "smaller", "n_containers": "lower"},
        )
    return _common(one, other)


def stricter_fields(
    kind: str, fields: Mapping[str, Any], conflicts: Sequence[Mapping[str, Any]]
) -> dict[str, Any]:
    """Return a record's fields as rules must read them while conflicts on it are open.

    Parameters
    ----------
    kind : kind of the record; fields of kinds and names without a rule stay as they are
    fields : its current fields
    conflicts : conflict records of it: `field`, `other`; one with a `decision` is closed
    """
    strict = dict(fields)
    for conflict in conflicts:
        if conflict.get("decision") is not None:
            continue
        name = conflict.get("field") or ""
        rule = STRICTER.get(kind, {}).get(name)
        if rule is not None:
            strict[name] = _strict(rule, strict.get(name), conflict.get("other"))
    return strict
