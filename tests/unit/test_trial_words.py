"""Every case of the words: partners that help, hinder, pull apart; nothing shown; nothing possible."""

from __future__ import annotations

from dataclasses import replace

import pytest

from support.random_trials import facts, speaker
from support.trial_sample import HEIGHT, data_of, drench, factorial, small
from tepal.designs.layouts import lay_out
from tepal.designs.simulator import TrueMeasurement, simulate
from tepal.designs.specs import DesignSpec, Treatment
from tepal.designs.trial import Contrast, PlanChange, TrialData, TrialPlan, TrialTreatment
from tepal.services.trial_analysis import analyse_cell, analyse_course, cell_hash, cell_keys

NAMES = ("untreated", "A", "B", "A with B")
LEVELS = (("0", "0"), ("a", "0"), ("0", "b"), ("a", "b"))


def partners(effects: tuple[float, float, float], scale: str, *, sd: float = 0.2) -> TrialData:
    """Return a 2 x 2 trial with these true effects in cm on 30 cm."""
    spec = DesignSpec(
        "randomised_complete_block", tuple(Treatment(i + 1, n) for i, n in enumerate(NAMES)), 6, 2
    )
    layout = lay_out(spec, 8)
    truth = TrueMeasurement(
        "height", "continuous", ((28, 30.0),),
        tuple((i + 2, ((28, e),)) for i, e in enumerate(effects)), 0.5, sd, sd, 0.0, 2,
    )  # fmt: skip
    treatments = [
        TrialTreatment(i + 1, name, levels=levels)
        for i, (name, levels) in enumerate(zip(NAMES, LEVELS, strict=True))
    ]
    plan = TrialPlan("height", scale=scale)  # type: ignore[arg-type]
    found = simulate(layout.plots, 2, (truth,), 8)
    return data_of(layout, found, treatments, (HEIGHT,), plan, ("A", "B"))


# (effects of A, B, both on 30 cm; scale; what must be claimed; words that must be said)
CASES = {
    "together more, both scales": ((-4, -8, -18), "multiplicative", "synergistic", "synergistic"),
    "together less, both scales": ((-6, -8, -8.5), "absolute", "antagonistic", "antagonistic"),
    # 24 * 22 / 30 = 17.6 against 16: added less than expected, multiplied exactly
    "scales disagree": ((-8, -12, -16.8), "absolute", "higher", "other scale does not agree"),
    "A held": ((-8, 5, -8), "absolute", "opposite.held", "did not undo A"),
    "A undone": ((-8, 5, 3), "absolute", "opposite.undone", "undid A"),
    "where both meet": ((-8, 5, -3), "absolute", "opposite.not_excluded", "not proven"),
    "as expected": ((-4, -8, -12), "absolute", "not_excluded", "no proof"),
}


@pytest.mark.parametrize("name", CASES)
def test_partners_get_the_words_of_their_case(name: str) -> None:
    effects, scale, kind, words = CASES[name]
    data = partners(effects, scale)
    cell = analyse_cell(data, "height", "a28")

    said = next(s for s in speaker(data).cell(cell) if s.claim.about == "both")

    assert said.claim.kind == f"partners_{kind}"
    assert words in said.text
    if kind not in ("synergistic", "antagonistic"):
        assert "synergistic" not in said.text
        assert "antagonistic" not in said.text
    spanish = next(s for s in speaker(data, "es").cell(cell) if s.claim.about == "both")
    assert spanish.text != said.text


def test_opposite_pull_is_not_said_of_a_partner_that_shows_no_effect() -> None:
    """B's estimate lies above the control, but its interval holds zero: no pull is claimed."""
    data = partners((-8, 0.05, -8), "absolute", sd=0.8)
    cell = analyse_cell(data, "height", "a28")

    said = next(s for s in speaker(data).cell(cell) if s.claim.about == "both")

    assert "opposite" not in said.claim.kind


def test_nothing_shown_is_never_called_the_same() -> None:
    data = drench()
    for key in cell_keys(data):
        for said in speaker(data).cell(analyse_cell(data, *key)):
            if said.claim.kind == "not_excluded":
                assert "no proof that they are the same" in said.text


def test_difference_and_ratio_that_disagree_claim_nothing() -> None:
    """The same contrast, one interval excluding zero and the other not: taken as not shown."""
    data = drench()
    cell = analyse_cell(data, "height", "a44")
    family, ratios = cell.result.comparison, cell.result.percent_of_control
    assert family is not None
    assert ratios is not None
    wide = replace(ratios.comparisons[-1], lower=50.0, upper=101.0)
    percent = replace(ratios, comparisons=(*ratios.comparisons[:-1], wide))
    edge = replace(cell, result=replace(cell.result, percent_of_control=percent))

    last = next(s for s in speaker(data).cell(edge) if s.claim.about == "6")

    assert last.claim.kind == "scales_disagree"
    assert "not shown" in last.text


def test_numbers_follow_the_establishment_not_the_language() -> None:
    data = drench()
    cell = analyse_cell(data, "height", "a44")
    comma = speaker(data, "en", {"decimal": ",", "thousands": ""})

    text = " ".join(s.text for s in comma.cell(cell))

    assert "0,039" in text
    assert "0.039" not in text


def test_p_near_alpha_is_never_rounded_onto_it() -> None:
    words = speaker(drench())

    assert [words.p(p) for p in (0.0496, 0.0504, 0.05, 0.0004, 0.9999)] == [
        "=\u00a00.0496", "=\u00a00.0504", "=\u00a00.050", "<\u00a00.001", ">\u00a00.999",
    ]  # fmt: skip


