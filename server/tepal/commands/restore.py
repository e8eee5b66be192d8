"""`tepal restore FILE`: put a backup back, or rehearse it in a scratch place."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from tepal.domain.errors import TepalError

if TYPE_CHECKING:
    import argparse

    from tepal.config import Config
    from tepal.services.backup import Member


def register(subparsers: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the subcommand."""
    parser = subparsers.add_parser(
        "restore",
        help="put a backup back, or rehearse that it can be",
        description="Puts a backup into the empty place that the settings name, notes the restore "
        "in the journal, and verifies. Phones then send again what the backup lacks. With "
        "--rehearse nothing of the server is touched: the backup goes into a scratch place, is "
        "verified there and removed. Exit code: 0 all good, 1 findings, 2 wrong use.",
    )
    parser.add_argument("source", type=Path, metavar="FILE.tar")
    parser.add_argument("--rehearse", action="store_true", help="into a scratch place, then verify")
    parser.add_argument(
        "--scratch-database", metavar="URL",
        help="an empty PostgreSQL database for the rehearsal of a PostgreSQL backup",
    )  # fmt: skip
    parser.add_argument("--by", metavar="NAME", help="who puts it back: a manager's name")
    parser.add_argument("--note", help="why; kept in the journal")
    parser.add_argument("--lost", metavar="SEQ:HASH", help="the head that was lost, if it is known")
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Restore or rehearse, and print what `tepal verify` finds."""
    import tempfile

    from tepal.config import Config
    from tepal.services.backup import read_about

    config = Config.from_environment()
    about = read_about(args.source)
    if not args.rehearse:
        return _restore(args, config)
    with tempfile.TemporaryDirectory(prefix="tepal-rehearsal-") as folder:
        url = f"sqlite:///{folder}/tepal.db"
        if about["database"] != "sqlite":
            if not args.scratch_database:
                raise TepalError(
                    "backup.scratch", "name an empty database for the rehearsal: --scratch-database"
                )
            url = args.scratch_database
        scratch = Config(url, f"{folder}/photos", web_root=config.web_root)
        good = _put_and_verify(args.source, scratch)
    print("Rehearsal: the backup can be put back." if good else "Rehearsal: FINDINGS, see above.")
    return 0 if good else 1


def _put_and_verify(source: Path, config: Config) -> bool:
    from tepal.app import create_command_app
    from tepal.commands.verify import report_text
    from tepal.photos.storage import PhotoStorage
    from tepal.services.access import only_establishment
    from tepal.services.backup import Place, put_back
    from tepal.services.verify import verify
    from tepal.store.database import db as database
    from tepal.store.database import read_session
    from tepal.store.upgrade import upgrade

    about = put_back(source, Place(config.database_url, config.photos_url))
    print(f"Put back: {about['database']} of {about['made_at']}, {about['n_files']} files")
    with create_command_app(config).app_context():
        upgrade()  # a backup of an earlier version is brought to this one
        with read_session() as db:
            result = verify(db, only_establishment(db), PhotoStorage(config.photos_url), [])
        for engine in database.engines.values():
            engine.dispose()
    print(report_text(result))
    return result.is_good


def _restore(args: argparse.Namespace, config: Config) -> int:
    from tepal.commands.book import open_book
    from tepal.services.backup import members_in
    from tepal.services.restore import mark_restored
    from tepal.store import records
    from tepal.store.database import read_session, write_session

    if not args.by:
        raise TepalError("backup.by_whom", "say who puts it back: --by NAME of a manager")
    lost = args.lost.split(":") if args.lost else None
    if lost is not None and (len(lost) != 2 or not lost[0].isdigit()):
        raise TepalError("backup.lost", "--lost is SEQ:HASH as a phone or a paper shows it")
    _check_by(args.by, members_in(args.source))  # before anything is unpacked
    good = _put_and_verify(args.source, config)
    with open_book(config) as (establishment, chance):
        with read_session() as db:
            people = records.load_all(db, establishment, "member")
        by = [
            one.id
            for one in people
            if (one.fields.get("role"), one.fields.get("name")) == ("manager", args.by)
            # as `_check_by` counts them: a namesake who has left signs for nothing
            and one.fields.get("active") is not False
            and one.state != "void"
        ]
        with write_session() as db:
            mark_restored(
                db, establishment, chance, by=by[0], note=args.note,
                old_seq=int(lost[0]) if lost else None, old_hash=lost[1] if lost else None,
            )  # fmt: skip
    print("Noted in the journal. Look through revoked devices before the server opens again:")
    print("a device that was revoked after this backup is not revoked in it.")
    return 0 if good else 1


def _check_by(name: str, people: list[Member]) -> None:
    """Refuse a name that is not exactly one manager's of the backup.

    Raises
    ------
    TepalError   `backup.by_whom`: with what is wrong, and whose names would do.
    """
    managers = [one for one in people if one.role == "manager" and one.is_active]
    own = [one for one in people if one.name == name]
    if sum(one.name == name for one in managers) == 1:
        return
    if not own:
        wrong = f"the backup has no member {name!r}"
    elif len(own) > 1:
        wrong = f"the backup has {len(own)} members {name!r}"
    elif own[0].role == "manager":
        wrong = f"{name!r} is no longer active in the backup"
    else:
        wrong = f"{name!r} is {own[0].role} in the backup, not manager"
    names = ", ".join(sorted(one.name for one in managers))
    raise TepalError("backup.by_whom", f"{wrong}; nothing was put back. Its managers are: {names}")
