"""A trial after potting on, as the analysis sees it: by the plots in which the plants were liners.

The treatment was given to those plots by chance. Moving their plants to new random places evens out
the bench, but makes no replicates: an analysis that took each pot for one would find effects that
are not there.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

from tepal.designs.trial import TrialHarvest, TrialMove, TrialPlot, TrialPotting

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from tepal.designs.trial import TrialData
    from tepal.services.trial_view import CellViews


def is_potted(fields: Mapping[str, Any]) -> bool:
    """Whether the plots of a trial are plants that came from plots of another."""
    return any(origin_of(plot) is not None for plot in fields.get("plots") or ())


def origin_of(plot: Mapping[str, Any]) -> tuple[int, int] | None:
    """Return (plot, plant) that a plot's plant had as a liner; None where it had none."""
    first, _, second = str(plot.get("origin") or "").partition(".")
    return (int(first), int(second)) if first.isdecimal() and second.isdecimal() else None


def by_origin(
    data: TrialData,
    fields: Mapping[str, Any],
    liner: Mapping[str, Any],
    liner_plots: Sequence[TrialPlot],
    since: Mapping[tuple[int, int], int],
) -> TrialData:
    """Return the trial with the liner plots as its plots and every pot as a plant in one of them.

    Pots of one liner plot that received different treatments afterwards become plots of their own;
    `since` holds those of the moves between, by (plot, plant). Where the liner trial is not on
    file, blocks are kept and the first pot says the place.
    """
    was = {p.number: p for p in liner_plots}
    pots = {int(p["plot"]): p for p in fields.get("plots") or () if p.get("plot")}
    origin = {n: at for n, p in pots.items() if (at := origin_of(p)) is not None}
    planned = {n: int(p.get("treatment") or 0) for n, p in pots.items()}
    known = {t.number for t in data.treatments}
    units: dict[tuple[int, int], TrialPlot] = {}
    moves, unit_of = [], {}
    for pot in data.plots:
        plot, plant = origin.get(pot.number, (pot.number, 1))
        before = was.get(plot)
        # wrongly treated as a liner and as planned since: what it received first is what it got
        is_as_planned = pot.treatment == planned.get(pot.number)
        got = pot.treatment
        if is_as_planned and since.get((plot, plant)) in known:
            got = since[plot, plant]
        elif before is not None and is_as_planned and before.treatment in known:
            got = before.treatment
        if (plot, got) not in units:
            number = plot if all(plot != u.number for u in units.values()) else 100_000 + pot.number
            units[plot, got] = replace(
                before or pot, number=number, treatment=got,
                code=before.code if before is not None else str(plot),
            )  # fmt: skip
        number = units[plot, got].number
        unit_of[pot.number] = (number, plant)
        moves.append(TrialMove(number, plant, pot.number, pot.code, pot.row, pot.column))
    all_liners = sum(1 for _ in liner_plots) * int(liner.get("plants_per_plot") or 1)
    counts: dict[int, int] = {}
    for move in moves:
        counts[move.plot] = counts.get(move.plot, 0) + 1
    return replace(
        data,
        plots=tuple(sorted(units.values(), key=lambda p: p.number)),
        plants_per_plot=max(counts.values(), default=1),
        # a pot is one plant: what was measured of it as a plot is a value of the plant
        measurements=tuple(replace(m, per="plant") for m in data.measurements),
        values=tuple(
            replace(v, plot=unit_of[v.plot][0], plant=unit_of[v.plot][1]) for v in data.values
        ),
        exclusions=tuple(
            replace(e, plot=unit_of[e.plot][0], plant=unit_of[e.plot][1]) for e in data.exclusions
        ),
        harvests=tuple(
            TrialHarvest(h.assessment, unit_of[h.plot][0], (unit_of[h.plot][1],))
            for h in data.harvests
        ),
        potting=TrialPotting(
            code=str(liner.get("code") or ""),
            day=str(fields.get("potted_on") or ""),
            n_lost=max(0, all_liners - len(moves)),
            moves=tuple(moves),
        ),
    )


def potting_methods(views: CellViews, day: str) -> list[str]:
    """Return how the plants were potted on, and that this made no replicates."""
    potting = views.data.potting
    if potting is None:
        return []
    found = [
        views.say(
            "methods.potted", pots=len(potting.moves), plots=len(views.data.plots),
            trial=potting.code or views.report("unknown"), day=day or views.report("unknown"),
        ),
        views.say("methods.potted_unit"),
    ]  # fmt: skip
    if potting.n_lost:
        found.append(views.say("methods.potted_lost", n=potting.n_lost))
    return found
