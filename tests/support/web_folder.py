"""The smallest web folder that the server starts with: API tests need no browser app."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathlib import Path

_INDEX = """<!doctype html><meta name="release" content="RELEASE_DIGEST">
<script type="importmap">{"imports": {}}</script>
<!-- modulepreload -->
<script type="module" src="/app/app.js"></script>
"""
_FILES = {
    "index.html": _INDEX,
    "sw.js": 'const RELEASE = "RELEASE_DIGEST";\nconst PRECACHE = [];\n',
    "manifest.webmanifest": "{}",
    "app.js": "",
}


def make_web_folder(folder: Path) -> Path:
    """Write the files into `folder` and return it."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, text in _FILES.items():
        (folder / name).write_text(text)
    return folder
