"""Counts and proportions by quasi-likelihood; over 400 lines, most of them one checked fit.

statsmodels fits these but prints z tests, mistakes the dispersion of two-column proportions and
takes a second to load; the weighted QR below is the textbook iteration with t and F on the
error degrees of freedom.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np
from scipy import special

from tepal.domain.errors import Finding
from tepal.stats import distributions as dist
from tepal.stats.design_matrix import ALIAS_TOLERANCE, build_design, model_matrix
from tepal.stats.linear import select_rows
from tepal.stats.models import FittedModel
from tepal.stats.results import (
    DegenerateResponseError,
    NotConvergedError,
    Provenance,
    TermTest,
)

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray

    from tepal.stats.linear import Responses

    Floats = NDArray[np.float64]

Family = Literal["quasi_poisson", "quasi_binomial"]
# Dispersion outside these is worth a word: common practice, no source.
OVERDISPERSED, UNDERDISPERSED = 1.5, 0.67


def fit_count(
    totals: Responses,
    factors: Mapping[str, Sequence[str]],
    covariates: Mapping[str, Responses] | None = None,
    n_plants: Responses | None = None,
    terms: Sequence[str] | None = None,
    name: str = "count",
) -> FittedModel:
    """Fit a quasi-Poisson model with log link to plot totals.

    Parameters
    ----------
    totals : (n,) whole numbers >= 0, summed over the plants of a plot; None marks a missing plot.
    factors, covariates, terms : as `fit_linear`.
    n_plants : (n,) > 0. Offset log(n_plants): means are counts per plant. None: per plot.

    Returns
    -------
    FittedModel on the log scale; `dispersion` is Pearson's chi-squared over the error df.

    Raises
    ------
    DesignRefusedError        As `fit_linear`.
    DegenerateResponseError   `stats.all_zero`, `stats.negative_count`, `stats.not_whole`.

    Notes
    -----
    F = (D0 - D1) / df / dispersion on the error df; O'Hara & Kotze 2010, Methods Ecol. Evol. 1:118.
    A level with nothing but zeros is left out of the fit (its estimate would be minus infinity)
    and kept in the deviance tests: see `zero_levels`, `deviance_test`, `profile_interval`.

    Examples
    --------
    >>> fit = fit_count([10, 7, 20, 0, 1, 7], {"spray": ["A", "A", "A", "C", "C", "C"]})
    >>> round(fit.deviance, 2)  # 2 sum y ln(y / mean) = 7.21 + 11.55
    18.76
    """
    y = np.array([np.nan if v is None else v for v in totals], dtype=float)
    good = y[~np.isnan(y)]
    if (good < 0).any():
        raise DegenerateResponseError(
            "stats.negative_count", f"{name} holds {good.min():g}; a count is never below zero."
        )
    if (good != np.floor(good)).any():
        worst = float(good[good != np.floor(good)][0])
        raise DegenerateResponseError(
            "stats.not_whole",
            f"{name} holds {worst:g}, which is not a whole number; analyse it as continuous, or"
            " give plot totals with the number of plants.",
        )
    size = np.ones(len(y)) if n_plants is None else _floats(n_plants)
    if not (size[~np.isnan(size)] > 0).all():
        raise DegenerateResponseError(
            "stats.no_plants", "A plot has no plants; leave its count empty instead."
        )
    y = np.where(np.isnan(size), np.nan, y)
    with np.errstate(invalid="ignore"):
        offset = np.log(size)
    return _fit("quasi_poisson", y, factors, covariates or {}, terms, offset, np.ones(len(y)), name)


def fit_proportion(
    successes: Responses,
    trials: Responses,
    factors: Mapping[str, Sequence[str]],
    covariates: Mapping[str, Responses] | None = None,
    terms: Sequence[str] | None = None,
    name: str = "proportion",
) -> FittedModel:
    """Fit a quasi-binomial model with logit link to plot proportions weighted by their trials.

    Parameters
    ----------
    successes, trials : (n,) whole numbers, 0 <= successes <= trials, trials > 0.
    factors, covariates, terms : as `fit_linear`.

    Returns
    -------
    FittedModel on the logit scale; `dispersion` is Pearson's chi-squared over the error df.

    Raises
    ------
    DesignRefusedError        As `fit_linear`.
    DegenerateResponseError   `stats.impossible_proportion`, `stats.all_zero`, `stats.all_one`.

    Examples
    --------
    >>> fit = fit_proportion([10, 23, 23, 53, 55, 32], [39, 62, 81, 74, 72, 51],
    ...                      {"root": ["bean"] * 3 + ["cucumber"] * 3})
    >>> round(float(fit.fitted[0]), 4)  # 56 of 182 seeds
    0.3077
    """
    k, m = _floats(successes), _floats(trials)
    known = ~np.isnan(k) & ~np.isnan(m)
    if ((k < 0) | (k > m) | (m <= 0))[known].any():
        raise DegenerateResponseError(
            "stats.impossible_proportion",
            f"{name}: successes must lie between 0 and the number of trials, which is above 0.",
        )
    with np.errstate(invalid="ignore", divide="ignore"):
        y = np.where(known, k / m, np.nan)
    return _fit("quasi_binomial", y, factors, covariates or {}, terms, np.zeros(len(y)), m, name)


def _floats(values: Responses) -> Floats:
    return np.array([np.nan if v is None else v for v in values], dtype=float)


def _fit(
    family: Family,
    y: Floats,
    factors: Mapping[str, Sequence[str]],
    covariates: Mapping[str, Responses],
    terms: Sequence[str] | None,
    offset: Floats,
    weights: Floats,
    name: str,
) -> FittedModel:
    y_used, kept, kept_covariates, used = select_rows(y, factors, covariates)
    offset, weights = offset[used], weights[used]
    top = 1.0 if family == "quasi_binomial" else math.inf
    for edge, code, words in ((0.0, "stats.all_zero", "zero"), (top, "stats.all_one", "complete")):
        if (y_used == edge).all():
            raise DegenerateResponseError(
                code,
                f"{name} is {words} in every plot: nothing can be compared.",
                response=name,
            )
    full = build_design(kept, kept_covariates, terms)  # refuses an impossible design first
    inner, zero_levels = _without_edges(kept, y_used, full.terms, top)
    design = (
        full
        if inner.all()
        else build_design(
            {k: [x for x, ok in zip(v, inner, strict=True) if ok] for k, v in kept.items()},
            {k: v[inner] for k, v in kept_covariates.items()},
            full.terms,
        )
    )
    yi, oi, wi = y_used[inner], offset[inner], weights[inner]
    coef, mu, R, Q, deviance = _irls(family, design.matrix, yi, oi, wi, name)
    n, p = design.matrix.shape
    df = n - p
    variance = _variance(family, mu)
    pearson = (yi - mu) * np.sqrt(wi / variance)
    dispersion = float((pearson**2).sum()) / df
    if dispersion < 1e-12:
        raise DegenerateResponseError(
            "stats.no_error_variation",
            f"The plots of {name} follow the model exactly, so there is no error to compare with.",
            response=name,
        )
    R_inverse = np.linalg.solve(R, np.eye(p))
    data = CountTable(family, y_used, kept, kept_covariates, offset, weights, name)
    lines = [
        _term_line(
            term,
            data,
            full.terms,
            deviance,
            dispersion,
            full.columns[term].stop - full.columns[term].start,
            df,
        )
        for term in full.terms
    ]
    intercept = np.ones((len(y_used), 1))
    null = _irls(family, intercept, y_used, offset, weights, name)[4]
    link: Literal["log", "logit"] = "log" if family == "quasi_poisson" else "logit"
    word = "quasi-Poisson" if family == "quasi_poisson" else "quasi-binomial"
    with_offset = " + offset(log(plants))" if family == "quasi_poisson" and offset.any() else ""
    about = Provenance(
        method=f"{word} generalised linear model, {link} link, dispersion by Pearson's chi-squared",
        formula=f"{name} ~ {' + '.join(full.terms)}{with_offset}",
        unit_of_analysis="plot",
        n=len(y_used),
        df=float(df),
        assumptions=(
            "plots independent given the terms of the model",
            "variance proportional to the mean"
            if family == "quasi_poisson"
            else "variance proportional to p (1 - p) / trials",
            f"terms add up on the {link} scale",
        ),
        notes=tuple(
            f"{f} {lvl}: every plot is {edge:g}; left out of the fit, kept in the deviance tests"
            for f, lvl, edge in zero_levels
        ),
    )
    return FittedModel(
        kind=family,
        link=link,
        about=about,
        design=design,
        response=y_used,
        used=used,
        coef=coef,
        cov=R_inverse @ R_inverse.T * dispersion,
        dispersion=dispersion,
        df_error=df,
        fitted=mu if inner.all() else _spread(mu, inner, y_used),
        residuals=pearson if inner.all() else _spread(pearson, inner, np.zeros(len(y_used))),
        leverage=(Q**2).sum(axis=1)
        if inner.all()
        else _spread((Q**2).sum(axis=1), inner, np.zeros(len(y_used))),
        anova=tuple(lines),
        factors={k: tuple(v) for k, v in kept.items()},
        covariates={k: tuple(float(x) for x in v) for k, v in kept_covariates.items()},
        offset=offset,
        weights=weights,
        deviance=deviance,
        null_deviance=null,
        zero_levels=zero_levels,
        findings=_dispersion_findings(dispersion, zero_levels),
    )


def _spread(values: Floats, inner: NDArray[np.bool_], outside: Floats) -> Floats:
    full = outside.copy()
    full[inner] = values
    return full


def _without_edges(
    factors: Mapping[str, Sequence[str]], y: Floats, terms: tuple[str, ...], top: float
) -> tuple[NDArray[np.bool_], tuple[tuple[str, str, float], ...]]:
    inner = np.ones(len(y), dtype=bool)
    found = []
    for name in factors:
        if name not in terms:
            continue
        labels = np.asarray(factors[name])
        for level in dict.fromkeys(factors[name]):
            rows = labels == level
            for edge in (0.0, top):
                if (y[rows] == edge).all():
                    inner &= ~rows
                    found.append((name, level, edge))
    for name in factors:
        if name in terms and len({x for x, ok in zip(factors[name], inner, strict=True) if ok}) < 2:
            raise DegenerateResponseError(
                "stats.separation",
                f"All levels of {name} but one lie on the edge of the scale (all zero or complete):"
                " the difference is visible, but no model can put a size and an error to it.",
                factor=name,
            )
    return inner, tuple(found)


def _dispersion_findings(
    dispersion: float, zero_levels: tuple[tuple[str, str, float], ...]
) -> tuple[Finding, ...]:
    found = []
    if dispersion > OVERDISPERSED:
        found.append(
            Finding(
                "stats.overdispersed",
                "note",
                f"The plots vary {dispersion:.3g} times as much as counting alone explains; errors"
                " and tests allow for it.",
                context={"dispersion": dispersion},
            )
        )
    elif dispersion < UNDERDISPERSED:
        found.append(
            Finding(
                "stats.underdispersed",
                "note",
                f"The plots vary only {dispersion:.3g} times as much as counting alone would make"
                " them; errors and tests allow for it.",
                context={"dispersion": dispersion},
            )
        )
    for factor, level, edge in zero_levels:
        found.append(
            Finding(
                "stats.edge_level",
                "caution",
                f"Every plot of {factor} {level} is {edge:g}: it has no standard error. Read its"
                " deviance test and its one limit instead.",
                field=factor,
            )
        )
    return tuple(found)


def _variance(family: Family, mu: Floats) -> Floats:
    return mu if family == "quasi_poisson" else mu * (1 - mu)


def _unit_deviance(family: Family, y: Floats, mu: Floats) -> Floats:
    if family == "quasi_poisson":
        half: Floats = special.xlogy(y, y / mu) - (y - mu)
    else:
        half = special.xlogy(y, y / mu) + special.xlogy(1 - y, (1 - y) / (1 - mu))
    return 2 * half


def _irls(
    family: Family, X: Floats, y: Floats, offset: Floats, weights: Floats, name: str
) -> tuple[Floats, Floats, Floats, Floats, float]:
    """Return coefficients, means, the weighted QR and the deviance at convergence."""
    if family == "quasi_poisson":
        mu = (y + float(y.mean())) / 2
        eta = np.log(mu)
    else:
        mu = (weights * y + 0.5) / (weights + 1)
        eta = special.logit(mu)
    limit = 36.0 if family == "quasi_poisson" else 30.0
    for _ in range(100):
        variance = _variance(family, mu)
        root = np.sqrt(weights * variance)
        z = eta - offset + (y - mu) / variance
        Q, R = np.linalg.qr(X * root[:, None])
        coef = np.linalg.solve(R, Q.T @ (root * z))
        before = eta
        eta = X @ coef + offset
        if float(np.abs(eta - offset).max()) > limit:
            break
        mu = np.exp(eta) if family == "quasi_poisson" else special.expit(eta)
        # Newton's steps shrink quadratically: after 1e-8 the next would be below rounding.
        # HAZARD: the deviance settles even while a coefficient runs to infinity; judge the steps.
        if float(np.abs(eta - before).max()) <= 1e-8:
            return coef, mu, R, Q, float((weights * _unit_deviance(family, y, mu)).sum())
    # Cells of zeros drive a coefficient towards infinity although no whole level is zero.
    raise NotConvergedError(
        "stats.separation",
        f"The model of {name} has no finite estimate: some combination of the terms has only zeros"
        " or only complete plots. Use fewer terms, or compare ranks.",
        response=name,
    )


def _term_line(
    term: str,
    data: CountTable,
    all_terms: tuple[str, ...],
    deviance: float,
    dispersion: float,
    k: int,
    df: int,
) -> TermTest:
    # Type II: the term and all that contain it go, then the containing ones come back alone
    own = set(term.split(":"))
    containing = [t for t in all_terms if t != term and own < set(t.split(":"))]
    without = tuple(t for t in all_terms if t != term and t not in containing)
    try:
        d0 = deviance_of(data, without)
        d1 = deviance_of(data, (*without, term)) if containing else deviance
    except NotConvergedError as error:
        return TermTest(term, k, None, None, None, None, float(df), reason=error.message)
    drop = max(0.0, d0 - d1)
    f = drop / k / dispersion
    return TermTest(term, k, drop, drop / k, f, dist.f_upper(f, k, df), float(df))


@dataclass(frozen=True)
class CountTable:
    """The used rows of one generalised model."""

    family: Family
    y: Floats
    factors: Mapping[str, Sequence[str]]
    covariates: Mapping[str, Floats]
    offset: Floats
    weights: Floats
    name: str


def deviance_of(data: CountTable, terms: tuple[str, ...]) -> float:
    """Return the deviance of a model whose cells of only zeros (or complete plots) fit exactly."""
    top = 1.0 if data.family == "quasi_binomial" else math.inf
    inner = np.ones(len(data.y), dtype=bool)
    for term in terms:
        parts = term.split(":")
        if any(p in data.covariates for p in parts):
            continue
        cells = list(zip(*(data.factors[p] for p in parts), strict=True))
        for cell in dict.fromkeys(cells):
            rows = np.fromiter((c == cell for c in cells), dtype=bool, count=len(cells))
            for edge in (0.0, top):
                if (data.y[rows] == edge).all():
                    inner &= ~rows
    if not inner.any():
        return 0.0
    kept = {k: [x for x, ok in zip(v, inner, strict=True) if ok] for k, v in data.factors.items()}
    X = model_matrix(kept, {k: v[inner] for k, v in data.covariates.items()}, terms).matrix
    if not inner.all():
        X = _independent(X)
    return _irls(data.family, X, data.y[inner], data.offset[inner], data.weights[inner], data.name)[
        4
    ]


def _independent(X: Floats) -> Floats:
    pivots = np.abs(np.diag(np.linalg.qr(X)[1]))
    size = np.sqrt((X**2).sum(axis=0))
    keep = [j for j in range(min(X.shape)) if pivots[j] > ALIAS_TOLERANCE * size[j]]
    return X[:, keep]
