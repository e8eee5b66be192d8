"""Layouts and potted layouts as JSON, by the schema that ships in `layout.schema.json`.

The document holds spec, seed, algorithm and every plot, so that a layout outlives this program.
Reading checks structure and sense; it does not need the program that wrote it.
"""

from __future__ import annotations

import json
from dataclasses import asdict
from importlib import resources
from typing import Any

from tepal.designs.benches import Bench
from tepal.designs.layouts import Layout, Plot
from tepal.designs.potting import PottedLayout, PottedPlant
from tepal.designs.specs import DesignError, DesignSpec, Factor, Treatment

FORMAT = "urn:tepal:layout:1"


def layout_schema() -> dict[str, Any]:
    """Return the JSON Schema (draft 2020-12) of the documents of this module."""
    text = resources.files("tepal.designs").joinpath("layout.schema.json").read_text("utf-8")
    schema: dict[str, Any] = json.loads(text)
    return schema


def layout_document(layout: Layout) -> dict[str, Any]:
    """Return the layout as JSON values."""
    spec = asdict(layout.spec)
    del spec["bench"]
    document: dict[str, Any] = _listed(
        {
            "format": FORMAT,
            "what": "layout",
            "algorithm": layout.algorithm,
            "seed": layout.seed,
            "spec": spec,
            "bench": asdict(layout.bench),
            "plots": [asdict(plot) for plot in layout.plots],
        }
    )
    return document


def potted_document(potted: PottedLayout) -> dict[str, Any]:
    """Return the potted layout as JSON values."""
    document: dict[str, Any] = _listed(
        {
            "format": FORMAT,
            "what": "potted_layout",
            "algorithm": potted.algorithm,
            "seed": potted.seed,
            "bench": asdict(potted.bench),
            "plants": [asdict(plant) for plant in potted.plants],
        }
    )
    return document


def layout_from_document(document: Any) -> Layout:
    """Return the layout a document holds.

    Raises
    ------
    DesignError     `designs.document`: not such a document, with the place;
                    `designs.document_plots`: plots that do not agree with the spec; others as when
                    the spec was made.
    """
    _expect(document, "layout")
    spec = _field(document, "spec", dict)
    treatments = tuple(
        Treatment(
            _field(t, "number", int),
            _field(t, "label", str),
            tuple(_field(t, "levels", list)),
            _field(t, "multiple", int),
        )
        for t in _field(spec, "treatments", list)
    )
    factors = tuple(
        Factor(_field(f, "name", str), tuple(_field(f, "levels", list)))
        for f in _field(spec, "factors", list)
    )
    layout = Layout(
        DesignSpec(
            kind=_field(spec, "kind", str),
            treatments=treatments,
            n_replicates=_field(spec, "n_replicates", int),
            plants_per_plot=_field(spec, "plants_per_plot", int),
            factors=factors,
            whole_plot_factors=tuple(_field(spec, "whole_plot_factors", list)),
            bench=_bench(_field(document, "bench", dict)),
        ),
        _field(document, "seed", int),
        tuple(_plot(p) for p in _field(document, "plots", list)),
        _field(document, "algorithm", str),
    )
    _check_plots(layout)
    return layout


def potted_from_document(document: Any) -> PottedLayout:
    """Return the potted layout a document holds; raises as `layout_from_document`."""
    _expect(document, "potted_layout")
    plants = tuple(
        PottedPlant(
            number=_field(p, "number", int),
            row=_field(p, "row", int),
            column=_field(p, "column", int),
            treatment=_field(p, "treatment", int),
            origin_plot=_field(p, "origin_plot", int),
            origin_plant=_field(p, "origin_plant", int),
            block=_maybe(p, "block"),
        )
        for p in _field(document, "plants", list)
    )
    bench = _bench(_field(document, "bench", dict))
    cells = [(p.row, p.column) for p in plants]
    if len(set(cells)) < len(cells) or not all(bench.holds(c) for c in cells):
        raise _wrong_plots("two plants share a cell, or one stands off the bench")
    return PottedLayout(
        bench, _field(document, "seed", int), plants, _field(document, "algorithm", str)
    )


def _bench(values: dict[str, Any]) -> Bench:
    cells = []
    for cell in _field(values, "out_of_use", list):
        if not isinstance(cell, list) or len(cell) != 2 or not all(_whole(x) for x in cell):
            raise _wrong("out_of_use", "pairs [row, column]")
        cells.append((cell[0], cell[1]))
    return Bench(
        n_rows=_field(values, "n_rows", int),
        n_columns=_field(values, "n_columns", int),
        guard_rows=_field(values, "guard_rows", int),
        guard_columns=_field(values, "guard_columns", int),
        out_of_use=tuple(cells),
        block_rows=_maybe(values, "block_rows"),
        block_columns=_maybe(values, "block_columns"),
    )


