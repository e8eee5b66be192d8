"""The registers on a real server: plan, a lot's life, label files offline, the wall tablet."""

from __future__ import annotations

import io
import json
import re
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING, Any

import pytest
from playwright.sync_api import expect
from reportlab.pdfgen.canvas import Canvas

from support import registers_sample as sample
from support.http_desk import HttpDesk
from support.live_server import live_server
from support.phone import follow, store, wait_for_store, words
from support.pictures import OFFICE, PHONE, sign_in

if TYPE_CHECKING:
    from collections.abc import Iterator

    from playwright.sync_api import Page

    from support.live_server import LiveServer
    from support.profiles import Profiles

pytestmark = pytest.mark.browser

MANAGER, GROWER = "Ines Prado", "Dinh Thorne"


def pdf(text: str = "Invented label text") -> bytes:
    out = io.BytesIO()
    canvas = Canvas(out, invariant=1)
    canvas.drawString(72, 720, text)
    canvas.save()
    return out.getvalue()


@pytest.fixture(scope="module")
def server() -> Iterator[LiveServer]:
    with live_server() as running:
        yield running


@pytest.fixture(scope="module")
def filled(server: LiveServer) -> tuple[HttpDesk, dict[str, str]]:
    desk = HttpDesk(server.address, MANAGER)
    return desk, sample.fill(desk)


def phone(profiles: Profiles, server: LiveServer, name: str) -> Page:
    page = profiles.take(PHONE)
    sign_in(page, server.address, name)
    return page


def test_house_is_drawn_to_scale_and_says_what_it_assumed(
    profiles: Profiles, server: LiveServer, filled: tuple[HttpDesk, dict[str, str]]
) -> None:
    ids = filled[1]
    page = phone(profiles, server, MANAGER)
    page.context.set_offline(True)

    follow(page, f"/houses/{ids['house']}")
    outline = page.locator(".plan-house").bounding_box() or {}
    bench = page.locator(".plan-bench").first.bounding_box() or {}

    # 24 m x 9.6 m; bench 1 is 22 m x 1.8 m at 0.6 m, 1 m
    scale = outline["height"] / 24
    assert outline["width"] / scale == pytest.approx(9.6, rel=0.02)
    assert bench["height"] / scale == pytest.approx(22, rel=0.02)
    assert bench["width"] / scale == pytest.approx(1.8, rel=0.05)
    assert (bench["x"] - outline["x"]) / scale == pytest.approx(0.6, abs=0.1)
    expect(page.get_by_role("link", name="Bench 1: 1·07")).to_be_visible()

    follow(page, f"/houses/{ids['loose']}")
    expect(page.get_by_text(words("house_plan.no_size"))).to_be_visible()
    expect(page.locator(".plan-bench.is-loose")).to_have_count(5)
    expect(page.locator(".plan-bench.is-assumed")).to_have_count(1)


def test_a_split_is_one_saving_and_keeps_what_was_applied(
    profiles: Profiles, server: LiveServer, filled: tuple[HttpDesk, dict[str, str]]
) -> None:
    desk, ids = filled
    page = phone(profiles, server, GROWER)
    page.context.set_offline(True)
    follow(page, f"/lots/{ids['lot']}/happened")
    page.locator("label.choice", has_text=words("choice.what.split")).first.click()
    page.get_by_role("button", name="Save", exact=True).click()
    expect(page.get_by_text(words("form.life.needed")).first).to_be_visible()

    page.get_by_label(words("lot.new_code")).fill("1·07B")
    count = page.get_by_label(words("field.lot_event.split.n_containers"))
    count.fill("2000")
    page.get_by_role("button", name="Save", exact=True).click()
    expect(page.get_by_text(re.compile("The lot has 1840 on file"))).to_be_visible()
    count.fill("340")
    page.get_by_role("button", name="Save", exact=True).click()

    expect(page.locator(".lot-now")).to_contain_text("1500")
    unsent = [json.loads(row["text"]) for row in store(page)["outbox"]]
    assert [(one["kind"], one["action"]) for one in unsent] == [
        ("lot_event", "create"), ("lot", "change"), ("lot", "create"),
    ]  # fmt: skip
    assert len({one["group"] for one in unsent}) == 1
    assert unsent[0]["group"]
    fresh = unsent[2]["record"]

    follow(page, f"/lots/{fresh}")
    expect(page.locator(".lot-now")).to_contain_text("340")
    expect(page.locator(".history")).to_contain_text("By the supplier: Halfpace SG")
    expect(page.locator(".history")).to_contain_text("from which this lot came")
    page.context.set_offline(False)
    wait_for_store(page, lambda found: found["outbox"] == [])
    assert desk.record("lot", fresh)["fields"]["from_lots"] == [ids["lot"]]


