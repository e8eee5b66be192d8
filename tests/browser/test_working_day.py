"""The working day of three people: an order done without signal, the grower's morning, two phones.

Touches are counted as the product says: from an order on Today, one load and no photo, at most 12
beside digits and PIN. Promise: a phone without signal never shows more than it knows.
"""

from __future__ import annotations

import re
from datetime import date, datetime
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

import pytest
from playwright.sync_api import expect

from support.http_desk import HttpDesk
from support.live_server import live_server
from support.phone import (
    Phone,
    choose_mix,
    choose_places,
    press,
    sign,
    sign_in,
    start_spraying,
    step_is,
    store,
    wait_for_store,
    wear,
    words,
)
from support.pictures import OFFICE, PHONE
from support.registers_sample import by_name, create

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from playwright.sync_api import Page, Playwright

    from support.live_server import LiveServer
    from support.profiles import Profiles

pytestmark = pytest.mark.browser
OPERATOR, GROWER = "Rosa Lind", "Dinh Thorne"
ZONE = ZoneInfo("America/New_York")  # of the demo and of the browsers here
MOST_TOUCHES = 12
COUNT_TOUCHES = """() => { window.touches = Number(sessionStorage.touches ?? 0);
    addEventListener('pointerdown', (e) => { if (e.isTrusted)
        sessionStorage.touches = ++window.touches; }, true); }"""


@pytest.fixture(scope="module")
def server() -> Iterator[LiveServer]:
    with live_server() as running:
        yield running


def today() -> date:
    return datetime.now(ZONE).date()


def plan_order(office: HttpDesk) -> str:
    """The grower plans: Bench 3 today, Bench 1 beside it stays untreated."""
    bench = {n: by_name(office, "bench", f"Bench {n}") for n in (1, 3)}
    lot = {code: by_name(office, "lot", code) for code in ("1·07", "1·09")}
    return create(
        office, "spray_order",
        {
            "title": "Salvia, second week", "operator": by_name(office, "member", OPERATOR),
            "lines": [
                {"bench": bench[3], "lot": lot["1·09"], "untreated": None},
                {"bench": bench[1], "lot": lot["1·07"], "untreated": True},
            ],
            "tank_mix": by_name(office, "tank_mix", "Height, bedding, second week"),
            "sprayer": by_name(office, "sprayer", "Cart sprayer 1"),
            "window_from": str(today()), "window_to": str(today()),
        },
    )  # fmt: skip


def ready(page: Page) -> None:
    page.evaluate("navigator.serviceWorker.ready.then(() => true)")
    page.wait_for_function("() => navigator.serviceWorker.controller !== null")


def test_operator_does_an_order_while_the_server_is_away_and_the_grower_sees_it(
    server: LiveServer, playwright: Playwright, profiles: Profiles, tmp_path: Path
) -> None:
    office = HttpDesk(server.address, GROWER)
    order = plan_order(office)
    phone = Phone(playwright, tmp_path / "profile", server.address)
    try:
        page = phone.open("/sign-in")
        sign_in(page, OPERATOR)
        ready(page)
        page.add_init_script(f"({COUNT_TOUCHES})()")
        page.goto(f"{server.address}/today")
        card = page.locator("article.card", has_text="Salvia, second week")
        card.get_by_role("link", name=words("order.do")).click()
        step_is(page, "check")
        expect(page.locator(".stem-summary").first).to_contain_text("Bench 3")
        expect(page.locator(".stem-summary").first).not_to_contain_text("Bench 1")
        server.kill()  # from here on there is no signal

        for caution in page.locator(".answer.caution:not(.is-answered)").all():
            caution.locator("label.choice").first.click()
        press(page, "check.done")
        wear(page)
        press(page, "apply.load_mixed")
        step_is(page, "spray")
        wear(page)
        press(page, "apply.start")
        step_is(page, "end")
        page.locator("label.choice", has_text=words("apply.ended_all")).click()
        press(page, "apply.end_now")
        step_is(page, "sign")
        sign(page)

        assert int(page.evaluate("() => sessionStorage.touches")) <= MOST_TOUCHES
        entries, device = store(page)["outbox"], store(page)["meta"]["device"]["id"]
        assert [(one["kind"], one["action"]) for one in entries] == [
            ("application", "create"), ("restriction", "create"), ("application", "change"),
            ("restriction", "change"), ("application", "change"),
        ]  # fmt: skip
        # by hand: Stemwright 12 h and Halfpace 24 h in one tank: the longest counts
        assert entries[1]["changes"]["rei"]["to"] == {"value": "24", "unit": "h"}
        checks = entries[0]["changes"]["checks"]["to"]
        assert all(one["answer"] for one in checks if one["severity"] == "caution")
        server.start()
        page.wait_for_selector(".syncline.passed", timeout=60_000)
        wait_for_store(page, lambda all_: not all_["outbox"])
        page.goto(f"{server.address}/orders/{order}")
        expect(page.get_by_text(words("order.state.done")).first).to_be_visible()
    finally:
        phone.close()
    applied = server.entries("application", device)[0]
    assert applied["entry"]["changes"]["order"]["to"] == order
    the_growers_morning(profiles, server, entries[1]["record"])


