"""The plan of a day: what is sprayed where, when, by whom; what is restricted; what trials want.

Reads only; `services/papers.py` stores and prints it.
"""

from __future__ import annotations

from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

from tepal.domain.restriction import longest_rei_h, restriction_state
from tepal.domain.units import quantity_value
from tepal.reports.table_view import Pair, TablePart, TableSheetView
from tepal.services.trial_book import of_trial
from tepal.services.trial_due import is_whole, trial_work

if TYPE_CHECKING:
    from collections.abc import Mapping

    from tepal.services.print_base import Book
    from tepal.sync.merge import RecordState


def day_plan_view(book: Book, day: str) -> TableSheetView:
    """Return the plan of a calendar day ("2026-05-04")."""
    say = book.say
    benches = {one.id: one.fields for one in book.all("bench")}
    places = _Places(book.names("house"), benches, {o.id: o.fields for o in book.all("lot")})
    outcomes = {one.fields.get("order"): one.fields for one in book.all("order_outcome")}
    done = {one.fields.get("order") for one in book.all("application")} - {None}
    mixes = {one.id: one.fields for one in book.all("tank_mix")}
    products = {one.id: one.fields for one in book.all("product")}
    people = book.names("member")
    rows = []
    for order in book.all("spray_order"):
        f = order.fields
        if f.get("cancelled") or not _falls_on(f, day):
            continue
        mix = mixes.get(str(f.get("tank_mix")), {})
        window = "–".join(t for t in (f.get("from_time"), f.get("to_time")) if t)
        rows.append(
            (
                window or say("book.plan.any_time"),
                places.of(f.get("lines") or []),
                str(f.get("title") or ""),
                _mix(book, mix, products),
                people.get(str(f.get("operator")), "–"),
                _state(book, order, outcomes, done),
            )
        )
    running = _restricted(book)
    work = _trial_work(book, day, places)
    heads = ("time", "house", "order", "mix", "operator", "state")
    return TableSheetView(
        **book.facts(),
        title=say("book.plan.title", day=book.text.day({"local": f"{day}T00:00:00"})),
        pairs=(Pair(say("book.plan.orders"), str(len(rows))),),
        parts=(
            TablePart(say("book.plan.day"), tuple(say(f"book.plan.{n}") for n in heads),
                      (22, 54, 40, 60, 30, 32), tuple(sorted(rows)), say("book.plan.none")),
            TablePart(say("book.plan.restricted"),
                      tuple(say(f"book.plan.{n}") for n in ("house", "products", "until")),
                      (60, 60, 90), tuple(running), say("book.plan.no_restriction"),
                      notes=(say("book.plan.heard", at=book.text.instant(book.now)),)),
            TablePart(say("book.plan.trials"),
                      tuple(say(f"book.plan.{n}") for n in ("work", "house", "days", "state")),
                      (70, 80, 50, 38), tuple(work), say("book.plan.no_trials")),
        ),
        fixed_cautions=("label", "rei", "local"),
        is_landscape=True,
    )  # fmt: skip


def _trial_work(book: Book, day: str, places: _Places) -> list[tuple[str, ...]]:
    """Return what trials want on the day; what is overdue only on the day of the print.

    For a later day nobody knows yet what will have been left out.
    """
    trials = {one.id: one for one in book.all("trial")}
    rows: list[tuple[str, ...]] = []
    is_today = day == book.text.local_day(book.now)
    begun = book.all("assessment")
    for one in trial_work(list(trials.values()), begun, day, _wholeness(book, trials, begun)):
        is_late = one.state in {"overdue", "unfinished"}
        if not (one.first <= day <= one.last or (is_today and is_late)):
            continue
        fields = trials[one.trial].fields
        plots = [plot for plot in fields.get("plots") or [] if plot.get("bench")]
        span = dict.fromkeys(book.text.day({"local": f"{at}T00:00:00"}) for at in one[3:5])
        rows.append(
            (
                f"{fields.get('code') or ''}: {one.name}",
                places.of(plots) or "–",
                " – ".join(span),
                book.say(f"book.plan.work.{one.state}"),
            )
        )
    return rows


