"""From a table and a question to results: one response at one assessment after the other.

Longer than the other modules because it is the one place where all methods meet.
"""

from __future__ import annotations

import dataclasses
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from tepal.domain.errors import Finding
from tepal.stats.comparisons import DEFAULT_SEED, dunnett, games_howell, joint_test, lsd, tukey
from tepal.stats.days import between_looks
from tepal.stats.design_matrix import level_order
from tepal.stats.glm import fit_count, fit_proportion, profile_interval
from tepal.stats.letters import letters
from tepal.stats.linear import fit_linear
from tepal.stats.models import FittedModel, lsmeans
from tepal.stats.ratios import percent_of_control
from tepal.stats.results import (
    Alternative,
    AnalysisResult,
    ComparisonResult,
    Estimate,
    MeansResult,
    Observed,
    Provenance,
    Statement,
    StatsError,
    known,
)
from tepal.stats.strata import PlotValues, plot_values
from tepal.stats.table import Table, TableError
from tepal.stats.trust import require_replicates, trust

if TYPE_CHECKING:
    from collections.abc import Sequence

ResponseType = Literal["continuous", "count", "proportion", "days", "rating"]
Compare = Literal["dunnett", "tukey", "lsd", "games-howell", "none"]
# Below this total over all plots of a treatment a Wald test of its count is not trusted; the
# deviance test and the profile interval are given as well. Convention, no source.
NEAR_ZERO_TOTAL = 5


