"""Distributions behind power: range, Dunnett, t and F, central and shifted, by fixed quadrature.

All are integrals over the error's standard deviation s (chi with df, over sqrt(df)); those of
several means are an integral over the common mean inside it. Gauss-Legendre nodes are fixed, so
nothing here is random. Checked against R (mvtnorm, ptukey, pf) to 1e-6 in tests.
"""

from __future__ import annotations

import math
from collections import Counter
from functools import cache
from typing import TYPE_CHECKING

import numpy as np
from scipy import special

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

_NODES = 160
# beyond 8.5 standard deviations the normal distribution holds less than 2e-17
_REACH = 8.5


@cache
def _normal_nodes() -> tuple[Floats, Floats]:
    """Return points and weights for the mean of f(Z), Z standard normal."""
    x, w = np.polynomial.legendre.leggauss(_NODES)
    z = _REACH * x
    return z, _REACH * w * np.exp(-0.5 * z * z) / math.sqrt(2 * math.pi)


@cache
def _spread_nodes(df: int) -> tuple[Floats, Floats]:
    """Return points and weights for the mean of f(S), S = sqrt(chi-square(df) / df)."""
    x, w = np.polynomial.legendre.leggauss(_NODES)
    # special.chdtri takes the upper tail area
    low = math.sqrt(float(special.chdtri(df, 1 - 1e-14)) / df)
    high = math.sqrt(float(special.chdtri(df, 1e-14)) / df)
    s = low + (high - low) * (x + 1) / 2
    log_density = (
        math.log(2)
        + (df / 2) * math.log(df / 2)
        - math.lgamma(df / 2)
        + (df - 1) * np.log(s)
        - df * s * s / 2
    )
    return s, w * (high - low) / 2 * np.exp(log_density)


def range_cdf(q: float, n_means: int, df: int) -> float:
    """Return P(range of `n_means` standard normals / S <= q), the studentized range.

    Parameters
    ----------
    q : float, >= 0
    n_means : int, >= 2
    df : int, >= 1
    """
    z, wz = _normal_nodes()
    s, ws = _spread_nodes(df)
    inside = special.ndtr(z[:, None]) - special.ndtr(z[:, None] - q * s[None, :])
    return float((n_means * wz) @ inside ** (n_means - 1) @ ws)


def dunnett_none_beyond(
    critical: float, shifts: Floats, n_treated: Floats, n_control: float, df: int
) -> float:
    """Return P(no abs(T_i) exceeds `critical`) for treatments against one control.

    Parameters
    ----------
    critical : float, > 0
    shifts : (k,) float         True differences from the control over the plot SD; 0 for no effect.
    n_treated : (k,) float      Plots of each treatment.
    n_control : float           Plots of the control.
    df : int, >= 1              Degrees of freedom of the error.

    References
    ----------
    [1] Dunnett 1955, J. Am. Stat. Assoc. 50:1096-1121, eq. for the joint distribution, shifted.
    """
    z, wz = _normal_nodes()
    s, ws = _spread_nodes(df)
    inside = np.ones((z.size, s.size))
    alike = Counter(zip(shifts.tolist(), n_treated.tolist(), strict=True))
    for (shift, n), count in alike.items():
        root = math.sqrt(n)
        reach = critical * math.sqrt(1 / n + 1 / n_control) * s[None, :]
        middle = z[:, None] / math.sqrt(n_control) - shift
        held = special.ndtr(root * (middle + reach)) - special.ndtr(root * (middle - reach))
        inside *= held**count
    return float(wz @ inside @ ws)


def t_beyond(critical: float, shift: float, df: int) -> float:
    """Return P(abs(T) > critical), T noncentral t with noncentrality `shift` (two-sided power)."""
    s, ws = _spread_nodes(df)
    outside = special.ndtr(shift - critical * s) + special.ndtr(-shift - critical * s)
    return float(outside @ ws)


def f_beyond(alpha: float, noncentrality: float, df_between: int, df_error: int) -> float:
    """Return the power of an F test at level alpha: P(F > its upper alpha point)."""
    critical = float(special.fdtri(df_between, df_error, 1 - alpha))
    return 1 - float(special.ncfdtr(df_between, df_error, noncentrality, critical))


@cache
def dunnett_critical(alpha: float, k: int, n_treated: float, n_control: float, df: int) -> float:
    """Return the two-sided critical value of `k` equally replicated treatments and a control."""
    zeros, sizes = np.zeros(k), np.full(k, n_treated)
    return _root(
        lambda c: dunnett_none_beyond(c, zeros, sizes, n_control, df) - (1 - alpha),
        0.1,
        _top(alpha, df, k),
    )


@cache
def pairs_critical(alpha: float, n_means: int, df: int) -> float:
    """Return Tukey's critical value for abs(T) of a pair: the range's upper point / sqrt(2)."""
    top = math.sqrt(2) * _top(alpha, df, n_means * (n_means - 1) // 2)
    return _root(lambda q: range_cdf(q, n_means, df) - (1 - alpha), 0.1, top) / math.sqrt(2)


def _top(alpha: float, df: int, n_comparisons: int) -> float:
    """Return Bonferroni's critical value, above that of every exact procedure (plus a little)."""
    return 1.001 * float(-special.stdtrit(df, alpha / (2 * n_comparisons))) + 0.01


def _root(f: Callable[[float], float], low: float, high: float) -> float:
    """Return where a rising function crosses zero, by bisection to the last bits but a few."""
    for _ in range(60):
        middle = (low + high) / 2
        if f(middle) < 0:
            low = middle
        else:
            high = middle
        if high - low < 1e-13 * high:
            break
    return (low + high) / 2
