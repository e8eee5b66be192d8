"""Two people share a phone without signal; it is revoked with their entries on it; nothing is lost.

Promises 2 and 3 of the sync, and access.md: each signs own work under the own PIN, the next person
never sends it as theirs, a revoked device's entries are kept whole until a manager brings them in.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from playwright.sync_api import expect

from support.http_desk import HttpDesk
from support.live_server import live_server
from support.phone import (
    Phone,
    press,
    sign,
    sign_in,
    store,
    until_signature,
    wait_for_store,
    words,
)
from support.pictures import OFFICE, driver
from tepal.services.demo import PIN

if TYPE_CHECKING:
    from pathlib import Path

    from playwright.sync_api import Page

pytestmark = pytest.mark.browser
OPERATOR, GROWER, MANAGER = "Rosa Lind", "Dinh Thorne", "Ines Prado"


def enter_pin(page: Page, name: str) -> None:
    page.get_by_role("button", name=name).click()
    for digit in PIN:
        page.get_by_role("button", name=digit, exact=True).click()
    press(page, "who.enter")
    page.get_by_role("heading", name=name).wait_for(state="detached")


def test_revoked_shared_phone_loses_nothing(tmp_path: Path) -> None:
    playwright = driver()
    with live_server() as server:
        office = HttpDesk(server.address, MANAGER)
        made = office.call(
            "POST", "/api/v1/enrolment-codes", {"label": "Phone 3", "ceiling": "grower"}
        )
        phone = Phone(playwright, tmp_path / "phone", server.address)
        page = phone.open("/sign-in")
        page.get_by_label(words("enrol.code")).fill(made["code"])
        press(page, "enrol.do")
        page.get_by_role("button", name=OPERATOR).wait_for()
        page.evaluate("navigator.serviceWorker.ready.then(() => true)")
        device = store(page)["meta"]["device"]["id"]
        page.context.set_offline(True)

        enter_pin(page, OPERATOR)
        page = phone.open("/apply")
        until_signature(page, "Bench 1")
        sign(page)
        page = phone.open("/sync")
        press(page, "sync.sign_out")
        enter_pin(page, GROWER)
        page = phone.open("/houses/new")
        page.get_by_label(words("field.name")).first.fill("Propagation")
        press(page, "register.save")
        here = wait_for_store(page, lambda all_: all_["outbox"][-1]["kind"] == "house")
        people = {one["id"]: one["fields"]["name"] for one in office.records["member"]}
        authors = [(row["kind"], people[row["member"]]) for row in here["outbox"]]
        assert authors[-1] == ("house", GROWER)
        assert {name for kind, name in authors[:-1]} == {OPERATOR}

        assert (
            office.send("device", "change", {"revoked": (None, True)}, record=device) == "accepted"
        )
        page.context.set_offline(False)
        page = phone.open("/sync")
        expect(page.get_by_text(words("sync.revoked")).first).to_be_visible(timeout=30_000)
        wait_for_store(
            page,
            lambda all_: (
                not all_["outbox"] + all_["records"]
                and not {"session", "pins"} & all_["meta"].keys()
            ),
        )
        phone.close()
        sent = server.entries("application", device)
        assert {one["outcome"] for one in sent} == {"quarantined"}
        record = sent[0]["record"]
        assert server.rows("SELECT id FROM application WHERE id = ?", record) == []

        desk = Phone(playwright, tmp_path / "office", server.address, OFFICE)
        page = desk.open("/sign-in")
        sign_in(page, MANAGER)
        page = desk.open("/decide")
        press(page, "decide.all_do")
        expect(page.get_by_text(words("decide.nothing"))).to_be_visible(timeout=30_000)
        wait_for_store(page, lambda all_: not all_["outbox"])
        desk.close()
        signed = server.rows("SELECT author, state FROM application WHERE id = ?", record)
        assert [(people[author], state) for author, state in signed] == [(OPERATOR, "signed")]
        assert server.rows("SELECT name FROM house WHERE name = 'Propagation'") == [
            ("Propagation",)
        ]
        assert server.command("verify").returncode == 0
