"""The flags of `tepal design`, and the bench that its flags describe."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING, Any, Literal, get_args

from tepal.commands import design_values as values
from tepal.designs.benches import Bench, BenchError
from tepal.designs.units import Piece

if TYPE_CHECKING:
    from tepal.designs.specs import DesignKind

KINDS: dict[str, DesignKind] = {
    "random": "completely_randomised",
    "blocks": "randomised_complete_block",
    "latin": "latin_square",
    "split": "split_plot",
    "split-random": "split_plot_completely_randomised",
}
SIZED_KINDS: dict[
    str, Literal["completely_randomised", "randomised_complete_block", "latin_square"]
] = {
    "random": "completely_randomised",
    "blocks": "randomised_complete_block",
    "latin": "latin_square",
}
COMPARISONS: dict[str, Literal["control", "pairs", "overall"]] = {
    "control": "control",
    "pairs": "pairs",
    "overall": "overall",
}
PIECES: tuple[Piece, ...] = get_args(Piece)
_RAW = argparse.RawDescriptionHelpFormatter


def add_lay_out(actions: Any) -> None:
    """Add `lay-out`."""
    p = actions.add_parser(
        "lay-out",
        help="randomise a trial and print its bench map",
        formatter_class=_RAW,
        description="""\
Randomise a trial and print its bench map. DESIGN is one of:
  random        completely randomised: the bench is even, or very few plots
  blocks        randomised complete block: one plot of each treatment in every block; blocks follow
                what you know of the bench (fan end, pad end, shade), and one observer does a block
  latin         Latin square: evens out two directions at once; as many replicates as treatments
  split         split-plot in blocks: one factor needs large pieces (a bench, a cultivar tray)
  split-random  split-plot without blocks

Experimental unit: the piece that chance gives to a treatment. Plants in one tray that is treated
as a whole are one plot, however many they are.""",
    )
    p.add_argument("design", metavar="DESIGN", choices=tuple(KINDS), help="see above")
    p.add_argument(
        "--treatments",
        type=values.labels,
        metavar='"A; B; C"',
        help="treatments in order, semicolons between; the control first",
    )
    p.add_argument(
        "--factor",
        type=values.factor,
        action="append",
        metavar='"NAME = LEVEL; LEVEL"',
        help="one factor of a factorial; repeat for each",
    )
    p.add_argument(
        "--extra",
        type=values.labels,
        metavar='"A; B"',
        help="treatments beside the factorial, such as an untreated control",
    )
    p.add_argument(
        "--whole-plots",
        type=values.labels,
        metavar='"NAME"',
        help="split-plot designs: the factor (or factors) that whole plots receive",
    )
    p.add_argument(
        "--replicates",
        type=values.whole("replicates", 1),
        required=True,
        metavar="N",
        help="plots per treatment, blocks, or squares",
    )
    p.add_argument(
        "--control-plots",
        type=values.whole("control plots", 1),
        default=1,
        metavar="N",
        help="plots of the control for each plot of another treatment (1)",
    )
    p.add_argument(
        "--plants",
        type=values.whole("plants per plot", 1),
        default=1,
        metavar="N",
        help="plants per plot (1)",
    )
    p.add_argument(
        "--unit",
        choices=PIECES,
        help="the piece that chance gives to a treatment and that goes back to its own place; "
        "with it the layout says what counts as a replicate",
    )
    p.add_argument(
        "--treated-together",
        choices=PIECES,
        help="the largest piece that gets its treatment in one pass (the unit)",
    )
    _add_bench(p, required=False)
    _add_seed_and_file(p)


def add_show(actions: Any) -> None:
    """Add `show`."""
    p = actions.add_parser(
        "show",
        help="print a stored layout and check it against its seed",
        description="Print the bench map of a layout file and check that its plots follow from its "
        "seed.",
    )
    p.add_argument("file", metavar="FILE", help="a layout file, - for standard input")


def add_pot_on(actions: Any) -> None:
    """Add `pot-on`."""
    p = actions.add_parser(
        "pot-on",
        help="new random places for the plants of a layout, each keeping its origin",
        description="Give each plant of a layout a new place, at random within its block. Every "
        "plant keeps the number of the plot it came from: that plot, not the pot, stays the "
        "experimental unit when the treatment was given before potting on.",
    )
    p.add_argument("file", metavar="FILE", help="the layout file, - for standard input")
    p.add_argument(
        "--plants",
        type=values.plant_list,
        metavar="PLOT.PLANT,...",
        help="plants that are potted on, such as 1.1,1.2,2.1 (all)",
    )
    _add_bench(p, required=True)
    _add_seed_and_file(p)


def add_replicates(actions: Any) -> None:
    """Add `replicates`."""
    p = actions.add_parser(
        "replicates",
        help="how many replicates a question needs, or what a trial can find",
        formatter_class=_RAW,
        description="""\
