"""The throw-away PostgreSQL cluster: missing is an error, and a dead session's is cleared away."""

from __future__ import annotations

import os
import subprocess
import sys
from typing import TYPE_CHECKING

import pytest

from support import postgres

if TYPE_CHECKING:
    from pathlib import Path


def test_missing_postgresql_is_an_error_and_no_skip(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(postgres, "_PROGRAMS", tmp_path)

    with pytest.raises(RuntimeError, match="apt-get install postgresql"):
        next(postgres.running_cluster())


def test_only_clusters_of_dead_sessions_are_removed(tmp_path: Path) -> None:
    ended = subprocess.Popen([sys.executable, "-c", ""])
    ended.wait()
    dead = tmp_path / f"tepal-pg-{ended.pid}-abc"
    living = tmp_path / f"tepal-pg-{os.getpid()}-abc"
    others = tmp_path / "tepal-pg-abc"
    for folder in (dead, living, others):
        folder.mkdir()

    assert postgres.remove_stale(tmp_path, tmp_path) == [dead]
    assert not dead.exists()
    assert living.exists()
    assert others.exists()
