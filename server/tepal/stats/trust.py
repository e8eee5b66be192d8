"""Can it be trusted: residuals, additivity, influence, a slope over the bench, Box-Cox.

Tests of assumptions have little power with few plots: show the residuals first. statsmodels has
influence measures but none of these for a block model without being loaded.
"""

from __future__ import annotations

import dataclasses
import math
from typing import TYPE_CHECKING

import numpy as np

from tepal.domain.errors import Finding
from tepal.stats import distributions as dist
from tepal.stats.linear import fit_linear
from tepal.stats.normality import brown_forsythe, shapiro_wilk
from tepal.stats.results import (
    Check,
    DegenerateResponseError,
    DesignRefusedError,
    Estimate,
    StatsError,
    SuspectPlot,
    TrustResult,
)

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from numpy.typing import NDArray

    from tepal.stats.models import FittedModel

    Floats = NDArray[np.float64]

# The level at which a check speaks up: convention, no source.
ALPHA_CHECK = 0.05


def trust(
    fit: FittedModel,
    factor: str = "treatment",
    rows: Sequence[float] | None = None,
    columns: Sequence[float] | None = None,
    labels: Sequence[str] | None = None,
) -> TrustResult:
    """Check the assumptions of a fitted model and name the plots worth a second look.

    Parameters
    ----------
    fit : FittedModel.
    factor : str            The treatment factor, for one variance per treatment.
    rows, columns : (n,) float, bench positions of the used rows, in steps; both or none.
    labels : (n,) str       Names of the used plots. Default: their number in the table, from 1.

    Returns
    -------
    TrustResult: Shapiro-Wilk, Brown-Forsythe, additivity, spatial trend; each Check carries a
    Finding or a reason. A suspect plot has a deleted residual beyond its Bonferroni limit at 5 %.

    Notes
    -----
    Outlier test and Cook's distance: Cook & Weisberg 1982, Residuals and Influence in Regression,
    ch. 2. Generalised models are checked on Pearson residuals.

    Examples
    --------
    >>> from tepal.stats import fit_linear
    >>> fit = fit_linear([10, 11, 12, 20, 21, 22, 30, 31, 32.5], {"treatment": list("aaabbbccc")})
    >>> trust(fit).suspects
    ()
    """
    # plots on the edge of the scale were left out of a generalised fit and have no residual
    inner = fit.leverage > 0
    residuals = fit.residuals[inner]
    shown = [str(i + 1) for i in np.flatnonzero(fit.used)] if labels is None else list(labels)
    standardised, deleted, cook = influence(fit)
    checks = [
        _with_finding(
            shapiro_wilk(residuals),
            "stats.not_normal",
            "The residuals do not look normal: look at the plots, consider a transformation or the"
            " model for the type of response.",
        )
    ]
    if factor in fit.factors:
        checks.append(
            _with_finding(
                brown_forsythe(
                    residuals,
                    [g for g, ok in zip(fit.factors[factor], inner, strict=True) if ok],
                ),
                "stats.unequal_variances",
                "The treatments do not vary alike: consider a transformation, or in a completely"
                " randomised trial Welch and Games-Howell.",
            )
        )
    if fit.kind == "linear":
        checks.append(
            _with_finding(
                additivity(fit),
                "stats.not_additive",
                "Treatment effects change with the level of the block: a log scale may add up.",
            )
        )
        if rows is not None and columns is not None:
            checks.append(
                _with_finding(
                    spatial_trend(fit, rows, columns),
                    "stats.spatial_trend",
                    "There is a slope over the bench that the blocks do not take up.",
                )
            )
    n = len(residuals)
    suspects: list[SuspectPlot] = []
    if fit.df_error > 1:
        limit = dist.t_quantile(1 - 0.05 / (2 * n), fit.df_error - 1)
        suspects = [
            SuspectPlot(
                int(np.flatnonzero(fit.used)[i]),
                shown[i],
                float(fit.response[i]),
                float(fit.fitted[i]),
                float(standardised[i]),
                float(cook[i]),
                "far from what its treatment and block let expect: check sheet and photo",
            )
            for i in np.flatnonzero(np.abs(deleted) > limit)
        ]
    about = dataclasses.replace(
        fit.about,
        method="checks on residuals",
        notes=(*fit.about.notes, "with few plots these tests have little power: look at the plots"),
    )
    return TrustResult(
        about,
        tuple(checks),
        tuple(suspects),
        tuple(float(x) for x in standardised),
        tuple(float(x) for x in fit.fitted),
    )