def _plot(values: Any) -> Plot:
    return Plot(
        number=_field(values, "number", int),
        row=_field(values, "row", int),
        column=_field(values, "column", int),
        treatment=_field(values, "treatment", int),
        block=_maybe(values, "block"),
        whole_plot=_maybe(values, "whole_plot"),
        square_row=_maybe(values, "square_row"),
        square_column=_maybe(values, "square_column"),
    )


def _check_plots(layout: Layout) -> None:
    """Hold the plots against the spec, so that a hand-edited file is not taken for a trial."""
    plots, spec = layout.plots, layout.spec
    if [p.number for p in plots] != list(range(1, spec.n_plots + 1)):
        raise _wrong_plots(f"plots must be numbered 1 to {spec.n_plots} in order")
    cells = [(p.row, p.column) for p in plots]
    if len(set(cells)) < len(cells):
        raise _wrong_plots("two plots share a bench cell")
    usable = set(layout.bench.walk())
    if not usable.issuperset(cells):
        raise _wrong_plots("a plot stands on a guard, on a cell out of use or off the bench")
    once = [t.number for t in spec.treatments]
    many = sorted(t.number for t in spec.treatments for _ in range(t.multiple))
    groups: dict[str, list[int]] = {}
    if spec.kind == "latin_square":
        for plot in plots:
            groups.setdefault(f"square {plot.block} row {plot.square_row}", []).append(
                plot.treatment
            )
            groups.setdefault(f"square {plot.block} column {plot.square_column}", []).append(
                plot.treatment
            )
    elif spec.n_blocks:
        for plot in plots:
            groups.setdefault(f"block {plot.block}", []).append(plot.treatment)
    else:
        once = sorted(many * spec.n_replicates)
        groups["the trial"] = [plot.treatment for plot in plots]
    expected = many if spec.kind == "randomised_complete_block" else once
    for name, treatments in groups.items():
        if sorted(treatments) != expected:
            raise _wrong_plots(f"{name} does not hold each treatment as often as the design says")
    if spec.whole_plot_factors:
        _check_whole_plots(layout)


def _check_whole_plots(layout: Layout) -> None:
    groups = [sorted(t.number for t in group) for group in layout.spec.whole_plot_groups()]
    held: dict[int | None, list[int]] = {}
    for plot in layout.plots:
        held.setdefault(plot.whole_plot, []).append(plot.treatment)
    for whole_plot, treatments in held.items():
        if sorted(treatments) not in groups:
            raise _wrong_plots(f"whole plot {whole_plot} mixes whole-plot treatments")


def _expect(document: Any, what: str) -> None:
    for name, value in (("format", FORMAT), ("what", what)):
        if _field(document, name, str) != value:
            raise _wrong(name, repr(value))


def _field(values: Any, name: str, kind: type) -> Any:
    if not isinstance(values, dict) or name not in values:
        raise _wrong(name, "there")
    value = values[name]
    fits = _whole(value) if kind is int else isinstance(value, kind)
    if not fits:
        raise _wrong(name, {int: "a whole number", str: "text", list: "a list"}.get(kind, "a map"))
    return value


def _maybe(values: Any, name: str) -> int | None:
    if isinstance(values, dict) and values.get(name) is None:
        return None
    number: int = _field(values, name, int)
    return number


def _whole(value: Any) -> bool:
    return isinstance(value, int) and not isinstance(value, bool)


def _wrong(place: str, allowed: str) -> DesignError:
    return DesignError(
        "designs.document",
        f"This is no layout document: {place!r} must be {allowed}. Use a file that "
        "`tepal design --json` wrote.",
        place=place,
        allowed=allowed,
    )


def _wrong_plots(why: str) -> DesignError:
    return DesignError(
        "designs.document_plots",
        f"The plots of this document do not make its design: {why}. "
        "Use the file as it was written.",
        why=why,
    )


def _listed(value: Any) -> Any:
    """Turn tuples into lists, which is what JSON has."""
    if isinstance(value, dict):
        return {k: _listed(v) for k, v in value.items()}
    if isinstance(value, (list, tuple)):
        return [_listed(v) for v in value]
    return value
