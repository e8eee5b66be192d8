"""Ranks: scipy's Friedman, Kruskal-Wallis and Mann-Whitney; loaded only where used.

Written here is what it lacks: Dunn's and Steel's comparisons, reasons where a test cannot run.
"""

from __future__ import annotations

import dataclasses
import math
from typing import TYPE_CHECKING

import numpy as np

from tepal.stats import distributions as dist
from tepal.stats.design_matrix import level_order
from tepal.stats.linear import select_rows
from tepal.stats.multiplicity import Adjustment, adjust_p
from tepal.stats.results import (
    Alternative,
    Check,
    ComparisonResult,
    DegenerateResponseError,
    DesignRefusedError,
    Estimate,
    Provenance,
    RankResult,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from tepal.stats.linear import Responses

    Floats = NDArray[np.float64]


def kruskal_wallis(
    values: Responses, groups: Sequence[str], adjust: Adjustment = "holm"
) -> RankResult:
    """Compare ranks in a completely randomised trial, all pairs after Dunn.

    Parameters
    ----------
    values : (n,) float, ratings or plot values; None marks a missing plot. Blocks are ignored.
    groups : (n,) labels.
    adjust : p-value adjustment of the pairs.

    Returns
    -------
    RankResult: H (tie corrected) and z of mean ranks, pair (second - first).

    Raises
    ------
    DegenerateResponseError   `stats.no_variation`, `stats.no_data`.
    DesignRefusedError        `stats.one_level`.

    Notes
    -----
    Kruskal & Wallis 1952, JASA 47:583; Dunn 1964, Technometrics 6:241.

    Examples
    --------
    >>> r = kruskal_wallis([1, 2, 3, 4, 5, 6], list("aaabbb"))
    >>> round(r.test.statistic, 4)  # 12 / 42 * (36 + 225) / 3 - 21
    3.8571
    """
    from scipy.stats import kruskal, rankdata

    y, kept, _, _ = select_rows(values, {"group": list(groups)}, {})
    labels = np.asarray(kept["group"])
    levels = level_order(list(labels))
    if len(levels) < 2:
        raise DesignRefusedError("stats.one_level", "There is one treatment only to compare.")
    if float(np.ptp(y)) == 0:
        raise DegenerateResponseError("stats.no_variation", "All plots have the same rating.")
    h, p = kruskal(*(y[labels == g] for g in levels))
    ranks = rankdata(y)
    n = len(y)
    counts = np.unique(y, return_counts=True)[1]
    ties = float((counts**3 - counts).sum()) / (12 * (n - 1))
    variance = n * (n + 1) / 12 - ties
    means = {g: float(ranks[labels == g].mean()) for g in levels}
    sizes = {g: int((labels == g).sum()) for g in levels}
    pairs = [(a, b) for i, a in enumerate(levels) for b in levels[i + 1 :]]
    z = [
        (means[b] - means[a]) / math.sqrt(variance * (1 / sizes[a] + 1 / sizes[b]))
        for a, b in pairs
    ]
    raw = [2 * dist.normal_upper(abs(v)) for v in z]
    rows = tuple(
        Estimate(
            f"{b} - {a}",
            means[b] - means[a],
            statistic=z[j],
            p=raw[j],
            p_adjusted=q,
            scale="rank",
            pair=(b, a),
        )
        for j, ((a, b), q) in enumerate(zip(pairs, adjust_p(raw, adjust), strict=True))
    )
    return RankResult(
        _about(f"Kruskal-Wallis, pairs by Dunn, {adjust}", n, ("plots completely randomised",)),
        Check("Kruskal-Wallis", float(h), (float(len(levels) - 1),), float(p)),
        rows,
    )


def friedman(values: Responses, treatments: Sequence[str], blocks: Sequence[str]) -> RankResult:
    """Compare ranks within complete blocks.

    Parameters
    ----------
    values : (n,) float; a block with a missing plot is left out, and counted in the notes.
    treatments, blocks : (n,) labels, each treatment once in a block.

    Returns
    -------
    RankResult, chi-squared corrected for ties; the Estimates are mean ranks' differences.

    Raises
    ------
    DesignRefusedError   `stats.not_complete_blocks`: fewer than two complete blocks, or three
        treatments are not there.

    Notes
    -----
    Friedman 1937, JASA 32:675; with ties Hollander & Wolfe 1973, p. 140.

    Examples
    --------
    >>> r = friedman([1, 2, 3, 1, 3, 2], list("abcabc"), list("111222"))
    >>> round(r.test.statistic, 9)  # rank sums 2, 5, 5: 12 / 24 * 54 - 24
    3.0
    """
    from scipy.stats import friedmanchisquare

    y, kept, _, _ = select_rows(values, {"treatment": list(treatments), "block": list(blocks)}, {})
    levels = level_order([str(t) for t in treatments])
    table: dict[str, dict[str, float]] = {}
    for value, t, b in zip(y, kept["treatment"], kept["block"], strict=True):
        if t in table.setdefault(b, {}):
            raise DesignRefusedError(
                "stats.not_complete_blocks", f"Treatment {t} stands twice in block {b}."
            )
        table[b][t] = float(value)
    full = [b for b, row in table.items() if len(row) == len(levels)]
    if len(full) < 2 or len(levels) < 3:
        raise DesignRefusedError(
            "stats.not_complete_blocks",
            f"{len(full)} complete blocks of {len(levels)} treatments: Friedman's test needs two"
            " complete blocks and three treatments.",
        )
    columns = [np.array([table[b][t] for b in full]) for t in levels]
    if all(float(np.ptp([c[i] for c in columns])) == 0 for i in range(len(full))):
        raise DegenerateResponseError(
            "stats.no_variation", "Within every block all plots have the same rating."
        )
    x, p = friedmanchisquare(*columns)
    dropped = len({str(b) for b in blocks}) - len(full)
    about = _about(
        "Friedman's test in complete blocks", len(full) * len(levels), ("blocks complete",)
    )
    if dropped:
        about = dataclasses.replace(
            about, notes=(f"{dropped} block(s) with a missing plot were left out",)
        )
    return RankResult(about, Check("Friedman", float(x), (float(len(levels) - 1),), float(p)))


def mann_whitney(first: Sequence[float], second: Sequence[float]) -> Check:
    """Compare two treatments by ranks, exact without ties.

    Examples
    --------
    >>> round(mann_whitney([9.76, 8.8, 7.68, 9.36], [7.4, 8.5, 7.2, 8.24, 9.84, 8.32]).p, 4)
    0.3524
    """
    from scipy.stats import mannwhitneyu

    a, b = np.asarray(first, dtype=float), np.asarray(second, dtype=float)
    tied = len(np.unique(np.concatenate([a, b]))) < len(a) + len(b)
    w, p = mannwhitneyu(a, b, method="asymptotic" if tied else "exact")
    return Check("Mann-Whitney" + ("" if tied else ", exact"), float(w), (), float(p))


def steel(
    values: Responses, groups: Sequence[str], control: str, alternative: Alternative = "two-sided"
) -> ComparisonResult:
    """Compare every treatment with the control by ranks, one error rate.

    Parameters
    ----------
    values : (n,) float, completely randomised plots.
    groups : (n,) labels.
    control : the level compared with.
    alternative : only "two-sided" is offered.

    Returns
    -------
    ComparisonResult; `value` is the Mann-Whitney count W of the treatment, `statistic` its z;
    the p-values come from z with continuity correction, `p_adjusted` from the joint normal.

    Raises
    ------
    DesignRefusedError        `stats.unknown_level`, `stats.one_level`.
    DegenerateResponseError   `stats.no_variation`: a pair is wholly tied.

    Notes
    -----
    Steel 1959, Biometrics 15:560; null covariance n_i n_j n_0 / 12, ties in each variance.

    Examples
    --------
    >>> y = [7.4, 8.5, 7.2, 8.24, 9.84, 8.32, 9.76, 8.8, 7.68, 9.36, 12.8, 9.68, 12.16, 9.2, 10.55]
    >>> r = steel(y, ["c"] * 6 + ["A"] * 4 + ["B"] * 5, "c")
    >>> [round(e.p_adjusted, 4) for e in r.comparisons]  # blood counts of Dunnett 1955
    [0.5422, 0.043]
    """
    from scipy.stats import multivariate_normal, rankdata

    if alternative != "two-sided":
        raise ValueError("only the two-sided form is offered")
    y, kept, _, _ = select_rows(values, {"group": list(groups)}, {})
    labels = np.asarray(kept["group"])
    levels = [g for g in level_order(list(labels)) if g != control]
    if control not in set(labels) or not levels:
        raise DesignRefusedError("stats.unknown_level", f"No plots of the control {control!r}.")
    base = y[labels == control]
    n0 = len(base)
    w, z, plain, tau, n = [], [], [], [], []
    for g in levels:
        part = y[labels == g]
        both = np.concatenate([part, base])
        m, total = len(part), len(part) + n0
        counts = np.unique(both, return_counts=True)[1]
        ties = float((counts**3 - counts).sum()) / (total * (total - 1))
        variance = m * n0 / 12 * (total + 1 - ties)
        if variance <= 0:
            raise DegenerateResponseError(
                "stats.no_variation", f"All plots of {g} and {control} have the same value."
            )
        u = float(rankdata(both)[:m].sum()) - m * (m + 1) / 2
        d = u - m * n0 / 2
        w.append(u)
        z.append(math.copysign(max(0.0, abs(d) - 0.5), d) / math.sqrt(variance))
        plain.append(d / math.sqrt(variance))
        tau.append(math.sqrt(variance))
        n.append(m)
    k = len(levels)
    R = np.eye(k)
    for i in range(k):
        for j in range(k):
            if i != j:
                R[i, j] = n[i] * n[j] * n0 / 12 / (tau[i] * tau[j])
    rows = []
    for i, g in enumerate(levels):
        bound = np.full(k, abs(z[i]))
        inside = (
            1 - 2 * dist.normal_upper(abs(z[i]))
            if k == 1
            else float(
                multivariate_normal.cdf(
                    bound,
                    cov=R,
                    lower_limit=-bound,
                    maxpts=100_000 * k,
                    rng=np.random.default_rng(20260101),
                )
            )
        )
        rows.append(
            Estimate(
                f"{g} - {control}",
                w[i],
                statistic=plain[i],
                p=2 * dist.normal_upper(abs(z[i])),
                p_adjusted=min(1.0, max(0.0, 1 - inside)),
                scale="rank",
                pair=(g, control),
            )
        )
    about = _about("Steel's many-to-one rank test, asymptotic", len(y), ("completely randomised",))
    return ComparisonResult(
        dataclasses.replace(about, seed=20260101),
        "Steel",
        "two-sided",
        0.05,
        tuple(rows),
        control,
        critical_reason="the ranks differ from pair to pair",
    )


def _about(method: str, n: int, assumptions: tuple[str, ...]) -> Provenance:
    return Provenance(
        method=method,
        formula="ranks of the response by treatment",
        unit_of_analysis="plot",
        n=n,
        assumptions=("plots independent", *assumptions),
    )