def influence(fit: FittedModel) -> tuple[Floats, Floats, Floats]:
    """Return standardised residuals, deleted residuals and Cook's distances, each (n,).

    A plot that has a coefficient of its own (leverage 1) gets 0 in all three: its residual is zero
    by construction and says nothing.

    Examples
    --------
    >>> from tepal.stats import fit_linear
    >>> fit = fit_linear([1, 2, 3, 4, 5, 60], {"treatment": list("aaabbb")})
    >>> int(np.argmax(influence(fit)[2]))
    5
    """
    h = np.clip(fit.leverage, 0.0, 1.0)
    free = h < 1 - 1e-9
    room = np.where(free, 1 - h, 1.0)
    scale = math.sqrt(fit.dispersion)
    standardised = np.where(free, fit.residuals / (scale * np.sqrt(room)), 0.0)
    df = fit.df_error
    p = fit.design.matrix.shape[1]
    left = np.maximum(df - standardised**2, 1e-12 * df)
    deleted = standardised * np.sqrt(max(df - 1, 0) / left)
    cook = standardised**2 * h / (room * p)
    return standardised, deleted, cook


def additivity(fit: FittedModel) -> Check:
    """Test whether the terms add up, with one degree of freedom for their product.

    Parameters
    ----------
    fit : FittedModel, linear, with at least two terms (block and treatment).

    Returns
    -------
    Check with F on (1, error df - 1); with its reason where there is nothing to test.

    Notes
    -----
    Tukey 1949, Biometrics 5:232: the squared fitted values as one more regressor.

    Examples
    --------
    >>> from tepal.stats import fit_linear
    >>> fit = fit_linear([1, 2, 3, 2, 4, 6.1], {"b": list("112233"), "t": list("xyxyxy")})
    >>> additivity(fit).df
    (1.0, 1.0)
    """
    name = "Tukey's one degree of freedom for additivity"
    if len(fit.design.terms) < 2:
        return Check(name, None, (), None, reason="needs two terms: block and treatment")
    centred = fit.fitted - fit.fitted.mean()
    return _one_more(fit, (centred**2)[:, None], name)


def spatial_trend(fit: FittedModel, rows: Sequence[float], columns: Sequence[float]) -> Check:
    """Test for a slope over the bench beyond what the model explains.

    Parameters
    ----------
    fit : FittedModel, linear.
    rows, columns : (n,) float, positions of the used rows on the bench, in steps.

    Returns
    -------
    Check with F on (1 or 2, error df less that); with its reason where blocks take up the position.

    Examples
    --------
    >>> from tepal.stats import fit_linear
    >>> fit = fit_linear([1, 2, 3, 4.2, 5, 6, 7, 8], {"treatment": list("abababab")})
    >>> spatial_trend(fit, [1] * 8, range(8)).p < 0.001
    True
    """
    name = "slope over rows and columns of the bench"
    place = np.column_stack([np.asarray(rows, dtype=float), np.asarray(columns, dtype=float)])
    if place.shape[0] != len(fit.response):
        raise DesignRefusedError(
            "stats.length",
            f"{place.shape[0]} positions for {len(fit.response)} used plots; each needs one.",
        )
    return _one_more(fit, place - place.mean(axis=0), name)


def _one_more(fit: FittedModel, extra: Floats, name: str) -> Check:
    Q, _ = np.linalg.qr(fit.design.matrix)
    rest = extra - Q @ (Q.T @ extra)
    rest -= Q @ (Q.T @ rest)
    size = np.sqrt((extra**2).sum(axis=0))
    # HAZARD: a regressor that the model explains already leaves only rounding behind
    keep = np.sqrt((rest**2).sum(axis=0)) > 1e-7 * np.maximum(size, 1e-300)
    rest = rest[:, keep]
    if rest.shape[1] == 0:
        return Check(name, None, (), None, reason="the model explains this already")
    W, r = np.linalg.qr(rest)
    if rest.shape[1] == 2 and abs(r[1, 1]) < 1e-7 * abs(r[0, 0]):
        W = W[:, :1]
    q = W.shape[1]
    df = fit.df_error - q
    if df < 1:
        return Check(name, None, (), None, reason="no degrees of freedom are left for it")
    ss = float(((W.T @ fit.residuals) ** 2).sum())
    left = float(fit.residuals @ fit.residuals) - ss
    if left <= 0:
        return Check(name, None, (), None, reason="nothing is left to compare with")
    f = ss / q / (left / df)
    return Check(name, f, (float(q), float(df)), dist.f_upper(f, q, df))


