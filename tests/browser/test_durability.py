"""What was typed stays: strict transactions, failing storage, tabs, clocks, portals, fat fingers.

Pitfalls 6, 8, 13, 14, 25-27, 29, 31, 32, 35 and 41 of offline work, in the shipped app against the
real server behind a proxy that loses what networks lose.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest
from playwright.sync_api import expect

from support.fault_proxy import FaultProxy
from support.live_server import live_server
from support.phone import (
    choose_mix,
    choose_places,
    press,
    sign,
    sign_in,
    step_is,
    store,
    until_signature,
    wait_for_store,
    wear,
    words,
)
from support.pictures import PHONE, context_for

if TYPE_CHECKING:
    from collections.abc import Iterator

    from playwright.sync_api import Browser, BrowserContext, Page

    from support.live_server import LiveServer
    from support.profiles import Profiles

pytestmark = pytest.mark.browser
OPERATOR, GROWER = "Rosa Lind", "Dinh Thorne"

# Watches every writing transaction, holds it open, refuses a store. Dexie binds `transaction` when
# it opens the database, so this has to be there before.
SPY = """(() => {
  const spy = (window.spy = { log: [], spins: 0, hold: false, refuse: null, databases: new Set() });
  const real = IDBDatabase.prototype.transaction;
  const linger = (tx) => {
    tx.objectStore('meta').get('nothing').onsuccess = () => {
      spy.spins += 1;
      if (spy.hold) linger(tx);
    };
  };
  // a disk that is full says so when the transaction commits, after every put had gone well
  const refuseLate = (tx, n) => {
    tx.objectStore('meta').get('nothing').onsuccess = () => (n > 0 ? refuseLate(tx, n - 1) : tx.abort());
  };
  IDBDatabase.prototype.transaction = function (names, mode, options) {
    const tx = real.call(this, names, mode, options);
    spy.databases.add(this);
    if (mode === 'readwrite') {
      const line = { stores: [...tx.objectStoreNames], durability: tx.durability, state: 'open' };
      spy.log.push(line);
      tx.addEventListener('complete', () => { line.state = 'complete'; });
      tx.addEventListener('abort', () => { line.state = 'aborted'; });
      if (!line.stores.includes('outbox') || !line.stores.includes('drafts')) return tx;
      if (spy.hold) linger(tx);
      if (spy.refuse === 'commit') refuseLate(tx, 200);
    }
    return tx;
  };
  const put = IDBObjectStore.prototype.put;
  IDBObjectStore.prototype.put = function (...values) {
    if (spy.refuse === this.name && this.transaction.objectStoreNames.contains('outbox'))
      throw new DOMException('the disk is full', 'QuotaExceededError');
    return put.apply(this, values);
  };
})()"""

# Saves `n` applications with the shipped modules, all at once, beside the running app.
SAVE = """async (n) => {
  const { openStore } = await import('/app/store/dexie-store.js');
  const { save } = await import('/app/sync/outbox.js');
  const store = openStore();
  const meta = (key) => store.read(['meta'], async (tx) => (await tx.get('meta', key)).value);
  const member = (await meta('session')).member.id;
  const clock = {
    nowMs: () => Date.now(),
    randomBytes: (k) => crypto.getRandomValues(new Uint8Array(k)),
    wall: () => ({ local: '2026-05-12T10:00:00', offset_min: -240, zone: 'America/New_York' }),
  };
  await Promise.all(Array.from({ length: n }, (_, i) => save(store, clock, [{
    kind: 'application', record: crypto.randomUUID(), action: 'create', member, form_version: 1,
    changes: { mix_name: { was: null, to: `mix ${i}` } },
  }])));
  store.close();
}"""
# Application and restriction at the start, both again at the end, the signature.
ENTRIES = [1, 2, 3, 4, 5]


@pytest.fixture(scope="module")
def server() -> Iterator[LiveServer]:
    """This file's own: it leaves hundreds of applications behind."""
    with live_server() as running:
        yield running


@pytest.fixture(scope="module")
def line(server: LiveServer) -> Iterator[FaultProxy]:
    with FaultProxy(0, server.port) as running:
        yield running


@pytest.fixture
def proxy(line: FaultProxy) -> Iterator[FaultProxy]:
    line.most_exchanges = 0
    yield line
    line.heal()


