"""Hashed URLs, the precache list, the policy: what `WebAssets` prepares."""

from __future__ import annotations

import base64
import gzip
import hashlib
import json
import re
from typing import TYPE_CHECKING

import pytest

from tepal.api.web_assets import WebAssets, WebAssetsError

if TYPE_CHECKING:
    from pathlib import Path


def precached(assets: WebAssets) -> list[dict[str, str | None]]:
    match = re.search(r"const PRECACHE = (\[.*\]);", assets.worker.body.decode())
    assert match
    return json.loads(match[1])


def test_relative_imports_carry_the_hash_of_their_target(web_root: Path) -> None:
    assets = WebAssets(web_root)

    today = assets.files["pages/today.js"]
    assert f'"../core/two.js?v={assets.files["core/two.js"].digest}"' in today.body.decode()
    assert f'"./pages/today.js?v={today.digest}"' in assets.files["app.js"].body.decode()


def test_change_below_changes_the_url_of_every_importer_and_of_nothing_else(
    web_root: Path,
) -> None:
    before = WebAssets(web_root)
    (web_root / "core/two.js").write_text("export const two = 3;\n")

    after = WebAssets(web_root)

    changed = {path for path in after.files if after.files[path].url != before.files[path].url}
    assert changed == {"core/two.js", "pages/today.js", "app.js", "index.html"}
    assert after.release != before.release


def test_same_files_give_the_same_bytes(web_root: Path) -> None:
    first, second = WebAssets(web_root), WebAssets(web_root)

    assert first.files == second.files
    assert first.worker == second.worker


def test_css_and_manifest_point_to_hashed_files(web_root: Path) -> None:
    assets = WebAssets(web_root)

    assert f"../fonts/n.woff2?v={assets.files['fonts/n.woff2'].digest}" in (
        assets.files["styles/all.css"].body.decode()
    )
    manifest = json.loads(assets.files["manifest.webmanifest"].body)
    assert manifest["icons"][0]["src"] == assets.files["icons/mark.svg"].url


def test_page_holds_map_then_preloads_then_entry(web_root: Path) -> None:
    assets = WebAssets(web_root)
    page = assets.index_html.body.decode()

    order = [page.index("importmap"), page.index("modulepreload"), page.index('type="module"')]
    assert order == sorted(order)
    preloaded = re.findall(r'modulepreload" href="([^"]+)"', page)
    assert preloaded == [
        assets.files[path].url
        for path in ("vendor/preact.js", "core/two.js", "pages/today.js", "app.js")
    ]
    assert f'content="{assets.release}"' in page


def test_policy_names_the_import_map_by_hash_and_allows_nothing_inline(web_root: Path) -> None:
    assets = WebAssets(web_root)

    page = assets.index_html.body.decode()
    inline = re.findall(r"<script(?![^>]*\bsrc=)[^>]*>(.*?)</script>", page, re.DOTALL)
    assert len(inline) == 1
    digest = base64.b64encode(hashlib.sha256(inline[0].encode()).digest()).decode()
    assert f"script-src 'self' 'sha256-{digest}'" in assets.csp
    assert "unsafe" not in assets.csp


def test_precache_holds_every_file_under_its_hashed_url_without_revision(web_root: Path) -> None:
    assets = WebAssets(web_root)

    entries = precached(assets)
    assert {entry["revision"] for entry in entries} == {None}
    # the worker's own scripts live with the worker; the manifest is asked for by the system
    not_needed = {"vendor/workbox.js", "manifest.webmanifest"}
    assert {entry["url"] for entry in entries} == {
        file.url for path, file in assets.files.items() if path not in not_needed
    }


def test_worker_knows_release_scripts_and_page(web_root: Path) -> None:
    assets = WebAssets(web_root)
    worker = assets.worker.body.decode()

    assert f'const RELEASE = "{assets.release}";' in worker
    assert f'importScripts("{assets.files["vendor/workbox.js"].url}")' in worker
    assert f'handlerFor("{assets.index_html.url}")' in worker


def test_gzip_holds_the_same_bytes(web_root: Path) -> None:
    assets = WebAssets(web_root)

    for file in assets.files.values():
        if file.gzipped is not None:
            assert gzip.decompress(file.gzipped) == file.body
    assert assets.files["fonts/n.woff2"].gzipped is None


def test_import_cycle_is_refused_with_its_circle_named(web_root: Path) -> None:
    (web_root / "core/two.js").write_text('import "../pages/today.js";\n')

    with pytest.raises(WebAssetsError) as caught:
        WebAssets(web_root)

    assert caught.value.code == "web.cycle"
    assert caught.value.context["circle"] == "pages/today.js -> core/two.js -> pages/today.js"


@pytest.mark.parametrize(
    ("path", "text"),
    [
        ("pages/today.js", 'import "../core/three.js";\n'),
        ("styles/all.css", "a { background: url(none.png) }"),
        ("sw.js", 'importScripts("/app/none.js"); RELEASE_DIGEST; const PRECACHE = [];'),
        ("manifest.webmanifest", '{"icons": [{"src": "/app/none.png"}]}'),
    ],
)
def test_reference_to_a_missing_file_is_refused(web_root: Path, path: str, text: str) -> None:
    (web_root / path).write_text(text)

    with pytest.raises(WebAssetsError) as caught:
        WebAssets(web_root)

    assert caught.value.code == "web.missing"


@pytest.mark.parametrize(("path", "text"), [("sw.js", ""), ("index.html", "<p>")])
def test_missing_marker_is_refused(web_root: Path, path: str, text: str) -> None:
    (web_root / path).write_text(text)

    with pytest.raises(WebAssetsError) as caught:
        WebAssets(web_root)

    assert caught.value.code == "web.place"


def test_missing_page_is_refused(web_root: Path) -> None:
    (web_root / "index.html").unlink()

    with pytest.raises(WebAssetsError) as caught:
        WebAssets(web_root)

    assert caught.value.code == "web.missing"
