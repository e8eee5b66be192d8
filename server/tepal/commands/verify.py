"""`tepal verify`: replay the journal and say whether tables, photos and anchors agree with it."""

from __future__ import annotations

import argparse
import dataclasses
import json
import re
from typing import TYPE_CHECKING

from tepal.app import create_command_app
from tepal.commands.book import require_current, require_database
from tepal.config import Config
from tepal.photos.storage import PhotoStorage
from tepal.services.access import only_establishment
from tepal.services.verify import VerifyResult, verify
from tepal.store.database import read_session

if TYPE_CHECKING:
    from tepal.sync.replay import Fault

_ANCHOR = re.compile(r"([0-9]{1,15}):([0-9a-f]{16,64})")


def register(subparsers: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the subcommand."""
    parser = subparsers.add_parser(
        "verify",
        help="replay the journal: are tables and photos what it says?",
        description="Replays the whole journal, compares the tables, the devices' numbers and the "
        "photo files with it, and judges anchors. Exit code: 0 all good (an anchor in a stretch "
        "that a restore gave up is told, and is good), 1 findings, 2 wrong use.",
    )
    parser.add_argument(
        "--anchor", action="append", default=[], type=_anchor, metavar="SEQ:HASH",
        help="a place in the journal as a paper or a phone shows it; may be given again",
    )  # fmt: skip
    parser.add_argument("--no-photos", action="store_true", help="leave the photo files out")
    parser.add_argument("--json", action="store_true", help="print one JSON object")
    parser.set_defaults(run=run)


def _anchor(text: str) -> tuple[int, str]:
    match = _ANCHOR.fullmatch(text.strip().lower())
    if match is None:
        raise argparse.ArgumentTypeError(f"{text!r} is not SEQ:HASH (16 to 64 hex characters)")
    return int(match[1]), match[2]


def run(args: argparse.Namespace) -> int:
    """Verify the server's establishment and print what was found."""
    config = Config.from_environment()
    require_database(config)
    with create_command_app(config).app_context():
        require_current()
        storage = None if args.no_photos else PhotoStorage(config.photos_url)
        with read_session() as db:
            result = verify(db, only_establishment(db), storage, args.anchor)
    print(json.dumps(dataclasses.asdict(result)) if args.json else report_text(result))
    return 0 if result.is_good else 1


def report_text(result: VerifyResult) -> str:
    """Return what was found, a line each."""
    lines = [
        f"Journal: {result.seq} entries, head {result.seq}:{result.hash[:16]}",
        f"Compared: {result.n_records} records, {result.n_photos} photo files",
    ]
    if result.n_redacted:
        lines.append(
            f"Redacted: {result.n_redacted} texts redacted; the chain covers their digests"
        )
    lines += [f"Given up in a restore: {after + 1} to {upto}" for after, upto in result.lost]
    lines += [f"Anchor {a.seq}:{a.hash[:16]}: {a.word}" for a in result.anchors]
    lines += [_fault_line(fault) for fault in result.faults]
    lines.append("All good." if result.is_good else "NOT as the journal says.")
    return "\n".join(lines)


def _fault_line(fault: Fault) -> str:
    place = [f"seq {fault.seq}"] if fault.seq is not None else []
    place += [part for part in (fault.kind, fault.record, fault.field) if part is not None]
    return f"FAULT {fault.code}: {' '.join(place)}"
