"""Two phones without signal measure one assessment; one dies half-way; six plants are measured by both.

Every value arrives once, those that differ wait for a person, and one entry of a value takes one tap
more than it has characters.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest
from playwright.sync_api import expect

from support.http_desk import HttpDesk
from support.live_server import live_server
from support.phone import Phone, sign_in, wait_for_promise
from support.pictures import driver
from tepal.sync.ids import shared_id

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from playwright.sync_api import Page

    from support.live_server import LiveServer

pytestmark = pytest.mark.browser
CODES = ("height", "width", "leaves", "branches")
N_PLOTS = 12

# taps the pad's own keys for each value, one task apart as thumbs do; returns how many taps
_TAPS = """async (values) => {
  const rest = () => new Promise((done) => setTimeout(done, 0));
  let taps = 0;
  for (const value of values) {
    for (const key of value) {
      [...document.querySelectorAll('.pad-key')].find((one) => one.textContent.trim() === key).click();
      taps += 1;
      await rest();
    }
    document.querySelector('.pad-next').click();
    taps += 1;
    await rest(); await rest();
  }
  return taps;
}"""


@pytest.fixture
def server() -> Iterator[LiveServer]:
    with live_server() as running:
        yield running


def planned(desk: HttpDesk) -> str:
    """Save a trial of six treatments in two blocks; return its id."""
    treatments = [{"number": n, "name": f"rate {n}", "role": "rate"} for n in range(1, 7)]
    asked = {"design": "rcbd", "treatments": treatments, "n_blocks": 2, "plants_per_plot": 1}
    drawn = desk.call("POST", "/api/v1/trials/layout", asked | {"seed": 5})
    fields = {
        **drawn, "code": "T77", "title": "Two phones", "treatments": treatments, "phase": "running",
        "day_zero_on": "2026-05-01",
        "measurements": [
            {"code": code, "name": code.title(), "type": "continuous", "per": "plant",
             "decimals": 1, "least": "0", "most": "99"}
            for code in CODES
        ],
        "assessments": [
            {"code": "w4", "name": "Four weeks", "day": 28, "measurements": list(CODES)}
        ],
    }  # fmt: skip
    trial = "01970000-0000-7000-8000-000000000077"
    changes = {name: (None, value) for name, value in fields.items()}
    assert desk.send("trial", "create", changes, record=trial) == "accepted"
    return trial


def signed_in(phone: Phone, name: str) -> Page:
    page = phone.open("/sign-in")
    sign_in(page, name)
    page.evaluate("navigator.serviceWorker.ready.then(() => true)")
    page.wait_for_function("() => navigator.serviceWorker.controller !== null")
    phone.close()  # Chromium writes its cookies when it closes, and this one will be killed
    return phone.open()


# Looks at the phone's store that read no more than they need: a whole dump after each row of values
# would take most of the test.
_LOOK = """(store, act) => new Promise((good) => {
  const ask = indexedDB.open('tepal');
  ask.onsuccess = () => {
    const found = act(ask.result.transaction(store).objectStore(store));
    found.onsuccess = () => { good(found.result); ask.result.close(); };
  };
})"""
_WAITING = f"() => ({_LOOK})('outbox', (rows) => rows.count())"


def wait_until_sent(page: Page) -> None:
    wait_for_promise(page, f"async () => (await ({_WAITING})()) === 0")


def wait_for_draft(page: Page, key: str, text: str) -> None:
    look = f"({_LOOK})('drafts', (rows) => rows.get('{key}'))"
    wait_for_promise(page, f"async () => (await {look})?.value.text === '{text}'")


def wait_for_height(page: Page, record: str, height: str) -> None:
    look = f"({_LOOK})('records', (rows) => rows.get('observation/{record}'))"
    wait_for_promise(page, f"async () => (await {look})?.shown.fields.m_height === '{height}'")


def enter(page: Page, values: list[str], *, is_first: bool = False) -> None:
    """Type values on the pad: one tap more than characters each, and all of them kept."""
    wanted = page.evaluate(_WAITING) + len(values) + is_first  # and the assessment itself
    taps = page.evaluate(_TAPS, values)
    assert taps == sum(len(value) + 1 for value in values)
    wait_for_promise(page, f"async () => (await ({_WAITING})()) === {wanted}")


def jump(page: Page, plot: str) -> None:
    page.locator(".beds-button").click()
    page.locator(".plot-key", has_text=plot).click()


def value_of(plot: int, code: str) -> str:
    return f"{10 + plot}.5" if code == "height" else str(CODES.index(code) * 20 + plot)


def decided(desk: HttpDesk, trial: str, differs: tuple[int, ...]) -> dict[str, str]:
    """Decide the heights that differ, as a person does; return them by observation."""
    conflicts = list(desk.records["conflict"])  # deciding changes the desk's own list
    assert [one["fields"]["field"] for one in conflicts] == ["m_height"] * len(differs)
    for conflict in conflicts:
        assert "44.4" in (conflict["fields"]["current"], conflict["fields"]["other"])
        decision = {"value": "44.4", "over": conflict["fields"]["current"]}
        changes: dict[str, Any] = {"decision": (None, decision)}
        assert desk.send("conflict", "decide", changes, record=conflict["id"]) == "accepted"
    return {shared_id(trial, "w4", plot, 1): "44.4" for plot in differs}


def test_two_phones_measure_one_assessment_without_signal(
    server: LiveServer, tmp_path: Path
) -> None:
    desk = HttpDesk(server.address, "Dinh Thorne")
    trial = planned(desk)
    path = f"/trials/{trial}/measure/w4"
    shared, differs = (7, 8, 9), (10, 11, 12)  # plots 201 to 203, and 204 to 206
    playwright = driver()
    one = Phone(playwright, tmp_path / "one", server.address)
    two = Phone(playwright, tmp_path / "two", server.address)
    first, second = signed_in(one, "Rosa Lind"), signed_in(two, "Dinh Thorne")
    for page in (first, second):
        page.goto(server.address + path)
        page.wait_for_selector(".pad-key")
    server.kill()

    # the first walks along; its battery dies in the middle of a number
    enter(first, [value_of(plot, code) for plot in range(1, 4) for code in CODES], is_first=True)
    first.locator(".pad-key", has_text="7").first.click()
    wait_for_draft(first, f"measure/{trial}/w4", "7")
    first.wait_for_timeout(500)  # another connection sees a commit before it is on the disk
    one.kill()

    # the second measures other things on three plants, and the same on three more
    for plot in shared:
        jump(second, f"2{plot - 6:02d}")
        second.locator(".well", has_text="Leaves").click()
        is_first = plot == shared[0]
        enter(second, [value_of(plot, code) for code in CODES[2:]], is_first=is_first)
    jump(second, "204")
    enter(
        second,
        ["44.4" if code == "height" else value_of(p, code) for p in differs for code in CODES],
    )

    first = one.open(path)
    expect(first.locator(".q-giant")).to_contain_text("7")  # even the digit that was typed
    first.locator(".pad-erase").click()
    enter(first, [value_of(plot, code) for plot in range(4, 7) for code in CODES])
    for plot in shared:
        jump(first, f"2{plot - 6:02d}")
        enter(first, [value_of(plot, code) for code in CODES[:2]])
    jump(first, "204")
    enter(first, [value_of(plot, code) for plot in differs for code in CODES])

    server.start()
    for page in (first, second):
        page.goto(f"{server.address}/sync")
        wait_until_sent(page)

    desk.exchange()
    found = [r for r in desk.records["observation"] if r["fields"].get("trial") == trial]
    plots = range(1, N_PLOTS + 1)
    assert {r["id"] for r in found} == {shared_id(trial, "w4", plot, 1) for plot in plots}
    assert len(found) == N_PLOTS
    for record in found:
        plot = record["fields"]["plot"]
        for code in CODES:
            held = record["fields"].get(f"m_{code}")
            is_own = held == value_of(plot, code) or (plot in differs and held == "44.4")
            assert is_own, (plot, code, record, server.entries("observation"))

    heights = decided(desk, trial, differs)
    for page in (first, second):
        page.reload()
        for record, height in heights.items():
            wait_for_height(page, record, height)
    one.close()
    two.close()
