"""The simulator: the same seed gives the same trial, and the truth is what comes out on average."""

from __future__ import annotations

import statistics

import pytest

from tepal.designs.layouts import Layout, lay_out
from tepal.designs.simulator import TrueFlowering, TrueMeasurement, simulate
from tepal.designs.specs import DesignSpec, Treatment

HEIGHT = TrueMeasurement(
    "height", "continuous", ((14, 20.0), (28, 30.0)), ((2, ((14, -2.0), (28, -6.0))),),
    block_sd=1.0, plot_sd=0.6, plant_sd=0.8, look_sd=0.2,
)  # fmt: skip
BRANCHES = TrueMeasurement(
    "branches", "count", ((28, 4.0),), ((2, ((28, 1.5),)),), block_sd=0.1, plot_sd=0.1
)
FLOWERS = TrueFlowering("flower", 30.0, ((2, 4.0),), 0.5, 0.5, 1.5, tuple(range(20, 37)))


def layout(n_blocks: int = 4) -> Layout:
    treatments = (Treatment(1, "untreated"), Treatment(2, "30 mg/L"))
    return lay_out(DesignSpec("randomised_complete_block", treatments, n_blocks), 5)


def test_same_seed_gives_the_same_trial_and_another_seed_another() -> None:
    plots = layout().plots

    first = simulate(plots, 3, [HEIGHT, BRANCHES], 11, FLOWERS)

    assert first == simulate(plots, 3, [HEIGHT, BRANCHES], 11, FLOWERS)
    assert first.values != simulate(plots, 3, [HEIGHT, BRANCHES], 12, FLOWERS).values


def test_layout_of_values_is_pinned() -> None:
    """A stored seed must give the same demo in every release (ALGORITHM)."""
    values = simulate(layout().plots, 1, [HEIGHT, BRANCHES], 2026).values

    assert [v.value for v in values[:4]] == [18.4, 20.3, 23.0, 20.3]


def test_one_more_measurement_leaves_the_others_alone() -> None:
    plots = layout().plots

    alone = simulate(plots, 2, [HEIGHT], 3).values
    both = simulate(plots, 2, [HEIGHT, BRANCHES], 3).values

    assert alone == tuple(v for v in both if v.key == "height")


@pytest.mark.parametrize(("truth", "day"), [(HEIGHT, 28), (BRANCHES, 28)])
def test_means_come_out_true_on_average(truth: TrueMeasurement, day: int) -> None:
    plots = layout(40).plots
    treatment = {p.number: p.treatment for p in plots}

    values = simulate(plots, 5, [truth], 7).values

    for number in (1, 2):
        seen = [v.value for v in values if v.day == day and treatment[v.plot] == number]
        # 40 blocks of sd 1 (continuous) or 10 % (count): 3 standard errors of the mean
        slack = 3 * (1.2 / 40**0.5 if truth is HEIGHT else 0.15 * 6 / 40**0.5 + 0.1)
        assert statistics.fmean(seen) == pytest.approx(truth.mean(number, day), abs=slack)


def test_lost_plot_has_no_value_and_stays_closed_from_that_day_on() -> None:
    plots = layout().plots

    found = simulate(plots, 2, [HEIGHT], 9, FLOWERS, lost_from={3: 22})

    assert {v.day for v in found.values if v.plot == 3} == {14}
    assert all(o.first_open is None and o.last_closed <= 21 for o in found.openings if o.plot == 3)


def test_openings_lie_between_two_rounds_and_late_ones_are_censored() -> None:
    found = simulate(layout(20).plots, 5, [], 4, FLOWERS).openings

    assert all(o.first_open is None or o.first_open == o.last_closed + 1 for o in found)
    assert {o.last_closed for o in found if o.first_open is None} == {36}
