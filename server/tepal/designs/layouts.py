"""From a spec and a seed to the plots of a trial: which cell of the bench gets which treatment.

The layout of a seed never changes: `ALGORITHM` names the way from seed to layout, tests pin its
results, and a stored layout keeps its plots besides its seed.
"""

from __future__ import annotations

import dataclasses
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from tepal.designs.benches import Bench, Cell, block_places, square_places
from tepal.designs.chance import Chance
from tepal.designs.latin import random_square
from tepal.designs.specs import SPLIT_PLOTS, DesignError, DesignSpec

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

#: Changes whenever a seed would give another layout.
ALGORITHM = "tepal-layout-1"


@dataclass(frozen=True, slots=True)
class Plot:
    """One plot on the bench.

    Parameters
    ----------
    number : int, from 1        In walking order, block after block, so that one observer can
                                walk one block.
    row, column : int, from 1   Bench cell.
    treatment : int, from 1     Number of the treatment.
    block : int | None          From 1; the square, for Latin squares.
    whole_plot : int | None     From 1 over the trial; split-plot designs only.
    square_row, square_column : int | None      From 1 within the square; Latin squares only.
    """

    number: int
    row: int
    column: int
    treatment: int
    block: int | None = None
    whole_plot: int | None = None
    square_row: int | None = None
    square_column: int | None = None


@dataclass(frozen=True, slots=True)
class Layout:
    """A randomised trial: the spec with its bench, the seed, the plots in walking order."""

    spec: DesignSpec
    seed: int
    plots: tuple[Plot, ...]
    algorithm: str = ALGORITHM

    @property
    def bench(self) -> Bench:
        """The bench the plots stand on."""
        if self.spec.bench is None:
            raise DesignError("designs.bench_missing", "A layout needs a bench; lay it out anew.")
        return self.spec.bench

    def plots_of(self, treatment: int) -> tuple[Plot, ...]:
        """Return the plots of one treatment, in walking order."""
        return tuple(plot for plot in self.plots if plot.treatment == treatment)


def lay_out(spec: DesignSpec, seed: int) -> Layout:
    """Return the layout of the spec that belongs to the seed.

    Parameters
    ----------
    spec : DesignSpec       Without a bench, one is drawn that just holds the trial.
    seed : int, 0 to 2**53 - 1      The same seed gives the same layout; draw it once, keep it.

    Returns
    -------
    Layout. What chance decides: the treatments of all plots (completely randomised); their order
    anew in every block; a Latin square per square; the order of whole plots and, anew within every
    whole plot, of its sub-plots.

    Raises
    ------
    OutOfRangeError     The seed (`designs.seed_out_of_range`), or a square too large.
    BenchError          The bench does not hold the trial.
    """
    spec = dataclasses.replace(spec, bench=spec.bench or fitting_bench(spec))
    chance = Chance(seed)
    if spec.kind == "latin_square":
        plots = _latin(spec, chance)
    elif spec.kind in SPLIT_PLOTS:
        plots = _split(spec, chance)
    else:
        plots = _blocks(spec, chance)
    return Layout(spec, seed, tuple(plots))


def fitting_bench(spec: DesignSpec) -> Bench:
    """Return a bench without guards that just holds the trial: a row per block, or near square."""
    if spec.kind == "latin_square":
        order = len(spec.treatments)
        return Bench(order * spec.n_replicates, order)
    if spec.n_blocks:
        size = spec.n_plots // spec.n_blocks
        return Bench(spec.n_blocks, size, block_rows=1, block_columns=size)
    columns = math.ceil(math.sqrt(spec.n_plots))
    return Bench(math.ceil(spec.n_plots / columns), columns)


def same_layout(layout: Layout) -> bool:
    """Whether the seed and the spec of a stored layout still give its plots."""
    return layout.algorithm == ALGORITHM and lay_out(layout.spec, layout.seed) == layout


def _places(spec: DesignSpec) -> tuple[tuple[Cell, ...], ...]:
    n_blocks = spec.n_blocks or 1
    if spec.bench is None:
        raise DesignError("designs.bench_missing", "A layout needs a bench.")
    if spec.kind == "latin_square":
        return square_places(spec.bench, spec.n_replicates, len(spec.treatments))
    if not spec.n_blocks:
        # without blocks the plots fill the walk; a block's shape has no meaning
        bench = dataclasses.replace(spec.bench, block_rows=None, block_columns=None)
        walk = bench.walk()
        if len(walk) >= spec.n_plots:
            return (walk[: spec.n_plots],)
        return block_places(bench, 1, spec.n_plots)  # raises, with the count
    return block_places(spec.bench, n_blocks, spec.n_plots // n_blocks)


def _blocks(spec: DesignSpec, chance: Chance) -> Iterable[Plot]:
    """Completely randomised (one heap over all plots) and randomised complete block."""
    one_set = [t.number for t in spec.treatments for _ in range(t.multiple)]
    heap = one_set if spec.n_blocks else one_set * spec.n_replicates
    number = 0
    for block, cells in enumerate(_places(spec), start=1):
        for (row, column), treatment in zip(cells, chance.shuffled(heap), strict=True):
            number += 1
            yield Plot(number, row, column, treatment, block=block if spec.n_blocks else None)


def _latin(spec: DesignSpec, chance: Chance) -> Iterable[Plot]:
    order = len(spec.treatments)
    number = 0
    for block, cells in enumerate(_places(spec), start=1):
        square = random_square(order, chance)
        top = min(row for row, _ in cells)
        left = min(column for _, column in cells)
        for row, column in cells:
            number += 1
            i, j = row - top, column - left
            treatment = square[i][j] + 1
            yield Plot(
                number,
                row,
                column,
                treatment,
                block=block,
                square_row=i + 1,
                square_column=j + 1,
            )


def _split(spec: DesignSpec, chance: Chance) -> Iterable[Plot]:
    groups = spec.whole_plot_groups()
    number = whole = 0
    for block, cells in enumerate(_places(spec), start=1):
        heap = list(groups) if spec.n_blocks else list(groups) * spec.n_replicates
        place = iter(cells)
        for group in chance.shuffled(heap):
            whole += 1
            for treatment in chance.shuffled(group):
                number += 1
                row, column = next(place)
                yield Plot(
                    number,
                    row,
                    column,
                    treatment.number,
                    block=block if spec.n_blocks else None,
                    whole_plot=whole,
                )


def bench_map(layout: Layout) -> tuple[tuple[str, ...], ...]:
    """Return the bench row by row as words: "101:3" (plot:treatment), "guard", "out", "free".

    Returns
    -------
    tuple of n_rows tuples of n_columns str; row 1 first, column 1 first.
    """
    bench = layout.bench
    standing = {(p.row, p.column): f"{p.number}:{p.treatment}" for p in layout.plots}
    return tuple(
        tuple(_word(bench, (row, column), standing) for column in range(1, bench.n_columns + 1))
        for row in range(1, bench.n_rows + 1)
    )


def _word(bench: Bench, cell: Cell, standing: dict[Cell, str]) -> str:
    if cell in standing:
        return standing[cell]
    if cell in bench.out_of_use:
        return "out"
    return "guard" if bench.is_guard(cell) else "free"


def treatment_counts(plots: Sequence[Plot]) -> dict[int, int]:
    """Return how many plots each treatment has, by treatment number."""
    counts: dict[int, int] = {}
    for plot in plots:
        counts[plot.treatment] = counts.get(plot.treatment, 0) + 1
    return dict(sorted(counts.items()))
