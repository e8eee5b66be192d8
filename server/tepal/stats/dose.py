"""Dose response: curves, effective doses, wanted rates; one fit serves all, hence over 400 lines.

scipy fits curves but knows no effective doses; the curves and their deltas are written here.
"""

from __future__ import annotations

import dataclasses
import math
from typing import TYPE_CHECKING, Literal

import numpy as np

from tepal.domain.errors import Finding
from tepal.stats import distributions as dist
from tepal.stats.design_matrix import model_matrix
from tepal.stats.nonlinear import CurveFit, Errors, fit_curve
from tepal.stats.results import (
    Check,
    DegenerateResponseError,
    DesignRefusedError,
    DoseResult,
    Estimate,
    Provenance,
    StatsError,
)

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

DoseCurve = Literal["LL3", "LL4", "hormesis"]
FORMULAS = {
    "LL4": "y = c + (d - c) / (1 + (x / e)^b)",
    "LL3": "y = d / (1 + (x / e)^b)",
    "hormesis": "y = (d + f x) / (1 + (x / e)^b)",
    "logistic": "y = asymptote / (1 + exp((midpoint - x) / scale))",
}
PARAMETERS = {
    "LL4": ("b", "c", "d", "e"),
    "LL3": ("b", "d", "e"),
    "hormesis": ("b", "d", "e", "f"),
    "logistic": ("asymptote", "midpoint", "scale"),
}


def dose_response(
    dose: Sequence[float],
    response: Sequence[float],
    curve: DoseCurve = "LL4",
    levels_pct: Sequence[float] = (10, 50, 90),
    wanted: Sequence[float] = (),
    alpha: float = 0.05,
    errors: Errors = "jacobian",
    beside: Mapping[str, Sequence[str]] | None = None,
    beside_terms: Sequence[str] | None = None,
) -> DoseResult:
    """Fit a dose-response curve to plot values and read effective doses from it.

    Parameters
    ----------
    dose : (n,) float >= 0, one unit (mg/L, mg/pot); 0 is the untreated control.
    response : (n,) float, plot values in one unit.
    curve : "LL4" between two asymptotes, "LL3" down to zero, "hormesis" with stimulation at low
        doses (no effective doses, but the dose of the maximum).
    levels_pct : effects in % of the way from d to c for which the dose is wanted, 0 < x < 100.
    wanted : responses, in the unit of `response`, for which the dose is wanted.
    alpha : float. Delta-method intervals with t on the error df.
    errors : see `fit_curve`; the two conventions differ in the second digit, so name the one used.
    beside : name -> (n,) labels of blocks (or rows and columns) whose effects add to the curve and
        average to zero over their levels: the curve is that of an average block.
    beside_terms : terms made of them, `A:B` for a product; None: each by itself.

    Returns
    -------
    DoseResult. A wanted response outside the fitted curve has a reason instead of a dose.

    Raises
    ------
    DesignRefusedError   `stats.too_few_rates`: fewer distinct doses than parameters;
                         `stats.negative_dose`, `stats.length`.
    NotConvergedError    `stats.curve_not_found`, `stats.curve_not_determined`.

    Notes
    -----
    Streibig 1988, Weed Res. 28:479; Brain & Cousens 1989, Weed Res. 29:93 (hormesis).
    Block effects are linear and are projected out of curve and response; parameters, errors and
    residual are those of fitting all at once (Golub & Pereyra 1973, SIAM J. Numer. Anal. 10:413).

    Examples
    --------
    >>> x = [0, 0, 1, 1, 3, 3, 10, 10, 30, 30]
    >>> y = [8.1, 7.9, 7.6, 7.2, 4.1, 3.9, 1.2, 1.0, 0.5, 0.7]
    >>> r = dose_response(x, y)
    >>> 2 < r.effective_doses[1].value < 4  # half of the fall is reached at about 3
    True
    """
    x, y = np.asarray(dose, dtype=float), np.asarray(response, dtype=float)
    if len(x) != len(y):
        raise DesignRefusedError(
            "stats.length", f"{len(x)} doses for {len(y)} responses; each needs its own."
        )
    if not (np.isfinite(x).all() and np.isfinite(y).all()):
        raise DesignRefusedError("stats.not_finite", "Doses and responses must be given in full.")
    if (x < 0).any():
        raise DesignRefusedError("stats.negative_dose", f"A dose of {x.min():g} is impossible.")
    names = PARAMETERS[curve]
    distinct = np.unique(x)
    if len(distinct) < len(names) or (distinct > 0).sum() < 3:
        raise DesignRefusedError(
            "stats.too_few_rates",
            f"{len(distinct)} different doses cannot carry the {len(names)} parameters of {curve};"
            " test a linear and quadratic trend at the real spacing instead.",
        )
    f = _function(curve)
    blocks = _basis(beside, beside_terms, len(x))
    n_lost = blocks.shape[1]
    if len(x) <= len(names) + n_lost:
        raise DegenerateResponseError(
            "stats.too_few_points",
            f"A curve with {len(names)} parameters and {n_lost} degrees of freedom for blocks needs"
            f" more than {len(names) + n_lost} values; there are {len(x)}.",
        )

    def without_blocks(values: Floats) -> Floats:
        return values - blocks @ (blocks.T @ values)

    fit = fit_curve(
        lambda p, v: without_blocks(f(p, v)), x, without_blocks(y), _starts(curve, x, y), errors
    )
    df = fit.df - n_lost
    fit = dataclasses.replace(fit, df=df, covariance=fit.covariance * (fit.df / df))
    t = dist.t_quantile(1 - alpha / 2, fit.df)
    findings = []
    positive = distinct[distinct > 0]
    e = float(fit.parameters[names.index("e")])
    if curve != "hormesis" and not positive.min() / 2 <= e <= positive.max() * 2:
        findings.append(
            Finding(
                "stats.dose_outside",
                "caution",
                "The dose of half effect lies outside the doses tried: it is an extrapolation.",
                context={"dose": e},
            )
        )
    effective = _effective(curve, fit, levels_pct, wanted, t, float(positive.max()))
    return DoseResult(
        _about(
            " + ".join((FORMULAS[curve], *(beside_terms or beside or ()))),
            f"{curve} dose response",
            len(x),
            fit.df,
            errors,
        ),
        curve,
        tuple(_parameter(names[j], fit, j, t) for j in range(len(names))),
        fit.rss,
        math.sqrt(fit.rss / fit.df),
        fit.df,
        effective,
        _lack_of_fit(x, y, fit, blocks),
        tuple(findings),
    )


