"""Bounded whole numbers and shuffles from raw PCG64 words."""

from collections import Counter
from itertools import permutations

import numpy as np
import pytest
from scipy.stats import chi2

from tepal.designs.chance import SEED_LIMIT, Chance
from tepal.domain.errors import OutOfRangeError


def p_of_equal_counts(counts, n_cells):
    """Pearson's chi-square against equal expectation."""
    total = sum(counts)
    expected = total / n_cells
    found = sum((c - expected) ** 2 / expected for c in counts) + expected * (n_cells - len(counts))
    return chi2.sf(found, n_cells - 1)


def test_raw_stream_is_numpys_published_one():
    # first words for seed 0xdeadbeaf in numpy's own numpy/random/tests/data/pcg64-testset-1.csv
    words = np.random.PCG64(0xDEADBEAF).random_raw(3)

    assert [int(w) for w in words] == [0x60D24054E17A0698, 0xD5E79D89856E4F12, 0xD254972FE64BD782]


def test_below_takes_the_remainder_of_published_words():
    # 0x60D24054E17A0698 = 6976709506054620824; its remainder by 10 is 4
    # 0xD5E79D89856E4F12 = 15413461463673491218, remainder 8
    chance = Chance(0xDEADBEAF)

    assert [chance.below(10), chance.below(10)] == [4, 8]


def test_below_is_fair_where_a_plain_remainder_is_not():
    # of n = 3 * 2**62 a plain remainder of 64-bit words puts half of all values below 2**62
    # (they arise from two words each); fair is a third. 10,000 draws: SE 0.0047
    chance, n = Chance(20260101), 3 * 2**62

    share = sum(chance.below(n) < 2**62 for _ in range(10_000)) / 10_000

    assert abs(share - 1 / 3) < 4 * 0.0047


def test_below_is_uniform_over_seeds():
    counts = Counter(Chance(seed).below(7) for seed in range(10_000))

    assert p_of_equal_counts(counts.values(), 7) > 0.001


def test_shuffle_reaches_all_24_orders_equally_often():
    # randomisation_properties: all 24 orders of 4 treatments occur
    counts = Counter(tuple(Chance(seed).shuffled("abcd")) for seed in range(10_000))

    assert set(counts) == set(permutations("abcd"))
    assert p_of_equal_counts(counts.values(), 24) > 0.001


def test_shuffle_leaves_its_input_alone():
    things = (3, 1, 2)

    assert sorted(Chance(1).shuffled(things)) == [1, 2, 3]
    assert things == (3, 1, 2)


@pytest.mark.parametrize("seed", [-1, SEED_LIMIT, 1.0, True, "7"])
def test_seed_outside_json_integers_is_refused(seed):
    with pytest.raises(OutOfRangeError) as caught:
        Chance(seed)

    assert caught.value.code == "designs.seed_out_of_range"
    assert str(SEED_LIMIT - 1) in caught.value.message


def test_choice_among_nothing_is_refused():
    with pytest.raises(OutOfRangeError, match="Cannot choose"):
        Chance(1).below(0)
