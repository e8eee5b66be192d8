"""`tepal redact --member ID`: take a person's name out of the book, without breaking the chain."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import argparse


def register(subparsers: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the subcommand."""
    parser = subparsers.add_parser(
        "redact",
        help="take a person's name out of the book, without breaking the chain",
        description="Takes the names and numbers of a person who no longer works here out of "
        "entries, records and papers, once nothing that names the person must be kept any longer. "
        "It can't be undone; `tepal verify` says how many texts are redacted.",
    )
    parser.add_argument("--member", required=True, metavar="ID", help="the id in the export")
    parser.add_argument("--by", metavar="NAME", help="the manager whose name stands in the entry")
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Redact and say what was changed."""
    from tepal.commands.book import open_book
    from tepal.services.members import manager_named
    from tepal.services.redaction import redact
    from tepal.store.database import read_session, write_session

    with open_book() as (establishment, chance):
        with read_session() as db:
            by = manager_named(db, establishment, args.by)
        with write_session() as db:
            found = redact(db, establishment, args.member, by, chance)
    print(
        f"{found.n_texts} entries and {found.n_records} records now say "
        f"{found.placeholder!r}. Phones read the records again at their next exchange."
    )
    return 0
