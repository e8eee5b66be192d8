"""`tepal import FILE --kind KIND`: products, lots and places from a CSV or XLSX table."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from tepal.domain.errors import TepalError

if TYPE_CHECKING:
    import argparse

    from tepal.services.import_plan import Plan


def register(subparsers: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the subcommand."""
    parser = subparsers.add_parser(
        "import",
        help="bring in products, lots or places from CSV or XLSX",
        description="Reads a table and creates a record a row, all or none. Columns are matched by "
        "their headers; units stand in the header, as in `Length (m)`. Exit code: 0 done, "
        "1 problems (named, nothing written), 2 wrong use.",
    )
    parser.add_argument("file", type=Path, metavar="FILE")
    parser.add_argument(
        "--kind", required=True, choices=("product", "lot", "house", "bay", "bench")
    )
    parser.add_argument("--sheet", help="the sheet of an XLSX file; the first by default")
    parser.add_argument(
        "--map", action="append", default=[], metavar="HEADER=FIELD",
        help="what a column is; `HEADER=` leaves it out; may be given again",
    )  # fmt: skip
    parser.add_argument(
        "--unit", action="append", default=[], metavar="HEADER=UNIT", help="a column's UCUM unit"
    )
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
    from tepal.services.import_values import Ways
    from tepal.services.imports import AskedImport, carry_out, dry_run
    from tepal.services.members import manager_named
    from tepal.store.database import read_session, write_session

    mapping = {header: name or None for header, name in map(_pair, args.map)}
    asked = AskedImport(
        args.file.name, args.file.read_bytes(), args.kind, args.sheet, dict(mapping),
        dict(map(_pair, args.unit)), Ways(args.decimal, args.dates),
    )  # fmt: skip
    with open_book() as (establishment, chance):
        with read_session() as db:
            plan = dry_run(db, establishment, asked)
            member = manager_named(db, establishment, args.by)
        print(_text(plan))
        if plan.problems:
            return 1
        if not args.dry_run:
            with write_session() as db:
                found = carry_out(db, establishment, asked, member, chance)
            print(f"{found.n_created} created.")
    return 0


def _pair(text: str) -> tuple[str, str]:
    header, equals, value = text.rpartition("=")
    if not equals:
        raise TepalError("import.not_a_pair", f"{text!r} is not HEADER=VALUE")
    return header, value.strip()


def _text(plan: Plan) -> str:
    lines = [
        f"{plan.sheet}: {plan.n_rows} rows; {len(plan.records)} new, {plan.n_known} here already"
    ]
    lines += [
        f"  {column.header} -> {column.field or 'left out'} {column.unit or ''}".rstrip()
        for column in plan.columns
    ]
    lines += [
        f"PROBLEM {one.sheet}, row {one.row}, column {one.column!r}: {one.value!r}: {one.code}"
        + "".join(f", {name}: {value}" for name, value in one.params.items())
        for one in plan.problems
    ]
    return "\n".join(lines)
