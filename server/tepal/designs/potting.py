"""From liner to finished plant: a new randomisation that keeps each plant's origin, and harvests.

Moving plants does not make them replicates: where the treatment was given to a tray, the tray
stays the experimental unit, and each plant carries the tray it came from so that the analysis can
average by it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from tepal.designs.benches import Bench, block_places
from tepal.designs.chance import Chance
from tepal.designs.specs import DesignError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from tepal.designs.layouts import Layout

#: Changes whenever a seed would give another order.
ALGORITHM = "tepal-potting-1"


@dataclass(frozen=True, slots=True)
class PottedPlant:
    """A plant at its new place.

    Parameters
    ----------
    number : int, from 1            New number, in walking order.
    row, column : int, from 1       New bench cell.
    treatment : int                 The treatment it received; never changed by moving.
    origin_plot, origin_plant : int, from 1     Its plot in the first layout, its place in it.
    block : int | None              The block, kept from the origin; None without blocks.
    """

    number: int
    row: int
    column: int
    treatment: int
    origin_plot: int
    origin_plant: int
    block: int | None = None


@dataclass(frozen=True, slots=True)
class PottedLayout:
    """Plants in their new places, with the seed that put them there."""

    bench: Bench
    seed: int
    plants: tuple[PottedPlant, ...]
    algorithm: str = ALGORITHM


@dataclass(frozen=True, slots=True)
class Harvest:
    """Plants to take for dry weight on one day: pairs (plot number, places of its plants)."""

    days_after_treatment: int
    plants: tuple[tuple[int, tuple[int, ...]], ...]


def pot_on(
    layout: Layout, bench: Bench, seed: int, kept_plants: Sequence[tuple[int, int]] | None = None
) -> PottedLayout:
    """Give every plant of the layout a new random place on the bench.

    Parameters
    ----------
    layout : Layout     Where the plants stand now.
    bench : Bench       Where they go, one plant per cell.
    seed : int          Of this randomisation, not that of the layout.
    kept_plants : pairs (plot number, place in it from 1) | None
                        The plants that are potted on; None: all of them.

    Returns
    -------
    PottedLayout. Where the layout has blocks, the plants of a block stay together in a new block
    and are shuffled within it; blocks that lose plants become shorter, never mixed.

    Raises
    ------
    BenchError      The bench is too small.
    DesignError     `designs.plant_unknown`: a kept plant is not in the layout or named twice.
    """
    everything = [
        (plot.number, k) for plot in layout.plots for k in range(1, layout.spec.plants_per_plot + 1)
    ]
    kept = everything if kept_plants is None else [tuple(p) for p in kept_plants]
    known = set(everything)
    for plant in kept:
        if plant not in known:
            raise DesignError(
                "designs.plant_unknown",
                f"Plant {plant[1]} of plot {plant[0]} is not in the layout or is named twice.",
                plot=plant[0],
                plant=plant[1],
            )
        known.discard(plant)
    chosen = set(kept)
    plots = {plot.number: plot for plot in layout.plots}
    by_block: dict[int | None, list[tuple[int, int]]] = {}
    for plant in everything:  # in the layout's order, however `kept_plants` is sorted
        if plant in chosen:
            by_block.setdefault(plots[plant[0]].block, []).append(plant)
    largest = max((len(group) for group in by_block.values()), default=0)
    if not largest:
        raise DesignError("designs.no_plants", "No plant is left to pot on; name at least one.")
    places = block_places(bench, len(by_block), largest)
    chance = Chance(seed)
    plants: list[PottedPlant] = []
    for (block, group), cells in zip(by_block.items(), places, strict=True):
        for (plot, k), (row, column) in zip(chance.shuffled(group), cells, strict=False):
            plants.append(
                PottedPlant(
                    len(plants) + 1, row, column, plots[plot].treatment, plot, k, block=block
                )
            )
    return PottedLayout(bench, seed, tuple(plants))


def plan_harvests(
    layout: Layout, harvests: Sequence[tuple[int, int]], seed: int
) -> tuple[Harvest, ...]:
    """Choose at random which plants of every plot are taken at each harvest.

    Parameters
    ----------
    layout : Layout
    harvests : pairs (days after treatment, plants per plot)    In order of the days.
    seed : int

    Raises
    ------
    DesignError     `designs.harvest_too_large`: more plants than a plot has;
                    `designs.harvest_days`: days not rising, or fewer than one plant.
    """
    days = [day for day, _ in harvests]
    if days != sorted(set(days)) or any(n < 1 for _, n in harvests):
        raise DesignError(
            "designs.harvest_days",
            "Harvests need rising days and at least one plant each.",
            days=days,
        )
    wanted = sum(n for _, n in harvests)
    if wanted > layout.spec.plants_per_plot:
        raise DesignError(
            "designs.harvest_too_large",
            f"The harvests take {wanted} plants of every plot, which holds "
            f"{layout.spec.plants_per_plot}; take fewer or plant more.",
            wanted=wanted,
            plants_per_plot=layout.spec.plants_per_plot,
        )
    chance = Chance(seed)
    orders = [
        (plot.number, chance.shuffled(range(1, layout.spec.plants_per_plot + 1)))
        for plot in layout.plots
    ]
    taken, start = [], 0
    for day, n in harvests:
        plants = tuple((number, tuple(sorted(o[start : start + n]))) for number, o in orders)
        taken.append(Harvest(day, plants))
        start += n
    return tuple(taken)


def draw_harvests(
    units: Sequence[tuple[str, Sequence[tuple[int, int]]]],
    harvests: Sequence[tuple[int, Sequence[str]]],
    seed: int,
) -> tuple[tuple[tuple[int, int], ...], ...]:
    """Draw the plants of each harvest from units that may hold different plants; none twice.

    Parameters
    ----------
    units : pairs (block or "", its plants as (plot, plant))
    harvests : pairs (plants per unit, blocks; empty: all blocks)    In the order they are done.
    seed : int      Every unit is shuffled once; harvests take from its front.

    Raises
    ------
    DesignError     `designs.harvest_too_large`, as `plan_harvests`.
    """
    chance = Chance(seed)
    left = [(block, list(chance.shuffled(plants))) for block, plants in units]
    taken = []
    for n, blocks in harvests:
        own: list[tuple[int, int]] = []
        for block, plants in left:
            if blocks and block not in blocks:
                continue
            if n > len(plants):
                raise DesignError(
                    "designs.harvest_too_large",
                    f"A harvest takes {n} plants of every plot, and one has {len(plants)} left; "
                    "take fewer or plant more.",
                    wanted=n,
                    plants_per_plot=len(plants),
                )
            own += plants[:n]
            del plants[:n]
        taken.append(tuple(sorted(own)))
    return tuple(taken)
