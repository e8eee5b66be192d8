"""Per cent of the control with an interval: delta on the log ratio, Fieller, simultaneous.

No library call exists for a ratio of two means of a model; both forms are closed.
"""

from __future__ import annotations

import dataclasses
import math
from typing import TYPE_CHECKING, Literal

import numpy as np

from tepal.stats import distributions as dist
from tepal.stats import mvt
from tepal.stats.comparisons import DEFAULT_SEED
from tepal.stats.results import (
    NO_LIMIT,
    ZERO_SHARE,
    ComparisonResult,
    DesignRefusedError,
    Estimate,
    MeansResult,
    StatsError,
    limit_of_log,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

RatioMethod = Literal["delta", "fieller"]


def percent_of_control(
    means: MeansResult,
    control: str,
    method: RatioMethod = "delta",
    simultaneous: bool = False,
    alpha: float = 0.05,
    seed: int = DEFAULT_SEED,
) -> ComparisonResult:
    """Return each treatment in per cent of the control with an interval.

    Parameters
    ----------
    means : MeansResult   On the response scale, or on the log scale (counts, logged responses),
        where the ratio is exp of the difference whatever the method.
    control : str         The level that is 100 %.
    method : "delta" on the log ratio, or "fieller" (exact for normal means).
    simultaneous : True   Limits hold together for all treatments (multivariate t; for Fieller the
        correlations at the estimated ratios are used).
    alpha : float.

    Returns
    -------
    ComparisonResult, scale "percent"; a treatment without an interval carries the reason. p tests
    a ratio of 1.

    Raises
    ------
    DesignRefusedError   `stats.unknown_level`, or `stats.logit_ratio` for proportions on the logit.

    Notes
    -----
    Fieller 1954, J. R. Stat. Soc. B 16:175; no interval when g = t^2 v / m0^2 >= 1. Simultaneous
    Fieller: Dilba, Bretz, Guiard & Hothorn 2004, Methods Inf. Med. 43:465 (plug-in).

    Examples
    --------
    >>> from tepal.stats import fit_linear, lsmeans
    >>> fit = fit_linear([20, 22, 24, 9, 11, 13], {"t": ["c", "c", "c", "x", "x", "x"]})
    >>> round(percent_of_control(lsmeans(fit, "t"), "c").comparisons[0].value, 9)
    50.0
    """
    levels = means.levels
    if control not in levels:
        raise DesignRefusedError(
            "stats.unknown_level", f"{means.factor} has no mean of the control {control!r}."
        )
    if means.means[0].scale == "logit":
        raise DesignRefusedError(
            "stats.logit_ratio",
            "Proportions are compared as odds; give their difference or odds ratio instead.",
        )
    at = levels.index(control)
    others = [i for i in range(len(levels)) if i != at]
    m = np.array([e.value for e in means.means], dtype=float)
    V = np.array(means.covariance)
    df = means.df_error
    if means.means[0].scale == "log":
        method = "delta"
    ratio, log_ratio, gradient, positive = _ratio_parts(means, m, at, others, method)
    C = gradient @ V @ gradient.T
    se = np.sqrt(np.diag(C))
    R = C / np.outer(se, se)
    np.fill_diagonal(R, 1.0)
    t = dist.t_quantile(1 - alpha / 2, df)
    c = mvt.critical_value(R, df, alpha, "two-sided", seed) if simultaneous else t
    is_zero = means.means[0].scale != "log" and abs(m[at]) <= ZERO_SHARE * np.abs(m).max()
    rows = []
    for j, i in enumerate(others):
        label, pair = f"{levels[i]} / {control}", (levels[i], control)
        if is_zero or (method == "delta" and not positive[j]):
            rows.append(
                Estimate(
                    label,
                    None,
                    scale="percent",
                    pair=pair,
                    reason="a ratio needs positive means of treatment and control",
                )
            )
        elif method == "delta":
            statistic = float(log_ratio[j] / se[j])
            low = limit_of_log(float(log_ratio[j] - c * se[j]))
            high = limit_of_log(float(log_ratio[j] + c * se[j]))
            rows.append(
                Estimate(
                    label,
                    100 * float(ratio[j]),
                    100 * float(ratio[j] * se[j]),
                    df,
                    None if low is None else 100 * low,
                    None if high is None else 100 * high,
                    statistic,
                    dist.t_two_sided(statistic, df),
                    scale="percent",
                    pair=pair,
                    reason=NO_LIMIT if high is None else None,
                )
            )
        else:
            v = (float(V[i, i]), float(V[at, at]), float(V[i, at]))
            rows.append(_fieller(label, pair, (float(m[i]), float(m[at])), v, c, df))
    adjusted = None
    if simultaneous and method == "delta" and positive.all():
        adjusted = mvt.adjusted_p(log_ratio / se, R, df, "two-sided", seed)
        rows = [
            dataclasses.replace(row, p_adjusted=p) for row, p in zip(rows, adjusted, strict=True)
        ]
    kind = "simultaneous" if simultaneous else "pointwise"
    word = "Fieller" if method == "fieller" else "delta method on the log ratio"
    route = mvt.factor(R).route if simultaneous else "product"
    about = dataclasses.replace(
        means.about,
        method=f"per cent of control, {word}, {kind} intervals",
        seed=seed if route == "quasi-monte-carlo" else None,
    )
    return ComparisonResult(
        about, f"ratio to control ({word})", "two-sided", alpha, tuple(rows), control, float(c)
    )


def _ratio_parts(
    means: MeansResult, m: Floats, at: int, others: list[int], method: RatioMethod
) -> tuple[Floats, Floats, Floats, NDArray[np.bool_]]:
    """Return ratios, log ratios, the gradient whose statistic is tested, and where all is > 0."""
    count = range(len(others))
    gradient = np.zeros((len(others), len(m)))
    if means.means[0].scale == "log":
        gradient[count, others] = 1.0
        gradient[:, at] = -1.0
        log_ratio = m[others] - m[at]
        return np.exp(log_ratio), log_ratio, gradient, np.ones(len(others), dtype=bool)
    floor = ZERO_SHARE * np.abs(m).max()
    positive = (m[others] > floor) & (m[at] > floor)
    ratio = m[others] / (m[at] if m[at] != 0 else 1.0)
    if method == "delta":
        safe = np.where(positive, m[others], 1.0)
        base = m[at] if m[at] > 0 else 1.0
        gradient[count, others] = 1 / safe
        gradient[:, at] = -1 / base
        return ratio, np.log(safe / base), gradient, positive
    gradient[count, others] = 1.0
    gradient[:, at] = -ratio
    return ratio, np.zeros(len(others)), gradient, positive


def exponentiated(comparison: ComparisonResult) -> ComparisonResult:
    """Return differences of logs as ratios: exp of estimates and limits.

    Parameters
    ----------
    comparison : ComparisonResult of a log-link model, or of `fit_linear(..., transform="ln")`.

    Returns
    -------
    ComparisonResult, scale "ratio"; `se` is by the delta method, p-values stay.

    Raises
    ------
    StatsError   `stats.already_ratio`: the comparison is not one of differences.

    Notes
    -----
    For logged responses these are ratios of medians (geometric means), not of arithmetic means.

    Examples
    --------
    >>> from tepal.stats import dunnett, fit_linear, lsmeans
    >>> y = [20, 22, 24, 9, 11, 13]
    >>> fit = fit_linear(y, {"t": ["c", "c", "c", "x", "x", "x"]}, transform="ln")
    >>> r = exponentiated(dunnett(lsmeans(fit, "t"), "c"))
    >>> round(r.comparisons[0].value, 3)
    0.496
    """

    def _too_far(e: Estimate) -> bool:
        return any(x is not None and limit_of_log(x) is None for x in (e.lower, e.upper))

    def _exp(x: float | None) -> float | None:
        return None if x is None else limit_of_log(x)

    rows = []
    for e in comparison.comparisons:
        if e.scale in ("ratio", "percent"):
            raise StatsError("stats.already_ratio", f"{e.label} is a ratio already.")
        value = _exp(e.value)
        rows.append(
            dataclasses.replace(
                e,
                value=value,
                se=None if value is None or e.se is None else value * e.se,
                lower=_exp(e.lower),
                upper=_exp(e.upper),
                scale="ratio",
                reason=e.reason or (NO_LIMIT if value is None or _too_far(e) else None),
            )
        )
    about = dataclasses.replace(
        comparison.about, method=f"{comparison.about.method}; exp of log differences"
    )
    return dataclasses.replace(comparison, about=about, comparisons=tuple(rows))


def ratio_of_paired_means(
    first: Sequence[float], second: Sequence[float], alpha: float = 0.05
) -> Estimate:
    """Return mean(first) / mean(second) of paired (blocked) values with its interval.

    Parameters
    ----------
    first, second : (n,) float > 0 on average, same unit, in the order of the pairs; n >= 2.
    alpha : float.

    Returns
    -------
    Estimate, scale "ratio", delta method on the log ratio with the pairs' covariance, n - 1 df.

    Raises
    ------
    StatsError   `stats.length`, or `stats.no_ratio` for a mean that is not positive.

    Notes
    -----
    Bonett & Price 2020, J. Educ. Behav. Stat. 45:750-770.

    Examples
    --------
    >>> y1 = [3.3, 3.6, 3.0, 3.1, 3.9, 4.2, 3.5, 3.3]
    >>> y2 = [3.0, 3.1, 2.7, 2.6, 3.2, 3.8, 3.2, 3.0]
    >>> round(ratio_of_paired_means(y1, y2).value, 6)
    1.134146
    """
    a, b = np.asarray(first, dtype=float), np.asarray(second, dtype=float)
    if len(a) != len(b) or len(a) < 2:
        raise StatsError("stats.length", "Pairs need two columns of the same length, at least 2.")
    ma, mb = float(a.mean()), float(b.mean())
    if ma <= 0 or mb <= 0:
        raise StatsError("stats.no_ratio", "A ratio needs positive means.")
    n = len(a)
    # log ratio of means is linear in a/ma - b/mb to first order
    spread = a / ma - b / mb
    se = float(spread.std(ddof=1)) / math.sqrt(n)
    t = dist.t_quantile(1 - alpha / 2, n - 1)
    log_ratio = math.log(ma / mb)
    statistic = log_ratio / se if se > 0 else None
    return Estimate(
        "first / second",
        ma / mb,
        ma / mb * se,
        float(n - 1),
        math.exp(log_ratio - t * se),
        math.exp(log_ratio + t * se),
        statistic,
        None if statistic is None else dist.t_two_sided(statistic, n - 1),
        scale="ratio",
        n=n,
    )


def fieller_limits(
    a: float, b: float, v_a: float, v_b: float, v_ab: float, t: float
) -> tuple[float, float] | None:
    """Return the limits of a / b for normal a and b, or None when g = t^2 v_b / b^2 >= 1.

    Parameters
    ----------
    a, b : float      Estimates, same unit.
    v_a, v_b, v_ab    Their variances and covariance, squared unit.
    t : float         Critical value.

    Examples
    --------
    >>> low, high = fieller_limits(10.0, 20.0, 1.0, 1.0, 0.0, 2.0)
    >>> round(low, 4), round(high, 4)  # (200 -+ sqrt(1984)) / 396
    (0.3926, 0.6175)
    """
    g = t * t * v_b / (b * b)
    if g >= 1:
        return None
    middle = a * b - t * t * v_ab
    room = b * b - t * t * v_b
    root = math.sqrt(max(0.0, middle * middle - room * (a * a - t * t * v_a)))
    return (middle - root) / room, (middle + root) / room


def _fieller(
    label: str,
    pair: tuple[str, str],
    estimates: tuple[float, float],
    variances: tuple[float, float, float],
    c: float,
    df: float,
) -> Estimate:
    (a, b), (va, vb, vab) = estimates, variances
    ratio = a / b
    limits = fieller_limits(a, b, va, vb, vab, c)
    se = math.sqrt(max(va - 2 * ratio * vab + ratio**2 * vb, 0.0)) / abs(b)
    t = (a - b) / math.sqrt(va + vb - 2 * vab)
    p = dist.t_two_sided(t, df)
    if limits is None:
        return Estimate(
            label,
            100 * ratio,
            100 * se,
            df,
            None,
            None,
            t,
            p,
            scale="percent",
            pair=pair,
            reason="no interval: the control itself is not clearly different from zero (g >= 1)",
        )
    return Estimate(
        label,
        100 * ratio,
        100 * se,
        df,
        100 * limits[0],
        100 * limits[1],
        t,
        p,
        scale="percent",
        pair=pair,
    )
