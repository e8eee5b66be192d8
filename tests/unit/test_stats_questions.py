"""Comparisons, letters, ratios, partners, trends, days, repeated measures: rules they keep."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import shapiro, tukey_hsd

from tepal import stats
from tepal.stats import DegenerateResponseError, DesignRefusedError, StatsError


@st.composite
def patterns(draw):
    n = draw(st.integers(1, 7))
    levels = [chr(65 + i) for i in range(n)]
    pairs = list(itertools.combinations(levels, 2))
    return levels, [p for p in pairs if draw(st.booleans())]


@given(patterns())
@settings(max_examples=300, deadline=None)
def test_levels_share_a_letter_exactly_when_they_do_not_differ(pattern):
    levels, different = pattern

    got = stats.letters_of_pairs(levels, different)

    for a, b in itertools.combinations(levels, 2):
        assert bool(set(got[a]) & set(got[b])) == ((a, b) not in different)
    # no letter is redundant: without it some pair would lose its only common letter
    for letter in set("".join(got.values())):
        holders = [x for x in levels if letter in got[x]]
        needed = any(
            (set(got[a]) & set(got[b])) == {letter} for a, b in itertools.combinations(holders, 2)
        )
        assert needed or any(set(got[x]) == {letter} for x in holders)


def test_letters_refuse_a_family_without_all_pairs():
    fit = stats.fit_linear([1, 2, 3, 5, 8, 9], {"t": list("aabbcc")})

    with pytest.raises(StatsError, match="2 of 3 pairs"):
        stats.letters(stats.dunnett(stats.lsmeans(fit, "t"), "a"))


def test_tukey_agrees_with_scipy_in_unequal_groups():
    rng = np.random.default_rng(4)
    groups = [rng.normal(i, 1, n) for i, n in enumerate((4, 6, 9))]
    reference = tukey_hsd(*groups)
    y = np.concatenate(groups)
    g = [str(i) for i, x in enumerate(groups) for _ in x]

    ours = {
        c.pair: c
        for c in stats.tukey(stats.lsmeans(stats.fit_linear(y, {"g": g}), "g")).comparisons
    }

    # scipy's tail comes from an adaptive integral with 1e-8 or so
    assert ours["0", "2"].p_adjusted == pytest.approx(reference.pvalue[0, 2], abs=1e-7)


def test_games_howell_agrees_with_scipy():
    rng = np.random.default_rng(6)
    groups = [rng.normal(i, 1 + i, n) for i, n in enumerate((5, 7, 8))]
    reference = tukey_hsd(*groups, equal_var=False)
    g = [str(i) for i, x in enumerate(groups) for _ in x]

    ours = {c.pair: c for c in stats.games_howell(np.concatenate(groups), g).comparisons}

    assert ours["0", "1"].p_adjusted == pytest.approx(reference.pvalue[0, 1], abs=1e-7)


def test_protected_lsd_declares_nothing_when_f_does_not():
    fit = stats.fit_linear([1, 9, 2, 8, 5, 6.5, 3, 9], {"t": list("aabbccdd")})
    f = fit.term("t")
    assert f.p > 0.05

    result = stats.lsd(stats.lsmeans(fit, "t"), protected_by=f)

    assert all(c.p_adjusted >= 0.05 for c in result.comparisons)


def test_unknown_control_is_named_with_the_levels_there_are():
    fit = stats.fit_linear([1, 2, 3, 5], {"t": list("aabb")})

    with pytest.raises(DesignRefusedError, match="a, b"):
        stats.dunnett(stats.lsmeans(fit, "t"), "untreated")


@pytest.mark.parametrize("n", [3, 4, 5, 6, 11, 12, 40, 300])
def test_shapiro_wilk_agrees_with_scipy(n):
    x = np.random.default_rng(n).exponential(size=n)
    reference = shapiro(x)

    ours = stats.shapiro_wilk(x)

    assert ours.statistic == pytest.approx(reference.statistic, abs=1e-7)
    assert ours.p == pytest.approx(reference.pvalue, abs=1e-6)


def test_fieller_gives_no_interval_when_the_control_may_be_zero():
    fit = stats.fit_linear([-3, 4, 1, 9, 12, 10], {"t": list("cccxxx")})

    e = stats.percent_of_control(stats.lsmeans(fit, "t"), "c", "fieller").comparisons[0]

    assert e.lower is None
    assert "g >= 1" in e.reason


def test_delta_gives_a_reason_when_a_mean_is_not_positive():
    fit = stats.fit_linear([-3, 1, -2, 9, 12, 10], {"t": list("cccxxx")})

    e = stats.percent_of_control(stats.lsmeans(fit, "t"), "c").comparisons[0]

    assert e.value is None
    assert "positive" in e.reason


def four(control, a, b, ab, noise=0.5):
    y = [m + d for m in (control, a, b, ab) for d in (-noise, 0, noise)]
    return stats.lsmeans(stats.fit_linear(y, {"t": [c for c in "0123" for _ in range(3)]}), "t")


def test_synergy_is_said_only_when_both_scales_agree_in_the_wanted_direction():
    # 100, 80, 70: expected 50 (absolute) or 56 (multiplicative); 20 lies below both
    r = stats.interaction(four(100, 80, 70, 20), "0", "1", "2", "3", "multiplicative", "decrease")

    assert r.verdict == "less_than_expected"
    assert r.may_say == "synergistic"


def test_scales_that_disagree_forbid_the_word():
    # 53 is above 50 and below 56
    r = stats.interaction(
        four(100, 80, 70, 53, 0.3), "0", "1", "2", "3", "multiplicative", "decrease"
    )

    assert r.verdict == "less_than_expected"
    assert r.other_scale.lower > 0
    assert r.may_say is None


def test_unwanted_direction_is_antagonism():
    r = stats.interaction(four(100, 80, 70, 78), "0", "1", "2", "3", "absolute", "decrease")

    assert r.may_say == "antagonistic"


def test_opposite_partners_get_words_and_no_label():
    r = stats.interaction(four(100, 60, 130, 120), "0", "1", "2", "3", "absolute", "decrease")

    assert r.may_say is None
    assert "opposite directions" in r.words
    assert "did not simply undo" in r.words


def test_expectation_not_excluded_is_not_called_the_same():
    r = stats.interaction(
        four(100, 80, 70, 56, 9), "0", "1", "2", "3", "multiplicative", "decrease"
    )

    assert r.verdict == "not_excluded"
    assert "not proof" in r.words


def test_linear_trend_at_real_spacing_is_the_slope():
    rates = {"0": 0.0, "5": 5.0, "20": 20.0, "50": 50.0}
    y = [30 - 0.2 * rates[k] + d for k in rates for d in (-1, 1)]
    fit = stats.fit_linear(y, {"t": [k for k in rates for _ in "ab"]})

    result, lack = stats.trend(stats.lsmeans(fit, "t"), rates, degree=1)

    assert result.comparisons[0].value == pytest.approx(-0.2, abs=1e-12)
    assert lack.statistic == pytest.approx(0, abs=1e-12)


def test_rate_for_a_wanted_response_lies_on_the_curve():
    x = np.repeat([0, 1, 3, 10, 30, 100], 3)
    y = 4 + 16 / (1 + (x / 8) ** 1.5) + np.tile([-0.1, 0, 0.1], 6)

    r = stats.dose_response(x, y, wanted=[12.0, 2.0])

    # half way between 20 and 4 is reached at e = 8
    assert r.effective_doses[-2].value == pytest.approx(8, rel=0.02)
    assert r.effective_doses[-1].value is None
    assert "never reaches" in r.effective_doses[-1].reason


def test_dose_curve_beside_blocks_matches_r_nls():
    # R 4.2.2, nls(y ~ c + (d - c) / (1 + (x / e)^b) + B[, 1] * p + B[, 2] * q, algorithm = "port"),
    # B = contr.sum(3) of the block; lack of fit by anova against lm(y ~ factor(x) + block). The
    # plot of rate 1 in block 2 is missing.
    x = [0, 0, 0, 1, 1, 3, 3, 3, 10, 10, 10, 30, 30, 30]
    y = [8.1, 7.2, 8.9, 7.6, 8.1, 4.1, 3.2, 4.9, 1.2, 0.6, 1.9, 0.5, -0.2, 1.5]

    r = stats.dose_response(x, y, beside={"block": list("12313123123123")})

    assert [p.value for p in r.parameters] == pytest.approx(
        [2.0985189, 0.6339575, 8.1109631, 2.8105058], rel=1e-6
    )
    assert [p.se for p in r.parameters] == pytest.approx(
        [0.15940084, 0.09592297, 0.09195879, 0.08432590], rel=1e-6
    )
    assert (r.rss, r.df_error) == (pytest.approx(0.216259543657, rel=1e-9), 8)
    assert r.lack_of_fit.statistic == pytest.approx(5.55411, rel=1e-6)
    assert r.lack_of_fit.p == pytest.approx(0.050585, rel=1e-5)


def test_too_few_rates_point_to_trends():
    with pytest.raises(DesignRefusedError, match="trend"):
        stats.dose_response([0, 0, 5, 5], [10, 11, 6, 5])


def test_formulation_contrasts_need_both_partner_levels():
    with pytest.raises(DesignRefusedError, match="blank"):
        stats.formulation(four(1, 2, 3, 4), "1", "0", partner_with_product="3")


def test_looks_do_not_move_the_restricted_mean_of_a_plot():
    # true days 10, 16, 22, one closed at 28; looked at weekly and every second day
    weekly = stats.between_looks([7, 14, 21, 28], [14, 21, 28, None], 28)[0].value
    often = stats.between_looks([10, 16, 22, 28], [12, 18, 24, None], 28)[0].value

    # midpoints 10.5, 17.5, 24.5, 28 and 11, 17, 23, 28
    assert weekly == pytest.approx((10.5 + 17.5 + 24.5 + 28) / 4, abs=1e-9)
    assert often == pytest.approx((11 + 17 + 23 + 28) / 4, abs=1e-9)


def test_a_horizon_beyond_the_last_look_is_refused():
    with pytest.raises(DegenerateResponseError, match="horizon up to"):
        stats.between_looks([7, 14], [14, None], 28)
    with pytest.raises(DegenerateResponseError, match="horizon up to"):
        stats.restricted_mean_days([10, 20], [True, False], 30)


def test_sphericity_of_two_times_needs_no_correction():
    y = [[10, 12], [9, 12], [11, 14], [10, 11], [12, 12.5], [9, 10]]

    r = stats.split_plot_in_time(y, {"treatment": list("aaabbb")})

    assert r.epsilon_gg == pytest.approx(1.0)
    assert r.mauchly.reason


def test_plot_with_a_missing_time_is_left_out_and_counted():
    y = [
        [10, 12, 15],
        [9, 12, 14],
        [11, 14, 15],
        [10, 11, 12],
        [12, 12, 14],
        [9, None, 10.5],
        [8, 9, 9.5],
    ]

    r = stats.split_plot_in_time(y, {"treatment": list("aaabbbb")})

    assert r.about.n == 6
    assert "1 plots" in r.about.notes[0]


def test_slope_over_the_bench_that_blocks_explain_is_not_tested():
    fit = stats.fit_linear(
        [3, 4, 6, 7, 9, 11.0], {"block": list("112233"), "treatment": list("ababab")}
    )

    check = stats.spatial_trend(fit, [1, 1, 2, 2, 3, 3], [1] * 6)

    assert check.p is None
    assert "explains this already" in check.reason


def test_outlier_is_named_for_a_second_look():
    rng = np.random.default_rng(9)
    y = rng.normal(10, 1, 24)
    y[7] = 25.0

    fit = stats.fit_linear(y, {"treatment": list("abcd") * 6})
    suspects = stats.trust(fit).suspects

    assert [s.position for s in suspects] == [7]
    assert "sheet" in suspects[0].message


def test_friedman_refuses_a_single_complete_block():
    with pytest.raises(DesignRefusedError, match="complete blocks"):
        stats.friedman([1, 2, 3, 1, None, 2], list("abcabc"), list("111222"))


def test_ordinal_model_says_when_a_level_is_separated():
    with pytest.raises(DegenerateResponseError, match="extreme rating"):
        stats.fit_ordinal([1, 1, 1, 2, 3, 2], {"t": list("aaabbb")})


def test_colby_does_not_clip_stimulation():
    assert stats.colby_expected_pct([-10, 50]) == pytest.approx(45)


def test_log_analysis_refuses_a_zero():
    with pytest.raises(DegenerateResponseError, match="above zero"):
        stats.fit_linear([0, 1, 2, 3], {"t": list("aabb")}, transform="ln")


def test_exponentiated_refuses_what_is_a_ratio_already():
    m = four(100, 80, 70, 50)

    with pytest.raises(StatsError, match="ratio already"):
        stats.exponentiated(stats.percent_of_control(m, "0"))


@pytest.mark.parametrize("method", ["holm", "hochberg", "bh", "bonferroni", "sidak"])
def test_adjustment_keeps_order_and_never_lowers(method):
    p = [0.001, 0.04, 0.03, 0.2, 0.9]

    q = stats.adjust_p(p, method)

    assert all(b >= a for a, b in zip(p, q, strict=True))
    assert list(np.argsort(p)) == list(np.argsort(q, kind="stable")) or not math.isclose(q[0], q[1])