def growth_curve(time: Sequence[float], size: Sequence[float], alpha: float = 0.05) -> DoseResult:
    """Fit a logistic growth curve to one series of sizes.

    Parameters
    ----------
    time : (n,) float, days or any unit of time.
    size : (n,) float > 0, one unit.
    alpha : float.

    Returns
    -------
    DoseResult with asymptote (unit of size), midpoint and scale (unit of time). An asymptote far
    beyond the data carries the finding `stats.asymptote_beyond`.

    Raises
    ------
    NotConvergedError, DegenerateResponseError   As `fit_curve`.

    Examples
    --------
    >>> r = growth_curve([118, 484, 664, 1004, 1231, 1372, 1582], [30, 51, 75, 108, 115, 139, 140])
    >>> round(r.parameters[0].value, 1)  # Orange tree 3, Draper & Smith 1998
    158.8
    """
    x, y = np.asarray(time, dtype=float), np.asarray(size, dtype=float)
    top = float(y.max())
    starts = []
    for factor in (1.05, 1.3, 2.0, 4.0):
        a = top * factor
        slope, intercept = np.polyfit(x, np.log(np.clip(y, 1e-9, None) / (a - y)), 1)
        if slope > 0:
            starts.append([a, -intercept / slope, 1 / slope])
    if not starts:
        starts = [[top * 1.1, float(np.median(x)), float(np.ptp(x)) / 4]]
    fit = fit_curve(lambda p, v: p[0] / (1 + np.exp((p[1] - v) / p[2])), x, y, starts)
    t = dist.t_quantile(1 - alpha / 2, fit.df)
    findings = []
    # a curve seen below 2/3 of its height says little about the rest: common practice, no source
    if fit.parameters[0] > 1.5 * top or fit.covariance[0, 0] ** 0.5 > 0.3 * fit.parameters[0]:
        findings.append(
            Finding(
                "stats.asymptote_beyond",
                "caution",
                "The final size lies far beyond the sizes measured: do not quote it.",
                context={"asymptote": float(fit.parameters[0]), "largest": top},
            )
        )
    names = PARAMETERS["logistic"]
    return DoseResult(
        _about(FORMULAS["logistic"], "logistic growth curve", len(x), fit.df),
        "logistic",
        tuple(_parameter(names[j], fit, j, t) for j in range(3)),
        fit.rss,
        math.sqrt(fit.rss / fit.df),
        fit.df,
        (),
        None,
        tuple(findings),
    )