def _wholeness(
    book: Book, trials: Mapping[str, RecordState], begun: list[RecordState]
) -> dict[tuple[str, str], bool]:
    """Return by trial and code whether an assessment that was begun lacks nothing."""
    found: dict[tuple[str, str], bool] = {}
    for trial in trials.values():
        if trial.fields.get("phase") != "running":
            continue
        codes = {str(a.fields.get("code")) for a in begun if a.fields.get("trial") == trial.id}
        if not codes:
            continue
        seen: dict[str, list[Mapping[str, Any]]] = {}
        for one in of_trial(book.db, book.id, "observation", trial.id):
            seen.setdefault(str(one.fields.get("assessment")), []).append(one.fields)
        for planned in trial.fields.get("assessments") or ():
            # of a warm-up each observer has plants of their own
            if planned.get("code") in codes and planned.get("sort") != "warm_up":
                code = str(planned["code"])
                found[trial.id, code] = is_whole(trial.fields, code, seen.get(code, ()))
    return found


def _falls_on(order: Mapping[str, Any], day: str) -> bool:
    first = order.get("window_from") or order.get("window_to")
    last = order.get("window_to") or first
    return first is not None and str(first) <= day <= str(last)


class _Places:
    def __init__(
        self, houses: Mapping[str, str], benches: Mapping[str, Any], lots: Mapping[str, Any]
    ) -> None:
        self.houses, self.benches, self.lots = houses, benches, lots

    def of(self, lines: list[Mapping[str, Any]]) -> str:
        """Return "House 1: Bench 1, Bench 2 (lot 1·07)", one line for each house."""
        found: dict[str, dict[str, None]] = {}
        codes: dict[str, dict[str, None]] = {}
        for line in lines:
            bench = self.benches.get(str(line.get("bench")), {})
            house = self.houses.get(str(bench.get("house")), "–")
            found.setdefault(house, {})[str(bench.get("name") or "")] = None
            lot = self.lots.get(str(line.get("lot")))
            if lot:
                codes.setdefault(house, {})[str(lot.get("code") or "")] = None
        return "\n".join(
            f"{house}: {', '.join(filter(None, names))} ({', '.join(codes.get(house, '–'))})"
            for house, names in sorted(found.items())
        )


def _mix(book: Book, mix: Mapping[str, Any], products: Mapping[str, Any]) -> str:
    parts, intervals = [str(mix.get("name") or "–")], []
    for component in mix.get("components") or []:
        product = products.get(str(component.get("product")), {})
        target = book.text.quantity(component.get("target"))
        parts.append(f"{product.get('name') or '–'} {target}".strip())
        if (product.get("kind") or "product") == "product":
            rei = product.get("rei")
            intervals.append(None if rei is None else quantity_value(rei, "time", "rei") / 3600)
    hours = longest_rei_h(intervals)
    parts.append(
        book.say("book.plan.rei_unknown")
        if hours is None
        else book.say("book.plan.rei", hours=f"{hours:g}")
    )
    return "\n".join(parts)


def _state(
    book: Book, order: RecordState, outcomes: Mapping[Any, Mapping[str, Any]], done: set[Any]
) -> str:
    outcome = outcomes.get(order.id)
    if outcome is not None:
        result = book.say(f"choice.result.{outcome.get('result')}")
        return f"{result}\n{outcome['reason']}" if outcome.get("reason") else result
    return book.say("choice.result.done" if order.id in done else "book.plan.open")


def _restricted(book: Book) -> list[tuple[str, ...]]:
    """Return what is not reopened: place, products, and until when it is restricted."""
    now = datetime.fromisoformat(book.now).timestamp() * 1000
    rows: list[tuple[str, ...]] = []
    for one in book.all("restriction"):
        f = one.fields
        if f.get("reopened_at"):
            continue
        state = restriction_state(f, now, now, 0, book.own.get("ventilation_parts_add") is True)
        if state.code == "being_sprayed":
            told = book.say("book.plan.spraying")
        elif state.until_ms is None:
            told = book.say("book.plan.rei_unknown")
        else:
            until = datetime.fromtimestamp(state.until_ms / 1000, tz=UTC)
            over = state.until_ms <= now
            told = book.say(
                "book.plan.over" if over else "book.plan.until_signs",
                until=book.text.local_instant(until),
            )
        rows.append((str(f.get("place") or ""), str(f.get("product_names") or ""), told))
    return rows
