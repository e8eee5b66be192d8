"""Ratings by a cumulative-logit model: fitted by statsmodels, loaded only here.

Written here are likelihood-ratio tests of the terms and the reasons where nothing can be fitted.
"""

from __future__ import annotations

import math
import warnings
from typing import TYPE_CHECKING

import numpy as np

from tepal.stats import distributions as dist
from tepal.stats.design_matrix import model_matrix
from tepal.stats.linear import select_rows
from tepal.stats.results import (
    Check,
    DegenerateResponseError,
    DesignRefusedError,
    Estimate,
    NotConvergedError,
    OrdinalResult,
    Provenance,
)

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray

    from tepal.stats.linear import Responses

    Floats = NDArray[np.float64]


def fit_ordinal(
    ratings: Responses,
    factors: Mapping[str, Sequence[str]],
    terms: Sequence[str] | None = None,
    name: str = "rating",
) -> OrdinalResult:
    """Fit a cumulative-logit model to ratings on an ordered scale.

    Parameters
    ----------
    ratings : (n,) ordered numbers, one for each plot; None marks a missing plot.
    factors : name -> (n,) labels; put blocks in as a fixed factor.
    terms : as `fit_linear`, without an intercept.

    Returns
    -------
    OrdinalResult. Coefficients are log odds of a higher rating against the first level;
    `terms` are likelihood-ratio tests, each term after all that do not contain it.

    Raises
    ------
    DesignRefusedError        As `fit_linear`.
    DegenerateResponseError   `stats.no_variation`; `stats.separation` where a level has only the
        lowest or only the highest rating.
    NotConvergedError         `stats.separation`: ratings separate treatments or blocks.

    Notes
    -----
    McCullagh 1980, J. R. Stat. Soc. B 42:109; fitted by statsmodels' OrderedModel.

    Examples
    --------
    >>> r = fit_ordinal([1, 2, 2, 3, 2, 3, 3, 1], {"t": list("aaaabbbb")})
    >>> len(r.thresholds), [c.label for c in r.coefficients]
    (2, ['t b'])
    """
    y, kept, _, _ = select_rows(ratings, factors, {})
    names = tuple(terms) if terms is not None else tuple(kept)
    grades = np.unique(y)
    if len(grades) < 2:
        raise DegenerateResponseError("stats.no_variation", "All plots have the same rating.")
    for factor in kept:
        if len(set(kept[factor])) < 2:
            raise DesignRefusedError(
                "stats.one_level",
                f"Every usable row has {factor} = {kept[factor][0]}; a comparison needs two"
                " levels.",
                factor=factor,
            )
        for level in dict.fromkeys(kept[factor]):
            part = y[np.asarray(kept[factor]) == level]
            if (part == grades[0]).all() or (part == grades[-1]).all():
                raise DegenerateResponseError(
                    "stats.separation",
                    f"Every plot of {factor} {level} has the same extreme rating, {part[0]:g}: the"
                    " model has no finite estimate for it. Compare ranks instead.",
                    factor=factor,
                    level=level,
                )
    X, labels = _indicator_columns(kept, names)
    if np.linalg.matrix_rank(np.column_stack([np.ones(len(y)), X])) < X.shape[1] + 1:
        raise DesignRefusedError(
            "stats.confounded", "Two terms cannot be told apart in these rows."
        )
    codes = np.searchsorted(grades, y)
    full, params, cov = _ordered_logit(codes, X)
    tests = []
    for term in names:
        own = set(term.split(":"))
        without = [t for t in names if t != term and not own < set(t.split(":"))]
        with_term = [*without, term]
        a = _ordered_logit(codes, _indicator_columns(kept, with_term)[0])[0]
        b = _ordered_logit(codes, _indicator_columns(kept, without)[0])[0]
        df = _indicator_columns(kept, [term])[0].shape[1]
        x = max(0.0, 2 * (a - b))
        tests.append(Check(f"likelihood ratio, {term}", x, (float(df),), dist.chi2_upper(x, df)))
    q = X.shape[1]
    coefficients = []
    for j in range(q):
        se = math.sqrt(float(cov[j, j]))
        value = float(params[j])
        z = value / se
        h = dist.normal_quantile(0.975) * se
        coefficients.append(
            Estimate(
                labels[j],
                value,
                se,
                None,
                value - h,
                value + h,
                z,
                2 * dist.normal_upper(abs(z)),
                scale="logit",
            )
        )
    thresholds = tuple(
        Estimate(
            f"{grades[i]:g}|{grades[i + 1]:g}",
            float(v),
            scale="logit",
            reason="standard errors of thresholds are not given",
        )
        for i, v in enumerate(params[q:])
    )
    about = Provenance(
        method="cumulative logit (proportional odds) model, maximum likelihood",
        formula=f"{name} ~ {' + '.join(names)}",
        unit_of_analysis="plot",
        n=len(y),
        assumptions=("plots independent given the terms", "one odds ratio over all grades"),
        versions=(*Provenance("", "", "", 0).versions, ("statsmodels", _statsmodels_version())),
        notes=("Wald z tests; with few plots read the likelihood ratios",),
    )
    return OrdinalResult(about, tuple(coefficients), thresholds, float(full), tuple(tests))


def _indicator_columns(
    factors: Mapping[str, Sequence[str]], terms: Sequence[str]
) -> tuple[Floats, list[str]]:
    design = model_matrix(factors, {}, terms, reference=True)
    labels = []
    for term in terms:
        names: list[str] = [""]
        for part in term.split(":"):
            names = [
                f"{n}:{part} {lvl}" if n else f"{part} {lvl}"
                for n in names
                for lvl in design.levels[part][1:]
            ]
        labels += names
    return design.matrix[:, 1:], labels


def _ordered_logit(codes: NDArray[np.int64], X: Floats) -> tuple[float, Floats, Floats]:
    """Return log-likelihood, (coefficients, thresholds) and the covariance of the coefficients."""
    from statsmodels.miscmodels.ordinal_model import OrderedModel

    k = int(codes.max()) + 1
    if X.shape[1] == 0:
        counts = np.bincount(codes, minlength=k)
        share = counts / counts.sum()
        cuts = np.cumsum(share)[:-1]
        return (
            float((counts * np.log(share)).sum()),
            np.log(cuts / (1 - cuts)),
            np.zeros((0, 0)),
        )
    model = OrderedModel(codes, X, distr="logit")
    refused = NotConvergedError(
        "stats.separation",
        "The ordinal model has no finite estimate: the ratings separate some treatments or blocks"
        " completely. Compare ranks instead.",
    )
    try:
        with warnings.catch_warnings():
            # it says in words what the checks below say as an error
            warnings.simplefilter("ignore")
            fit = model.fit(method="bfgs", disp=False, maxiter=500, gtol=1e-8)
            fit = model.fit(start_params=fit.params, method="newton", disp=False, maxiter=100)
    except np.linalg.LinAlgError as error:
        raise refused from error
    params = np.asarray(fit.params, dtype=float)
    q = X.shape[1]
    covariance = np.asarray(fit.cov_params(), dtype=float)[:q, :q]
    proper = np.isfinite(params).all() and np.isfinite(covariance).all()
    # a log odds beyond 15 is a coefficient on its way to infinity
    if not (proper and fit.mle_retvals["converged"] and np.abs(params[:q]).max() < 15):
        raise refused
    cuts = np.asarray(model.transform_threshold_params(params), dtype=float)[1:-1]
    return float(fit.llf), np.concatenate([params[:q], cuts]), covariance


def _statsmodels_version() -> str:
    import statsmodels

    return str(statsmodels.__version__)
