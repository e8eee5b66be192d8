"""`tepal report`: papers and data of a month without a browser, for cron."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING

from tepal.domain.errors import TepalError

if TYPE_CHECKING:
    import argparse

    from sqlalchemy.orm import Session as DbSession


def register(subparsers: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the subcommand."""
    parser = subparsers.add_parser(
        "report",
        help="print a month as PDF, or write it as JSON or CSV",
        description="Writes the applications of a month, by the local date of their start. The PDF "
        "is the monthly record: stored, numbered, and a reprint says what changed. JSON follows "
        "the schema that --schema prints; CSV has a row for each product.",
        epilog="cron, on the 1st at five, for the month before: 0 5 1 * * tepal report month "
        "--month $(date -d yesterday +\\%%Y-\\%%m) --out /srv/book/",
    )
    parser.add_argument("what", choices=("month", "schema"), help="a month, or the JSON Schema")
    parser.add_argument("--month", metavar="YYYY-MM")
    parser.add_argument(
        "--house", metavar="NAME", help="name, code or id of a house; all if left out"
    )
    parser.add_argument("--language", choices=("en", "es"), default="en")
    parser.add_argument("--form", choices=("pdf", "json", "csv"), default="pdf")
    parser.add_argument(
        "--out", type=Path, metavar="FILE|FOLDER",
        help="where to write; in a folder the file is named applications-YYYY-MM.FORM",
    )  # fmt: skip
    parser.add_argument("--force", action="store_true", help="write over a file that is there")
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Write the file and say where."""
    from tepal.services.office import check_month
    from tepal.services.period_export import period_schema

    if args.what == "schema":
        print(json.dumps(period_schema(), indent=1))
        return 0
    if args.month is not None:
        check_month(args.month)
    if args.month is None or args.out is None:
        raise TepalError("report.which", "say which month and where to: --month 2026-10 --out FILE")
    target: Path = args.out
    if target.is_dir():
        target /= f"applications-{args.month}.{args.form}"
    if target.exists() and not args.force:
        raise TepalError(
            "report.target_exists", f"{target} is there already; --force writes over it"
        )
    content = _content(args)
    part = target.with_name(f"{target.name}.part")
    part.write_bytes(content)
    part.replace(target)
    print(f"{target}: {len(content)} bytes")
    return 0


def _content(args: argparse.Namespace) -> bytes:
    import calendar

    from tepal.commands.book import open_book
    from tepal.config import Config
    from tepal.services.month_paper import print_month
    from tepal.services.office import check_month
    from tepal.services.papers import Printing
    from tepal.services.period_export import period_csv, period_document
    from tepal.store.database import read_session

    config = Config.from_environment()
    with open_book(config) as (establishment, chance):
        check_month(args.month)
        with read_session() as db:
            house = _house(db, establishment, args.house)
        if args.form == "pdf":
            with read_session() as db:
                printing = Printing(
                    db, establishment, args.language, config.web_root / "locale", "", chance
                )
                return print_month(printing, args.month, house=house)
        year, month = (int(part) for part in args.month.split("-"))
        last = f"{args.month}-{calendar.monthrange(year, month)[1]:02d}"
        with read_session() as db:
            document = period_document(
                db, establishment, f"{args.month}-01", last, now=chance.instant(), house=house
            )
    if args.form == "csv":
        return period_csv(document).encode("utf-8-sig")  # spreadsheets guess the encoding else
    return (json.dumps(document, ensure_ascii=False, indent=1) + "\n").encode()


def _house(db: DbSession, establishment: str, asked: str | None) -> str | None:
    """Return the id of the house that a name, a code or an id means."""
    from tepal.store import records

    if asked is None:
        return None
    houses = [h for h in records.load_all(db, establishment, "house") if h.state != "void"]
    found = [h for h in houses if asked in (h.id, h.fields.get("name"), h.fields.get("code"))]
    if len(found) == 1:
        return found[0].id
    known = ", ".join(sorted(str(h.fields.get("name")) for h in houses))
    raise TepalError("report.which_house", f"{asked!r} is not one house; there are: {known}")
