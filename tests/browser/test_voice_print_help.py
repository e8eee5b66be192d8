"""Three small promises in a browser: a spoken note is kept, a chosen paper is a PDF, help is offline."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import pytest
from playwright.sync_api import expect

from support.phone import press, store, wait_for_store, words
from support.pictures import PHONE

if TYPE_CHECKING:
    from collections.abc import Callable

    from playwright.sync_api import Page

    from support.live_server import LiveServer

pytestmark = pytest.mark.browser

RECORD = "01980000-0000-7000-8000-00000000feed"
# Apply as it stands after the end of a spraying: its form keeps itself in the phone's store.
AT_SIGNING = """async (record) => { const db = await new Promise((good) => {
    const ask = indexedDB.open('tepal'); ask.onsuccess = () => good(ask.result); });
  const tx = db.transaction(['drafts'], 'readwrite');
  tx.objectStore('drafts').put({ key: 'apply', value: { step: 'sign', record }, saved_at: '' });
  await new Promise((good) => { tx.oncomplete = good; });
  db.close(); }"""


def test_spoken_note_is_recorded_kept_and_heard_in_the_office(
    server: LiveServer, opened: Callable[..., Page]
) -> None:
    """Chromium's own microphone beeps once a second; the browser's recorder is the real one."""
    page = opened(server, "Rosa Lind", screen=PHONE)
    page.evaluate(AT_SIGNING, RECORD)
    page.goto(f"{server.address}/apply")

    press(page, "voice.start")
    expect(page.get_by_role("status").filter(has_text=words("voice.runs"))).to_be_visible()
    page.wait_for_timeout(1200)
    press(page, "voice.stop")

    expect(page.get_by_role("status").filter(has_text=words("voice.kept"))).to_be_visible()
    wait_for_store(page, lambda all_: not all_["outbox"])
    notes = [one for one in store(page)["records"] if one["kind"] == "voice_note"]
    [fields] = [
        one["shown"]["fields"] for one in notes if one["shown"]["fields"]["of_id"] == RECORD
    ]
    assert fields["size"] > 500  # a second of a beep, not an empty shell
    assert fields["seconds"] >= 1
    page.wait_for_function(
        """async (sha256) => {
          const got = await fetch(`/api/v1/photos/${sha256}`);
          if (!got.ok || !got.headers.get('content-type').startsWith('audio/')) return false;
          const digest = await crypto.subtle.digest('SHA-256', await got.arrayBuffer());
          return [...new Uint8Array(digest)].map((b) => b.toString(16).padStart(2, '0')).join('')
            === sha256; }""",
        arg=fields["sha256"],
        polling=300,
    )


def test_chosen_paper_is_a_pdf(server: LiveServer, opened: Callable[..., Page]) -> None:
    page = opened(server, "Dinh Thorne")
    page.goto(f"{server.address}/print")

    page.get_by_label(words("print.language")).select_option("es")
    page.get_by_label(words("print.which_lot")).select_option(index=1)
    link = page.get_by_role("link", name=words("print.lot_go"))

    href = link.get_attribute("href") or ""
    assert "language=es" in href
    got = page.request.get(href if href.startswith("http") else f"{server.address}{href}")
    assert (got.status, got.headers["content-type"]) == (200, "application/pdf")
    assert got.body().startswith(b"%PDF-")


@pytest.mark.parametrize("language", ["en", "es"])
def test_help_opens_without_signal(
    server: LiveServer, opened: Callable[..., Page], language: str
) -> None:
    page = opened(server, "Rosa Lind", screen=PHONE, language=language)
    page.goto(f"{server.address}/board")
    page.locator(".board-house").first.wait_for()
    page.context.set_offline(True)
    try:
        page.get_by_role("button", name=words("help.open", language)).click()

        sheet = page.get_by_role("dialog")
        expect(sheet.get_by_role("heading", level=2)).to_have_text(words("help.board", language))
        for part in ("for", "press", "not"):
            expect(sheet).to_contain_text(words(f"help.board.{part}", language))
        page.keyboard.press("Escape")
        expect(sheet).to_have_count(0)
    finally:
        page.context.set_offline(False)
    assert not re.search(r"help\.", page.inner_text("body"))
