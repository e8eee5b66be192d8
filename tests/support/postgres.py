"""A throw-away PostgreSQL cluster from Debian's package: started once, stopped at the end."""

from __future__ import annotations

import getpass
import itertools
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


def postgres_programs() -> Path | None:
    """Return the folder of initdb and pg_ctl of the newest installed version, or None."""
    found = sorted(_PROGRAMS.glob("*/bin/pg_ctl"), key=lambda path: float(path.parts[-3]))
    return found[-1].parent if found else None


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
        return port


class Cluster:
    """A running cluster. fsync is off: the tests are about order and locks, not about disks."""

    def __init__(self, programs: Path) -> None:
        self._programs = programs
        self._folder = Path(tempfile.mkdtemp(prefix="tepal-pg-"))
        self._numbers = itertools.count(1)
        self.port = _free_port()
        if getpass.getuser() == "root":  # the server refuses to run as root
            shutil.chown(self._folder, "postgres")
        data = self._folder / "data"
        self._run("initdb", "-D", str(data), "-U", "tepal", "--auth=trust", "-E", "UTF8", "-N")
        options = (
            f"-p {self.port} -c listen_addresses=127.0.0.1 -k {self._folder} -c fsync=off "
            "-c synchronous_commit=off -c full_page_writes=off -c max_connections=60"
        )
        log = str(self._folder / "log")
        self._run("pg_ctl", "-D", str(data), "-l", log, "-w", "-o", options, "start")

    def _run(self, program: str, *arguments: str) -> None:
        command = [str(self._programs / program), *arguments]
        if getpass.getuser() == "root":
            command = ["su", "postgres", "-s", "/bin/sh", "-c", shlex.join(command)]
        subprocess.run(
            command, check=True, cwd=self._folder, stdout=subprocess.DEVNULL, timeout=120
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
        self._run("pg_ctl", "-D", str(self._folder / "data"), "-m", "immediate", "-w", "stop")
        shutil.rmtree(self._folder)


def running_cluster() -> Iterator[Cluster | None]:
    """Yield a cluster for as long as the session lasts; None where PostgreSQL is not installed."""
    programs = postgres_programs()
    if programs is None:
        yield None
        return
    cluster = Cluster(programs)
    try:
        yield cluster
    finally:
        cluster.stop()