@pytest.fixture
def page(profiles: Profiles, proxy: FaultProxy) -> Page:
    """A phone on which the operator is signed in, with the first exchange behind it."""
    tab = profiles.take(PHONE)
    tab.add_init_script(SPY)
    tab.goto(f"{proxy.address}/today")
    sign_in(tab, OPERATOR)
    return tab


@pytest.fixture
def context(page: Page) -> BrowserContext:
    """What the tabs of the phone share."""
    return page.context


def go(page: Page, path: str) -> None:
    """Load an address of the same server anew."""
    page.goto(page.url.split("/", 3)[0] + "//" + page.url.split("/")[2] + path)
    page.wait_for_selector("h1")


def look_for_the_office(page: Page) -> None:
    page.evaluate("() => { dispatchEvent(new Event('online')) }")


def device_of(page: Page) -> str:
    found: str = store(page)["meta"]["device"]["id"]
    return found


def sent(found: dict[str, Any]) -> bool:
    return not found["outbox"]


def test_saved_is_shown_only_after_a_strict_transaction_is_complete(
    page: Page, proxy: FaultProxy
) -> None:
    proxy.fault("refuse", times=None)
    go(page, "/apply")
    until_signature(page, "Bench 1")
    page.evaluate("() => { spy.log = []; spy.hold = true }")

    page.get_by_role("button", name=words("apply.sign_now")).click()

    page.wait_for_function("() => spy.spins > 300")  # everything is written, nothing is complete
    assert page.get_by_text(words("saved.here")).count() == 0
    step_is(page, "sign")
    page.evaluate("() => { spy.hold = false }")
    expect(page.get_by_role("heading", level=1)).to_have_text(words("saved.here"))
    saving = [one for one in page.evaluate("() => spy.log") if "outbox" in one["stores"]]
    assert {"outbox", "records", "meta", "drafts"} <= set(saving[0]["stores"])
    assert [(one["durability"], one["state"]) for one in saving] == [("strict", "complete")]
    assert {one["durability"] for one in page.evaluate("() => spy.log")} == {"strict"}


def test_save_that_fails_in_one_store_leaves_all_as_they_were(
    page: Page, proxy: FaultProxy
) -> None:
    proxy.fault("refuse", times=None)
    go(page, "/apply")
    until_signature(page, "Bench 1")
    note = page.get_by_label(words("apply.note"), exact=False)
    note.fill("Wind from the vents.")
    before = wait_for_store(page, lambda all_: all_["drafts"]["apply"]["note"] != "")

    for name in ("outbox", "records", "meta", "commit"):
        page.evaluate("(name) => { spy.refuse = name }", name)
        page.get_by_role("button", name=words("apply.sign_now")).click()
        expect(page.get_by_role("alert").or_(page.get_by_role("status"))).to_contain_text(
            [words("apply.not_saved")]
        )
        after = store(page)
        for table in ("outbox", "records", "sent", "drafts"):
            assert after[table] == before[table], name
        assert after["meta"]["counter"] == before["meta"]["counter"], name
        assert note.input_value() == "Wind from the vents."

    page.evaluate("() => { spy.refuse = null }")
    sign(page)
    after = store(page)
    assert [row["number"] for row in after["outbox"]] == ENTRIES
    assert "apply" not in after["drafts"]


def test_start_that_cannot_be_saved_says_so_and_starts_nothing(
    page: Page, proxy: FaultProxy
) -> None:
    proxy.fault("refuse", times=None)
    go(page, "/apply")
    choose_places(page, "Bench 1")
    choose_mix(page)
    wear(page)
    press(page, "apply.load_mixed")
    wear(page)
    page.evaluate("() => { spy.refuse = 'records' }")

    press(page, "apply.start")

    expect(page.get_by_text(words("apply.not_saved"))).to_be_visible()
    step_is(page, "spray")
    assert store(page)["outbox"] == []


def test_lost_database_connection_is_opened_again(page: Page, proxy: FaultProxy) -> None:
    proxy.fault("refuse", times=None)
    go(page, "/apply")
    until_signature(page, "Bench 1")

    page.evaluate("() => { for (const one of spy.databases) one.close() }")
    sign(page)

    assert [row["number"] for row in store(page)["outbox"]] == ENTRIES