def box_cox(
    response: Sequence[float | None],
    factors: dict[str, Sequence[str]],
    shift: float = 0.0,
    alpha: float = 0.05,
) -> Estimate:
    """Return the power under which the terms of a linear model fit best, with its interval.

    Parameters
    ----------
    response : (n,) float with response + shift > 0; None marks a missing plot.
    factors : as `fit_linear`, main effects.
    shift : float, unit of the response; 1 for counts with zeros.

    Returns
    -------
    Estimate of lambda (0 is the logarithm, 1 no transformation), searched in [-3, 3].

    Raises
    ------
    StatsError   `stats.not_positive`.

    Notes
    -----
    Profile likelihood, chi-squared on 1 df: Box & Cox 1964, J. R. Stat. Soc. B 26:211.

    Examples
    --------
    >>> e = box_cox([1, 2, 4, 8, 3, 6, 12, 25], {"t": list("abcdabcd")})
    >>> e.lower < 0.5 < 1.2
    True
    """
    y = np.array([np.nan if v is None else v + shift for v in response], dtype=float)
    if not (y[~np.isnan(y)] > 0).all():
        raise StatsError("stats.not_positive", "A power needs values above zero: give a shift.")
    log_mean = float(np.log(y[~np.isnan(y)]).mean())
    scale = math.exp(log_mean)

    def minus2(lam: float) -> float:
        z = y / scale
        w = np.log(z) if abs(lam) < 1e-9 else np.expm1(lam * np.log(z)) / lam
        fit = fit_linear(list(w), factors)
        rss = float(fit.residuals @ fit.residuals)
        return len(fit.response) * math.log(rss)

    best = _golden(minus2, -3.0, 3.0)
    low_value = minus2(best)
    cut = dist.normal_quantile(1 - alpha / 2) ** 2

    def edge(outside: float) -> float | None:
        if minus2(outside) - low_value < cut:
            return None
        a, b = best, outside
        for _ in range(60):
            middle = 0.5 * (a + b)
            a, b = (a, middle) if minus2(middle) - low_value > cut else (middle, b)
        return 0.5 * (a + b)

    return Estimate(
        "Box-Cox lambda",
        best,
        lower=edge(-3.0),
        upper=edge(3.0),
        reason=None if abs(best) < 2.99 else "the best power lies at the edge of the search",
    )


def _golden(f: Callable[[float], float], low: float, high: float) -> float:
    ratio = (math.sqrt(5) - 1) / 2
    a, b = high - ratio * (high - low), low + ratio * (high - low)
    fa, fb = f(a), f(b)
    while high - low > 1e-6:
        if fa < fb:
            high, b, fb = b, a, fa
            a = high - ratio * (high - low)
            fa = f(a)
        else:
            low, a, fa = a, b, fb
            b = low + ratio * (high - low)
            fb = f(b)
    return 0.5 * (low + high)


def _with_finding(check: Check, code: str, message: str) -> Check:
    if check.p is None or check.p >= ALPHA_CHECK:
        return check
    return dataclasses.replace(
        check, finding=Finding(code, "caution", message, context={"p": check.p})
    )


def require_replicates(fit_labels: Sequence[str]) -> None:
    """Raise when no treatment has a second plot, with the sentence to show.

    Examples
    --------
    >>> require_replicates(["a", "a", "b"])
    """
    if len(set(fit_labels)) == len(fit_labels):
        raise DegenerateResponseError(
            "stats.one_replicate",
            "Every treatment has one plot only. Differences between single plots cannot be told"
            " from chance, however many plants a plot holds: nothing but the values can be shown.",
        )
