"""Potting on keeps origins; harvests take every plant once at most."""

from collections import Counter

import pytest
from scipy.stats import chi2

from tepal.designs.benches import Bench, BenchError
from tepal.designs.layouts import lay_out
from tepal.designs.potting import plan_harvests, pot_on
from tepal.designs.specs import DesignError, DesignSpec, listed_treatments

LINERS = lay_out(
    DesignSpec("randomised_complete_block", listed_treatments("abc"), 2, plants_per_plot=4), 12
)
LOOSE = lay_out(
    DesignSpec("completely_randomised", listed_treatments("abc"), 2, plants_per_plot=2), 12
)


def test_every_plant_keeps_its_origin_treatment_and_block():
    potted = pot_on(LINERS, Bench(4, 6), 5)

    origins = {(p.origin_plot, p.origin_plant) for p in potted.plants}
    plots = {p.number: p for p in LINERS.plots}
    assert origins == {(n, k) for n in range(1, 7) for k in range(1, 5)}
    assert all(p.treatment == plots[p.origin_plot].treatment for p in potted.plants)
    assert all(p.block == plots[p.origin_plot].block for p in potted.plants)
    assert len({(p.row, p.column) for p in potted.plants}) == 24


def test_potting_on_pins_its_seed():
    """Our own result, pinned on purpose: the places of a seed must be found again."""
    potted = pot_on(LOOSE, Bench(3, 4), 77)

    assert potted.algorithm == "tepal-potting-1"
    assert [(p.origin_plot, p.origin_plant) for p in potted.plants] == [
        (4, 1),
        (5, 1),
        (2, 2),
        (2, 1),
        (6, 1),
        (1, 1),
        (3, 1),
        (5, 2),
        (3, 2),
        (4, 2),
        (6, 2),
        (1, 2),
    ]


def test_each_plant_comes_to_each_place_as_often_over_10000_seeds():
    counts = Counter()
    for seed in range(10_000):
        first = pot_on(LOOSE, Bench(3, 4), seed).plants[0]
        counts[first.origin_plot, first.origin_plant] += 1

    found = sum((counts[k] - 10_000 / 12) ** 2 / (10_000 / 12) for k in counts)
    assert len(counts) == 12
    assert chi2.sf(found, 11) > 0.001


def test_only_kept_plants_are_potted_on_in_any_order_given():
    kept = [(2, 1), (1, 3), (4, 2)]

    one = pot_on(LINERS, Bench(2, 2), 5, kept)
    two = pot_on(LINERS, Bench(2, 2), 5, kept[::-1])

    assert {(p.origin_plot, p.origin_plant) for p in one.plants} == set(kept)
    assert one == two


@pytest.mark.parametrize("kept", [[(1, 5)], [(9, 1)], [(1, 1), (1, 1)]])
def test_unknown_or_repeated_plant_is_refused(kept):
    with pytest.raises(DesignError) as caught:
        pot_on(LINERS, Bench(4, 6), 5, kept)

    assert caught.value.code == "designs.plant_unknown"


def test_potting_on_nothing_is_refused():
    with pytest.raises(DesignError, match="No plant is left"):
        pot_on(LINERS, Bench(4, 6), 5, [])


def test_bench_too_small_for_the_plants_is_refused():
    with pytest.raises(BenchError, match="23"):
        pot_on(LINERS, Bench(4, 6, out_of_use=((1, 1),)), 5)


def test_harvests_take_each_plant_once_at_most():
    first, second = plan_harvests(LINERS, [(14, 1), (28, 2)], 3)

    assert (first.days_after_treatment, second.days_after_treatment) == (14, 28)
    for (plot, early), (same, late) in zip(first.plants, second.plants, strict=True):
        assert plot == same
        assert (len(early), len(late)) == (1, 2)
        assert not set(early) & set(late)


@pytest.mark.parametrize(
    ("code", "harvests"),
    [
        ("designs.harvest_too_large", [(14, 3), (28, 2)]),
        ("designs.harvest_days", [(28, 1), (14, 1)]),
        ("designs.harvest_days", [(14, 0)]),
    ],
)
def test_impossible_harvest_is_refused(code, harvests):
    with pytest.raises(DesignError) as caught:
        plan_harvests(LINERS, harvests, 3)

    assert caught.value.code == code
