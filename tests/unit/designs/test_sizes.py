"""Whether a trial can answer its question: refusals, findings, limits."""

import pytest

from tepal.designs.sizes import (
    SizeQuestion,
    detectable_difference_pct,
    error_df,
    power_at,
    replicates_needed,
    size_answer,
)
from tepal.designs.specs import DesignError


def test_trial_too_small_for_its_question_says_so_with_numbers():
    answer = size_answer(SizeQuestion("control", 6, 15, 9), 4)

    (finding,) = answer.findings
    assert finding.code == "designs.too_small_for_question"
    assert finding.severity == "caution"
    assert "9 replicates" in finding.message
    assert finding.context["needed_replicates"] == answer.needed_replicates == 9


def test_trial_that_is_large_enough_has_no_finding():
    assert size_answer(SizeQuestion("control", 6, 15, 9), 9).findings == ()


def test_detectable_difference_is_found_with_the_wanted_power():
    question = SizeQuestion("pairs", 5, 20, 12)

    smallest = detectable_difference_pct(question, 5)

    assert power_at(SizeQuestion("pairs", 5, smallest, 12), 5) == pytest.approx(0.8, abs=1e-6)


def test_hopeless_question_needs_more_than_can_be_built():
    question = SizeQuestion("pairs", 10, 1, 50)

    assert replicates_needed(question) is None
    assert "more than 500 replicates" in size_answer(question, 4).findings[0].message


def test_very_uneven_plots_leave_no_detectable_difference():
    question = SizeQuestion("control", 3, 10, 1000, power=0.9999)

    assert detectable_difference_pct(question, 2) is None
    assert "no difference" in size_answer(question, 2).findings[0].message


def test_two_replicates_can_be_enough_for_a_huge_difference():
    assert replicates_needed(SizeQuestion("control", 3, 500, 5)) == 2


# by hand: CRD 6 x 4 - 6 = 18; RCBD (6-1)(4-1) = 15; doubled control in blocks: 28 - 6 - 3 = 19
@pytest.mark.parametrize(
    ("kind", "multiple", "df"),
    [
        ("completely_randomised", 1, 18),
        ("randomised_complete_block", 1, 15),
        ("randomised_complete_block", 2, 19),
    ],
)
def test_error_df_by_hand(kind, multiple, df):
    assert error_df(SizeQuestion("control", 6, 1, 1, kind=kind, control_multiple=multiple), 4) == df


def test_trial_without_error_df_is_refused():
    with pytest.raises(DesignError) as caught:
        power_at(SizeQuestion("control", 2, 10, 10, kind="latin_square"), 1)

    assert caught.value.code == "designs.no_error_df"


def test_plant_spread_shrinks_with_plants_but_not_below_plot_spread():
    # sqrt(10^2 + 12^2 / 4) = sqrt(136) = 11.6619
    few = SizeQuestion("control", 4, 10, 10, plant_cv_pct=12, plants_per_plot=4)
    many = SizeQuestion("control", 4, 10, 10, plant_cv_pct=12, plants_per_plot=10_000)

    assert few.plot_mean_sd_pct == pytest.approx(11.66190378969)
    assert many.plot_mean_sd_pct == pytest.approx(10, abs=0.001)


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("n_treatments", 1),
        ("difference_pct", 0),
        ("difference_pct", float("nan")),
        ("plot_cv_pct", 0),
        ("plant_cv_pct", -1),
        ("plants_per_plot", 0),
        ("alpha", 0),
        ("power", 1),
    ],
)
def test_question_out_of_range_is_refused_by_name(name, value):
    values = {"n_treatments": 4, "difference_pct": 10, "plot_cv_pct": 10} | {name: value}

    with pytest.raises(DesignError) as caught:
        SizeQuestion("control", **values)

    assert caught.value.context["name"] == name


def test_extra_control_plots_are_for_comparisons_with_the_control():
    with pytest.raises(DesignError, match="Extra control plots"):
        SizeQuestion("pairs", 4, 10, 10, control_multiple=2)
