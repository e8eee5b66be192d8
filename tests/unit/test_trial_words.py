"""Every case of the words: partners that help, hinder, pull apart; nothing shown; nothing possible."""

from __future__ import annotations

from dataclasses import replace

import pytest

from support.random_trials import speaker
from support.trial_sample import HEIGHT, data_of, drench, small
from tepal.designs.layouts import lay_out
from tepal.designs.simulator import TrueMeasurement, simulate
from tepal.designs.specs import DesignSpec, Treatment
from tepal.designs.trial import TrialData, TrialPlan, TrialTreatment
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
