"""Random plots, whole plots and subjects: REML, Satterthwaite degrees of freedom.

statsmodels.MixedLM stops on simple data and prints z tests; this is Fisher scoring on the dense
covariance, meant for trials of up to some hundred rows. Kenward-Roger is not attempted.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from tepal.stats import distributions as dist
from tepal.stats.design_matrix import Design, build_design, level_order, model_matrix
from tepal.stats.linear import select_rows
from tepal.stats.results import (
    DegenerateResponseError,
    DesignRefusedError,
    Estimate,
    MeansResult,
    NotConvergedError,
    Provenance,
    TermTest,
    VarianceResult,
)

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray

    from tepal.stats.linear import Responses

    Floats = NDArray[np.float64]

MAX_ROWS = 2000


@dataclass(frozen=True)
class MixedModel:
    """A fitted mixed model; `variances` are the random factors in order, then the residual."""

    about: Provenance
    design: Design
    names: tuple[str, ...]
    variances: Floats
    variance_covariance: Floats
    coef: Floats
    cov: Floats
    gradients: tuple[Floats, ...]
    reml_deviance: float
    factors: dict[str, list[str]]

    def satterthwaite(self, row: Floats) -> float:
        """Return the degrees of freedom of one linear combination (p,) of the coefficients.

        Satterthwaite 1946, Biometrics Bull. 2:110: 2 f^2 / var(f), f the variance of the estimate.
        """
        f = float(row @ self.cov @ row)
        g = np.array([float(row @ G @ row) for G in self.gradients])
        return 2 * f * f / float(g @ self.variance_covariance @ g)

    def contrast(self, label: str, row: Floats, alpha: float = 0.05) -> Estimate:
        """Return one linear combination of the coefficients with Satterthwaite's t."""
        value, se = float(row @ self.coef), math.sqrt(float(row @ self.cov @ row))
        df = self.satterthwaite(row)
        if not (se > 0 and math.isfinite(df) and df > 0):
            raise DegenerateResponseError(
                "stats.no_error_variation",
                "The plots of a treatment agree so closely that no error is left to judge by.",
            )
        t = dist.t_quantile(1 - alpha / 2, df)
        return Estimate(
            label,
            value,
            se,
            df,
            value - t * se,
            value + t * se,
            value / se,
            dist.t_two_sided(value / se, df),
        )

    def compare(self, factor: str, first: str, second: str, alpha: float = 0.05) -> Estimate:
        """Return first - second of one factor, all other factors averaged equally."""
        row = self.design.row({factor: first}, {}) - self.design.row({factor: second}, {})
        return self.contrast(f"{first} - {second}", row, alpha)

    def means(self, factor: str, alpha: float = 0.05) -> MeansResult:
        """Return least-squares means of a factor (or `A:B`) with Satterthwaite's intervals.

        `df_error` is the smallest df among the pairwise differences: comparisons made from these
        means with one common df then err on the careful side.
        """
        parts = factor.split(":")
        cells: list[tuple[str, ...]] = [()]
        for part in parts:
            cells = [(*c, x) for c in cells for x in self.design.levels[part]]
        rows = [self.design.row(dict(zip(parts, c, strict=True)), {}) for c in cells]
        keys = list(zip(*(self.factors[p] for p in parts), strict=True))
        means = []
        for cell, row in zip(cells, rows, strict=True):
            e = self.contrast(":".join(cell), row, alpha)
            means.append(
                Estimate(e.label, e.value, e.se, e.df, e.lower, e.upper, n=keys.count(cell))
            )
        L = np.array(rows)
        V = L @ self.cov @ L.T
        dfs = [self.satterthwaite(rows[i] - rows[j]) for i in range(len(rows)) for j in range(i)]
        return MeansResult(
            self.about,
            factor,
            tuple(means),
            tuple(tuple(float(x) for x in r) for r in V),
            min(dfs),
            float(self.variances[-1]),
        )

    def term(self, name: str) -> TermTest:
        """Return the F test of a term: Type III, denominator df after Fai & Cornelius 1996."""
        where = self.design.columns[name]
        q = where.stop - where.start
        L = np.zeros((q, len(self.coef)))
        L[range(q), range(where.start, where.stop)] = 1.0
        V = L @ self.cov @ L.T
        _, vectors = np.linalg.eigh(V)
        b = L @ self.coef
        f = float(b @ np.linalg.solve(V, b)) / q
        nu = [self.satterthwaite(vectors[:, j] @ L) for j in range(q)]
        if q == 1:
            df = nu[0]
        else:
            e = sum(v / (v - 2) for v in nu if v > 2)
            df = 2 * e / (e - q) if e > q else float(min(nu))
        return TermTest(
            name,
            q,
            None,
            None,
            f,
            dist.f_upper(f, q, df),
            df,
            "Satterthwaite",
            reason="a mixed model has no sums of squares; F and p stand",
        )

    def _labels(self) -> list[str]:
        labels = ["mean"]
        for term in self.design.terms:
            where = self.design.columns[term]
            labels += [f"{term}, code {i + 1}" for i in range(where.stop - where.start)]
        return labels

    def summary(self) -> VarianceResult:
        """Return components, coefficients and tests as a result without arrays."""
        parts = []
        for j, name in enumerate(self.names):
            v = float(self.variances[j])
            se = math.sqrt(max(0.0, float(self.variance_covariance[j, j])))
            parts.append(
                Estimate(
                    name,
                    v,
                    se,
                    reason="estimated as zero, the edge of what a variance can be"
                    if v <= 0
                    else None,
                )
            )
        total = float(self.variances.sum())
        return VarianceResult(
            self.about,
            tuple(parts),
            tuple(
                self.contrast(label, np.eye(len(self.coef))[j])
                for j, label in enumerate(self._labels())
            ),
            tuple(self.term(t) for t in self.design.terms),
            self.reml_deviance,
            float(self.variances[0]) / total if len(self.names) == 2 else None,
        )


