"""Frozen results of every analysis and its errors; all in one place, hence over 400 lines.

A result holds numbers and the words that make them checkable (method, formula, unit of analysis,
n, assumptions, seed, versions). Formatting is the business of whoever shows it.
"""

from __future__ import annotations

import dataclasses
import math
import platform
from dataclasses import dataclass, field
from typing import Any, Literal

import numpy as np
import scipy

from tepal import __version__
from tepal.domain.errors import Finding, TepalError

Alternative = Literal["two-sided", "greater", "less"]
Scale = Literal["response", "log", "logit", "ratio", "percent", "rate", "rank", "days"]


class StatsError(TepalError, ValueError):
    """An analysis refuses its input; the message names the fault and the cure."""


class DesignRefusedError(StatsError):
    """The table cannot answer the question (confounded terms, empty cells, one replicate)."""


class DegenerateResponseError(StatsError):
    """The response carries no information for the model (all zero, no variation, too few)."""


class NotConvergedError(StatsError):
    """An iterative fit found no finite optimum; the message says what was reached."""


def _versions() -> tuple[tuple[str, str], ...]:
    return (
        ("tepal", __version__),
        ("python", platform.python_version()),
        ("numpy", np.__version__),
        ("scipy", scipy.__version__),
    )


@dataclass(frozen=True, slots=True)
class Provenance:
    """What a referee needs to repeat the figure: method, formula, unit, n, seed, versions.

    `seed` is None where nothing random was used. `n` counts the units analysed, not the plants.
    """

    method: str
    formula: str
    unit_of_analysis: str
    n: int
    df: float | None = None
    assumptions: tuple[str, ...] = ()
    seed: int | None = None
    versions: tuple[tuple[str, str], ...] = field(default_factory=_versions)
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Estimate:
    """One estimate with its error, interval and test; `reason` stands for each missing number.

    INVARIANT: no field is NaN or infinite, and a `value` of None has a `reason`. One-sided
    intervals leave the open side None. `p` is unadjusted, `p_adjusted` is for the whole family.
    """

    label: str
    value: float | None
    se: float | None = None
    df: float | None = None
    lower: float | None = None
    upper: float | None = None
    statistic: float | None = None
    p: float | None = None
    p_adjusted: float | None = None
    scale: Scale = "response"
    n: int | None = None
    pair: tuple[str, str] | None = None
    reason: str | None = None

    def __post_init__(self) -> None:
        _no_nan(self)
        if self.value is None and not self.reason:
            raise ValueError(f"estimate {self.label!r} has neither a value nor a reason")


@dataclass(frozen=True, slots=True)
class TermTest:
    """One line of an analysis of variance or deviance table."""

    term: str
    df: int
    ss: float | None
    ms: float | None
    f: float | None
    p: float | None
    df_error: float | None
    error_term: str = "residual"
    reason: str | None = None

    def __post_init__(self) -> None:
        _no_nan(self)


@dataclass(frozen=True, slots=True)
class Check:
    """One test of an assumption; `finding` says in words what follows from it."""

    name: str
    statistic: float | None
    df: tuple[float, ...]
    p: float | None
    finding: Finding | None = None
    reason: str | None = None

    def __post_init__(self) -> None:
        _no_nan(self)
        if self.p is None and not self.reason:
            raise ValueError(f"check {self.name!r} has neither a p nor a reason")


@dataclass(frozen=True, slots=True)
class ModelResult:
    """A fitted model without its arrays: table of terms, error, fit and what was noticed."""

    about: Provenance
    kind: str
    link: str
    terms: tuple[TermTest, ...]
    dispersion: float
    df_error: float
    deviance: float | None = None
    null_deviance: float | None = None
    r2: float | None = None
    cv_percent: float | None = None
    n_missing: int = 0
    findings: tuple[Finding, ...] = ()


