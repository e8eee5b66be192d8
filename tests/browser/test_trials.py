"""Two phones without signal measure one assessment; one dies half-way; six plants are measured by both.

48 plots of two plants with four measurements each. Every value arrives once and on its plant, those that
differ wait for a person, and one entry of a value takes one tap more than it has characters.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest
from playwright.sync_api import expect

from support.http_desk import HttpDesk
from support.live_server import live_server
from support.phone import Phone, sign_in, wait_for_promise, words
from support.pictures import driver
from tepal.sync.ids import shared_id

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from playwright.sync_api import Page

    from support.live_server import LiveServer

pytestmark = pytest.mark.browser
CODES = ("height", "width", "leaves", "branches")
N_BLOCKS, PER_BLOCK, N_PLANTS = 8, 6, 2
# plants 1 of these are measured by both phones: other measurements, and the same
SHARED, DIFFERS = (19, 20, 21), (22, 23, 24)

# taps the pad's own keys for each value, one task apart as thumbs do; leaves how many taps it took
_TAPS = """(values) => {
  const rest = () => new Promise((done) => setTimeout(done, 0));
  window.taps = null;
  (async () => {
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
    window.taps = taps;
  })();
}"""


@pytest.fixture
def server() -> Iterator[LiveServer]:
    with live_server() as running:
        yield running


def planned(desk: HttpDesk) -> str:
    """Save a trial of six treatments in eight blocks, two plants a plot; return its id."""
    numbers = range(1, PER_BLOCK + 1)
    treatments = [{"number": n, "name": f"rate {n}", "role": "rate"} for n in numbers]
    asked = {
        "design": "rcbd", "treatments": treatments,
        "n_blocks": N_BLOCKS, "plants_per_plot": N_PLANTS,
    }  # fmt: skip
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


def start_entering(page: Page, values: list[str]) -> int:
    """Begin to type values on the pad; return how many entries will wait when all are kept."""
    waiting: int = page.evaluate(_WAITING)
    page.evaluate(_TAPS, values)
    return waiting + len(values)


def wait_until_entered(page: Page, values: list[str], waiting: int) -> None:
    """Wait for the last value: one tap more than characters each, and all of them kept."""
    page.wait_for_function("() => window.taps !== null")
    assert page.evaluate("() => window.taps") == sum(len(value) + 1 for value in values)
    wait_for_promise(page, f"async () => (await ({_WAITING})()) === {waiting}")


def enter(page: Page, values: list[str]) -> None:
    wait_until_entered(page, values, start_entering(page, values))


def jump(page: Page, plot: int, plant: int | None = None) -> None:
    """Go to a plot, or to a plant of the plot at hand."""
    page.locator(".beds-button").click()
    if plant is None:
        page.locator(".plot-key", has_text=plot_code(plot)).click()
    else:
        page.locator(".stop-key", has_text=words("measure.the_plant")).nth(plant - 1).click()


def plot_code(plot: int) -> str:
    return f"{1 + (plot - 1) // PER_BLOCK}{1 + (plot - 1) % PER_BLOCK:02d}"


def value_of(plot: int, plant: int, code: str) -> str:
    return f"{10 * CODES.index(code) + plot}.{plant}"


def all_of(plots: range) -> list[str]:
    """Return the values of plots in the order of the walk."""
    plants = range(1, N_PLANTS + 1)
    return [value_of(plot, plant, code) for plot in plots for plant in plants for code in CODES]


def assert_whole(desk: HttpDesk, trial: str) -> None:
    """Every plant has one observation with every value, and the plant's own."""
    found = [r for r in desk.records["observation"] if r["fields"].get("trial") == trial]
    plants = {
        shared_id(trial, "w4", plot, plant): (plot, plant)
        for plot in range(1, N_BLOCKS * PER_BLOCK + 1)
        for plant in range(1, N_PLANTS + 1)
    }
    assert sorted(record["id"] for record in found) == sorted(plants)
    for record in found:
        plot, plant = plants[record["id"]]
        assert (record["fields"]["plot"], record["fields"]["plant"]) == (plot, plant)
        may_differ = plot in DIFFERS and plant == 1
        for code in CODES:
            held = record["fields"].get(f"m_{code}")
            is_own = held == value_of(plot, plant, code)
            assert is_own or (may_differ and code == "height" and held == "44.4"), (code, record)


def decided(desk: HttpDesk, trial: str) -> dict[str, str]:
    """Decide the heights that differ, as a person does; return them by observation."""
    conflicts = list(desk.records["conflict"])  # deciding changes the desk's own list
    assert [one["fields"]["field"] for one in conflicts] == ["m_height"] * len(DIFFERS)
    for conflict in conflicts:
        assert "44.4" in (conflict["fields"]["current"], conflict["fields"]["other"])
        decision = {"value": "44.4", "over": conflict["fields"]["current"]}
        changes: dict[str, Any] = {"decision": (None, decision)}
        assert desk.send("conflict", "decide", changes, record=conflict["id"]) == "accepted"
    return {shared_id(trial, "w4", plot, 1): "44.4" for plot in DIFFERS}


def test_two_phones_measure_one_assessment_without_signal(
    server: LiveServer, tmp_path: Path
) -> None:
    desk = HttpDesk(server.address, "Dinh Thorne")
    trial = planned(desk)
    path = f"/trials/{trial}/measure/w4"
    playwright = driver()
    one = Phone(playwright, tmp_path / "one", server.address)
    two = Phone(playwright, tmp_path / "two", server.address)
    first, second = signed_in(one, "Rosa Lind"), signed_in(two, "Dinh Thorne")
    for page in (first, second):
        page.goto(server.address + path)
        page.wait_for_selector(".pad-key")
    server.kill()

    # the second takes the far half of the bench; the first walks along the near one at the same time,
    # and its battery dies half-way, in the middle of a number
    jump(second, 25)
    far = all_of(range(25, 49))
    waiting = 1 + start_entering(second, far)  # and the assessment itself
    near = all_of(range(1, 10))
    wait_until_entered(first, near, 1 + start_entering(first, near))
    first.locator(".pad-key", has_text="7").first.click()
    wait_for_draft(first, f"measure/{trial}/w4", "7")
    first.wait_for_timeout(500)  # another connection sees a commit before it is on the disk
    one.kill()
    wait_until_entered(second, far, waiting)

    # the second measures other things on three plants, and the same on three more
    for plot in SHARED:
        jump(second, plot)
        second.locator(".well", has_text="Leaves").click()
        enter(second, [value_of(plot, 1, code) for code in CODES[2:]])
    for plot in DIFFERS:
        jump(second, plot)
        enter(second, ["44.4", *(value_of(plot, 1, code) for code in CODES[1:])])
        jump(second, plot)  # a label leads to the plant that is open
        expect(second.locator(".measure-head")).to_contain_text("plant 2 of 2")

    first = one.open(path)
    expect(first.locator(".q-giant")).to_contain_text("7")  # even the digit that was typed
    first.locator(".pad-erase").click()
    enter(first, all_of(range(10, 19)))
    for plot in SHARED:
        enter(first, [value_of(plot, 1, code) for code in CODES[:2]])
        jump(first, plot, plant=2)
        enter(first, [value_of(plot, 2, code) for code in CODES])
    enter(first, all_of(range(22, 25)))

    server.start()
    for page in (first, second):
        page.goto(f"{server.address}/sync")
        wait_until_sent(page)

    desk.exchange()
    assert_whole(desk, trial)
    heights = decided(desk, trial)
    for page in (first, second):
        page.reload()
        for record, height in heights.items():
            wait_for_height(page, record, height)
    one.close()
    two.close()
