"""How a restriction follows its application when that record, or a copied label, changes later.

Twin: web/app/core/followed.js. The restriction is a record of its own, written at the start and
the end of the application. Stricter counts at once: a later end and a longer or unknown REI move
it, and take back a reopening given on the shorter interval while the longer one still runs. What
is shorter changes nothing by itself: `shorter_fields` says what a grower may take over, with a
reason. 40 CFR 170.407(c), READ in WAC 16-233-116: the longest interval of the mix; that a change
of the record moves it is derived, the direction is a house rule (no source).

The register's interval counts only while the label is the one of that day: a newer label says
nothing of what was applied under the older one.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from tepal.domain.moments import moment_ms
from tepal.domain.units import quantity_value

if TYPE_CHECKING:
    from collections.abc import Mapping

__all__ = ["followed_fields", "shorter_fields"]

_HOUR_MS = 3_600_000


def _hours(rei: Mapping[str, Any]) -> float:
    return quantity_value(rei, "time", "rei") / 3600


def _longer(one: Any, other: Any) -> Any:
    """The longer of two intervals; what is not on file says nothing."""
    if one is None or other is None:
        return other if one is None else one
    return other if _hours(other) > _hours(one) else one


def _interval_now(application: Mapping[str, Any], products: Mapping[str, Any]) -> Any:
    """The longest interval of the mix as record and register say now; None: unknown."""
    longest: Any = None
    for used in application.get("products") or []:
        rei = used.get("rei")
        known = products.get(used.get("product") or "")
        if known is not None and known.get("label_on") == used.get("label_on"):
            rei = _longer(rei, known.get("rei"))
        if rei is None:
            if (used.get("kind") or "product") == "product":
                return None
            continue  # an adjuvant has an interval only where its label says so
        longest = _longer(longest, rei)
    return longest


def followed_fields(
    restriction: Mapping[str, Any],
    application: Mapping[str, Any],
    products: Mapping[str, Any],
    now_ms: float,
) -> dict[str, Any]:
    """Return the fields of a restriction that change because something became stricter.

    Parameters
    ----------
    restriction, application : fields of the records
    products : {id: fields} of the register; what is not on hand is left out
    now_ms : ms     Server time: a reopening is taken back only while the interval still runs.
    """
    changes: dict[str, Any] = {}
    if not application.get("products"):
        return changes
    was, ended = restriction.get("ended_at"), application.get("ended_at")
    if was is not None and ended is not None and moment_ms(ended) > moment_ms(was):
        changes["ended_at"] = ended
    stated = restriction.get("rei")
    if stated is not None and restriction.get("rei_unknown") is not True:
        rei = _interval_now(application, products)
        if rei is None:
            changes |= {"rei": None, "rei_unknown": True}
        elif _hours(rei) > _hours(stated):
            changes["rei"] = rei
    if changes and restriction.get("reopened_at") is not None:
        after = {**restriction, **changes}
        runs = after.get("rei") is None or (
            after.get("ended_at") is not None
            and now_ms < moment_ms(after["ended_at"]) + _hours(after["rei"]) * _HOUR_MS
        )
        if runs:
            changes |= {"reopened_at": None, "reopened_by": None, "reopened_name": None}
    return changes


def shorter_fields(
    restriction: Mapping[str, Any], application: Mapping[str, Any], products: Mapping[str, Any]
) -> dict[str, Any]:
    """Return the fields that record and register now state shorter, or state where none stood.

    They count only once a grower has taken them over.
    """
    changes: dict[str, Any] = {}
    if not application.get("products"):
        return changes
    was, ended = restriction.get("ended_at"), application.get("ended_at")
    if was is not None and ended is not None and moment_ms(ended) < moment_ms(was):
        changes["ended_at"] = ended
    rei = _interval_now(application, products)
    if rei is None:
        return changes
    stated = restriction.get("rei")
    if stated is None or restriction.get("rei_unknown") is True:
        changes |= {"rei": rei, "rei_unknown": False}
    elif _hours(rei) < _hours(stated):
        changes["rei"] = rei
    return changes