@dataclass(frozen=True, slots=True)
class AnalysisSpec:
    """What is asked of a table; column names as they stand in its first line.

    `responses` are (column, type) pairs. `factors` of a factorial replace `treatment`. Without
    `plot` every row is a plot. `compare` None: against the control where one is named, else all
    pairs by Tukey-Kramer. `horizon_days` is for days: the last day all plots were looked at.
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
    seed: int = DEFAULT_SEED


@dataclass(frozen=True, slots=True)
class _Cell:
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


def analyse(table: Table, spec: AnalysisSpec) -> tuple[AnalysisResult, ...]:
    r"""Analyse every response at every assessment of a table.

    Parameters
    ----------
    table : Table       As `read_table` returns it.
    spec : AnalysisSpec What is asked.

    Returns
    -------
    tuple of AnalysisResult, by assessment, then response. Where no figure can be given there is a
    Statement instead, with the reason and the cure.

    Raises
    ------
    TableError   A column is not there, a cell cannot be read, a plot carries two treatments.
    StatsError   `stats.no_treatment`, `stats.unknown_control`.

    Examples
    --------
    >>> from tepal.stats import AnalysisSpec, analyse, read_table
    >>> table = read_table("t,h\nc,20\nc,22\nc,24\nx,15\nx,17\nx,16")
    >>> result, = analyse(table, AnalysisSpec((("h", "continuous"),), treatment="t", control="c"))
    >>> result.comparison.procedure, result.observed[0].n_plots
    ('Dunnett', 3)
    """
    _check_spec(table, spec)
    if spec.assessment is None:
        parts: list[tuple[str | None, Table]] = [(None, table)]
    else:
        when = table.labels(spec.assessment)
        parts = [
            (day, table.where([i for i, w in enumerate(when) if w == day]))
            for day in level_order(when)
        ]
    out = []
    for day, part in parts:
        for name, kind in spec.responses:
            out.append(_one(_cell(part, spec, name, kind, day)))
    return tuple(out)


def _check_spec(table: Table, spec: AnalysisSpec) -> None:
    if spec.treatment is None and not spec.factors:
        raise StatsError(
            "stats.no_treatment",
            "Name the column of the treatments, or the factors of a factorial.",
        )
    if spec.control is not None:
        names = _treatment_labels(table, spec)
        if spec.control not in names:
            raise StatsError(
                "stats.unknown_control",
                f"The control {spec.control!r} does not occur among the treatments"
                f" {', '.join(level_order(names))}.",
                control=spec.control,
            )


def _treatment_labels(table: Table, spec: AnalysisSpec) -> tuple[str, ...]:
    if spec.factors:
        return tuple(
            ":".join(x) for x in zip(*(table.labels(f) for f in spec.factors), strict=True)
        )
    return table.labels(spec.treatment or "")


def _cell(
    table: Table, spec: AnalysisSpec, name: str, kind: ResponseType, day: str | None
) -> _Cell:
    factors: dict[str, Sequence[str]] = {}
    if spec.block:
        factors[spec.block] = table.labels(spec.block)
    if spec.factors:
        for f in spec.factors:
            factors[f] = table.labels(f)
        factors["treatment"] = _treatment_labels(table, spec)
    else:
        factors["treatment"] = _treatment_labels(table, spec)
    plots = list(table.labels(spec.plot)) if spec.plot else [f"line {line}" for line in table.lines]
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

    return _Cell(
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
    )


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


def _one(cell: _Cell) -> AnalysisResult:
    observed = _observed(cell)
    statements: list[Statement] = []
    findings = _table_findings(cell)
    base = AnalysisResult(
        about=_about(cell),
        response=cell.name,
        unit="",
        assessment=cell.assessment,
        type=cell.kind,
        observed=observed,
    )
    statements += [
        Statement(
            "stats.treatment_missing",
            f"{o.treatment} has no usable plot: nothing can be said about it.",
        )
        for o in observed
        if o.n_plots == 0
    ]
    try:
        labels = [
            t
            for t, n in zip(cell.plots.factors["treatment"], cell.plots.n_plants, strict=True)
            if n > 0
        ]
        if labels:
            require_replicates(labels)
        if cell.kind == "rating":
            result = _ratings(cell, base)
        else:
            result = _modelled(cell, base, statements)
    except StatsError as error:
        statements.append(Statement(error.code, error.message))
        result = base
    return dataclasses.replace(
        result,
        statements=(*statements, *result.statements),
        findings=(*findings, *result.findings),
    )


def _about(cell: _Cell) -> Provenance:
    spec = cell.spec
    return Provenance(
        method="analysis of plot values",
        formula=f"{cell.name} by {' x '.join(spec.factors) or spec.treatment}",
        unit_of_analysis=f"plot ({spec.plot})" if spec.plot else "plot (one row each)",
        n=int((cell.plots.n_plants > 0).sum()),
        seed=None,
        notes=(f"{int(cell.plots.n_plants.sum())} plants or rows measured",),
    )


def _observed(cell: _Cell) -> tuple[Observed, ...]:
    labels = np.asarray(cell.plots.factors["treatment"])
    values = _values(cell)
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


def _values(cell: _Cell) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    if cell.kind == "days":
        return _days_per_plot(cell)
    if cell.kind == "proportion" and cell.trials is not None:
        successes, trials = _trials_per_plot(cell)
        with np.errstate(invalid="ignore", divide="ignore"):
            return np.where(trials > 0, successes / trials, np.nan)
    return cell.plots.mean


def _trials_per_plot(
    cell: _Cell,
) -> tuple[np.ndarray[tuple[int], np.dtype[np.float64]], ...]:
    n = len(cell.plots.plots)
    trials = np.zeros(n)
    for i, v in zip(cell.plot_of_row, cell.trials or [], strict=True):
        trials[i] += 0.0 if v is None else v
    return cell.plots.total, np.where(trials > 0, trials, np.nan)


def _days_per_plot(cell: _Cell) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    horizon = _horizon(cell)
    out = np.full(len(cell.plots.plots), np.nan)
    by_plot: dict[int, list[tuple[float, float | None]]] = {}
    for i, interval in zip(cell.plot_of_row, cell.intervals or [], strict=True):
        if interval is not None:
            by_plot.setdefault(i, []).append(interval)
    for i, plants in by_plot.items():
        if all(b is not None and a == b for a, b in plants):
            out[i] = float(np.mean([min(a, horizon) for a, _ in plants]))
        else:
            # an exact day is an interval too short to matter
            low = [a - 1e-6 if b == a else a for a, b in plants]
            high = [b for _, b in plants]
            out[i] = known(between_looks(low, high, horizon)[0].value)
    return out


def _horizon(cell: _Cell) -> float:
    if cell.spec.horizon_days is not None:
        return cell.spec.horizon_days
    seen = [x for x in cell.intervals or [] if x is not None]
    closed = [a for a, b in seen if b is None]
    return min(closed) if closed else max((b for _, b in seen if b is not None), default=0.0)


def _table_findings(cell: _Cell) -> tuple[Finding, ...]:
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


def _modelled(cell: _Cell, base: AnalysisResult, statements: list[Statement]) -> AnalysisResult:
    fit, factor = _fit(cell)
    means = lsmeans(fit, factor, alpha=cell.spec.alpha)
    result = dataclasses.replace(
        base,
        about=dataclasses.replace(fit.about, notes=(*base.about.notes, *fit.about.notes)),
        model=fit.summary(),
        means=means,
        findings=fit.findings,
    )
    spec = cell.spec
    comparison: ComparisonResult | None = None
    try:
        comparison = _compare(cell, means)
    except StatsError as error:
        statements.append(Statement(error.code, error.message))
    near, comparison = _near_zero(fit, factor, comparison, spec)
    percent = None
    if spec.control in means.levels and spec.control is not None and fit.link != "logit":
        percent = percent_of_control(
            means, spec.control, simultaneous=True, alpha=spec.alpha, seed=spec.seed
        )
    shown = None
    if comparison is not None and comparison.control is None:
        shown = letters(comparison)
    place = cell.rows is not None and cell.columns is not None
    checks = trust(
        fit,
        _treatment_factor(fit, factor),
        _used(cell.rows, fit) if place else None,
        _used(cell.columns, fit) if place else None,
        [cell.plots.plots[i] for i in np.flatnonzero(fit.used)],
    )
    findings = result.findings
    if spec.factors and len(spec.factors) > 1:
        findings = (*findings, *_interaction_findings(fit, spec))
    return dataclasses.replace(
        result,
        comparison=comparison,
        percent_of_control=percent,
        near_zero=near,
        letters=shown,
        trust=checks,
        findings=findings,
    )


def _compare(cell: _Cell, means: MeansResult) -> ComparisonResult | None:
    spec = cell.spec
    compare = spec.compare or ("dunnett" if spec.control else "tukey")
    if compare == "dunnett":
        if spec.control is None:
            raise StatsError(
                "stats.no_control", "A comparison with the control needs its name (--control)."
            )
        return dunnett(means, spec.control, spec.alternative, spec.alpha, spec.seed)
    if compare == "tukey":
        return tukey(means, spec.alpha)
    if compare == "lsd":
        return lsd(means, spec.alpha, protected_by=joint_test(means))
    if compare == "games-howell":
        if spec.block or spec.covariate or cell.kind in ("count", "proportion"):
            raise StatsError(
                "stats.ignores_blocks",
                "Games-Howell knows neither blocks, covariates nor counts; use dunnett, tukey or"
                " lsd.",
            )
        values = [None if math.isnan(v) else float(v) for v in _values(cell)]
        return games_howell(values, cell.plots.factors["treatment"], spec.alpha, cell.name)
    return None


def _fit(cell: _Cell) -> tuple[FittedModel, str]:
    spec = cell.spec
    factors: dict[str, Sequence[str]] = {}
    if spec.block:
        factors["block"] = cell.plots.factors[spec.block]
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
    terms = [*(["block"] if spec.block else []), *crossed]
    covariates = {}
    if cell.covariate is not None and spec.covariate is not None:
        covariates[spec.covariate] = cell.covariate
        terms.append(spec.covariate)
    if cell.kind == "count":
        n = [None if k == 0 else float(k) for k in cell.plots.n_plants]
        return fit_count(list(cell.plots.total), factors, covariates, n, terms, cell.name), factor
    if cell.kind == "proportion":
        if cell.trials is not None:
            successes, trials = _trials_per_plot(cell)
        else:
            successes, trials = cell.plots.total, cell.plots.n_plants.astype(float)
            trials = np.where(trials > 0, trials, np.nan)
        return fit_proportion(
            list(successes), list(trials), factors, covariates, terms, cell.name
        ), factor
    fit = fit_linear(list(_values(cell)), factors, covariates, terms, name=cell.name)
    if cell.kind == "days":
        note = f"restricted mean days per plot, unopened plants counted as day {_horizon(cell):g}"
        fit = dataclasses.replace(
            fit, about=dataclasses.replace(fit.about, notes=(*fit.about.notes, note))
        )
    return fit, factor


def _used(values: list[float] | None, fit: FittedModel) -> list[float] | None:
    return None if values is None else [values[i] for i in np.flatnonzero(fit.used)]


def _treatment_factor(fit: FittedModel, factor: str) -> str:
    return factor if factor in fit.factors else factor.partition(":")[0]


def _near_zero(
    fit: FittedModel, factor: str, comparison: ComparisonResult | None, spec: AnalysisSpec
) -> tuple[tuple[Estimate, ...], ComparisonResult | None]:
    """Return deviance tests with profile limits for treatments with (almost) no counts."""
    if fit.kind == "linear" or spec.control is None or factor not in fit.factors:
        return (), comparison
    labels = np.asarray(fit.factors[factor])
    totals = {}
    for level in dict.fromkeys(fit.factors[factor]):
        rows = labels == level
        weight = fit.weights[rows]
        hits = float((fit.response[rows] * weight).sum())
        room = float(weight.sum()) if fit.kind == "quasi_binomial" else math.inf
        totals[level] = min(hits, room - hits)
    low = [x for x in level_order(list(totals)) if totals[x] < NEAR_ZERO_TOTAL]
    if spec.control not in totals or not low:
        return (), comparison
    family = len(totals) - 1
    out = []
    for level in low:
        if level != spec.control:
            e = profile_interval(fit, factor, level, spec.control, spec.alpha)
            p = None if e.p is None else min(1.0, e.p * family)
            out.append(dataclasses.replace(e, p_adjusted=p))
    if comparison is not None:
        comparison = dataclasses.replace(
            comparison,
            comparisons=tuple(
                dataclasses.replace(
                    c,
                    reason="a Wald test is not to be trusted this near to zero (or to complete):"
                    " read the deviance test",
                )
                if c.pair is not None and (c.pair[0] in low or c.pair[1] in low)
                else c
                for c in comparison.comparisons
            ),
        )
    return tuple(out), comparison


def _interaction_findings(fit: FittedModel, spec: AnalysisSpec) -> tuple[Finding, ...]:
    return tuple(
        Finding(
            "stats.interaction",
            "caution",
            f"{line.term} interact: read the combinations, not the main effects.",
            field=line.term,
            context={"p": line.p},
        )
        for line in fit.anova
        if ":" in line.term and line.p is not None and line.p < spec.alpha
    )


def _ratings(cell: _Cell, base: AnalysisResult) -> AnalysisResult:
    from tepal.stats.ratings import fit_ordinal, friedman, kruskal_wallis

    spec = cell.spec
    # the middle rating of a plot keeps the scale; a mean of ranks would invent grades
    values = [None if math.isnan(v) else float(v) for v in _medians(cell)]
    treatments = cell.plots.factors["treatment"]
    result = base
    said = []
    try:
        ranks = (
            friedman(values, treatments, cell.plots.factors[spec.block])
            if spec.block
            else kruskal_wallis(values, treatments)
        )
        result = dataclasses.replace(result, ranks=ranks, about=ranks.about)
    except StatsError as error:
        said.append(Statement(error.code, error.message))
    factors: dict[str, Sequence[str]] = {}
    if spec.block:
        factors["block"] = cell.plots.factors[spec.block]
    factors["treatment"] = treatments
    try:
        result = dataclasses.replace(result, ordinal=fit_ordinal(values, factors, name=cell.name))
    except StatsError as error:
        said.append(Statement(error.code, error.message))
    return dataclasses.replace(result, statements=tuple(said))


def _medians(cell: _Cell) -> list[float]:
    # ratings are kept per row in `mean` only where a plot has one row
    if int(cell.plots.n_plants.max(initial=0)) <= 1:
        return [float(v) for v in cell.plots.mean]
    raise StatsError(
        "stats.rating_per_plot",
        "Ratings are given once per plot; several plants per plot have no common rating. Rate the"
        " plot, or count the plants in each grade.",
    )


def means_of(result: AnalysisResult) -> MeansResult:
    r"""Return the means of a result, or raise with the statement that stands instead.

    Examples
    --------
    >>> from tepal.stats import AnalysisSpec, analyse, read_table
    >>> table = read_table("t,h\nc,20\nc,22\nx,15\nx,17")
    >>> means_of(analyse(table, AnalysisSpec((("h", "continuous"),), treatment="t"))[0]).levels
    ('c', 'x')
    """
    if result.means is None:
        first = result.statements[0] if result.statements else None
        raise StatsError(
            first.code if first else "stats.no_means",
            first.message if first else "This analysis has no means.",
        )
    return result.means
