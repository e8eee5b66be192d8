"""The product's own pages on the real server: accessible, not too wide, targets large."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from support.demo_server import demo_server
from support.pictures import (
    OFFICE,
    PHONE,
    PRODUCT_PATHS,
    SMALL,
    ZOOMED,
    choose,
    chromium,
    context_for,
    sign_in,
    unstick,
    zoom_text,
)
from tepal.services.demo import PEOPLE

if TYPE_CHECKING:
    from collections.abc import Iterator

    from playwright.sync_api import Browser, Page

    from support.demo_server import DemoServer

pytestmark = pytest.mark.browser

AXE = (
    Path(__file__).resolve().parents[2]
    / "web"
    / "tools"
    / "node_modules"
    / "axe-core"
    / "axe.min.js"
)
LEAST_TOUCH_PX = 44  # as in test_gallery.py
TOO_WIDE = """() => [...document.querySelectorAll('body *')]
    .filter((e) => !e.closest('.table-frame, .visually-hidden, [aria-hidden]')
        && (e.getBoundingClientRect().right > innerWidth + 1 || e.getBoundingClientRect().left < -1))
    .map((e) => `${e.tagName}.${e.className} ${e.textContent.slice(0, 40)}`)"""
TOO_SMALL = """(least) => [...document.querySelectorAll('a, button, input, select, textarea')]
    .filter((e) => e.checkVisibility() && !e.closest('.choice') && !e.matches('.syncline, .visually-hidden')
        && getComputedStyle(e).display !== 'inline')
    .map((e) => [e.className || e.tagName, Math.min(e.offsetWidth, e.offsetHeight)])
    .filter(([, size]) => size < least)"""
RUN_AXE = """async () => (await axe.run(document, {
    runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice'] })).violations
    .map((v) => [v.id, v.nodes.map((n) => n.target.join(' ')).slice(0, 5)])"""


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with chromium() as running:
        yield running


@pytest.fixture(scope="module")
def server() -> Iterator[DemoServer]:
    with demo_server() as running:
        yield running


@pytest.fixture(scope="module")
def pages(browser: Browser, server: DemoServer) -> Iterator[dict[tuple[str, str], Page]]:
    """Signed-in tabs by (screen, language); one sign-in each."""
    contexts = []
    tabs = {}
    for screen, language in ((PHONE, "en"), (SMALL, "es"), (ZOOMED, "es"), (OFFICE, "en")):
        contexts.append(context_for(browser, screen))
        tab = contexts[-1].new_page()
        choose(tab, server.address, "light", language)
        sign_in(tab, server.address, PEOPLE[0][0])
        tabs[screen.name, language] = tab
    yield tabs
    for context in contexts:
        context.close()


def opened(tab: Page, address: str, path: str) -> Page:
    tab.goto(f"{address}{path}")
    tab.wait_for_selector("h1")
    tab.wait_for_timeout(250)
    return tab


@pytest.mark.parametrize("path", PRODUCT_PATHS)
@pytest.mark.parametrize("screen", [PHONE, OFFICE], ids=lambda screen: screen.name)
def test_axe_finds_nothing(pages: dict, server: DemoServer, screen: object, path: str) -> None:
    tab = opened(pages[screen.name, "en"], server.address, path)
    unstick(tab)
    tab.evaluate(AXE.read_text() + "; true")

    assert tab.evaluate(RUN_AXE) == []


@pytest.mark.parametrize("path", PRODUCT_PATHS)
@pytest.mark.parametrize("screen", [SMALL, ZOOMED], ids=lambda screen: screen.name)
def test_page_never_scrolls_sideways(
    pages: dict, server: DemoServer, screen: object, path: str
) -> None:
    tab = opened(pages[screen.name, "es"], server.address, path)
    zoom_text(tab, screen)

    assert tab.evaluate(TOO_WIDE) == []


@pytest.mark.parametrize("path", PRODUCT_PATHS)
def test_every_target_is_large_enough_for_a_glove(
    pages: dict, server: DemoServer, path: str
) -> None:
    tab = opened(pages["phone", "en"], server.address, path)

    assert tab.evaluate(TOO_SMALL, LEAST_TOUCH_PX) == []


@pytest.mark.parametrize("path", PRODUCT_PATHS)
def test_no_message_code_is_shown_for_words(pages: dict, server: DemoServer, path: str) -> None:
    """A code without a message shows as itself: dotted, lower case."""
    tab = opened(pages["small", "es"], server.address, path)

    shown = tab.evaluate(
        r"() => document.body.innerText.match(/\b[a-z_]+(\.[a-z_]+){1,}\b/g) ?? []"
    )
    assert shown == []
