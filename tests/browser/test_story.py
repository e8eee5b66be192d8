"""The whole story, with nothing faked: phone, killed server, killed browser, office, paper.

Promises 1, 2, 3, 6 and 8 of the sync: durable before "saved", once in effect, never dropped, the
past stays readable, a missing entry shows.
"""

from __future__ import annotations

import hashlib
import io
import re
from typing import TYPE_CHECKING, Any

import pytest
from PIL import Image
from playwright.sync_api import expect

from support.fault_proxy import FaultProxy
from support.http_desk import HttpDesk
from support.paper_reading import whole_text
from support.phone import (
    Phone,
    choose_mix,
    choose_places,
    end_spraying,
    press,
    sign,
    sign_in,
    start_spraying,
    step_is,
    store,
    until_signature,
    wait_for_store,
    wear,
    words,
)

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

    from playwright.sync_api import Page, Playwright

    from support.live_server import LiveServer

pytestmark = pytest.mark.browser
OPERATOR, GROWER = "Rosa Lind", "Dinh Thorne"


@pytest.fixture
def server(own_server: LiveServer) -> LiveServer:
    return own_server


@pytest.fixture
def phone(playwright: Playwright, server: LiveServer, tmp_path: Path) -> Iterator[Phone]:
    one = Phone(playwright, tmp_path / "profile", server.address)
    yield one
    one.close()


@pytest.fixture
def photo(tmp_path: Path) -> Path:
    """A picture larger than the phone keeps: 2,400 x 1,800, so that it is scaled down."""
    path = tmp_path / "bench.jpg"
    Image.radial_gradient("L").resize((2400, 1800)).convert("RGB").save(path, quality=90)
    return path


def ready(page: Page) -> None:
    """Wait until the app would start without a server."""
    page.evaluate("navigator.serviceWorker.ready.then(() => true)")
    page.wait_for_function("() => navigator.serviceWorker.controller !== null")


def add_photo(page: Page, photo: Path) -> None:
    page.locator("input[type=file]").set_input_files(photo)
    page.locator(".thumbs img").wait_for()


def everything_sent(all_: dict[str, Any]) -> bool:
    return not all_["outbox"] and all(row["state"] == "stored" for row in all_["photos"])


def applications_of(server: LiveServer, device: str) -> int:
    """Return how many applications of this phone the office holds; the demo has some of its own."""
    found = server.rows(
        "SELECT count(*) FROM application WHERE id IN (SELECT record FROM journal WHERE device = ?)",
        device,
    )
    return int(found[0][0])


def assert_journal_is_whole(server: LiveServer, device: str) -> None:
    numbers = server.numbers(device)
    assert numbers == list(range(1, len(numbers) + 1))
    seqs = [seq for (seq,) in server.rows("SELECT seq FROM journal ORDER BY seq")]
    assert seqs == list(range(1, len(seqs) + 1))
    verified = server.command("verify")
    assert verified.returncode == 0, verified.stdout + verified.stderr


