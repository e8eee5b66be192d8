"""The office's pages on the real server: applications, amending, deciding, registers, emergency."""

from __future__ import annotations

import re
import time
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING, Any

import pytest
from playwright.sync_api import expect

from support.http_desk import HttpDesk, litres
from support.live_server import live_server
from support.phone import follow
from support.pictures import PHONE
from tepal.services.demo import PASSWORD

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from playwright.sync_api import Locator, Page

    from support.live_server import LiveServer

pytestmark = pytest.mark.browser

MANAGER, GROWER, OPERATOR = "Ines Prado", "Dinh Thorne", "Rosa Lind"


@pytest.fixture(scope="module")
def deciding() -> Iterator[LiveServer]:
    """A server on which nothing waits for a decision before a test, nor after it."""
    with live_server() as running:
        running.is_shared = True
        yield running


def box(at: Page | Locator, name: str) -> Locator:
    """Return the input whose label begins with the name; the label may say "needed" after it."""
    return at.get_by_role("textbox", name=re.compile(rf"^{name}\b")).first


def eventually(read: Callable[[], Any], wanted: Any) -> None:
    """Wait until the server has what a page has saved; the page shows it before it is sent."""
    until = time.monotonic() + 20
    while (found := read()) != wanted and time.monotonic() < until:
        time.sleep(0.2)
    assert found == wanted


def volume_of(desk: HttpDesk, record: str) -> Callable[[], Any]:
    return lambda: desk.record("application", record)["fields"]["volume"]


def choose_field(page: Page, name: str) -> None:
    page.get_by_role("button", name=re.compile("Which value is wrong")).click()
    page.locator(".sheet .list-row", has_text=name).first.click()


def test_list_shows_the_month_and_opens_the_record(server: LiveServer, opened) -> None:
    HttpDesk(server.address, GROWER).apply("7.92", month="2025-03")
    page = opened(server)

    follow(page, "/applications?month=2025-03")

    row = page.locator(".act-row")
    expect(row).to_have_count(1)
    for text in ("07:32–08:05", "Height, bedding", "7.92", GROWER, "signed", "House 1"):
        expect(row).to_contain_text(text)
    row.locator("a").click()
    expect(page.locator("h1")).to_have_text("Wednesday 12 March")
    expect(page.get_by_role("heading", name="History")).to_be_visible()


def test_list_offers_the_months_that_hold_applications(server: LiveServer, opened) -> None:
    HttpDesk(server.address, GROWER).apply("7.92", month="2024-08")
    page = opened(server)
    follow(page, "/applications")

    page.locator("select").select_option("2024-08")

    expect(page.locator(".act-row")).to_have_count(1)
    expect(page).to_have_url(re.compile("month=2024-08"))
    print_link = page.get_by_role("link", name="Print the month")
    expect(print_link).to_have_attribute("href", re.compile("month=2024-08&language=en"))
    expect(print_link).to_have_attribute("target", "_blank")


def test_list_names_this_phone_when_the_office_is_away(own_server: LiveServer, opened) -> None:
    HttpDesk(own_server.address, GROWER).apply("7.92")
    page = opened(own_server, screen=PHONE)
    follow(page, "/applications?month=2026-05")
    expect(page.locator(".card")).to_have_count(1)
    own_server.stop()

    page.locator("select").select_option(index=0)
    page.locator("select").select_option("2026-05")

    expect(page.get_by_text("Only the applications on this phone are shown")).to_be_visible()
    expect(page.locator("a.card")).to_contain_text("7.92")


def test_amendment_without_a_reason_is_not_saved(server: LiveServer, opened) -> None:
    desk = HttpDesk(server.address, GROWER)
    record = desk.apply("7.92")
    page = opened(server)
    follow(page, f"/applications/{record}/amend")
    choose_field(page, "Volume applied")
    box(page, "Volume applied").fill("8.4")

    page.get_by_role("button", name="Save the amendment").click()

    expect(page.get_by_text("The reason is missing")).to_be_visible()
    assert volume_of(desk, record)() == litres("7.92")


def test_amended_value_stands_beside_the_old_one(server: LiveServer, opened) -> None:
    desk = HttpDesk(server.address, GROWER)
    record = desk.apply("7.92")
    page = opened(server)
    follow(page, f"/applications/{record}")
    page.get_by_role("link", name="Amend").click()
    choose_field(page, "Volume applied")
    box(page, "Volume applied").fill("8.4")
    page.get_by_label("Reason").fill("read the sight glass again")
    page.get_by_role("button", name="Save the amendment").click()

    volume = page.locator(".facts > div", has_text="Volume applied")
    expect(volume.locator("del")).to_contain_text("7.92")
    expect(volume).to_contain_text("8.4")
    entry = page.locator(".history-entry").first
    for text in (MANAGER, "amended", "read the sight glass again"):
        expect(entry).to_contain_text(text)
    eventually(volume_of(desk, record), litres("8.4"))


