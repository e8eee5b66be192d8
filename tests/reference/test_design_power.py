"""Power and sample size against R and published tables (R 4.2.2, mvtnorm 1.1-3, pwr 1.3-0)."""

import math

import numpy as np
import pytest

from tepal.designs import noncentral, sizes
from tepal.designs.sizes import SizeQuestion

# Exact two-sided values, equal replication (rho 0.5): k, df, alpha 0.05, alpha 0.01; quadrature in
# R. They agree with Dunnett 1964, Biometrics 20:482-491 (k = 3, 10 df: 2.76).
DUNNETT_TWO_SIDED = [
    (1, 5, 2.57058183564, 4.03214298332),
    (2, 5, 3.03023594658, 4.62746226808),
    (3, 5, 3.29315465084, 4.97469502919),
    (5, 5, 3.61511723089, 5.40555905771),
    (9, 5, 3.97014834574, 5.88687024205),
    (1, 10, 2.22813885205, 3.16927267262),
    (3, 10, 2.75899697837, 3.73867844195),
    (9, 10, 3.24415727058, 4.2793182961),
    (2, 12, 2.50236675985, 3.38744732823),
    (5, 12, 2.90125503123, 3.81057915942),
    (3, 20, 2.54034960999, 3.28540775678),
    (9, 24, 2.90041014785, 3.60751283751),
    (5, 60, 2.58249563447, 3.19048875105),
    (9, 60, 2.76893604188, 3.36629484162),
]


@pytest.mark.parametrize(("k", "df", "five", "one"), DUNNETT_TWO_SIDED)
def test_dunnett_critical_matches_r_quadrature(k, df, five, one):
    # the engine's quadrature is good to 5e-9 at 5 df and to 1e-10 from 10 df up
    assert noncentral.dunnett_critical(0.05, k, 6, 6, df) == pytest.approx(five, rel=1e-8)
    assert noncentral.dunnett_critical(0.01, k, 6, 6, df) == pytest.approx(one, rel=1e-8)


# qtukey(.95, t, df) / sqrt(2) in R; its own accuracy is about 1e-7
@pytest.mark.parametrize(
    ("t", "df", "critical"),
    [(4, 12, 2.968901121), (4, 15, 2.882148659), (8, 72, 3.121808683)],
)
def test_pairs_critical_matches_r_qtukey(t, df, critical):
    assert noncentral.pairs_critical(0.05, t, df) == pytest.approx(critical, rel=1e-6)


def test_dunnett_power_matches_mvtnorm_equal_replication():
    # qmvt / pmvt (type Kshirsagar): n = 8, shifts 0, 0.5, 1.2 SD, 28 df; qmvt is random to 1e-4
    critical = noncentral.dunnett_critical(0.05, 3, 8, 8, 28)

    assert critical == pytest.approx(2.48301646283, abs=1e-4)
    any_pair = sizes.any_difference_power([0, 0.5, 1.2], [8, 8, 8], 8, 28, critical)
    assert any_pair == pytest.approx(0.497298913741, abs=5e-4)
    for shift, power in [(0, 0.0192873388815), (0.5, 0.0830806288566), (1.2, 0.477205110078)]:
        noncentrality = shift / math.sqrt(1 / 8 + 1 / 8)
        assert noncentral.t_beyond(critical, noncentrality, 28) == pytest.approx(power, abs=5e-4)


def test_dunnett_power_matches_mvtnorm_extra_control_plots():
    # control n = 12, treatments n = 7, shifts 1.2 SD, 29 df
    critical = noncentral.dunnett_critical(0.05, 3, 7, 12, 29)

    assert critical == pytest.approx(2.50179605238, abs=2e-4)
    any_pair = sizes.any_difference_power([1.2] * 3, [7] * 3, 12, 29, critical)
    assert any_pair == pytest.approx(0.783462069301, abs=5e-4)
    single = noncentral.t_beyond(critical, 1.2 / math.sqrt(1 / 7 + 1 / 12), 29)
    assert single == pytest.approx(0.516504063816, abs=5e-4)


# pf(qf(), ncp = r sum(tau^2) / sigma^2) in R; means 100, 100, 100, 105, 110, 120, sigma 10
@pytest.mark.parametrize(
    ("kind", "powers"),
    [
        (
            "randomised_complete_block",
            [
                0.200174597039,
                0.42159663354,
                0.626210934007,
                0.778979262692,
                0.878372528596,
                0.936927385342,
                0.968887889725,
            ],
        ),
        (
            "completely_randomised",
            [
                0.222914177831,
                0.453384453253,
                0.654480829531,
                0.799274510643,
                0.891116696978,
                0.944204116653,
                0.972751909809,
            ],
        ),
    ],
)
def test_overall_power_matches_r_noncentral_f(kind, powers):
    means = [100, 100, 100, 105, 110, 120]
    for r, power in enumerate(powers, start=2):
        assert sizes.overall_power(means, 10, r, kind) == pytest.approx(power, rel=1e-6)


