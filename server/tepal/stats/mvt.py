"""Probabilities of the largest of several correlated t: one integral, hence over 400 lines.

scipy has only a randomised integral (multivariate_t), too slow and too noisy for a critical value;
here product-form correlations are integrated exactly, nearly product-form ones (a few missing
plots) by a convergent series around the product form, and only the rest by scipy's integral.
"""

from __future__ import annotations

import functools
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np
from scipy import special

from tepal.stats import distributions as dist
from tepal.stats.quadrature import common_nodes, spread_nodes
from tepal.stats.roots import increasing_root

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import ArrayLike, NDArray

    from tepal.stats.results import Alternative

    Floats = NDArray[np.float64]

Route = Literal["product", "series", "quasi-monte-carlo"]

# Beyond these departures from the product form the series no longer gives four digits: the
# reference case with three missing plots of 36 has 0.058, the limit was set where a comparison
# with 2,000,000 points of scipy's integral showed 1e-4 (tests/unit/test_stats_mvt.py).
SERIES_LIMIT = 0.2
PRODUCT_TOLERANCE = 1e-9
# Beyond this loading the integrand is a cliff that fixed nodes would miss.
STEEPEST = 0.9999


@dataclass(frozen=True)
class Factor:
    """R = loading loading' + diag(1 - loading^2) + rest, with the route that follows from it.

    `rest` (k, k) holds what the one factor leaves, scaled to correlations of the unique parts.
    """

    loading: Floats
    rest: Floats
    route: Route

    @property
    def departure(self) -> float:
        """The largest remaining correlation; 0 for an exact product form."""
        return float(np.abs(self.rest).max()) if self.rest.size else 0.0


def factor(R: ArrayLike) -> Factor:
    """Return the one-factor form of a correlation matrix and how it will be integrated.

    Parameters
    ----------
    R : (k, k) float   Correlations, symmetric, unit diagonal.

    Returns
    -------
    Factor. `route` is "product" where R_ij = loading_i loading_j to 1e-9.

    Notes
    -----
    Least-squares loadings off the diagonal (minimum residual method, Harman & Jones 1966,
    Psychometrika 31:351). A complete block design, a one-way layout and a design that lacks plots
    of the control only are of product form: Dunnett 1955, J. Am. Stat. Assoc. 50:1096.

    Examples
    --------
    >>> factor([[1.0, 0.5, 0.5], [0.5, 1.0, 0.5], [0.5, 0.5, 1.0]]).route
    'product'
    """
    R = np.asarray(R, dtype=float)
    k = R.shape[0]
    if k == 1:
        return Factor(np.zeros(1), np.zeros((1, 1)), "product")
    if k == 2:
        rho = float(R[0, 1])
        size = math.sqrt(abs(rho))
        loading = np.array([size, math.copysign(size, rho)])
        if size < STEEPEST:
            return Factor(loading, np.zeros((2, 2)), "product")
        return Factor(loading, np.zeros((2, 2)), "quasi-monte-carlo")
    off = R - np.eye(k)
    if float(np.abs(off).max()) == 0.0:
        return Factor(np.zeros(k), np.zeros((k, k)), "product")
    loading = np.sqrt(np.clip(np.abs(off).max(axis=1), 1e-6, 0.999)) * np.sign(
        np.where(off[np.argmax(np.abs(off).sum(axis=1))] < 0, -1.0, 1.0)
    )
    for _ in range(500):
        previous = loading
        square = float(loading @ loading)
        loading = 0.5 * loading + 0.5 * (off @ loading) / np.maximum(square - loading**2, 1e-12)
        if float(np.abs(loading - previous).max()) < 1e-15:
            break
    if float(np.abs(loading).max()) >= STEEPEST:
        return Factor(loading, off, "quasi-monte-carlo")
    unique = np.sqrt(1 - loading**2)
    rest = (off - np.outer(loading, loading)) / np.outer(unique, unique)
    np.fill_diagonal(rest, 0.0)
    departure = float(np.abs(rest).max())
    if departure <= PRODUCT_TOLERANCE:
        return Factor(loading, rest, "product")
    return Factor(loading, rest, "series" if departure <= SERIES_LIMIT else "quasi-monte-carlo")