def test_database_that_stays_lost_is_said_and_the_text_kept(page: Page, proxy: FaultProxy) -> None:
    proxy.fault("refuse", times=None)
    go(page, "/apply")
    until_signature(page, "Bench 1")
    page.get_by_label(words("apply.note"), exact=False).fill("Wind from the vents.")
    page.evaluate(
        """() => {
          window.realOpen = indexedDB.open;
          indexedDB.open = () => { throw new DOMException('gone', 'UnknownError') };
          for (const one of spy.databases) one.close();
        }"""
    )

    page.get_by_role("button", name=words("apply.sign_now")).click()

    expect(page.get_by_text(words("apply.not_saved"))).to_be_visible()
    assert page.get_by_label(words("apply.note"), exact=False).input_value() == (
        "Wind from the vents."
    )
    page.evaluate("() => { indexedDB.open = window.realOpen }")
    sign(page)
    assert "Wind from the vents." in store(page)["outbox"][-1]["text"]


def test_two_tabs_never_number_twice_and_one_sends_at_a_time(
    page: Page, context: BrowserContext, proxy: FaultProxy, server: LiveServer
) -> None:
    other = context.new_page()
    other.goto(page.url)
    other.wait_for_selector(".syncline.passed")
    slow = proxy.fault("slow", times=None, delay_s=0.3)
    for tab in (page, other):
        tab.evaluate(f"() => {{ window.saving = ({SAVE})(15) }}")
    for tab in (page, other):
        tab.evaluate("() => window.saving")
        look_for_the_office(tab)
    look_for_the_office(page)
    found = wait_for_store(page, sent)

    assert slow.hits > 0
    assert proxy.most_exchanges == 1
    assert [row["number"] for row in found["sent"]] == list(range(1, 31))
    device = found["meta"]["device"]["id"]
    assert sorted(server.numbers(device)) == list(range(1, 31))
    assert len(server.entries("application", device)) == 30


def test_form_open_in_two_tabs_is_one_form(
    page: Page, context: BrowserContext, proxy: FaultProxy
) -> None:
    other = context.new_page()
    for tab in (page, other):
        tab.goto(f"{proxy.address}/apply")
        step_is(tab, "where")

    choose_places(page, "Bench 1")

    step_is(other, "mix")


# A tab for which 30 seconds pass in one and a half: its timers and its clock run 20 times as fast.
FAST = """(() => {
  const started = Date.now(), now = Date.now.bind(Date), timer = setTimeout;
  Date.now = () => started + (now() - started) * 20;
  window.setTimeout = (work, ms, ...more) => timer(work, ms / 20, ...more);
})()"""


def test_frozen_tab_does_not_keep_the_other_from_sending(
    page: Page, context: BrowserContext, proxy: FaultProxy, server: LiveServer
) -> None:
    proxy.fault("hold")
    held = proxy.faults[0]
    look_for_the_office(page)
    assert held.struck.wait(20)
    # stopped in the debugger: no timer, no reply reaches it, and it keeps its lock, like a frozen tab
    frozen = context.new_cdp_session(page)
    frozen.send("Debugger.enable")
    frozen.send("Debugger.pause")
    other = context.new_page()
    other.add_init_script(FAST)
    other.goto(f"{proxy.address}/today")
    other.wait_for_selector("h1")
    other.evaluate(SAVE, 1)
    started = other.evaluate("() => Date.now()")
    look_for_the_office(other)

    wait_for_store(other, sent, seconds=15)

    # two looks of 10 s more than a round can last, on this tab's own clock
    assert other.evaluate("() => Date.now()") - started < 20 * 15_000
    assert server.numbers(device_of(other)) == [1]
    frozen.send("Debugger.resume")