def test_label_is_checked_kept_and_read_without_signal(
    profiles: Profiles, server: LiveServer, filled: tuple[HttpDesk, dict[str, str]]
) -> None:
    ids = filled[1]
    page = phone(profiles, server, MANAGER)
    follow(page, f"/label-files/new?product={ids['product']}")
    chooser = page.locator("input[type=file]")
    html = {"name": "label.pdf", "mimeType": "application/pdf", "buffer": b"<html>%PDF-1.4</html>"}
    chooser.set_input_files(html)
    expect(page.get_by_text(words("error.photos.not_a_pdf"))).to_be_visible()

    good = {"name": "Label 15 Jan.pdf", "mimeType": "application/pdf", "buffer": pdf()}
    chooser.set_input_files(good)
    expect(page.get_by_text("Label 15 Jan.pdf")).to_be_visible()
    page.locator("input[type=date]").fill("2026-01-15")
    page.get_by_text("Yes", exact=True).click()
    page.get_by_role("button", name="Save", exact=True).click()
    page.wait_for_selector(".open-file")
    wait_for_store(page, lambda found: [row["state"] for row in found["photos"]] == ["stored"])

    other = phone(profiles, server, GROWER)
    wait_for_store(other, lambda found: len(found["photos"]) == 1)
    other.context.set_offline(True)
    follow(other, f"/products/{ids['product']}")
    link = other.locator(".open-file a").first
    expect(link).to_have_attribute("href", re.compile("^blob:"))
    follow(other, "/sync")
    expect(other.get_by_text(re.compile("1 file, 0.1 MB of at most 60 MB"))).to_be_visible()
    # the application made under that label leads to its file
    follow(other, f"/applications/{ids['old']}")
    expect(other.get_by_role("link", name=words("label.open_of_day"))).to_be_visible()


def test_wall_tablet_shows_the_display_and_holds_nobodys_name(
    profiles: Profiles, server: LiveServer, filled: tuple[HttpDesk, dict[str, str]]
) -> None:
    desk, ids = filled
    made = desk.call("POST", "/api/v1/enrolment-codes", {"label": "Wall", "ceiling": "display"})
    page = profiles.take(OFFICE)
    page.goto(f"{server.address}/sign-in")
    page.get_by_label(words("enrol.code")).fill(made["code"])
    page.get_by_role("button", name=words("enrol.do")).click()
    page.get_by_role("link", name=words("place.display")).click()

    mine = page.locator(".display-card", has_text="1·07")
    expect(mine).to_have_count(2)  # the third is past its 30 days
    expect(mine.first).to_contain_text("99001-12")
    expect(page.locator(".contacts")).to_contain_text("Harlow County Clinic")
    held = store(page)
    kinds = {row["kind"] for row in held["records"]}
    assert kinds <= {
        "establishment", "house", "bay", "bench", "product", "label_file", "application",
        "restriction", "conflict",
    }  # fmt: skip
    text = json.dumps([row["shown"] for row in held["records"]])
    assert MANAGER not in text
    assert desk.member not in text
    assert ids["gone"] not in {row["id"] for row in held["records"]}

    # voided afterwards: it leaves the wall
    desk.send("application", "void", {}, record=ids["old"], reason="entered twice")
    expect(mine).to_have_count(1, timeout=30_000)
    page.get_by_role("link", name=words("place.emergency")).first.click()
    expect(page.get_by_text(words("emergency.exposed"), exact=True)).to_be_visible()
    expect(page.locator("details[open]").first).to_contain_text("rinse at once")


def test_retired_and_shipped_leave_lists_and_come_back_on_demand(
    profiles: Profiles, server: LiveServer, filled: tuple[HttpDesk, dict[str, str]]
) -> None:
    desk = filled[0]
    now = datetime.now(UTC)
    gone: dict[str, Any] = {"code": "9·99", "crop": "Petunia", "phase": "shipped"}
    sample.create(desk, "lot", gone)
    sample.create(
        desk, "batch",
        {
            "product": sample.by_name(desk, "product", "Halfpace SG"), "code": "OLD-1",
            "amount": sample.q("1", "kg"), "expires_on": f"{now - timedelta(days=2):%Y-%m-%d}",
        },
    )  # fmt: skip
    page = phone(profiles, server, MANAGER)

    follow(page, "/lots")
    expect(page.locator(".list-row").first).to_be_visible()
    expect(page.get_by_text("Petunia")).to_have_count(0)
    page.get_by_role("button", name=words("register.show_retired")).click()
    expect(page.get_by_text("Petunia")).to_be_visible()

    follow(page, "/houses")
    expect(page.get_by_text("Old frame")).to_have_count(0)
    follow(page, "/stock")
    expect(page.locator(".message.caution")).to_contain_text("OLD-1")
    expect(page.locator(".message.caution")).to_contain_text("little is left")
