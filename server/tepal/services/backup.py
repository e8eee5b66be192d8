"""Backups: one file with the database and every photo and file, and how it is put back.

A backup is a plain tar: `backup.json` (what it is), `tepal.db` or `tepal.sql` (SQLite's own online
copy; PostgreSQL's own dump), `photos/...`, and `digests.txt` (SHA-256 of each). It holds password
and PIN hashes and the hashes of cookies: keep it as you keep the server.
"""

from __future__ import annotations

import hashlib
import io
import itertools
import json
import os
import re
import shutil
import sqlite3
import subprocess
import tarfile
import tempfile
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, NamedTuple

import fsspec
from sqlalchemy.engine import make_url

from tepal import __version__
from tepal.domain.errors import TepalError

if TYPE_CHECKING:
    from collections.abc import Iterator

    from sqlalchemy.engine import URL

FORMAT: Final = "tepal-backup/1"
_SQLITE, _POSTGRES = "tepal.db", "tepal.sql"


class BackupError(TepalError, RuntimeError):
    """A backup cannot be made, or is not one, or does not fit where it is to go."""


@dataclass(frozen=True, slots=True)
class Place:
    """Where a server keeps its things: SQLAlchemy URL and fsspec URL or folder."""

    database_url: str
    photos_url: str

    @property
    def url(self) -> URL:
        """Return the database's address."""
        return make_url(self.database_url)

    @property
    def is_sqlite(self) -> bool:
        """Whether the database is a file."""
        return self.url.get_backend_name() == "sqlite"


def make_backup(place: Place, target: Path, made_at: str) -> dict[str, Any]:
    """Write a backup of a running or resting server; return its `backup.json`.

    The database is copied first: a photo that arrives meanwhile is in the tar and in no record yet,
    never the other way round.

    Raises
    ------
    BackupError   `backup.target_exists`, `backup.no_database`, `backup.program` (pg_dump).
    """
    if target.exists():
        raise BackupError("backup.target_exists", f"{target} is there already; choose another name")
    target.parent.mkdir(parents=True, exist_ok=True)
    part = target.with_name(f"{target.name}.part")
    digests: dict[str, str] = {}
    with tempfile.TemporaryDirectory(prefix="tepal-backup-") as folder:
        dump = Path(folder) / (_SQLITE if place.is_sqlite else _POSTGRES)
        _dump(place, dump)
        with tarfile.open(part, "w") as tar:
            about = {
                "format": FORMAT, "software": f"Tepal {__version__}", "made_at": made_at,
                "database": "sqlite" if place.is_sqlite else "postgresql", "n_files": 0,
            }  # fmt: skip
            _add(tar, dump.name, dump.read_bytes(), digests)
            for name, content in _photos(place.photos_url):
                _add(tar, f"photos/{name}", content, digests)
                about["n_files"] = int(str(about["n_files"])) + 1
            text = json.dumps(about, indent=1).encode()
            _add(tar, "backup.json", text, digests)
            lines = "".join(f"{digest}  {name}\n" for name, digest in sorted(digests.items()))
            _add(tar, "digests.txt", lines.encode(), {})
    part.chmod(0o600)
    with part.open("rb") as file:
        os.fsync(file.fileno())
    part.replace(target)
    return about


def _dump(place: Place, target: Path) -> None:
    if not place.is_sqlite:
        _program(["pg_dump", "--no-owner", "--no-privileges", f"--file={target}"], place.url)
        return
    source = Path(place.url.database or "")
    if not source.is_file():
        raise BackupError("backup.no_database", f"there is no database at {source}")
    with closing(sqlite3.connect(f"file:{source}?mode=ro", uri=True)) as old:  # noqa: SIM117
        with closing(sqlite3.connect(target)) as new:
            old.backup(new)  # a consistent copy while the server writes


def _program(command: list[str], url: URL) -> None:
    """Run a PostgreSQL program against a database; the password goes by environment only."""
    asked = {
        "PGHOST": url.host or "", "PGPORT": str(url.port or ""), "PGUSER": url.username or "",
        "PGPASSWORD": url.password or "", "PGDATABASE": url.database or "",
    }  # fmt: skip
    query = {k: v for k, v in url.query.items() if isinstance(v, str)}
    if "host" in query:
        asked["PGHOST"] = query["host"]
    environment = {**os.environ, **{k: v for k, v in asked.items() if v}}
    program = shutil.which(command[0])
    if program is None:
        raise BackupError("backup.program", f"{command[0]} is not installed: postgresql-client")
    done = subprocess.run(  # noqa: S603 -- a fixed program, no shell
        [program, *command[1:]], env=environment, capture_output=True, text=True, check=False
    )
    if done.returncode:
        raise BackupError("backup.program", f"{command[0]}: {done.stderr.strip()[-400:]}")


def _photos(url: str) -> Iterator[tuple[str, bytes]]:
    fs, root = fsspec.core.url_to_fs(url)
    if not fs.exists(root):
        return
    for path in sorted(fs.find(root)):
        name = str(path)[len(str(root)) :].lstrip("/")
        if not name.endswith(".part"):
            yield name, bytes(fs.cat_file(path))


def _add(tar: tarfile.TarFile, name: str, content: bytes, digests: dict[str, str]) -> None:
    member = tarfile.TarInfo(name)
    member.size, member.mode = len(content), 0o600
    tar.addfile(member, io.BytesIO(content))
    digests[name] = hashlib.sha256(content).hexdigest()


