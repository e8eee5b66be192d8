"""From the analysed cells of one trial to effects that can stand beside those of other trials.

Pure: frozen results in, frozen effects out. An effect is a treatment against a comparator, in one
measurement at its last assessment, on a scale on which effects add: a log ratio for what is
measured and counted, a difference for days, log odds for proportions.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from tepal.services.trial_analysis import cell_hash, cell_keys
from tepal.stats.comparisons import contrasts
from tepal.stats.ratios import percent_of_control
from tepal.stats.results import StatsError

if TYPE_CHECKING:
    from collections.abc import Iterable

    from tepal.designs.trial import TrialData, TrialTreatment
    from tepal.services.trial_analysis import CellAnalysis
    from tepal.stats.results import Estimate, MeansResult

Scale = Literal["ratio", "days", "odds"]


@dataclass(frozen=True, slots=True)
class Effect:
    """One treatment against one comparator; `value` and `se` on the additive scale.

    `why_not` is "" where the effect can be combined, else the end of a code of words: no_means
    (ranks or nothing), no_ratio (a mean not above zero), near_zero (hardly a count), no_error.
    """

    treatment: int
    treatment_name: str
    role: str
    comparator: str
    comparator_name: str
    measurement: str
    measurement_name: str
    type: str
    definition: str
    wanted: str
    assessment: str
    day: int | None
    scale: Scale
    value: float | None
    se: float | None
    df: float | None
    n_plots: int
    alpha: float
    is_primary: bool
    input_hash: str
    why_not: str = ""


def wanted_cells(data: TrialData) -> tuple[tuple[str, str], ...]:
    """Return (measurement, assessment) of each measurement's last assessment after treatment."""
    # keys come in the order of days: the last one of a measurement stays
    return tuple({m: a for m, a in cell_keys(data) if data.assessment(a).day > 0}.items())


def effects_of(data: TrialData, cells: Iterable[CellAnalysis]) -> tuple[Effect, ...]:
    """Return the effects of a trial's cells (those of `wanted_cells`)."""
    return tuple(
        _effect(data, c, t, comparator)
        for c in cells
        for comparator in comparators_of(data)
        for t in data.treatments
        if t.number != comparator.number and t.role not in ("untreated", "water")
    )


def comparators_of(data: TrialData) -> tuple[TrialTreatment, ...]:
    """Return what others are held against: untreated, water, and the plan's control."""
    return tuple(
        t
        for t in data.treatments
        if t.role in ("untreated", "water") or t.number == data.plan.control
    )


def _effect(
    data: TrialData, c: CellAnalysis, t: TrialTreatment, comparator: TrialTreatment
) -> Effect:
    m = data.measurement(c.measurement)
    scale: Scale = {"days": "days", "proportion": "odds"}.get(m.type, "ratio")  # type: ignore[assignment]
    names = str(t.number), str(comparator.number)
    value = se = df = None
    means, why = c.result.means, ""
    near = {e.pair[0] for e in c.result.near_zero if e.pair}
    if means is None or not set(names) <= set(means.levels):
        why = "no_means"
    elif near & set(names):
        why = "near_zero"
    else:
        e = _estimate(means, names, scale)
        if e is None or e.value is None:
            why = "no_ratio" if scale == "ratio" else "no_means"
        elif e.se is None or not e.se > 0:
            why = "no_error"
        elif scale == "ratio":
            value, se, df = math.log(e.value / 100), e.se / e.value, e.df
        else:
            value, se, df = e.value, e.se, e.df
    observed = {o.treatment: o.n_plots for o in c.result.observed}
    kind = comparator.role if comparator.role in ("untreated", "water") else "control"
    return Effect(
        t.number, t.label, t.role, kind, comparator.label, m.code, m.name, m.type, m.definition,
        m.wanted, c.assessment, None if m.type == "days" else data.assessment(c.assessment).day,
        scale, value, se, df, observed.get(names[0], 0), data.plan.alpha, c.is_primary,
        cell_hash(data, c.measurement, c.assessment), why,
    )  # fmt: skip


def _estimate(means: MeansResult, names: tuple[str, str], scale: Scale) -> Estimate | None:
    try:
        if scale == "ratio":
            family = percent_of_control(means, names[1])
            return next((e for e in family.comparisons if e.pair == names), None)
        family = contrasts(means, {"against": {names[0]: 1.0, names[1]: -1.0}})
        return family.comparisons[0]
    except StatsError:
        return None
