"""The many-to-one integral: exact form, series, random fallback, guards."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.stats import multivariate_t, nct

from tepal.stats import mvt
from tepal.stats.ranges import studentized_range_quantile, studentized_range_upper


def equicorrelated(k, rho=0.5):
    R = np.full((k, k), rho)
    np.fill_diagonal(R, 1.0)
    return R


def perturbed(k, size, seed):
    """Return correlations of product form plus departures up to `size`, positive definite."""
    rng = np.random.default_rng(seed)
    loading = rng.uniform(0.5, 0.8, k)
    rest = rng.uniform(-size, size, (k, k))
    rest = (rest + rest.T) / 2
    R = np.outer(loading, loading) + rest * np.outer(
        np.sqrt(1 - loading**2), np.sqrt(1 - loading**2)
    )
    np.fill_diagonal(R, 1.0)
    return R


def test_one_comparison_is_a_t_test():
    # two-sided 5 % point of t with 10 df, any table: 2.228139
    assert mvt.critical_value([[1.0]], 10) == pytest.approx(2.2281388520, abs=1e-9)


def test_independent_normals_multiply():
    # P(|Z| < 1.96)^3 = 0.95000421^3
    p = mvt.rectangle([-1.96] * 3, [1.96] * 3, np.eye(3), math.inf)

    assert p == pytest.approx(0.9500042097**3, abs=1e-9)


def test_perfectly_correlated_comparisons_need_no_adjustment():
    R = equicorrelated(3, 1 - 1e-9)

    assert mvt.adjusted_p([2.2281388520] * 3, R, 10)[0] == pytest.approx(0.05, abs=2e-4)


@pytest.mark.full  # 400,000 random points each
@pytest.mark.parametrize("rho", [0.05, 0.5, 0.8, 0.97])
@pytest.mark.parametrize("df", [1.0, 3.0, 6.0, 25.0, 200.0])
def test_product_form_agrees_with_scipy(rho, df):
    R = equicorrelated(4, rho)
    c = 2.3
    reference = multivariate_t.cdf(
        [c] * 4, shape=R, df=df, lower_limit=[-c] * 4, maxpts=400_000, random_state=1
    )

    ours = mvt.rectangle([-c] * 4, [c] * 4, R, df)

    # the reference itself is random: 400,000 points leave about 1e-5
    assert ours == pytest.approx(reference, abs=5e-5)


def test_series_corrects_what_the_product_form_misses():
    R = perturbed(5, 0.19, 11)
    c = 2.4
    reference = multivariate_t.cdf(
        [c] * 5, shape=R, df=20, lower_limit=[-c] * 5, maxpts=300_000, random_state=5
    )
    parts = mvt.factor(R)
    plain = np.outer(parts.loading, parts.loading)
    np.fill_diagonal(plain, 1.0)

    ours = mvt.rectangle([-c] * 5, [c] * 5, R, 20)

    assert abs(mvt.rectangle([-c] * 5, [c] * 5, plain, 20) - reference) > 1e-4
    assert ours == pytest.approx(reference, abs=5e-5)


def test_series_serves_one_sided_questions_too():
    R = perturbed(5, 0.15, 4)
    reference = multivariate_t.cdf([2.0] * 5, shape=R, df=15, maxpts=300_000, random_state=3)

    ours = mvt.rectangle([-np.inf] * 5, [2.0] * 5, R, 15)

    assert mvt.factor(R).route == "series"
    assert ours == pytest.approx(reference, abs=1e-4)


@pytest.mark.slow
@pytest.mark.parametrize("seed", [1, 2, 3])
@pytest.mark.parametrize("size", [0.05, 0.1, 0.19])
def test_series_agrees_with_scipy_up_to_its_limit(size, seed):
    R = perturbed(7, size, seed)
    assert mvt.factor(R).route == "series"
    c = 2.7
    reference = multivariate_t.cdf(
        [c] * 7, shape=R, df=20, lower_limit=[-c] * 7, maxpts=2_000_000, random_state=seed
    )

    ours = mvt.rectangle([-c] * 7, [c] * 7, R, 20)

    assert ours == pytest.approx(reference, abs=1e-4)


def test_far_from_product_form_falls_back_on_the_random_integral_with_a_seed():
    R = np.array([[1.0, 0.9, 0.0, 0.0], [0.9, 1.0, 0.0, 0.0], [0.0, 0.0, 1.0, 0.9], [0, 0, 0.9, 1]])

    first, again = (mvt.adjusted_p([2.5] * 4, R, 12, seed=7) for _ in range(2))

    assert mvt.factor(R).route == "quasi-monte-carlo"
    assert first == again
    # between the Bonferroni bound of 4 tests and one test alone, P(|t12| > 2.5) = 0.0279
    assert 0.0279 < first[0] < 4 * 0.0279


def test_one_sided_values_mirror_each_other():
    R = equicorrelated(3)

    up = mvt.adjusted_p([1.0, 2.0, -0.5], R, 15, "greater")
    down = mvt.adjusted_p([-1.0, -2.0, 0.5], R, 15, "less")

    assert up == pytest.approx(down, abs=1e-12)


def test_negative_product_correlations_are_integrated_exactly():
    R = np.array([[1.0, -0.4], [-0.4, 1.0]])

    positive = mvt.rectangle([-2, -2], [2, 2], np.abs(R), 9)

    # flipping the sign of one variable turns the sign of the correlation, not the rectangle
    assert mvt.rectangle([-2, -2], [2, 2], R, 9) == pytest.approx(positive, abs=1e-12)


def test_shifted_integral_of_one_comparison_is_the_noncentral_t():
    p = mvt.rectangle([-2.1], [2.1], [[1.0]], 18, shift=[1.5])

    assert p == pytest.approx(nct.cdf(2.1, 18, 1.5) - nct.cdf(-2.1, 18, 1.5), abs=1e-9)


def test_shift_without_a_deterministic_route_is_refused():
    R = np.kron(np.eye(2), np.array([[1.0, 0.9], [0.9, 1.0]]))

    with pytest.raises(ValueError, match="simulation"):
        mvt.rectangle([-2] * 4, [2] * 4, R, 12, shift=[1.0] * 4)


def test_range_of_two_means_is_a_t_test():
    # q = t sqrt(2); t10 at 5 % two-sided is 2.228139
    assert studentized_range_upper(2.2281388520 * math.sqrt(2), 2, 10) == pytest.approx(
        0.05, abs=1e-9
    )


def test_range_quantile_inverts_the_tail():
    q = studentized_range_quantile(0.99, 7, 33)

    assert studentized_range_upper(q, 7, 33) == pytest.approx(0.01, abs=1e-10)
