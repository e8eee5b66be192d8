"""`tepal import-unsent FILE`: take back the entries that a phone saved to a file."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import argparse


def register(subparsers: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the subcommand."""
    parser = subparsers.add_parser(
        "import-unsent",
        help="take back the entries that a phone saved to a file",
        description="Takes the entries of a file that a phone's sync page saved. They are held "
        "until a grower or manager accepts them; the same file twice does no harm.",
    )
    parser.add_argument("file", type=Path, metavar="FILE", help="tepal-unsent-....json")
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Take the file in and say how many entries wait now."""
    from tepal.commands.book import open_book
    from tepal.services.unsent import take_unsent
    from tepal.store.database import write_session

    with open_book() as (establishment, chance), write_session() as db:
        found = take_unsent(db, establishment, args.file.read_bytes(), chance.instant())
    print(
        f"{found.n_entries} entries of {found.device_label or 'a phone'}: "
        f"{found.n_quarantined} wait for a grower or manager, {found.n_known} were here already."
    )
    return 0
