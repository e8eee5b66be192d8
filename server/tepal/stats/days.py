"""Days to an event with plants that never opened: Kaplan-Meier, one summary per plot, log-rank.

Plants of a plot are not replicates, so the trial is analysed on one restricted mean or median per
plot. statsmodels.duration has the curves for single plants; the step arithmetic below is shorter
than its load time, and neither it nor scipy knows openings seen only between two looks.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Literal

import numpy as np

from tepal.stats import distributions as dist
from tepal.stats.design_matrix import level_order
from tepal.stats.results import (
    Check,
    DegenerateResponseError,
    DesignRefusedError,
    Estimate,
    Provenance,
    SurvivalCurve,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]


def kaplan_meier(
    days: Sequence[float],
    opened: Sequence[bool],
    group: str = "all",
    alpha: float = 0.05,
    transform: Literal["log", "log-log"] = "log",
) -> SurvivalCurve:
    """Return the share of plants not yet open, with Greenwood's error.

    Parameters
    ----------
    days : (n,) float >= 0, day of opening, or the last day looked at.
    opened : (n,) bool, False for a plant still closed then.
    group : name for the result.
    transform : scale of the pointwise interval.

    Returns
    -------
    SurvivalCurve at the days of an opening. Errors are None where no plant is left.

    Raises
    ------
    DegenerateResponseError   `stats.no_data`.

    Notes
    -----
    Kaplan & Meier 1958, JASA 53:457. A picture of plants, not a test: plots are the units.

    Examples
    --------
    >>> c = kaplan_meier([9, 13, 13, 18], [True, True, False, True])
    >>> c.survival
    (0.75, 0.5, 0.0)
    """
    t = np.asarray(days, dtype=float)
    event = np.asarray(opened, dtype=bool)
    if not len(t):
        raise DegenerateResponseError("stats.no_data", "There are no plants to follow.")
    z = dist.normal_quantile(1 - alpha / 2)
    survival, green = 1.0, 0.0
    out: dict[str, list[float | None]] = {"s": [], "se": [], "lo": [], "hi": []}
    times = sorted(set(t[event]))
    risk_counts = []
    for day in times:
        at_risk = int((t >= day).sum())
        died = int(((t == day) & event).sum())
        survival *= (at_risk - died) / at_risk
        risk_counts.append(at_risk)
        out["s"].append(survival)
        if survival <= 0:
            for key in ("se", "lo", "hi"):
                out[key].append(None)
            continue
        green += died / (at_risk * (at_risk - died))
        root = math.sqrt(green)
        out["se"].append(survival * root)
        if transform == "log":
            out["lo"].append(survival * math.exp(-z * root))
            out["hi"].append(min(1.0, survival * math.exp(z * root)))
        else:
            spread = z * root / math.log(survival)
            out["lo"].append(survival ** math.exp(-spread))
            out["hi"].append(survival ** math.exp(spread))
    half = next(
        (d for d, s in zip(times, out["s"], strict=True) if s is not None and s <= 0.5), None
    )
    median = (
        Estimate("median", float(half), scale="days", n=len(t))
        if half is not None
        else Estimate("median", None, scale="days", n=len(t), reason="fewer than half opened")
    )
    about = Provenance(
        method=f"Kaplan-Meier, Greenwood, pointwise interval on the {transform} scale",
        formula="days to opening",
        unit_of_analysis="plant (picture only)",
        n=len(t),
        assumptions=("plants stop being watched for reasons that have nothing to do with opening",),
    )
    return SurvivalCurve(
        about,
        group,
        tuple(float(x) for x in times),
        tuple(risk_counts),
        tuple(float(s) for s in out["s"] if s is not None),
        tuple(out["se"]),
        tuple(out["lo"]),
        tuple(out["hi"]),
        transform,
        median,
    )


def restricted_mean_days(days: Sequence[float], opened: Sequence[bool], horizon: float) -> float:
    """Return the mean days to opening up to a horizon, unopened plants counted as the horizon.

    Parameters
    ----------
    days, opened : (n,) as `kaplan_meier`.
    horizon : float > 0, days; the same for all plots, not beyond the last look.

    Returns
    -------
    float, days: the area under the Kaplan-Meier curve from 0 to the horizon.

    Raises
    ------
    DegenerateResponseError   `stats.horizon`: a plant was lost before the horizon and the curve is
        not known up to it.

    Examples
    --------
    >>> round(restricted_mean_days([10, 20, 30], [True, True, False], 30), 9)
    20.0
    """
    t = np.asarray(days, dtype=float)
    event = np.asarray(opened, dtype=bool)
    curve = kaplan_meier(t, event)  # type: ignore[arg-type]
    last = float(t.max())
    if last < horizon and (not curve.survival or curve.survival[-1] > 0):
        raise DegenerateResponseError(
            "stats.horizon",
            f"The plot was watched to day {last:g} with plants unopened, so its mean up to day"
            f" {horizon:g} is not known; take a horizon up to day {last:g}.",
        )
    area, level, before = 0.0, 1.0, 0.0
    for day, s in zip(curve.time, curve.survival, strict=True):
        if day >= horizon:
            break
        area += level * (day - before)
        level, before = s, day
    return area + level * (horizon - before)


def between_looks(
    last_closed: Sequence[float], first_open: Sequence[float | None], horizon: float
) -> tuple[Estimate, Estimate]:
    """Return restricted mean and median days of one plot whose plants opened between two looks.

    Parameters
    ----------
    last_closed : (n,) float, days: the last look at which the plant was still closed (0: none).
    first_open : (n,) float, days: the first look at which it was open; None: never seen open.
    horizon : float, days, at most the last look at plants that stayed closed.

    Returns
    -------
    (mean, median) Estimates in days without errors: they are values of one plot. The median is
    None with a reason where fewer than half opened by the horizon.

    Raises
    ------
    DegenerateResponseError   `stats.no_data`, `stats.horizon`, `stats.look_order`.

    Notes
    -----
    Turnbull 1976, J. R. Stat. Soc. B 38:290 (self-consistent estimate); within an interval the
    openings are spread evenly, so that a plot looked at daily and one looked at twice a week agree.

    Examples
    --------
    >>> mean, median = between_looks([7, 14, 21], [14, 21, None], horizon=21)
    >>> round(mean.value, 6), round(median.value, 6)  # openings at 10.5 and 17.5
    (16.333333, 17.5)
    """
    low = np.asarray(last_closed, dtype=float)
    high = np.array([np.inf if v is None else v for v in first_open], dtype=float)
    if not len(low):
        raise DegenerateResponseError("stats.no_data", "The plot has no plants to follow.")
    if (high <= low).any():
        raise DegenerateResponseError(
            "stats.look_order", "A plant was seen open before it was last seen closed."
        )
    # never seen open, but last looked at before the horizon: nothing is known after that look
    known_end = float(high[np.isfinite(high)].max()) if np.isfinite(high).any() else 0.0
    if np.isinf(high).any() and max(float(low.max()), known_end) < horizon:
        raise DegenerateResponseError(
            "stats.horizon",
            f"Plants stayed closed at the last look on day {max(low.max(), known_end):g}; take a"
            " horizon up to that day.",
        )
    edges = np.unique(np.concatenate([low, high[np.isfinite(high)], [0.0, horizon]]))
    cells_low = edges
    cells_high = np.append(edges[1:], np.inf)
    inside = (low[:, None] <= cells_low[None, :]) & (cells_high[None, :] <= high[:, None])
    mass = np.full(len(cells_low), 1.0 / len(cells_low))
    for _ in range(10_000):
        share = inside * mass
        new = (share / share.sum(axis=1, keepdims=True)).mean(axis=0)
        moved = float(np.abs(new - mass).max())
        mass = new
        if moved < 1e-13:
            break
    mean, closed = 0.0, 1.0
    median: float | None = None
    for a, b, m in zip(cells_low, cells_high, mass, strict=True):
        if not math.isfinite(b) or a >= horizon:
            break
        if median is None and closed - m <= 0.5 + 1e-12 and m > 0:
            median = float(a + (b - a) * (closed - 0.5) / m)
        mean += (b - a) * (closed - m / 2)
        closed -= m
    n = len(low)
    return (
        Estimate("restricted mean", float(mean), scale="days", n=n),
        Estimate("median", median, scale="days", n=n)
        if median is not None
        else Estimate(
            "median", None, scale="days", n=n, reason="fewer than half opened by the horizon"
        ),
    )


def log_rank(
    days: Sequence[float],
    opened: Sequence[bool],
    groups: Sequence[str],
    strata: Sequence[str] | None = None,
) -> Check:
    """Compare curves of single-plant plots; plants that share a plot are no replicates.

    Parameters
    ----------
    days, opened : (n,) as `kaplan_meier`.
    groups : (n,) labels.
    strata : (n,) labels of blocks, compared within only.

    Returns
    -------
    Check with chi-squared on k - 1 df; with its reason where nothing opened.

    Raises
    ------
    DesignRefusedError   `stats.one_level`.

    Notes
    -----
    Mantel 1966, Cancer Chemother. Rep. 50:163.

    Examples
    --------
    >>> log_rank([1, 2, 3, 4], [True] * 4, ["a", "b", "a", "b"]).df
    (1.0,)
    """
    t = np.asarray(days, dtype=float)
    event = np.asarray(opened, dtype=bool)
    labels = np.asarray([str(g) for g in groups])
    levels = level_order(list(labels))
    if len(levels) < 2:
        raise DesignRefusedError("stats.one_level", "There is one group only to compare.")
    stratum = np.asarray(["all"] * len(t) if strata is None else [str(s) for s in strata])
    k = len(levels)
    observed_less = np.zeros(k)
    V = np.zeros((k, k))
    for s in set(stratum):
        rows = stratum == s
        for day in sorted(set(t[event & rows])):
            risk = np.array([((t >= day) & rows & (labels == g)).sum() for g in levels], float)
            died = np.array(
                [((t == day) & event & rows & (labels == g)).sum() for g in levels], float
            )
            n, d = float(risk.sum()), float(died.sum())
            share = risk / n
            observed_less += died - d * share
            if n > 1:
                V += d * (n - d) / (n - 1) * (np.diag(share) - np.outer(share, share))
    u, W = observed_less[:-1], V[:-1, :-1]
    if np.linalg.matrix_rank(W) < k - 1:
        return Check("log-rank", None, (), None, reason="too few openings to compare the groups")
    x = float(u @ np.linalg.solve(W, u))
    return Check("log-rank", x, (float(k - 1),), dist.chi2_upper(x, k - 1))
