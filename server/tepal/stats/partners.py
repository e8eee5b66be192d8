"""Do two partners do more together than apart: departure from a scale fixed before the data.

No library call; contrasts and the delta method on the four least-squares means.
"""

from __future__ import annotations

import dataclasses
import math
from typing import TYPE_CHECKING, Literal

import numpy as np

from tepal.stats import distributions as dist
from tepal.stats.comparisons import contrasts
from tepal.stats.results import (
    ZERO_SHARE,
    ComparisonResult,
    DesignRefusedError,
    Estimate,
    InteractionResult,
    MeansResult,
    Scale,
    known,
)

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

ExpectationScale = Literal["absolute", "multiplicative"]
Wanted = Literal["decrease", "increase"]
Verdict = Literal["not_excluded", "more_than_expected", "less_than_expected", "not_estimable"]


def colby_expected_pct(inhibitions_pct: Sequence[float]) -> float:
    """Return the expected per cent inhibition of partners that act independently.

    Parameters
    ----------
    inhibitions_pct : two or more, % inhibition of each partner alone. Negative values (growth was
        promoted) are kept as they are; 100 is the most.

    Returns
    -------
    float, % inhibition.

    Raises
    ------
    DesignRefusedError   `stats.too_few_partners`, `stats.impossible_inhibition`.

    Notes
    -----
    1 - product of (1 - X/100): Colby 1967, Weeds 15:20-22; for two, X + Y - X Y / 100. Identical
    with Bliss independence. An expectation alone is no test: see `interaction`.

    Examples
    --------
    >>> colby_expected_pct([50, 60])
    80.0
    """
    if len(inhibitions_pct) < 2:
        raise DesignRefusedError("stats.too_few_partners", "An expectation needs two partners.")
    if any(x > 100 or not math.isfinite(x) for x in inhibitions_pct):
        raise DesignRefusedError(
            "stats.impossible_inhibition", "Inhibition is at most 100 % of the control."
        )
    return 100.0 - 100.0 * math.prod((100.0 - x) / 100.0 for x in inhibitions_pct)


def interaction(
    means: MeansResult,
    control: str,
    first: str,
    second: str,
    both: str,
    scale: ExpectationScale,
    wanted: Wanted,
    alpha: float = 0.05,
) -> InteractionResult:
    """Return how far the pair departs from what its partners alone let expect.

    Parameters
    ----------
    means : MeansResult   With the four levels, on the response scale or on the log scale.
    control, first, second, both : levels: untreated, each partner alone, the two together.
    scale : fixed before the data. "absolute": first + second - control. "multiplicative":
        first * second / control, which for reductions is the Colby / Bliss expectation.
    wanted : "decrease" (retardants) or "increase" of the response.
    alpha : float. Intervals at 1 - alpha, t on the error df.

    Returns
    -------
    InteractionResult. `departure` is observed minus expected in the unit of the response
    (absolute), or the log of observed over expected (multiplicative). `may_say` is set only where
    the interval excludes the expectation, the other scale agrees and the direction decides.

    Raises
    ------
    DesignRefusedError   `stats.unknown_level`: one of the four has no mean.

    Notes
    -----
    Contrast of logs: Flint, Cornelius & Barrett 1988, Weed Technol. 2:304-309; on means of the
    response scale the same by the delta method. Not excluded is never "the same".

    Examples
    --------
    >>> from tepal.stats import fit_linear, lsmeans
    >>> y = [100, 102, 98, 60, 62, 58, 80, 82, 78, 40, 42, 38]
    >>> t = ["0"] * 3 + ["1"] * 3 + ["2"] * 3 + ["3"] * 3
    >>> r = interaction(lsmeans(fit_linear(y, {"t": t}), "t"), "0", "1", "2", "3",
    ...                 "absolute", "decrease")
    >>> round(r.departure.value, 9), r.verdict
    (0.0, 'not_excluded')
    """
    at = _places(means, (control, first, second, both))
    m = np.array([means.means[i].value for i in at], dtype=float)
    V = np.array(means.covariance)[np.ix_(at, at)]
    on_log = means.means[0].scale == "log"
    if on_log:  # logs of fitted means: work on the means and their covariance
        log_m, log_v = m, V
        m = np.exp(m)
        V = V * np.outer(m, m)
    df = means.df_error
    t = dist.t_quantile(1 - alpha / 2, df)

    def estimate(
        label: str, f: Callable[[Floats], float], gradient: Floats, scale_: Scale
    ) -> Estimate:
        value = f(m)
        se = math.sqrt(float(gradient @ V @ gradient))
        statistic = value / se
        return Estimate(
            label,
            value,
            se,
            df,
            value - t * se,
            value + t * se,
            statistic,
            dist.t_two_sided(statistic, df),
            scale=scale_,
        )

    absolute = estimate(
        "observed - expected (absolute)",
        lambda x: float(x[3] - x[1] - x[2] + x[0]),
        np.array([1.0, -1.0, -1.0, 1.0]),
        "response",
    )
    if on_log:
        c = np.array([1.0, -1.0, -1.0, 1.0])
        value, se = float(c @ log_m), math.sqrt(float(c @ log_v @ c))
        multiplicative = Estimate(
            "ln(observed / expected)",
            value,
            se,
            df,
            value - t * se,
            value + t * se,
            value / se,
            dist.t_two_sided(value / se, df),
            scale="log",
        )
    elif (m > ZERO_SHARE * np.abs(m).max()).all():
        multiplicative = estimate(
            "ln(observed / expected)",
            lambda x: float(np.log(x[3] * x[0] / (x[1] * x[2]))),
            np.array([1.0, -1.0, -1.0, 1.0]) / m,
            "log",
        )
    else:
        multiplicative = Estimate(
            "ln(observed / expected)",
            None,
            scale="log",
            reason="a mean is not positive, so there is no multiplicative expectation",
        )
    chosen, other = (
        (absolute, multiplicative) if scale == "absolute" else (multiplicative, absolute)
    )
    observed, expected = _percent_estimates(m, V, df, t, scale)
    verdict = _verdict(chosen)
    agree = verdict != "not_excluded" and _verdict(other) == verdict
    effects = m[1] - m[0], m[2] - m[0]
    opposite = effects[0] * effects[1] < 0
    may_say: Literal["synergistic", "antagonistic"] | None = None
    if agree and not opposite and verdict in ("more_than_expected", "less_than_expected"):
        direction = "increase" if verdict == "more_than_expected" else "decrease"
        wanted_effects = all((e > 0) == (wanted == "increase") for e in effects)
        if wanted_effects:
            may_say = "synergistic" if direction == wanted else "antagonistic"
    about = dataclasses.replace(
        means.about,
        method=f"interaction of partners, {scale} expectation fixed beforehand, "
        + ("contrast of logs" if on_log and scale == "multiplicative" else "delta method"),
        notes=(*means.about.notes, f"wanted direction: {wanted}"),
    )
    return InteractionResult(
        about,
        scale,
        chosen,
        expected,
        observed,
        verdict,
        may_say,
        other,
        _words(verdict, opposite, first, second, may_say, chosen),
    )


