"""Runs the Node tests of web/app/sync and web/app/net: the shipped modules, no bundler."""

from __future__ import annotations

import subprocess
from pathlib import Path

import pytest

from support.node_calls import node_path

FILES = sorted(Path(__file__).with_name("sync").glob("*.test.mjs"))


def test_every_node_test_file_is_found() -> None:
    assert [path.name for path in FILES] == [
        "exchange.test.mjs", "file-keeping.test.mjs", "http.test.mjs", "ids.test.mjs", "pin.test.mjs",
        "store.test.mjs", "unsent-file.test.mjs",
    ]  # fmt: skip


@pytest.mark.node
@pytest.mark.parametrize("path", FILES, ids=lambda path: path.name.removesuffix(".test.mjs"))
def test_sync_modules_in_node(path: Path) -> None:
    done = subprocess.run(
        [node_path(), "--test", "--test-reporter=tap", str(path)],
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )

    assert done.returncode == 0, done.stdout + done.stderr
    assert "# skipped 0" in done.stdout
    assert "# todo 0" in done.stdout
