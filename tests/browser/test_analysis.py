"""Results in the office: computed as one looks, a plot left out, the last result kept without signal."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import pytest
from playwright.sync_api import expect

from support.pictures import OFFICE, PHONE, choose, sign_in

if TYPE_CHECKING:
    from support.live_server import LiveServer
    from support.profiles import Profiles

pytestmark = pytest.mark.browser


def test_results_are_computed_left_out_and_kept(profiles: Profiles, own_server: LiveServer) -> None:
    server, page = own_server, profiles.take(OFFICE)
    choose(page, server.address, "light", "en")
    sign_in(page, server.address, "Ines Prado")
    page.goto(f"{server.address}/trials")
    page.get_by_text("Daminozide before transplant").first.click()
    page.get_by_role("link", name="Results").click()
    cell = page.locator(".matrix-cell", has_text="Two weeks").first
    expect(cell.locator(".state")).to_have_text(
        re.compile("difference shown|no difference shown"), timeout=30_000
    )

    page.get_by_role("button", name="Leave a plot out").click()
    sheet = page.get_by_role("dialog")
    sheet.get_by_label("Plot").select_option("3")
    sheet.get_by_role("button", name="Leave it out").click()
    expect(sheet.get_by_role("alert")).to_contain_text("Say why")
    sheet.get_by_label("Reason").fill("pot fell <off> the bench")
    sheet.get_by_role("button", name="Leave it out").click()
    expect(page.get_by_text("pot fell <off> the bench")).to_be_visible(timeout=20_000)

    cell.click()
    expect(page.locator(".result-words")).to_contain_text("untreated", timeout=20_000)
    expect(page.locator(".trust-notes")).to_contain_text("Plot 3 was left out by Ines Prado")
    expect(page.get_by_role("img").first).to_have_attribute("aria-label", re.compile("Height"))
    said = page.locator(".result-words").inner_text()

    page.set_viewport_size({"width": PHONE.width, "height": PHONE.height})
    assert page.evaluate("document.documentElement.scrollWidth") <= PHONE.width
    page.route("**/api/v1/**", lambda route: route.abort())  # the signal is gone
    page.get_by_role("link", name="Results").click()
    expect(page.get_by_text("last results kept on this device")).to_be_visible(timeout=20_000)
    page.locator(".matrix-cell", has_text="Two weeks").first.click()
    expect(page.get_by_text("last results kept on this device")).to_be_visible(timeout=20_000)
    assert page.locator(".result-words").inner_text() == said


def test_what_trials_found_stands_on_its_page_and_where_a_mix_is_chosen(
    profiles: Profiles, server: LiveServer
) -> None:
    page = profiles.take(PHONE)
    choose(page, server.address, "light", "en")
    sign_in(page, server.address, "Ines Prado")
    page.goto(f"{server.address}/trials/across")
    page.get_by_text(re.compile(r"Height 73.%.*3 trials")).click(timeout=60_000)
    expect(page.locator(".result-words")).to_contain_text("3 finished trials together")
    expect(page.get_by_role("img").last).to_have_attribute(
        "aria-label", re.compile("Sallowmere Nursery.*Together: 73")
    )
    expect(page.get_by_text("A trial result is no label")).to_be_visible()
    assert page.evaluate("document.documentElement.scrollWidth") <= PHONE.width

    page.route("**/api/v1/trials/across**", lambda route: route.abort())  # no signal
    page.goto(f"{server.address}/mix")
    page.get_by_text("1·09").first.click()
    page.get_by_text("T07 treatment 5").first.click()
    line = page.get_by_role("link", name=re.compile("Here before.*Salvia: Height 73"))
    expect(line).to_be_visible(timeout=20_000)
    line.click()
    expect(page.get_by_text("last results kept on this device")).to_be_visible(timeout=20_000)
    expect(page.locator(".result-words")).to_contain_text("3 finished trials together")
