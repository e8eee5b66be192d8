"""A throw-away PostgreSQL cluster from Debian's package: started once, stopped at the end."""

from __future__ import annotations

import contextlib
import getpass
import itertools
import os
import shlex
import shutil
import socket
import subprocess
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING

import psycopg

if TYPE_CHECKING:
    from collections.abc import Iterator

_PROGRAMS = Path("/usr/lib/postgresql")
_PREFIX = "tepal-pg-"  # then the process id of the session that made it, and a random part


def postgres_programs() -> Path:
    """Return the folder of initdb and pg_ctl of the newest installed version.

    Raises
    ------
    RuntimeError   none is installed. A skipped test would be a promise that nobody checked.
    """
    found = sorted(_PROGRAMS.glob("*/bin/pg_ctl"), key=lambda path: float(path.parts[-3]))
    if not found:
        raise RuntimeError(
            f"PostgreSQL is not installed ({_PROGRAMS}): `apt-get install postgresql`, or leave "
            "these tests out with -m 'not postgres'"
        )
    return found[-1].parent


def remove_stale(programs: Path, place: Path) -> list[Path]:
    """Stop and remove the clusters in `place` whose sessions are gone; return their folders.

    A session that is killed leaves its cluster running: nobody else would ever stop it.
    """
    removed = []
    for folder in place.glob(f"{_PREFIX}*-*"):
        pid = folder.name.removeprefix(_PREFIX).split("-")[0]
        if not pid.isdigit() or Path(f"/proc/{pid}").exists():
            continue
        if (folder / "data" / "postmaster.pid").exists():
            with contextlib.suppress(subprocess.CalledProcessError):  # it is dead already
                _stop(programs, folder)
        shutil.rmtree(folder, ignore_errors=True)  # another session may be removing it as well
        removed.append(folder)
    return removed


def _run(folder: Path, program: Path, *arguments: str) -> None:
    command = [str(program), *arguments]
    if getpass.getuser() == "root":  # the server refuses to run as root
        command = ["su", "postgres", "-s", "/bin/sh", "-c", shlex.join(command)]
    subprocess.run(command, check=True, cwd=folder, stdout=subprocess.DEVNULL, timeout=120)


def _stop(programs: Path, folder: Path) -> None:
    _run(
        folder, programs / "pg_ctl", "-D", str(folder / "data"), "-m", "immediate", "-w", "stop"
    )  # fmt: skip


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
        return port


class Cluster:
    """A running cluster. fsync is off: the tests are about order and locks, not about disks."""

    def __init__(self, programs: Path) -> None:
        self._programs = programs
        self._folder = Path(tempfile.mkdtemp(prefix=f"{_PREFIX}{os.getpid()}-"))
        self._numbers = itertools.count(1)
        self.port = _free_port()
        if getpass.getuser() == "root":
            shutil.chown(self._folder, "postgres")
        data = self._folder / "data"
        _run(
            self._folder,
            programs / "initdb",
            "-D",
            str(data),
            "-U",
            "tepal",
            "--auth=trust",
            "-E",
            "UTF8",
            "-N",
        )
        options = (
            f"-p {self.port} -c listen_addresses=127.0.0.1 -k {self._folder} -c fsync=off "
            "-c synchronous_commit=off -c full_page_writes=off -c max_connections=60"
        )
        log = str(self._folder / "log")
        _run(
            self._folder,
            programs / "pg_ctl",
            "-D",
            str(data),
            "-l",
            log,
            "-w",
            "-o",
            options,
            "start",
        )

    def new_database(self) -> str:
        """Create an empty database and return its SQLAlchemy URL."""
        name = f"book{next(self._numbers)}"
        with psycopg.connect(self._address("postgres"), autocommit=True) as connection:
            connection.execute(f"CREATE DATABASE {name}")
        return f"postgresql+psycopg://tepal@127.0.0.1:{self.port}/{name}"

    def _address(self, database: str) -> str:
        return f"host=127.0.0.1 port={self.port} user=tepal dbname={database}"

    def stop(self) -> None:
        """Stop the server and remove its folder."""
        _stop(self._programs, self._folder)
        shutil.rmtree(self._folder)


def running_cluster() -> Iterator[Cluster]:
    """Yield a cluster for as long as the session lasts."""
    programs = postgres_programs()
    remove_stale(programs, Path(tempfile.gettempdir()))
    cluster = Cluster(programs)
    try:
        yield cluster
    finally:
        cluster.stop()
