"""`tepal mix FILE.json`: computes a mix and prints it as JSON or as text.

The file follows mix.schema.json (`tepal mix --schema` prints it); `-` reads standard input.
"""

from __future__ import annotations

import dataclasses
import json
import sys
from importlib import resources
from pathlib import Path
from typing import TYPE_CHECKING, Any

from tepal.domain.errors import TepalError
from tepal.domain.rounding import PLAIN_FORMAT, NumberFormat, format_number, format_quantity
from tepal.domain.tank import TankPlan, tank_plan

if TYPE_CHECKING:
    import argparse

    from tepal.domain.loads import LoadAmount


class MixFileError(TepalError, ValueError):
    """The file cannot be read as a mix."""


CAUTION = (
    "The label is the law. Check product, crop, site, method, limits, PPE and REI on it before "
    "mixing; local rules and licensed advice stand above this computation."
)


def register(subparsers: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the command's arguments."""
    parser = subparsers.add_parser("mix", help="compute a mix from a JSON file")
    parser.add_argument("file", nargs="?", help="JSON file of the mix, or - for standard input")
    parser.add_argument("--format", choices=("json", "text"), default="json")
    parser.add_argument("--schema", action="store_true", help="print the JSON Schema of the file")
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Print the plan; 0 done, 1 with a finding that says stop."""
    if args.schema:
        print(schema_text(), end="")
        return 0
    plan_request = _request(args.file)
    plan = tank_plan(plan_request)
    if args.format == "json":
        print(json.dumps(dataclasses.asdict(plan), ensure_ascii=False, indent=2))
    else:
        print("\n".join(text_lines(plan, plan_request.get("number_format") or PLAIN_FORMAT)))
    return 1 if any(finding.severity == "stop" for finding in plan.findings) else 0


def schema_text() -> str:
    """Return the JSON Schema of a mix file."""
    return resources.files("tepal.domain").joinpath("mix.schema.json").read_text(encoding="utf-8")


def _request(name: str | None) -> dict[str, Any]:
    if name is None:
        raise MixFileError("mix_file.missing", "Name the JSON file of the mix, or - for input.")
    try:
        text = sys.stdin.read() if name == "-" else Path(name).read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise MixFileError(
            "mix_file.unreadable", f"{name} cannot be read: {error}.", file=name
        ) from error
    try:
        request = json.loads(text, parse_constant=_refuse_constant)
    except ValueError as error:
        raise MixFileError(
            "mix_file.not_json", f"{name} is not JSON: {error}.", file=name
        ) from error
    if not isinstance(request, dict):
        raise MixFileError("mix_file.not_json", f"{name} holds no mix.", file=name)
    return request


def _refuse_constant(name: str) -> None:
    msg = f"{name} is no number"
    raise ValueError(msg)


def text_lines(plan: TankPlan, number_format: NumberFormat) -> list[str]:
    """Return the plan as lines to read at the mixing place."""
    names = {component.id: component.product_name for component in plan.components}
    lines = [CAUTION, "", f"Method: {plan.method}"]
    lines.append(f"Into tanks: {plan.volume_text.metric} ({plan.volume_text.us})")
    if plan.injector_factor != 1:
        factor = format_quantity(plan.injector_factor, "1", number_format)
        lines.append(f"Stock for an injector that dilutes it {factor} times")
    for load in plan.loads:
        first, last = load.numbers[0], load.numbers[-1]
        title = f"Load {first}" if first == last else f"Each of loads {first} to {last}"
        lines += ["", f"{title}: {load.volume_text.metric} ({load.volume_text.us})"]
        half = load.water_half_text
        lines.append(f"  1. Water: fill half, {half.metric} ({half.us}); start agitation")
        for number, amount in enumerate(load.amounts, start=2):
            name = names[amount.component_id]
            lines += [f"  {number}. {name}: {text}" for text in _amount(amount, number_format)]
        lines.append(f"  {len(load.amounts) + 2}. Water up to {load.volume_text.metric}")
    lines += ["", "Lines:"]
    for line in plan.lines:
        where = " ".join(part for part in (line.bench, line.lot) if part) or line.id
        lines.append(f"  {where}: {line.volume_text.metric} ({line.volume_text.us})")
        for share in line.ais:
            doses = [format_quantity(share.mg, "mg", number_format)]
            if share.mg_per_m2 is not None:
                doses.append(format_quantity(share.mg_per_m2, "mg/m2", number_format))
            if share.mg_per_container is not None:
                doses.append(format_quantity(share.mg_per_container, "mg/{pot}", number_format))
            if share.mg_per_plant is not None:
                doses.append(format_quantity(share.mg_per_plant, "mg/{plant}", number_format))
            lines.append(f"    {share.ai}: {', '.join(doses)}")
    if plan.use_within_h is not None:
        lines += ["", f"Use within {format_quantity(plan.use_within_h, 'h', number_format)}"]
    lines += ["", f"Left over: {format_quantity(plan.extra_l, 'L', number_format)}"]
    lines += [f"  {option.message} ({option.source})" for option in plan.leftover_options]
    if plan.findings:
        lines += ["", "Findings:"]
        lines += [f"  {finding.severity}: {finding.message}" for finding in plan.findings]
    return lines


def _amount(amount: LoadAmount, number_format: NumberFormat) -> list[str]:
    exact = f"exact {amount.text.metric}, {amount.text.us}"
    error = "" if amount.error_pct is None else format_number(amount.error_pct, 1, number_format)
    if amount.two_step is not None:
        step = amount.two_step
        first = f"{step.product.text} ({step.product.instrument_name})"
        second = f"{step.aliquot.text} of that ({step.aliquot.instrument_name})"
        return [
            f"step 1: {first}, made up with water to {step.stock_text}",
            f"step 2: {second}; {exact}, error {error} %",
        ]
    if amount.measured is None:
        return [f"{exact}; no instrument on file measures it"]
    measured = amount.measured
    fills = "" if measured.n_fills == 1 else f", {measured.n_fills} fills"
    return [f"{measured.text} ({measured.instrument_name}{fills}); {exact}, error {error} %"]
