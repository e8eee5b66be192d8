"""Models against other libraries and against what invariance demands."""

from __future__ import annotations

import math
import warnings

import numpy as np
import pytest
import statsmodels.api as sm
from hypothesis import given, settings
from hypothesis import strategies as st

from tepal import stats
from tepal.stats import DegenerateResponseError, DesignRefusedError, NotConvergedError

BLOCKS = [str(b) for b in range(4) for _ in range(3)]
TREATMENTS = list("abc") * 4


def sample(seed, offset=0.0, scale=1.0):
    rng = np.random.default_rng(seed)
    return offset + scale * (
        10 + rng.normal(size=12) + np.array([0, 1, 2] * 4) + np.repeat([0.0, 1, 2, 3], 3)
    )


@given(st.integers(0, 10_000), st.floats(-1e6, 1e6), st.floats(0.01, 1e4))
@settings(max_examples=30, deadline=None)
def test_f_does_not_change_with_unit_or_origin(seed, offset, scale):
    f = {"block": BLOCKS, "treatment": TREATMENTS}

    plain = stats.fit_linear(sample(seed), f).term("treatment")
    moved = stats.fit_linear(sample(seed, offset, scale), f).term("treatment")

    assert moved.f == pytest.approx(plain.f, rel=1e-6)


@given(st.permutations(range(12)), st.integers(0, 1000))
@settings(max_examples=30, deadline=None)
def test_means_do_not_change_with_the_order_of_rows(order, seed):
    y = sample(seed)
    f = {"block": BLOCKS, "treatment": TREATMENTS}
    g = {k: [v[i] for i in order] for k, v in f.items()}

    a = stats.lsmeans(stats.fit_linear(y, f), "treatment")
    b = stats.lsmeans(stats.fit_linear([y[i] for i in order], g), "treatment")

    assert [m.value for m in b.means] == pytest.approx([m.value for m in a.means], rel=1e-10)


def test_type_three_sums_agree_with_statsmodels_sum_coding():
    import pandas as pd
    from statsmodels.formula.api import ols

    y = sample(3)
    y[4] = np.nan
    frame = pd.DataFrame({"y": y, "b": BLOCKS, "t": TREATMENTS}).dropna()
    reference = sm.stats.anova_lm(ols("y ~ C(b, Sum) + C(t, Sum)", frame).fit(), typ=3)

    fit = stats.fit_linear(y, {"b": BLOCKS, "t": TREATMENTS}, ss_type=3)

    assert fit.term("t").f == pytest.approx(reference.loc["C(t, Sum)", "F"], rel=1e-9)
    assert fit.term("b").ss == pytest.approx(reference.loc["C(b, Sum)", "sum_sq"], rel=1e-9)


def test_count_model_with_offset_agrees_with_statsmodels():
    rng = np.random.default_rng(5)
    plants = rng.integers(3, 9, 12)
    y = rng.poisson(2.0 * plants)
    X = np.column_stack([np.ones(12)] + [[float(t == k) for t in TREATMENTS] for k in "bc"])
    reference = sm.GLM(y, X, family=sm.families.Poisson(), offset=np.log(plants)).fit(scale="X2")

    fit = stats.fit_count(y, {"treatment": TREATMENTS}, n_plants=plants)
    means = stats.lsmeans(fit, "treatment")

    assert fit.deviance == pytest.approx(reference.deviance, rel=1e-10)
    assert fit.dispersion == pytest.approx(reference.scale, rel=1e-8)
    assert means.means[0].value == pytest.approx(reference.params[0], rel=1e-8)
    difference = stats.contrasts(means, {"b": {"b": 1, "a": -1}}).comparisons[0]
    assert difference.se == pytest.approx(reference.bse[1], rel=1e-6)


def test_covariate_adjusted_means_follow_the_common_slope():
    # y = 2 x + treatment (0, 10), no error but one plot: means at x = 5 are 10 and 20 within it
    x = [1, 2, 3, 4, 5, 6, 7, 8]
    t = list("aabbaabb")
    y = [2 * v + (10 if k == "b" else 0) for v, k in zip(x, t, strict=True)]
    y[0] += 1e-3

    fit = stats.fit_linear(y, {"t": t}, {"x": x})
    means = stats.lsmeans(fit, "t", at={"x": 5.0})

    assert [m.value for m in means.means] == pytest.approx([10, 20], abs=2e-3)


