"""The mix page on the real server: from places and a mix to amounts, formulas and the sheet."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from playwright.sync_api import expect

from support.page_checks import too_wide
from support.paper_reading import whole_text
from support.phone import follow
from support.pictures import OFFICE, PHONE

if TYPE_CHECKING:
    from collections.abc import Callable

    from playwright.sync_api import Page

    from support.live_server import LiveServer

pytestmark = pytest.mark.browser


@pytest.fixture
def page(opened: Callable[..., Page], server: LiveServer) -> Page:
    tab = opened(server, screen=PHONE)
    follow(tab, "/mix")
    tab.wait_for_selector(".mix-columns")
    return tab


def choose(page: Page, mix: str, *places: str, tank: str = "40") -> None:
    for place in places:
        page.locator("label.choice", has_text=place).locator("input").check()
    page.locator("label.choice", has_text=mix).locator("input").check()
    page.get_by_label("What the tank holds", exact=True).fill(tank)


def told(page: Page) -> str:
    return page.inner_text("main").replace("\u00a0", " ")


def test_spray_shows_amounts_formula_and_doses(page: Page) -> None:
    """39.6 m2 x 200 mL/m2 = 7.92 L; 900 x 7.92 / 118 = 60.407 mL, read as 60 mL on a cylinder with
    divisions of 2 mL; 900 mg/L x 200 mL/m2 = 180 mg/m2.
    """
    choose(page, "Height, bedding", "Bench 3")
    page.wait_for_selector(".measures")

    text = told(page)
    assert too_wide(page) == []
    assert "900 mg/L × 7.92 L ÷ 118 mg/mL = 60.407 mL" in text
    assert "180 mg/m²" in text
    amounts = page.locator(".measure .q").all_inner_texts()
    assert [amount.replace("\n", " ") for amount in amounts][2] == "60mL"


def test_drench_asks_how_a_lot_is_shared_out_over_benches(page: Page) -> None:
    """The demo's lot 1·07 stands on two benches: nobody knows how many pots stand on one of them.

    1000 pots x 60 mL = 60 L, and 2 L for the equipment; 0.25 mg in 60 mL is 4.1667 mg/L;
    4.1667 x 62 / 4.08 = 63.317 mL.
    """
    choose(page, "Drench, one dose per pot", "Bench 1", tank="100")
    page.wait_for_selector("text=the number of containers is missing")
    page.get_by_label("Containers of Lantana").fill("1000")
    page.wait_for_selector(".measures")

    assert "4.1667 mg/L × 62 L ÷ 4.08 mg/mL = 63.317 mL" in told(page)


def test_ambiguous_tank_is_asked_about_and_kept_as_typed(page: Page) -> None:
    choose(page, "Height, bedding", "Bench 3", tank="1,200")
    readings = page.locator(".readings button")
    expect(readings).to_have_count(2)
    assert [text.replace("\n", "") for text in readings.all_inner_texts()] == ["1200L", "1.200L"]

    readings.first.click()
    page.wait_for_selector(".measures")

    expect(page.get_by_label("What the tank holds", exact=True)).to_have_value("1,200")
    assert "Read as 1200" in told(page)


def test_sheet_prints_what_the_page_shows(page: Page) -> None:
    choose(page, "Height, bedding", "Bench 3")
    page.wait_for_selector(".measures")

    link = page.locator(".btn-go", has_text="Print the mixing sheet")
    reply = page.request.get(
        page.evaluate("(path) => new URL(path, location).href", link.get_attribute("href"))
    )

    assert reply.status == 200, reply.text()
    text = " ".join(whole_text(reply.body()).split())
    assert "60 mL" in text
    assert "House 1, Bench 3" in text


def test_mix_goes_on_in_apply(page: Page) -> None:
    choose(page, "Height, bedding", "Bench 3")
    page.wait_for_selector(".measures")
    page.get_by_text("Go on in Apply").click()
    page.wait_for_selector(".stem")

    expect(page.locator(".stem-step.is-current input:checked")).to_have_count(1)
    expect(page.locator("main")).to_contain_text("7.92\u00a0L")


def test_mix_page_fits_the_office(opened: Callable[..., Page], server: LiveServer) -> None:
    page = opened(server, screen=OFFICE)
    page.goto(f"{server.address}/mix")
    choose(page, "Height, bedding", "Bench 1", "Bench 2", "Bench 3")
    page.wait_for_selector(".measures")

    assert too_wide(page) == []


def test_calibration_is_computed_while_it_is_typed(page: Page, server: LiveServer) -> None:
    """5 L on 25 m2 is 200 mL/m2; 200 mL/m2 is 1.963 qt/100 ft2 (9.290304 m2 / 0.946352946 L)."""
    page.goto(f"{server.address}/mixes")
    page.locator("a[href^='/sprayers/0']").first.click()
    page.get_by_text("Calibrate", exact=True).click()
    page.locator("label.choice", has_text="Volume used on a plot").locator("input").check()
    page.get_by_label("Volume used", exact=True).fill("5")
    page.get_by_label("Unit of Volume used").select_option("L")
    page.get_by_label("Area of the test plot", exact=True).fill("25")
    page.wait_for_selector(".rate")

    assert "200mL/m²" in page.inner_text(".rate")
    assert "1.963" in page.inner_text(".rate")
    page.locator(".btn-go").click()
    page.wait_for_selector("text=Calibrations")
    expect(page.locator("a[href^='/calibrations/0']").nth(1)).to_be_visible()
