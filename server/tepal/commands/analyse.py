"""`tepal analyse`: a table of measurements to an analysis, for anyone with a spreadsheet."""

from __future__ import annotations

import argparse
import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any, get_args

from tepal.commands.analyse_text import text_of
from tepal.stats import AnalysisSpec, StatsError, analyse, read_table, to_json
from tepal.stats.cells import ResponseType
from tepal.stats.schema import SCHEMA_ID

if TYPE_CHECKING:
    from collections.abc import Sequence


EPILOG = """\
The file is a spreadsheet saved as CSV (comma, semicolon or tab): names in the first line, below
it one row for each plot, or for each plant with --plot naming the column of the plots. A plot is
what was given its treatment by the draw of lots: a pot, a tray, a bench. Plants of one plot are
averaged first, because they are not replicates. Leave a cell empty where nothing was measured.

what to ask
  Is a treatment different from the untreated control?     --control untreated
  Which treatments differ from each other?                 --compare tukey
  Two or more factors in all combinations?                 --factors product,rate
  Plants differed in height before treatment?              --covariate height_before
  Several dates in one file?                               --assessment week

types of response (--type for all, or NAME:TYPE for one)
  continuous   heights, weights, leaf areas: linear model
  count        branches, flowers: whole numbers for each plant or plot; quasi-Poisson model
  proportion   0 or 1 for each plant, a share of each plot, or a number out of --trials
  days         days to first flower: 28, or >42 (still closed on day 42), or 25..28 (closed on 25,
               open on 28)
  rating       grades on an ordered scale, one for each plot: ranks and an ordinal model

examples
  tepal analyse trial.csv --response height_cm --treatment treatment --block block \\
      --control untreated
  tepal analyse trial.csv --response height_cm,branches:count --treatment treatment \\
      --block block --plot tray --control untreated --json > result.json

exit codes
  0 analysed   1 analysed, but a statement stands instead of a figure somewhere
  2 wrong use, or a table that cannot be read
"""