def formulation(
    means: MeansResult,
    product: str,
    blank: str,
    partner_with_product: str | None = None,
    partner_with_blank: str | None = None,
    alpha: float = 0.05,
) -> ComparisonResult:
    """Return what the active ingredient does beyond the formulation that carries it.

    Parameters
    ----------
    means : MeansResult.
    product, blank : levels: the product, and its formulation without active ingredient.
    partner_with_product, partner_with_blank : levels, optional, given together.
    alpha : float.

    Returns
    -------
    ComparisonResult: product - blank, and partner with product - partner with blank.

    Raises
    ------
    DesignRefusedError   `stats.unknown_level`, or one of the two partner levels is missing.

    Examples
    --------
    >>> from tepal.stats import fit_linear, lsmeans
    >>> m = lsmeans(fit_linear([5, 7, 9, 11], {"t": ["p", "p", "blank", "blank"]}), "t")
    >>> formulation(m, "p", "blank").comparisons[0].value
    -4.0
    """
    if (partner_with_product is None) != (partner_with_blank is None):
        raise DesignRefusedError(
            "stats.unknown_level", "Give the partner both with the product and with the blank."
        )
    wanted = {f"{product} - {blank}": {product: 1.0, blank: -1.0}}
    if partner_with_product is not None and partner_with_blank is not None:
        wanted[f"{partner_with_product} - {partner_with_blank}"] = {
            partner_with_product: 1.0,
            partner_with_blank: -1.0,
        }
    result = contrasts(means, wanted, alpha=alpha)
    about = dataclasses.replace(result.about, method="product against its formulation blank")
    return dataclasses.replace(result, procedure="formulation contrasts", about=about)


