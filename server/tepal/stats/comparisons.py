"""Families of comparisons on the means of any model; they share one core, hence over 400 lines.

scipy's dunnett and tukey_hsd are one-way only and statsmodels has neither in a model with blocks;
everything here works on differences K m with covariance K V K' and the model's error df.
"""

from __future__ import annotations

import dataclasses
import math
from typing import TYPE_CHECKING

import numpy as np

from tepal.stats import distributions as dist
from tepal.stats import mvt
from tepal.stats.multiplicity import Adjustment, adjust_p
from tepal.stats.ranges import studentized_range_quantile, studentized_range_upper
from tepal.stats.results import (
    Alternative,
    ComparisonResult,
    DegenerateResponseError,
    DesignRefusedError,
    Estimate,
    MeansResult,
    TermTest,
)

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

DEFAULT_SEED = 20260101


def dunnett(
    means: MeansResult,
    control: str,
    alternative: Alternative = "two-sided",
    alpha: float = 0.05,
    seed: int = DEFAULT_SEED,
) -> ComparisonResult:
    """Compare every treatment with the control, one error rate for the family.

    Parameters
    ----------
    means : MeansResult   k + 1 means of any model; on its link scale.
    control : str         One of the levels.
    alternative : "two-sided"; "greater" or "less" for treatments above or below the control.
    alpha : float         Error rate of the whole family.
    seed : int            Used, and reported, only where correlations force the random integral.

    Returns
    -------
    ComparisonResult with `critical`, and per treatment estimate, SE, t, p, p_adjusted, limits.

    Raises
    ------
    DesignRefusedError   `stats.unknown_level`: the control has no usable plots.

    Notes
    -----
    Dunnett 1955, J. Am. Stat. Assoc. 50:1096; Hothorn, Bretz & Westfall 2008, Biom. J. 50:346.

    Examples
    --------
    >>> from tepal.stats import fit_linear, lsmeans
    >>> fit = fit_linear([55, 47, 48, 55, 64, 64, 55, 49, 52, 50, 44, 41],
    ...                  {"process": ["ctrl"] * 3 + ["P1"] * 3 + ["P2"] * 3 + ["P3"] * 3})
    >>> result = dunnett(lsmeans(fit, "process"), "ctrl")
    >>> [round(c.p_adjusted, 4) for c in result.comparisons]  # Dunnett 1955, fabric strength
    [0.0366, 0.8965, 0.4092]
    """
    levels = means.levels
    at = _index(means, control)
    others = [i for i in range(len(levels)) if i != at]
    K = np.zeros((len(others), len(levels)))
    for row, i in enumerate(others):
        K[row, i], K[row, at] = 1.0, -1.0
    estimates, se, R = differences(means, K)
    df = means.df_error
    t = estimates / se
    parts = mvt.factor(R)
    route = parts.route
    adjusted = mvt.adjusted_p(t, R, df, alternative, seed)
    critical = mvt.critical_value(R, df, alpha, alternative, seed)
    rows = tuple(
        _estimate(
            f"{levels[i]} - {control}",
            (levels[i], control),
            float(estimates[j]),
            float(se[j]),
            df,
            critical,
            _plain_p(float(t[j]), df, alternative),
            adjusted[j],
            alternative,
            means,
        )
        for j, i in enumerate(others)
    )
    words = {
        "product": "exact integral of the multivariate t (product-form correlations)",
        "series": "integral of the multivariate t, second-order series about the product form",
        "quasi-monte-carlo": "randomised integral of the multivariate t (scipy)",
    }[route]
    about = dataclasses.replace(
        means.about,
        method=f"Dunnett's many-to-one comparison, {alternative}, {words}",
        seed=seed if route == "quasi-monte-carlo" else None,
        notes=means.about.notes
        if route == "product"
        else (
            *means.about.notes,
            f"correlations depart from the product form by up to {parts.departure:.2g}",
        ),
    )
    return ComparisonResult(about, "Dunnett", alternative, alpha, rows, control, critical)


def tukey(means: MeansResult, alpha: float = 0.05) -> ComparisonResult:
    """Compare all pairs by Tukey-Kramer: the studentised range with each pair's own error.

    Parameters
    ----------
    means : MeansResult of k >= 2 levels.
    alpha : float. Error rate of the whole family.

    Returns
    -------
    ComparisonResult; `critical` is in standard errors of a difference (q / sqrt 2).

    Notes
    -----
    Kramer 1956, Biometrics 12:307; conservative for unequal errors: Hayter 1984, Ann. Stat. 12:61.

    Examples
    --------
    >>> from tepal.stats import fit_linear, lsmeans
    >>> fit = fit_linear([1, 2, 3, 4, 5, 9], {"t": ["a", "a", "b", "b", "c", "c"]})
    >>> [c.label for c in tukey(lsmeans(fit, "t")).comparisons]
    ['a - b', 'a - c', 'b - c']
    """
    k = len(means.means)
    df = means.df_error
    critical = studentized_range_quantile(1 - alpha, k, df) / math.sqrt(2)
    pairs, K = _all_pairs(means)
    estimates, se, _ = differences(means, K)
    rows = []
    for j, pair in enumerate(pairs):
        t = float(estimates[j] / se[j])
        rows.append(
            _estimate(
                " - ".join(pair),
                pair,
                float(estimates[j]),
                float(se[j]),
                df,
                critical,
                dist.t_two_sided(t, df),
                studentized_range_upper(abs(t) * math.sqrt(2), k, df),
                "two-sided",
                means,
            )
        )
    about = dataclasses.replace(means.about, method="Tukey-Kramer comparison of all pairs")
    return ComparisonResult(about, "Tukey-Kramer", "two-sided", alpha, tuple(rows), None, critical)