def test_amount_of_one_product_is_amended_alone(server: LiveServer, opened) -> None:
    desk = HttpDesk(server.address, GROWER)
    record = desk.apply("7.92")
    page = opened(server)
    follow(page, f"/applications/{record}/amend")
    choose_field(page, "60.4")
    box(page, "Amount").fill("64.1")
    page.get_by_label("Reason").fill("from the mixing sheet")
    page.get_by_role("button", name="Save the amendment").click()

    card = page.locator("article.card").first
    expect(card.locator("del")).to_contain_text("60.4")
    expect(card).to_contain_text("64.1")
    eventually(
        lambda: [
            (one["amount"]["value"], one["name"])
            for one in desk.record("application", record)["fields"]["products"]
        ],
        [("64.1", desk.records["product"][0]["fields"]["name"])],
    )


def test_typed_amendment_is_there_again_after_a_reload(server: LiveServer, opened) -> None:
    record = HttpDesk(server.address, GROWER).apply("7.92")
    page = opened(server)
    follow(page, f"/applications/{record}/amend")
    choose_field(page, "Purpose")
    box(page, "Purpose").fill("shorter")
    page.get_by_label("Reason").fill("half a")
    page.wait_for_timeout(500)  # longer than the 300 ms after which a draft is kept

    page.reload()

    expect(box(page, "Purpose")).to_have_value("shorter")
    expect(page.get_by_label("Reason")).to_have_value("half a")


def test_void_asks_for_a_reason_and_then_once_more(server: LiveServer, opened) -> None:
    desk = HttpDesk(server.address, GROWER)
    record = desk.apply("7.92")
    page = opened(server)
    follow(page, f"/applications/{record}")
    page.get_by_role("button", name="Make void").click()
    sheet = page.locator("dialog.sheet")
    sheet.get_by_role("button", name="Go on").click(force=True)  # off, but says why
    expect(sheet.get_by_text("The reason is missing")).to_be_visible()
    sheet.get_by_label("Reason").fill("logged twice")
    sheet.get_by_role("button", name="Go on").click()
    assert desk.record("application", record)["state"] == "signed"

    sheet.get_by_role("button", name="Yes, make it void").click()

    expect(page.get_by_text("This application is void")).to_be_visible()
    expect(page.locator(".history-entry").first).to_contain_text("logged twice")
    eventually(lambda: desk.record("application", record)["state"], "void")


def test_operators_amendment_waits_for_a_grower(server: LiveServer, opened) -> None:
    desk = HttpDesk(server.address, OPERATOR)
    record = desk.apply("7.92")
    page = opened(server, OPERATOR, screen=PHONE)
    follow(page, f"/applications/{record}/amend")
    expect(page.get_by_text("This will wait for a grower")).to_be_visible()
    choose_field(page, "Volume applied")
    box(page, "Volume applied").fill("8.4")
    page.get_by_label("Reason").fill("hose rest")

    page.get_by_role("button", name="Send the request").click()

    expect(page.get_by_text("1 entry about it waits")).to_be_visible()
    eventually(volume_of(desk, record), litres("7.92"))


def conflict(server: LiveServer, first: str, second: str) -> str:
    """Two people amend the same 10 L; return the application's id."""
    grower, manager = HttpDesk(server.address, GROWER), HttpDesk(server.address, MANAGER)
    record = grower.apply("10")
    for desk, value in ((manager, first), (grower, second)):
        outcome = desk.send(
            "application", "amend", {"volume": (litres("10"), litres(value))},
            record=record, reason=f"counted {value}",
        )  # fmt: skip
    assert outcome == "conflicted"
    return record


def test_two_values_stand_side_by_side_and_the_chosen_one_takes_effect(
    deciding: LiveServer, opened
) -> None:
    record = conflict(deciding, "12", "15")
    page = opened(deciding)
    follow(page, "/decide")
    case = page.locator("article.case")
    sides = case.locator(".side")
    expect(sides.nth(0)).to_contain_text("12\u00a0L")
    expect(sides.nth(0)).to_contain_text(MANAGER)
    expect(sides.nth(1)).to_contain_text("15\u00a0L")
    expect(sides.nth(1)).to_contain_text(GROWER)

    case.get_by_text("Take the other value").click()
    case.get_by_role("button", name="Decide").click()

    expect(page.get_by_text("Nothing waits for a decision")).to_be_visible()
    desk = HttpDesk(deciding.address, GROWER)
    eventually(volume_of(desk, record), litres("15"))
    follow(page, f"/applications/{record}")
    expect(page.locator(".history-entry").first).to_contain_text("decided between two values")


