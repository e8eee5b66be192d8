"""Each way to refuse has a code and a sentence that says what to do."""

from __future__ import annotations

import math

import pytest

from tepal import stats
from tepal.stats import StatsError

TWO = {"t": list("aabb")}


def means(y=(1, 2, 3, 5), **factors):
    fit = stats.fit_linear(list(y), factors or TWO)
    return stats.lsmeans(fit, next(iter(factors or TWO)))


CASES = {
    "stats.length": [
        lambda: stats.fit_linear([1, 2, 3], TWO),
        lambda: stats.dose_response([0, 1], [1, 2, 3]),
        lambda: stats.ratio_of_paired_means([1], [1]),
        lambda: stats.plot_summaries([[1, 2, 3]], [0, 1], "area"),
        lambda: stats.spatial_trend(stats.fit_linear([1, 2, 3, 5], TWO), [1], [1]),
    ],
    "stats.negative_dose": [lambda: stats.dose_response([-1, 0, 1, 2], [4, 3, 2, 1])],
    "stats.not_finite": [lambda: stats.dose_response([0, 1, math.nan, 2], [4, 3, 2, 1])],
    "stats.impossible_level": [
        lambda: stats.dose_response([0, 1, 3, 10, 30, 100], [20, 19, 14, 8, 5, 4.1], levels_pct=[0])
    ],
    "stats.too_few_rates": [
        lambda: stats.dose_response([0, 1, 2, 0, 1, 2], [9, 8, 7, 9, 8, 6]),
        lambda: stats.polynomial_coefficients([0, 1], 2),
    ],
    "stats.same_rate": [lambda: stats.polynomial_coefficients([0, 1, 1], 1)],
    "stats.too_few_points": [lambda: stats.growth_curve([1, 2, 3], [1, 2, 3])],
    "stats.too_few_partners": [lambda: stats.colby_expected_pct([50])],
    "stats.impossible_inhibition": [lambda: stats.colby_expected_pct([50, 120])],
    "stats.unknown_level": [
        lambda: stats.percent_departure(means(), "a", "b", "c", "d"),
        lambda: stats.trend(means(), {"a": 0, "z": 3}, 1),
        lambda: stats.steel([1, 2, 3, 4], list("aabb"), "c"),
        lambda: stats.percent_of_control(means(), "z"),
        lambda: stats.contrasts(means(), {"x": {"z": 1}}),
    ],
    "stats.zero_control": [
        lambda: stats.percent_departure(
            means([-1, 1, 2, 3, 4, 5, 6, 8], t=list("aabbccdd")), *"abcd"
        )
    ],
    "stats.zero_contrast": [lambda: stats.contrasts(means(), {"x": {"a": 0}})],
    "stats.unknown_term": [
        lambda: stats.lsmeans(stats.fit_linear([1, 2, 3, 5], TWO), "z"),
        lambda: stats.lsmeans(stats.fit_linear([1, 2, 3, 5], TWO), "t", at={"z": 1}),
        lambda: stats.fit_linear([1, 2, 3, 5], TWO).term("z"),
        lambda: stats.interaction_contrast(stats.fit_linear([1, 2, 3, 5], TWO), "t", "z"),
        lambda: stats.split_plot_in_time([[1, 2], [2, 4]], {"x": list("ab")}),
    ],
    "stats.no_two_level_term": [
        lambda: stats.factorial_effects(stats.fit_linear([1, 2, 3, 5, 6, 9], {"t": list("aabbcc")}))
    ],
    "stats.times_not_rising": [lambda: stats.plot_summaries([[1, 2]], [1, 1], "slope")],
    "stats.too_few_times": [
        lambda: stats.split_plot_in_time([[1], [2]], {"treatment": ["a", "b"]})
    ],
    "stats.no_data": [
        lambda: stats.kaplan_meier([], []),
        lambda: stats.between_looks([], [], 10),
        lambda: stats.split_plot_in_time([[1, None], [None, 2]], {"treatment": ["a", "b"]}),
    ],
    "stats.look_order": [lambda: stats.between_looks([10], [8], 20)],
    "stats.one_level": [
        lambda: stats.log_rank([1, 2], [True, True], ["a", "a"]),
        lambda: stats.kruskal_wallis([1, 2], ["a", "a"]),
        lambda: stats.split_plot([1, 2, 3, 4], list("1111"), list("aabb"), list("xyxy")),
    ],
    "stats.unequal_plants": [
        lambda: stats.nested_anova([1, 2, 3, 4, 5], list("ppqrr"), {"t": list("aabbb")})
    ],
    "stats.incomplete_split_plot": [
        lambda: stats.split_plot([1, 2, 3, None], list("1122"), list("abab"), list("xxxx"))
    ],
    "stats.plot_in_two_cells": [lambda: stats.plot_values([1, 2], ["p", "p"], {"t": ["a", "b"]})],
    "stats.no_replicates_within": [
        lambda: stats.fit_mixed([1, 2, 3, 5], {**TWO, "p": list("wxyz")}, ["p"])
    ],
    "stats.not_complete_blocks": [
        lambda: stats.friedman([1, 2, 3], list("aab"), list("111")),
    ],
    "stats.no_plants": [lambda: stats.fit_count([1, 2, 3, 4], TWO, n_plants=[1, 0, 1, 1])],
    "stats.impossible_proportion": [lambda: stats.fit_proportion([3, 1, 1, 1], [2, 2, 2, 2], TWO)],
    "stats.all_one": [lambda: stats.fit_proportion([2, 2, 2, 2], [2, 2, 2, 2], TWO)],
    "stats.not_positive": [lambda: stats.box_cox([0, 1, 2, 3], TWO)],
    "stats.one_replicate": [lambda: stats.games_howell([1, 2, 3], list("aab"))],
    "stats.no_variation": [
        lambda: stats.kruskal_wallis([1, 1, 1, 1], list("aabb")),
        lambda: stats.fit_ordinal([2, 2, 2, 2], TWO),
        lambda: stats.steel([1, 1, 1, 1], list("aabb"), "a"),
    ],
    "stats.logit_ratio": [
        lambda: stats.percent_of_control(
            stats.lsmeans(stats.fit_proportion([1, 2, 3, 2], [4, 4, 4, 4], TWO), "t"), "a"
        )
    ],
}