def lsd(
    means: MeansResult,
    alpha: float = 0.05,
    protected_by: TermTest | None = None,
    adjust: Adjustment = "none",
) -> ComparisonResult:
    """Compare all pairs by t: Fisher's least significant difference, protected or adjusted.

    Parameters
    ----------
    means : MeansResult.
    alpha : float. Error rate of each pair (of the family with `adjust`).
    protected_by : TermTest   The F test of the factor. A pair then counts only if F does too:
        p_adjusted is the larger of the pair's p and the p of F.
    adjust : a p-value adjustment instead; see `adjust_p`.

    Returns
    -------
    ComparisonResult; `critical` is the t quantile (without adjustment).

    Raises
    ------
    ValueError   Both protection and an adjustment are asked for.

    Examples
    --------
    >>> from tepal.stats import fit_linear, lsmeans
    >>> fit = fit_linear([1, 2, 3, 4, 5, 9], {"t": ["a", "a", "b", "b", "c", "c"]})
    >>> result = lsd(lsmeans(fit, "t"), protected_by=fit.term("t"))
    >>> min(c.p_adjusted for c in result.comparisons) >= fit.term("t").p
    True
    """
    if protected_by is not None and adjust != "none":
        raise ValueError("protection by F and an adjustment exclude each other")
    pairs, K = _all_pairs(means)
    estimates, se, R = differences(means, K)
    df = means.df_error
    t = estimates / se
    p = [dist.t_two_sided(float(x), df) for x in t]
    procedure = "LSD"
    if protected_by is not None:
        if protected_by.p is None:
            raise DegenerateResponseError(
                "stats.no_f_test", f"The F test of {protected_by.term} has no p to protect with."
            )
        adjusted = [max(x, protected_by.p) for x in p]
        procedure = "protected LSD"
    else:
        adjusted = _adjusted(p, t, R, df, adjust, len(means.means) - 1)
        if adjust != "none":
            procedure = f"pairwise t, {adjust}"
    critical = dist.t_quantile(1 - alpha / 2, df) if adjust == "none" else None
    rows = tuple(
        _estimate(
            " - ".join(pair),
            pair,
            float(estimates[j]),
            float(se[j]),
            df,
            critical if critical is not None else dist.t_quantile(1 - alpha / 2, df),
            p[j],
            adjusted[j],
            "two-sided",
            means,
        )
        for j, pair in enumerate(pairs)
    )
    about = dataclasses.replace(
        means.about,
        method=f"{procedure} comparison of all pairs",
        notes=(*means.about.notes, "intervals are pointwise"),
    )
    return ComparisonResult(
        about,
        procedure,
        "two-sided",
        alpha,
        rows,
        None,
        critical,
        None if critical is not None else "the adjustment has no common critical value",
    )


def contrasts(
    means: MeansResult,
    coefficients: Mapping[str, Mapping[str, float]],
    adjust: Adjustment = "none",
    alpha: float = 0.05,
    seed: int = DEFAULT_SEED,
) -> ComparisonResult:
    """Estimate planned contrasts of the means.

    Parameters
    ----------
    means : MeansResult.
    coefficients : contrast name -> {level: coefficient}; levels not named count zero.
    adjust : p-value adjustment over the contrasts; "single-step" uses the multivariate t.
    alpha : float. Intervals are pointwise, but simultaneous for "single-step".

    Returns
    -------
    ComparisonResult, one Estimate per contrast in the unit of the response (link scale).

    Raises
    ------
    DesignRefusedError   `stats.unknown_level`, `stats.zero_contrast`.

    Examples
    --------
    >>> from tepal.stats import fit_linear, lsmeans
    >>> fit = fit_linear([1, 2, 3, 4, 5, 9], {"t": ["a", "a", "b", "b", "c", "c"]})
    >>> c = contrasts(lsmeans(fit, "t"), {"c against rest": {"a": -0.5, "b": -0.5, "c": 1}})
    >>> c.comparisons[0].value
    4.5
    """
    K = np.zeros((len(coefficients), len(means.means)))
    for row, (name, parts) in enumerate(coefficients.items()):
        for level, weight in parts.items():
            K[row, _index(means, level)] += weight
        if not K[row].any():
            raise DesignRefusedError(
                "stats.zero_contrast", f"All coefficients of the contrast {name!r} are zero."
            )
    estimates, se, R = differences(means, K)
    df = means.df_error
    t = estimates / se
    p = [dist.t_two_sided(float(x), df) for x in t]
    adjusted = _adjusted(p, t, R, df, adjust, len(means.means) - 1, seed)
    critical = (
        mvt.critical_value(R, df, alpha, "two-sided", seed)
        if adjust == "single-step"
        else dist.t_quantile(1 - alpha / 2, df)
    )
    rows = tuple(
        _estimate(
            name,
            None,
            float(estimates[j]),
            float(se[j]),
            df,
            critical,
            p[j],
            adjusted[j],
            "two-sided",
            means,
        )
        for j, name in enumerate(coefficients)
    )
    about = dataclasses.replace(
        means.about, method=f"contrasts of {means.factor}, adjustment: {adjust}"
    )
    return ComparisonResult(about, "contrasts", "two-sided", alpha, rows, None, critical)