def test_missing_covariate_drops_its_plot():
    fit = stats.fit_linear(sample(1), {"t": TREATMENTS}, {"x": [None, *range(11)]})

    assert fit.summary().n_missing == 1


@pytest.mark.parametrize(
    ("factors", "terms", "code"),
    [
        ({"t": ["a"] * 4}, None, "stats.one_level"),
        ({"t": list("abcd")}, None, "stats.no_error_df"),
        ({"b": list("1122"), "t": list("aabb")}, None, "stats.confounded"),
        ({"a": list("0011"), "b": list("0000")}, None, "stats.one_level"),
        ({"a": list("0011"), "b": list("0101")}, ("a", "c"), "stats.unknown_term"),
    ],
)
def test_impossible_designs_are_refused_with_the_reason(factors, terms, code):
    with pytest.raises(DesignRefusedError) as caught:
        stats.fit_linear([1.0, 2.0, 4.0, 7.0], factors, terms=terms)

    assert caught.value.code == code
    assert len(caught.value.message) > 30


def test_empty_cell_is_named():
    a, b = list("00001111"), list("00110000")

    with pytest.raises(DesignRefusedError, match="A = 1, B = 1"):
        stats.fit_linear(range(8), {"A": a, "B": b}, terms=("A", "B", "A:B"))


def test_confounded_interaction_names_the_block():
    a, b = list("0011" * 4), list("0101" * 4)
    block = ["1" if x == y else "2" for x, y in zip(a, b, strict=True)]

    with pytest.raises(DesignRefusedError, match="a:b is confounded with block"):
        stats.fit_linear(
            np.arange(16) ** 1.5, {"block": block, "a": a, "b": b}, terms=("block", "a", "b", "a:b")
        )


@pytest.mark.parametrize(
    ("y", "code"),
    [
        ([5.0] * 12, "stats.no_variation"),
        ([None] * 12, "stats.no_data"),
        ([1.0, 2.0, 3.0] * 4, "stats.no_error_variation"),
        ([math.inf, *range(11)], "stats.not_finite"),
    ],
)
def test_responses_without_information_are_refused(y, code):
    with pytest.raises(DegenerateResponseError) as caught:
        stats.fit_linear(y, {"treatment": TREATMENTS})

    assert caught.value.code == code


def test_all_zero_counts_are_refused():
    with pytest.raises(DegenerateResponseError, match="zero in every plot"):
        stats.fit_count([0] * 12, {"treatment": TREATMENTS})


@pytest.mark.parametrize("bad", [-1, 2.5])
def test_what_is_not_a_count_is_refused(bad):
    with pytest.raises(DegenerateResponseError, match=r"count|whole"):
        stats.fit_count([bad, *range(11)], {"treatment": TREATMENTS})


def test_treatment_of_zeros_keeps_a_deviance_test_and_one_limit():
    y = [4, 6, 0, 5, 3, 0, 7, 5, 0, 2, 6, 0]

    fit = stats.fit_count(y, {"treatment": TREATMENTS})
    limit = stats.profile_interval(fit, "treatment", "c", "a")

    assert fit.zero_levels == (("treatment", "c", 0.0),)
    assert limit.value is None
    assert limit.reason
    assert limit.lower is None
    assert limit.upper < 0
    assert limit.p < 0.01
    assert fit.term("treatment").p < 0.01


def test_profile_interval_agrees_with_wald_where_counts_are_large():
    rng = np.random.default_rng(2)
    y = rng.poisson([4000, 4200, 4400] * 4)

    fit = stats.fit_count(y, {"treatment": TREATMENTS})
    profile = stats.profile_interval(fit, "treatment", "b", "a")
    wald = stats.contrasts(stats.lsmeans(fit, "treatment"), {"b": {"b": 1, "a": -1}}).comparisons[0]

    # F(1, df) = t(df)^2: for large counts the deviance is quadratic
    assert profile.lower == pytest.approx(wald.lower, abs=1e-4)
    assert profile.upper == pytest.approx(wald.upper, abs=1e-4)


