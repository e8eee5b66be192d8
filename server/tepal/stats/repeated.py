"""Repeated assessments of the same plots: one summary per plot, or split-plot in time.

pingouin has the latter without blocks; the sphericity numbers are written from their definition.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Literal

import numpy as np

from tepal.stats import distributions as dist
from tepal.stats.design_matrix import build_design
from tepal.stats.results import (
    Check,
    DegenerateResponseError,
    DesignRefusedError,
    Provenance,
    RepeatedResult,
    TermTest,
    known,
)

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

Summary = Literal["final", "slope", "area", "gain"]


def plot_summaries(
    values: Sequence[Sequence[float | None]], times: Sequence[float], kind: Summary
) -> list[float | None]:
    """Return one number per plot for its course over time.

    Parameters
    ----------
    values : (n_plots, n_times) float, one unit; None marks a missing assessment.
    times : (n_times,) float, rising, days or weeks after treatment.
    kind : "final" the last value, "gain" last minus first, "slope" of the least-squares line (unit
        per time), "area" under the course by trapezoids (unit x time).

    Returns
    -------
    list of n_plots floats; None for a plot without the values the summary needs ("final", "gain"
    and "area" need the ends, "slope" at least two values).

    Raises
    ------
    DesignRefusedError   `stats.times_not_rising`, `stats.length`.

    Examples
    --------
    >>> plot_summaries([[10, 14, 20], [10, None, 16]], [0, 1, 2], "area")
    [29.0, 26.0]
    """
    t = np.asarray(times, dtype=float)
    if len(t) < 2 or not (np.diff(t) > 0).all():
        raise DesignRefusedError(
            "stats.times_not_rising", "A course needs two or more times, each later than the last."
        )
    out: list[float | None] = []
    for row in values:
        if len(row) != len(t):
            raise DesignRefusedError(
                "stats.length", f"A plot has {len(row)} values for {len(t)} times."
            )
        y = np.array([np.nan if v is None else v for v in row], dtype=float)
        known = ~np.isnan(y)
        ends = bool(known[0] and known[-1])
        if kind == "final":
            out.append(float(y[-1]) if known[-1] else None)
        elif kind == "gain":
            out.append(float(y[-1] - y[0]) if ends else None)
        elif kind == "area":
            area = float(np.trapezoid(y[known], t[known])) if ends else None
            out.append(area)
        elif known.sum() >= 2:
            x = t[known] - t[known].mean()
            out.append(float(x @ (y[known] - y[known].mean()) / (x @ x)))
        else:
            out.append(None)
    return out


def split_plot_in_time(
    values: Sequence[Sequence[float | None]],
    factors: Mapping[str, Sequence[str]],
    treatment: str = "treatment",
    name: str = "response",
) -> RepeatedResult:
    """Analyse plots measured several times, with the Greenhouse-Geisser correction.

    Parameters
    ----------
    values : (n_plots, n_times) float; a plot with a missing time is left out, and counted.
    factors : name -> (n_plots,) labels: the treatment, and the block where there is one.
    treatment : the factor whose course over time is asked for.

    Returns
    -------
    RepeatedResult. `terms`: between plots, then "time" (grand means), "time (equal weights)"
    (treatments weighted equally) and `time:treatment`; `corrected` the same with df times epsilon.

    Raises
    ------
    DesignRefusedError   As `fit_linear` on the plots; `stats.too_few_times`.
    DegenerateResponseError   `stats.no_error_variation`.

    Notes
    -----
    Epsilon from the pooled covariance within treatments (and blocks): Greenhouse & Geisser 1959,
    Psychometrika 24:95; Huynh-Feldt in Lecoutre's form 1991, J. Educ. Stat. 16:371; Mauchly 1940.

    Examples
    --------
    >>> y = [[10, 12, 15], [9, 12, 14], [11, 14, 15], [10, 11, 12], [12, 12, 14], [9, 10, 10.5]]
    >>> r = split_plot_in_time(y, {"treatment": list("aaabbb")})
    >>> [t.term for t in r.terms]
    ['treatment', 'time', 'time (equal weights)', 'time:treatment']
    """
    wide = np.array([[np.nan if v is None else v for v in row] for row in values], dtype=float)
    if wide.ndim != 2 or wide.shape[1] < 2:
        raise DesignRefusedError("stats.too_few_times", "Repeated measures need two or more times.")
    complete = ~np.isnan(wide).any(axis=1)
    kept = {
        k: [str(x) for x, ok in zip(v, complete, strict=True) if ok] for k, v in factors.items()
    }
    if treatment not in kept:
        raise DesignRefusedError("stats.unknown_term", f"There is no factor {treatment!r}.")
    Y = wide[complete]
    if not len(Y):
        raise DegenerateResponseError("stats.no_data", "No plot has a value at every time.")
    order = [*(k for k in kept if k != treatment), treatment]
    design = build_design({k: kept[k] for k in order}, {}, order)
    X = design.matrix
    n, t = Y.shape
    Y = Y - Y.mean()
    d = t - 1
    # orthonormal contrasts of time: last t - 1 columns of an orthogonal matrix that starts with 1
    basis, _ = np.linalg.qr(
        np.column_stack([np.ones(t), np.vander(np.arange(t), t)[:, ::-1][:, 1:]])
    )
    C = basis[:, 1:]
    Q, R = np.linalg.qr(X)
    df_between = n - X.shape[1]

    # between plots: plot means times the number of times
    m = Y.mean(axis=1) * math.sqrt(t)
    lines = []
    residual = m - Q @ (Q.T @ m)
    ss_error = float(residual @ residual)
    if ss_error <= 0:
        raise DegenerateResponseError("stats.no_error_variation", "Plots do not vary at all.")
    for term in order:
        ss, k = _extra(X, design.columns[term], m[:, None])
        lines.append(_line(term, k, ss, ss_error / df_between, df_between, "plots"))

    # within plots: the same model on every contrast of time
    Z = Y @ C
    E = Z - Q @ (Q.T @ Z)
    S = E.T @ E / df_between
    trace = float(np.trace(S))
    if trace <= 0:
        raise DegenerateResponseError(
            "stats.no_error_variation", "The plots follow the same course exactly."
        )
    df_within = d * df_between
    ms_within = trace / d
    grand = float(n * (Z.mean(axis=0) ** 2).sum())
    lines.append(_line("time", d, grand, ms_within, df_within, "time within plots"))
    R_inverse = np.linalg.solve(R, np.eye(len(R)))
    B0 = (R_inverse @ (Q.T @ Z))[0]
    equal = float((B0**2).sum() / (R_inverse[0] @ R_inverse[0]))
    lines.append(_line("time (equal weights)", d, equal, ms_within, df_within, "time within plots"))
    ss, k = _extra(X, design.columns[treatment], Z)
    lines.append(_line(f"time:{treatment}", d * k, ss, ms_within, df_within, "time within plots"))

    epsilon = trace**2 / (d * float((S * S).sum()))
    hf = _huynh_feldt(d, df_between, epsilon)
    corrected = tuple(_corrected(x, epsilon) for x in lines if x.error_term == "time within plots")
    about = Provenance(
        method="split-plot in time, Greenhouse-Geisser correction",
        formula=f"{name} ~ ({' + '.join(order)}) * time + error(plot)",
        unit_of_analysis="plot",
        n=n,
        df=float(df_between),
        assumptions=("plots independent", "one covariance over time in all treatments"),
        notes=(f"{int((~complete).sum())} plots without a value at every time were left out",)
        if not complete.all()
        else (),
    )
    return RepeatedResult(about, tuple(lines), epsilon, hf, corrected, _mauchly(S, df_between, d))


def _line(term: str, k: int, ss: float, ms_error: float, df: int, error: str) -> TermTest:
    f = ss / k / ms_error
    return TermTest(term, k, ss, ss / k, f, dist.f_upper(f, k, df), float(df), error)


def _extra(X: Floats, where: slice, Z: Floats) -> tuple[float, int]:
    others = np.delete(X, np.arange(where.start, where.stop), axis=1)
    Q, _ = np.linalg.qr(np.column_stack([others, X[:, where]]))
    own = Q[:, others.shape[1] :]
    return float(((own.T @ Z) ** 2).sum()), own.shape[1]


def _huynh_feldt(d: int, df_between: int, epsilon: float) -> float:
    if df_between <= d * epsilon:
        return 1.0
    return min(1.0, ((df_between + 1) * d * epsilon - 2) / (d * (df_between - d * epsilon)))


def _corrected(line: TermTest, epsilon: float) -> TermTest:
    df_error = known(line.df_error) * epsilon
    p = dist.f_upper(known(line.f), line.df * epsilon, df_error)
    return TermTest(line.term, line.df, line.ss, line.ms, line.f, p, df_error, line.error_term)


def _mauchly(S: Floats, df: int, d: int) -> Check:
    name = "Mauchly's test of sphericity"
    if d < 2:
        return Check(name, None, (), None, reason="two times are always spherical")
    if df < d:
        return Check(
            name, None, (), None, reason="fewer error degrees of freedom than contrasts of time"
        )
    sign, log_det = np.linalg.slogdet(S)
    if sign <= 0:
        return Check(name, None, (), None, reason="the covariance over time is singular")
    log_w = float(log_det) - d * math.log(float(np.trace(S)) / d)
    f = d * (d + 1) / 2 - 1
    rho = 1 - (2 * d * d + d + 2) / (6 * d * df)
    x = -df * rho * log_w
    p1, p2 = dist.chi2_upper(x, f), dist.chi2_upper(x, f + 4)
    # second-order term: Anderson 2003, An Introduction to Multivariate Statistical Analysis, 10.7
    w2 = (
        (d + 2)
        * (d - 1)
        * (d - 2)
        * (2 * d**3 + 6 * d * d + 3 * d + 2)
        / (288 * (d * df * rho) ** 2)
    )
    return Check(name, math.exp(log_w), (float(f),), min(1.0, max(0.0, p1 + w2 * (p2 - p1))))
