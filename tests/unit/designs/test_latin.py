"""Latin squares: every one reachable, all equally likely for small orders."""

from collections import Counter

import pytest
from scipy.stats import chi2

from tepal.designs.chance import Chance
from tepal.designs.latin import random_square, reduced_squares, walked_square
from tepal.domain.errors import OutOfRangeError


def is_latin(square):
    n = len(square)
    want = set(range(n))
    rows = all(len(r) == n and set(r) == want for r in square)
    return rows and all({r[j] for r in square} == want for j in range(n))


def reduced(square):
    """Sort columns by the first row, then rows by the first column."""
    order = sorted(range(len(square)), key=lambda j: square[0][j])
    return tuple(sorted(tuple(row[j] for j in order) for row in square))


def p_of_equal_counts(counts, n_cells):
    expected = sum(counts.values()) / n_cells
    found = sum((c - expected) ** 2 / expected for c in counts.values())
    found += expected * (n_cells - len(counts))
    return chi2.sf(found, n_cells - 1)


# OEIS A000315: 1, 1, 1, 4, 56
@pytest.mark.parametrize(("order", "count"), [(1, 1), (2, 1), (3, 1), (4, 4), (5, 56)])
def test_reduced_squares_are_as_many_as_published(order, count):
    squares = reduced_squares(order)

    assert len(squares) == len(set(squares)) == count
    assert all(is_latin(s) and reduced(s) == s for s in squares)


# all squares: 2, 12, 576 (n! (n-1)! times the reduced ones; stats_checks randomisation_properties)
@pytest.mark.parametrize(("order", "count"), [(2, 2), (3, 12), (4, 576)])
def test_every_square_is_drawn_equally_often_over_10000_seeds(order, count):
    drawn = Counter(random_square(order, Chance(seed)) for seed in range(10_000))

    assert len(drawn) == count
    assert p_of_equal_counts(drawn, count) > 0.001


def test_every_reduced_square_of_order_5_is_drawn_equally_often():
    drawn = Counter(reduced(random_square(5, Chance(seed))) for seed in range(10_000))

    assert set(drawn) == set(reduced_squares(5))
    assert p_of_equal_counts(drawn, 56) > 0.001


def test_every_cell_of_order_5_gets_every_symbol_equally_often():
    squares = [random_square(5, Chance(seed)) for seed in range(10_000)]

    for i in range(5):
        for j in range(5):
            cell = Counter(s[i][j] for s in squares)
            # 25 tests: 0.001 / 25
            assert p_of_equal_counts(cell, 5) > 0.00004


@pytest.mark.full
def test_walk_reaches_every_square_of_order_4_equally_often():
    """The chain for large orders, judged where all squares can be counted."""
    drawn = Counter(walked_square(4, 16, Chance(seed)) for seed in range(10_000))

    assert len(drawn) == 576
    assert p_of_equal_counts(drawn, 576) > 0.001


@pytest.mark.full
def test_walk_reaches_every_reduced_square_of_order_5_equally_often():
    drawn = Counter(reduced(walked_square(5, 25, Chance(seed))) for seed in range(10_000))

    assert set(drawn) == set(reduced_squares(5))
    assert p_of_equal_counts(drawn, 56) > 0.001


@pytest.mark.full
def test_walk_of_order_6_fills_pairs_of_cells_evenly():
    squares = [walked_square(6, 36, Chance(seed)) for seed in range(4_000)]

    pairs = Counter((s[0][0], s[3][5]) for s in squares)
    # cells that share no line: symbols are alike a little more or less often than 1/6, so only
    # the balance within alike and within unlike pairs is exact
    alike = Counter({k: v for k, v in pairs.items() if k[0] == k[1]})
    unlike = Counter({k: v for k, v in pairs.items() if k[0] != k[1]})
    assert p_of_equal_counts(alike, 6) > 0.001
    assert p_of_equal_counts(unlike, 30) > 0.001


@pytest.mark.parametrize("order", [6, 7, 8, 12, 20])
def test_large_squares_are_latin(order):
    assert is_latin(random_square(order, Chance(order)))


@pytest.mark.parametrize("order", [1, 21])
def test_order_that_is_not_offered_is_refused_with_a_cure(order):
    with pytest.raises(OutOfRangeError, match="randomised complete block"):
        random_square(order, Chance(1))


def test_reduced_squares_of_large_orders_are_refused():
    with pytest.raises(OutOfRangeError, match="orders 1 to 5"):
        reduced_squares(6)