def _about(formula: str, method: str, n: int, df: int, errors: Errors = "jacobian") -> Provenance:
    by = "J'J" if errors == "jacobian" else "the Hessian"
    return Provenance(
        method=f"{method}, nonlinear least squares, errors by {by} and the delta method",
        formula=formula,
        unit_of_analysis="plot",
        n=n,
        df=float(df),
        assumptions=("plots independent", "one variance at all doses", "the curve holds"),
    )


def _function(curve: DoseCurve) -> Callable[[Floats, Floats], Floats]:
    if curve == "LL4":
        return lambda p, x: p[1] + (p[2] - p[1]) / (1 + _power(x, p[3], p[0]))
    if curve == "LL3":
        return lambda p, x: p[1] / (1 + _power(x, p[2], p[0]))
    return lambda p, x: (p[1] + p[3] * x) / (1 + _power(x, p[2], p[0]))


def _power(x: Floats, e: float, b: float) -> Floats:
    # (x/e)^b without log(0); a negative e on the way gives NaN and the step is damped; beyond all
    # numbers it is infinite, and the curve at its asymptote
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        return np.where(x > 0, np.exp(b * (np.log(np.maximum(x, 1e-300)) - np.log(e))), 0.0)


def _starts(curve: DoseCurve, x: Floats, y: Floats) -> list[list[float]]:
    doses = np.unique(x)
    means = np.array([y[x == v].mean() for v in doses])
    d, c = float(means[0]), float(means[-1])
    half = (d + c) / 2
    positive = doses > 0
    near = doses[positive][np.argmin(np.abs(means[positive] - half))]
    grid = [near, *np.quantile(doses[positive], [0.25, 0.5, 0.75])]
    starts: list[list[float]] = []
    for e in grid:
        for b in (1.0, 2.5, 5.0):
            if curve == "LL4":
                starts.append([b, c, d, float(e)])
            elif curve == "LL3":
                starts.append([b, d, float(e)])
            else:
                for f in (0.5, 2.0):
                    rise = f * max(float(means.max()) - d, 0.1 * abs(d)) / float(near)
                    starts.append([b, d, float(e), rise])
    return starts


def _parameter(name: str, fit: CurveFit, j: int, t: float) -> Estimate:
    value, se = float(fit.parameters[j]), math.sqrt(float(fit.covariance[j, j]))
    return Estimate(
        name,
        value,
        se,
        float(fit.df),
        value - t * se,
        value + t * se,
        value / se,
        dist.t_two_sided(value / se, fit.df),
    )


def _effective(
    curve: DoseCurve,
    fit: CurveFit,
    levels_pct: Sequence[float],
    wanted: Sequence[float],
    t: float,
    largest: float,
) -> tuple[Estimate, ...]:
    p = fit.parameters
    if curve == "hormesis":
        return (_dose_of_maximum(fit, t, largest),)
    names = PARAMETERS[curve]
    b, e, d = p[0], p[names.index("e")], p[names.index("d")]
    c = float(p[1]) if curve == "LL4" else 0.0
    out = []
    for level in levels_pct:
        if not 0 < level < 100:
            raise StatsError("stats.impossible_level", f"An effect of {level:g} % has no dose.")
        q = level / (100 - level)
        value = float(e * q ** (1 / b))
        gradient = np.zeros(len(p))
        gradient[0] = -value * math.log(q) / b**2
        gradient[names.index("e")] = value / e
        out.append(_with_delta(f"ED{level:g}", value, gradient, fit, t))
    for target in wanted:
        label = f"rate for {target:g}"
        share = (d - c) / (target - c) - 1 if target != c else -1.0
        if share <= 0:
            out.append(
                Estimate(
                    label,
                    None,
                    scale="rate",
                    reason="the curve never reaches this response between its two limits",
                )
            )
            continue
        value = float(e * share ** (1 / b))
        gradient = np.zeros(len(p))
        gradient[0] = -value * math.log(share) / b**2
        gradient[names.index("e")] = value / e
        outer = value / (b * share)  # d value / d share
        gradient[names.index("d")] = outer / (target - c)
        if curve == "LL4":
            gradient[1] = outer * ((d - c) / (target - c) ** 2 - 1 / (target - c))
        estimate = _with_delta(label, value, gradient, fit, t)
        if value > largest:
            estimate = Estimate(
                label,
                value,
                estimate.se,
                estimate.df,
                estimate.lower,
                estimate.upper,
                scale="rate",
                reason="beyond the largest rate tried: an extrapolation, not a recommendation",
            )
        out.append(estimate)
    return tuple(out)


