"""Whatever is asked for, a layout keeps the promises of its design."""

from collections import Counter

from hypothesis import given, settings
from hypothesis import strategies as st

from tepal.designs.benches import Bench
from tepal.designs.documents import layout_document, layout_from_document
from tepal.designs.layouts import lay_out
from tepal.designs.specs import DesignSpec, Factor, factorial_treatments, listed_treatments

SEEDS = st.integers(0, 2**53 - 1)


@st.composite
def specs(draw):
    kind = draw(
        st.sampled_from(
            [
                "completely_randomised",
                "randomised_complete_block",
                "latin_square",
                "split_plot",
                "split_plot_completely_randomised",
            ]
        )
    )
    factors, whole = (), ()
    if kind.startswith("split"):
        factors = tuple(
            Factor(name, tuple(str(i) for i in range(draw(st.integers(2, 3))))) for name in "fgh"
        )[: draw(st.integers(2, 3))]
        whole = ("f",)
        treatments = factorial_treatments(factors)
    else:
        n = draw(st.integers(2, 7))
        multiple = 1 if kind == "latin_square" else draw(st.integers(1, 3))
        treatments = listed_treatments([f"t{i}" for i in range(n)], multiple)
    return DesignSpec(
        kind,
        treatments,
        draw(st.integers(1, 4)),
        plants_per_plot=draw(st.integers(1, 3)),
        factors=factors,
        whole_plot_factors=whole,
    )


@settings(deadline=None, max_examples=150)
@given(specs(), SEEDS)
def test_layout_keeps_the_promises_of_its_design(spec, seed):
    layout = lay_out(spec, seed)
    plots = layout.plots

    assert len(plots) == spec.n_plots
    assert [p.number for p in plots] == list(range(1, spec.n_plots + 1))
    assert len({(p.row, p.column) for p in plots}) == spec.n_plots
    assert {(p.row, p.column) for p in plots} <= set(layout.bench.walk())
    multiples = {t.number: t.multiple for t in spec.treatments}
    if spec.kind == "latin_square":
        lines = Counter()
        for p in plots:
            lines[p.block, "row", p.square_row, p.treatment] += 1
            lines[p.block, "column", p.square_column, p.treatment] += 1
        assert set(lines.values()) == {1}
    elif spec.n_blocks:
        for block in range(1, spec.n_blocks + 1):
            assert Counter(p.treatment for p in plots if p.block == block) == multiples
    else:
        wanted = {t: n * spec.n_replicates for t, n in multiples.items()}
        assert Counter(p.treatment for p in plots) == wanted
    assert layout_from_document(layout_document(layout)) == layout


@settings(deadline=None, max_examples=100)
@given(
    n_rows=st.integers(3, 9),
    n_columns=st.integers(3, 9),
    guard=st.integers(0, 1),
    posts=st.sets(st.tuples(st.integers(1, 3), st.integers(1, 3)), max_size=4),
    seed=SEEDS,
)
def test_no_plot_stands_on_a_guard_or_a_post(n_rows, n_columns, guard, posts, seed):
    bench = Bench(n_rows, n_columns, guard, guard, tuple(sorted(posts)))
    room = len(bench.walk()) // 2
    if not room:
        return
    spec = DesignSpec("randomised_complete_block", listed_treatments("ab"), room, bench=bench)

    layout = lay_out(spec, seed)

    cells = {(p.row, p.column) for p in layout.plots}
    assert len(cells) == 2 * room
    assert not cells & posts
    assert not cells & set(bench.guards())
