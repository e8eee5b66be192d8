"""From a table and a question to results, and all methods meet here: hence over 400 lines.

One response at one assessment after the other; what cannot be estimated becomes a statement.
"""

from __future__ import annotations

import dataclasses
import math
from typing import TYPE_CHECKING

import numpy as np

from tepal.domain.errors import Finding
from tepal.stats.cells import (
    AnalysisSpec,
    Cell,
    about_of,
    cell_of,
    horizon_of,
    observed_of,
    table_findings,
    terms_of,
    treatment_labels,
    trials_per_plot,
    values_of,
)
from tepal.stats.comparisons import dunnett, joint_test, lsd, tukey
from tepal.stats.design_matrix import level_order
from tepal.stats.deviance import profile_interval
from tepal.stats.glm import fit_count, fit_proportion
from tepal.stats.letters import letters
from tepal.stats.linear import fit_linear
from tepal.stats.mixed import fit_mixed
from tepal.stats.models import FittedModel, lsmeans
from tepal.stats.ratios import percent_of_control
from tepal.stats.repeated import plot_summaries, split_plot_in_time
from tepal.stats.results import (
    AnalysisResult,
    ComparisonResult,
    Estimate,
    MeansResult,
    Statement,
    StatsError,
)
from tepal.stats.table import Table, TableError
from tepal.stats.trust import require_replicates, trust
from tepal.stats.unequal import games_howell

if TYPE_CHECKING:
    from collections.abc import Sequence

# Below this total over all plots of a treatment a Wald test of its count is not trusted; the
# deviance test and the profile interval are given as well. Convention, no source.
NEAR_ZERO_TOTAL = 5


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
            out.append(_one(cell_of(part, spec, name, kind, day)))
    if spec.over_time:
        for name, kind in spec.responses:
            if kind == "continuous":
                out += _over_time(table, spec, name)
    return tuple(out)


def _over_time(table: Table, spec: AnalysisSpec, name: str) -> list[AnalysisResult]:
    """Return one analysis of each summary per plot, the first with the split-plot in time."""
    if spec.assessment is None or spec.plot is None:
        raise StatsError(
            "stats.over_time",
            "A course over time needs the column of the assessments, as numbers, and of the plots.",
        )
    when = table.labels(spec.assessment)
    days = level_order(when)
    times = []
    for day in days:
        line = table.lines[when.index(day)]
        time = table.number(spec.assessment, line, day)
        if time is None:
            raise TableError(
                "stats.not_a_number",
                f"Line {line}: {spec.assessment} is {day!r}; a course over time needs numbers.",
                row=line,
                column=spec.assessment,
                value=day,
            )
        times.append(time)
    cells = [
        cell_of(table.where([i for i, w in enumerate(when) if w == d]), spec, name, "continuous", d)
        for d in days
    ]
    base = max(cells, key=lambda c: len(c.plots.plots))
    known_at = [dict(zip(c.plots.plots, c.plots.mean, strict=True)) for c in cells]
    wide: list[list[float | None]] = []
    for plot in base.plots.plots:
        course = [float(at.get(plot, math.nan)) for at in known_at]
        wide.append([None if math.isnan(v) else v for v in course])
    out = []
    for kind, words in (("area", "area under the course"), ("slope", "slope over time")):
        values = plot_summaries(wide, times, "area" if kind == "area" else "slope")
        array = np.array([math.nan if v is None else v for v in values])
        plots = dataclasses.replace(
            base.plots, mean=array, total=array, n_plants=(~np.isnan(array)).astype(np.int64)
        )
        result = _one(dataclasses.replace(base, plots=plots, assessment=words))
        if kind == "area":
            factors = {} if spec.block is None else {"block": base.plots.factors[spec.block]}
            try:
                result = dataclasses.replace(
                    result,
                    repeated=split_plot_in_time(
                        wide, {**factors, "treatment": base.plots.factors["treatment"]}, name=name
                    ),
                )
            except StatsError as error:
                said = Statement(error.code, error.message)
                result = dataclasses.replace(result, statements=(*result.statements, said))
        out.append(result)
    return out


def _check_spec(table: Table, spec: AnalysisSpec) -> None:
    if spec.treatment is None and not spec.factors:
        raise StatsError(
            "stats.no_treatment",
            "Name the column of the treatments, or the factors of a factorial.",
        )
    if spec.control is not None:
        names = treatment_labels(table, spec)
        if spec.control not in names:
            raise StatsError(
                "stats.unknown_control",
                f"The control {spec.control!r} does not occur among the treatments"
                f" {', '.join(level_order(names))}.",
                control=spec.control,
            )


