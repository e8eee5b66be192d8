"""`tepal design`: lay out a trial, look at a layout again, pot on, ask how many replicates."""

from __future__ import annotations

import argparse
import dataclasses
import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

from tepal.commands import design_arguments as a
from tepal.designs import documents
from tepal.designs.layouts import Layout, lay_out, same_layout
from tepal.designs.maps import layout_text, potted_text
from tepal.designs.potting import pot_on
from tepal.designs.specs import (
    SPLIT_PLOTS,
    DesignError,
    DesignSpec,
    factorial_treatments,
    listed_treatments,
)
from tepal.designs.units import experimental_unit
from tepal.domain.errors import TepalError

if TYPE_CHECKING:
    from collections.abc import Callable

    from tepal.designs.sizes import SizeAnswer

_EXAMPLES = """\
examples:
  Four treatments in five blocks on a bench of 7 x 6 cells with a guard row all round:
    tepal design lay-out blocks --treatments "untreated; water; 15 mg/L; 30 mg/L" \\
        --replicates 5 --bench 7x6 --guards 1x1 --seed 4711 --json trial.json
  A factorial of 2 products x 3 rates beside an untreated control:
    tepal design lay-out blocks --factor "product = A; B" --factor "rate = 10; 20; 40 mg/L" \\
        --extra untreated --replicates 4
  Will four blocks find 15 % where plots treated alike differ by 9 %?
    tepal design replicates --compare control --treatments 6 --difference-pct 15 \\
        --plot-cv-pct 9 --have 4

exit codes: 0 done; 1 the trial cannot answer its question, or a layout does not follow from its
seed; 2 wrong use.
"""

# which flag to look at when the design itself is refused
_FLAGS = {
    "designs.bench_size": "--bench or --block-shape",
    "designs.bench_too_large": "--bench",
    "designs.bench_cell_outside": "--out-of-use",
    "designs.bench_too_small": "--bench",
    "designs.bench_block_shape": "--block-shape",
    "designs.bench_no_square": "--bench",
    "designs.latin_order_out_of_range": "--treatments",
    "designs.name_not_unique": "--treatments, --factor or --extra",
    "designs.factor_levels": "--factor",
    "designs.too_few_treatments": "--treatments",
    "designs.too_many_plots": "--replicates",
    "designs.multiple_not_possible": "--control-plots",
    "designs.whole_plot_factors": "--whole-plots",
    "designs.whole_plots_unequal": "--extra",
    "designs.plant_unknown": "--plants",
    "designs.no_error_df": "--have",
}
_COUNT_FLAGS = {
    "n_treatments": "--treatments",
    "difference_pct": "--difference-pct",
    "plot_cv_pct": "--plot-cv-pct",
    "plant_cv_pct": "--plant-cv-pct",
    "plants_per_plot": "--plants",
    "control_multiple": "--control-plots",
    "alpha": "--alpha",
    "n_replicates": "--have",
}


