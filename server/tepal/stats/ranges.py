"""The studentised range (Tukey): scipy has it, but one p-value costs more than a whole analysis.

scipy.stats.studentized_range integrates adaptively (0.03 s a value and the load of scipy.stats);
the fixed nodes of mvt.py give the same to 1e-11 in a millisecond.
"""

from __future__ import annotations

import functools
import math

from scipy import special

from tepal.stats import distributions as dist
from tepal.stats.quadrature import common_nodes, spread_nodes
from tepal.stats.roots import increasing_root


def studentized_range_upper(q: float, k: int, df: float) -> float:
    """Return P(Q >= q) for the range of `k` means over their standard error.

    Parameters
    ----------
    q : float, >= 0     sqrt(2) times a t of two means.
    k : int, >= 2       Number of means.
    df : float, > 0     Degrees of freedom of the error.

    Returns
    -------
    float in [0, 1].

    Notes
    -----
    k * integral of phi(z) [Phi(z) - Phi(z - q s)]^(k-1), averaged over the spread s.

    Examples
    --------
    >>> round(studentized_range_upper(3.7729289594, 3, 12), 9)
    0.05
    """
    if q <= 0:
        return 1.0
    s, s_weight = spread_nodes(float(df))
    z, z_weight = common_nodes(float(k), symmetric=False)
    step = special.ndtr(z)[None, :] - special.ndtr(z[None, :] - q * s[:, None])
    inside = k * float(s_weight @ (step ** (k - 1)) @ z_weight)
    return min(1.0, max(0.0, 1.0 - inside))


@functools.lru_cache(maxsize=256)
def studentized_range_quantile(p: float, k: int, df: float) -> float:
    """Return q with P(Q < q) = p.

    Examples
    --------
    >>> round(studentized_range_quantile(0.95, 3, 12), 6)
    3.772929
    """
    tail = 1 - p
    pairs = k * (k - 1) / 2
    low = math.sqrt(2) * dist.t_quantile(1 - tail / 2, df) * (1 - 1e-6)
    high = math.sqrt(2) * dist.t_quantile(1 - tail / 2 / pairs, df) * (1 + 1e-3) + 1e-3
    return increasing_root(lambda q: tail - studentized_range_upper(q, k, df), low, high)
