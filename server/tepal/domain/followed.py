"""How a restriction follows its application when that record, or a copied label, changes later.

Twin: web/app/core/followed.js. The restriction is a record of its own, written at the start and
the end of the application. Stricter counts at once: a later end and a longer or unknown REI move
it, and take back a reopening given on the shorter interval while the longer one still runs. What
is shorter changes nothing by itself: `shorter_fields` says what a grower may take over, with a
reason. 40 CFR 170.407(c), READ in WAC 16-233-116: the longest interval of the mix; that a change
of the record moves it is derived, the direction is a house rule (no source). Places likewise: a
bench or a house that an amendment adds is covered at once, one that it takes away stays covered
until a grower says otherwise.

The register's interval counts only while the label is the one of that day: a newer label says
nothing of what was applied under the older one.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from tepal.domain.moments import moment_ms
from tepal.domain.units import quantity_value

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

__all__ = ["added_restrictions", "followed_fields", "is_uncovered", "shorter_fields"]

_HOUR_MS = 3_600_000
_PLACE_CHARS = 400  # what the record's field holds
# what a restriction of one house has from the application, and so has that of another house
_SHARED = (
    "application", "area", "area_during", "method_class", "ventilation_owed", "double_notice",
    "product_names",
)  # fmt: skip


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


def _lines_of(house: Any, application: Mapping[str, Any]) -> list[Any]:
    return [line for line in application.get("lines") or [] if line.get("house") == house]


def _benches(lines: Sequence[Mapping[str, Any]]) -> list[str]:
    return list(dict.fromkeys(line["bench"] for line in lines if line.get("bench")))


def _place(names: Sequence[str], lines: Sequence[Mapping[str, Any]]) -> str:
    """The places in words, each once: those that stand, then those of the lines."""
    more = [line["place"] for line in lines if line.get("place")]
    return "; ".join(dict.fromkeys([*names, *more]))[:_PLACE_CHARS]


def _added_places(restriction: Mapping[str, Any], application: Mapping[str, Any]) -> dict[str, Any]:
    """The benches of its house that the application names and the restriction does not."""
    known = restriction.get("benches") or []
    lines = [
        line
        for line in _lines_of(restriction.get("house"), application)
        if line.get("bench") and line["bench"] not in known
    ]
    if not lines:
        return {}
    stated = restriction.get("place") or ""
    place = _place(stated.split("; ") if stated else [], lines)
    return {"benches": [*known, *_benches(lines)], **({"place": place} if place != stated else {})}


def _runs(rei: Any, ended: Any, now_ms: float) -> bool:
    """Whether an interval still runs; without its length or its start nobody can say it is over."""
    return rei is None or ended is None or now_ms < moment_ms(ended) + _hours(rei) * _HOUR_MS


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
    changes |= _added_places(restriction, application)
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
    lines = _lines_of(restriction.get("house"), application)
    known = restriction.get("benches") or []
    kept = [bench for bench in known if bench in _benches(lines)]
    if 0 < len(kept) < len(known):
        changes |= {"benches": kept, "place": _place([], lines)}
    rei = _interval_now(application, products)
    if rei is None:
        return changes
    stated = restriction.get("rei")
    if stated is None or restriction.get("rei_unknown") is True:
        changes |= {"rei": rei, "rei_unknown": False}
    elif _hours(rei) < _hours(stated):
        changes["rei"] = rei
    return changes


def is_uncovered(restriction: Mapping[str, Any], application: Mapping[str, Any]) -> bool:
    """Whether the application names other places and none of the restriction's house any more.

    It counts on until a grower voids it, with a reason.
    """
    return bool(application.get("lines")) and not _lines_of(restriction.get("house"), application)


def added_restrictions(
    restrictions: Sequence[Mapping[str, Any]],
    application: Mapping[str, Any],
    products: Mapping[str, Any],
    now_ms: float,
) -> list[dict[str, Any]]:
    """Return the restrictions of houses that an amendment added: fields of new records.

    Parameters
    ----------
    restrictions : fields of all that the application has, void ones too; none: nothing to follow
    application, products, now_ms : as in `followed_fields`

    Notes
    -----
    A house whose restriction was voided is not restricted anew. Where the interval is over and the
    first restriction was reopened, nobody is kept out of the other house either.
    """
    if not restrictions or not application.get("products"):
        return []
    like = restrictions[0]
    rei, ended = _interval_now(application, products), application.get("ended_at")
    if like.get("reopened_at") is not None and not _runs(rei, ended, now_ms):
        return []
    covered = [one.get("house") for one in restrictions]
    houses = dict.fromkeys(line.get("house") for line in application.get("lines") or [])
    found = []
    for house in houses:
        if house in covered:
            continue
        lines = _lines_of(house, application)
        fields = {
            **{name: like.get(name) for name in _SHARED},
            "house": house,
            "benches": _benches(lines),
            "place": _place([], lines),
            "started_at": application.get("started_at"),
            "ended_at": ended,
            "rei": rei,
            "rei_unknown": rei is None,
        }
        found.append({name: value for name, value in fields.items() if value is not None})
    return found