def test_third_value_is_typed_where_both_are_wrong(deciding: LiveServer, opened) -> None:
    record = conflict(deciding, "12", "15")
    page = opened(deciding, screen=PHONE)
    follow(page, "/decide")
    case = page.locator("article.case")
    case.get_by_text("Neither: type the right one").click()
    box(case, "Volume applied").fill("13.5")

    case.get_by_role("button", name="Decide").click()

    expect(page.get_by_text("Nothing waits for a decision")).to_be_visible()
    desk = HttpDesk(deciding.address, GROWER)
    eventually(volume_of(desk, record), litres("13.5"))


def test_decision_without_the_persons_session_asks_for_the_password(
    own_server: LiveServer, opened
) -> None:
    conflict(own_server, "12", "15")
    page = opened(own_server)
    page.context.clear_cookies(name="__Host-person")  # as after twelve hours
    follow(page, "/decide")
    expect(page.get_by_text(f"This needs {MANAGER}'s password session")).to_be_visible()
    case = page.locator("article.case")
    case.get_by_text("Take the other value").click()
    case.get_by_role("button", name="Decide").click()
    expect(page.get_by_text("The office holds your decision").first).to_be_visible()

    page.locator("input[type=password]").fill(PASSWORD)
    page.get_by_role("button", name="Start my session").click()

    expect(page.get_by_text(f"This needs {MANAGER}'s password session")).to_have_count(0)


def test_request_is_accepted_with_the_values_in_sight(deciding: LiveServer, opened) -> None:
    rosa = HttpDesk(deciding.address, OPERATOR)
    record = rosa.apply("10")
    change = {"volume": (litres("10"), litres("11"))}
    rosa.send("application", "request", change, record=record, reason="hose rest")
    page = opened(deciding)
    follow(page, "/decide")
    case = page.locator("article.case")
    for text in (OPERATOR, "10\u00a0L", "11\u00a0L", "hose rest"):
        expect(case).to_contain_text(text)

    case.get_by_role("button", name="Accept").click()

    expect(page.get_by_text("Nothing waits for a decision")).to_be_visible()
    eventually(volume_of(rosa, record), litres("11"))


def test_refusing_needs_a_reason(deciding: LiveServer, opened) -> None:
    rosa = HttpDesk(deciding.address, OPERATOR)
    rosa.send("lot", "propose", {"code": (None, "9·01"), "crop": (None, "Pentas")})
    page = opened(deciding)
    follow(page, "/decide")
    case = page.locator("article.case")
    case.get_by_role("button", name="Refuse").click()
    expect(case.get_by_text("Write why you refuse")).to_be_visible()
    case.get_by_label("Reason").fill("on file as 9·02")

    case.get_by_role("button", name="Refuse").click()

    expect(page.get_by_text("Nothing waits for a decision")).to_be_visible()


def test_lot_is_added_and_reaches_the_other_phones(server: LiveServer, opened) -> None:
    page = opened(server)
    follow(page, "/lots")
    page.get_by_role("link", name="Add a lot").click()
    page.get_by_role("button", name="Save").click()
    expect(page.get_by_text("Fill this in").first).to_be_visible()
    box(page, "Lot code").fill("4·11")
    box(page, "Crop").fill("Lantana")
    page.locator("summary", has_text="How it stands now").click()
    box(page, "Number of containers").fill("480")

    page.get_by_role("button", name="Save").click()

    expect(page.locator("h1")).to_have_text("4·11 Lantana")
    desk = HttpDesk(server.address, GROWER)

    def containers() -> list[int]:
        desk.exchange()
        lots = [one["fields"] for one in desk.records["lot"]]
        return [fields["n_containers"] for fields in lots if fields["code"] == "4·11"]

    eventually(containers, [480])


def test_bench_area_is_shown_from_length_and_width(server: LiveServer, opened) -> None:
    page = opened(server)
    follow(page, "/houses")
    page.get_by_role("link", name="Add a bench").first.click()
    box(page, "Name").fill("Bench 77")
    box(page, "Length").fill("20")
    box(page, "Width").fill("1.5")

    page.get_by_role("button", name="Save").click()

    # 20 m x 1.5 m = 30 m2; 30 / 0.09290304 = 322.9 ft2
    area = page.locator(".facts > div", has_text="Area")
    expect(area).to_contain_text("30\u00a0m²")
    expect(area).to_contain_text("322.9\u00a0ft²")
    expect(area).to_contain_text("length × width")


def test_product_without_an_interval_says_read_the_label(server: LiveServer, opened) -> None:
    page = opened(server)
    follow(page, "/products/new")
    box(page, "Name").fill("Unlabelled SL")
    page.get_by_role("button", name="Save").click()

    fact = page.locator(".facts > div", has_text="Restricted-entry interval")

    expect(fact).to_contain_text("not on file: read the label")