def test_second_person_on_a_phone_never_sends_as_the_first(
    page: Page, proxy: FaultProxy, server: LiveServer
) -> None:
    proxy.fault("refuse", times=None)
    first = store(page)["meta"]["session"]["member"]["id"]
    page.evaluate(SAVE, 1)
    go(page, "/sync")
    press(page, "sync.sign_out")
    press(page, "who.by_password")
    expect(page.get_by_text(words("sign_in.kept"))).to_be_visible()
    page.locator("input[autocomplete=username]").fill(GROWER)
    page.locator("input[type=password]").fill("demo demo demo")
    page.locator("form .btn-go").click()
    page.locator("input[type=password]").wait_for(state="detached")
    second = store(page)["meta"]["session"]["member"]["id"]
    page.evaluate(SAVE, 1)
    assert [row["member"] for row in store(page)["outbox"]] == [first, second]

    proxy.heal()
    look_for_the_office(page)
    wait_for_store(page, sent)

    found = server.entries("application", device_of(page))
    assert [(one["number"], one["member"]) for one in found] == [(1, first), (2, second)]
    assert {one["outcome"] for one in found} == {"accepted"}


def test_session_that_ended_keeps_a_full_outbox_until_sign_in(
    page: Page, context: BrowserContext, server: LiveServer
) -> None:
    device = device_of(page)
    context.clear_cookies()
    page.evaluate(SAVE, 250)
    look_for_the_office(page)
    go(page, "/sync")
    expect(page.get_by_text(words("sync.why.signed_out"))).to_be_visible()
    assert len(store(page)["outbox"]) == 250

    press(page, "sync.sign_out")
    press(page, "who.by_password")
    sign_in(page, OPERATOR)
    wait_for_store(page, sent)

    assert device_of(page) == device
    assert sorted(server.numbers(device)) == list(range(1, 251))


def test_phone_clock_two_years_ahead_changes_nothing_but_is_measured(
    browser: Browser, proxy: FaultProxy, server: LiveServer
) -> None:
    # a profile that nobody gets after it: the clock cannot be put right again
    with context_for(browser, PHONE) as context:
        changes_nothing_but_is_measured(context.new_page(), proxy, server)


def changes_nothing_but_is_measured(tab: Page, proxy: FaultProxy, server: LiveServer) -> None:
    tab.clock.install(time="2028-11-25T10:00:00Z")
    tab.goto(f"{proxy.address}/sign-in")
    sign_in(tab, OPERATOR)
    look_for_the_office(tab)
    found = wait_for_store(tab, lambda all_: all_["meta"].get("server_offset_ms") is not None)
    two_years = 2 * 365 * 86_400_000
    assert found["meta"]["server_offset_ms"] < -two_years * 0.9

    go(tab, "/apply")
    until_signature(tab, "Bench 1")
    sign(tab)
    wait_for_store(tab, sent)

    entries = server.entries("application", device_of(tab))
    assert {one["outcome"] for one in entries} == {"accepted"}
    made = entries[0]["entry"]["made_at"]
    assert made["device_utc"].startswith("2028")
    assert made["server_offset_ms"] == pytest.approx(found["meta"]["server_offset_ms"], abs=60_000)


def test_wiped_phone_numbers_anew_under_another_device(
    page: Page, context: BrowserContext, proxy: FaultProxy, server: LiveServer
) -> None:
    page.evaluate(SAVE, 2)
    look_for_the_office(page)
    first = wait_for_store(page, sent)["meta"]["device"]["id"]
    chrome = context.new_cdp_session(page)
    page.goto("about:blank")
    chrome.send("Storage.clearDataForOrigin", {"origin": proxy.address, "storageTypes": "all"})

    page.goto(f"{proxy.address}/today")
    sign_in(page, OPERATOR)
    page.evaluate(SAVE, 2)
    look_for_the_office(page)
    second = wait_for_store(page, sent)["meta"]["device"]["id"]

    assert second != first
    assert (server.numbers(first), server.numbers(second)) == ([1, 2], [1, 2])
    assert (
        len({e["record"] for d in (first, second) for e in server.entries("application", d)}) == 4
    )


def test_portal_that_answers_200_acknowledges_nothing(
    page: Page, proxy: FaultProxy, server: LiveServer
) -> None:
    portal = proxy.fault("portal", path="/api/", times=None)
    page.evaluate(SAVE, 3)
    look_for_the_office(page)
    assert portal.struck.wait(20)
    go(page, "/sync")

    expect(page.get_by_text(words("error.not_our_server"))).to_be_visible()
    assert [row["number"] for row in store(page)["outbox"]] == [1, 2, 3]
    assert server.numbers(device_of(page)) == []
    proxy.heal()
    press(page, "sync.send_now")
    wait_for_store(page, sent)