@dataclass(frozen=True, slots=True)
class MeansResult:
    """Least-squares means of one factor, on the scale of the model's link.

    `covariance` is (k, k) in the order of `means`; `back` are the means on the response scale
    (for a log link: of the fitted counts; for logged data: medians) and say so in `about.notes`.
    """

    about: Provenance
    factor: str
    means: tuple[Estimate, ...]
    covariance: tuple[tuple[float, ...], ...]
    df_error: float
    dispersion: float
    back: tuple[Estimate, ...] = ()

    @property
    def levels(self) -> tuple[str, ...]:
        """The levels in the order of `means` and `covariance`."""
        return tuple(m.label for m in self.means)


@dataclass(frozen=True, slots=True)
class ComparisonResult:
    """A family of comparisons under one named procedure and one error rate."""

    about: Provenance
    procedure: str
    alternative: Alternative
    alpha: float
    comparisons: tuple[Estimate, ...]
    control: str | None = None
    critical: float | None = None
    critical_reason: str | None = None


@dataclass(frozen=True, slots=True)
class LettersResult:
    """Letters: two treatments share one if and only if the procedure does not separate them."""

    about: Provenance
    procedure: str
    alpha: float
    letters: tuple[tuple[str, str], ...]
    reason: str | None = None


@dataclass(frozen=True, slots=True)
class InteractionResult:
    """Departure of a pair of partners from the expectation on a scale fixed beforehand.

    `verdict` is one of `not_excluded`, `more_than_expected`, `less_than_expected`; the words
    "synergistic" and "antagonistic" are allowed only where `may_say` is not None.
    """

    about: Provenance
    scale: Literal["absolute", "multiplicative"]
    departure: Estimate
    expected: Estimate
    observed: Estimate
    verdict: Literal["not_excluded", "more_than_expected", "less_than_expected", "not_estimable"]
    may_say: Literal["synergistic", "antagonistic"] | None
    other_scale: Estimate
    words: str


@dataclass(frozen=True, slots=True)
class DoseResult:
    """A fitted curve: parameters, effective doses, rate for a wanted response, lack of fit."""

    about: Provenance
    curve: str
    parameters: tuple[Estimate, ...]
    rss: float
    rse: float
    df_error: int
    effective_doses: tuple[Estimate, ...] = ()
    lack_of_fit: Check | None = None
    findings: tuple[Finding, ...] = ()


@dataclass(frozen=True, slots=True)
class RepeatedResult:
    """Split-plot in time: table of strata with sphericity correction."""

    about: Provenance
    terms: tuple[TermTest, ...]
    epsilon_gg: float | None
    epsilon_hf: float | None
    corrected: tuple[TermTest, ...]
    mauchly: Check
    reason: str | None = None


@dataclass(frozen=True, slots=True)
class SurvivalCurve:
    """Kaplan-Meier steps of one group with Greenwood errors."""

    about: Provenance
    group: str
    time: tuple[float, ...]
    at_risk: tuple[int, ...]
    survival: tuple[float, ...]
    se: tuple[float | None, ...]
    lower: tuple[float | None, ...]
    upper: tuple[float | None, ...]
    transform: Literal["log", "log-log"]
    median: Estimate


@dataclass(frozen=True, slots=True)
class RankResult:
    """A rank test with its follow-up comparisons."""

    about: Provenance
    test: Check
    comparisons: tuple[Estimate, ...] = ()


@dataclass(frozen=True, slots=True)
class OrdinalResult:
    """Cumulative-logit model of ratings."""

    about: Provenance
    coefficients: tuple[Estimate, ...]
    thresholds: tuple[Estimate, ...]
    log_likelihood: float
    terms: tuple[Check, ...]


@dataclass(frozen=True, slots=True)
class VarianceResult:
    """REML variance components with Satterthwaite degrees of freedom."""

    about: Provenance
    components: tuple[Estimate, ...]
    coefficients: tuple[Estimate, ...]
    terms: tuple[TermTest, ...]
    reml_deviance: float
    intraclass: float | None