def register(subparsers: Any) -> None:
    """Add `design` and its own subcommands to the parser."""
    raw = argparse.RawDescriptionHelpFormatter
    parser = subparsers.add_parser(
        "design",
        help="lay out trials and ask how many replicates they need",
        description="Lay out a trial at random, print its bench map, and ask beforehand whether it "
        "can answer its question.",
        epilog=_EXAMPLES,
        formatter_class=raw,
    )
    actions = parser.add_subparsers(dest="action", metavar="ACTION", required=True)
    a.add_lay_out(actions)
    a.add_show(actions)
    a.add_pot_on(actions)
    a.add_replicates(actions)
    actions.add_parser("schema", help="print the JSON Schema of layout files")
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Run the action asked for."""
    actions: dict[str, Callable[[argparse.Namespace], int]] = {
        "lay-out": _lay_out,
        "show": _show,
        "pot-on": _pot_on,
        "replicates": _replicates,
        "schema": _schema,
    }
    try:
        return actions[args.action](args)
    except TepalError as error:
        name = str(error.context.get("name", ""))
        flags = _FLAGS.get(error.code) or _COUNT_FLAGS.get(name)
        if flags is None or error.message.startswith("--"):
            raise
        raise TepalError(error.code, f"{flags}: {error.message}", **error.context) from error


def _lay_out(args: argparse.Namespace) -> int:
    kind = a.KINDS[args.design]
    if bool(args.treatments) == bool(args.factor):
        raise DesignError(
            "designs.treatments_or_factors",
            "Give either --treatments (a list) or --factor (twice or more, a factorial); "
            f"{'both were' if args.treatments else 'neither was'} given.",
        )
    if args.extra and not args.factor:
        raise DesignError(
            "designs.extra_without_factors",
            f"--extra {'; '.join(args.extra)}: it stands beside a factorial; put it first in "
            "--treatments instead.",
        )
    factors = tuple(args.factor or ())
    treatments = (
        factorial_treatments(factors, args.extra or ())
        if factors
        else listed_treatments(args.treatments, args.control_plots)
    )
    if factors and args.control_plots > 1:
        raise DesignError(
            "designs.multiple_not_possible",
            f"--control-plots {args.control_plots}: a factorial has no first treatment to repeat; "
            "use --treatments, or 1.",
        )
    whole = tuple(args.whole_plots or ())
    if kind in SPLIT_PLOTS and not whole:
        raise DesignError(
            "designs.whole_plot_factors",
            f"Design {args.design} needs --whole-plots, the factor that whole plots receive; "
            f"give the name of a --factor ({', '.join(f.name for f in factors) or 'none given'}).",
        )
    spec = DesignSpec(
        kind,
        treatments,
        args.replicates,
        plants_per_plot=args.plants,
        factors=factors,
        whole_plot_factors=whole,
        bench=a.bench_of(args),
    )
    seed = args.draw_seed() if args.seed is None else args.seed
    layout = lay_out(spec, seed)
    text = layout_text(layout)
    if args.treated_together and not args.unit:
        raise DesignError(
            "designs.unit_missing",
            f"--treated-together {args.treated_together}: say with --unit which piece chance gives "
            "to a treatment.",
        )
    if args.unit:
        unit = experimental_unit(args.unit, args.treated_together or args.unit)
        text += f"\n\nExperimental unit: {unit.unit}"
        text += "".join(f"\n  {finding.message}" for finding in unit.findings)
    return _deliver(args, documents.layout_document(layout), text)


def _show(args: argparse.Namespace) -> int:
    document = _read(args.file)
    if isinstance(document, dict) and document.get("what") == "potted_layout":
        print(potted_text(documents.potted_from_document(document)))
        return 0
    layout = documents.layout_from_document(document)
    print(layout_text(layout))
    if same_layout(layout):
        print("Checked: the seed leads to exactly these plots.")
        return 0
    print(
        f"{args.file}: seed {layout.seed} leads to other plots than the file holds; the file was "
        "changed after the randomisation or comes from another version. Trust the stakes on the "
        "bench, and say so in the trial's report.",
        file=sys.stderr,
    )
    return 1


def _pot_on(args: argparse.Namespace) -> int:
    layout: Layout = documents.layout_from_document(_read(args.file))
    bench = a.bench_of(args)
    if bench is None:
        raise DesignError("designs.bench_missing", "Give --bench ROWSxCOLUMNS for the new places.")
    seed = args.draw_seed() if args.seed is None else args.seed
    potted = pot_on(layout, bench, seed, args.plants or None)
    return _deliver(args, documents.potted_document(potted), potted_text(potted))


def _replicates(args: argparse.Namespace) -> int:
    # scipy is loaded only for this question
    from tepal.designs import sizes

    if not 5 <= args.power_pct <= 99.99:
        raise DesignError(
            "designs.size_out_of_range",
            f"--power-pct {args.power_pct:g}: give a chance from 5 to 99.99 per cent, such as 80.",
            name="power_pct",
            value=args.power_pct,
            low=5,
            high=99.99,
        )
    question = sizes.SizeQuestion(
        comparison=a.COMPARISONS[args.compare],
        n_treatments=args.treatments,
        difference_pct=args.difference_pct,
        plot_cv_pct=args.plot_cv_pct,
        plant_cv_pct=args.plant_cv_pct,
        plants_per_plot=args.plants,
        kind=a.SIZED_KINDS[args.design],
        control_multiple=args.control_plots,
        alpha=args.alpha,
        power=args.power_pct / 100,
    )
    have = args.have
    if have is None:
        have = sizes.replicates_needed(question)
        if have is None:
            print(
                f"No trial of up to {sizes.MOST_REPLICATES} replicates finds a difference of "
                f"{question.difference_pct:g} % that often. Use more even plots or ask for a "
                "larger difference.",
                file=sys.stderr,
            )
            return 1
    answer = sizes.size_answer(question, have)
    text = _size_text(args, answer)
    _deliver(args, _size_document(answer), text)
    for finding in answer.findings:
        print(finding.message, file=sys.stderr)
    return 1 if answer.findings else 0


def _schema(_args: argparse.Namespace) -> int:
    print(json.dumps(documents.layout_schema(), indent=2))
    return 0


def _deliver(args: argparse.Namespace, document: dict[str, Any], text: str) -> int:
    """Print the text, or with `--json -` the document; `--json FILE` writes it beside the text."""
    if args.json is None:
        print(text)
        return 0
    body = json.dumps(document, indent=1, ensure_ascii=False) + "\n"
    if args.json == "-":
        print(body, end="")
        return 0
    path = Path(args.json)
    if path.exists() and not args.overwrite:
        raise TepalError(
            "designs.file_exists",
            f"--json {path}: the file exists and may be a trial's only layout; choose another name "
            "or add --overwrite.",
            path=str(path),
        )
    try:
        path.write_text(body, encoding="utf-8")
    except OSError as error:
        raise TepalError(
            "designs.file_not_written",
            f"--json {path}: {error.strerror}; choose a folder you may write to.",
            path=str(path),
        ) from error
    print(text)
    return 0


def _read(name: str) -> Any:
    try:
        text = sys.stdin.read() if name == "-" else Path(name).read_text("utf-8")
        return json.loads(text)
    except OSError as error:
        raise TepalError(
            "designs.file_not_read",
            f"{name}: {error.strerror}; give a layout file that `tepal design lay-out --json` "
            "wrote.",
            path=name,
        ) from error
    except ValueError as error:
        raise TepalError(
            "designs.file_not_json",
            f"{name} is not JSON ({error}); give a layout file that `tepal design lay-out --json` "
            "wrote.",
            path=name,
        ) from error


def _size_document(answer: SizeAnswer) -> dict[str, Any]:
    """Return the answer about size as JSON values."""
    return {
        "question": dataclasses.asdict(answer.question),
        "n_replicates": answer.n_replicates,
        "power": answer.power,
        "detectable_pct": answer.detectable_pct,
        "needed_replicates": answer.needed_replicates,
        "df_error": answer.df_error,
        "findings": [dataclasses.asdict(f) for f in answer.findings],
    }


def _size_text(args: argparse.Namespace, answer: SizeAnswer) -> str:
    """Return the answer about size in words."""
    q = answer.question
    tests = {
        "control": "each treatment against the control (Dunnett)",
        "pairs": "all pairs of treatments (Tukey)",
        "overall": "F test over all treatments",
    }
    unit = {"random": "plot per treatment", "blocks": "block", "latin": "square"}[args.design]
    needed = answer.needed_replicates
    words = "more than 500 replicates" if needed is None else _counted(needed, unit)
    reach = "none" if answer.detectable_pct is None else f"{answer.detectable_pct:.1f} %"
    have = _counted(answer.n_replicates, unit)
    found, wanted = 100 * answer.power, 100 * q.power
    lines = [
        f"Question: {tests[q.comparison]}, {q.n_treatments} treatments, alpha {q.alpha:g}",
        f"Coefficient of variation of plot means: {q.plot_mean_sd_pct:.1f} %",
        f"With {have} (degrees of freedom of error: {answer.df_error}):",
        f"  a true difference of {q.difference_pct:g} % is found in {found:.0f} of 100 such trials",
        f"  smallest difference found in {wanted:g} of 100: {reach}",
        f"Needed for {q.difference_pct:g} %: {words}",
    ]
    return "\n".join(lines)


def _counted(n: int, thing: str) -> str:
    """Return "1 block", "3 blocks", "2 plots per treatment"."""
    first, _, rest = thing.partition(" ")
    return f"{n} {first}{'' if n == 1 else 's'}{' ' + rest if rest else ''}"
