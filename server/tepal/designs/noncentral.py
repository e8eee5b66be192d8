"""Power behind the questions of sizes.py: Dunnett, pairs, t and F when a difference is real.

The integrals are those of the analysis (`tepal.stats`), so that a trial is planned with the very
test that will judge it. Nothing here is random. Checked against R (base quadrature, mvtnorm,
qtukey, pf) in tests/reference/test_design_power.py.
"""

from __future__ import annotations

import math
from functools import cache
from typing import TYPE_CHECKING

import numpy as np
from scipy import special

from tepal.stats.mvt import critical_value, rectangle
from tepal.stats.quadrature import spread_nodes
from tepal.stats.ranges import studentized_range_quantile

if TYPE_CHECKING:
    from numpy.typing import ArrayLike


def dunnett_none_beyond(
    critical: float, shifts: ArrayLike, n_treated: ArrayLike, n_control: float, df: int
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
    [1] Dunnett 1955, J. Am. Stat. Assoc. 50:1096-1121: correlations from the control's share.
    """
    variance = 1 / np.asarray(n_treated, dtype=np.float64) + 1 / n_control
    loading = np.sqrt(1 / n_control / variance)
    correlations = np.outer(loading, loading)
    np.fill_diagonal(correlations, 1.0)
    noncentrality = np.asarray(shifts, dtype=np.float64) / np.sqrt(variance)
    bound = np.full(len(variance), critical)
    return rectangle(-bound, bound, correlations, df, noncentrality)


def t_beyond(critical: float, shift: float, df: int) -> float:
    """Return P(abs(T) > critical), T noncentral t with noncentrality `shift` (two-sided power)."""
    s, weight = spread_nodes(float(df))
    outside = special.ndtr(shift - critical * s) + special.ndtr(-shift - critical * s)
    return float(outside @ weight)


def f_beyond(alpha: float, noncentrality: float, df_between: int, df_error: int) -> float:
    """Return the power of an F test at level alpha: P(F > its upper alpha point)."""
    critical = float(special.fdtri(df_between, df_error, 1 - alpha))
    return 1 - float(special.ncfdtr(df_between, df_error, noncentrality, critical))


@cache
def dunnett_critical(alpha: float, k: int, n_treated: float, n_control: float, df: int) -> float:
    """Return the two-sided critical value of `k` equally replicated treatments and a control."""
    correlations = np.full((k, k), n_treated / (n_treated + n_control))
    np.fill_diagonal(correlations, 1.0)
    return critical_value(correlations, df, alpha)


@cache
def pairs_critical(alpha: float, n_means: int, df: int) -> float:
    """Return Tukey's critical value for abs(T) of a pair: the range's upper point / sqrt(2)."""
    return studentized_range_quantile(1 - alpha, n_means, df) / math.sqrt(2)
