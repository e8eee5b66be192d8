"""Interval, number of applications and season total of a lot, over all products of the same a.i.

Twin: web/app/core/season_checks.js. What the supplier applied counts, and what the lots had from
which a lot was split or merged. The day counts by the calendar. What is not on record makes a sum
unknown, never smaller.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from tepal.domain.applied import AppliedDose, applied_doses, supplier_doses
from tepal.domain.errors import text_of
from tepal.domain.label_teller import LabelTeller, ais_of, compare, values_of
from tepal.domain.label_uses import (
    Fit,
    LabelLimit,
    interval_d,
    limit_of,
    lineage,
    most_applications,
    next_day,
)
from tepal.domain.moments import day_number

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

__all__ = ["history_findings"]


def _is_same_product(one: Mapping[str, Any], other: Mapping[str, Any]) -> bool:
    if one.get("product") is not None and one.get("product") == other.get("product"):
        return True
    name = text_of(one.get("name")).strip().lower()
    return name != "" and name == text_of(other.get("name")).strip().lower()


def _is_same_ai(one: Mapping[str, Any], other: Mapping[str, Any]) -> bool:
    """The same product, or one with the same active ingredient."""
    return _is_same_product(one, other) or not ais_of(one).isdisjoint(ais_of(other))


def _is_on_other_plots(one: Mapping[str, Any], other: Mapping[str, Any]) -> bool:
    """Whether two treatments of one trial wet plots of which none is the same.

    The plots of a trial share lot and bench, but each got one treatment. Where a record does not
    name its plots, it may have wet any.
    """
    if one.get("trial") is None or one.get("trial") != other.get("trial"):
        return False
    ours = {plot.get("plot") for plot in one.get("plots") or []}
    theirs = {plot.get("plot") for plot in other.get("plots") or []}
    return bool(ours) and bool(theirs) and ours.isdisjoint(theirs)


class _Earlier:
    """One earlier treatment of a lot with the same active ingredient."""

    def __init__(
        self,
        day: str | None,
        product: Mapping[str, Any],
        doses: Sequence[AppliedDose],
        is_supplier: bool,
    ) -> None:
        self.day = day
        self.product = product
        self.doses = doses
        self.is_supplier = is_supplier


def _earlier_of(teller: LabelTeller, situation: Mapping[str, Any], lot: str) -> list[_Earlier]:
    """Return what a lot and its forebears had of this a.i. in this crop, supplier included."""
    lots = situation.get("lots") or {}
    own = lineage(lot, lots)
    starts = [text_of((lots.get(one) or {}).get("started_on")) for one in own]
    first = min((day for day in starts if day), default="")
    found: list[_Earlier] = []
    for record in situation.get("applications") or []:
        places = [i for i, line in enumerate(record.get("lines") or []) if line.get("lot") in own]
        moment = record.get("started_at") or record.get("ended_at")
        day = None if moment is None else text_of(moment.get("local"))[:10]
        if not places or (day is not None and day < first):
            continue
        if _is_on_other_plots(record, situation.get("application") or {}):
            continue
        doses = applied_doses(record)
        for product in record.get("products") or []:
            if (product.get("kind") or "product") == "product" and _is_same_ai(
                product, teller.product
            ):
                mine = [
                    dose
                    for dose in doses
                    if dose.line in places
                    and (dose.product, dose.name)
                    == (product.get("product"), text_of(product.get("name")))
                ]
                found.append(_Earlier(day, product, mine, False))
    for record in situation.get("supplier_treatments") or []:
        product = {
            "name": record.get("product_name"),
            "ingredients": record.get("ingredients"),
        }
        if record.get("lot") in own and _is_same_ai(product, teller.product):
            found.append(_Earlier(record.get("applied_on"), product, supplier_doses(record), True))
    return found


def history_findings(
    teller: LabelTeller,
    fit: Fit,
    doses: Sequence[AppliedDose],
    situation: Mapping[str, Any],
    line: Mapping[str, Any],
) -> None:
    """Say what interval, number of applications and season total make of a line with a lot.

    All products with the same a.i. count, and what the supplier applied.
    """
    place = text_of(line.get("place"))
    earlier = _earlier_of(teller, situation, line["lot"])
    _interval(teller, fit, earlier, text_of(situation.get("today")), place)
    most = most_applications(fit.uses)
    if most is not None and len(earlier) + 1 > most:
        teller.say(
            "checks.too_many_applications",
            "stop",
            f"{len(earlier)} applications were made; the label allows {most}.",
            "lines",
            place=place,
            n=len(earlier),
            most=most,
        )
    limit = limit_of(fit.uses, "max_season", "per_m2")
    if limit is None:
        teller.say(
            "checks.season_not_on_file",
            "note",
            "no total for the season is on file: read the label.",
            "products",
        )
        return
    if limit.is_readable and not limit.is_ai:
        earlier = [one for one in earlier if _is_same_product(one.product, teller.product)]
    totals: list[tuple[str, float | None]] = []
    for ai, now in values_of(limit, doses):
        total = now
        for one in earlier:
            for of_ai, before in _worst(limit, one.doses):
                if of_ai.strip().lower() == ai.strip().lower():
                    total = None if total is None or before is None else total + before
        totals.append((ai, total))
    if any(total is None for _, total in totals):
        teller.say(
            "checks.season_not_countable",
            "caution",
            "an earlier dose is not known, so the season's total is unchecked.",
            "products",
            place=place,
        )
    known = [(ai, total) for ai, total in totals if total is not None]
    if known or not limit.is_readable:
        compare(teller, limit, "checks.season_above_label", known, place)


def _worst(limit: LabelLimit, doses: Sequence[AppliedDose]) -> list[tuple[str, float | None]]:
    """Return each a.i.'s largest dose over the lines of one application: the most a plant had."""
    worst: dict[str, float | None] = {}
    for ai, value in values_of(limit, doses):
        if ai not in worst:
            worst[ai] = value
            continue
        so_far = worst[ai]
        worst[ai] = None if so_far is None or value is None else max(so_far, value)
    return list(worst.items())


def _interval(
    teller: LabelTeller, fit: Fit, earlier: Sequence[_Earlier], today: str, place: str
) -> None:
    days = interval_d(fit.uses)
    if days is None:
        teller.say(
            "checks.interval_not_on_file",
            "note",
            "no minimum interval is on file: read the label.",
            "products",
        )
        return
    last: _Earlier | None = None
    for one in earlier:
        if one.day is None:
            teller.say(
                "checks.earlier_day_unknown",
                "caution",
                "the day of an earlier treatment is not on record: the interval is unchecked.",
                "lines",
                place=place,
            )
        elif last is None or last.day is None or one.day > last.day:
            last = one
    if last is None or last.day is None or today == "":
        return
    if day_number(today) - day_number(last.day) < days:
        teller.say(
            "checks.interval_too_short",
            "stop",
            f"the last treatment was on {last.day}; the label asks for {days!r} days.",
            "lines",
            place=place,
            last_on=last.day,
            last_name=text_of(last.product.get("name")),
            days=days,
            next_on=next_day(last.day, days),
            by_supplier=last.is_supplier,
        )