def test_operator_proposes_and_is_told_that_it_waits(own_server: LiveServer, opened) -> None:
    page = opened(own_server, OPERATOR, screen=PHONE)
    follow(page, "/lots")
    page.get_by_role("link", name="Propose a lot").click()
    expect(page.get_by_text("This will wait for a grower")).to_be_visible()
    box(page, "Lot code").fill("9·03")
    box(page, "Crop").fill("Salvia")

    page.get_by_role("button", name="Send the proposal").click()

    expect(page.get_by_text("1 entry for this register waits for a grower")).to_be_visible()
    desk = HttpDesk(own_server.address, GROWER)
    assert all(one["fields"]["code"] != "9·03" for one in desk.records["lot"])


def test_new_person_signs_in_with_the_password_the_manager_set(server: LiveServer, opened) -> None:
    page = opened(server)
    follow(page, "/people/new")
    box(page, "Name").fill("Mara Quill")
    page.get_by_text("Technician").click()
    page.get_by_role("button", name="Save").click()
    page.wait_for_selector(".syncline:not(.waiting)")
    page.locator("input[autocomplete=new-password]").fill(PASSWORD)

    page.get_by_role("button", name="Set the password").click()

    expect(page.get_by_text("Mara Quill can sign in with it now")).to_be_visible()
    assert HttpDesk(server.address, "Mara Quill").member


def test_phones_say_when_they_were_heard(server: LiveServer, opened) -> None:
    late = HttpDesk(server.address, GROWER)
    clock = (datetime.now(UTC) - timedelta(minutes=20)).isoformat()
    late.exchange(status={"unsent": 0, "device_utc": clock})
    page = opened(server)

    follow(page, "/people")

    expect(page.get_by_text("this one")).to_be_visible()
    row = page.locator(f"a[href='/phones/{late.device}']")
    expect(row).to_contain_text(f"Phone of {GROWER}")
    expect(row).to_contain_text("clock 20 minutes behind")
    expect(page.locator("a.list-row", has_text="this one")).not_to_contain_text("clock")


def test_emergency_page_needs_nobody_signed_in(server: LiveServer, opened) -> None:
    page = opened(server, screen=PHONE, is_fresh=True)
    follow(page, "/sync")
    page.get_by_role("button", name=f"Sign {MANAGER} out").click()
    page.get_by_role("link", name="Emergency").click()

    expect(page.get_by_text("first aid on the label comes first")).to_be_visible()
    # used in the last day, it stands above as well, open
    label = page.locator("details", has_text="Stemwright SL").last
    label.locator("summary").click()
    for text in ("rinse at once with plenty of water", "99001-12", "waterproof gloves"):
        expect(label.get_by_text(text).first).to_be_visible()
    for number in ("911", "1-800-222-1222", "1-800-858-7378"):
        expect(page.get_by_text(number, exact=True)).to_be_visible()
    expect(page.get_by_text("2017 source, not rechecked")).to_be_visible()


def test_numbers_follow_the_establishments_format(own_server: LiveServer, opened) -> None:
    manager = HttpDesk(own_server.address, MANAGER)
    establishment = manager.records["establishment"][0]["id"]
    manager.send(
        "establishment", "change",
        {"number_format": ("1234.5", "1234,5"), "country": ("US", "ES")}, record=establishment,
    )  # fmt: skip
    record = manager.apply("7.92")
    page = opened(own_server)
    follow(page, f"/applications/{record}/amend")
    expect(page.locator("h1")).to_be_visible()
    choose_field(page, "Volume applied")
    box(page, "Volume applied").fill("8,4")
    page.get_by_label("Reason").fill("typo")
    page.get_by_role("button", name="Save the amendment").click()

    volume = page.locator(".facts > div", has_text="Volume applied")
    expect(volume).to_contain_text("7,92\u00a0L")
    expect(volume).to_contain_text("8,4\u00a0L")
    eventually(volume_of(manager, record), litres("8.4"))
    follow(page, "/emergency")
    expect(page.get_by_text("911", exact=True)).to_have_count(0)
    expect(page.locator(".call")).to_have_text([re.compile("112")])
    expect(page.get_by_text("from memory, not checked")).to_be_visible()


def test_spanish_pages_speak_spanish(server: LiveServer, opened) -> None:
    record = HttpDesk(server.address, GROWER).apply("7.92")
    page = opened(server, language="es")
    follow(page, f"/applications/{record}")

    for text in ("martes, 12 de mayo", "Historial", "Volumen aplicado", "firmada", "Corregir"):
        expect(page.locator("body")).to_contain_text(text)
