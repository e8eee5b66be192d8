"""Nodes and weights for the integrals of mvt.py and ranges.py; scipy has no rule for S."""

from __future__ import annotations

import functools
import math
from typing import TYPE_CHECKING

import numpy as np
from scipy import special

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]


def common_nodes(steepness: float, symmetric: bool) -> tuple[Floats, Floats]:
    """Return nodes and weights of the common normal factor, trapezoidal rule on +-8.3.

    The rule converges at least like exp(-2 pi^2 / (h^2 (1 + steepness))), Trefethen & Weideman
    2014, SIAM Review 56:385; half that exponent was measured to leave 1e-11 (k = 11, any df).
    `symmetric` integrands need the positive half only.

    Examples
    --------
    >>> z, w = common_nodes(3.0, symmetric=True)
    >>> bool(abs(w.sum() - 1) < 1e-14)
    True
    """
    h = math.sqrt(2 * math.pi**2 / (15.0 * (1.0 + steepness)))
    half = math.ceil(8.3 / min(h, 0.5))
    return _trapezoid(min(half, 2000), symmetric)


@functools.lru_cache(maxsize=64)
def _trapezoid(half: int, symmetric: bool) -> tuple[Floats, Floats]:
    z = np.linspace(0.0, 8.3, half + 1) if symmetric else np.linspace(-8.3, 8.3, 2 * half + 1)
    w = np.exp(-0.5 * z**2)
    if symmetric:
        w[0] *= 0.5
    return z, w / w.sum()


@functools.lru_cache(maxsize=64)
def spread_nodes(df: float) -> tuple[Floats, Floats]:
    """Return nodes and weights of S = sqrt(chi2_df / df).

    Gauss-Laguerre in S^2 from 20 df (Golub & Welsch 1969, Math. Comp. 23:221), where few nodes give
    1e-9; below, where S near zero matters, Gauss-Legendre between the 1e-15 quantiles.

    Examples
    --------
    >>> s, w = spread_nodes(10.0)
    >>> bool(abs((w * s**2).sum() - 1) < 1e-12)  # E(chi2) = df
    True
    """
    if not math.isfinite(df):
        return np.ones(1), np.ones(1)
    if df >= 20:
        a = df / 2 - 1
        k = np.arange(14 if df >= 60 else 18 if df >= 30 else 26)
        off = np.sqrt(k[1:] * (k[1:] + a))
        u, vectors = np.linalg.eigh(np.diag(2 * k + 1 + a) + np.diag(off, 1) + np.diag(off, -1))
        return np.sqrt(2 * u / df), vectors[0] ** 2
    low = math.sqrt(float(special.gammaincinv(df / 2, 1e-15)) * 2 / df)
    high = math.sqrt(float(special.gammainccinv(df / 2, 1e-15)) * 2 / df)
    x, w = np.polynomial.legendre.leggauss(120 if df < 5 else 44)
    s = 0.5 * (high - low) * x + 0.5 * (high + low)
    log_density = (df - 1) * np.log(s) - 0.5 * df * (s**2 - 1)
    weight = w * np.exp(log_density - log_density.max())
    return s, weight / weight.sum()
