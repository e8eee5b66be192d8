"""Random trials for the whole chain: any design, any measurement, hostile labels, lost plots."""

from __future__ import annotations

import random
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from support.trial_sample import BRANCHES, FLOWER, HEIGHT, ROOTED, data_of
from tepal.designs.layouts import lay_out
from tepal.designs.simulator import TrueFlowering, TrueMeasurement, simulate
from tepal.designs.specs import DesignKind, DesignSpec, Factor, Treatment
from tepal.designs.trial import Contrast, TrialData, TrialExclusion, TrialPlan, TrialTreatment
from tepal.domain.rounding import PLAIN_FORMAT, NumberFormat
from tepal.reports.print_facts import CompleteAsOf, Establishment
from tepal.reports.trial_report import render_trial_report
from tepal.services.catalogue import catalogue, words_for
from tepal.services.trial_analysis import CellAnalysis, analyse_trial
from tepal.services.trial_report import ReportFacts, TrialReports

if TYPE_CHECKING:
    from tepal.reports.trial_view import TrialReportView

LOCALE = Path(__file__).resolve().parents[2] / "web" / "app" / "locale"
_LABELS = (
    "untreated", "water & <spray>", "paclobutrazol 30 mg/L with a very long name that must wrap",
    "Größe µ ≤ 5 %", "{braces} \\ 'quotes' \"double\"", "x" * 70, "uniconazole 5 mg/L", "estándar",
)  # fmt: skip
_KINDS: tuple[DesignKind, ...] = (
    "completely_randomised", "randomised_complete_block", "latin_square", "split_plot",
    "split_plot_completely_randomised",
)  # fmt: skip


def random_trial(seed: int) -> TrialData:
    """Return a small trial that depends on the seed alone."""
    chance = random.Random(seed)
    kind = chance.choice(_KINDS)
    n = chance.randint(2, 5)
    factors: tuple[Factor, ...] = ()
    labels = [f"{chance.choice(_LABELS)} {i}" for i in range(1, n + 1)]
    designed = tuple(Treatment(i, label) for i, label in enumerate(labels, start=1))
    if kind.startswith("split_plot"):
        factors = (Factor("method", ("spray", "<drench>")), Factor("rate", ("0", "1 mg/L")))
        cells = [(a, b) for a in factors[0].levels for b in factors[1].levels]
        designed = tuple(Treatment(i + 1, f"{a}, {b}", (a, b)) for i, (a, b) in enumerate(cells))
    if kind == "latin_square":
        designed = designed if n >= 3 else (*designed, Treatment(3, "third"))
    plants = chance.randint(1, 3)
    replicates = 1 if kind == "latin_square" else chance.randint(1 if seed % 7 == 0 else 2, 4)
    spec = DesignSpec(kind, designed, replicates, plants, factors, ("method",) if factors else ())
    layout = lay_out(spec, seed)
    is_series = not factors and chance.random() < 0.5
    treatments = [
        TrialTreatment(
            t.number, t.label, "rate" if is_series and t.number > 1 else "other",
            float(2 ** (t.number - 2)) if is_series and t.number > 1 else None, "mg/L", t.levels,
        )
        for t in designed
    ]  # fmt: skip
    effects = tuple(
        (t.number, ((14, chance.uniform(-3, 1)), (28, chance.uniform(-8, 2))))
        for t in treatments[1:]
    )
    ratios = tuple((t.number, ((28, chance.choice((0.0, 0.2, 1.0, 1.6))),)) for t in treatments[1:])
    height = TrueMeasurement(
        "height", "continuous", ((0, 10.0), (14, 20.0), (28, 30.0)), effects, 0.5, 0.6, 1.0, 0.4
    )
    branches = TrueMeasurement(
        "branches", "count", ((28, chance.choice((0.2, 5.0))),), ratios, 0.1, 0.1
    )
    rooted = TrueMeasurement("rooted", "proportion", ((28, 0.6),), ratios)
    flowers = TrueFlowering(
        "flower", 24.0, ((treatments[-1].number, 3.0),), 0.3, 0.5, 1.5, tuple(range(16, 31))
    )
    lost = {chance.choice(layout.plots).number: 10} if chance.random() < 0.4 else {}
    found = simulate(layout.plots, plants, (height, branches, rooted), seed, flowers, lost)
    plan = TrialPlan(
        chance.choice(("height", "branches", "")),
        chance.choice(("dunnett", "tukey", "lsd", "games_howell")),
        chance.choice((1, 1, None)), chance.choice((0.05, 0.1)), chance.random() < 0.7,
        chance.choice(("absolute", "multiplicative")), chance.choice((None, 25.0)),
        chance.choice(("", "height")),
    )  # fmt: skip
    exclusions = (
        (TrialExclusion(layout.plots[0].number, "broken & <lost>", assessment="a28", by="Ann"),)
        if chance.random() < 0.3
        else ()
    )
    if chance.random() < 0.5:  # a contrast of one against the others, or one that does not add up
        weights = tuple((t.number, -1.0) for t in treatments[1:])
        own = Contrast("<first> & rest", ((1, float(len(weights))), *weights))
        off = Contrast("no sum of {braces}", ((1, 2.0), (2, -1.0)))
        plan = replace(plan, contrasts=(own, off) if chance.random() < 0.3 else (own,))
    data = data_of(
        layout, found, treatments, (HEIGHT, BRANCHES, ROOTED, FLOWER), plan,
        tuple(f.name for f in factors), exclusions, (16, 30), lost,
    )  # fmt: skip
    return replace(data, title=f'Trial <{seed}> & "more"', code=f"R{seed}")


def facts() -> ReportFacts:
    """Return what a book would add to the report."""
    return ReportFacts(
        paper="a4", language="en", establishment=Establishment("Quillhaven Nursery", ("12 Mill Lane",)),
        generated_at="2026-11-25 10:00 +00:00", printed_by="Ines Prado", software="Tepal 0.1.0",
        reprint_number=0, head_seq=7, head_hash="ab" * 32,
        complete_as_of=CompleteAsOf("2026-11-25 10:00 +00:00", ()), phase="finished",
        own_words="Good <enough> & cheap.",
    )  # fmt: skip


def speaker(
    data: TrialData, language: str = "en", number_format: NumberFormat = PLAIN_FORMAT
) -> TrialReports:
    """Return the words and views of a trial."""
    return TrialReports(data, words_for(LOCALE, language), number_format)


def report_of(
    data: TrialData, language: str = "en", cells: tuple[CellAnalysis, ...] | None = None
) -> tuple[TrialReportView, bytes]:
    """Return view and PDF of a trial's report."""
    cells = analyse_trial(data) if cells is None else cells
    view = speaker(data, language).report_view(cells, facts())
    return view, render_trial_report(view, catalogue(LOCALE, language))
