"""Layouts: what chance decides, what it may not, and that a seed keeps its layout for ever."""

from collections import Counter
from itertools import pairwise

import pytest
from scipy.stats import chi2

from tepal.designs.benches import Bench, BenchError
from tepal.designs.layouts import (
    ALGORITHM,
    Layout,
    bench_map,
    fitting_bench,
    lay_out,
    same_layout,
    treatment_counts,
)
from tepal.designs.specs import (
    DesignError,
    DesignSpec,
    Factor,
    factorial_treatments,
    listed_treatments,
)

PRODUCT = Factor("product", ("A", "B"))
RATE = Factor("rate", ("10", "20", "40 mg/L"))
KINDS = {
    "random": DesignSpec("completely_randomised", listed_treatments("abc", 2), 3),
    "blocks": DesignSpec("randomised_complete_block", listed_treatments("abcd"), 3),
    "latin": DesignSpec("latin_square", listed_treatments("abcd"), 1),
    "latin6": DesignSpec("latin_square", listed_treatments("abcdef"), 1),
    "split": DesignSpec(
        "split_plot",
        factorial_treatments([PRODUCT, RATE]),
        2,
        factors=(PRODUCT, RATE),
        whole_plot_factors=("product",),
    ),
    "split-random": DesignSpec(
        "split_plot_completely_randomised",
        factorial_treatments([PRODUCT, RATE]),
        2,
        factors=(PRODUCT, RATE),
        whole_plot_factors=("product",),
    ),
}
# Treatments in walking order. These are our own results, pinned on purpose: a layout in use must
# be found again from its seed. A change here needs a new ALGORITHM name.
PINNED = {
    ("random", 1): [1, 1, 3, 2, 1, 1, 2, 1, 3, 2, 1, 3],
    ("random", 2026): [2, 1, 3, 1, 2, 1, 1, 1, 1, 3, 3, 2],
    ("blocks", 1): [3, 2, 1, 4, 2, 1, 4, 3, 3, 4, 2, 1],
    ("blocks", 9007199254740991): [1, 3, 4, 2, 1, 4, 2, 3, 2, 3, 4, 1],
    ("latin", 1): [2, 1, 4, 3, 2, 1, 4, 3, 1, 3, 2, 4, 1, 3, 2, 4],
    ("latin", 2): [3, 4, 1, 2, 4, 3, 1, 2, 1, 2, 4, 3, 1, 2, 3, 4],
    ("latin6", 1): [
        5,
        1,
        2,
        3,
        4,
        6,
        3,
        5,
        4,
        1,
        2,
        6,
        1,
        3,
        5,
        6,
        2,
        4,
        2,
        3,
        1,
        6,
        5,
        4,
        2,
        4,
        3,
        5,
        6,
        1,
        5,
        1,
        2,
        4,
        6,
        3,
    ],
    ("split", 1): [3, 2, 1, 4, 6, 5, 5, 6, 4, 2, 3, 1],
    ("split-random", 7): [6, 5, 4, 2, 3, 1, 3, 1, 2, 6, 4, 5],
}


@pytest.mark.parametrize(("name", "seed"), PINNED)
def test_layout_of_a_seed_never_changes(name, seed):
    layout = lay_out(KINDS[name], seed)

    assert ALGORITHM == "tepal-layout-1"
    assert [p.treatment for p in layout.plots] == PINNED[name, seed]


def p_of_equal_counts(counts, n_cells):
    expected = sum(counts.values()) / n_cells
    found = sum((c - expected) ** 2 / expected for c in counts.values())
    return chi2.sf(found + expected * (n_cells - len(counts)), n_cells - 1)


@pytest.mark.full
@pytest.mark.parametrize("name", ["random", "blocks", "latin", "split"])
def test_every_treatment_takes_every_place_as_often_over_10000_seeds(name):
    spec = KINDS[name]
    counts = [Counter() for _ in range(spec.n_plots)]
    for seed in range(10_000):
        for place, plot in zip(counts, lay_out(spec, seed).plots, strict=True):
            place[plot.treatment] += 1

    for place in counts:
        # expected in the ratio of the multiples (the control of "random" has two of four plots)
        total = sum(t.multiple for t in spec.treatments)
        found = sum(
            (place[t.number] - 10_000 * t.multiple / total) ** 2 / (10_000 * t.multiple / total)
            for t in spec.treatments
        )
        # Bonferroni over the places, 0.001 in all
        assert chi2.sf(found, len(spec.treatments) - 1) > 0.001 / spec.n_plots


@pytest.mark.full
def test_neighbouring_blocks_are_shuffled_apart():
    # first plots of blocks 1 and 2 over 10,000 seeds: 16 pairs, equally often
    pairs = Counter()
    for seed in range(10_000):
        plots = lay_out(KINDS["blocks"], seed).plots
        pairs[plots[0].treatment, plots[4].treatment] += 1

    assert p_of_equal_counts(pairs, 16) > 0.001


