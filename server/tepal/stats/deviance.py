"""Counts and proportions near zero: deviance tests and profile intervals of one treatment.

No library call; Wald tests collapse where a mean is near zero, the deviance holds.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Literal

import numpy as np

from tepal.stats import distributions as dist
from tepal.stats.glm import CountTable, deviance_of
from tepal.stats.results import DesignRefusedError, Estimate, TermTest, known
from tepal.stats.roots import increasing_root

if TYPE_CHECKING:
    from collections.abc import Callable

    from tepal.stats.models import FittedModel


def deviance_test(fit: FittedModel, factor: str, level: str, control: str) -> TermTest:
    """Test one treatment against the control by the deviance, which holds near zero.

    Parameters
    ----------
    fit : FittedModel from `fit_count` or `fit_proportion`.
    factor, level, control : str. The two levels are merged and the model fitted again.

    Returns
    -------
    TermTest with F on (1, error df). Not adjusted for the number of treatments.

    Notes
    -----
    A Wald test collapses where a mean is near zero: Hauck & Donner 1977, JASA 72:851.

    Examples
    --------
    >>> from tepal.stats import fit_count
    >>> fit = fit_count([10, 7, 20, 0, 1, 0], {"spray": ["A", "A", "A", "C", "C", "C"]})
    >>> deviance_test(fit, "spray", "C", "A").p < 0.05
    True
    """
    d = _constrained_deviance(fit, factor, level, control, 0.0)
    extra = max(0.0, d - _deviance(fit))
    f = extra / fit.dispersion
    return TermTest(
        f"{level} - {control}",
        1,
        extra,
        extra,
        f,
        dist.f_upper(f, 1, fit.df_error),
        float(fit.df_error),
    )


def profile_interval(
    fit: FittedModel, factor: str, level: str, control: str, alpha: float = 0.05
) -> Estimate:
    """Return the difference of a treatment from the control with its profile interval.

    Parameters
    ----------
    fit : FittedModel from `fit_count` or `fit_proportion`.
    factor, level, control : str.
    alpha : 0 < alpha < 1   Pointwise level of the interval.

    Returns
    -------
    Estimate on the link scale (log ratio, or log odds ratio). A level without any count has the
    value None with the reason, and a one-sided interval.

    Notes
    -----
    All d with D(d) - D <= dispersion * F(1, error df): Venzon & Moolgavkar 1988, Appl. Stat. 37:87.

    Examples
    --------
    >>> from tepal.stats import fit_count
    >>> fit = fit_count([10, 7, 20, 4, 1, 3, 0, 0, 0], {"spray": list("AAABBBCCC")})
    >>> e = profile_interval(fit, "spray", "C", "A")
    >>> e.value is None, e.lower is None, e.upper < 0
    (True, True, True)
    """
    base = _deviance(fit)
    limit = fit.dispersion * dist.f_quantile(1 - alpha, 1, fit.df_error)

    def excess(d: float) -> float:
        return _constrained_deviance(fit, factor, level, control, d) - base - limit

    zero = {lvl: edge for name, lvl, edge in fit.zero_levels if name == factor}
    scale: Literal["log", "logit"] = "log" if fit.link == "log" else "logit"
    label = f"{level} - {control}"
    test = deviance_test(fit, factor, level, control)
    if control in zero:
        return Estimate(
            label,
            None,
            p=test.p,
            scale=scale,
            pair=(level, control),
            reason=f"the control {control} lies on the edge of the scale in every plot",
        )
    if level in zero:
        rising = zero[level] == 0.0
        bound = _crossing(excess, 0.0, 1.0 if rising else -1.0)
        return Estimate(
            label,
            None,
            df=float(fit.df_error),
            lower=None if rising else bound,
            upper=bound if rising else None,
            p=test.p,
            scale=scale,
            pair=(level, control),
            reason="every plot lies on the edge of the scale: only one limit exists",
        )
    L = fit.design.row({factor: level}, {}) - fit.design.row({factor: control}, {})
    value = float(L @ fit.coef)
    return Estimate(
        label,
        value,
        float(math.sqrt(L @ fit.cov @ L)),
        float(fit.df_error),
        _crossing(excess, value, -1.0),
        _crossing(excess, value, 1.0),
        statistic=test.f,
        p=test.p,
        scale=scale,
        pair=(level, control),
    )


def _crossing(f: Callable[[float], float], start: float, direction: float) -> float | None:
    near, far = start, start + direction
    for _ in range(7):  # doubling to a log ratio of 100: beyond that no limit is reported
        if f(far) > 0:
            low, high = sorted((near, far))
            if direction > 0:
                if f(low) > 0:  # the edge level: walk back to where the deviance is not in excess
                    while f(low) > 0 and low > start - 100:
                        low -= 2.0
                return float(increasing_root(f, low, high, 1e-9))
            if f(high) > 0:
                while f(high) > 0 and high < start + 100:
                    high += 2.0
            return float(-increasing_root(lambda x: f(-x), -high, -low, 1e-9))
        near, far = far, start + 2 * (far - start)
    return None


def _deviance(fit: FittedModel) -> float:
    return known(fit.deviance)


def _constrained_deviance(
    fit: FittedModel, factor: str, level: str, control: str, d: float
) -> float:
    """Return the deviance with `level` held at `control` plus d on the link scale."""
    labels = fit.factors.get(factor)
    if labels is None or level not in labels or control not in labels:
        raise DesignRefusedError(
            "stats.unknown_level", f"{factor} has no usable plots of {level!r} and {control!r}."
        )
    merged = {k: list(v) for k, v in fit.factors.items()}
    merged[factor] = [control if x == level else x for x in labels]
    if fit.kind == "linear":
        raise ValueError("a deviance test needs a generalised model")
    data = CountTable(
        fit.kind,
        fit.response,
        merged,
        {k: np.asarray(v) for k, v in fit.covariates.items()},
        fit.offset + np.where(np.asarray(labels) == level, d, 0.0),
        fit.weights,
        factor,
    )
    return deviance_of(data, fit.design.terms)