def test_old_answer_with_status_200_acknowledges_nothing(
    page: Page, context: BrowserContext
) -> None:
    with page.expect_response("**/api/v1/exchange") as answered:
        look_for_the_office(page)
    old = answered.value.json()
    asked: list[str] = []

    def answer_from_yesterday(route: Any) -> None:
        asked.append(route.request.url)
        route.fulfill(status=200, json=old)

    page.route("**/api/v1/exchange", answer_from_yesterday)
    page.evaluate(SAVE, 1)
    with page.expect_response("**/api/v1/exchange"):
        look_for_the_office(page)
    page.wait_for_selector(".syncline.waiting")

    assert asked
    assert [row["number"] for row in store(page)["outbox"]] == [1]
    page.unroute("**/api/v1/exchange")
    look_for_the_office(page)
    wait_for_store(page, sent)


def tap_twice(page: Page, code: str) -> None:
    """Two taps before the page had time to draw anything."""
    page.get_by_role("button", name=words(code)).evaluate("(b) => { b.click(); b.click() }")


def test_double_taps_start_end_and_sign_once(page: Page, server: LiveServer) -> None:
    go(page, "/apply")
    choose_places(page, "Bench 2")
    choose_mix(page)
    wear(page)
    press(page, "apply.load_mixed")
    step_is(page, "spray")
    wear(page)
    tap_twice(page, "apply.start")
    step_is(page, "end")
    page.locator("label.choice", has_text=words("apply.ended_all")).click()
    tap_twice(page, "apply.end_now")
    step_is(page, "sign")
    tap_twice(page, "apply.sign_now")
    page.get_by_role("heading", level=1, name="Saved").wait_for()
    wait_for_store(page, sent)

    entries = server.entries("application", device_of(page))
    assert [one["action"] for one in entries] == ["create", "change", "change"]
    assert sum("signature" in one["entry"]["changes"] for one in entries) == 1


def test_back_in_the_middle_of_a_form_keeps_what_was_typed(page: Page) -> None:
    page.locator(".tabs a[href='/apply']").click()
    choose_places(page, "Bench 1")
    page.get_by_label(words("apply.tank"), exact=False).first.fill("12.5")
    page.go_back()
    page.get_by_role("heading", level=1, name=words("today.title")).wait_for()
    page.go_forward()

    step_is(page, "mix")
    expect(page.get_by_label(words("apply.tank"), exact=False).first).to_have_value("12.5")
    go(page, "/apply")
    expect(page.get_by_label(words("apply.tank"), exact=False).first).to_have_value("12.5")


NO_TANKS = ("12,5", "about 40", "1,200", "1.200.000", "-5", "0", "1e9999", "９", "12.5 L", "<b>")


def test_tank_that_is_no_amount_is_explained_and_stays(page: Page) -> None:
    go(page, "/apply")
    choose_places(page, "Bench 1")
    field = page.get_by_label(words("apply.tank"), exact=False).first
    error = page.locator(".stem-step.is-current .field-error")
    for typed in NO_TANKS:
        field.fill("40")
        expect(error).to_have_count(0)
        field.fill(typed)

        expect(error).to_be_visible()
        said = error.inner_text()
        assert len(said.split()) > 3, typed
        assert "error." not in said, typed
        assert "undefined" not in said, typed
        expect(field).to_have_value(typed)
        expect(page.get_by_role("button", name=words("apply.mix_done"))).to_have_count(0)


def test_huge_tank_is_a_tank(page: Page) -> None:
    """A number no tank has is a number; the plan says how much is mixed, never more than needed."""
    go(page, "/apply")
    choose_places(page, "Bench 1")
    choose_mix(page, "100000")

    assert "7.92" in page.locator(".measures").inner_text()


def test_refused_storage_says_why_and_what_to_do(browser: Browser, proxy: FaultProxy) -> None:
    with context_for(browser, PHONE) as context:
        context.add_init_script(
            "IDBFactory.prototype.open = () => { throw new DOMException('denied', 'SecurityError') }"
        )
        tab = context.new_page()
        tab.goto(f"{proxy.address}/apply")

        expect(tab.get_by_text(words("capture.no_write"))).to_be_visible()
        expect(tab.get_by_text(words("capture.no_write_why"))).to_be_visible()
