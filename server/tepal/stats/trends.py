"""Ordered rates: linear and quadratic trend at the real spacing, and factorial contrasts.

Contrasts of least-squares means; the libraries offer polynomial codes for equal spacing only.
"""

from __future__ import annotations

import dataclasses
import math
from typing import TYPE_CHECKING

import numpy as np

from tepal.stats import distributions as dist
from tepal.stats.comparisons import contrasts
from tepal.stats.models import FittedModel, lsmeans
from tepal.stats.results import (
    Check,
    ComparisonResult,
    DesignRefusedError,
    Estimate,
    MeansResult,
)

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]


def polynomial_coefficients(rates: list[float], degree: int) -> Floats:
    """Return orthogonal polynomial contrasts (degree, k) at the real spacing of the rates.

    Parameters
    ----------
    rates : (k,) float, distinct, any unit (mg/L, drench volume, hours).
    degree : 1 .. k - 1.

    Returns
    -------
    (degree, k) float; row d estimates the coefficient of rate^d after all lower powers.

    Raises
    ------
    DesignRefusedError   `stats.too_few_rates`, `stats.same_rate`.

    Examples
    --------
    >>> c = polynomial_coefficients([0, 1, 2, 3], 2)
    >>> [round(float(x), 9) for x in c[0] * 10]  # -3 -1 1 3, tables of orthogonal polynomials
    [-3.0, -1.0, 1.0, 3.0]
    >>> [round(float(x), 9) for x in c[1] * 4]
    [1.0, -1.0, -1.0, 1.0]
    """
    x = np.asarray(rates, dtype=float)
    if len(set(rates)) != len(rates):
        raise DesignRefusedError("stats.same_rate", "Two levels have the same rate.")
    if not 1 <= degree <= len(x) - 1:
        raise DesignRefusedError(
            "stats.too_few_rates",
            f"A trend of degree {degree} needs at least {degree + 1} rates, there are {len(x)}.",
        )
    centre, spread = float(x.mean()), float(np.ptp(x))
    z = (x - centre) / spread
    basis = np.vander(z, degree + 1, increasing=True)
    rows = []
    for d in range(1, degree + 1):
        Q, _ = np.linalg.qr(basis[:, :d])
        rest = basis[:, d] - Q @ (Q.T @ basis[:, d])
        rest -= Q @ (Q.T @ rest)
        rows.append(rest / float(rest @ rest) / spread**d)
    return np.array(rows)


def trend(
    means: MeansResult, rates: Mapping[str, float], degree: int = 2, alpha: float = 0.05
) -> tuple[ComparisonResult, Check]:
    """Return the polynomial trend over rates and a test of what it leaves over.

    Parameters
    ----------
    means : MeansResult    Of the treatments; levels not in `rates` are left out.
    rates : level -> rate, one unit for all; the untreated control has rate 0.
    degree : 1 linear, 2 linear and quadratic, ...
    alpha : float.

    Returns
    -------
    ComparisonResult with one Estimate per degree in unit of response per rate^degree, and the
    lack-of-fit Check (F on k - 1 - degree and the error df), or its reason.

    Raises
    ------
    DesignRefusedError   As `polynomial_coefficients`.

    Notes
    -----
    Trends come before letters where treatments are rates: Chew 1976, Proc. Fla. State Hort. Soc.
    89:251; Petersen 1977, Agron. J. 69:205.

    Examples
    --------
    >>> from tepal.stats import fit_linear, lsmeans
    >>> fit = fit_linear([10, 12, 8, 10, 3, 5], {"t": ["0", "0", "5", "5", "20", "20"]})
    >>> result, _ = trend(lsmeans(fit, "t"), {"0": 0, "5": 5, "20": 20}, degree=1)
    >>> round(result.comparisons[0].value, 6)  # least squares slope of 11, 9, 4 on 0, 5, 20
    -0.346154
    """
    levels = sorted((x for x in means.levels if x in rates), key=lambda x: rates[x])
    missing = [x for x in rates if x not in means.levels]
    if missing:
        raise DesignRefusedError(
            "stats.unknown_level",
            f"{means.factor} has no mean of {', '.join(missing)}; name the levels as in the data.",
        )
    c = polynomial_coefficients([float(rates[x]) for x in levels], degree)
    names = ["linear", "quadratic", "cubic", "quartic"]
    result = contrasts(
        means,
        {
            (names[d] if d < 4 else f"degree {d + 1}"): dict(
                zip(levels, (float(v) for v in c[d]), strict=True)
            )
            for d in range(degree)
        },
        alpha=alpha,
    )
    about = dataclasses.replace(result.about, method="polynomial trend at the real spacing")
    result = dataclasses.replace(result, about=about, procedure="trend")
    k = len(levels)
    over = k - 1 - degree
    if over < 1:
        return result, Check(
            "lack of fit of the trend",
            None,
            (),
            None,
            reason="the trend uses every degree of freedom of the rates",
        )
    full = polynomial_coefficients([float(rates[x]) for x in levels], k - 1)[degree:]
    at = [means.levels.index(x) for x in levels]
    V = np.array(means.covariance)[np.ix_(at, at)]
    m = np.array([means.means[i].value for i in at], dtype=float)
    K = full / np.sqrt((full**2).sum(axis=1))[:, None]
    d = K @ (m - m[0])
    f = float(d @ np.linalg.solve(K @ V @ K.T, d)) / over
    return result, Check(
        "lack of fit of the trend",
        f,
        (float(over), means.df_error),
        dist.f_upper(f, over, means.df_error),
    )