def joint_test(means: MeansResult) -> TermTest:
    """Test that all means of the factor are equal: one F for treatments or for cells.

    Parameters
    ----------
    means : MeansResult of k >= 2 levels.

    Returns
    -------
    TermTest with F on (k - 1, error df).

    Examples
    --------
    >>> from tepal.stats import fit_linear, lsmeans
    >>> fit = fit_linear([1, 2, 3, 4, 5, 9], {"t": ["a", "a", "b", "b", "c", "c"]})
    >>> abs(joint_test(lsmeans(fit, "t")).f - fit.term("t").f) < 1e-9
    True
    """
    k = len(means.means)
    K = np.column_stack([-np.ones((k - 1, 1)), np.eye(k - 1)])
    d, se, R = differences(means, K)
    t = d / se
    f = float(t @ np.linalg.solve(R, t)) / (k - 1)
    p = dist.f_upper(f, k - 1, means.df_error)
    return TermTest(
        means.factor,
        k - 1,
        None,
        None,
        f,
        p,
        means.df_error,
        reason="a Wald test of the means has no sum of squares",
    )


def differences(means: MeansResult, K: Floats) -> tuple[Floats, Floats, Floats]:
    """Return estimates (m,), standard errors (m,) and correlations (m, m) of contrasts K (m, k).

    Examples
    --------
    >>> from tepal.stats import fit_linear, lsmeans
    >>> fit = fit_linear([1, 2, 3, 4], {"t": ["a", "a", "b", "b"]})
    >>> differences(lsmeans(fit, "t"), np.array([[1.0, -1.0]]))[0].tolist()
    [-2.0]
    """
    m = np.array([e.value for e in means.means], dtype=float)
    # INVARIANT: differences first, so that large common means lose nothing in K m
    estimates = K @ (m - m[0]) + K.sum(axis=1) * m[0]
    V = K @ np.array(means.covariance) @ K.T
    se = np.sqrt(np.maximum(np.diag(V), 0.0))
    if not (se > 0).all():
        raise DegenerateResponseError(
            "stats.no_error_variation", "A comparison has no error to be judged by."
        )
    R = V / np.outer(se, se)
    np.fill_diagonal(R, 1.0)
    return estimates, se, R


def _adjusted(
    p: list[float],
    t: Floats,
    R: Floats,
    df: float,
    adjust: Adjustment,
    rank: int,
    seed: int = DEFAULT_SEED,
) -> list[float]:
    if adjust == "scheffe":
        return [dist.f_upper(float(x) ** 2 / rank, rank, df) for x in t]
    if adjust == "single-step":
        return mvt.adjusted_p(t, R, df, "two-sided", seed)
    return adjust_p(p, adjust)


def _all_pairs(means: MeansResult) -> tuple[list[tuple[str, str]], Floats]:
    levels = means.levels
    k = len(levels)
    if k < 2:
        raise DesignRefusedError(
            "stats.one_level", f"{means.factor} has one level: there is no pair to compare."
        )
    pairs = [(levels[i], levels[j]) for i in range(k) for j in range(i + 1, k)]
    K = np.zeros((len(pairs), k))
    for row, (first, second) in enumerate(pairs):
        K[row, levels.index(first)], K[row, levels.index(second)] = 1.0, -1.0
    return pairs, K


def _index(means: MeansResult, level: str) -> int:
    if level not in means.levels:
        raise DesignRefusedError(
            "stats.unknown_level",
            f"{means.factor} has no mean of {level!r}; it has {', '.join(means.levels)}."
            " A treatment without usable plots, or with zeros only, has none.",
            level=level,
        )
    return means.levels.index(level)


def _plain_p(t: float, df: float, alternative: Alternative) -> float:
    if alternative == "two-sided":
        return dist.t_two_sided(t, df)
    return dist.t_upper(t if alternative == "greater" else -t, df)


def _estimate(
    label: str,
    pair: tuple[str, str] | None,
    value: float,
    se: float,
    df: float,
    critical: float,
    p: float,
    p_adjusted: float,
    alternative: Alternative,
    means: MeansResult,
) -> Estimate:
    half = critical * se
    return Estimate(
        label,
        value,
        se,
        df,
        None if alternative == "less" else value - half,
        None if alternative == "greater" else value + half,
        value / se,
        p,
        p_adjusted,
        scale=means.means[0].scale,
        pair=pair,
    )