@pytest.mark.parametrize(
    ("code", "number"), [(code, i) for code, calls in CASES.items() for i in range(len(calls))]
)
def test_refusal_has_code_and_sentence(code, number):
    with pytest.raises(StatsError) as caught:
        CASES[code][number]()

    assert caught.value.code == code
    assert len(caught.value.message) > 25
    assert caught.value.message.endswith((".", "plots."))


@pytest.mark.parametrize(
    "call",
    [
        lambda: stats.lsd(means(), protected_by=stats.joint_test(means()), adjust="holm"),
        lambda: stats.adjust_p([0.1], "scheffe"),
        lambda: stats.steel([1, 2, 3, 4], list("aabb"), "a", "greater"),
        lambda: stats.deviance_test(stats.fit_linear([1, 2, 3, 5], TWO), "t", "a", "b"),
    ],
)
def test_misuse_by_a_programmer_is_a_value_error(call):
    with pytest.raises(ValueError, match=r"\w"):
        call()


@pytest.mark.parametrize(
    "check",
    [
        stats.shapiro_wilk([1, 2]),
        stats.shapiro_wilk([2, 2, 2, 2]),
        stats.brown_forsythe([1, 2, 3], list("aab")),
        stats.brown_forsythe([1, 2, 1, 2], list("aabb")),
        stats.bartlett([1, 1, 2, 3], list("aabb")),
        stats.welch_anova([1, 1, 2, 3], list("aabb")),
        stats.welch_anova([1, 2, None, 3], list("aabb")),
        stats.log_rank([1, 2, 3, 4], [False] * 4, list("aabb")),
    ],
)
def test_checks_that_cannot_run_say_why(check):
    assert check.p is None
    assert check.reason