def _percent_estimates(
    m: Floats, V: Floats, df: float, t: float, scale: ExpectationScale
) -> tuple[Estimate, Estimate]:
    """Return observed and expected of the pair in per cent of the control, delta method."""
    if abs(m[0]) <= ZERO_SHARE * np.abs(m).max():
        reason = "the control is zero, so nothing can be given in per cent of it"
        return (
            Estimate("observed", None, scale="percent", reason=reason),
            Estimate("expected", None, scale="percent", reason=reason),
        )
    c, a, b, ab = (float(x) for x in m)
    gradients = {
        "observed": (100 * ab / c, 100 * np.array([-ab / c**2, 0, 0, 1 / c])),
        "expected": (
            (100 * (a + b - c) / c, 100 * np.array([-(a + b) / c**2, 1 / c, 1 / c, 0]))
            if scale == "absolute"
            else (
                100 * a * b / c**2,
                100 * np.array([-2 * a * b / c**3, b / c**2, a / c**2, 0]),
            )
        ),
    }
    out = []
    for label, (value, gradient) in gradients.items():
        se = math.sqrt(float(gradient @ V @ gradient))
        out.append(Estimate(label, value, se, df, value - t * se, value + t * se, scale="percent"))
    return out[0], out[1]


def percent_departure(
    means: MeansResult, control: str, first: str, second: str, both: str, alpha: float = 0.05
) -> Estimate:
    """Return observed minus Colby-expected inhibition in points of per cent of the control.

    Parameters
    ----------
    means : MeansResult on the response scale; the other arguments as `interaction`.

    Returns
    -------
    Estimate, scale "percent": positive means more inhibition than expected. Delta method.

    Raises
    ------
    DesignRefusedError   `stats.unknown_level`, `stats.zero_control`.

    Examples
    --------
    >>> from tepal.stats import fit_linear, lsmeans
    >>> y = [99, 101, 49, 51, 39, 41, 19, 21]
    >>> m = lsmeans(fit_linear(y, {"t": list("00112233")}), "t")
    >>> round(percent_departure(m, "0", "1", "2", "3").value, 9) + 0.0  # 80 observed, 80 expected
    0.0
    """
    at = _places(means, (control, first, second, both))
    c, a, b, ab = (known(means.means[i].value) for i in at)
    if abs(c) <= ZERO_SHARE * max(abs(a), abs(b), abs(ab)):
        raise DesignRefusedError(
            "stats.zero_control", "The control is zero: nothing can be given in per cent of it."
        )
    V = np.array(means.covariance)[np.ix_(at, at)]
    value = 100 * (a * b / c**2 - ab / c)
    gradient = 100 * np.array([-2 * a * b / c**3 + ab / c**2, b / c**2, a / c**2, -1 / c])
    se = math.sqrt(float(gradient @ V @ gradient))
    t = dist.t_quantile(1 - alpha / 2, means.df_error)
    return Estimate(
        "observed - expected inhibition",
        value,
        se,
        means.df_error,
        value - t * se,
        value + t * se,
        value / se,
        dist.t_two_sided(value / se, means.df_error),
        scale="percent",
    )


def _places(means: MeansResult, names: tuple[str, ...]) -> list[int]:
    for level in names:
        if level not in means.levels:
            raise DesignRefusedError(
                "stats.unknown_level",
                f"{means.factor} has no mean of {level!r}: the interaction needs untreated, each"
                " partner alone and both in the same trial.",
                level=level,
            )
    return [means.levels.index(x) for x in names]


def _verdict(departure: Estimate) -> Verdict:
    if departure.value is None or departure.lower is None or departure.upper is None:
        return "not_estimable"
    if departure.lower > 0:
        return "more_than_expected"
    if departure.upper < 0:
        return "less_than_expected"
    return "not_excluded"


def _words(
    verdict: Verdict,
    opposite: bool,
    first: str,
    second: str,
    may_say: str | None,
    chosen: Estimate,
) -> str:
    if verdict == "not_estimable":
        return f"No expectation can be formed: {chosen.reason}."
    if opposite:
        if verdict == "not_excluded":
            return (
                f"{first} and {second} pull in opposite directions; together they stand where the"
                " two effects meet, as far as this trial can see. Read the interval: it is the"
                " message."
            )
        return (
            f"{first} and {second} pull in opposite directions, and together the response is"
            f" {'higher' if verdict == 'more_than_expected' else 'lower'} than the two effects let"
            f" expect: {second} did not simply undo {first}."
        )
    if verdict == "not_excluded":
        return (
            "The expectation is not excluded. That is not proof that the partners act"
            " independently: the interval says how far from it the truth may lie."
        )
    side = "higher" if verdict == "more_than_expected" else "lower"
    if may_say == "synergistic":
        return f"Together the response is {side} than expected, on both scales: synergistic."
    if may_say == "antagonistic":
        return f"Together the response is {side} than expected, on both scales: antagonistic."
    return (
        f"Together the response is {side} than expected on the scale fixed beforehand, but the"
        " other scale, or the direction, does not support a stronger word."
    )