@pytest.mark.full
def test_whole_plots_and_sub_plots_are_shuffled_apart():
    # order of whole plots (2) x order of sub-plots in the first whole plot (6) x in the second (6)
    orders = Counter()
    for seed in range(10_000):
        plots = lay_out(KINDS["split"], seed).plots[:6]
        orders[tuple(p.treatment for p in plots)] += 1

    assert p_of_equal_counts(orders, 72) > 0.001


@pytest.mark.parametrize("name", KINDS)
def test_same_seed_same_layout_other_seed_other_layout(name):
    layouts = [lay_out(KINDS[name], seed).plots for seed in (5, 5, 6)]

    assert layouts[0] == layouts[1]
    assert layouts[0] != layouts[2]


def test_control_can_stand_twice_in_every_block():
    spec = DesignSpec("randomised_complete_block", listed_treatments("abc", 2), 5)

    layout = lay_out(spec, 3)

    assert treatment_counts(layout.plots) == {1: 10, 2: 5, 3: 5}
    for block in range(1, 6):
        inside = Counter(p.treatment for p in layout.plots if p.block == block)
        assert inside == {1: 2, 2: 1, 3: 1}


def test_walk_steps_to_the_next_cell_within_a_block():
    spec = DesignSpec("randomised_complete_block", listed_treatments("abcdef"), 4)
    layout = lay_out(
        DesignSpec(spec.kind, spec.treatments, 4, bench=Bench(6, 8, guard_rows=1, guard_columns=1)),
        1,
    )

    for one, two in pairwise(layout.plots):
        if one.block == two.block:
            assert abs(one.row - two.row) + abs(one.column - two.column) == 1


def test_latin_rows_and_columns_are_bench_rows_and_columns():
    bench = Bench(6, 6, guard_rows=1, guard_columns=1)
    layout = lay_out(DesignSpec("latin_square", listed_treatments("abcd"), 1, bench=bench), 9)

    assert all(p.row == p.square_row + 1 and p.column == p.square_column + 1 for p in layout.plots)
    for line in range(2, 6):
        assert {p.treatment for p in layout.plots if p.row == line} == {1, 2, 3, 4}
        assert {p.treatment for p in layout.plots if p.column == line} == {1, 2, 3, 4}


def test_whole_plots_hold_one_whole_plot_treatment():
    layout = lay_out(KINDS["split-random"], 11)
    wholes = {}
    for plot in layout.plots:
        wholes.setdefault(plot.whole_plot, []).append(plot.treatment)

    assert sorted(sorted(w) for w in wholes.values()) == [[1, 2, 3]] * 2 + [[4, 5, 6]] * 2


def test_bench_map_names_guards_posts_and_free_cells():
    bench = Bench(3, 4, guard_columns=1, out_of_use=((2, 2),))
    spec = DesignSpec("completely_randomised", listed_treatments("ab"), 2, bench=bench)

    rows = bench_map(lay_out(spec, 1))

    assert [r[0] for r in rows] == ["guard"] * 3
    assert rows[1][1] == "out"
    assert {w.split(":")[0] for r in rows for w in r if ":" in w} == {"1", "2", "3", "4"}
    assert sum(w == "free" for r in rows for w in r) == 1


def test_drawn_bench_just_holds_the_trial():
    assert (fitting_bench(KINDS["blocks"]).n_rows, fitting_bench(KINDS["blocks"]).n_columns) == (
        3,
        4,
    )
    assert fitting_bench(KINDS["random"]).n_columns == 4
    assert fitting_bench(DesignSpec("latin_square", listed_treatments("abc"), 2)) == Bench(6, 3)


def test_bench_that_is_too_small_is_refused_with_both_counts():
    spec = DesignSpec(
        "completely_randomised", listed_treatments("ab"), 3, bench=Bench(2, 3, out_of_use=((1, 1),))
    )

    with pytest.raises(BenchError) as caught:
        lay_out(spec, 1)

    assert caught.value.code == "designs.bench_too_small"
    assert (caught.value.context["n_cells"], caught.value.context["n_needed"]) == (5, 6)


def test_changed_layout_no_longer_follows_from_its_seed():
    layout = lay_out(KINDS["blocks"], 8)
    changed = Layout(layout.spec, 9, layout.plots)

    assert same_layout(layout)
    assert not same_layout(changed)


def test_layout_without_bench_is_no_layout():
    with pytest.raises(DesignError, match="bench"):
        Layout(KINDS["blocks"], 1, ()).bench  # noqa: B018


def test_plots_of_a_treatment_are_its_replicates():
    layout = lay_out(KINDS["blocks"], 2)

    assert [p.block for p in layout.plots_of(3)] == [1, 2, 3]
