"""Trials for tests: a layout, true effects and a seed become `TrialData` as the book would give it."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from tepal.designs.layouts import Layout, lay_out
from tepal.designs.simulator import Simulation, TrueMeasurement, simulate
from tepal.designs.specs import DesignKind, DesignSpec, Factor, Treatment
from tepal.designs.trial import (
    TrialAssessment,
    TrialData,
    TrialExclusion,
    TrialMeasurement,
    TrialPlan,
    TrialPlot,
    TrialPrices,
    TrialTreatment,
    TrialValue,
    formulations_of,
    partners_of,
)
from tepal.services.demo_trials import drench_truth

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

HEIGHT = TrialMeasurement(
    "height", "Height", "continuous", "cm", "From the pot rim to the highest leaf.", 1, "lower"
)
BRANCHES = TrialMeasurement(
    "branches", "Branches", "count", "", "Side shoots of 1 cm or more.", 0, "higher"
)
FLOWER = TrialMeasurement("flower", "First open flower", "days", "d", "First open.", 0, "lower")
ROOTED = TrialMeasurement("rooted", "Rooted", "proportion", "", "Roots seen.", 0, "higher")
COLOUR = TrialMeasurement("colour", "Leaf colour", "rating", "", "1 to 5.", 0, "none", "plot")


def data_of(
    layout: Layout,
    simulation: Simulation,
    treatments: Sequence[TrialTreatment],
    measurements: Sequence[TrialMeasurement],
    plan: TrialPlan,
    factors: tuple[str, ...] = (),
    exclusions: tuple[TrialExclusion, ...] = (),
    rounds: tuple[int, int] | None = None,
    lost: Mapping[int, int] | None = None,
) -> TrialData:
    """Return a simulated trial as the analysis sees it."""
    days = sorted({v.day for v in simulation.values})
    assessments = [TrialAssessment(f"a{d}", f"{d} days after treatment", d) for d in days]
    values = [
        TrialValue(f"a{v.day}", v.plot, v.plant, v.key, v.value, observer="Rosa Lind")
        for v in simulation.values
    ]
    if rounds is not None:
        assessments.append(
            TrialAssessment("round", "daily round", rounds[0], "daily_round", rounds[1])
        )
        for o in simulation.openings:
            gone = (lost or {}).get(o.plot)
            if o.first_open is not None:
                values.append(TrialValue("round", o.plot, o.plant, o.key, float(o.first_open)))
            elif gone is not None:
                values.append(TrialValue("round", o.plot, o.plant, o.key, None, "lost"))
    taken = tuple(treatments)
    partners = partners_of(taken, plan.control)
    return TrialData(
        "T07", "Drench rates on potted salvia", layout.spec.kind, taken,
        tuple(
            TrialPlot(
                p.number, p.treatment, p.row, p.column, p.block, p.whole_plot,
                f"P{p.number:03d}", p.square_row, p.square_column,
            )
            for p in layout.plots
        ),
        layout.spec.plants_per_plot, tuple(measurements), tuple(assessments), tuple(values), plan,
        factors, exclusions=exclusions, partners=tuple(partners),
        formulations=tuple(formulations_of(taken, partners)),
        seed=str(layout.seed), algorithm=layout.algorithm,
        question="Which rate keeps the plants at 25 cm without a delay of flowering?",
        prices=TrialPrices("EUR", 0.004, 0.06, 0.10, 0.02),
    )  # fmt: skip


def drench(seed: int = 20, n_blocks: int = 6, plants: int = 3) -> TrialData:
    """Return the finished drench series: a lost plot, an exclusion, plants that stayed closed."""
    rates = (0.0, 0.0, 0.5, 1.0, 2.0, 4.0)
    names = ("untreated", "water drench", "0.5 mg/L", "1 mg/L", "2 mg/L", "4 mg/L")
    roles = ("untreated", "water", "rate", "rate", "rate", "rate")
    treatments = tuple(
        TrialTreatment(i + 1, name, role, rate or None, "mg/L")  # type: ignore[arg-type]
        for i, (name, role, rate) in enumerate(zip(names, roles, rates, strict=True))
    )
    spec = DesignSpec(
        "randomised_complete_block",
        tuple(Treatment(t.number, t.label) for t in treatments), n_blocks, plants,
    )  # fmt: skip
    layout = lay_out(spec, seed)
    height, branches, flowering = drench_truth()
    flowering = replace(flowering, rounds=tuple(range(30, 57)))
    lost = {17: 30}
    found = simulate(layout.plots, plants, (height, branches), seed, flowering, lost)
    plan = TrialPlan("height", "dunnett", 1, wanted_value=25.0, power=0.8, cv_pct=6, covariate="")
    exclusions = (TrialExclusion(5, "knocked over on day 20", assessment="a44", by="Rosa Lind"),)
    return data_of(
        layout, found, treatments, (HEIGHT, BRANCHES, FLOWER), plan, exclusions=exclusions,
        rounds=(30, 56), lost=lost,
    )  # fmt: skip


def factorial(seed: int = 31, n_blocks: int = 5, scale: str = "multiplicative") -> TrialData:
    """Return a finished factorial of two partners with a formulation blank and an adjuvant."""
    rows = (
        (1, "untreated", "untreated", ("0", "0"), None),
        (2, "chlormequat chloride 1000 mg/L", "partner", ("1000 mg/L", "0"), None),
        (3, "uniconazole 10 mg/L", "partner", ("0", "10 mg/L"), None),
        (4, "both", "mix", ("1000 mg/L", "10 mg/L"), None),
        (5, "formulation blank of 3", "blank", (), 3),
        (6, "2 with the blank of 3", "blank", (), 4),
    )
    treatments = tuple(
        TrialTreatment(n, name, role, None, "", levels, of)  # type: ignore[arg-type]
        for n, name, role, levels, of in rows
    )
    spec = DesignSpec(
        "randomised_complete_block",
        tuple(Treatment(t.number, t.label) for t in treatments), n_blocks, 2,
    )  # fmt: skip
    layout = lay_out(spec, seed)
    height = TrueMeasurement(
        "height", "continuous", ((28, 30.0),),
        tuple((t, ((28, e),)) for t, e in {2: -4.0, 3: -8.0, 4: -14.0, 5: 0.0, 6: -4.0}.items()),
        block_sd=1.0, plot_sd=0.8, plant_sd=1.0,
    )  # fmt: skip
    found = simulate(layout.plots, 2, (height,), seed)
    plan = TrialPlan("height", "dunnett", 1, scale=scale)  # type: ignore[arg-type]
    data = data_of(
        layout, found, treatments, (HEIGHT,), plan, ("chlormequat chloride", "uniconazole")
    )
    return replace(data, code="T08", title="Two retardants together", question="Better together?")


def small(kind: DesignKind, seed: int, n_replicates: int = 3) -> TrialData:
    """Return a trial of three treatments in any design, one measurement of each type."""
    factors: tuple[Factor, ...] = ()
    if kind.startswith("split_plot"):
        factors = (Factor("method", ("spray", "drench")), Factor("rate", ("0", "1 mg/L")))
        cells = [(m, r) for m in factors[0].levels for r in factors[1].levels]
        designed = tuple(Treatment(i + 1, f"{m}, {r}", (m, r)) for i, (m, r) in enumerate(cells))
    else:
        designed = (Treatment(1, "untreated"), Treatment(2, "water"), Treatment(3, "30 mg/L"))
    whole = ("method",) if factors else ()
    layout = lay_out(DesignSpec(kind, designed, n_replicates, 2, factors, whole), seed)
    truths = (
        TrueMeasurement("height", "continuous", ((0, 10.0), (14, 20.0), (28, 30.0)),
                        ((3, ((28, -5.0),)),), 0.5, 0.5, 1.0, 0.4),
        TrueMeasurement("branches", "count", ((28, 5.0),), ((3, ((28, 1.4),)),), 0.1, 0.1),
        TrueMeasurement("rooted", "proportion", ((28, 0.6),), ((3, ((28, 1.3),)),)),
    )  # fmt: skip
    found = simulate(layout.plots, 2, truths, seed)
    return data_of(
        layout, found, [TrialTreatment(t.number, t.label, levels=t.levels) for t in designed],
        (HEIGHT, BRANCHES, ROOTED), TrialPlan("height"), tuple(f.name for f in factors),
    )  # fmt: skip
