"""The shell on the real server: kept whole on the phone, started without signal, updated by consent."""

from __future__ import annotations

import re
import shutil
from typing import TYPE_CHECKING

import pytest
from playwright.sync_api import Error, expect

from support.live_server import live_server
from support.pictures import PHONE
from tepal.config import Config

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from playwright.sync_api import Page

    from support.live_server import LiveServer
    from support.profiles import Profiles

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def web_root(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A copy of web/app that a test may change, as a new release does."""
    root = tmp_path_factory.mktemp("web") / "app"
    shutil.copytree(Config.__dataclass_fields__["web_root"].default, root)
    return root


@pytest.fixture(scope="module")
def server(web_root: Path) -> Iterator[LiveServer]:
    with live_server({"TEPAL_WEB_ROOT": str(web_root)}) as running:
        yield running


@pytest.fixture
def page(profiles: Profiles) -> Page:
    return profiles.take(PHONE, with_worker=True)


def until(page: Page, expression: str) -> None:
    """Wait for an expression to be true; Playwright's own way needs eval, which the CSP forbids."""
    for _ in range(300):
        try:
            if page.evaluate(expression):
                return
        except Error:  # the page is being loaded again just now
            pass
        page.wait_for_timeout(100)
    pytest.fail(f"never became true: {expression}")


def load_and_keep(page: Page, address: str) -> None:
    """Open the app and wait until its worker has kept every file."""
    page.goto(f"{address}/sign-in")
    page.wait_for_selector("h1")
    page.evaluate("navigator.serviceWorker.ready.then(() => true)")
    until(page, "navigator.serviceWorker.controller !== null")


def release_of(page: Page) -> str:
    return page.locator('meta[name="tepal-release"]').get_attribute("content") or ""


def test_app_starts_from_any_address_without_the_server(server: LiveServer, page: Page) -> None:
    load_and_keep(page, server.address)
    server.stop()

    for path in ("/today", "/applications/0190f3a0", "/"):
        page.goto(f"{server.address}{path}")
        page.wait_for_selector("h1")

    expect(page.locator("input[type=password]")).to_be_visible()
    server.start()


def test_every_file_is_kept_and_nothing_is_kept_of_the_api(server: LiveServer, page: Page) -> None:
    load_and_keep(page, server.address)

    kept = page.evaluate(
        """async () => {
            const urls = [];
            for (const name of await caches.keys())
                for (const request of await (await caches.open(name)).keys())
                    urls.push(new URL(request.url).pathname + new URL(request.url).search);
            return urls;
        }"""
    )

    assert len(kept) == len(set(kept))
    assert all(re.fullmatch(r"/app/[\w./-]+\?v=[0-9a-f]{16}", url) for url in kept)
    asked = page.evaluate("performance.getEntriesByType('resource').map((e) => e.name)")
    asked = {url.removeprefix(server.address) for url in asked}
    not_kept = {url for url in asked if url.startswith("/app/")} - set(kept)
    assert {url.split("?")[0] for url in not_kept} <= {
        f"/app/vendor/workbox-{name}.js" for name in ("core", "routing", "strategies", "precaching")
    }


def test_second_start_asks_the_server_for_no_file(server: LiveServer, page: Page) -> None:
    load_and_keep(page, server.address)
    asked: list[str] = []
    page.on(
        "response",
        lambda answer: asked.append(answer.url) if not answer.from_service_worker else None,
    )

    page.goto(f"{server.address}/today")
    page.wait_for_selector("h1")

    assert [url for url in asked if "/app/" in url] == []


def test_new_version_waits_for_consent_then_all_files_change_together(
    server: LiveServer, page: Page, web_root: Path
) -> None:
    load_and_keep(page, server.address)
    old = release_of(page)
    server.stop()
    with (web_root / "core" / "errors.js").open("a") as file:
        file.write("\n// a new release\n")
    server.start()

    page.reload()
    page.evaluate("navigator.serviceWorker.getRegistration().then((r) => r.update())")
    bar = page.locator(".versionbar")
    bar.wait_for()
    assert release_of(page) == old  # offered, not taken

    bar.get_by_role("button").click()
    until(page, f"document.querySelector('meta[name=tepal-release]')?.content !== '{old}'")
    page.wait_for_selector("h1")
    expect(page.locator(".versionbar")).to_have_count(0)


def test_first_visit_offers_no_new_version(server: LiveServer, page: Page) -> None:
    load_and_keep(page, server.address)
    page.wait_for_timeout(500)

    assert page.locator(".versionbar").count() == 0


def test_console_stays_empty_on_the_sign_in_page(server: LiveServer, page: Page) -> None:
    said: list[str] = []
    page.on("console", lambda message: said.append(f"{message.type}: {message.text}"))
    page.on("pageerror", lambda error: said.append(str(error)))

    load_and_keep(page, server.address)

    # the answer "nobody is signed in" is an expected one; the browser writes it down all the same
    assert [line for line in said if "401" not in line and "403" not in line] == []


def test_page_can_be_installed(server: LiveServer, page: Page) -> None:
    load_and_keep(page, server.address)

    manifest = page.evaluate("fetch('/manifest.webmanifest').then((answer) => answer.json())")
    assert manifest["display"] == "standalone"
    for icon in manifest["icons"]:
        status = page.evaluate("(src) => fetch(src).then((answer) => answer.status)", icon["src"])
        assert status == 200
