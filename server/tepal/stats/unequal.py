"""Completely randomised trials whose variances differ: Welch and Games-Howell.

scipy.stats has both, at three times the load time; blocks are ignored by both.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from tepal.stats import distributions as dist
from tepal.stats.design_matrix import level_order
from tepal.stats.ranges import studentized_range_quantile, studentized_range_upper
from tepal.stats.results import (
    Check,
    ComparisonResult,
    DegenerateResponseError,
    Estimate,
    Provenance,
)

if TYPE_CHECKING:
    from collections.abc import Sequence


def games_howell(
    values: Sequence[float | None],
    groups: Sequence[str],
    alpha: float = 0.05,
    name: str = "response",
) -> ComparisonResult:
    """Compare all pairs of a completely randomised trial whose variances differ.

    Parameters
    ----------
    values : (n,) float, any unit; None marks a missing plot.
    groups : (n,) labels. The test knows no blocks: use it in completely randomised trials only.
    alpha : float. Error rate of the whole family (approximately held).

    Returns
    -------
    ComparisonResult; each pair has its own Welch df, so there is no common critical value.

    Raises
    ------
    DegenerateResponseError   `stats.one_replicate`: a group has fewer than two plots or no spread.

    Notes
    -----
    Games & Howell 1976, J. Educ. Stat. 1:113.

    Examples
    --------
    >>> r = games_howell([1, 2, 3, 7, 9, 14], ["a", "a", "a", "b", "b", "b"])
    >>> round(r.comparisons[0].df, 3)  # (1/3 + 13/3)^2 / ((1/3)^2 / 2 + (13/3)^2 / 2)
    2.306
    """
    y = np.array([np.nan if v is None else v for v in values], dtype=float)
    labels = np.asarray([str(g) for g in groups])
    known = ~np.isnan(y)
    levels = level_order([str(x) for x in labels[known]])
    parts = {g: y[known & (labels == g)] for g in levels}
    for g, part in parts.items():
        if len(part) < 2 or float(part.var(ddof=1)) == 0.0:
            raise DegenerateResponseError(
                "stats.one_replicate",
                f"{g} has {len(part)} usable plot(s) without spread between them: Games-Howell"
                " needs a variance of its own for every treatment.",
                level=g,
            )
    k = len(levels)
    rows = []
    for i in range(k):
        for j in range(i + 1, k):
            a, b = parts[levels[i]], parts[levels[j]]
            va, vb = float(a.var(ddof=1)) / len(a), float(b.var(ddof=1)) / len(b)
            se = math.sqrt(va + vb)
            df = (va + vb) ** 2 / (va**2 / (len(a) - 1) + vb**2 / (len(b) - 1))
            d = float(a.mean() - b.mean())
            t = d / se
            c = studentized_range_quantile(1 - alpha, k, df) / math.sqrt(2)
            rows.append(
                Estimate(
                    f"{levels[i]} - {levels[j]}",
                    d,
                    se,
                    df,
                    d - c * se,
                    d + c * se,
                    t,
                    dist.t_two_sided(t, df),
                    studentized_range_upper(abs(t) * math.sqrt(2), k, df),
                    pair=(levels[i], levels[j]),
                )
            )
    about = Provenance(
        method="Games-Howell comparison of all pairs, Welch df",
        formula=f"{name} ~ treatment, a variance for each treatment",
        unit_of_analysis="plot",
        n=int(known.sum()),
        assumptions=("plots completely randomised", "normal within treatments"),
        notes=("blocks are ignored",),
    )
    return ComparisonResult(
        about,
        "Games-Howell",
        "two-sided",
        alpha,
        tuple(rows),
        critical_reason="each pair has its own degrees of freedom",
    )


def welch_anova(values: Sequence[float | None], groups: Sequence[str]) -> Check:
    """Test equal means in a completely randomised trial without assuming one variance.

    Parameters
    ----------
    values : (n,) float; None marks a missing plot.
    groups : (n,) labels.

    Returns
    -------
    Check with F, (k - 1, Welch's df) and p; with its reason where a group has no variance.

    Notes
    -----
    Welch 1951, Biometrika 38:330. scipy.stats.f_oneway(equal_var=False) gives the same.

    Examples
    --------
    >>> welch_anova([1, 2, 3, 4, 5, 6], ["a", "a", "a", "b", "b", "b"]).df
    (1.0, 4.0)
    """
    y = np.array([np.nan if v is None else v for v in values], dtype=float)
    labels = np.asarray([str(g) for g in groups])
    known = ~np.isnan(y)
    y, labels = y[known], labels[known]
    levels = level_order(list(labels))
    n = np.array([int((labels == g).sum()) for g in levels], dtype=float)
    if len(levels) < 2 or n.min() < 2:
        return Check("Welch", None, (), None, reason="needs two plots in each of two treatments")
    m = np.array([y[labels == g].mean() for g in levels])
    v = np.array([y[labels == g].var(ddof=1) for g in levels])
    if v.min() <= 0:
        return Check("Welch", None, (), None, reason="a treatment has no variance at all")
    k = len(levels)
    w = n / v
    centre = float((w * m).sum() / w.sum())
    lam = float((((1 - w / w.sum()) ** 2) / (n - 1)).sum())
    f = float((w * (m - centre) ** 2).sum() / (k - 1) / (1 + 2 * (k - 2) / (k**2 - 1) * lam))
    df2 = (k**2 - 1) / (3 * lam)
    return Check("Welch", f, (float(k - 1), df2), dist.f_upper(f, k - 1, df2))
