"""The components in a real browser: nothing sticks out, targets are large, names are there."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from playwright.sync_api import expect

from support.gallery_server import gallery_server
from support.pictures import (
    GALLERY_PAGES,
    OFFICE,
    PHONE,
    SMALL,
    ZOOMED,
    chromium,
    context_for,
    unstick,
    zoom_text,
)
from tepal.forms.deriver import form_specs

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from playwright.sync_api import Browser, Page

pytestmark = pytest.mark.browser

AXE = (
    Path(__file__).resolve().parents[2]
    / "web"
    / "tools"
    / "node_modules"
    / "axe-core"
    / "axe.min.js"
)
SCREENS = {screen.name: screen for screen in (PHONE, SMALL, OFFICE, ZOOMED)}
# Smallest target of the product: 48 CSS px (WCAG 2.2, 2.5.8 asks for 24); the pill for the
# emergency page and the rail of the office, pointed at with a mouse, may be 42 px.
LEAST_TOUCH_PX = 44


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with chromium() as running:
        yield running


@pytest.fixture(scope="module")
def address() -> Iterator[str]:
    with gallery_server() as running:
        yield running


@pytest.fixture
def opened(browser: Browser, address: str) -> Iterator[Callable[[str, str, str], Page]]:
    """Return a function that opens (screen, page, query) in a fresh profile."""
    contexts = []

    def open_page(screen: str, page: str, query: str = "lang=en") -> Page:
        contexts.append(context_for(browser, SCREENS[screen]))
        tab = contexts[-1].new_page()
        tab.goto(f"{address}/{page}?{query}")
        tab.wait_for_selector("#app[data-ready]")
        zoom_text(tab, SCREENS[screen])
        return tab

    yield open_page
    for context in contexts:
        context.close()


@pytest.mark.parametrize("language", ["en", "es"])
@pytest.mark.parametrize("screen", list(SCREENS))
@pytest.mark.parametrize("page", GALLERY_PAGES)
def test_page_never_scrolls_sideways(
    opened: Callable[..., Page], page: str, screen: str, language: str
) -> None:
    tab = opened(screen, page, f"lang={language}")

    too_wide = tab.evaluate(
        """() => [...document.querySelectorAll('body *')]
            .filter((e) => !e.closest('.table-frame, .visually-hidden, [aria-hidden]')
                && (e.getBoundingClientRect().right > innerWidth + 1 || e.getBoundingClientRect().left < -1))
            .map((e) => `${e.tagName}.${e.className} ${e.textContent.slice(0, 40)}`)"""
    )
    assert too_wide == []
    assert tab.evaluate("document.documentElement.scrollWidth <= innerWidth")


@pytest.mark.parametrize("page", GALLERY_PAGES)
def test_every_target_is_large_enough_for_a_glove(opened: Callable[..., Page], page: str) -> None:
    tab = opened("phone", page)

    small = tab.evaluate(
        """(least) => [...document.querySelectorAll('a, button, input, select, textarea, label.choice')]
            .filter((e) => e.checkVisibility() && !e.closest('.choice') && !e.matches('.syncline'))
            .map((e) => [e.className || e.tagName, Math.min(e.offsetWidth, e.offsetHeight)])
            .filter(([, size]) => size < least)""",
        LEAST_TOUCH_PX,
    )
    assert small == []


@pytest.mark.parametrize("theme", ["light", "dark", "sun"])
@pytest.mark.parametrize("page", [*GALLERY_PAGES, "pieces?sheet&"])
def test_axe_finds_nothing(opened: Callable[..., Page], page: str, theme: str) -> None:
    if not AXE.exists():
        pytest.fail("axe-core is missing: run `npm ci` in web/tools")
    screen = "office" if page == "office" else "phone"
    name, _, query = page.partition("?")
    tab = opened(screen, name, f"{query}theme={theme}&lang=en")
    unstick(tab)  # a target half under the foot is a matter of scrolling, not of size
    tab.evaluate(AXE.read_text() + "; true")

    found = tab.evaluate(
        """async () => (await axe.run(document, {
            runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice'] })).violations
            .map((v) => [v.id, v.nodes.map((n) => n.target.join(' ')).slice(0, 5)])"""
    )
    assert found == []


def test_sheet_keeps_focus_and_gives_it_back(opened: Callable[..., Page]) -> None:
    tab = opened("phone", "fields")
    tab.get_by_role("button", name=re.compile("Lot .*Pentas")).click()
    dialog = tab.get_by_role("dialog", name="Lot")
    dialog.get_by_role("searchbox").fill("slate")
    dialog.get_by_role("button", name="Petunia").click()

    expect(tab.get_by_role("dialog")).to_have_count(0)
    expect(tab.locator("button.picked")).to_contain_text("Petunia")
    expect(tab.locator("button.picked")).to_be_focused()


def test_every_place_of_the_office_is_two_taps_away_on_a_phone(
    opened: Callable[..., Page],
) -> None:
    tab = opened("phone", "today")
    rail = set(tab.locator(".rail a[href]").evaluate_all("all => all.map((a) => a.pathname)"))
    tabs = set(tab.locator(".tabs a.tab").evaluate_all("all => all.map((a) => a.pathname)"))

    tab.get_by_role("button", name="More").tap()

    sheet = tab.get_by_role("dialog").locator("a")
    expect(sheet.first).to_be_visible()  # the tap returns before the sheet is drawn
    assert tabs | set(sheet.evaluate_all("all => all.map((a) => a.pathname)")) == rail | tabs


def test_escape_closes_the_sheet_and_changes_nothing(opened: Callable[..., Page]) -> None:
    tab = opened("phone", "fields")
    tab.locator("button.picked").click()
    tab.keyboard.press("Escape")

    expect(tab.get_by_role("dialog")).to_have_count(0)
    expect(tab.locator("button.picked")).to_contain_text("Pentas")


def test_number_pad_takes_touch_and_keys(opened: Callable[..., Page]) -> None:
    tab = opened("phone", "measure")
    tab.get_by_role("button", name="Next").tap()
    for key in ("0", "7", ".", ".", "2", "5"):
        tab.get_by_role("button", name="Decimal sign" if key == "." else key, exact=True).tap()

    expect(tab.locator(".q-giant .q")).to_have_text("7.2cm")  # one decimal, no leading zero

    tab.keyboard.press("Backspace")
    tab.keyboard.press("9")
    expect(tab.locator(".q-giant .q")).to_have_text("7.9cm")


@pytest.mark.parametrize("kind", sorted(form_specs()["kinds"]))
def test_form_of_every_kind_is_drawn(opened: Callable[..., Page], kind: str) -> None:
    """Every field of the registry has its control, label and, where it is a list, its rows."""
    tab = opened("phone", "form", f"lang=es&kind={kind}")
    for button in tab.get_by_role("button", name="Agregar").all():
        button.click()

    text = tab.locator("main").inner_text()
    assert "field." not in text
    assert "choice." not in text
    assert "undefined" not in text
    drawn = tab.locator(".field, fieldset").count()
    assert drawn >= len([s for s in form_specs()["kinds"][kind]["fields"] if s["type"] != "digest"])


def test_form_keeps_what_was_typed_when_something_is_wrong(opened: Callable[..., Page]) -> None:
    tab = opened("phone", "form", "lang=en&kind=house")
    tab.get_by_label("Name needed on the record", exact=True).fill("House 7")
    tab.get_by_label("Area", exact=False).first.fill("1,200")
    tab.get_by_role("button", name="Save").click()

    error = tab.locator(".field-error")
    expect(error).to_contain_text("1,200")
    expect(error).to_contain_text("1200 or 1.200")
    expect(tab.locator(".input-number")).to_have_value("1,200")
    expect(tab.get_by_label("Name needed on the record", exact=True)).to_have_value("House 7")

    tab.locator(".input-number").fill("1200.5")
    tab.get_by_role("button", name="Save").click()
    expect(tab.locator(".field-error")).to_have_count(0)
    expect(tab.locator("#saved")).to_contain_text("1200.5")
    saved = json.loads(tab.locator("#saved").text_content() or "")
    assert saved["area"] == {"value": "1200.5", "unit": "m2"}
    expect(tab.locator("main")).to_contain_text("ft²")


def test_required_field_left_empty_says_so_at_the_field(opened: Callable[..., Page]) -> None:
    tab = opened("phone", "form", "lang=en&kind=house")
    tab.get_by_role("button", name="Save").click()

    field = tab.get_by_label("Name needed on the record", exact=True)
    expect(field).to_have_attribute("aria-invalid", "true")
    described = (field.get_attribute("aria-describedby") or "").split()[-1]
    expect(tab.locator(f"[id='{described}']")).to_contain_text("Fill this in")


def test_browser_complains_about_nothing(browser: Browser, address: str) -> None:
    """Neither the content security policy nor a script: the console stays empty."""
    said: list[str] = []
    with context_for(browser, PHONE) as context:
        tab = context.new_page()
        tab.on("console", lambda message: said.append(message.text))
        tab.on("pageerror", lambda error: said.append(str(error)))
        for page in GALLERY_PAGES:
            tab.goto(f"{address}/{page}")
            tab.wait_for_selector("#app[data-ready]")

    assert said == []