def register(subparsers: Any) -> None:
    """Add `tepal analyse` and its options."""
    p = subparsers.add_parser(
        "analyse",
        help="analyse a trial from a CSV file",
        description="Analyse the measurements of a trial from a CSV file: means, model, comparison,"
        " and whether it can be trusted.",
        epilog=EPILOG,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    p.add_argument("file", metavar="FILE.csv", help="the table; - reads standard input")
    p.add_argument(
        "--response",
        required=True,
        action="append",
        metavar="NAME[:TYPE],...",
        help="measured column, several with commas; the first one is the primary response",
    )
    p.add_argument("--treatment", metavar="NAME", help="column of the treatments")
    p.add_argument("--block", metavar="NAME", help="column of the blocks")
    p.add_argument(
        "--plot", metavar="NAME", help="column that numbers the plots over the whole trial"
    )
    p.add_argument(
        "--plant", metavar="NAME", help="column of the plants within plots (checked only)"
    )
    p.add_argument("--control", metavar="LEVEL", help="the treatment compared with")
    p.add_argument("--covariate", metavar="NAME", help="column measured before treatment")
    p.add_argument(
        "--factors",
        metavar="A,B",
        help="columns of the factors of a factorial, instead of --treatment",
    )
    p.add_argument(
        "--type",
        default="continuous",
        choices=get_args(ResponseType),
        help="type of the responses (default: continuous)",
    )
    p.add_argument(
        "--compare",
        choices=["dunnett", "tukey", "lsd", "games-howell", "none"],
        help="default: dunnett with --control, else tukey; lsd is protected by the F test;"
        " games-howell is for trials without blocks whose treatments vary unequally",
    )
    p.add_argument(
        "--alternative",
        default="two-sided",
        choices=["two-sided", "greater", "less"],
        help="against the control: treatments greater or less (decided before the trial)",
    )
    p.add_argument(
        "--alpha", type=float, default=0.05, help="error rate of a family (default 0.05)"
    )
    p.add_argument(
        "--trials", metavar="NAME", help="column of the number out of which, for proportion"
    )
    p.add_argument(
        "--assessment", metavar="NAME", help="column of the dates or weeks; each is analysed"
    )
    p.add_argument(
        "--row", metavar="NAME", help="column of the bench row of a plot (with --column)"
    )
    p.add_argument("--column", metavar="NAME", help="column of the bench column of a plot")
    p.add_argument(
        "--over-time",
        action="store_true",
        help="with --assessment and --plot: also one summary per plot, and the split-plot in time",
    )
    p.add_argument(
        "--whole-plot",
        metavar="NAME",
        help="column of the whole plots of a split-plot (with --factors whole,sub)",
    )
    p.add_argument(
        "--days-summary",
        default="mean",
        choices=["mean", "median"],
        help="for days: restricted mean or median of each plot (default mean)",
    )
    p.add_argument(
        "--horizon",
        type=float,
        metavar="DAY",
        help="for days: the day up to which all plots were looked at",
    )
    p.add_argument("--seed", type=int, default=20260101, help="seed of randomised integrals")
    shape = p.add_mutually_exclusive_group()
    shape.add_argument("--json", action="store_true", help=f"print JSON ({SCHEMA_ID})")
    shape.add_argument("--text", action="store_true", help="print text (default)")
    p.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Read, analyse, print; 0 done, 1 with a statement in place of a figure."""
    if not 0 < args.alpha < 0.5:
        raise StatsError("stats.alpha", f"--alpha is {args.alpha:g}; give 0.05, or 0.01 to 0.2.")
    if (args.row is None) != (args.column is None):
        raise StatsError("stats.place", "Give both --row and --column, or neither.")
    table = read_table(_read(args.file))
    if args.plant is not None:
        table.labels(args.plant)
        if args.plot is None:
            raise StatsError(
                "stats.plant_without_plot",
                "With --plant the rows are plants: name the column of their plots with --plot.",
            )
    spec = AnalysisSpec(
        responses=tuple(_responses(args.response, args.type)),
        treatment=args.treatment,
        factors=tuple(x.strip() for x in args.factors.split(",")) if args.factors else (),
        block=args.block,
        plot=args.plot,
        plant=args.plant,
        control=args.control,
        covariate=args.covariate,
        trials=args.trials,
        assessment=args.assessment,
        row=args.row,
        column=args.column,
        compare=args.compare,
        alternative=args.alternative,
        alpha=args.alpha,
        horizon_days=args.horizon,
        days_summary=args.days_summary,
        whole_plot=args.whole_plot,
        over_time=args.over_time,
        seed=args.seed,
    )
    results = analyse(table, spec)
    if args.json:
        document = {"schema": SCHEMA_ID, "results": [to_json(r) for r in results]}
        print(json.dumps(document, ensure_ascii=False, indent=1, allow_nan=False))
    else:
        print("\n\n".join(text_of(r, spec) for r in results))
        if len(spec.responses) > 1:
            first = spec.responses[0][0]
            print(
                f"\n{len(spec.responses)} responses were analysed. {first} is taken as"
                " the primary one; the others are exploratory unless they were declared before the"
                " trial began."
            )
    return 1 if any(r.statements for r in results) else 0


def _read(name: str) -> str:
    try:
        data = sys.stdin.buffer.read() if name == "-" else Path(name).read_bytes()
    except OSError as error:
        raise StatsError("stats.no_file", f"{name} cannot be read: {error.strerror}.") from error
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        # what a spreadsheet on an older desktop writes
        return data.decode("cp1252", errors="replace")


def _responses(given: Sequence[str], default: str) -> list[tuple[str, Any]]:
    out: list[tuple[str, Any]] = []
    for part in ",".join(given).split(","):
        name, _, kind = part.strip().rpartition(":")
        if name and kind in get_args(ResponseType):
            out.append((name, kind))
        elif part.strip():
            out.append((part.strip(), default))
    return out