# R documentation of power.anova.test(groups = 4, between.var = 1, within.var = 3, n = 5): 0.3535594.
# pwr documentation (Cohen 1988, exercise 8.1): f = 0.28, k = 4, n = 20: 0.515.
# Cohen 1992, Psychol. Bull. 112:155-159, Table 2 (from memory) n per group for 0.80; the powers at
# these n were computed with pwr 1.3-0.
@pytest.mark.parametrize(
    ("f", "k", "n", "power"),
    [
        (math.sqrt(1 * 3 / 4 / 3), 4, 5, 0.353559423815),
        (0.28, 4, 20, 0.514979292197),
        (0.1, 3, 322, 0.799794431088),
        (0.25, 3, 52, 0.79673286172),
        (0.4, 3, 21, 0.797817714219),
        (0.1, 4, 274, 0.800732405881),
        (0.25, 4, 45, 0.803986913098),
        (0.4, 4, 18, 0.798902219952),
        (0.1, 5, 240, 0.800646401212),
        (0.25, 5, 39, 0.798187202329),
        (0.4, 5, 16, 0.803084508495),
    ],
)
def test_one_way_power_matches_published_tables(f, k, n, power):
    # Cohen's f = sqrt(mean squared deviation of the means) / sigma: put all of it on two means
    d = f * math.sqrt(k / 2)
    means = [d, -d] + [0] * (k - 2)

    found = sizes.overall_power(means, 1, n, "completely_randomised")

    assert found == pytest.approx(power, rel=1e-5)


# s2_plot / r + s2_plant / (r s) with the components 28.186 and 83.97 of a published subsampling
# trial (Grover data in R's agridat); closed form, by hand: 28.186/4 + 83.97/16 = 12.294625
@pytest.mark.parametrize(
    ("plots", "plants", "variance"),
    [(4, 1, 28.039), (4, 4, 12.294625), (4, 16, 8.35853125), (8, 2, 8.771375), (16, 1, 7.00975)],
)
def test_mean_variance_matches_closed_form(plots, plants, variance):
    assert sizes.mean_variance(28.186, 83.97, plots, plants) == pytest.approx(variance, rel=1e-9)


# Power just below and just at 0.80. R: critical value by nested integrate() of base R over the
# common mean and the error's SD (rel.tol 1e-10, uniroot; gives 2.9004101479 for k = 9, 24 df, as in
# the table above), qtukey for pairs; then noncentral pt for one comparison:
#   inner <- function(cs) integrate(function(z) dnorm(z) * (pnorm(sqrt(r) * (z / sqrt(n0) + cs * w))
#            - pnorm(sqrt(r) * (z / sqrt(n0) - cs * w)))^k, -9, 9, rel.tol = 1e-11)$value
#   outer <- function(cr) integrate(function(s) sapply(s, function(x) inner(cr * x)) * 2 * s * df *
#            dchisq(s^2 * df, df), 0, 4, rel.tol = 1e-10, subdivisions = 1000)$value
@pytest.mark.parametrize(
    ("question", "needed", "power", "power_before"),
    [
        (SizeQuestion("control", 6, 15, 9), 9, 0.8146919192, 0.7530834315),
        (
            SizeQuestion("control", 4, 20, 12, kind="completely_randomised"),
            9,
            0.8510971944,
            0.7963254065,
        ),
        (
            SizeQuestion("control", 4, 20, 12, kind="completely_randomised", control_multiple=2),
            7,
            0.8578270764,
            0.7847553283,
        ),
        (SizeQuestion("pairs", 4, 20, 9), 6, 0.815941228, 0.699576841),
    ],
)
def test_replicates_needed_match_r(question, needed, power, power_before):
    assert sizes.replicates_needed(question) == needed
    assert sizes.power_at(question, needed) == pytest.approx(power, abs=1e-7)
    assert sizes.power_at(question, needed - 1) == pytest.approx(power_before, abs=1e-7)


# R: 1 - pf(qf(.95, t-1, df), t-1, df, ncp = n * 1.5^2 / 2)
@pytest.mark.parametrize(
    ("question", "replicates", "power"),
    [
        (SizeQuestion("overall", 5, 15, 10, kind="latin_square"), 1, 0.311707987),
        (SizeQuestion("overall", 4, 15, 10, kind="latin_square"), 1, 0.230973921),
        (SizeQuestion("overall", 4, 15, 10, kind="latin_square"), 2, 0.586203838),
    ],
)
def test_latin_square_power_matches_r(question, replicates, power):
    # error df by hand: (5-1)(5-2) = 12; (4-1)(4-2) = 6; two squares: 31 - 1 - 12 - 3 = 15
    assert sizes.power_at(question, replicates) == pytest.approx(power, abs=1e-8)


def test_dunnett_of_one_treatment_is_the_t_test():
    # R: qt(.975, 10) = 2.228138852
    assert noncentral.dunnett_critical(0.05, 1, 6, 6, 10) == pytest.approx(2.228138852, abs=1e-8)


def test_simulated_trials_find_as_often_as_power_says():
    """Whole trials in blocks, drawn and tested without the quadrature."""
    question = SizeQuestion("control", 4, 25, 10, plant_cv_pct=12, plants_per_plot=4)
    rng, n, r, found = np.random.default_rng(20260115), 4000, 5, 0
    critical = 2.68287006283  # R, k = 3, 12 df
    true = np.array([100, 100, 125, 90])[:, None]
    for _ in range(n):
        plants = 100 * 0.12 * rng.standard_normal((4, r, 4))
        plots = true + 10 * rng.standard_normal((4, r)) + plants.mean(axis=2)
        plots += 30 * rng.standard_normal(r)
        left = plots - plots.mean(0) - plots.mean(1)[:, None] + plots.mean()
        sed = math.sqrt(2 * (left**2).sum() / 12 / r)
        found += abs(plots[2].mean() - plots[0].mean()) / sed > critical

    power = sizes.power_at(question, r)

    # 3 standard errors of a share in 4,000 trials
    assert abs(found / n - power) < 3 * math.sqrt(power * (1 - power) / n)
