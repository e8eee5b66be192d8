"""One trial as the analysis sees it: plan, layout, what was observed; frozen, free of records.

Services fill it from the book; the analysis, the report and the exports read nothing else.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from tepal.designs.specs import DesignKind

MeasurementType = Literal["continuous", "count", "proportion", "days", "rating"]
Wanted = Literal["lower", "higher", "none"]
Comparison = Literal["dunnett", "tukey", "lsd", "games_howell"]
ExpectationScale = Literal["absolute", "multiplicative"]
Role = Literal["untreated", "water", "standard", "blank", "partner", "mix", "rate", "other"]


@dataclass(frozen=True, slots=True)
class TrialTreatment:
    """A treatment; `rate` in `rate_unit` makes it part of a series (the control counts as 0).

    `levels` are its levels of the trial's factors, "" outside the factorial; `blank_of` the number
    of the treatment whose formulation it is, without a.i.
    """

    number: int
    label: str
    role: Role = "other"
    rate: float | None = None
    rate_unit: str = ""
    levels: tuple[str, ...] = ()
    blank_of: int | None = None


@dataclass(frozen=True, slots=True)
class TrialPlot:
    """A plot that is measured (no guard), where it stands, and the name its label carries."""

    number: int
    treatment: int
    row: int
    column: int
    block: int | None = None
    whole_plot: int | None = None
    code: str = ""
    square_row: int | None = None
    square_column: int | None = None


@dataclass(frozen=True, slots=True)
class TrialMeasurement:
    """What is measured; `wanted` is the direction the grower asks for."""

    code: str
    name: str
    type: MeasurementType
    unit: str = ""
    definition: str = ""
    n_decimals: int = 1
    wanted: Wanted = "none"
    per: Literal["plant", "plot"] = "plant"


@dataclass(frozen=True, slots=True)
class TrialAssessment:
    """A look at the plots by days after treatment; a daily round reaches to `until_day`."""

    code: str
    name: str
    day: int
    sort: Literal["assessment", "daily_round", "harvest", "warm_up"] = "assessment"
    until_day: int | None = None
    measurements: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class TrialValue:
    """One value of one plant (0: the whole plot); None with the reason where there is none.

    Days are counted from the treatment; a plant that was looked at to the end of a daily round and
    stayed closed has no `TrialValue` of that round at all.
    """

    assessment: str
    plot: int
    plant: int
    measurement: str
    value: float | None
    why: str = ""
    note: str = ""
    observer: str = ""


@dataclass(frozen=True, slots=True)
class TrialExclusion:
    """What a person left out and why; "" or 0 means all of them."""

    plot: int
    reason: str
    plant: int = 0
    measurement: str = ""
    assessment: str = ""
    by: str = ""
    at: str = ""
    id: str = ""


@dataclass(frozen=True, slots=True)
class TrialMove:
    """A plant after potting on: its plot and place in it before, and where it stands now."""

    plot: int
    plant: int
    now: int
    code: str
    row: int
    column: int


@dataclass(frozen=True, slots=True)
class TrialPotting:
    """How the plants came here: the trial they were liners in, and every plant's way.

    The plots of that trial stay the experimental units: moving plants makes no replicates.
    """

    code: str
    day: str
    n_lost: int
    moves: tuple[TrialMove, ...]


@dataclass(frozen=True, slots=True)
class TrialHarvest:
    """Plants of a plot that are taken at a harvest; `plants` are their places, from 1."""

    assessment: str
    plot: int
    plants: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Partners:
    """Treatment numbers of a pair of partners: untreated, each alone, both together."""

    control: int
    first: int
    second: int
    both: int


@dataclass(frozen=True, slots=True)
class Formulation:
    """A product against its formulation blank; beside a partner too where the trial has both."""

    product: int
    blank: int
    partner_with_product: int | None = None
    partner_with_blank: int | None = None


@dataclass(frozen=True, slots=True)
class TrialPrices:
    """The grower's own prices, in one currency, per plant; None where not given."""

    currency: str = ""
    bench_day: float | None = None
    labour_saved: float | None = None
    plant_value: float | None = None
    treatment_cost: float | None = None


@dataclass(frozen=True, slots=True)
class Contrast:
    """A planned contrast: (treatment number, coefficient) pairs that add up to zero."""

    name: str
    coefficients: tuple[tuple[int, float], ...]


@dataclass(frozen=True, slots=True)
class TrialPlan:
    """What was fixed before the data: comparison, scale, primary response, covariate.

    `covariate` is the code of the measurement taken before treatment (at an assessment of a day
    up to 0); `covariate_for` the measurements it adjusts (empty: the one of the same code).
    """

    primary: str = ""
    comparison: Comparison = "dunnett"
    control: int | None = 1
    alpha: float = 0.05
    is_two_sided: bool = True
    scale: ExpectationScale = "absolute"
    wanted_value: float | None = None
    covariate: str = ""
    contrasts: tuple[Contrast, ...] = ()
    power: float | None = None
    cv_pct: float | None = None
    difference_pct: float | None = None


@dataclass(frozen=True, slots=True)
class PlanChange:
    """What of the plan was changed after the first value was in the book, by whom and why.

    `name` is the field of the plan; `before` and `after` its values, as text.
    """

    name: str
    before: str
    after: str
    by: str = ""
    on: str = ""
    reason: str = ""


