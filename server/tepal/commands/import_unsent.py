"""`tepal import-unsent FILE`: take back the entries and photos that a phone saved to a file."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import argparse


def register(subparsers: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the subcommand."""
    parser = subparsers.add_parser(
        "import-unsent",
        help="take back the entries and photos that a phone saved to a file",
        description="Takes the entries and photos of a file that a phone's sync page saved. The "
        "entries are held until a grower or manager accepts them; the same file twice does no "
        "harm.",
    )
    parser.add_argument("file", type=Path, metavar="FILE", help="tepal-unsent-....json")
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Take the file in and say how many entries wait now."""
    from tepal.commands.book import open_book
    from tepal.config import Config
    from tepal.photos.storage import PhotoStorage
    from tepal.services.unsent import take_unsent
    from tepal.store.database import write_session

    config = Config.from_environment()
    storage = PhotoStorage(config.photos_url)
    with open_book(config) as (establishment, chance), write_session() as db:
        content = args.file.read_bytes()
        found = take_unsent(db, storage, establishment, content, chance.instant())
    print(
        f"{found.n_entries} entries of {found.device_label or 'a phone'}: "
        f"{found.n_quarantined} wait for a grower or manager, {found.n_known} were here already."
    )
    if found.n_photos:
        n_new = found.n_photos - found.n_photos_known - found.n_photos_refused
        print(
            f"{found.n_photos} photos and files: {n_new} taken in, {found.n_photos_known} were "
            f"here already, {found.n_photos_refused} are damaged or of no known sort."
        )
    return 0
