"""Plants into plots, split-plots, and repeated assessments: each effect against its own error.

statsmodels puts every F over the last residual; here the strata are named and divided by hand.
"""

from __future__ import annotations

import dataclasses
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from tepal.stats import distributions as dist
from tepal.stats.linear import fit_linear, select_rows
from tepal.stats.results import (
    DegenerateResponseError,
    DesignRefusedError,
    Estimate,
    Provenance,
    TermTest,
    known,
)

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray

    from tepal.stats.linear import Responses

    Floats = NDArray[np.float64]


@dataclass(frozen=True)
class PlotValues:
    """Plants summed up per plot, in the order in which the plots first appear.

    `total` is the sum over the plants measured; `n_plants` counts them; a plot without any value
    has mean and total NaN, which the models read as missing.
    """

    plots: tuple[str, ...]
    factors: dict[str, tuple[str, ...]]
    mean: Floats
    total: Floats
    n_plants: NDArray[np.int64]
    first_row: NDArray[np.int64]


def plot_values(
    values: Responses, plots: Sequence[str], factors: Mapping[str, Sequence[str]]
) -> PlotValues:
    """Average the plants of each plot, because the plot is what was randomised.

    Parameters
    ----------
    values : (n,) float, one unit; None marks a plant without a value.
    plots : (n,) labels, unique over the whole trial.
    factors : name -> (n,) labels that must be the same for all plants of a plot.

    Returns
    -------
    PlotValues: arrays (n_plots,).

    Raises
    ------
    DesignRefusedError   `stats.plot_in_two_cells`: a plot carries two treatments or two blocks.

    Notes
    -----
    Plants of one plot are not replicates: Hurlbert 1984, Ecol. Monogr. 54:187-211.

    Examples
    --------
    >>> p = plot_values([10, 12, 20], ["p1", "p1", "p2"], {"treatment": ["a", "a", "b"]})
    >>> p.mean.tolist(), p.n_plants.tolist()
    ([11.0, 20.0], [2, 1])
    """
    y = np.array([np.nan if v is None else v for v in values], dtype=float)
    names = tuple(dict.fromkeys(str(p) for p in plots))
    index = {p: i for i, p in enumerate(names)}
    which = np.array([index[str(p)] for p in plots])
    first = np.array([int(np.flatnonzero(which == i)[0]) for i in range(len(names))])
    kept: dict[str, tuple[str, ...]] = {}
    for key, labels in factors.items():
        for row, (plot, label) in enumerate(zip(which, labels, strict=True)):
            if str(label) != str(labels[first[plot]]):
                raise DesignRefusedError(
                    "stats.plot_in_two_cells",
                    f"Plot {names[plot]} has {key} {labels[first[plot]]} and, in row {row + 1},"
                    f" {label}. A plot has one; number the plots over the whole trial.",
                    plot=names[plot],
                    row=row + 1,
                )
        kept[key] = tuple(str(labels[i]) for i in first)
    known = ~np.isnan(y)
    n = np.bincount(which[known], minlength=len(names))
    total = np.bincount(which[known], weights=y[known] - _origin(y), minlength=len(names))
    with np.errstate(invalid="ignore", divide="ignore"):
        mean = np.where(n > 0, total / np.maximum(n, 1) + _origin(y), np.nan)
    plain_total = np.where(n > 0, total + n * _origin(y), np.nan)
    return PlotValues(names, kept, mean, plain_total, n, first)


def _origin(y: Floats) -> float:
    known = y[~np.isnan(y)]
    if not len(known):
        return 0.0
    # whole numbers stay whole; large common offsets come off before summing
    return float(np.floor(known[0])) if abs(float(known[0])) > 1e6 else 0.0


@dataclass(frozen=True)
class NestedResult:
    """Analysis of variance with plants inside plots and its variance components."""

    about: Provenance
    terms: tuple[TermTest, ...]
    var_plot: Estimate
    var_plant: Estimate
    se_treatment_mean: float