def rectangle(
    lower: ArrayLike,
    upper: ArrayLike,
    R: ArrayLike,
    df: float,
    shift: ArrayLike | None = None,
    seed: int = 20260101,
) -> float:
    """Return P(lower_i < T_i < upper_i for all i) of a multivariate t.

    Parameters
    ----------
    lower, upper : (k,) float     Bounds; infinite ones are allowed.
    R : (k, k) float              Correlations of the numerators.
    df : float, > 0               Degrees of freedom of the common denominator; may be inf.
    shift : (k,) float            Noncentrality of the numerators (power of Dunnett's test).
    seed : int                    Used only on the quasi-Monte-Carlo route.

    Returns
    -------
    float in [0, 1].

    Raises
    ------
    ValueError   A shift is given and R is too far from the product form for the series.

    Notes
    -----
    T_i = (Z_i + shift_i) / S with Z normal and S = sqrt(chi2_df / df): an integral over S and the
    one common factor. Error about 1e-11 (product), below 1e-4 (series), 1e-5 (quasi-Monte-Carlo).

    Examples
    --------
    >>> R = [[1.0, 0.5, 0.5], [0.5, 1.0, 0.5], [0.5, 0.5, 1.0]]
    >>> c = [2.7589969784] * 3  # Dunnett's two-sided 5 % point, 3 treatments, 10 df
    >>> round(rectangle([-x for x in c], c, R, 10), 8)
    0.95
    """
    matrix = np.asarray(R, dtype=float)
    return _rectangle(
        np.asarray(lower, dtype=float),
        np.asarray(upper, dtype=float),
        matrix,
        factor(matrix),
        df,
        None if shift is None else np.asarray(shift, dtype=float),
        seed,
    )


def adjusted_p(
    t: ArrayLike,
    R: ArrayLike,
    df: float,
    alternative: Alternative = "two-sided",
    seed: int = 20260101,
) -> list[float]:
    """Return single-step p-values: for each t the chance that any of the family goes as far.

    Parameters
    ----------
    t : (k,) float        Test statistics.
    R : (k, k) float      Their correlations.
    df : float            Degrees of freedom of the error.
    alternative : "two-sided", "greater" or "less".

    Returns
    -------
    list of k floats in [0, 1].

    Examples
    --------
    >>> [round(p, 4) for p in adjusted_p([0.857032, 3.693752], [[1, 0.4264], [0.4264, 1]], 12)]
    [0.6201, 0.0058]
    """
    matrix = np.asarray(R, dtype=float)
    parts = factor(matrix)
    k = len(matrix)
    out = []
    for value in np.asarray(t, dtype=float):
        if alternative == "two-sided":
            bound = np.full(k, abs(float(value)))
            low = -bound
        else:
            bound = np.full(k, float(value if alternative == "greater" else -value))
            low = np.full(k, -np.inf)
        inside = _rectangle(low, bound, matrix, parts, df, None, seed)
        out.append(min(1.0, max(0.0, 1.0 - inside)))
    return out


def critical_value(
    R: ArrayLike,
    df: float,
    alpha: float = 0.05,
    alternative: Alternative = "two-sided",
    seed: int = 20260101,
) -> float:
    """Return c with P(max |T_i| <= c) = 1 - alpha (one-sided: P(max T_i <= c)).

    Parameters
    ----------
    R : (k, k) float           Correlations.
    df : float                 Degrees of freedom of the error.
    alpha : float, 0 < a < 1   Error rate of the whole family.

    Returns
    -------
    float, in standard errors.

    Examples
    --------
    >>> round(critical_value([[1, 0.5, 0.5], [0.5, 1, 0.5], [0.5, 0.5, 1]], 12), 6)
    2.68287
    """
    matrix = np.asarray(R, dtype=float)
    k = len(matrix)
    parts = factor(matrix)
    if parts.route == "product":
        # the same plan measured many times asks for the same value
        key = tuple(float(x) for x in np.round(parts.loading, 13))
        return _cached_critical(key, float(df), alpha, alternative == "two-sided")
    return _critical(
        lambda c: _rectangle(
            np.full(k, -c if alternative == "two-sided" else -np.inf),
            np.full(k, c),
            matrix,
            parts,
            df,
            None,
            seed,
        ),
        k,
        df,
        alpha,
        alternative == "two-sided",
        1e-9 if parts.route == "series" else 1e-6,
    )


@functools.lru_cache(maxsize=512)
def _cached_critical(loading: tuple[float, ...], df: float, alpha: float, two_sided: bool) -> float:
    k = len(loading)
    parts = Factor(np.array(loading), np.zeros((k, k)), "product")
    return _critical(
        lambda c: _rectangle(
            np.full(k, -c if two_sided else -np.inf), np.full(k, c), np.eye(k), parts, df, None, 0
        ),
        k,
        df,
        alpha,
        two_sided,
        1e-11,
    )


def _critical(
    cdf: Callable[[float], float],
    k: int,
    df: float,
    alpha: float,
    two_sided: bool,
    tolerance: float,
) -> float:
    tail = alpha / 2 if two_sided else alpha
    single = _t_quantile(1 - tail, df)
    if k == 1:
        return single
    bonferroni = _t_quantile(1 - tail / k, df)
    # One comparison alone and Bonferroni's bound hold the value between them; with a random
    # integral it may seem to lie outside by its noise, and then the bound is the best answer.
    low, high = single * (1 - 1e-6) - 1e-6, bonferroni * (1 + 1e-3) + 1e-3
    if cdf(low) >= 1 - alpha:
        return single
    if cdf(high) <= 1 - alpha:
        return bonferroni
    return increasing_root(lambda c: cdf(c) - (1 - alpha), low, high, tolerance)