Ask before the start whether a trial can answer its question. Needed: the difference worth finding,
and how much plots treated alike differ (plot-to-plot coefficient of variation, from an earlier
trial: 100 x square root of the error mean square / mean). The spread between plants of one plot is
another number: give it as --plant-cv-pct with --plants, and --plot-cv-pct as what remains between
plots. A split-plot's whole-plot factor: ask with its own spread between whole plots.""",
    )
    p.add_argument(
        "--compare",
        choices=tuple(COMPARISONS),
        required=True,
        help="control: each against the control (Dunnett); pairs: all pairs (Tukey); "
        "overall: the F test",
    )
    p.add_argument(
        "--treatments",
        type=values.whole("treatments", 2),
        required=True,
        metavar="N",
        help="number of treatments, the control included",
    )
    p.add_argument(
        "--difference-pct",
        type=values.number,
        required=True,
        metavar="D",
        help="difference of two means that must not be missed, per cent of the control",
    )
    p.add_argument(
        "--plot-cv-pct",
        type=values.number,
        required=True,
        metavar="CV",
        help="coefficient of variation between plots treated alike, per cent",
    )
    p.add_argument(
        "--plant-cv-pct",
        type=values.number,
        default=0.0,
        metavar="CV",
        help="between plants of one plot, per cent (0: the plot figure already is of plot means)",
    )
    p.add_argument(
        "--plants",
        type=values.whole("plants per plot", 1),
        default=1,
        metavar="N",
        help="measured plants per plot (1)",
    )
    p.add_argument("--design", choices=tuple(SIZED_KINDS), default="blocks", help="(blocks)")
    p.add_argument(
        "--control-plots",
        type=values.whole("control plots", 1),
        default=1,
        metavar="N",
        help="plots of the control per plot of a treatment (1)",
    )
    p.add_argument("--alpha", type=values.number, default=0.05, help="for the whole trial (0.05)")
    p.add_argument(
        "--power-pct",
        type=values.number,
        default=80.0,
        metavar="P",
        help="wanted chance to find the difference, per cent (80)",
    )
    p.add_argument(
        "--have",
        type=values.whole("replicates", 1),
        metavar="N",
        help="replicates there is room for; left out: the number needed is found",
    )
    _add_file(p)


def _add_bench(p: argparse.ArgumentParser, *, required: bool) -> None:
    p.add_argument(
        "--bench",
        type=values.pair,
        required=required,
        metavar="ROWSxCOLUMNS",
        help="cells of the whole bench, guards included"
        + ("" if required else " (a bench that just holds the trial)"),
    )
    p.add_argument(
        "--guards",
        type=values.pair,
        default=(0, 0),
        metavar="ROWSxCOLUMNS",
        help="guard rows at front and back x guard columns at both ends (0x0)",
    )
    p.add_argument(
        "--out-of-use",
        type=values.cells,
        default=(),
        metavar="ROW:COLUMN,...",
        help="cells that hold no plot: a post, a drip",
    )
    p.add_argument(
        "--block-shape",
        type=values.pair,
        metavar="ROWSxCOLUMNS",
        help="piece of bench for one block (the most compact that fits)",
    )


def _add_seed_and_file(p: argparse.ArgumentParser) -> None:
    p.add_argument(
        "--seed",
        type=values.seed,
        metavar="N",
        help="whole number that fixes the layout for ever (drawn and printed when left out)",
    )
    _add_file(p)


def _add_file(p: argparse.ArgumentParser) -> None:
    p.add_argument("--json", metavar="FILE", help="also write JSON to FILE; - prints JSON alone")
    p.add_argument("--overwrite", action="store_true", help="let --json replace a file")


def bench_of(args: argparse.Namespace) -> Bench | None:
    """Return the bench that the flags describe; None when no --bench was given."""
    if args.bench is None:
        for flag, given in (
            ("--guards", args.guards != (0, 0)),
            ("--out-of-use", bool(args.out_of_use)),
            ("--block-shape", args.block_shape is not None),
        ):
            if given:
                raise BenchError(
                    "designs.bench_missing", f"{flag} needs --bench ROWSxCOLUMNS beside it."
                )
        return None
    n_rows, n_columns = args.bench
    guard_rows, guard_columns = args.guards
    block_rows, block_columns = args.block_shape or (None, None)
    return Bench(
        n_rows,
        n_columns,
        guard_rows=guard_rows,
        guard_columns=guard_columns,
        out_of_use=args.out_of_use,
        block_rows=block_rows,
        block_columns=block_columns,
    )