def test_operator_without_signal_to_printed_month(
    server: LiveServer, phone: Phone, photo: Path, opened: Callable[..., Page]
) -> None:
    page = phone.open("/sign-in")
    sign_in(page, OPERATOR)
    ready(page)
    phone.close()
    server.kill()

    # the house has no signal: the app starts from the phone alone
    page = phone.open("/apply")
    choose_places(page, "Bench 1")
    choose_mix(page)
    measures = page.locator(".measures").inner_text().replace("\xa0", " ")
    # by hand: 39.6 m2 x 200 mL/m2 = 7.92 L; 7.92 L x 900 mg/L / 118 mg/mL = 60.4 mL, on a cylinder
    # of 2 mL steps 60 mL; 7.92 L x 1,250 mg/L / 0.85 = 11,647 mg, on a balance of 0.1 g 11.6 g
    assert re.search(r"Stemwright SL.*?\b60\s*mL", measures, re.DOTALL)
    assert re.search(r"Halfpace SG.*?\b11\.6\s*g", measures, re.DOTALL)
    assert "7.92" in measures
    start_spraying(page)
    end_spraying(page)
    add_photo(page, photo)
    sign(page)
    expect(page.get_by_role("heading", level=1)).to_have_text(words("saved.here"))
    here = store(page)
    # start and end are two entries each: the application and the restriction of its house
    assert [row["kind"] for row in here["outbox"]] == [
        "application", "restriction", "application", "restriction", "photo", "application",
    ]  # fmt: skip
    assert [row["number"] for row in here["outbox"]] == [1, 2, 3, 4, 5, 6]
    assert here["meta"]["counter"] == 6

    # a second application is half filled in when the battery dies
    page = phone.open("/apply")
    page.locator("label.choice", has_text="Bench 3").click()
    wait_for_store(
        page, lambda all_: len(all_["drafts"].get("apply", {"places": []})["places"]) == 1
    )
    phone.kill()

    page = phone.open("/apply")
    expect(page.locator("label.choice", has_text="Bench 3").locator("input")).to_be_checked()
    page = phone.open("/sync")
    expect(page.locator(".syncline")).to_contain_text("6 entries on this phone")
    expect(page.get_by_role("heading", level=2).first).to_have_text("Only on this phone: 6")
    again = store(page)
    assert again["outbox"] == here["outbox"]
    assert again["records"] == here["records"]
    assert again["photos"] == here["photos"]
    assert [row["state"] for row in again["photos"]] == ["waiting"]
    assert again["photos"][0]["sha256"] == again["photos"][0]["bytes"]

    server.start()
    page.wait_for_selector(".syncline.passed", timeout=30_000)
    wait_for_store(page, everything_sent)
    device = again["meta"]["device"]["id"]
    sha256 = again["photos"][0]["sha256"]
    assert server.photo_files() == {sha256: sha256}
    assert [(one["action"], one["outcome"]) for one in server.entries("application", device)] == [
        ("create", "accepted"), ("change", "accepted"), ("change", "accepted"),
    ]  # fmt: skip
    assert applications_of(server, device) == 1
    assert_journal_is_whole(server, device)

    phone.close()
    record = server.entries("application", device)[0]["record"]
    amend_and_print(server, record, opened(server, GROWER))


def amend_and_print(server: LiveServer, record: str, page: Page) -> None:
    """The grower finds that less went out, says why on the page, and prints the month."""
    desk = HttpDesk(server.address, GROWER)
    seen = desk.record("application", record)
    assert seen["state"] == "signed"
    reason = "The cylinder was read at the upper rim."
    page.goto(f"{server.address}/applications/{record}")
    page.get_by_role("link", name=words("office.amend_do")).click()
    page.get_by_role("button", name=words("office.which_field")).click()
    page.locator(".sheet .list-row", has_text="60.41").click()
    page.get_by_role("textbox", name=words("field.amount")).first.fill("56.00")
    page.get_by_label(words("answer.reason")).fill(reason)
    press(page, "office.save_amend")

    product = page.locator("article.card", has_text="Stemwright SL").first
    expect(product.locator("del")).to_contain_text("60.41")  # struck through, and readable
    expect(product.locator("del")).to_have_css("text-decoration-line", "line-through")
    expect(product).to_contain_text("56.00")
    entry = page.locator(".history-entry").first
    for text in (GROWER, reason):
        expect(entry).to_contain_text(text)
    page.wait_for_selector(".syncline.passed")
    amended = server.entries("application")[-1]
    assert (amended["action"], amended["outcome"]) == ("amend", "accepted")
    assert amended["entry"]["changes"]["products"]["was"] == seen["fields"]["products"]
    month = seen["fields"]["started_at"]["local"][:7]
    paper = whole_text(desk.fetch("GET", f"/api/v1/reports/month?month={month}"))
    for text in ("60.41", "56.00", reason, GROWER, OPERATOR):
        assert text in paper


def behind_proxy(server: LiveServer) -> FaultProxy:
    """The server moves; what phones know as its address becomes a proxy."""
    address = server.port
    server.stop()
    server.move()
    server.start()
    return FaultProxy(address, server.port)