def test_refusal_says_why_in_words() -> None:
    data = small("split_plot", 3)

    said = speaker(data, "es").cell(analyse_cell(data, "branches", "a28"))

    assert [s.claim.kind for s in said] == ["refused"]
    assert "parcela dividida" in said[0].text


def test_course_over_time_speaks_of_its_own_unit() -> None:
    data = drench()
    area, slope = analyse_course(data, "height")

    assert "area under the course" in speaker(data).cell(area)[0].text
    assert speaker(data).measurement(slope).unit == "cm per day"


def test_hash_follows_values_and_exclusions_and_not_titles() -> None:
    data = drench()
    first = cell_hash(data, "height", "a44")

    assert cell_hash(replace(data, title="another"), "height", "a44") == first
    assert cell_hash(replace(data, exclusions=()), "height", "a44") != first
    assert cell_hash(replace(data, values=data.values[1:]), "height", "a44") == first  # day 0 only
    assert cell_hash(replace(data, values=data.values[:-1]), "flower", "round") != cell_hash(
        data, "flower", "round"
    )


def contrasted(weights: tuple[tuple[int, float], ...]) -> TrialData:
    data = drench()
    return replace(data, plan=replace(data.plan, contrasts=(Contrast("rates", weights),)))


def test_contrast_is_a_difference_of_means_whatever_the_size_of_its_weights() -> None:
    """Weights 4, -1, -1, -1, -1 and 1, -1/4 ... ask the same; of counts the answer is a ratio."""
    whole = contrasted(((1, 4.0), (3, -1.0), (4, -1.0), (5, -1.0), (6, -1.0)))
    parts = contrasted(((1, 1.0), (3, -0.25), (4, -0.25), (5, -0.25), (6, -0.25)))

    cells = [analyse_cell(d, "height", "a44") for d in (whole, parts)]

    means = {e.label: e.value or 0.0 for e in cells[0].result.means.means}  # type: ignore[union-attr]
    expected = means["1"] - sum(means[n] for n in "3456") / 4
    assert [c.contrasts.comparisons[0].value for c in cells if c.contrasts] == [
        pytest.approx(expected, rel=1e-12)
    ] * 2
    count = speaker(whole).view(analyse_cell(whole, "branches", "a44"))
    assert "rates: a ratio of" in " ".join(count.sentences)
    (table,) = (t for t in count.tables if t.name == "contrasts")
    assert "+4\u00a0(1), \u22121\u00a0(3)" in table.rows[0][3]
    assert "ratio of two weighted geometric means" in table.notes[0]


def test_contrast_whose_weights_do_not_add_up_is_refused_by_name() -> None:
    data = contrasted(((1, 1.0), (3, -0.9)))

    cell = analyse_cell(data, "height", "a44")

    assert cell.contrasts is None
    text = " ".join(s.text for s in speaker(data, "es").cell(cell))
    assert "rates: sin cifra" in text
    assert "suman cero" in text


def test_dose_curve_says_what_was_fitted_beside_it() -> None:
    data = drench()
    cells = tuple(analyse_cell(data, *key) for key in (("height", "a44"), ("branches", "a44")))

    (chart,) = (c for c in speaker(data).view(cells[0]).charts if c.name == "dose")

    assert "average block: block effects were fitted beside it" in chart.note
    methods = " ".join(speaker(data, "es").methods(cells))
    assert "efectos de bloque sumados a la curva" in methods
    assert cells[0].dose is not None
    assert cells[0].dose.df_error == 30 - 2 - 4 - 5  # plots of rates, gone ones, curve, blocks


def test_change_of_the_plan_after_data_is_told_in_words_and_printed() -> None:
    data = replace(
        drench(),
        plan_changes=(
            PlanChange("comparison", "dunnett", "tukey", "Ann", "2026-05-12", "asked <later>"),
            PlanChange("control", "1", "2", "", "", ""),
        ),
    )
    words = speaker(data)

    first, second = words.plan_changes()

    assert "from Each treatment against the control (Dunnett) to All pairs" in first
    assert first.endswith("Reason: asked <later>")
    assert "control, from untreated\u00a0(1) to water drench\u00a0(2). Reason: none given" in second
    view = words.report_view((), facts())
    (section,) = (s for s in view.sections if s.name == "deviations")
    assert section.sentences[:2] == (first, second)


@pytest.mark.parametrize(
    ("comparison", "procedure"), [("dunnett", "Tukey-Kramer"), ("lsd", "protected LSD")]
)
def test_letters_are_of_the_planned_family_at_the_planned_alpha(
    comparison: str, procedure: str
) -> None:
    data = factorial()
    plan = replace(data.plan, alpha=0.1, comparison=comparison)  # type: ignore[arg-type]

    cell = analyse_cell(replace(data, plan=plan), "height", "a28")

    assert cell.letters is not None
    assert (cell.letters.procedure, cell.letters.alpha) == (procedure, 0.1)
    assert all(f.alpha == 0.1 for f in cell.formulations)


def test_conclusion_names_no_interval_where_there_was_no_answer() -> None:
    data = small("split_plot", 3)
    cell = analyse_cell(data, "branches", "a28")
    counted = replace(data, plan=replace(data.plan, primary="branches"))

    lines = speaker(counted).conclusion((replace(cell, is_primary=True),))

    assert "has no answer" in lines[1]
    assert not any("intervals above" in line for line in lines)
