"""From a trial to results; all questions of a cell meet here, hence over 400 lines.

One measurement at one assessment after the other, and its course.

Pure: `TrialData` in, frozen results out, nothing read from a database; so it runs in the worker
process and is cached by the hash of its input. What cannot be answered says why.
"""

from __future__ import annotations

import hashlib
import json
import math
from dataclasses import asdict, dataclass
from functools import partial
from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from tepal import __version__
from tepal.services.trial_table import cell_rows, covariate_of, horizon_of, table_of, used_plots
from tepal.stats.analysis import analyse
from tepal.stats.cells import AnalysisSpec, cell_of, values_of
from tepal.stats.comparisons import contrasts, tukey
from tepal.stats.days import kaplan_meier
from tepal.stats.dose import dose_response
from tepal.stats.letters import letters
from tepal.stats.partners import formulation, interaction
from tepal.stats.results import (
    AnalysisResult,
    Check,
    ComparisonResult,
    DoseResult,
    InteractionResult,
    LettersResult,
    MeansResult,
    ModelResult,
    StatsError,
    SurvivalCurve,
    VarianceResult,
)
from tepal.stats.trends import trend

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from tepal.designs.trial import Contrast, Formulation, Partners, TrialData, TrialMeasurement
    from tepal.stats.cells import Compare
    from tepal.stats.dose import DoseCurve
    from tepal.stats.table import Table

#: Changes whenever the same input would give other figures: part of the hash of every cell.
ANALYSIS = "tepal-analysis-2"

# A curve with two asymptotes needs more rates than parameters to be held against anything.
LEAST_RATES_LL4 = 5
LEAST_RATES_LL3 = 4
LEAST_RATES_TREND = 3


@dataclass(frozen=True, slots=True)
class Refusal:
    """A question that has no answer here: which, the engine's code and its sentence."""

    question: str
    code: str
    message: str


@dataclass(frozen=True, slots=True)
class PlotFigure:
    """One plot's value as analysed, with fit and standardised residual where there is a model."""

    plot: int
    treatment: int
    n_plants: int
    value: float | None
    fitted: float | None = None
    residual: float | None = None
    is_suspect: bool = False


@dataclass(frozen=True, slots=True)
class DosePoint:
    """Rate, plot value and plot: what the curve was fitted to."""

    rate: float
    value: float
    plot: int = 0


@dataclass(frozen=True, slots=True)
class CellAnalysis:
    """Everything said about one measurement at one assessment ("" for a summary over time)."""

    measurement: str
    assessment: str
    is_primary: bool
    result: AnalysisResult
    plots: tuple[PlotFigure, ...]
    pairs: ComparisonResult | None = None
    letters: LettersResult | None = None
    trend: ComparisonResult | None = None
    trend_fit: Check | None = None
    dose: DoseResult | None = None
    dose_points: tuple[DosePoint, ...] = ()
    interactions: tuple[InteractionResult, ...] = ()
    formulations: tuple[ComparisonResult, ...] = ()
    contrasts: ComparisonResult | None = None
    factorial: ModelResult | None = None
    strata: VarianceResult | None = None
    curves: tuple[SurvivalCurve, ...] = ()
    refusals: tuple[Refusal, ...] = ()
    covariate: str = ""


def cell_keys(data: TrialData) -> tuple[tuple[str, str], ...]:
    """Return (measurement, assessment) of every cell that holds a value, in the plan's order."""
    held = {(v.measurement, v.assessment) for v in data.values if v.value is not None}
    return tuple(
        (m.code, a.code)
        for m in data.measurements
        for a in sorted(data.assessments, key=lambda a: a.day)
        if (m.code, a.code) in held and a.sort != "warm_up"
    )


def course_keys(data: TrialData) -> tuple[str, ...]:
    """Return the continuous measurements taken at two or more assessments."""
    keys = cell_keys(data)
    return tuple(
        m.code
        for m in data.measurements
        if m.type == "continuous" and sum(1 for code, _ in keys if code == m.code) >= 2
    )


