"""A small web folder with everything that `WebAssets` asks for, for tests to change."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from pathlib import Path

INDEX = """<!doctype html>
<meta name="release" content="RELEASE_DIGEST">
<link rel="stylesheet" href="/app/styles/all.css">
<script type="importmap">{"imports": {"preact": "/app/vendor/preact.js"}}</script>
<!-- modulepreload -->
<script type="module" src="/app/app.js"></script>
"""
WORKER = """importScripts("/app/vendor/workbox.js");
const RELEASE = "RELEASE_DIGEST";
const PRECACHE = [];
handlerFor("INDEX_URL");
"""
FILES = {
    "index.html": INDEX,
    "sw.js": WORKER,
    "manifest.webmanifest": '{"icons": [{"src": "/app/icons/mark.svg"}]}',
    "app.js": 'import { h } from "preact";\nimport { page } from "./pages/today.js";\nh(page);\n',
    "pages/today.js": 'import { two } from "../core/two.js";\nexport const page = two;\n',
    "core/two.js": "export const two = 2;\n",
    "styles/all.css": '@font-face { font-family: "N"; src: url(../fonts/n.woff2); }\n',
    "fonts/n.woff2": "not really a font",
    "icons/mark.svg": "<svg xmlns='http://www.w3.org/2000/svg'/>",
    "vendor/preact.js": "export const h = 1;\n",
    "vendor/workbox.js": "self.workbox = 1;\n",
}


@pytest.fixture
def web_root(tmp_path: Path) -> Path:
    for name, text in FILES.items():
        path = tmp_path / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text)
    return tmp_path
