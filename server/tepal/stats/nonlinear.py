"""Curves by least squares: a damped Gauss-Newton iteration to the last digits.

scipy.optimize.curve_fit does this from good starts with its tolerances tightened, but takes as
long to load as a trial to analyse; the same iteration on an analytic or numeric Jacobian is short.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from tepal.stats.results import DegenerateResponseError, NotConvergedError

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Curve = Callable[[Floats, Floats], Floats]

Errors = Literal["jacobian", "hessian"]


@dataclass(frozen=True)
class CurveFit:
    """Least-squares estimates (p,), covariance (p, p) from J'J, RSS and error df."""

    parameters: Floats
    covariance: Floats
    rss: float
    df: int
    fitted: Floats


def fit_curve(
    curve: Curve,
    x: Sequence[float] | Floats,
    y: Sequence[float] | Floats,
    starts: Sequence[Sequence[float]],
    errors: Errors = "jacobian",
) -> CurveFit:
    """Fit y = curve(parameters, x) by least squares from several starts; the best one counts.

    Parameters
    ----------
    curve : (p,), (n,) -> (n,)    The model function.
    x, y : (n,) float, n > p.
    starts : one or more starting vectors (p,).
    errors : "jacobian" takes the covariance from J'J (as nls does), "hessian" from the second
        derivatives of the residual sum of squares (the observed information, as drc does).

    Returns
    -------
    CurveFit.

    Raises
    ------
    NotConvergedError         `stats.curve_not_found`: no start led to a minimum.
    DegenerateResponseError   `stats.too_few_points`.

    Notes
    -----
    Levenberg-Marquardt, central-difference Jacobian. Checked on NIST StRD Rat42 and Rat43.

    Examples
    --------
    >>> f = fit_curve(lambda p, x: p[0] + p[1] * x, [0, 1, 2], [1.0, 3.0, 5.5], [[0, 1]])
    >>> [round(float(v), 6) for v in f.parameters]
    [0.916667, 2.25]
    """
    xs, ys = np.asarray(x, dtype=float), np.asarray(y, dtype=float)
    p = len(starts[0])
    if len(xs) <= p:
        raise DegenerateResponseError(
            "stats.too_few_points",
            f"A curve with {p} parameters needs more than {p} values; there are {len(xs)}.",
        )
    best: tuple[float, Floats] | None = None
    for start in starts:
        found = _descend(curve, xs, ys, np.asarray(start, dtype=float))
        if found is not None and (best is None or found[0] < best[0]):
            best = found
    if best is None:
        raise NotConvergedError(
            "stats.curve_not_found",
            "The curve could not be fitted: the values do not bend the way it does. Look at the"
            " means, or test trends instead.",
        )
    rss, theta = best
    J = _jacobian(curve, theta, xs)
    size = np.sqrt((J**2).sum(axis=0))
    if not (size > 0).all() or np.linalg.cond(J / size) > 1e10:
        raise NotConvergedError(
            "stats.curve_not_determined",
            "The values do not determine every parameter of the curve: take a simpler one, or more"
            " rates where it bends.",
        )
    df = len(xs) - p
    information = J.T @ J
    if errors == "hessian":
        information = information - _curvature(curve, theta, xs, ys - curve(theta, xs))
    scaled = information / np.outer(size, size)
    spread = np.linalg.eigvalsh(scaled)
    # beyond this the inverse is rounding alone: condition 1e14 leaves two digits of sixteen
    if float(spread.min()) <= 1e-14 * float(spread.max()):
        raise NotConvergedError(
            "stats.curve_not_determined",
            "The sum of squares has no proper minimum here, so the parameters have no errors: take"
            " a simpler curve, or more rates where it bends.",
        )
    covariance = np.linalg.inv(scaled) / np.outer(size, size) * (rss / df)
    return CurveFit(theta, covariance, rss, df, curve(theta, xs))


def _jacobian(curve: Curve, theta: Floats, x: Floats) -> Floats:
    columns = []
    for j in range(len(theta)):
        h = 6e-6 * max(abs(theta[j]), 1e-4)  # cube root of the binary64 unit
        up, down = theta.copy(), theta.copy()
        up[j] += h
        down[j] -= h
        columns.append((curve(up, x) - curve(down, x)) / (up[j] - down[j]))
    return np.array(columns).T


def _curvature(curve: Curve, theta: Floats, x: Floats, residual: Floats) -> Floats:
    """Return sum over points of residual times second derivatives of the curve, (p, p)."""
    p = len(theta)
    h = 1e-4 * np.maximum(np.abs(theta), 1e-4)  # fourth root of the binary64 unit
    out = np.empty((p, p))
    for i in range(p):
        for j in range(p):
            total = 0.0
            for a, b in ((1, 1), (1, -1), (-1, 1), (-1, -1)):
                moved = theta.copy()
                moved[i] += a * h[i]
                moved[j] += b * h[j]
                total += a * b * float(residual @ curve(moved, x))
            out[i, j] = total / (4 * h[i] * h[j])
    return out


def _descend(curve: Curve, x: Floats, y: Floats, theta: Floats) -> tuple[float, Floats] | None:
    damping = 1e-3
    with np.errstate(over="ignore", invalid="ignore", divide="ignore"):
        residual = y - curve(theta, x)
        rss = float(residual @ residual)
        if not np.isfinite(rss):
            return None
        for _ in range(500):
            J = _jacobian(curve, theta, x)
            if not np.isfinite(J).all():
                return None
            size = np.sqrt((J**2).sum(axis=0))
            size[size == 0] = 1.0
            A = J / size
            g = A.T @ residual
            moved = False
            for _ in range(40):
                stacked = np.vstack([A, np.sqrt(damping) * np.eye(len(theta))])
                target = np.concatenate([residual, np.zeros(len(theta))])
                step = np.linalg.lstsq(stacked, target, rcond=None)[0] / size
                trial = theta + step
                new_residual = y - curve(trial, x)
                new = float(new_residual @ new_residual)
                if np.isfinite(new) and new <= rss:
                    moved = True
                    break
                damping *= 4
            small = float(np.abs(g).max()) <= 1e-13 * max(rss, 1e-300) ** 0.5
            if not moved:
                return (rss, theta) if float(np.abs(g).max()) <= 1e-5 * rss**0.5 else None
            change = float(np.abs(trial - theta).max() / (np.abs(theta).max() + 1e-30))
            theta, residual, rss = trial, new_residual, new
            damping = max(damping / 10, 1e-18)
            if small or change < 1e-15:
                return rss, theta
    return (rss, theta) if float(np.abs(g).max()) <= 1e-6 * rss**0.5 else None