def nested_anova(
    values: Responses,
    plots: Sequence[str],
    factors: Mapping[str, Sequence[str]],
    name: str = "response",
) -> NestedResult:
    """Analyse plants within plots with the plot as the error of treatments and blocks.

    Parameters
    ----------
    values : (n,) float, one per plant; every plot the same number s >= 2 of plants.
    plots : (n,) labels.
    factors : block before treatment.

    Returns
    -------
    NestedResult. `terms` holds factors (over the plot error), "plots" (over the plants) and
    "plants"; var_plot = (MS_plots - MS_plants) / s, which may come out negative and is then None.

    Raises
    ------
    DesignRefusedError   `stats.unequal_plants`: take `fit_mixed`, or `plot_values`.

    Notes
    -----
    E(MS_plots) = s2 + s * s2_plot: Steel & Torrie 1980, 2nd ed., section 7.9 (section from memory).

    Examples
    --------
    >>> r = nested_anova([1, 2, 4, 5, 7, 8, 6, 9], list("ppqqrrss"), {"t": list("aaaabbbb")})
    >>> [t.term for t in r.terms]
    ['t', 'plots', 'plants']
    """
    y, kept, _, used = select_rows(values, factors, {})
    plot_labels = [str(plots[i]) for i in np.flatnonzero(used).tolist()]
    summed = plot_values(list(y), plot_labels, kept)
    s = int(summed.n_plants[0])
    if s < 2 or not (summed.n_plants == s).all():
        raise DesignRefusedError(
            "stats.unequal_plants",
            f"Plots hold {summed.n_plants.min()} to {summed.n_plants.max()} plants; this table"
            " needs the same number, at least two, in all. Use the mixed model, or plot means.",
        )
    fit = fit_linear(list(summed.mean), summed.factors, name=name)
    index = {p: i for i, p in enumerate(summed.plots)}
    inside = y - summed.mean[[index[p] for p in plot_labels]]
    df_plants = len(y) - len(summed.plots)
    ms_plants = float(inside @ inside) / df_plants
    ms_plots = s * fit.dispersion
    lines = [
        TermTest(t.term, t.df, s * (t.ss or 0.0), s * (t.ms or 0.0), t.f, t.p, t.df_error, "plots")
        for t in fit.anova
    ]
    f = ms_plots / ms_plants if ms_plants > 0 else None
    lines.append(
        TermTest(
            "plots",
            fit.df_error,
            ms_plots * fit.df_error,
            ms_plots,
            f,
            None if f is None else dist.f_upper(f, fit.df_error, df_plants),
            float(df_plants),
            "plants",
            None if f is not None else "the plants of a plot do not vary",
        )
    )
    lines.append(
        TermTest(
            "plants",
            df_plants,
            ms_plants * df_plants,
            ms_plants,
            None,
            None,
            None,
            "none",
            "the last line of the table is tested against nothing",
        )
    )
    component = (ms_plots - ms_plants) / s
    per_treatment = len(summed.plots) / len(set(summed.factors[list(factors)[-1]]))
    return NestedResult(
        dataclasses.replace(
            fit.about,
            method="analysis of variance with plants inside plots",
            formula=f"{name} ~ {' + '.join(factors)} + plots",
            notes=(f"{s} plants per plot; n counts plots",),
        ),
        tuple(lines),
        Estimate("variance between plots", component)
        if component >= 0
        else Estimate(
            "variance between plots",
            None,
            reason="plots vary less than plants let expect; the component is taken as zero",
        ),
        Estimate("variance between plants", ms_plants),
        math.sqrt(ms_plots / (s * per_treatment)),
    )


@dataclass(frozen=True)
class SplitPlotResult:
    """Split-plot: tests by stratum, mean squares, and the four standard errors of a difference."""

    about: Provenance
    terms: tuple[TermTest, ...]
    ms_whole: float
    ms_sub: float
    components: tuple[Estimate, ...]
    sed: tuple[Estimate, ...]


