"""From a table to the plots of one cell; what is asked and what is refused meet: over 400 lines.

A cell is one response at one assessment; from here on only plots count, not plants.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from tepal.domain.errors import Finding
from tepal.stats.comparisons import DEFAULT_SEED
from tepal.stats.days import between_looks
from tepal.stats.design_matrix import level_order
from tepal.stats.results import Alternative, Observed, Provenance, StatsError
from tepal.stats.strata import PlotValues, plot_values
from tepal.stats.table import Table, TableError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]


ResponseType = Literal["continuous", "count", "proportion", "days", "rating"]


Compare = Literal["dunnett", "tukey", "lsd", "games-howell", "none"]


@dataclass(frozen=True, slots=True)
class AnalysisSpec:
    """What is asked of a table; column names as they stand in its first line.

    `responses` are (column, type) pairs. `factors` of a factorial replace `treatment`. Without
    `plot` every row is a plot. `compare` None: against the control where one is named, else all
    pairs by Tukey-Kramer. `horizon_days` is for days: the last day all plots were looked at.
    `units` are (response, unit) pairs for the results. `whole_plot` names the whole plot of a
    split-plot, whose factor is tested against whole plots. `square` names row and column of a
    Latin square, numbered anew in every square: both are terms of the model; with `block` as the
    square, of several squares, so are rows and columns within each square.
    `over_time` adds, for every continuous response, one summary per plot over the assessments (area
    and slope) and the split-plot in time; it needs `assessment` as numbers, and `plot`.
    """

    responses: tuple[tuple[str, ResponseType], ...]
    treatment: str | None = None
    factors: tuple[str, ...] = ()
    block: str | None = None
    plot: str | None = None
    plant: str | None = None
    control: str | None = None
    covariate: str | None = None
    trials: str | None = None
    assessment: str | None = None
    row: str | None = None
    column: str | None = None
    compare: Compare | None = None
    alternative: Alternative = "two-sided"
    alpha: float = 0.05
    horizon_days: float | None = None
    days_summary: Literal["mean", "median"] = "mean"
    whole_plot: str | None = None
    square: tuple[str, str] | None = None
    over_time: bool = False
    units: tuple[tuple[str, str], ...] = ()
    seed: int = DEFAULT_SEED


@dataclass(frozen=True, slots=True)
class Cell:
    """The plots of one response at one assessment."""

    spec: AnalysisSpec
    name: str
    kind: ResponseType
    assessment: str | None
    plots: PlotValues
    covariate: list[float | None] | None
    trials: list[float | None] | None
    rows: list[float] | None
    columns: list[float] | None
    intervals: list[tuple[float, float | None] | None] | None
    plot_of_row: list[int]
    whole: list[str] | None


def treatment_labels(table: Table, spec: AnalysisSpec) -> tuple[str, ...]:
    """Return the treatment of each row; the levels of factors are joined by a colon."""
    if spec.factors:
        return tuple(
            ":".join(x) for x in zip(*(table.labels(f) for f in spec.factors), strict=True)
        )
    return table.labels(spec.treatment or "")


def cell_of(
    table: Table, spec: AnalysisSpec, name: str, kind: ResponseType, day: str | None
) -> Cell:
    """Return the plots of one response, its cells read and checked.

    Raises
    ------
    TableError   A column is not there, a cell cannot be read, a plot carries two treatments.
    """
    factors: dict[str, Sequence[str]] = {}
    if spec.block:
        factors[spec.block] = table.labels(spec.block)
    for name_ in spec.square or ():
        factors[name_] = table.labels(name_)
    if spec.factors:
        for f in spec.factors:
            factors[f] = table.labels(f)
        factors["treatment"] = treatment_labels(table, spec)
    else:
        factors["treatment"] = treatment_labels(table, spec)
    plots = list(table.labels(spec.plot)) if spec.plot else [f"line {line}" for line in table.lines]
    if spec.plant is not None:
        _check_plants(table, spec, plots)
    intervals = None
    if kind == "days":
        intervals = [
            _days_cell(table, name, line, value)
            for line, value in zip(table.lines, table.text(name), strict=True)
        ]
        values: list[float | None] = [None if x is None else x[0] for x in intervals]
    else:
        values = table.numbers(name)
        _check_values(table, name, kind, values, spec)
    try:
        summed = plot_values(values, plots, factors)
    except StatsError as error:
        if error.code != "stats.plot_in_two_cells":
            raise
        row = int(error.context["row"]) - 1
        raise TableError(
            error.code, f"Line {table.lines[row]}: {error.message}", **error.context
        ) from error
    index = {p: i for i, p in enumerate(summed.plots)}

    def per_plot(column: str | None) -> list[float | None] | None:
        if column is None:
            return None
        return _mean_per_plot(table.numbers(column), [index[p] for p in plots], len(index))

    def place(column: str | None) -> list[float] | None:
        values_ = per_plot(column)
        if values_ is None:
            return None
        if any(v is None for v in values_):
            raise TableError(
                "stats.empty_label",
                f"{column} is empty for a plot; every plot has a place.",
                column=column,
            )
        return [float(v) for v in values_ if v is not None]

    return Cell(
        spec,
        name,
        kind,
        day,
        summed,
        per_plot(spec.covariate),
        table.numbers(spec.trials) if spec.trials and kind == "proportion" else None,
        place(spec.row),
        place(spec.column),
        intervals,
        [index[p] for p in plots],
        None if spec.whole_plot is None else _whole_plots(table, spec, summed),
    )


def _check_plants(table: Table, spec: AnalysisSpec, plots: list[str]) -> None:
    seen: dict[tuple[str, str], int] = {}
    for line, plot, plant in zip(table.lines, plots, table.labels(spec.plant or ""), strict=True):
        if (plot, plant) in seen:
            raise TableError(
                "stats.plant_twice",
                f"Line {line}: plant {plant} of plot {plot} stands in line {seen[plot, plant]} too."
                " If the file holds several dates, name their column as the assessment.",
                row=line,
                column=spec.plant,
                value=plant,
            )
        seen[plot, plant] = line


def _whole_plots(table: Table, spec: AnalysisSpec, plots: PlotValues) -> list[str]:
    names = table.labels(spec.whole_plot or "")
    blocks = table.labels(spec.block) if spec.block else [""] * len(names)
    # whole plots are often numbered anew in every block
    return [f"{blocks[i]}/{names[i]}" for i in plots.first_row]


def _mean_per_plot(values: list[float | None], which: list[int], n: int) -> list[float | None]:
    sums, counts = [0.0] * n, [0] * n
    for v, i in zip(values, which, strict=True):
        if v is not None:
            sums[i] += v
            counts[i] += 1
    return [s / c if c else None for s, c in zip(sums, counts, strict=True)]


def _check_values(
    table: Table, name: str, kind: ResponseType, values: list[float | None], spec: AnalysisSpec
) -> None:
    for line, value in zip(table.lines, values, strict=True):
        if value is None:
            continue
        wrong = ""
        if kind == "count" and (value < 0 or value != math.floor(value)):
            wrong = "a count is a whole number from 0; for a measured quantity use type continuous"
        elif kind == "proportion" and spec.trials is None and not 0 <= value <= 1:
            wrong = "without a column of trials a proportion lies between 0 and 1"
        elif kind == "proportion" and spec.trials is not None and value < 0:
            wrong = "the number that succeeded cannot be below 0"
        if wrong:
            raise TableError(
                "stats.impossible_value",
                f"Line {line}: {name} is {value:g}, but {wrong}.",
                row=line,
                column=name,
                value=value,
            )


def _days_cell(table: Table, name: str, line: int, value: str) -> tuple[float, float | None] | None:
    """Read `28`, `>42` (still closed on day 42) or `25..28` (closed on 25, open on 28)."""
    if value.startswith(">"):
        day = table.number(name, line, value[1:].strip())
        return None if day is None else (day, None)
    if ".." in value:
        first, _, last = value.partition("..")
        a, b = table.number(name, line, first.strip()), table.number(name, line, last.strip())
        if a is None or b is None or b <= a:
            raise TableError(
                "stats.impossible_value",
                f"Line {line}: {name} is {value!r}; write the last day closed, two points and the"
                " first day open, as in 25..28.",
                row=line,
                column=name,
                value=value,
            )
        return a, b
    day = table.number(name, line, value)
    return None if day is None else (day, day)


def about_of(cell: Cell) -> Provenance:
    """Return the provenance of a cell before a model is chosen."""
    spec = cell.spec
    return Provenance(
        method="analysis of plot values",
        formula=f"{cell.name} by {' x '.join(spec.factors) or spec.treatment}",
        unit_of_analysis=f"plot ({spec.plot})" if spec.plot else "plot (one row each)",
        n=int((cell.plots.n_plants > 0).sum()),
        seed=None,
        notes=(f"{int(cell.plots.n_plants.sum())} plants or rows measured",),
    )


def observed_of(cell: Cell) -> tuple[Observed, ...]:
    """Return what was observed at each treatment, from plot values."""
    labels = np.asarray(cell.plots.factors["treatment"])
    values = values_of(cell)
    out = []
    for level in level_order(list(labels)):
        rows = labels == level
        part = values[rows & ~np.isnan(values)]
        n = len(part)
        plants = int(cell.plots.n_plants[rows].sum())
        missing = int(rows.sum()) - n
        if n == 0:
            out.append(
                Observed(level, 0, plants, missing, None, None, None, None, None, "no usable plot")
            )
            continue
        sd = float(part.std(ddof=1)) if n > 1 else None
        out.append(
            Observed(
                level,
                n,
                plants,
                missing,
                float(part.mean()),
                sd,
                None if sd is None else sd / math.sqrt(n),
                float(part.min()),
                float(part.max()),
                None if n > 1 else "one plot: no standard deviation",
            )
        )
    return tuple(out)


def values_of(cell: Cell) -> Floats:
    """Return one value per plot (n_plots,) in the unit of the response, NaN where missing."""
    if cell.kind == "days":
        return _days_per_plot(cell)
    if cell.kind == "proportion" and cell.trials is not None:
        successes, trials = trials_per_plot(cell)
        with np.errstate(invalid="ignore", divide="ignore"):
            return np.where(trials > 0, successes / trials, np.nan)
    return cell.plots.mean


def trials_per_plot(
    cell: Cell,
) -> tuple[Floats, ...]:
    """Return successes and trials per plot, (n_plots,) each."""
    n = len(cell.plots.plots)
    trials = np.zeros(n)
    for i, v in zip(cell.plot_of_row, cell.trials or [], strict=True):
        trials[i] += 0.0 if v is None else v
    return cell.plots.total, np.where(trials > 0, trials, np.nan)


def _days_per_plot(cell: Cell) -> Floats:
    horizon = horizon_of(cell)
    out = np.full(len(cell.plots.plots), np.nan)
    by_plot: dict[int, list[tuple[float, float | None]]] = {}
    for i, interval in zip(cell.plot_of_row, cell.intervals or [], strict=True):
        if interval is not None:
            by_plot.setdefault(i, []).append(interval)
    for i, plants in by_plot.items():
        exact = all(b is not None and a == b for a, b in plants)
        if exact and cell.spec.days_summary == "mean":
            out[i] = float(np.mean([min(a, horizon) for a, _ in plants]))
            continue
        # an exact day is an interval too short to matter
        low = [a - 1e-6 if b == a else a for a, b in plants]
        high = [b for _, b in plants]
        mean, median = between_looks(low, high, horizon)
        value = mean.value if cell.spec.days_summary == "mean" else median.value
        out[i] = np.nan if value is None else value
    return out


def horizon_of(cell: Cell) -> float:
    """Return the day up to which plots are compared: as asked, or the first still-closed day."""
    if cell.spec.horizon_days is not None:
        return cell.spec.horizon_days
    seen = [x for x in cell.intervals or [] if x is not None]
    closed = [a for a, b in seen if b is None]
    return min(closed) if closed else max((b for _, b in seen if b is not None), default=0.0)


def table_findings(cell: Cell) -> tuple[Finding, ...]:
    """Return what is worth a word about the table before any model."""
    found = []
    n = cell.plots.n_plants[cell.plots.n_plants > 0]
    if len(n) and n.max() > n.min() and cell.kind in ("continuous", "days", "rating"):
        found.append(
            Finding(
                "stats.unequal_plants",
                "note",
                f"Plots hold {n.min()} to {n.max()} plants; every plot counts alike.",
                context={"fewest": int(n.min()), "most": int(n.max())},
            )
        )
    spec = cell.spec
    if spec.plot is None and spec.block is not None:
        pairs = list(
            zip(cell.plots.factors[spec.block], cell.plots.factors["treatment"], strict=True)
        )
        if len(set(pairs)) < len(pairs):
            found.append(
                Finding(
                    "stats.rows_as_plots",
                    "caution",
                    "Several rows share treatment and block, and each is taken as a plot. If they"
                    " are plants of one plot, name the column of the plots.",
                    field=spec.block,
                )
            )
    return tuple(found)


def terms_of(
    cell: Cell,
) -> tuple[dict[str, Sequence[str]], list[str], str, dict[str, list[float | None]]]:
    """Return factors, terms, the factor compared and covariates for the models."""
    spec = cell.spec
    factors: dict[str, Sequence[str]] = {}
    if spec.block:
        factors["block"] = cell.plots.factors[spec.block]
    for name in spec.square or ():
        factors[name] = cell.plots.factors[name]
    if spec.factors:
        for f in spec.factors:
            factors[f] = cell.plots.factors[f]
        names = list(spec.factors)
        crossed = [
            ":".join(names[j] for j in range(len(names)) if mask >> j & 1)
            for mask in sorted(range(1, 1 << len(names)), key=lambda m: (m.bit_count(), m))
        ]
        factor = ":".join(names)
    else:
        factors["treatment"] = cell.plots.factors["treatment"]
        crossed = ["treatment"]
        factor = "treatment"
    # rows within squares: the rows and their interaction with the squares span what is nested
    nested = [f"block:{name}" for name in spec.square or ()] if spec.block else []
    terms = [*(["block"] if spec.block else []), *(spec.square or ()), *nested, *crossed]
    covariates: dict[str, list[float | None]] = {}
    if cell.covariate is not None and spec.covariate is not None:
        covariates[spec.covariate] = cell.covariate
        terms.append(spec.covariate)
    return factors, terms, factor, covariates