def read_about(source: Path) -> dict[str, Any]:
    """Return what a backup says of itself.

    Raises
    ------
    BackupError   `backup.not_one`.
    """
    try:
        with tarfile.open(source) as tar:
            found = json.loads(_content(tar, "backup.json"))
    except (OSError, tarfile.TarError, ValueError, KeyError) as error:
        raise BackupError("backup.not_one", f"{source} is no backup of Tepal: {error}") from error
    if not isinstance(found, dict) or found.get("format") != FORMAT:
        raise BackupError("backup.not_one", f"{source} is no backup of this format ({FORMAT})")
    return found


def _content(tar: tarfile.TarFile, name: str) -> bytes:
    file = tar.extractfile(name)
    if file is None:
        raise KeyError(name)
    return file.read()


class Member(NamedTuple):
    """A person as a backup has them."""

    name: str
    role: str
    is_active: bool


def members_in(source: Path) -> list[Member]:
    """Return the people of a backup's database, read where it lies: nothing is put back.

    Raises
    ------
    BackupError   `backup.not_one`, `backup.damaged`.
    """
    name = _SQLITE if read_about(source)["database"] == "sqlite" else _POSTGRES
    try:
        with tarfile.open(source) as tar:
            content = _content(tar, name)
        rows = _sqlite_members(content) if name == _SQLITE else _dumped_members(content)
    except (KeyError, sqlite3.Error, ValueError) as error:
        raise BackupError(
            "backup.damaged", f"{name} in {source} is damaged or missing: {error}"
        ) from error
    return [Member(name, role, is_active) for name, role, is_active in rows]


def _sqlite_members(content: bytes) -> list[tuple[str, str, bool]]:
    with tempfile.NamedTemporaryFile(suffix=".db") as file:
        file.write(content)
        file.flush()
        # nobody writes beside it: no journal files are looked for, and none is made
        address = f"file:{file.name}?mode=ro&immutable=1"
        with closing(sqlite3.connect(address, uri=True)) as database:
            rows = database.execute("SELECT name, role, active, state FROM member").fetchall()
    return [
        (str(name), str(role), active != 0 and state != "void")
        for name, role, active, state in rows
    ]


def _dumped_members(dump: bytes) -> list[tuple[str, str, bool]]:
    r"""Read the member rows of pg_dump's text: COPY, values between tabs, to a line with `\.`."""
    lines = iter(dump.decode().split("\n"))
    for line in lines:
        head = re.fullmatch(r"COPY (?:\w+\.)?member \((.*)\) FROM stdin;", line)
        if head is None:
            continue
        columns = [column.strip('" ') for column in head[1].split(",")]
        found = []
        for row in itertools.takewhile(lambda text: text != "\\.", lines):
            told = dict(zip(columns, row.split("\t"), strict=True))
            is_active = told["active"] != "f" and told["state"] != "void"
            found.append((_plain(told["name"]), told["role"], is_active))
        return found
    raise ValueError("it has no members")


def _plain(text: str) -> str:
    """Undo what COPY escapes in a text; a name holds no control character."""
    return text.replace("\\\\", "\\")


def put_back(source: Path, place: Place) -> dict[str, Any]:
    """Put a backup's database and files into an empty place; return its `backup.json`.

    Every digest is checked before anything is written. The caller notes the restore in the journal.

    Raises
    ------
    BackupError   `backup.not_one`, `backup.damaged`, `backup.other_database`, `backup.not_empty`,
                  `backup.program` (psql).
    """
    about = read_about(source)
    if (about["database"] == "sqlite") != place.is_sqlite:
        raise BackupError(
            "backup.other_database", f"the backup is of {about['database']}, the server is not"
        )
    _check(source)
    with tarfile.open(source) as tar:
        if place.is_sqlite:
            target = Path(place.url.database or "")
            if target.exists():
                raise BackupError("backup.not_empty", f"{target} is there: move it away first")
            target.parent.mkdir(parents=True, exist_ok=True)
            target.write_bytes(_content(tar, _SQLITE))
        else:
            _into_postgres(place, _content(tar, _POSTGRES))
        fs, root = fsspec.core.url_to_fs(place.photos_url)
        for member in tar.getmembers():
            if member.name.startswith("photos/") and ".." not in member.name.split("/"):
                path = f"{root}/{member.name.removeprefix('photos/')}"
                fs.makedirs(path.rsplit("/", 1)[0], exist_ok=True)
                with fs.open(path, "wb") as file:
                    file.write(_content(tar, member.name))
    return about


def _check(source: Path) -> None:
    with tarfile.open(source) as tar:
        lines = _content(tar, "digests.txt").decode().splitlines()
        listed = {name: digest for digest, _, name in (line.partition("  ") for line in lines)}
        for name, digest in listed.items():
            try:
                found = hashlib.sha256(_content(tar, name)).hexdigest()
            except KeyError:
                found = ""
            if found != digest:
                raise BackupError("backup.damaged", f"{name} in {source} is damaged or missing")


def _into_postgres(place: Place, dump: bytes) -> None:
    with tempfile.NamedTemporaryFile(suffix=".sql") as file:
        file.write(dump)
        file.flush()
        _program(
            ["psql", "--quiet", "--single-transaction", "--set=ON_ERROR_STOP=1",
             f"--file={file.name}"],
            place.url,
        )  # fmt: skip