@dataclass(frozen=True, slots=True)
class SuspectPlot:
    """A plot whose figure deserves a look at sheet and photo; never removed by the program."""

    position: int
    label: str
    value: float
    fitted: float
    standardised: float
    influence: float
    message: str


@dataclass(frozen=True, slots=True)
class TrustResult:
    """Can it be trusted: tests of assumptions and plots worth a second look."""

    about: Provenance
    checks: tuple[Check, ...]
    suspects: tuple[SuspectPlot, ...]
    standardised_residuals: tuple[float, ...]
    fitted: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Observed:
    """What was observed at one treatment, from plot means; `n_plants` is for the record only."""

    treatment: str
    n_plots: int
    n_plants: int
    n_missing: int
    mean: float | None
    sd: float | None
    se: float | None
    minimum: float | None
    maximum: float | None
    reason: str | None = None

    def __post_init__(self) -> None:
        _no_nan(self)


@dataclass(frozen=True, slots=True)
class Statement:
    """What is said instead of a number: why no figure can be given and what would cure it."""

    code: str
    message: str


@dataclass(frozen=True, slots=True)
class AnalysisResult:
    """Everything said about one response at one assessment."""

    about: Provenance
    response: str
    unit: str
    assessment: str | None
    type: str
    observed: tuple[Observed, ...]
    model: ModelResult | None = None
    means: MeansResult | None = None
    comparison: ComparisonResult | None = None
    percent_of_control: ComparisonResult | None = None
    near_zero: tuple[Estimate, ...] = ()
    letters: LettersResult | None = None
    trust: TrustResult | None = None
    variances: VarianceResult | None = None
    repeated: RepeatedResult | None = None
    ranks: RankResult | None = None
    ordinal: OrdinalResult | None = None
    statements: tuple[Statement, ...] = ()
    findings: tuple[Finding, ...] = ()


# A mean below this share of the largest is zero but for rounding, and no base for a ratio.
ZERO_SHARE = 1e-12

NO_LIMIT = "no limit: it lies beyond any number that could be written"


def limit_of_log(x: float) -> float | None:
    """Return exp(x), or None where it is too large to be a number; NO_LIMIT is then the reason.

    Examples
    --------
    >>> limit_of_log(0.0), limit_of_log(1e4)
    (1.0, None)
    """
    return math.exp(x) if x < 600 else None


def known(value: float | None) -> float:
    """Return a number that the caller knows to be there; its absence is a bug and raises.

    Examples
    --------
    >>> known(2.5)
    2.5
    """
    if value is None:
        raise ValueError("a number that must be there is missing")
    return value


def to_json(result: object) -> dict[str, Any]:
    """Return a result as JSON-ready values that follow `schema/analysis.schema.json`.

    Parameters
    ----------
    result : a dataclass of this module.

    Returns
    -------
    dict with `result` (class name) first, then the fields; tuples become lists.

    Raises
    ------
    ValueError   A number is NaN or infinite: that is a bug of the analysis, not of the data.

    Examples
    --------
    >>> to_json(Statement("stats.no_variation", "All plots have the same value."))["result"]
    'Statement'
    """
    if not dataclasses.is_dataclass(result) or isinstance(result, type):
        raise TypeError(f"not a result: {type(result).__name__}")
    return {"result": type(result).__name__, **_plain(result)}


def _plain(value: Any) -> Any:
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return {f.name: _plain(getattr(value, f.name)) for f in dataclasses.fields(value)}
    if isinstance(value, dict):
        return {str(k): _plain(v) for k, v in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(v) for v in value]
    if isinstance(value, bool) or value is None or isinstance(value, str):
        return value
    if isinstance(value, np.generic):
        value = value.item()
    if isinstance(value, float) and not math.isfinite(value):
        raise ValueError("a result holds a number that is not finite")
    return value


def _no_nan(result: Any) -> None:
    for f in dataclasses.fields(result):
        value = getattr(result, f.name)
        if isinstance(value, float) and not math.isfinite(value):
            raise ValueError(f"{type(result).__name__}.{f.name} is {value}; give None and a reason")