def test_separation_in_cells_says_so():
    y = [3, 5, 0, 0, 4, 2, 6, 5]
    a, b = list("00001111"), list("00110011")

    with pytest.raises((NotConvergedError, DegenerateResponseError), match="zero"):
        stats.fit_count(y, {"a": a, "b": b}, terms=("a", "b", "a:b"))


def test_only_one_level_off_the_edge_is_separation():
    with pytest.raises(DegenerateResponseError, match="edge"):
        stats.fit_proportion([0, 0, 0, 5, 4, 6], [9] * 6, {"t": list("aaabbb")})


def test_mixed_model_with_equal_plants_is_the_analysis_of_plot_means():
    rng = np.random.default_rng(8)
    plots = [f"p{i}" for i in range(12) for _ in range(3)]
    t = [x for x in TREATMENTS for _ in range(3)]
    b = [x for x in BLOCKS for _ in range(3)]
    y = np.repeat(rng.normal(size=12) * 2 + np.array([0, 1, 3] * 4), 3) + rng.normal(size=36)

    mixed = stats.fit_mixed(y, {"b": b, "t": t, "plot": plots}, ["plot"])
    p = stats.plot_values(y, plots, {"b": b, "t": t})
    means = stats.fit_linear(p.mean, p.factors)

    assert mixed.term("t").f == pytest.approx(means.term("t").f, rel=1e-6)
    assert mixed.term("t").df_error == pytest.approx(6, rel=1e-6)


def test_split_plot_with_missing_sub_plots_agrees_with_statsmodels():
    rng = np.random.default_rng(21)
    block = [str(b) for b in range(6) for _ in range(6)]
    whole = [w for _ in range(6) for w in "ab" for _ in range(3)]
    sub = list("xyz") * 12
    unit = [f"{b}{w}" for b, w in zip(block, whole, strict=True)]
    index = {u: i for i, u in enumerate(dict.fromkeys(unit))}
    shift = rng.normal(0, 2, 12)
    y = np.array([shift[index[u]] for u in unit]) + rng.normal(size=36)
    y[[3, 10, 25, 26]] = np.nan
    kept = ~np.isnan(y)
    codes = np.column_stack(
        [np.ones(36)]
        + [[float(b == k) for b in block] for k in "12345"]
        + [[float(w == "b") for w in whole]]
        + [[float(s == k) for s in sub] for k in "yz"]
    )[kept]
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        reference = sm.MixedLM(y[kept], codes, groups=np.array(unit)[kept]).fit(
            reml=True, method="powell"
        )

    fit = stats.fit_mixed(
        y,
        {"block": block, "whole": whole, "sub": sub, "unit": unit},
        ["unit"],
        terms=("block", "whole", "sub"),
    )

    # statsmodels' optimiser stops at about 1e-4
    assert fit.variances[0] == pytest.approx(float(reference.cov_re[0, 0]), rel=2e-3)
    assert fit.variances[1] == pytest.approx(float(reference.scale), rel=2e-3)
    assert fit.compare("whole", "b", "a").se == pytest.approx(float(reference.bse[6]), rel=2e-3)


def test_variance_of_plots_at_zero_is_said():
    y = [10, 12, 11, 13, 10, 12, 12, 10, 13, 11, 11, 12]
    plots = [f"p{i}" for i in range(6) for _ in "ab"]

    s = stats.fit_mixed(y, {"t": list("aaaaaabbbbbb"), "plot": plots}, ["plot"]).summary()

    assert s.components[0].value == 0
    assert "zero" in s.components[0].reason
    assert s.terms[0].df_error == pytest.approx(10)


def test_nothing_warns():
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        fit = stats.fit_linear(sample(4), {"block": BLOCKS, "treatment": TREATMENTS})
        stats.trust(fit)
        stats.letters(stats.tukey(stats.lsmeans(fit, "treatment")))