def factorial_effects(fit: FittedModel, alpha: float = 0.05) -> ComparisonResult:
    """Return the 2^k effects of every term whose factors all have two levels.

    Parameters
    ----------
    fit : FittedModel   Linear; levels in `level_order`, the second counts as present.
    alpha : float.

    Returns
    -------
    ComparisonResult. A main effect is present minus absent; an interaction of two is half of the
    contrast (ab - a - b + 0), the convention of 2^k tables; see `interaction_contrast`.

    Raises
    ------
    DesignRefusedError   `stats.no_two_level_term`.

    Examples
    --------
    >>> from tepal.stats import fit_linear
    >>> fit = fit_linear([1, 3, 5, 11, 2, 4, 6, 12], {"a": list("01010101"),
    ...                  "b": list("00110011")}, terms=("a", "b", "a:b"))
    >>> [round(e.value, 9) for e in factorial_effects(fit).comparisons]
    [4.0, 6.0, 2.0]
    """
    rows = []
    t = dist.t_quantile(1 - alpha / 2, fit.df_error)
    for term in fit.design.terms:
        parts = term.split(":")
        if not all(len(fit.design.levels.get(p, ())) == 2 for p in parts):
            continue
        j = fit.design.columns[term].start
        # sum coding has +1 for the first level: (-1)^k turns it into present = +1
        value = 2.0 * float(fit.coef[j]) * (-1) ** len(parts)
        se = 2.0 * math.sqrt(float(fit.cov[j, j]))
        s = value / se
        rows.append(
            Estimate(
                term,
                value,
                se,
                float(fit.df_error),
                value - t * se,
                value + t * se,
                s,
                dist.t_two_sided(s, fit.df_error),
            )
        )
    if not rows:
        raise DesignRefusedError(
            "stats.no_two_level_term", "No term of the model has factors of two levels only."
        )
    about = dataclasses.replace(
        fit.about,
        method="2^k effects",
        notes=("interactions in the 2^k convention: half of ab - a - b + control",),
    )
    return ComparisonResult(about, "2^k effects", "two-sided", alpha, tuple(rows), None, t)


def interaction_contrast(
    fit: FittedModel,
    first: str,
    second: str,
    alpha: float = 0.05,
) -> Estimate:
    """Return ab - a - b + control of two two-level factors, in the unit of the response.

    Parameters
    ----------
    fit : FittedModel with the term `first:second`.

    Returns
    -------
    Estimate; on the log scale it is the multiplicative interaction.

    Raises
    ------
    DesignRefusedError   The term is not in the model, or a factor has not two levels.

    Examples
    --------
    >>> from tepal.stats import fit_linear
    >>> fit = fit_linear([1, 3, 5, 11, 2, 4, 6, 12], {"a": list("01010101"),
    ...                  "b": list("00110011")}, terms=("a", "b", "a:b"))
    >>> round(interaction_contrast(fit, "a", "b").value, 9)
    4.0
    """
    term = next((t for t in fit.design.terms if set(t.split(":")) == {first, second}), None)
    a, b = fit.design.levels.get(first, ()), fit.design.levels.get(second, ())
    if term is None or len(a) != 2 or len(b) != 2:
        raise DesignRefusedError(
            "stats.unknown_term",
            f"The model needs the term {first}:{second} of two factors with two levels each.",
        )
    cells = lsmeans(fit, f"{first}:{second}", alpha=alpha)
    weights = {
        f"{a[0]}:{b[0]}": 1.0,
        f"{a[1]}:{b[0]}": -1.0,
        f"{a[0]}:{b[1]}": -1.0,
        f"{a[1]}:{b[1]}": 1.0,
    }
    return contrasts(cells, {f"{first}:{second}": weights}, alpha=alpha).comparisons[0]


def simple_effects(
    fit: FittedModel, of: str, within: str, alpha: float = 0.05
) -> dict[str, ComparisonResult]:
    """Return all pairs of one factor at each level of another.

    Parameters
    ----------
    fit : FittedModel with the interaction of the two factors.
    of, within : factor names.

    Returns
    -------
    level of `within` -> ComparisonResult (pointwise t; p_adjusted equals p).

    Examples
    --------
    >>> from tepal.stats import fit_linear
    >>> fit = fit_linear([1, 3, 5, 11, 2, 4, 6, 12], {"a": list("01010101"),
    ...                  "b": list("00110011")}, terms=("a", "b", "a:b"))
    >>> round(simple_effects(fit, "a", "b")["1"].comparisons[0].value, 9)
    -6.0
    """
    cells = lsmeans(fit, f"{of}:{within}", alpha=alpha)
    levels = fit.design.levels[of]
    out = {}
    for level in fit.design.levels[within]:
        out[level] = contrasts(
            cells,
            {
                f"{a} - {b}": {f"{a}:{level}": 1.0, f"{b}:{level}": -1.0}
                for i, a in enumerate(levels)
                for b in levels[i + 1 :]
            },
            alpha=alpha,
        )
    return out
