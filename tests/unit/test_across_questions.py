"""Trials are combined only where they answer the same question, counted once, and said plainly."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from support.trial_sample import drench
from tepal.domain.number_format import NUMBER_FORMATS
from tepal.services.across_effects import Effect, effects_of, wanted_cells
from tepal.services.across_questions import Found, fits, questions_of
from tepal.services.across_view import AcrossView
from tepal.services.catalogue import words_for
from tepal.services.trial_analysis import analyse_cell
from tepal.services.trial_received import Crop, Dose
from tepal.stats import pool

LOCALE = Path(__file__).resolve().parents[2] / "web" / "app" / "locale"
SALVIA = Crop("Salvia", "SALSP")
DOSE = Dose((("paclobutrazol", 2.0),), "drench", 60.0, None, 1, "Rootpost SC")
EFFECT = Effect(
    2, "2 mg/L", "rate", "untreated", "untreated", "height", "Height", "continuous", "From the rim",
    "lower", "a44", 44, "ratio", -0.3, 0.05, 12.0, 6, 0.05, True, "hash",
)  # fmt: skip


def found(n: int, dose: Dose = DOSE, crop: Crop = SALVIA, **of_effect: Any) -> Found:
    effect = replace(EFFECT, **{"input_hash": f"hash {n}", **of_effect})
    return Found(f"trial {n}", f"T{n:02d}", "", "", f"2026-0{n}-01", (crop,), dose, effect)


def test_same_question_is_one_question_with_the_trials_by_their_day() -> None:
    questions = questions_of([found(2), found(1)])

    assert [[one.code for one in q.counted] for q in questions] == [["T01", "T02"]]
    assert questions[0].pooled is not None


OTHERS: dict[str, Any] = {
    "crop": {"crop": Crop("Lantana", "LANCA")},
    "a.i.": {"dose": replace(DOSE, ais=(("uniconazole", 2.0),))},
    "one a.i. more": {"dose": replace(DOSE, ais=(("daminozide", 9.0), ("paclobutrazol", 2.0)))},
    "method": {"dose": replace(DOSE, method="spray")},
    "adjuvant": {"dose": replace(DOSE, others="Wetleaf 90")},
    "applications": {"dose": replace(DOSE, n_applications=2)},
    "no application on record": {"dose": replace(DOSE, n_applications=None)},
    "rate": {"dose": replace(DOSE, ais=(("paclobutrazol", 2.3),))},
    "volume": {"dose": replace(DOSE, ml_per_container=90.0)},
    "volume not on file": {"dose": replace(DOSE, ml_per_container=None)},
    "day": {"day": 20},
    "measurement": {"measurement": "width"},
    "type": {"type": "count"},
    "comparator": {"comparator": "water"},
    "a control that nobody describes": {"comparator": "control"},
}


@pytest.mark.parametrize("name", OTHERS)
def test_another_question_is_never_combined(name: str) -> None:
    questions = questions_of([found(1), found(2, **OTHERS[name])])

    assert [len(q.counted) for q in questions] == [1, 1]
    assert all(q.pooled is None for q in questions)
    assert len({q.key for q in questions}) == 2


def test_controls_that_nobody_describes_are_never_one_question() -> None:
    questions = questions_of([found(n, comparator="control") for n in (1, 2)])

    assert [len(q.counted) for q in questions] == [1, 1]
    assert len({q.key for q in questions}) == 2


def test_what_is_comparable_counts_from_the_smallest() -> None:
    """2.0 and 2.2 are within 10 %, 2.2 and 2.4 too, but 2.0 and 2.4 are not one question."""
    rates = (2.0, 2.2, 2.4)

    questions = questions_of(
        [found(n, replace(DOSE, ais=(("paclobutrazol", r),))) for n, r in enumerate(rates, 1)]
    )

    assert sorted(len(q.counted) for q in questions) == [1, 2]


def test_crop_is_known_by_its_code_or_by_the_name_that_some_lot_gives_a_code_to() -> None:
    other = Crop("Salvia splendens", "SALSP")

    questions = questions_of([found(1), found(2, crop=other), found(3, crop=Crop("salvia"))])

    assert [len(q.counted) for q in questions] == [3]
    assert len(questions[0].crop_names) == 2


def test_trial_of_two_crops_or_without_an_ai_answers_nothing() -> None:
    two = replace(found(1), crops=(SALVIA, Crop("Lantana", "LANCA")))

    assert questions_of([two, found(2, replace(DOSE, ais=()))]) == ()


def test_same_trial_twice_on_file_counts_once() -> None:
    twin = replace(found(2, input_hash="hash 1"), elsewhere="Sallowmere Nursery")

    (question,) = questions_of([twin, found(1)])

    assert [one.code for one in question.counted] == ["T01"]
    assert [(one.code, why) for one, why in question.left_out] == [("T02", "twin")]


def test_two_treatments_of_one_trial_count_once_and_what_has_no_error_is_left_out() -> None:
    second = replace(found(1), effect=replace(EFFECT, treatment=5, input_hash="hash 1"))
    empty = found(3, value=None, se=None, why_not="near_zero")

    (question,) = questions_of([second, found(1), found(2), empty])

    assert [one.effect.treatment for one in question.counted] == [2, 2]
    assert {why for _, why in question.left_out} == {"same_trial", "near_zero"}


def test_trials_that_point_apart_are_opposed() -> None:
    (apart,) = questions_of([found(1, value=-0.3), found(2, value=0.3)])
    (alike,) = questions_of([found(1, value=-0.3), found(2, value=0.02)])

    assert apart.is_opposed
    assert not alike.is_opposed
    assert alike.pooled is not None
    assert alike.pooled.disagree  # Q = 0.32^2 / (2 * 0.05^2) = 20.5 on 1 df


def test_mix_fits_the_question_it_would_ask_again() -> None:
    (question,) = questions_of([found(1), found(2)])

    assert fits(question, replace(DOSE, ais=(("paclobutrazol", 2.15),), n_applications=None))
    for other in (
        replace(DOSE, ais=(("paclobutrazol", 2.5),)), replace(DOSE, method="spray"),
        replace(DOSE, ml_per_container=None), replace(DOSE, others="Wetleaf 90"),
    ):  # fmt: skip
        assert not fits(question, other)


def test_effects_of_a_trial_are_its_percentages_of_untreated_and_of_water() -> None:
    data = drench()
    cells = [analyse_cell(data, m, a) for m, a in wanted_cells(data)]

    effects = effects_of(data, cells)

    assert dict(wanted_cells(data)) == {"height": "a44", "branches": "a44", "flower": "round"}
    (one,) = (
        e for e in effects
        if (e.measurement, e.treatment, e.comparator) == ("height", 5, "untreated")
    )  # fmt: skip
    family = cells[0].result.percent_of_control
    assert family is not None
    (shown,) = (e for e in family.comparisons if e.pair == ("5", "1"))
    assert 100 * np.exp(one.value) == pytest.approx(shown.value)
    assert one.se == pytest.approx(shown.se / shown.value)  # type: ignore[operator]
    assert {e.comparator for e in effects} == {"untreated", "water"}
    assert {e.scale for e in effects if e.type == "days"} == {"days"}


def test_interval_of_pooled_trials_covers_the_truth() -> None:
    """300 sets of 2, 3 and 6 trials, tau 0.08, errors 0.04: three standard errors below 95 %."""
    chance = np.random.default_rng(20261125)
    covered = n = 0
    for k in (2, 3, 6):
        for _ in range(100):
            y = -0.3 + chance.normal(0, 0.08, k) + chance.normal(0, 0.04, k)
            e = pool(list(y), [0.04] * k).estimate
            assert e.lower is not None
            assert e.upper is not None
            covered += e.lower <= -0.3 <= e.upper
            n += 1
    assert covered / n > 0.95 - 3 * (0.95 * 0.05 / n) ** 0.5


def view(values: tuple[float, ...], language: str = "en", **of_effect: Any) -> AcrossView:
    (question,) = questions_of([found(n, value=v, **of_effect) for n, v in enumerate(values, 1)])
    number_format = NUMBER_FORMATS["1234,5" if language == "es" else "1234.5"]
    return AcrossView(question, words_for(LOCALE, language), number_format)


def test_one_trial_stands_alone_and_says_what_it_cannot_say() -> None:
    one = view((-0.3,))

    first, second = (said.text for said in one.sentences())

    # exp(-0.3) = 0.741; t(0.975, 12) = 2.179: exp(-0.3 -+ 0.109) = 0.664, 0.826
    assert "74 % of untreated in the one finished trial (95 % interval 66 to 83)" in first
    assert "wholly below 100 %: lower" in first
    assert "One trial says nothing of how far trials differ" in second
    assert "Together" not in str(one.table())


def test_two_trials_are_said_to_be_few_and_claim_nothing_their_interval_does_not() -> None:
    two = view((-0.3, -0.28))

    text = " ".join(said.text for said in two.sentences())

    # se = 0.05 / sqrt(2) = 0.0354, t(0.975, 1) = 12.71: exp(-0.29 -+ 0.449) = 0.477, 1.17
    assert "(95 % interval 48 to 117)" in text
    assert "A difference was not shown; that is no proof that there is none" in text
    assert "Two trials: the interval has one degree of freedom" in text
    assert "prediction" not in text


def test_trials_that_disagree_say_so_before_anything_else_is_read_into_the_mean() -> None:
    apart, spread = view((-0.3, 0.3)), view((-0.5, -0.2, -0.1, -0.4, -0.3))

    assert apart.state() == spread.state() == "disagree"
    assert "opposite directions" in apart.sentences()[1].text
    text = " ".join(said.text for said in spread.sentences())
    assert "The trials disagree by more than their own errors explain" in text
    assert "(I²)" in text
    assert "95 % prediction interval" in text
    assert "the trials disagree" in spread.short()


def test_trial_that_carries_nearly_all_the_weight_is_named() -> None:
    (question,) = questions_of([found(1, se=0.01), found(2, se=0.2)])
    one = AcrossView(question, words_for(LOCALE, "en"), NUMBER_FORMATS["1234.5"])

    # weights 1/0.01^2 and 1/0.2^2: 10000 of 10025
    assert "T01 carries 99 % of the weight" in " ".join(s.text for s in one.sentences())
    assert "carries" not in " ".join(s.text for s in view((-0.3, -0.28)).sentences())


SCALES: dict[str, tuple[dict[str, Any], str, str]] = {
    "days": ({"type": "days", "scale": "days", "day": None}, "+3.0 days against", "later"),
    "odds": ({"type": "proportion", "scale": "odds"}, "odds 20.1 times", "higher odds"),
}


@pytest.mark.parametrize("scale", SCALES)
def test_days_and_proportions_have_words_of_their_own(scale: str) -> None:
    of_effect, amount, verdict = SCALES[scale]

    text = view((3.0,), **of_effect).sentences()[0].text

    assert amount in text
    assert verdict in text


@pytest.mark.parametrize("language", ["en", "es"])
@pytest.mark.parametrize("of_effect", [{}, *(of for of, _, _ in SCALES.values())])
@pytest.mark.parametrize(
    "values", [(-0.3,), (0.0,), (-0.3, 0.3), (-0.3, -0.31, -0.29), (0.1, 0.5, 0.9, 0.2, 0.6, 2.0)]
)
def test_every_sentence_table_and_chart_is_whole_and_claims_what_the_interval_shows(
    values: tuple[float, ...], of_effect: dict[str, Any], language: str
) -> None:
    one = view(values, language, **of_effect)

    shown = one.view()

    answer = one.answer()
    assert answer is not None
    claims = {said.claim.kind for said in one.sentences()}
    assert ("lower" in claims) == (answer.upper is not None and answer.upper < 0)
    assert ("higher" in claims) == (answer.lower is not None and answer.lower > 0)
    assert all(text and "{" not in text for text in (*shown["sentences"], *shown["notes"]))
    assert len(shown["table"]["rows"]) == len(values) + (len(values) > 1)
    assert all(row[0] in shown["chart"]["alt"] for row in shown["table"]["rows"])
    assert shown["chart"]["drawing"]["marks"]
    if language == "es":
        assert "trial" not in " ".join(shown["sentences"])


def test_left_out_and_foreign_trials_are_named() -> None:
    (question,) = questions_of(
        [
            found(1),
            replace(found(2), elsewhere="Sallowmere Nursery"),
            found(3, value=None, se=None, why_not="near_zero", definition="To the <top>"),
        ]
    )
    one = AcrossView(question, words_for(LOCALE, "en"), NUMBER_FORMATS["1234.5"])

    notes = " ".join(one.notes())

    assert "Not counted: T03, 2 mg/L" in notes
    assert "1 of the trials came in a file from another establishment" in notes
    assert "From the rim / To the <top>" in notes
    assert [row[0] for row in one.table().rows] == [
        "T01", "T02 (Sallowmere Nursery)", "T03", "Together",
    ]  # fmt: skip
