"""Vendored files are the ones VENDOR.md names, byte for byte, and there is one copy of each."""

from __future__ import annotations

import hashlib
import json
import re
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
APP = ROOT / "web" / "app"


def rows() -> list[list[str]]:
    lines = (APP / "vendor" / "VENDOR.md").read_text().splitlines()
    return [
        [cell.strip() for cell in line.strip("|").split("|")]
        for line in lines
        if line.startswith(("| vendor/", "| fonts/"))
    ]


def test_every_vendored_file_has_the_hash_in_the_list() -> None:
    for path, *_, digest in rows():
        assert hashlib.sha256((APP / path).read_bytes()).hexdigest() == digest, path


def test_list_names_every_vendored_file() -> None:
    there = {
        file.relative_to(APP).as_posix()
        for folder in ("vendor", "fonts")
        for file in (APP / folder).iterdir()
        if file.name != "VENDOR.md"
    }

    assert {row[0] for row in rows()} == there


def test_list_has_the_versions_that_are_pinned() -> None:
    pinned = json.loads((ROOT / "web" / "tools" / "package.json").read_text())["devDependencies"]

    for path, package, version, *_ in rows():
        assert pinned[package] == version, path


def test_every_licence_text_is_kept() -> None:
    licences = (ROOT / "server" / "LICENSES-VENDORED.md").read_text()

    for _, package, version, *_ in rows():
        assert f"### {package} {version} (" in licences


def test_preact_is_in_one_file_only() -> None:
    """A second copy breaks signals silently; the others must import it by name."""
    for path in (APP / "vendor").glob("*.js"):
        names = set(re.findall(r'from"(@?[a-z][\w/@-]*)"', path.read_text()))
        known = {"preact", "preact/hooks", "@preact/signals-core"}
        if path.name in ("preact-hooks.js", "signals.js", "preact-iso.js"):
            assert "preact" in names
        if path.name not in ("dexie.js", "uplot.js"):
            assert names <= known, path.name


def test_lock_file_names_no_registry() -> None:
    lock = json.loads((ROOT / "web" / "tools" / "package-lock.json").read_text())

    for name, entry in lock["packages"].items():
        assert "resolved" not in entry, name
        if name:
            assert "integrity" in entry, name