def cell_hash(data: TrialData, measurement: str, assessment: str) -> str:
    """Return the SHA-256 of all that the figures of a cell depend on.

    Seed, titles and prices are not among it: a corrected title makes no result stale.
    """
    m = data.measurement(measurement)
    is_adjusted = data.plan.covariate == measurement
    facts: dict[str, Any] = {
        "analysis": ANALYSIS,
        "version": __version__,
        "kind": data.kind,
        "treatments": [asdict(t) for t in data.treatments],
        "factors": data.factors,
        "plots": [asdict(p) for p in data.plots],
        "measurement": [m.code, m.type, m.wanted, m.per],
        "assessments": [[a.code, a.day, a.until_day, a.sort] for a in data.assessments],
        "plan": asdict(data.plan),
        "partners": [asdict(p) for p in data.partners],
        "formulations": [asdict(f) for f in data.formulations],
        "values": [
            [v.assessment, v.plot, v.plant, v.value, data.is_excluded(v)]
            for v in data.values
            if v.measurement == measurement
            and (
                assessment in ("", v.assessment)
                or (is_adjusted and data.assessment(v.assessment).day <= 0)
            )
        ],
        "cell": [measurement, assessment],
        **({"potting": asdict(data.potting)} if data.potting else {}),
        **({"harvests": [asdict(h) for h in data.harvests]} if data.harvests else {}),
    }
    text = json.dumps(facts, sort_keys=True, ensure_ascii=False, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()


def analyse_cell(data: TrialData, measurement: str, assessment: str) -> CellAnalysis:
    """Return what the trial says about one measurement at one assessment.

    Both codes must be the trial's (`cell_keys`). What has no answer is a `Refusal`, never a raise.
    """
    m = data.measurement(measurement)
    covariate = covariate_of(data, m, assessment)
    table = table_of(data, m, cell_rows(data, m, assessment, covariate), covariate)
    spec = spec_of(data, m, assessment, covariate is not None)
    (result,) = analyse(table, spec)
    return _asked_more(data, m, assessment, result, table, spec, covariate is not None)


def analyse_course(data: TrialData, measurement: str) -> tuple[CellAnalysis, ...]:
    """Return the analyses of area and slope over the assessments, the first with time's strata."""
    m = data.measurement(measurement)
    codes = [a for code, a in cell_keys(data) if code == measurement]
    rows = [row for a in codes for row in cell_rows(data, m, a, None)]
    table = table_of(data, m, rows, None)
    spec = spec_of(data, m, codes[0], with_covariate=False, over_time=True)
    found = []
    for result in analyse(table, spec)[len(codes) :]:
        try:
            pairs, shown, refused = _letters(result, data.plan.alpha)
        except StatsError as error:
            pairs, shown, refused = None, None, [Refusal("pairs", error.code, error.message)]
        found.append(
            CellAnalysis(measurement, "", False, result, (), pairs, shown, refusals=tuple(refused))
        )
    return tuple(found)


def analyse_trial(data: TrialData) -> tuple[CellAnalysis, ...]:
    """Return every cell of a trial, then the courses."""
    cells = [analyse_cell(data, m, a) for m, a in cell_keys(data)]
    for code in course_keys(data):
        cells += analyse_course(data, code)
    return tuple(cells)


def spec_of(
    data: TrialData,
    m: TrialMeasurement,
    assessment: str,
    with_covariate: bool,
    over_time: bool = False,
) -> AnalysisSpec:
    """Return what is asked of the engine, in the words of the plan."""
    plan = data.plan
    has_blocks = any(p.block is not None for p in data.plots)
    is_square = data.kind == "latin_square"
    one_square = is_square and len({p.block for p in data.plots}) == 1
    compare: Compare = "dunnett"
    if plan.comparison == "games_howell":
        compare = "games-howell"
    elif plan.comparison != "dunnett" or plan.control is None:
        compare = "lsd" if plan.comparison == "lsd" else "tukey"
    return AnalysisSpec(
        responses=((m.code, m.type),),
        treatment="treatment",
        block="block" if has_blocks and not one_square else None,
        plot="plot",
        plant="plant",
        control=None if plan.control is None else str(plan.control),
        covariate="covariate" if with_covariate else None,
        assessment="day" if over_time else None,
        row="row",
        column="column",
        compare=compare,
        alpha=plan.alpha,
        alternative=_alternative(data, m),
        horizon_days=horizon_of(data, m, assessment),
        whole_plot="whole_plot" if data.kind.startswith("split_plot") else None,
        square=("square_row", "square_column") if is_square else None,
        units=((m.code, m.unit),),
        over_time=over_time,
    )


def _alternative(data: TrialData, m: TrialMeasurement) -> Literal["two-sided", "greater", "less"]:
    """Return the side that is tested: one-sided only for the primary response with a direction."""
    if data.plan.is_two_sided or m.code != data.plan.primary or m.wanted == "none":
        return "two-sided"
    return "less" if m.wanted == "lower" else "greater"


def _asked_more(
    data: TrialData,
    m: TrialMeasurement,
    assessment: str,
    result: AnalysisResult,
    table: Table,
    spec: AnalysisSpec,
    with_covariate: bool,
) -> CellAnalysis:
    """Add the questions that the means of a cell can answer."""
    refusals: list[Refusal] = []

    def asked(question: str, answer: Callable[[], Any]) -> Any:
        try:
            return answer()
        except StatsError as error:
            refusals.append(Refusal(question, error.code, error.message))
            return None

    means = result.means
    pairs = shown = fitted_trend = trend_fit = planned = None
    partners: list[InteractionResult] = []
    blanks: list[ComparisonResult] = []
    if means is not None:
        found = asked("pairs", lambda: _letters(result, data.plan.alpha))
        if found is not None:
            pairs, shown, refused = found
            refusals += refused
        rates = {str(n): r for n, r in rates_of(data) if str(n) in means.levels}
        after = data.assessment(assessment).day > 0  # before treatment there is no response yet
        if after and len(rates) >= LEAST_RATES_TREND:
            both = asked("trend", lambda: trend(means, rates, 2, data.plan.alpha))
            if both is not None:
                fitted_trend, trend_fit = both
        if after and means.means[0].scale != "logit":
            for pair in data.partners:
                answer = asked("partners", partial(_departure, data, m, means, pair))
                partners += [answer] if answer is not None else []
        for f in data.formulations:
            answer = asked("formulation", partial(_against_blank, data, means, f))
            blanks += [answer] if answer is not None else []
        able = [
            c
            for c in data.plan.contrasts
            if asked(f"contrast: {c.name}", partial(_is_contrast, c, means))
        ]
        if able:
            wanted = {c.name: {str(n): x for n, x in scaled_weights(c).items()} for c in able}
            planned = asked("contrasts", lambda: contrasts(means, wanted, alpha=data.plan.alpha))
    points = dose_points(data, table, spec, m) if data.assessment(assessment).day > 0 else ()
    has_trend = fitted_trend is not None and any(
        e.p is not None and e.p < data.plan.alpha for e in fitted_trend.comparisons
    )
    dose = None
    if points and data.kind.startswith("split_plot"):
        refusals.append(
            Refusal("dose", "stats.dose_split_plot", "Plots of one whole plot are not independent.")
        )
        points = ()
    elif points and has_trend:
        dose = asked("dose", lambda: _dose(data, m, points))
    elif points:
        refusals.append(Refusal("dose", "stats.no_trend", "No trend over the rates was shown."))
        points = ()
    factors = asked("factorial", lambda: _factorial(data, table, spec)) or (None, None)
    return CellAnalysis(
        m.code,
        assessment,
        m.code == data.plan.primary,
        result,
        _figures(data, table, spec, m, result),
        pairs,
        shown,
        fitted_trend,
        trend_fit,
        dose,
        points,
        tuple(partners),
        tuple(blanks),
        planned,
        factors[0],
        factors[1],
        tuple(_curves(data, m, assessment)),
        tuple(refusals),
        data.plan.covariate if with_covariate else "",
    )


def _departure(
    data: TrialData, m: TrialMeasurement, means: MeansResult, pair: Partners
) -> InteractionResult:
    names = [str(n) for n in (pair.control, pair.first, pair.second, pair.both)]
    wanted: Literal["increase", "decrease"] = "increase" if m.wanted == "higher" else "decrease"
    return interaction(
        means, names[0], names[1], names[2], names[3], data.plan.scale, wanted, data.plan.alpha
    )


def _against_blank(data: TrialData, means: MeansResult, f: Formulation) -> ComparisonResult:
    beside = [None if n is None else str(n) for n in (f.partner_with_product, f.partner_with_blank)]
    return formulation(means, str(f.product), str(f.blank), beside[0], beside[1], data.plan.alpha)


def _letters(
    result: AnalysisResult, alpha: float
) -> tuple[ComparisonResult | None, LettersResult | None, list[Refusal]]:
    """Return all pairs with their letters: of the family that was planned, else Tukey-Kramer's."""
    if result.means is None or len(result.means.means) < 2:
        return None, None, []
    if result.letters is not None:
        return result.comparison, result.letters, []
    pairs = tukey(result.means, alpha)
    return pairs, letters(pairs), []


def rates_of(data: TrialData) -> tuple[tuple[int, float], ...]:
    """Return (treatment, rate) of the series of rates with the control as 0; () without one.

    Only treatments outside partners and blanks that share the unit most of them have.
    """
    dosed = [t for t in data.treatments if t.rate is not None and t.rate > 0 and t.role == "rate"]
    if not dosed or data.plan.control is None:
        return ()
    units = [t.rate_unit for t in dosed]
    unit = max(units, key=units.count)
    series = [(t.number, float(t.rate or 0.0)) for t in dosed if t.rate_unit == unit]
    return ((data.plan.control, 0.0), *(pair for pair in series if pair[0] != data.plan.control))


def dose_points(
    data: TrialData, table: Table, spec: AnalysisSpec, m: TrialMeasurement
) -> tuple[DosePoint, ...]:
    """Return (rate, plot value) of the series; () where there is none or the type has no curve."""
    rates = dict(rates_of(data))
    if len(set(rates.values())) < LEAST_RATES_TREND or m.type not in ("continuous", "days"):
        return ()
    treatment = {str(p.number): p.treatment for p in data.plots}
    cell = cell_of(table, spec, m.code, m.type, None)
    return tuple(
        DosePoint(rates[treatment[plot]], float(value), int(plot))
        for plot, value in zip(cell.plots.plots, values_of(cell), strict=True)
        if treatment[plot] in rates and not math.isnan(value)
    )


def _dose(data: TrialData, m: TrialMeasurement, points: tuple[DosePoint, ...]) -> DoseResult | None:
    n_rates = len({p.rate for p in points})
    if n_rates < LEAST_RATES_LL3:
        raise StatsError(
            "stats.too_few_rates",
            f"{n_rates} rates are too few for a dose-response curve; it needs {LEAST_RATES_LL3}."
            " Read the trend.",
        )
    wanted: tuple[float, ...] = ()
    if data.plan.wanted_value is not None and m.code == data.plan.primary:
        wanted = (data.plan.wanted_value,)
    x, y = [p.rate for p in points], [p.value for p in points]
    beside, terms = blocks_of(data, [p.plot for p in points])

    def fitted(curve: DoseCurve) -> DoseResult:
        return dose_response(
            x, y, curve, (50,), wanted, data.plan.alpha, beside=beside, beside_terms=terms
        )

    if n_rates >= LEAST_RATES_LL4:
        try:
            return fitted("LL4")
        except StatsError:  # two asymptotes are more than these rates can show: one fewer
            pass
    return fitted("LL3")


def blocks_of(data: TrialData, plots: Sequence[int]) -> tuple[dict[str, list[str]], list[str]]:
    """Return the labels (one per plot) and the terms of what the design blocks by; () without."""
    at = {p.number: p for p in data.plots}
    has_blocks = len({p.block for p in data.plots}) > 1
    labels = {"block": [str(at[n].block) for n in plots]} if has_blocks else {}
    terms = list(labels)
    if data.kind == "latin_square":
        labels["square_row"] = [str(at[n].square_row) for n in plots]
        labels["square_column"] = [str(at[n].square_column) for n in plots]
        terms += ["square_row", "square_column"]
        terms += ["block:square_row", "block:square_column"] if has_blocks else []
    return labels, terms


def scaled_weights(contrast: Contrast) -> dict[int, float]:
    """Return treatment -> weight, divided by the sum of the plus weights.

    So 2, -1, -1 and 1, -0.5, -0.5 give the same figure: a difference of two (weighted) means.
    """
    plus = sum(w for _, w in contrast.coefficients if w > 0)
    return {n: w / plus for n, w in contrast.coefficients if w}


def _is_contrast(contrast: Contrast, means: MeansResult) -> bool:
    """Return True, or raise with what keeps a contrast from being estimated."""
    weights = [w for _, w in contrast.coefficients]
    # decimals as typed, up to 9 of them: their sum is zero or at least 1e-9
    if abs(sum(weights)) > 1e-10 or not any(weights):
        raise StatsError(
            "stats.contrast_sum", f"The weights of {contrast.name!r} do not add up to zero."
        )
    if any(str(n) not in means.levels for n, w in contrast.coefficients if w):
        raise StatsError(
            "stats.contrast_level", f"{contrast.name!r} names a treatment without mean."
        )
    return True


def is_factorial(data: TrialData) -> bool:
    """Whether the treatments are every combination of two or more factors, and nothing else."""
    whole = [t for t in data.treatments if t.levels and all(t.levels)]
    if len(data.factors) < 2 or len(whole) != len(data.treatments):
        return False
    n_cells = math.prod(len({t.levels[i] for t in whole}) for i in range(len(data.factors)))
    return n_cells == len(whole)


def _factorial(
    data: TrialData, table: Table, spec: AnalysisSpec
) -> tuple[ModelResult | None, VarianceResult | None]:
    """Return the tables of terms of a complete factorial: of one error, or of a split-plot's."""
    if not is_factorial(data) or spec.responses[0][1] == "rating":
        return None, None
    names = tuple(f"factor_{i + 1}" for i in range(len(data.factors)))
    asked = AnalysisSpec(
        responses=spec.responses, factors=names, block=spec.block, plot="plot", plant="plant",
        covariate=spec.covariate, compare="none", alpha=spec.alpha,
        horizon_days=spec.horizon_days, square=spec.square, whole_plot=spec.whole_plot,
    )  # fmt: skip
    (result,) = analyse(table, asked)
    return result.model, result.variances


def _figures(
    data: TrialData, table: Table, spec: AnalysisSpec, m: TrialMeasurement, result: AnalysisResult
) -> tuple[PlotFigure, ...]:
    cell = cell_of(table, spec, m.code, m.type, None)
    treatment = {str(p.number): p.treatment for p in data.plots}
    values = values_of(cell)
    used = used_plots(cell, m, result)
    figures = []
    suspects = set() if result.trust is None else {s.label for s in result.trust.suspects}
    for i, plot in enumerate(cell.plots.plots):
        value = None if math.isnan(values[i]) else float(values[i])
        fitted = residual = None
        if result.trust is not None and plot in used:
            at = used.index(plot)
            fitted = result.trust.fitted[at]
            residual = result.trust.standardised_residuals[at]
        figures.append(
            PlotFigure(
                int(plot), treatment[plot], int(cell.plots.n_plants[i]), value, fitted, residual,
                plot in suspects,
            )
        )  # fmt: skip
    return tuple(sorted(figures, key=lambda f: f.plot))


def _curves(data: TrialData, m: TrialMeasurement, assessment: str) -> list[SurvivalCurve]:
    if m.type != "days":
        return []
    horizon = horizon_of(data, m, assessment)
    rows = cell_rows(data, m, assessment, None)
    found = []
    for t in data.treatments:
        plants = [r.value for r in rows if r.treatment == t.number and r.value]
        days = np.array([float(v.lstrip(">")) for v in plants])
        if plants:
            opened = [not v.startswith(">") for v in plants]
            found.append(kaplan_meier([min(d, horizon or d) for d in days], opened, str(t.number)))
    return found