def test_reply_lost_after_commit_and_phone_killed_then(
    server: LiveServer, phone: Phone, photo: Path
) -> None:
    with behind_proxy(server) as proxy:
        page = phone.open("/sign-in")
        sign_in(page, OPERATOR)
        ready(page)
        phone.close()  # Chromium writes cookies out at its leisure (30 s), or when it is closed
        page = phone.open("/apply")
        cut_off = proxy.fault("refuse", times=None)
        until_signature(page, "Bench 1")
        add_photo(page, photo)
        sign(page)
        before = store(page)
        device = before["meta"]["device"]["id"]
        assert [row["number"] for row in before["outbox"]] == [1, 2, 3, 4, 5, 6]

        # the server takes all six, its answer is lost, and so is the browser
        proxy.faults.remove(cut_off)
        lost = proxy.fault("drop_reply", times=None)
        page.evaluate("dispatchEvent(new Event('online'))")
        assert lost.struck.wait(30)
        assert server.numbers(device) == [1, 2, 3, 4, 5, 6]
        phone.kill()
        proxy.faults.remove(lost)
        cut_off = proxy.fault("refuse", times=None)
        page = phone.open("/sync")
        assert [row["number"] for row in store(page)["outbox"]] == [1, 2, 3, 4, 5, 6]

        # and once more the reply to the photo's piece
        proxy.faults.remove(cut_off)
        proxy.fault("drop_reply", path="/api/v1/photos")
        proxy.fault("cut_reply")
        press(page, "sync.send_now")
        page.wait_for_selector(".syncline.passed", timeout=60_000)
        wait_for_store(page, everything_sent)
        after = store(page)

    assert server.numbers(device) == [1, 2, 3, 4, 5, 6]
    assert applications_of(server, device) == 1
    assert server.rows("SELECT count(*) FROM photo") == [(1,)]
    sha256 = before["photos"][0]["sha256"]
    assert server.photo_files() == {sha256: sha256}
    assert hashlib.sha256(stored_photo(server, sha256)).hexdigest() == sha256
    assert server.rows("SELECT count(*) FROM photo_piece") == [(0,)]
    assert [row["number"] for row in after["sent"]] == [1, 2, 3, 4, 5, 6]
    assert_journal_is_whole(server, device)


def stored_photo(server: LiveServer, sha256: str) -> bytes:
    """Return the photo as the office gets it; a JPEG no longer than 1,600 px."""
    content = HttpDesk(server.address, GROWER).fetch("GET", f"/api/v1/photos/{sha256}")
    with Image.open(io.BytesIO(content)) as picture:
        assert (picture.format, picture.size) == ("JPEG", (1600, 1200))
    return content


def test_killed_right_after_start_goes_on_with_the_same_record(
    server: LiveServer, phone: Phone
) -> None:
    """The start and the form's memory of it are one transaction: nothing is sprayed twice on file."""
    page = phone.open("/sign-in")
    sign_in(page, OPERATOR)
    ready(page)
    server.kill()
    # the phone dies in the moment when the transaction of the start is complete: no write after it
    # (before the page opens its store, since Dexie binds `transaction` then)
    page.add_init_script(
        """(() => {
          const real = IDBDatabase.prototype.transaction;
          IDBDatabase.prototype.transaction = function (names, mode, options) {
            if (mode === 'readwrite' && window.isDead) throw new Error('dead');
            const tx = real.call(this, names, mode, options);
            if (mode === 'readwrite' && [...names].includes('outbox')) {
              tx.addEventListener('complete', () => { window.isDead = true; });
              // a slow disk: the form's own memory would be written meanwhile, and come after
              const until = performance.now() + 800;
              const linger = () => {
                tx.objectStore('meta').get('nothing').onsuccess = () => performance.now() < until && linger();
              };
              linger();
            }
            return tx;
          };
        })()"""
    )
    page = phone.open("/apply")
    choose_places(page, "Bench 1")
    choose_mix(page)
    wear(page)
    press(page, "apply.load_mixed")
    step_is(page, "spray")
    wear(page)
    press(page, "apply.start")
    page.wait_for_function("() => window.isDead === true")
    phone.kill()

    page = phone.open("/apply")

    step_is(page, "end")
    end_spraying(page)
    sign(page)
    creates = [row for row in store(page)["outbox"] if row["action"] == "create"]
    assert [row["kind"] for row in creates] == ["application", "restriction"]