def _one(cell: Cell) -> AnalysisResult:
    observed = observed_of(cell)
    statements: list[Statement] = []
    findings = table_findings(cell)
    base = AnalysisResult(
        about=about_of(cell),
        response=cell.name,
        unit=dict(cell.spec.units).get(cell.name, ""),
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


def _modelled(cell: Cell, base: AnalysisResult, statements: list[Statement]) -> AnalysisResult:
    if cell.whole is not None:
        return _split(cell, base, statements)
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


def _compare(cell: Cell, means: MeansResult) -> ComparisonResult | None:
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
        restricted = spec.block or spec.covariate or spec.square or spec.whole_plot
        if restricted or cell.kind in ("count", "proportion"):
            raise StatsError(
                "stats.ignores_blocks",
                "Games-Howell knows neither blocks, squares, whole plots, covariates nor counts;"
                " use dunnett, tukey or lsd.",
            )
        values = [None if math.isnan(v) else float(v) for v in values_of(cell)]
        return games_howell(values, cell.plots.factors["treatment"], spec.alpha, cell.name)
    return None


def _split(cell: Cell, base: AnalysisResult, statements: list[Statement]) -> AnalysisResult:
    """Analyse a split-plot, complete or not, with the whole plot as a random factor."""
    spec = cell.spec
    if cell.kind not in ("continuous", "days"):
        raise StatsError(
            "stats.split_plot_type",
            "A split-plot is analysed for continuous responses and days only; for counts analyse"
            " the whole plots' totals, or one sub-plot treatment at a time.",
        )
    factors, terms, factor, covariates = terms_of(cell)
    values = [None if math.isnan(v) else float(v) for v in values_of(cell)]
    model = fit_mixed(
        values,
        {**factors, "whole plot": cell.whole or []},
        ["whole plot"],
        covariates,
        terms,
        cell.name,
    )
    means = model.means(factor, spec.alpha)
    result = dataclasses.replace(
        base,
        about=dataclasses.replace(model.about, notes=base.about.notes),
        variances=model.summary(),
        means=means,
    )
    try:
        comparison = _compare(cell, means)
    except StatsError as error:
        statements.append(Statement(error.code, error.message))
        return result
    if comparison is not None:
        note = f"one df for all comparisons, the smallest of theirs: {means.df_error:.3g}"
        comparison = dataclasses.replace(
            comparison,
            about=dataclasses.replace(comparison.about, notes=(*comparison.about.notes, note)),
        )
    shown = letters(comparison) if comparison is not None and comparison.control is None else None
    return dataclasses.replace(result, comparison=comparison, letters=shown)


def _fit(cell: Cell) -> tuple[FittedModel, str]:
    factors, terms, factor, covariates = terms_of(cell)
    return _fitted(cell, factors, terms, covariates), factor


def _fitted(
    cell: Cell,
    factors: dict[str, Sequence[str]],
    terms: list[str],
    covariates: dict[str, list[float | None]],
) -> FittedModel:
    if cell.kind == "count":
        n = [None if k == 0 else float(k) for k in cell.plots.n_plants]
        return fit_count(list(cell.plots.total), factors, covariates, n, terms, cell.name)
    if cell.kind == "proportion":
        if cell.trials is not None:
            successes, trials = trials_per_plot(cell)
        else:
            successes, trials = cell.plots.total, cell.plots.n_plants.astype(float)
            trials = np.where(trials > 0, trials, np.nan)
        return fit_proportion(list(successes), list(trials), factors, covariates, terms, cell.name)
    fit = fit_linear(list(values_of(cell)), factors, covariates, terms, name=cell.name)
    if cell.kind == "days":
        what = "restricted mean" if cell.spec.days_summary == "mean" else "median"
        note = f"{what} days per plot, unopened plants counted as day {horizon_of(cell):g}"
        fit = dataclasses.replace(
            fit, about=dataclasses.replace(fit.about, notes=(*fit.about.notes, note))
        )
    return fit


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


def _ratings(cell: Cell, base: AnalysisResult) -> AnalysisResult:
    from tepal.stats.ordinal import fit_ordinal
    from tepal.stats.ratings import friedman, kruskal_wallis

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


def _medians(cell: Cell) -> list[float]:
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
