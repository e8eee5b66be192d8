"""What a design may ask for, benches, experimental units."""

import pytest

from tepal.designs.benches import Bench, BenchError, block_places, square_places
from tepal.designs.specs import (
    DesignError,
    DesignSpec,
    Factor,
    Treatment,
    factorial_treatments,
    listed_treatments,
)
from tepal.designs.units import experimental_unit

AB = Factor("product", ("A", "B"))
RATE = Factor("rate", ("10", "20"))
FOUR = factorial_treatments([AB, RATE])


def test_factorial_lists_all_combinations_after_the_extras():
    treatments = factorial_treatments([AB, RATE], ["untreated"])

    assert [t.label for t in treatments] == [
        "untreated",
        "product A, rate 10",
        "product A, rate 20",
        "product B, rate 10",
        "product B, rate 20",
    ]
    assert [t.number for t in treatments] == [1, 2, 3, 4, 5]
    assert treatments[0].levels == ()
    assert treatments[4].levels == ("B", "20")


def test_factorial_in_blocks_with_an_extra_control_is_a_design():
    spec = DesignSpec(
        "randomised_complete_block",
        factorial_treatments([AB, RATE], ["untreated"]),
        3,
        factors=(AB, RATE),
    )

    assert spec.n_plots == 15


@pytest.mark.parametrize(
    ("code", "values"),
    [
        ("designs.kind_unknown", {"kind": "spiral"}),
        ("designs.too_few_treatments", {"treatments": listed_treatments("a")}),
        ("designs.name_not_unique", {"treatments": listed_treatments("aa")}),
        ("designs.name_not_unique", {"treatments": listed_treatments(["a", " "])}),
        ("designs.treatment_numbers", {"treatments": (Treatment(2, "a"), Treatment(1, "b"))}),
        ("designs.treatment_levels", {"treatments": FOUR}),
        ("designs.factor_levels", {"factors": (Factor("rate", ("10", "10")),)}),
        ("designs.count_out_of_range", {"n_replicates": 0}),
        ("designs.count_out_of_range", {"plants_per_plot": True}),
        ("designs.too_many_plots", {"n_replicates": 5001}),
        ("designs.whole_plot_factors", {"whole_plot_factors": ("rate",)}),
        (
            "designs.multiple_not_possible",
            {"kind": "latin_square", "treatments": listed_treatments("ab", 2)},
        ),
        (
            "designs.whole_plot_factors",
            {"kind": "split_plot", "treatments": FOUR, "factors": (AB, RATE)},
        ),
        (
            "designs.whole_plot_factors",
            {
                "kind": "split_plot",
                "treatments": factorial_treatments([AB, RATE], ["untreated"]),
                "factors": (AB, RATE),
                "whole_plot_factors": ("rate",),
            },
        ),
        (
            "designs.whole_plots_unequal",
            {
                "kind": "split_plot",
                "treatments": FOUR[:3],
                "factors": (AB, RATE),
                "whole_plot_factors": ("product",),
            },
        ),
    ],
)
def test_impossible_design_is_refused(code, values):
    asked = {
        "kind": "completely_randomised",
        "treatments": listed_treatments("ab"),
        "n_replicates": 2,
    }

    with pytest.raises(DesignError) as caught:
        DesignSpec(**(asked | values))

    assert caught.value.code == code


@pytest.mark.parametrize(
    ("code", "values"),
    [
        ("designs.bench_size", {"n_rows": 0}),
        ("designs.bench_size", {"block_rows": 0, "block_columns": 2}),
        ("designs.bench_block_shape", {"block_rows": 2}),
        ("designs.bench_guards", {"guard_rows": -1}),
        ("designs.bench_too_large", {"n_rows": 10_001}),
        ("designs.bench_cell_outside", {"out_of_use": ((5, 1),)}),
    ],
)
def test_impossible_bench_is_refused(code, values):
    with pytest.raises(BenchError) as caught:
        Bench(**({"n_rows": 4, "n_columns": 4} | values))

    assert caught.value.code == code


def test_walk_goes_out_and_back_inside_the_guards():
    bench = Bench(4, 5, guard_rows=1, guard_columns=1, out_of_use=((3, 3),))

    assert bench.walk() == ((2, 2), (2, 3), (2, 4), (3, 4), (3, 2))


def test_guards_are_all_cells_of_the_rim():
    bench = Bench(4, 5, guard_rows=1, guard_columns=1, out_of_use=((1, 1),))

    # 20 cells - 6 inside - 1 out of use
    assert len(bench.guards()) == 13


def test_guards_that_swallow_the_bench_leave_no_walk():
    assert Bench(2, 5, guard_rows=1).walk() == ()


def test_blocks_are_compact_where_they_fit():
    places = block_places(Bench(4, 4), 4, 4)

    assert places[0] == ((1, 1), (1, 2), (2, 2), (2, 1))
    # the walk over blocks turns back too
    assert set(places[2]) == {(3, 3), (3, 4), (4, 3), (4, 4)}


def test_blocks_take_the_shape_asked_for():
    places = block_places(Bench(4, 4, block_rows=1, block_columns=4), 3, 4)

    assert [{r for r, _ in p} for p in places] == [{1}, {2}, {3}]


def test_block_shape_that_does_not_fit_is_refused():
    with pytest.raises(BenchError, match="holds 2 blocks of 2 x 4"):
        block_places(Bench(4, 4, block_rows=2, block_columns=4), 3, 8 - 4)


def test_blocks_follow_the_walk_where_no_rectangle_fits():
    places = block_places(Bench(3, 3), 1, 7)

    assert places[0] == Bench(3, 3).walk()[:7]


def test_square_without_room_is_refused():
    with pytest.raises(BenchError) as caught:
        square_places(Bench(4, 4, out_of_use=((2, 2),)), 1, 4)

    assert caught.value.code == "designs.bench_no_square"


def test_square_moves_aside_for_a_post():
    (cells,) = square_places(Bench(5, 5, out_of_use=((1, 1),)), 1, 4)

    # rows 1 to 4 leave columns 2 to 5
    assert cells[0] == (1, 2)
    assert (1, 1) not in cells


def test_pots_sprayed_together_stay_units_with_a_note():
    unit = experimental_unit("pot", "bench")

    assert unit.unit == "pot"
    assert [f.code for f in unit.findings] == ["designs.shared_pass"]


def test_plants_in_a_tray_are_samples_of_it():
    unit = experimental_unit("tray", "tray")

    assert unit.unit == "tray"
    assert [f.code for f in unit.findings] == ["designs.plants_are_samples"]


def test_pots_treated_one_by_one_need_no_note():
    assert experimental_unit("pot", "pot").findings == ()