@dataclass(frozen=True, slots=True)
class TrialData:
    """A trial whole. INVARIANT: every plot, treatment and code that is named exists."""

    code: str
    title: str
    kind: DesignKind
    treatments: tuple[TrialTreatment, ...]
    plots: tuple[TrialPlot, ...]
    plants_per_plot: int
    measurements: tuple[TrialMeasurement, ...]
    assessments: tuple[TrialAssessment, ...]
    values: tuple[TrialValue, ...]
    plan: TrialPlan = field(default_factory=TrialPlan)
    factors: tuple[str, ...] = ()
    unit: str = "pot"
    is_shared_pass: bool = True
    exclusions: tuple[TrialExclusion, ...] = ()
    partners: tuple[Partners, ...] = ()
    formulations: tuple[Formulation, ...] = ()
    prices: TrialPrices = field(default_factory=TrialPrices)
    seed: str = ""
    algorithm: str = ""
    question: str = ""
    notes: tuple[str, ...] = ()
    plan_changes: tuple[PlanChange, ...] = ()
    potting: TrialPotting | None = None
    harvests: tuple[TrialHarvest, ...] = ()

    def plants_at(self, plot: int, assessment: str) -> tuple[int, ...]:
        """Return the plants of a plot that an assessment looks at, from 1.

        A harvest looks at those drawn for it. A plant that a harvest takes before an assessment
        ends is no part of it: it was drawn by chance beforehand, so that leaving it out is fair.
        """
        if self.potting is None:
            plants = tuple(range(1, self.plants_per_plot + 1))
        else:
            plants = tuple(sorted(m.plant for m in self.potting.moves if m.plot == plot))
        if not self.harvests:
            return plants
        drawn = [h for h in self.harvests if h.assessment == assessment]
        if drawn:
            own = {k for h in drawn if h.plot == plot for k in h.plants}
            return tuple(k for k in plants if k in own)
        gone = self.harvested_before(plot, assessment)
        return tuple(k for k in plants if k not in gone)

    def harvested_before(self, plot: int, assessment: str) -> set[int]:
        """Return the plants of a plot that were taken before an assessment ended."""
        look = self.assessment(assessment)
        end = look.day if look.until_day is None else look.until_day
        return {
            k
            for h in self.harvests
            if h.plot == plot and self.assessment(h.assessment).day < end
            for k in h.plants
        }

    def treatment(self, number: int) -> TrialTreatment:
        """Return a treatment by its number."""
        return next(t for t in self.treatments if t.number == number)

    def measurement(self, code: str) -> TrialMeasurement:
        """Return a measurement by its code."""
        return next(m for m in self.measurements if m.code == code)

    def assessment(self, code: str) -> TrialAssessment:
        """Return an assessment by its code."""
        return next(a for a in self.assessments if a.code == code)

    def is_excluded(self, value: TrialValue) -> bool:
        """Whether a value is left out of the analysis by an exclusion."""
        return any(
            e.plot == value.plot
            and e.plant in (0, value.plant)
            and e.measurement in ("", value.measurement)
            and e.assessment in ("", value.assessment)
            for e in self.exclusions
        )


def partners_of(treatments: tuple[TrialTreatment, ...], control: int | None) -> list[Partners]:
    """Return the pairs of partners that the treatments hold, by factor levels, else by roles.

    With levels: `both` differs from the control in exactly two factors, and each partner shares one
    of those two levels. Without: two treatments of role "partner" and one of role "mix".
    """
    if control is None:
        return []
    found = []
    base = next((t for t in treatments if t.number == control), None)
    if base is not None and len(base.levels) > 1 and all(base.levels):
        at = {t.levels: t.number for t in treatments if all(t.levels)}
        for both in treatments:
            changed = [i for i, x in enumerate(both.levels) if both.levels and x != base.levels[i]]
            if not all(both.levels) or len(both.levels) != len(base.levels) or len(changed) != 2:
                continue
            alone = [
                at.get(tuple(both.levels[j] if j == i else x for j, x in enumerate(base.levels)))
                for i in changed
            ]
            if alone[0] is not None and alone[1] is not None:
                found.append(Partners(control, alone[0], alone[1], both.number))
        return found
    single = [t.number for t in treatments if t.role == "partner"]
    mixed = [t.number for t in treatments if t.role == "mix"]
    if len(single) == 2 and len(mixed) == 1:
        return [Partners(control, single[0], single[1], mixed[0])]
    return []


def formulations_of(
    treatments: tuple[TrialTreatment, ...], partners: list[Partners]
) -> list[Formulation]:
    """Return every product that stands beside its blank, with the partner pair where there is one.

    The partner with the blank is a treatment of role "blank" whose `blank_of` is the mix.
    """
    blanks = {t.blank_of: t.number for t in treatments if t.blank_of is not None}
    found = []
    for product, blank in blanks.items():
        if product is None or any(p.both == product for p in partners):
            continue
        with_partner = next(
            (p.both for p in partners if product in (p.first, p.second) and p.both in blanks), None
        )
        found.append(
            Formulation(
                product, blank, with_partner, None if with_partner is None else blanks[with_partner]
            )
        )
    return found