def _with_delta(label: str, value: float, gradient: Floats, fit: CurveFit, t: float) -> Estimate:
    se = math.sqrt(float(gradient @ fit.covariance @ gradient))
    return Estimate(label, value, se, float(fit.df), value - t * se, value + t * se, scale="rate")


def _dose_of_maximum(fit: CurveFit, t: float, largest: float) -> Estimate:
    """Return the dose where the hormesis curve is highest, delta by numeric gradient."""

    def place(p: Floats) -> float | None:
        b, d, e, f = (float(v) for v in p)
        if not (f > 0 and b > 1 and e > 0):
            return None
        low, high = 1e-12 * largest, largest

        def slope(x: float) -> float:
            u = float((x / e) ** b)
            return f * (1 + u) - (d + f * x) * b * u / x

        if slope(low) <= 0 or slope(high) >= 0:
            return None
        for _ in range(200):
            middle = 0.5 * (low + high)
            low, high = (middle, high) if slope(middle) > 0 else (low, middle)
        return 0.5 * (low + high)

    value = place(fit.parameters)
    if value is None:
        return Estimate(
            "dose of the maximum",
            None,
            scale="rate",
            reason="the fitted curve has no maximum between zero and the largest dose",
        )
    gradient = np.zeros(len(fit.parameters))
    for j in range(len(fit.parameters)):
        h = 1e-5 * max(abs(float(fit.parameters[j])), 1e-4)
        up, down = fit.parameters.copy(), fit.parameters.copy()
        up[j] += h
        down[j] -= h
        a, b = place(up), place(down)
        if a is None or b is None:
            return Estimate(
                "dose of the maximum",
                value,
                scale="rate",
                reason="no standard error: the maximum disappears within the parameters' rounding",
            )
        gradient[j] = (a - b) / (2 * h)
    return _with_delta("dose of the maximum", value, gradient, fit, t)


def _basis(
    beside: Mapping[str, Sequence[str]] | None, terms: Sequence[str] | None, n: int
) -> Floats:
    """Return an orthonormal basis (n, q) of the block effects, each averaging to zero."""
    if not beside:
        return np.zeros((n, 0))
    if any(len(labels) != n for labels in beside.values()):
        raise DesignRefusedError("stats.length", f"Every one of {n} values needs its block.")
    matrix = model_matrix(beside, {}, terms).matrix[:, 1:]
    u, size, _ = np.linalg.svd(matrix, full_matrices=False)
    return u[:, size > 1e-9 * max(float(size.max(initial=0.0)), 1.0)]


def _lack_of_fit(x: Floats, y: Floats, fit: CurveFit, blocks: Floats) -> Check:
    doses = np.unique(x)
    each = np.hstack([(x[:, None] == doses).astype(float), blocks])
    rank = int(np.linalg.matrix_rank(each))
    pure = float(((y - each @ np.linalg.lstsq(each, y, rcond=None)[0]) ** 2).sum())
    df_pure = len(x) - rank
    df_lack = rank - len(fit.parameters) - blocks.shape[1]
    if df_pure < 1 or df_lack < 1 or pure <= 0:
        return Check(
            "lack of fit",
            None,
            (),
            None,
            reason="needs replicated doses and more doses than parameters",
        )
    f = max(0.0, (fit.rss - pure) / df_lack) / (pure / df_pure)
    return Check(
        "lack of fit", f, (float(df_lack), float(df_pure)), dist.f_upper(f, df_lack, df_pure)
    )