def fit_mixed(
    response: Responses,
    factors: Mapping[str, Sequence[str]],
    random: Sequence[str],
    covariates: Mapping[str, Responses] | None = None,
    terms: Sequence[str] | None = None,
    name: str = "response",
) -> MixedModel:
    """Fit fixed terms with one or more random factors by REML.

    Parameters
    ----------
    response : (n,) float, values of plants or sub-plots; None marks a missing one. n <= 2000.
    factors : name -> (n,) labels, fixed and random ones (a random one: the plot of each plant).
    random : names of the random factors; each gets one variance.
    covariates, terms : fixed part, as `fit_linear`; None: every factor that is not random.

    Returns
    -------
    MixedModel: variances in squared units of the response, tests with Satterthwaite's df.

    Raises
    ------
    DesignRefusedError   As `fit_linear`; `stats.too_many_rows`; `stats.no_replicates_within` when
                         a random factor has one row per level (it is then the residual).
    NotConvergedError    `stats.reml`.

    Notes
    -----
    Patterson & Thompson 1971, Biometrika 58:545. Plants within plots with unequal numbers: this
    weighs a plot by what it knows; with equal numbers it equals the analysis of plot means.

    Examples
    --------
    >>> y = [1545, 1440, 1440, 1520, 1580, 1540, 1555, 1490, 1560, 1495]  # Davies 1947, 2 batches
    >>> m = fit_mixed(y, {"batch": list("AAAAABBBBB")}, ["batch"])
    >>> m.names
    ('batch', 'residual')
    """
    y, kept, kept_covariates, _ = select_rows(response, factors, covariates or {})
    n = len(y)
    if n > MAX_ROWS:
        raise DesignRefusedError(
            "stats.too_many_rows", f"{n} rows; average the plants of a plot first (at most 2000)."
        )
    fixed = {k: v for k, v in kept.items() if k not in random}
    if fixed or kept_covariates:
        design = build_design(fixed, kept_covariates, terms)
    else:
        design = Design(np.ones((n, 1)), (), {}, {}, {})
    kernels = []
    for factor in random:
        levels = level_order(kept[factor])
        if len(levels) == n:
            raise DesignRefusedError(
                "stats.no_replicates_within",
                f"Every level of {factor} has one row: its variance is the residual itself.",
                factor=factor,
            )
        Z = np.array([[float(x == lvl) for lvl in levels] for x in kept[factor]])
        kernels.append(Z @ Z.T)
    kernels.append(np.eye(n))
    origin = float(y.mean())
    centred = y - origin
    try:
        theta = _reml(design.matrix, centred, kernels)
        parts = _parts(design.matrix, centred, kernels, theta)
        observed = _observed_information(parts, kernels, centred)
        free = theta > 0
        covariance = np.zeros((len(theta), len(theta)))
        covariance[np.ix_(free, free)] = 2 * np.linalg.inv(observed[np.ix_(free, free)])
    except np.linalg.LinAlgError as error:
        raise NotConvergedError(
            "stats.reml", "The variances could not be estimated from these rows."
        ) from error
    W = parts.V_inverse @ design.matrix
    gradients = tuple(parts.C @ (W.T @ K @ W) @ parts.C for K in kernels)
    coef = parts.C @ (W.T @ centred)
    coef[0] += origin
    # the REML criterion depends on the coding; quoted for reference coding, as lme4 does
    deviance = parts.deviance
    if design.terms:
        plain = model_matrix(fixed, kept_covariates, design.terms, reference=True, centre=False)
        turn = np.linalg.lstsq(design.matrix, plain.matrix, rcond=None)[0]
        deviance += 2 * float(np.linalg.slogdet(turn)[1])
    formula = f"{name} ~ {' + '.join(design.terms) or '1'} + " + " + ".join(
        f"random({r})" for r in random
    )
    return MixedModel(
        Provenance(
            method="linear mixed model, REML, Satterthwaite degrees of freedom",
            formula=formula,
            unit_of_analysis="row, with " + ", ".join(random) + " as random",
            n=n,
            assumptions=("random effects and residuals normal", "one variance for each stratum"),
        ),
        design,
        (*random, "residual"),
        theta,
        covariance,
        coef,
        parts.C,
        gradients,
        deviance,
        {k: list(v) for k, v in kept.items()},
    )


