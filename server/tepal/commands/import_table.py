"""`tepal import FILE --kind KIND`: products, label uses, lots and places from CSV or XLSX."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from tepal.domain.errors import TepalError

if TYPE_CHECKING:
    import argparse

    from tepal.domain.words import Words
    from tepal.services.import_plan import Plan, Problem


def register(subparsers: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the subcommand."""
    parser = subparsers.add_parser(
        "import",
        help="bring in products, label uses, lots or places from CSV or XLSX",
        description="Reads a table and creates a record a row, all or none. Columns are matched by "
        "their headers; units stand in the header, as in `Length (m)`. A product's label uses "
        "stand in its own row, a use a row, or in a second sheet that names the product by "
        "registration number or name. Exit code: 0 done, "
        "1 problems (named, nothing written), 2 wrong use.",
    )
    parser.add_argument("file", type=Path, metavar="FILE")
    parser.add_argument(
        "--kind", required=True, choices=("product", "label_use", "lot", "house", "bay", "bench")
    )
    parser.add_argument("--sheet", help="the sheet of an XLSX file; the first by default")
    parser.add_argument(
        "--map", action="append", default=[], metavar="HEADER=FIELD",
        help="what a column is; `HEADER=` leaves it out; may be given again",
    )  # fmt: skip
    parser.add_argument(
        "--unit", action="append", default=[], metavar="HEADER=UNIT", help="a column's UCUM unit"
    )
    parser.add_argument(
        "--uses-sheet", metavar="SHEET",
        help="with products: the sheet of label uses; one called `label uses` by default, "
        "an empty name for none",
    )  # fmt: skip
    parser.add_argument(
        "--uses-map", action="append", default=[], metavar="HEADER=FIELD",
        help="what a column of the sheet of label uses is",
    )  # fmt: skip
    parser.add_argument("--decimal", choices=(".", ","), help="the file's decimal sign")
    parser.add_argument("--dates", choices=("dmy", "mdy"), help="the order in 03/02/2026")
    parser.add_argument(
        "--dry-run", action="store_true", help="say what would happen, write nothing"
    )
    parser.add_argument("--by", metavar="NAME", help="the manager whose name stands in the entries")
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Import, or say what stands against it."""
    from tepal.commands.book import open_book
    from tepal.config import Config
    from tepal.services.catalogue import words_for
    from tepal.services.import_values import Ways
    from tepal.services.imports import AskedImport, AskedUses, carry_out, dry_run
    from tepal.services.members import manager_named
    from tepal.store.database import read_session, write_session

    uses = None
    if args.uses_sheet is not None:
        uses = AskedUses(args.uses_sheet or None, _mapping(args.uses_map))
    elif args.uses_map:
        raise TepalError("import.no_uses_sheet", "--uses-map needs --uses-sheet, with its name")
    asked = AskedImport(
        args.file.name, args.file.read_bytes(), args.kind, args.sheet, _mapping(args.map),
        dict(map(_pair, args.unit)), Ways(args.decimal, args.dates), uses,
    )  # fmt: skip
    with open_book() as (establishment, chance):
        with read_session() as db:
            plan = dry_run(db, establishment, asked)
            member = manager_named(db, establishment, args.by)
        print(_text(plan, words_for(Config.from_environment().web_root / "locale", "en")))
        if plan.all_problems():
            return 1
        if not args.dry_run:
            with write_session() as db:
                found = carry_out(db, establishment, asked, member, chance)
            print(f"{found.n_created} created, {found.n_uses} label uses added.")
    return 0


def _mapping(pairs: list[str]) -> dict[str, str | None]:
    return {header: name or None for header, name in map(_pair, pairs)}


def _pair(text: str) -> tuple[str, str]:
    header, equals, value = text.rpartition("=")
    if not equals:
        raise TepalError("import.not_a_pair", f"{text!r} is not HEADER=VALUE")
    return header, value.strip()


def _text(plan: Plan, words: Words) -> str:
    lines = [
        f"{plan.sheet}: {plan.n_rows} rows; {len(plan.records)} new, {plan.n_known} here already"
    ]
    lines += _columns(plan)
    if plan.uses:
        lines += [f"{plan.uses.sheet}: {plan.uses.n_rows} rows of label uses", *_columns(plan.uses)]
    if n_uses := plan.n_uses + (plan.uses.n_uses if plan.uses else 0):
        lines.append(f"{n_uses} label uses new")
    lines += [
        f"PROBLEM {one.sheet}, row {one.row}, column {one.column!r}, {one.value!r}: "
        + _cure(one, words)
        for one in plan.all_problems()
    ]
    return "\n".join(lines)


# what the page answers in its own fields, this command in its options
_OPTIONS = {
    "import.ambiguous_number": "it can be read in two ways; say which with --decimal",
    "import.ambiguous_day": "it can be read in two ways; say which with --dates",
    "import.unit_missing": "the unit is missing; name it in the header or with --unit HEADER=UNIT",
}


def _cure(problem: Problem, words: Words) -> str:
    if problem.code in _OPTIONS:
        allowed = problem.params.get("units")
        return _OPTIONS[problem.code] + (f"; allowed: {allowed}" if allowed else "")
    code = f"problem.{problem.code}"
    return words.text(code, **problem.params) if code in words else problem.code


def _columns(plan: Plan) -> list[str]:
    return [
        f"  {column.header} -> {column.field or 'left out'} {column.unit or ''}".rstrip()
        for column in plan.columns
    ]
