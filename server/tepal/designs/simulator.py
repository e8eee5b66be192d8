"""Trials that never were: from true effects and a seed to the observations a crew would bring home.

The true effects are known, so a simulated trial shows whether an analysis tells the truth. Draws
come from PCG64's raw words and the inverse normal, like the layouts (chance.py): a seed gives the
same trial with every numpy.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np
from scipy import special

from tepal.designs.chance import checked_seed
from tepal.domain.rounding import round_half_up

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from tepal.designs.layouts import Plot

#: Changes whenever a seed would give other observations.
ALGORITHM = "tepal-simulation-1"


@dataclass(frozen=True, slots=True)
class TrueMeasurement:
    """What is true of one measurement, day by day.

    Parameters
    ----------
    key : str               Its name in the observations.
    type : "continuous", "count" or "proportion"    Of a plant.
    course : ((day, untreated mean), ...)   One pair per assessment; unit of the measurement.
    effects : ((treatment number, ((day, effect), ...)), ...)
        Continuous: added to the mean. Count and proportion: the mean is multiplied by it. A
        treatment or day that is not named has no effect.
    block_sd, plot_sd, plant_sd : float, >= 0
        Continuous: in the unit; drawn once per block, plot, plant and kept over the days. Counts
        and proportions: of the log of the mean (a plant has its own Poisson or yes / no noise).
    look_sd : float, >= 0   Continuous: error of one look at one plant, anew each day.
    n_decimals : int        Continuous values are rounded half up to it, as they are read off.
    """

    key: str
    type: Literal["continuous", "count", "proportion"]
    course: tuple[tuple[int, float], ...]
    effects: tuple[tuple[int, tuple[tuple[int, float], ...]], ...] = ()
    block_sd: float = 0.0
    plot_sd: float = 0.0
    plant_sd: float = 0.0
    look_sd: float = 0.0
    n_decimals: int = 1

    def effect(self, treatment: int, day: int) -> float:
        """Return the true effect: a difference (continuous) or a ratio (count, proportion)."""
        none = 0.0 if self.type == "continuous" else 1.0
        return dict(dict(self.effects).get(treatment, ())).get(day, none)

    def mean(self, treatment: int, day: int) -> float:
        """Return the true mean of a treatment on a day of the course."""
        base, effect = dict(self.course)[day], self.effect(treatment, day)
        return base + effect if self.type == "continuous" else base * effect


@dataclass(frozen=True, slots=True)
class TrueFlowering:
    """What is true of the day on which a plant opens its first flower.

    Parameters
    ----------
    key : str
    mean_day : float, days after treatment, of untreated plants
    delays : ((treatment number, days), ...)    Added to it.
    block_sd, plot_sd, plant_sd : float, days
    rounds : days of the looks, rising          A plant opens between two of them.
    """

    key: str
    mean_day: float
    delays: tuple[tuple[int, float], ...] = ()
    block_sd: float = 0.0
    plot_sd: float = 0.0
    plant_sd: float = 0.0
    rounds: tuple[int, ...] = ()

    def delay(self, treatment: int) -> float:
        """Return the true delay of a treatment, days."""
        return dict(self.delays).get(treatment, 0.0)


@dataclass(frozen=True, slots=True)
class SimulatedValue:
    """One value read off one plant (from 1 within its plot) on one day."""

    key: str
    day: int
    plot: int
    plant: int
    value: float


@dataclass(frozen=True, slots=True)
class SimulatedOpening:
    """When a plant opened: closed at `last_closed`, open at `first_open` (None: never seen open).

    `first_open` equal to the first round means it was open at the first look; `last_closed` is then
    day 0, the treatment.
    """

    key: str
    plot: int
    plant: int
    last_closed: int
    first_open: int | None


@dataclass(frozen=True, slots=True)
class Simulation:
    """All observations of a simulated trial, in walking order, day after day."""

    seed: int
    values: tuple[SimulatedValue, ...]
    openings: tuple[SimulatedOpening, ...]
    algorithm: str = ALGORITHM


class _Draws:
    """Independent streams by name, so that one more measurement leaves the others as they were."""

    def __init__(self, seed: int, *names: int) -> None:
        self._bits = np.random.PCG64(np.random.SeedSequence([seed, *names]))

    def uniform(self) -> float:
        return ((int(self._bits.random_raw()) >> 11) + 0.5) / 2.0**53

    def normal(self, sd: float) -> float:
        # drawn even where sd is 0: the stream must not depend on the truth
        return float(special.ndtri(self.uniform())) * sd

    def poisson(self, mean: float) -> int:
        """Return a Poisson count by walking up the distribution function."""
        u, k = self.uniform(), 0
        p = math.exp(-mean)
        total = p
        while u > total and k < 10_000:
            k += 1
            p *= mean / k
            total += p
        return k


def simulate(
    plots: Sequence[Plot],
    plants_per_plot: int,
    measurements: Sequence[TrueMeasurement],
    seed: int,
    flowering: TrueFlowering | None = None,
    lost_from: Mapping[int, int] | None = None,
) -> Simulation:
    """Return what would be observed on the plots if the truth were as given.

    Parameters
    ----------
    plots : as `lay_out` gives them.
    plants_per_plot : int, >= 1
    measurements : each with its own course of days.
    seed : int, 0 to 2**53 - 1
    flowering : daily rounds, or None.
    lost_from : plot number -> day from which nothing of the plot is observed any more. Its plants
        count as closed at the last round before.

    Returns
    -------
    Simulation. Values in the order of days, plots, plants, measurements.

    Raises
    ------
    OutOfRangeError   `designs.seed_out_of_range`.
    """
    checked_seed(seed)
    lost = dict(lost_from or {})
    values = [
        value
        for place, truth in enumerate(measurements)
        for value in _values(plots, plants_per_plot, truth, _Draws(seed, 1, place), lost)
    ]
    order = {truth.key: i for i, truth in enumerate(measurements)}
    values.sort(key=lambda v: (v.day, v.plot, v.plant, order[v.key]))
    openings = [] if flowering is None else _openings(plots, plants_per_plot, flowering, seed, lost)
    return Simulation(seed, tuple(values), tuple(openings))


def _values(
    plots: Sequence[Plot],
    n_plants: int,
    truth: TrueMeasurement,
    draws: _Draws,
    lost: dict[int, int],
) -> list[SimulatedValue]:
    blocks = {b: draws.normal(truth.block_sd) for b in sorted({p.block or 0 for p in plots})}
    found = []
    for plot in plots:
        of_plot = blocks[plot.block or 0] + draws.normal(truth.plot_sd)
        for plant in range(1, n_plants + 1):
            of_plant = of_plot + draws.normal(truth.plant_sd)
            for day, _ in truth.course:
                value = _observed(truth, plot.treatment, day, of_plant, draws)
                if day < lost.get(plot.number, day + 1):
                    found.append(SimulatedValue(truth.key, day, plot.number, plant, value))
    return found


def _observed(
    truth: TrueMeasurement, treatment: int, day: int, shift: float, draws: _Draws
) -> float:
    mean = truth.mean(treatment, day)
    if truth.type == "continuous":
        return round_half_up(mean + shift + draws.normal(truth.look_sd), truth.n_decimals)
    mean *= math.exp(shift)
    if truth.type == "count":
        return float(draws.poisson(mean))
    return 1.0 if draws.uniform() < min(1.0, mean) else 0.0


def _openings(
    plots: Sequence[Plot], n_plants: int, truth: TrueFlowering, seed: int, lost: dict[int, int]
) -> list[SimulatedOpening]:
    draws = _Draws(seed, 2)
    blocks = {b: draws.normal(truth.block_sd) for b in sorted({p.block or 0 for p in plots})}
    found = []
    for plot in plots:
        of_plot = truth.mean_day + truth.delay(plot.treatment) + blocks[plot.block or 0]
        of_plot += draws.normal(truth.plot_sd)
        rounds = [d for d in truth.rounds if d < lost.get(plot.number, d + 1)]
        for plant in range(1, n_plants + 1):
            opens = of_plot + draws.normal(truth.plant_sd)
            closed = max((d for d in rounds if d < opens), default=0)
            first = next((d for d in rounds if d >= opens), None)
            found.append(SimulatedOpening(truth.key, plot.number, plant, closed, first))
    return found
