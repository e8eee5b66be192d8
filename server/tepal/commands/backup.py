"""`tepal backup FILE`: database, photos and files of a running server in one tar."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import argparse


def register(subparsers: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the subcommand."""
    parser = subparsers.add_parser(
        "backup",
        help="write database, photos and files into one tar",
        description="Works while the server runs. The file holds hashes of passwords and PINs: it "
        "is written readable by its owner only. Rehearse with `tepal restore FILE --rehearse`. "
        "A folder as target names the file by date.",
        epilog="cron, every night: 30 2 * * * tepal backup /srv/backup/",
    )
    parser.add_argument("target", type=Path, metavar="FILE.tar|FOLDER")
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Write the backup and say what is in it."""
    from datetime import UTC, datetime

    from tepal.config import Config
    from tepal.services.backup import Place, make_backup
    from tepal.services.server_acts import instant_text

    config = Config.from_environment()
    now = datetime.now(UTC)
    target: Path = args.target
    if target.is_dir():
        target /= f"tepal-{now:%Y-%m-%d-%H%M%S}.tar"
    about = make_backup(Place(config.database_url, config.photos_url), target, instant_text(now))
    print(f"{target}: {about['database']}, {about['n_files']} files, {target.stat().st_size} bytes")
    return 0