def _t_quantile(p: float, df: float) -> float:
    return dist.t_quantile(p, df) if math.isfinite(df) else dist.normal_quantile(p)


def _rectangle(
    lower: Floats,
    upper: Floats,
    R: Floats,
    parts: Factor,
    df: float,
    shift: Floats | None,
    seed: int,
) -> float:
    if parts.route == "quasi-monte-carlo":
        return _by_scipy(lower, upper, R, df, shift, seed)
    k = len(parts.loading)
    delta = np.zeros(k) if shift is None else shift
    symmetric = shift is None and bool(np.all(lower == -upper))
    z, z_weight = common_nodes(_steepness(parts.loading), symmetric)
    s, s_weight = spread_nodes(float(df))
    unique = np.sqrt(1 - parts.loading**2)
    # axes: treatment, spread s, common factor z
    common = (parts.loading / unique)[:, None, None] * z[None, None, :]

    def standardised(bound: Floats) -> Floats:
        with np.errstate(invalid="ignore"):
            scaled = bound[:, None] * s[None, :] - delta[:, None]
        scaled = np.where(np.isinf(bound)[:, None], bound[:, None], scaled)
        return (scaled / unique[:, None])[:, :, None] - common

    b = standardised(upper)
    if np.all(np.isneginf(lower)):
        a = None
        inside = special.ndtr(b)
    else:
        a = standardised(lower)
        inside = special.ndtr(b) - special.ndtr(a)
    product = np.prod(inside, axis=0)
    if parts.route == "series":
        product = product * _series(a, b, inside, parts.rest)
    return float(np.clip(s_weight @ product @ z_weight, 0.0, 1.0))


def _series(a: Floats | None, b: Floats, inside: Floats, rest: Floats) -> Floats:
    """Return the factor by which small correlations of the unique parts change the product.

    With H_m the integral of the m-th Hermite polynomial over the interval and q_m = H_m / H_0, the
    probability is the product of the H_0 times 1 + S1 + S2 + ...: first order S1 = sum r_ij q1_i
    q1_j, second order over all pairs of pairs (Mehler's expansion, Kotz, Balakrishnan & Johnson
    2000, Continuous Multivariate Distributions, 2nd ed., section 45.7).
    """

    def phi(x: Floats) -> Floats:
        return np.exp(-0.5 * np.minimum(x * x, 1400.0)) / math.sqrt(2 * math.pi)

    phi_b = phi(b)
    h1, h2 = -phi_b, -b * phi_b
    if a is not None:
        phi_a = phi(a)
        h1, h2 = h1 + phi_a, h2 + a * phi_a
    safe = np.maximum(inside, 1e-100)
    q1, q2 = h1 / safe, h2 / safe
    # where a treatment has no probability left, neither has the product: no correction there
    empty = inside <= 1e-100
    q1[empty] = 0.0
    q2[empty] = 0.0
    k = len(rest)
    shape = q1.shape
    flat1, flat2 = q1.reshape(k, -1), q2.reshape(k, -1)
    v = rest @ flat1
    square = flat1**2
    w = rest**2 @ square
    first = 0.5 * (flat1 * v).sum(axis=0)
    shared = ((flat2 - square) * (v**2 - w)).sum(axis=0)
    same = 0.5 * ((flat2 * (rest**2 @ flat2)).sum(axis=0) - (square * w).sum(axis=0))
    second = 0.5 * (first**2 + shared + same)
    factor_: Floats = 1.0 + first + second
    return factor_.reshape(shape[1:])


def _by_scipy(
    lower: Floats, upper: Floats, R: Floats, df: float, shift: Floats | None, seed: int
) -> float:
    if shift is not None:
        raise ValueError("power needs correlations of (nearly) product form; use simulation")
    from scipy.stats import multivariate_normal, multivariate_t

    k = len(R)
    rng = np.random.default_rng(seed)
    if math.isfinite(df):
        return float(
            multivariate_t.cdf(
                upper,
                shape=R,
                df=df,
                lower_limit=lower,
                maxpts=20_000 * k,
                random_state=rng,
                allow_singular=True,
            )
        )
    return float(
        multivariate_normal.cdf(
            upper, cov=R, lower_limit=lower, maxpts=20_000 * k, rng=rng, allow_singular=True
        )
    )


def _steepness(loading: Floats) -> float:
    # sum over treatments of the squared slope of the integrand's arguments in the common factor
    return float((loading**2 / (1 - loading**2)).sum())
