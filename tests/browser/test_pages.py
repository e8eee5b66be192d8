"""The product's own pages on the real server: accessible, not too wide, targets large, real words."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from support.http_desk import HttpDesk
from support.page_checks import axe_findings, bare_codes, too_small, too_wide
from support.phone import (
    choose_mix,
    choose_places,
    end_spraying,
    follow,
    sign,
    sign_in,
    start_spraying,
)
from support.pictures import (
    OFFICE,
    PHONE,
    PRODUCT_PATHS,
    SMALL,
    ZOOMED,
    choose,
    zoom_text,
)
from tepal.services.demo import MANAGER, PEOPLE

if TYPE_CHECKING:
    from playwright.sync_api import Page

    from support.live_server import LiveServer
    from support.profiles import Profiles

pytestmark = pytest.mark.browser

PATHS = (*PRODUCT_PATHS, "/lots/new", "/products/new", "/people/new", "/mixes/new")
# a record of each kind that has a page of its own, found by its list
RECORD_BASES = {
    "house": "/houses", "bench": "/benches", "lot": "/lots", "product": "/products",
    "tank_mix": "/mixes", "instrument": "/instruments", "sprayer": "/sprayers",
    "member": "/people", "device": "/phones",
}  # fmt: skip
RECORDS = (*RECORD_BASES, "application", "amendment")
# Each screen size in one language and theme; between them both languages and both themes. The
# contrast of all themes is computed from the tokens (tests/web/test_contrast.py).
DEVICES = {
    "phone": (PHONE, "en", "light"), "small": (SMALL, "es", "light"),
    "zoomed": (ZOOMED, "es", "light"), "office": (OFFICE, "es", "dark"),
}  # fmt: skip
# these pages show what the office answers; all others what the phone holds
ASKS_THE_OFFICE = ("/applications", "/decide", "/people", "/phones")
# Comes back when the page has not changed for 100 ms: lists come a moment after the head.
QUIET = """() => new Promise((resolve) => {
  const done = () => { watch.disconnect(); resolve(); };
  let timer = setTimeout(done, 100);
  const watch = new MutationObserver(() => { clearTimeout(timer); timer = setTimeout(done, 100); });
  watch.observe(document.body, { subtree: true, childList: true, attributes: true, characterData: true });
})"""


@pytest.fixture(scope="module")
def tabs(all_profiles: Profiles, server: LiveServer) -> dict[str, Page]:
    """Signed-in tabs by the name of the screen; one sign-in each."""
    tabs = {}
    for name, (screen, language, theme) in DEVICES.items():
        tab = all_profiles.take(screen, is_kept=True)
        choose(tab, server.address, theme, language)
        tab.goto(f"{server.address}/today")
        sign_in(tab, PEOPLE[0][0])
        tabs[name] = tab
    return tabs


@pytest.fixture(scope="module")
def record_paths(server: LiveServer) -> dict[str, str]:
    """The address of a record of each kind."""
    desk = HttpDesk(server.address, MANAGER)
    application = desk.apply("7.92")
    return {
        **{k: f"{base}/{desk.records[k][0]['id']}" for k, base in RECORD_BASES.items()},
        "application": f"/applications/{application}",
        "amendment": f"/applications/{application}/amend",
    }


def opened(tab: Page, path: str) -> Page:
    follow(tab, path)
    if path.startswith(ASKS_THE_OFFICE):
        tab.wait_for_load_state("networkidle")
    tab.evaluate(QUIET)
    return tab


def keeps_the_rules(tab: Page, name: str) -> None:
    assert too_wide(tab) == []
    assert bare_codes(tab) == []
    if DEVICES[name][0].is_touch:
        assert too_small(tab) == []
    assert axe_findings(tab) == []


@pytest.mark.parametrize("path", PATHS)
@pytest.mark.parametrize("name", ["phone", "office"])
def test_page_keeps_the_rules(tabs: dict[str, Page], name: str, path: str) -> None:
    keeps_the_rules(opened(tabs[name], path), name)


@pytest.mark.parametrize("kind", RECORDS)
@pytest.mark.parametrize("name", ["phone", "office"])
def test_page_of_a_record_keeps_the_rules(
    tabs: dict[str, Page],
    record_paths: dict[str, str],
    name: str,
    kind: str,
) -> None:
    keeps_the_rules(opened(tabs[name], record_paths[kind]), name)


@pytest.mark.parametrize("path", PATHS)
@pytest.mark.parametrize("name", ["small", "zoomed"])
def test_page_never_scrolls_sideways(tabs: dict[str, Page], name: str, path: str) -> None:
    tab = opened(tabs[name], path)
    zoom_text(tab, DEVICES[name][0])

    assert too_wide(tab) == []


def test_way_of_an_application_keeps_the_rules(tabs: dict[str, Page]) -> None:
    tab = tabs["phone"]
    follow(tab, "/apply")
    choose_places(tab, "Bench 1")
    choose_mix(tab)
    keeps_the_rules(tab, "phone")
    start_spraying(tab)
    keeps_the_rules(tab, "phone")
    end_spraying(tab)
    keeps_the_rules(tab, "phone")
    sign(tab)
    keeps_the_rules(tab, "phone")


def test_sign_in_keeps_the_rules(profiles: Profiles, server: LiveServer) -> None:
    for screen, language, theme in (DEVICES["phone"], DEVICES["office"]):
        tab = profiles.take(screen)
        choose(tab, server.address, theme, language)
        tab.goto(f"{server.address}/sign-in")
        tab.wait_for_selector("h1")
        tab.evaluate(QUIET)
        keeps_the_rules(tab, screen.name)
