"""Shapiro-Wilk on residuals, written out because scipy.stats.shapiro loads all of scipy.stats.

Also Brown-Forsythe, Levene and Bartlett, which are one line each on top of an F or chi-squared.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Literal

import numpy as np
from scipy import special

from tepal.stats import distributions as dist
from tepal.stats.design_matrix import level_order
from tepal.stats.results import Check

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]


def shapiro_wilk(values: Sequence[float] | Floats) -> Check:
    """Test whether values (residuals of a model) look normal.

    Parameters
    ----------
    values : (n,) float, 3 <= n <= 5000. Give residuals, never raw values pooled over treatments.

    Returns
    -------
    Check with W and p; with its reason where n or the spread forbids the test.

    Notes
    -----
    Royston 1995, Appl. Stat. 44:547 (AS R94). With few plots the test has little power.

    Examples
    --------
    >>> check = shapiro_wilk([148, 154, 158, 160, 161, 162, 166, 170, 182, 195, 236])
    >>> round(check.statistic, 2), round(check.p, 4)  # Shapiro & Wilk 1965, example 1: W = 0.79
    (0.79, 0.0067)
    """
    x = np.sort(np.asarray(values, dtype=float))
    n = len(x)
    name = "Shapiro-Wilk on residuals"
    if not 3 <= n <= 5000:
        return Check(name, None, (), None, reason=f"the test is defined for 3 to 5000, not {n}")
    centred = x - x.mean()
    total = float(centred @ centred)
    if total <= 0:
        return Check(name, None, (), None, reason="all values are equal")
    if n == 3:
        a = np.array([-math.sqrt(0.5), 0.0, math.sqrt(0.5)])
    else:
        m = special.ndtri((np.arange(1, n + 1) - 0.375) / (n + 0.25))
        ss = float(m @ m)
        u = 1 / math.sqrt(n)
        c = m / math.sqrt(ss)
        a = np.empty(n)
        last = np.polyval([-2.706056, 4.434685, -2.071190, -0.147981, 0.221157, c[-1]], u)
        if n > 5:
            second = np.polyval([-3.582633, 5.682633, -1.752461, -0.293762, 0.042981, c[-2]], u)
            phi = (ss - 2 * m[-1] ** 2 - 2 * m[-2] ** 2) / (1 - 2 * last**2 - 2 * second**2)
            a[:] = m / math.sqrt(phi)
            a[-2], a[1] = second, -second
        else:
            phi = (ss - 2 * m[-1] ** 2) / (1 - 2 * last**2)
            a[:] = m / math.sqrt(phi)
        a[-1], a[0] = last, -last
    w = min(1.0, float(a @ centred) ** 2 / total)
    return Check(name, w, (), _royston_p(w, n))


def _royston_p(w: float, n: int) -> float:
    if n == 3:
        p = 6 / math.pi * (math.asin(math.sqrt(w)) - math.asin(math.sqrt(0.75)))
        return min(1.0, max(0.0, p))
    if w >= 1.0:
        return 1.0
    y = math.log(1 - w)
    if n <= 11:
        gamma = -2.273 + 0.459 * n
        if y >= gamma:
            return 1e-99
        y = -math.log(gamma - y)
        mean = float(np.polyval([-0.0006714, 0.025054, -0.39978, 0.5440], n))
        sd = math.exp(float(np.polyval([-0.0020322, 0.062767, -0.77857, 1.3822], n)))
    else:
        log_n = math.log(n)
        mean = float(np.polyval([0.0038915, -0.083751, -0.31082, -1.5861], log_n))
        sd = math.exp(float(np.polyval([0.0030302, -0.082676, -0.4803], log_n)))
    return dist.normal_upper((y - mean) / sd)


def brown_forsythe(
    values: Sequence[float] | Floats,
    groups: Sequence[str],
    centre: Literal["median", "mean"] = "median",
) -> Check:
    """Test whether groups have one variance: ANOVA of distances from the median (or mean).

    Parameters
    ----------
    values : (n,) float. In a block design the residuals of the model, not the raw values.
    groups : (n,) labels.
    centre : "median" is Brown-Forsythe, "mean" is Levene.

    Returns
    -------
    Check with F, (k - 1, n - k) df and p; with its reason where it cannot be computed.

    Notes
    -----
    Brown & Forsythe 1974, JASA 69:364.

    Examples
    --------
    >>> brown_forsythe([1, 2, 3, 1, 5, 9], ["a", "a", "a", "b", "b", "b"]).df
    (1.0, 4.0)
    """
    name = "Brown-Forsythe" if centre == "median" else "Levene"
    y = np.asarray(values, dtype=float)
    labels = np.asarray(groups)
    levels = level_order([str(g) for g in groups])
    if len(levels) < 2 or min(int((labels == g).sum()) for g in levels) < 2:
        return Check(name, None, (), None, reason="needs two plots in each of two treatments")
    z = np.empty(len(y))
    for g in levels:
        rows = labels == g
        z[rows] = np.abs(y[rows] - (np.median(y[rows]) if centre == "median" else y[rows].mean()))
    n, k = len(y), len(levels)
    grand = float(z.mean())
    between = sum(int((labels == g).sum()) * (z[labels == g].mean() - grand) ** 2 for g in levels)
    within = sum(float(((z[labels == g] - z[labels == g].mean()) ** 2).sum()) for g in levels)
    if within <= 0 or n <= k:
        return Check(name, None, (), None, reason="the distances do not vary within treatments")
    f = float(between) / (k - 1) / (within / (n - k))
    return Check(name, f, (float(k - 1), float(n - k)), dist.f_upper(f, k - 1, n - k))


def bartlett(values: Sequence[float] | Floats, groups: Sequence[str]) -> Check:
    """Test whether normal groups have one variance (sensitive to non-normality).

    Parameters
    ----------
    values : (n,) float.
    groups : (n,) labels.

    Returns
    -------
    Check with chi-squared on k - 1 df; with its reason where a group has no variance.

    Notes
    -----
    Bartlett 1937, Proc. R. Soc. A 160:268.

    Examples
    --------
    >>> round(bartlett([1, 2, 3, 4, 5, 6], ["a", "a", "a", "b", "b", "b"]).p, 9)
    1.0
    """
    y = np.asarray(values, dtype=float)
    labels = np.asarray(groups)
    levels = level_order([str(g) for g in groups])
    n = np.array([int((labels == g).sum()) for g in levels])
    if len(levels) < 2 or n.min() < 2:
        return Check("Bartlett", None, (), None, reason="needs two plots in each of two treatments")
    v = np.array([y[labels == g].var(ddof=1) for g in levels])
    if v.min() <= 0:
        return Check("Bartlett", None, (), None, reason="a treatment has no variance at all")
    df = n - 1
    pooled = float((df * v).sum() / df.sum())
    k = len(levels)
    stat = float(df.sum() * math.log(pooled) - (df * np.log(v)).sum())
    correction = 1 + ((1 / df).sum() - 1 / df.sum()) / (3 * (k - 1))
    x = max(0.0, stat / float(correction))
    return Check("Bartlett", x, (float(k - 1),), dist.chi2_upper(x, k - 1))
