"""Bench maps as plain text, for the terminal and for a sheet of paper on the bench."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tepal.designs.layouts import bench_map, treatment_counts

if TYPE_CHECKING:
    from collections.abc import Sequence

    from tepal.designs.layouts import Layout
    from tepal.designs.potting import PottedLayout

_KIND_WORDS = {
    "completely_randomised": "completely randomised",
    "randomised_complete_block": "randomised complete block",
    "latin_square": "Latin square",
    "split_plot": "split-plot in blocks",
    "split_plot_completely_randomised": "split-plot, whole plots completely randomised",
}
_SIGNS = {"guard": "(guard)", "out": "x", "free": "."}


def layout_text(layout: Layout) -> str:
    """Return the layout as text: what it is, its treatments, the map, the walk."""
    spec = layout.spec
    counts = treatment_counts(layout.plots)
    unit = {"latin_square": "square"}.get(spec.kind, "block" if spec.n_blocks else "replicate")
    kind = _KIND_WORDS[spec.kind]
    size = ", ".join(
        [
            _counted(len(spec.treatments), "treatment"),
            _counted(spec.n_replicates, unit),
            f"{spec.n_plots} plots of {_counted(spec.plants_per_plot, 'plant')}",
        ]
    )
    lines = [
        f"Design: {kind}, {size}",
        f"Seed: {layout.seed} ({layout.algorithm})",
    ]
    if spec.whole_plot_factors:
        lines.append(f"Whole plots: {', '.join(spec.whole_plot_factors)}")
    lines += ["", "Treatments:"]
    lines += [f"  {t.number:>3}  {t.label} ({counts[t.number]} plots)" for t in spec.treatments]
    lines += ["", "Bench map, plot:treatment; row 1 at the aisle, x out of use:"]
    lines += _grid([[_SIGNS.get(word, word) for word in row] for row in bench_map(layout)])
    if spec.n_blocks:
        lines += ["", "Plots of each " + ("square:" if spec.kind == "latin_square" else "block:")]
        for block in range(1, spec.n_blocks + 1):
            numbers = [p.number for p in layout.plots if p.block == block]
            lines.append(f"  {block:>3}  {numbers[0]} to {numbers[-1]}")
    lines += ["", "Walk the plots by number: one row out, the next one back."]
    return "\n".join(lines)


def potted_text(potted: PottedLayout) -> str:
    """Return the new places as text: each cell shows treatment and origin (plot.plant)."""
    bench = potted.bench
    standing = {
        (p.row, p.column): f"{p.treatment}<{p.origin_plot}.{p.origin_plant}" for p in potted.plants
    }
    rows = []
    for row in range(1, bench.n_rows + 1):
        words = []
        for column in range(1, bench.n_columns + 1):
            cell = (row, column)
            empty = (
                "out" if cell in bench.out_of_use else ("guard" if bench.is_guard(cell) else "free")
            )
            words.append(standing.get(cell, _SIGNS[empty]))
        rows.append(words)
    return "\n".join(
        [
            f"Potted on: {len(potted.plants)} plants",
            f"Seed: {potted.seed} ({potted.algorithm})",
            "",
            "Bench map, treatment<plot.plant it came from; row 1 at the aisle, x out of use:",
            *_grid(rows),
            "",
            "The plot a plant came from stays the experimental unit of a treatment given before.",
        ]
    )


def _grid(rows: Sequence[Sequence[str]]) -> list[str]:
    """Return the cells in columns under column numbers."""
    heads = [str(j + 1) for j in range(len(rows[0]))]
    widths = [max(len(row[j]) for row in [heads, *rows]) for j in range(len(heads))]
    lines = ["  row  " + "  ".join(h.rjust(w) for h, w in zip(heads, widths, strict=True)).rstrip()]
    for i, row in enumerate(rows, start=1):
        cells = "  ".join(word.rjust(w) for word, w in zip(row, widths, strict=True))
        lines.append(f"  {i:>3}  {cells}".rstrip())
    return lines


def _counted(n: int, thing: str) -> str:
    return f"{n} {thing}{'' if n == 1 else 's'}"
