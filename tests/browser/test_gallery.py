"""The components in a real browser: nothing sticks out, targets are large, names are there."""

from __future__ import annotations

import json
import re
from typing import TYPE_CHECKING

import pytest
from playwright.sync_api import expect

from support.page_checks import axe_findings, too_small, too_wide
from support.pictures import GALLERY_PAGES, OFFICE, PHONE, SMALL, ZOOMED, zoom_text
from tepal.forms.deriver import form_specs

if TYPE_CHECKING:
    from collections.abc import Callable

    from playwright.sync_api import Page

    from support.profiles import Profiles

pytestmark = pytest.mark.browser
SCREENS = {screen.name: screen for screen in (PHONE, SMALL, OFFICE, ZOOMED)}
# Each page once in either language; the other colours where every piece of `ui` stands on one page
# (tests/web/test_contrast.py computes the contrast of all pairs of tokens in all themes).
AXE_CASES = [
    *((page, "office" if page == "office" else "phone", "light", "en") for page in GALLERY_PAGES),
    *((page, "office", "light", "es") for page in GALLERY_PAGES if page != "office"),
    ("office", "office", "dark", "es"), ("pieces", "phone", "dark", "en"),
    ("pieces?sheet&", "phone", "dark", "es"), ("pieces", "phone", "sun", "en"),
]  # fmt: skip


@pytest.fixture(scope="module")
def opened(all_profiles: Profiles, gallery: str) -> Callable[..., Page]:
    """Return a function that opens (screen, page, query) in the tab of that screen."""
    tabs: dict[str, Page] = {}

    def open_page(screen: str, page: str, query: str = "lang=en") -> Page:
        if screen not in tabs:
            tabs[screen] = all_profiles.take(SCREENS[screen], is_kept=True)
        tab = tabs[screen]
        tab.goto(f"{gallery}/{page}?{query}")
        tab.wait_for_selector("#app[data-ready]")
        zoom_text(tab, SCREENS[screen])
        return tab

    return open_page


# the narrowest screen and the largest text in the longer language; the phone's own is the axe's
@pytest.mark.parametrize(("screen", "language"), [("small", "es"), ("zoomed", "es")])
@pytest.mark.parametrize("page", GALLERY_PAGES)
def test_page_never_scrolls_sideways(
    opened: Callable[..., Page], page: str, screen: str, language: str
) -> None:
    assert too_wide(opened(screen, page, f"lang={language}")) == []


@pytest.mark.parametrize(("page", "screen", "theme", "language"), AXE_CASES)
def test_page_is_accessible_and_its_targets_are_large(
    opened: Callable[..., Page], page: str, screen: str, theme: str, language: str
) -> None:
    name, _, query = page.partition("?")
    tab = opened(screen, name, f"{query}theme={theme}&lang={language}")

    assert too_wide(tab) == []
    if screen == "phone":
        assert too_small(tab) == []
    assert axe_findings(tab) == []


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
    area = tab.get_by_role("textbox", name="Area")
    expect(area).to_have_value("1,200")
    expect(tab.get_by_label("Name needed on the record", exact=True)).to_have_value("House 7")

    area.fill("1200.5")
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


def test_browser_complains_about_nothing(profiles: Profiles, gallery: str) -> None:
    """Neither the content security policy nor a script: the console stays empty."""
    said: list[str] = []
    tab = profiles.take(PHONE)
    tab.on("console", lambda message: said.append(message.text))
    tab.on("pageerror", lambda error: said.append(str(error)))
    for page in GALLERY_PAGES:
        tab.goto(f"{gallery}/{page}")
        tab.wait_for_selector("#app[data-ready]")

    assert said == []


# A page of two pieces that change in turn draws itself again and again; how many of its drawings are alive at the end.
_REDRAWN = """async () => {
  const kept = performance.getEntriesByType('resource').find((one) => one.name.includes('/ui/kept.js'));
  const [{ h, render, Component }, { Kept }] = await Promise.all([import('preact'), import(kept.name)]);
  let page;
  window.drawn = [];
  window.place = document.createElement('div');
  class Page extends Component {
    render() {
      page = this;
      const n = window.drawn.length;
      const piece = (by) => h(Kept, { by: [by], draw: () => h('i') });
      const made = h('p', null, piece(Math.floor(n / 3)), piece(Math.floor((n + 1) / 3)));
      window.drawn.push(new WeakRef(made));
      return made;
    }
  }
  render(h('main', null, h(Page)), window.place);
  for (let i = 0; i < 30; i += 1) {
    page.setState({});
    await new Promise((done) => setTimeout(done, 0));
  }
}"""


def test_page_lets_go_of_what_it_was(opened: Callable[..., Page]) -> None:
    page = opened("phone", "measure")
    page.evaluate(_REDRAWN)
    chrome = page.context.new_cdp_session(page)
    chrome.send("HeapProfiler.collectGarbage")

    alive = page.evaluate("() => window.drawn.map((one) => one.deref() !== undefined)")

    assert len(alive) == 31
    assert 1 <= sum(alive) <= 2, alive
    chrome.detach()
