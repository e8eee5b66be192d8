"""`tepal export FOLDER|FILE.zip`: everything in open formats."""

from __future__ import annotations

import zipfile
from pathlib import Path
from typing import TYPE_CHECKING

from tepal.domain.errors import TepalError

if TYPE_CHECKING:
    import argparse


def register(subparsers: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the subcommand."""
    parser = subparsers.add_parser(
        "export",
        help="write everything in open formats",
        description="Writes records (JSON and CSV), the journal, papers, photos and files, and JSON"
        " Schemas. No secrets are in it. An existing file or a folder with anything in it is left "
        "alone.",
    )
    parser.add_argument("target", type=Path, metavar="FOLDER|FILE.zip")
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Write the export and say what is in it."""
    from tepal.commands.book import open_book
    from tepal.config import Config
    from tepal.photos.storage import PhotoStorage
    from tepal.services.export_book import export_files, write_export
    from tepal.store.database import read_session

    target: Path = args.target
    if target.exists() and (target.is_file() or any(target.iterdir())):
        raise TepalError("export.target_exists", f"{target} is there already; choose another name")
    config = Config.from_environment()
    storage = PhotoStorage(config.photos_url)
    with open_book(config) as (establishment, chance), read_session() as db:
        files = export_files(db, establishment, storage, chance.instant())
        if target.suffix == ".zip":
            with zipfile.ZipFile(target, "x", zipfile.ZIP_DEFLATED) as packed:
                found = write_export(files, packed.writestr)
        else:

            def write(path: str, content: bytes) -> None:
                (target / path).parent.mkdir(parents=True, exist_ok=True)
                (target / path).write_bytes(content)

            found = write_export(files, write)
    print(f"{found[0]} files, {found[1] / 1e6:.1f} MB in {target}")
    return 0