@dataclass(frozen=True)
class _Parts:
    V_inverse: Floats
    P: Floats
    C: Floats
    deviance: float


def _parts(X: Floats, y: Floats, kernels: list[Floats], theta: Floats) -> _Parts:
    V = sum((t * K for t, K in zip(theta, kernels, strict=True)), np.zeros_like(kernels[0]))
    V_inverse: Floats = np.linalg.inv(V).astype(np.float64)
    W = V_inverse @ X
    A = X.T @ W
    C: Floats = np.linalg.inv(A).astype(np.float64)
    P = V_inverse - W @ C @ W.T
    n, p = X.shape
    deviance = (
        float(np.linalg.slogdet(V)[1])
        + float(np.linalg.slogdet(A)[1])
        + float(y @ P @ y)
        + (n - p) * math.log(2 * math.pi)
    )
    return _Parts(V_inverse, P, C, deviance)


def _observed_information(parts: _Parts, kernels: list[Floats], y: Floats) -> Floats:
    PK = [parts.P @ K for K in kernels]
    Py = parts.P @ y
    k = len(kernels)
    H = np.empty((k, k))
    for i in range(k):
        for j in range(k):
            H[i, j] = -float((PK[i] * PK[j].T).sum()) + 2 * float(
                Py @ kernels[i] @ parts.P @ kernels[j] @ Py
            )
    return 0.5 * (H + H.T)


def _reml(X: Floats, y: Floats, kernels: list[Floats]) -> Floats:
    k = len(kernels)
    Q, _ = np.linalg.qr(X)
    r = y - Q @ (Q.T @ y)
    start = float(r @ r) / (len(y) - X.shape[1])
    if start <= 0:
        raise NotConvergedError("stats.reml", "The fixed terms leave no variation at all.")
    theta = np.full(k, start / k)
    current = _parts(X, y, kernels, theta)
    for _ in range(200):
        Py = current.P @ y
        PK = [current.P @ K for K in kernels]
        score = np.array(
            [float(Py @ K @ Py) - float(np.trace(pk)) for K, pk in zip(kernels, PK, strict=True)]
        )
        info = np.array([[float((a * b.T).sum()) for b in PK] for a in PK])
        # a variance at zero that wants to be negative stays there
        active = ~((theta <= 0) & (score < 0))
        active[-1] = True
        step = np.zeros(k)
        step[active] = np.linalg.solve(info[np.ix_(active, active)], score[active])
        size = 1.0
        for _ in range(60):
            trial = np.maximum(theta + size * step, 0.0)
            if trial[-1] <= 1e-12 * start:
                size /= 2
                continue
            new = _parts(X, y, kernels, trial)
            if new.deviance <= current.deviance + 1e-12 * abs(current.deviance):
                break
            size /= 2
        else:
            return theta
        moved = float(np.abs(trial - theta).max())
        theta, current = trial, new
        if moved <= 1e-11 * start:
            return theta
    raise NotConvergedError("stats.reml", "The variances could not be estimated from these rows.")