def the_growers_morning(profiles: Profiles, server: LiveServer, restriction: str) -> None:
    """The office's day: the house's lane, what was applied, what needs the grower, the phones."""
    with profiles.lent(OFFICE) as page:
        page.goto(f"{server.address}/sign-in")
        sign_in(page, GROWER)
        page.goto(f"{server.address}/today")
        lane = page.locator(".lane", has_text="House 1")
        expect(lane.locator(".lane-act.is-restricted").first).to_have_text("24 h after the end")
        expect(lane.locator(".state.stopped")).to_contain_text("Bench 3")
        # another test of this server may have sprayed Bench 1 before
        expect(page.locator("table.day-applied tbody tr", has_text="Bench 3")).to_have_count(1)
        needs = page.locator("article.need", has_text="House 1 ends")
        needs.locator(f"a[href='/restrictions/{restriction}']").click()
        # 24 h are not over, and a house with an interval above 4 h has signs
        go = page.locator(".btn-go")
        expect(go).to_have_attribute("aria-disabled", "true")
        expect(page.locator(".condition", has_text=words("condition.rei"))).to_contain_text(
            words("condition.unmet")
        )
        press(page, "restriction.act.signs_down")
        press(page, "restriction.do.signs_down")
        expect(page.locator(".condition", has_text=words("condition.signs"))).to_contain_text(
            re.compile(r"\bmet")
        )
        expect(go).to_have_attribute("aria-disabled", "true")


def board_of(page: Page) -> str:
    page.locator(".board-house").first.wait_for()
    return page.locator(".board").inner_text()


def look(page: Page) -> None:
    """What a person does who wants news: the page asks the office."""
    page.evaluate("() => dispatchEvent(new Event('online'))")


def later(page: Page, minutes: int) -> None:
    """Let this phone's clock run on from the next load, without any news from the office."""
    page.add_init_script(
        f"(() => {{ const real = Date.now; Date.now = () => real() + {minutes * 60_000}; }})()"
    )


def test_second_phone_without_signal_never_shows_more_than_it_knows(
    profiles: Profiles, server: LiveServer
) -> None:
    one, two = (profiles.take(PHONE, with_worker=True) for _ in range(2))
    for page, name in ((one, OPERATOR), (two, GROWER)):
        page.goto(f"{server.address}/sign-in")
        sign_in(page, name)
        ready(page)
    one.goto(f"{server.address}/apply")
    choose_places(one, "Bench 1")
    press(one, "begun.leave")
    press(one, "begun.leave_keep")
    # Today, with no order due, offers what was begun as the next step
    one.locator(".btn-go", has_text=words("apply.continue")).click()
    choose_mix(one)
    start_spraying(one)
    wait_for_store(one, lambda all_: not all_["outbox"])

    # with signal the second phone hears of it at once
    two.goto(f"{server.address}/board")
    look(two)
    expect(two.locator(".board")).to_contain_text(words("board.being_sprayed"))

    # without signal it knows the start, never the end, and says how old that is
    two.context.set_offline(True)
    one.locator("label.choice", has_text=words("apply.ended_all")).click()
    press(one, "apply.end_now")
    step_is(one, "sign")
    wait_for_store(one, lambda all_: not all_["outbox"])
    later(two, 31)
    two.goto(f"{server.address}/board")
    told = board_of(two)
    assert words("board.being_sprayed").search(told)
    assert words("board.stale").search(told)
    assert not words("board.none_on_file").search(told)

    # a house of which it knows nothing is not free either: nobody knows
    house = two.evaluate(
        """async () => { const db = await new Promise((good) => {
            const ask = indexedDB.open('tepal'); ask.onsuccess = () => good(ask.result); });
          const tx = db.transaction(['records'], 'readwrite');
          const rows = tx.objectStore('records');
          const all = await new Promise((good) => { const ask = rows.getAll();
            ask.onsuccess = () => good(ask.result); });
          for (const row of all) if (row.kind === 'restriction') rows.delete(row.key);
          await new Promise((good) => { tx.oncomplete = good; });
          db.close(); return all.filter((row) => row.kind === 'restriction').length; }"""
    )
    assert house >= 1
    two.goto(f"{server.address}/board")
    told = board_of(two)
    assert words("board.unknown").search(told)
    assert not words("board.none_on_file").search(told)
