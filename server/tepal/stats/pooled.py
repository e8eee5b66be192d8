"""Effects of several trials taken together: random effects, between-trial variance by REML.

The interval is Hartung and Knapp's, never narrower than the classic one (ad hoc correction): few
trials that happen to agree are no proof that trials agree.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from tepal.stats import distributions as dist
from tepal.stats.results import Estimate, Provenance, StatsError
from tepal.stats.roots import increasing_root

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

ESTIMATOR: Final = "REML"
INTERVAL: Final = "Hartung-Knapp, at least the classic standard error"
#: Below this p of Q trials count as disagreeing: Cochrane Handbook, 10.10.2 (from memory); Q has
#: little power with few trials, so the level is not 0.05.
DISAGREE_P: Final = 0.10
#: With two trials nothing is known of how far a third one may lie.
LEAST_FOR_PREDICTION: Final = 3
# The likelihood is looked at on a grid before it is polished: it can have two maxima.
_GRID: Final = 200


@dataclass(frozen=True, slots=True)
class PooledResult:
    """What trials say together, on the scale of their effects.

    `tau` is the standard deviation between trials, `i2_pct` its share of the whole variance of a
    typical trial; `q` with `q_p` tests that there is none. `prediction` is for one more trial of
    the same kind; None with a reason below three trials. `weights` in the order given, sum 1.
    """

    about: Provenance
    estimate: Estimate
    tau: float
    i2_pct: float
    q: float
    q_df: int
    q_p: float
    prediction: Estimate
    weights: tuple[float, ...]

    @property
    def disagree(self) -> bool:
        """Whether the trials differ by more than their own errors explain (Q, p < 0.10)."""
        return self.q_p < DISAGREE_P


def pool(values: Sequence[float], errors: Sequence[float], alpha: float = 0.05) -> PooledResult:
    """Return the mean effect of independent trials under random effects.

    Parameters
    ----------
    values : (k,) float   Effects on one additive scale (log ratio, difference), k >= 2.
    errors : (k,) float > 0   Standard error of each, same scale; taken as known.
    alpha : float   1 - alpha is the level of both intervals.

    Returns
    -------
    PooledResult. Values are on the scale given.

    Raises
    ------
    StatsError   `stats.length`; `stats.too_few_trials` below two; `stats.no_error` where an error
        is not above zero or a number is not finite.

    Notes
    -----
    REML: Viechtbauer 2005, J. Educ. Behav. Stat. 30:261. Interval: Knapp & Hartung 2003, Stat. Med.
    22:2693, t with k - 1 df, its factor never below 1 (Roever, Knapp & Friede 2015, BMC Med. Res.
    Methodol. 15:99). I2 from tau2 and the typical variance: Higgins & Thompson 2002, Stat. Med.
    21:1539. Prediction with k - 1 df beside this interval: IntHout, Ioannidis, Rovers & Goeman
    2016, BMJ Open 6:e010247 (from memory). Checked against metafor: `pooled_bcg` of the references.

    Examples
    --------
    >>> found = pool([-0.20, -0.25, -0.22], [0.04, 0.05, 0.03])
    >>> round(found.estimate.value, 3), found.tau
    (-0.22, 0.0)
    """
    y, s = np.asarray(values, dtype=float), np.asarray(errors, dtype=float)
    if y.shape != s.shape or y.ndim != 1:
        raise StatsError("stats.length", "Every effect needs its own standard error.")
    k = len(y)
    if k < 2:
        raise StatsError("stats.too_few_trials", "Two trials are the least that can be combined.")
    if not (np.isfinite(y).all() and np.isfinite(s).all() and (s > 0).all()):
        raise StatsError("stats.no_error", "Every effect needs a standard error above zero.")
    v = s**2
    tau2 = _tau2(y, v)
    w = 1 / (v + tau2)
    mean = float(w @ y / w.sum())
    factor = float(w @ (y - mean) ** 2) / (k - 1)
    se = math.sqrt(max(1.0, factor) / float(w.sum()))
    t = dist.t_quantile(1 - alpha / 2, k - 1)
    statistic = mean / se
    q, typical = _heterogeneity(y, v)
    about = Provenance(
        f"random effects, {ESTIMATOR}; interval {INTERVAL}", "effect ~ 1 + (1 | trial)", "trial", k,
        float(k - 1), ("trials are independent", "errors within trials are known"),
    )  # fmt: skip
    estimate = Estimate(
        "together", mean, se, float(k - 1), mean - t * se, mean + t * se, statistic,
        dist.t_two_sided(statistic, k - 1), n=k,
    )  # fmt: skip
    return PooledResult(
        about, estimate, math.sqrt(tau2), 100 * tau2 / (tau2 + typical), q, k - 1,
        dist.chi2_upper(q, k - 1), _prediction(mean, se, tau2, k, alpha),
        tuple(float(x) for x in w / w.sum()),
    )  # fmt: skip


def _prediction(mean: float, se: float, tau2: float, k: int, alpha: float) -> Estimate:
    if k < LEAST_FOR_PREDICTION:
        return Estimate("next trial", None, reason="needs three trials")
    t = dist.t_quantile(1 - alpha / 2, k - 1)
    spread = math.sqrt(tau2 + se**2)
    return Estimate("next trial", mean, spread, float(k - 1), mean - t * spread, mean + t * spread)


def _heterogeneity(y: Floats, v: Floats) -> tuple[float, float]:
    """Return Cochran's Q and the variance of a typical trial (Higgins & Thompson 2002, eq. 9)."""
    w = 1 / v
    mean = w @ y / w.sum()
    k = len(y)
    typical = (k - 1) * w.sum() / (w.sum() ** 2 - (w**2).sum())
    return float(w @ (y - mean) ** 2), float(typical)


def _tau2(y: Floats, v: Floats) -> float:
    """Return the REML variance between trials: the best of 0 and the likelihood's maxima."""
    # beyond the spread of the effects themselves no variance between them is likely
    top = float(np.ptp(y) ** 2 + v.max())
    grid = np.concatenate([[0.0], np.geomspace(top * 1e-8, top, _GRID)])
    slopes = _slope(y, v, grid)
    found = [0.0]
    for i in np.flatnonzero((slopes[:-1] > 0) & (slopes[1:] <= 0)):
        share = increasing_root(
            lambda x: -float(_slope(y, v, np.array([x * top]))[0]),
            float(grid[i] / top), float(grid[i + 1] / top), 1e-13,
        )  # fmt: skip
        found.append(share * top)
    return max(found, key=lambda tau2: _log_likelihood(y, v, tau2))


def _log_likelihood(y: Floats, v: Floats, tau2: float) -> float:
    w = 1 / (v + tau2)
    mean = w @ y / w.sum()
    return -0.5 * float(np.log(v + tau2).sum() + np.log(w.sum()) + w @ (y - mean) ** 2)


def _slope(y: Floats, v: Floats, tau2: Floats) -> Floats:
    """Return the derivative of the restricted log likelihood at each of (n,) variances."""
    w = 1 / (v + tau2[:, None])
    total = w.sum(axis=1)
    mean = w @ y / total
    squares = (w**2 * (y - mean[:, None]) ** 2).sum(axis=1)
    found: Floats = 0.5 * (squares - total + (w**2).sum(axis=1) / total)
    return found
