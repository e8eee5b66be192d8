"""The service worker with a signed-in person: every page without a server, and a new version's manners.

tests/browser/test_shell.py tries the same worker before anybody has signed in; here are the pages
behind it, a form with something typed, and an old tab beside a waiting worker. Pitfalls 16, 17, 19
and 20 of offline work.
"""

from __future__ import annotations

import re
import shutil
from typing import TYPE_CHECKING

import pytest
from playwright.sync_api import expect

from support.phone import (
    follow,
    press,
    sign_in,
    step_is,
    store,
    wait_for_promise,
    words,
)
from support.pictures import (
    PHONE,
)
from tepal.api.web import WEB_APP

if TYPE_CHECKING:
    from pathlib import Path

    from playwright.sync_api import Page

    from support.live_server import LiveServer
    from support.pictures import Screen
    from support.profiles import Profiles

pytestmark = pytest.mark.browser
OPERATOR, MANAGER = "Rosa Lind", "Ines Prado"
# Keeps drafts from being written as long as it is told to: the form stays dirty.
NO_DRAFTS = """(() => {
  const put = IDBObjectStore.prototype.put;
  IDBObjectStore.prototype.put = function (...values) {
    if (window.refuseDrafts && this.name === 'drafts') throw new DOMException('full', 'QuotaExceededError');
    return put.apply(this, values);
  };
})()"""
# Looks for a new worker, and comes back two pictures after it has begun to wait.
NEW_WORKER_WAITS = """async () => {
  const registration = await navigator.serviceWorker.getRegistration();
  await registration.update();
  const worker = registration.installing ?? registration.waiting;
  while (worker.state !== 'installed')
    await new Promise((good) => worker.addEventListener('statechange', good, { once: true }));
  for (let i = 0; i < 2; i += 1) await new Promise(requestAnimationFrame);
}"""
RELEASE = "() => document.querySelector('meta[name=tepal-release]').content"


@pytest.fixture
def server(own_server: LiveServer) -> LiveServer:
    return own_server


def on_phone(profiles: Profiles, server: LiveServer, name: str, screen: Screen = PHONE) -> Page:
    """Return a tab whose worker holds the app and whose store holds the nursery."""
    page = profiles.take(screen, with_worker=True)
    page.add_init_script(NO_DRAFTS)
    page.goto(f"{server.address}/today")
    sign_in(page, name)
    page.evaluate("() => navigator.serviceWorker.ready.then(() => true)")
    page.wait_for_function("() => navigator.serviceWorker.controller !== null")
    return page


def test_every_page_opens_without_a_server_from_one_copy_of_each_library(
    profiles: Profiles, server: LiveServer
) -> None:
    page = on_phone(profiles, server, MANAGER)
    # it takes the page over while it still activates
    wait_for_promise(
        page,
        "async () => (await navigator.serviceWorker.getRegistration()).active?.state === 'activated'",
    )
    # the addresses are the app's own list; ":id" is filled with a record of the phone
    some = {row["kind"]: row["id"] for row in store(page)["records"]}
    paths = page.evaluate(
        "async () => (await import('/app/pages/pages.js')).PAGES.map((one) => one.path)"
    )
    kinds = {"/lots": "lot", "/products": "product", "/mixes": "tank_mix", "/benches": "bench"}
    server.kill()
    failed: list[str] = []
    page.on("pageerror", lambda error: failed.append(str(error)))

    # each load is the same shell: one at the top and one below; the others are entered inside the app
    for number, path in enumerate(paths):
        base = "/" + path.split("/")[1]
        address = path.replace(":id", some.get(kinds.get(base, ""), "none"))
        if number in (0, len(paths) // 2, len(paths) - 1):
            page.goto(f"{server.address}{address}")
            page.wait_for_selector("h1")
        else:
            follow(page, address)
        found = page.evaluate(
            "() => performance.getEntriesByType('resource').map((one) => one.name)"
        )
        vendored = {re.sub(r"\?.*", "", url) for url in found if "/app/vendor/" in url}
        addresses = {url for url in found if "/app/vendor/" in url}
        assert len(addresses) == len(vendored), path
        assert sum(url.endswith("/preact.js") for url in vendored) == 1, path
        expect(page.locator("h1")).not_to_have_text(words("missing.title"))

    assert failed == []
    assert len(paths) > 10


def newer_web(folder: Path) -> Path:
    """Return a copy of the app of which every page is titled anew."""
    root = folder / "newer"
    shutil.copytree(WEB_APP, root)
    for path in (root / "locale").glob("pages.*.json"):
        path.write_text(path.read_text().replace('"today.title": "', '"today.title": "New '))
    return root


def test_new_version_waits_for_the_form_and_the_old_tab_goes_on(
    profiles: Profiles, server: LiveServer, tmp_path: Path
) -> None:
    page = on_phone(profiles, server, OPERATOR)
    old = page.evaluate(RELEASE)
    page.goto(f"{server.address}/apply")
    step_is(page, "where")
    page.evaluate("() => { window.refuseDrafts = true }")
    page.locator("label.choice", has_text="Bench 1").click()
    server.stop()
    server.serve_web_from(newer_web(tmp_path))
    server.start()

    page.evaluate(NEW_WORKER_WAITS)
    # the waiting worker is there and the app has drawn since; the form is as it was left
    assert page.locator(".versionbar").count() == 0
    expect(page.locator("label.choice", has_text="Bench 1").locator("input")).to_be_checked()
    assert page.evaluate(RELEASE) == old

    # what was typed can be kept again: the form is clean, and the version is offered
    page.evaluate("() => { window.refuseDrafts = false }")
    page.locator("label.choice", has_text="Bench 2").click()
    page.locator(".versionbar").wait_for()
    failed: list[str] = []
    page.on("pageerror", lambda error: failed.append(str(error)))
    other = page.context.new_page()
    for path in ("/today", "/lots", "/sync", "/emergency"):
        other.goto(f"{server.address}{path}")
        other.wait_for_selector("h1")
        assert other.evaluate(RELEASE) == old
    for path in ("/today", "/lots", "/emergency", "/apply"):
        follow(page, path)  # no file is loaded but by the old release's modules
    assert failed == []

    with page.expect_navigation():
        press(page, "version.take")
    page.wait_for_selector("h1")
    assert page.evaluate(RELEASE) != old
    other.wait_for_function(f"(old) => ({RELEASE})() !== old", arg=old)
    page.goto(f"{server.address}/apply")
    expect(page.locator("label.choice", has_text="Bench 2").locator("input")).to_be_checked()