def split_plot(
    response: Responses,
    block: Sequence[str],
    whole: Sequence[str],
    sub: Sequence[str],
    name: str = "response",
) -> SplitPlotResult:
    """Analyse a complete split-plot in blocks: whole-plot effects against whole-plot error.

    Parameters
    ----------
    response : (n,) float, one value for each sub-plot, none missing.
    block, whole, sub : (n,) labels: block, whole-plot treatment, sub-plot treatment.

    Returns
    -------
    SplitPlotResult. `sed` holds the standard errors of differences of two whole means, two sub
    means, two sub at one whole, two whole at one sub (with Satterthwaite's df).

    Raises
    ------
    DesignRefusedError   `stats.incomplete_split_plot`: a cell is missing or doubled; take
        `fit_mixed` with block:whole as a random factor.

    Notes
    -----
    Yates 1935, J. R. Stat. Soc. Suppl. 2:181 (oats); Cochran & Cox 1957, section 7.15.

    Examples
    --------
    >>> y = [10, 12, 15, 18, 11, 14, 15, 19, 9, 12, 16, 18]
    >>> r = split_plot(y, list("111122223333"), list("aabbaabbaabb"), list("xyxyxyxyxyxy"))
    >>> [(t.term, t.error_term) for t in r.terms][0]
    ('whole', 'block:whole')
    """
    y, kept, _, used = select_rows(response, {"block": block, "whole": whole, "sub": sub}, {})
    levels = {k: list(dict.fromkeys(v)) for k, v in kept.items()}
    r, a, b = (len(levels[k]) for k in ("block", "whole", "sub"))
    cells = set(zip(kept["block"], kept["whole"], kept["sub"], strict=True))
    if not used.all() or len(cells) != len(y) or len(y) != r * a * b:
        raise DesignRefusedError(
            "stats.incomplete_split_plot",
            f"{len(y)} values for {r} blocks x {a} whole x {b} sub treatments; this table needs"
            " each exactly once. Use the mixed model with the whole plot as a random factor.",
        )
    if r < 2 or a < 2 or b < 2:
        raise DesignRefusedError(
            "stats.one_level", "A split-plot needs two blocks, two whole and two sub treatments."
        )
    fit = fit_linear(
        list(y),
        kept,
        terms=("block", "whole", "block:whole", "sub", "whole:sub"),
        ss_type=1,
        name=name,
        unit_of_analysis="sub-plot within whole plot",
    )
    lines = {t.term: t for t in fit.anova}
    error_a = lines["block:whole"]
    ms_a, ms_b = known(error_a.ms), fit.dispersion
    ms_block = known(lines["block"].ms)
    if ms_a <= 0:
        raise DegenerateResponseError("stats.no_error_variation", "Whole plots do not vary at all.")
    f = known(lines["whole"].ms) / ms_a
    whole_line = dataclasses.replace(
        lines["whole"],
        f=f,
        p=dist.f_upper(f, a - 1, error_a.df),
        df_error=float(error_a.df),
        error_term="block:whole",
    )
    f_block = ms_block / ms_a
    block_line = dataclasses.replace(
        lines["block"],
        f=f_block,
        p=dist.f_upper(f_block, r - 1, error_a.df),
        df_error=float(error_a.df),
        error_term="block:whole",
    )
    df_a, df_b = float(error_a.df), float(fit.df_error)
    mixed = ms_a + (b - 1) * ms_b
    df_mixed = mixed**2 / (ms_a**2 / df_a + ((b - 1) * ms_b) ** 2 / df_b)
    sed = (
        Estimate("two whole treatments", math.sqrt(2 * ms_a / (r * b)), df=df_a),
        Estimate("two sub treatments", math.sqrt(2 * ms_b / (r * a)), df=df_b),
        Estimate("two sub treatments at one whole", math.sqrt(2 * ms_b / r), df=df_b),
        Estimate("two whole treatments at one sub", math.sqrt(2 * mixed / (r * b)), df=df_mixed),
    )

    def component(label: str, value: float) -> Estimate:
        if value < 0:
            return Estimate(label, None, reason="estimated below zero and taken as zero")
        return Estimate(label, value)

    return SplitPlotResult(
        dataclasses.replace(
            fit.about,
            method="split-plot analysis of variance",
            formula=f"{name} ~ block + whole + error(block:whole) + sub + whole:sub",
        ),
        (whole_line, lines["sub"], lines["whole:sub"], block_line, error_a),
        ms_a,
        ms_b,
        (
            component("block", (ms_block - ms_a) / (a * b)),
            component("whole plot", (ms_a - ms_b) / b),
            component("residual", ms_b),
        ),
        sed,
    )
