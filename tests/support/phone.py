"""A phone in a person's hand: Chromium with a profile of its own that outlives the browser.

`Phone` is opened, used and killed; the functions below it are what a person does on a page, said
in the words of the catalogue, so that a reworded button does not break a test.
"""

from __future__ import annotations

import contextlib
import json
import os
import re
import signal
import time
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from playwright.sync_api import Error as PlaywrightError

from support.pictures import CHROMIUM, CHROMIUM_ARGS, PHONE
from tepal.services.demo import PASSWORD

if TYPE_CHECKING:
    from collections.abc import Callable

    from playwright.sync_api import BrowserContext, Page, Playwright

    from support.pictures import Screen

LOCALE = Path(__file__).resolve().parents[2] / "web" / "app" / "locale"

# Everything in the phone's store, photos by the digest of their bytes.
_DUMP = """async () => {
  const found = await indexedDB.databases();
  if (!found.some((one) => one.name === 'tepal')) return null;
  const db = await new Promise((good, bad) => {
    const ask = indexedDB.open('tepal');
    ask.onsuccess = () => good(ask.result);
    ask.onerror = () => bad(ask.error);
  });
  const names = [...db.objectStoreNames];
  const tx = db.transaction(names, 'readonly');
  const all = {};
  await Promise.all(names.map((name) => new Promise((good, bad) => {
    const ask = tx.objectStore(name).getAll();
    ask.onsuccess = () => { all[name] = ask.result; good(); };
    ask.onerror = () => bad(ask.error);
  })));
  db.close();
  const bytesOf = new Map((all.photo_bytes ?? []).map((row) => [row.sha256, row.bytes]));
  delete all.photo_bytes;
  for (const photo of all.photos) {
    const bytes = bytesOf.get(photo.sha256);
    if (bytes === undefined) continue;  // the office has it, and the phone let go of it
    const digest = await crypto.subtle.digest('SHA-256', bytes);
    photo.bytes = [...new Uint8Array(digest)].map((b) => b.toString(16).padStart(2, '0')).join('');
  }
  all.meta = Object.fromEntries((all.meta ?? []).map((row) => [row.key, row.value]));
  all.drafts = Object.fromEntries((all.drafts ?? []).map((row) => [row.key, row.value]));
  return all;
}"""


class Phone:
    """Chromium on a profile in `profile`; `open` starts it, `kill` is the dead battery."""

    def __init__(
        self, playwright: Playwright, profile: Path, address: str, screen: Screen = PHONE
    ) -> None:
        self._playwright, self._profile, self._screen = playwright, profile, screen
        self.address = address
        self._context: BrowserContext | None = None

    def open(self, path: str = "/today") -> Page:
        """Start the browser where it is not running and open a page of the app."""
        if self._context is None:
            self._context = self._playwright.chromium.launch_persistent_context(
                self._profile,
                executable_path=CHROMIUM,
                args=list(CHROMIUM_ARGS),
                headless=True,
                viewport={"width": self._screen.width, "height": self._screen.height},
                has_touch=self._screen.is_touch,
                is_mobile=self._screen.is_touch,
                reduced_motion="reduce",
                locale="en-US",
                timezone_id="America/New_York",
            )
        page = self._context.pages[0]
        page.goto(f"{self.address}{path}")
        page.wait_for_selector("h1")
        return page

    def kill(self) -> None:
        """SIGKILL every process of this browser, and of no other."""
        pids = [pid for pid, line in _processes() if f"--user-data-dir={self._profile}" in line]
        tree = {child for pid in pids for child in _descendants(pid)} | set(pids)
        if not tree:
            raise AssertionError("the browser's processes were not found")
        for pid in tree:
            try:
                os.kill(pid, signal.SIGKILL)
            except ProcessLookupError:
                continue
        self.close()

    def close(self) -> None:
        """Close the browser, dead or alive; the profile stays."""
        context, self._context = self._context, None
        if context is not None:
            with contextlib.suppress(PlaywrightError):  # it was killed
                context.close()


def _processes() -> list[tuple[int, str]]:
    found = []
    for folder in Path("/proc").iterdir():
        if folder.name.isdigit():
            try:
                line = (folder / "cmdline").read_bytes().replace(b"\0", b" ").decode()
            except OSError:
                continue
            found.append((int(folder.name), line))
    return found


def _descendants(pid: int) -> set[int]:
    found: set[int] = set()
    try:
        for task in Path(f"/proc/{pid}/task").iterdir():
            for word in (task / "children").read_text().split():
                found |= {int(word)} | _descendants(int(word))
    except OSError:
        return found
    return found


@cache
def _catalogue(language: str) -> dict[str, str]:
    found: dict[str, str] = {}
    for path in LOCALE.glob(f"*.{language}.json"):
        found |= json.loads(path.read_text())
    return found


def words(code: str, language: str = "en") -> re.Pattern[str]:
    """Return a pattern for a message of the catalogue, its places filled with anything."""
    parts = re.split(r"\{[^}]*\}", _catalogue(language)[code])
    return re.compile(".*".join(re.escape(part) for part in parts), re.DOTALL)


def store(page: Page) -> dict[str, Any]:
    """Return everything the phone's store holds: tables of rows, `meta` and `drafts` as maps."""
    found: dict[str, Any] | None = page.evaluate(_DUMP)
    assert found is not None, "this phone has no store"
    return found


def wait_for_promise(page: Page, holds: str, seconds: float = 60.0) -> None:
    """Wait until an async function gives true; `wait_for_function` takes its promise for true."""
    until = time.monotonic() + seconds
    while not page.evaluate(holds):
        assert time.monotonic() < until, holds
        page.wait_for_timeout(100)


def wait_for_store(
    page: Page, holds: Callable[[dict[str, Any]], bool], seconds: float = 60.0
) -> dict[str, Any]:
    """Return the store's content as soon as `holds` says so of it."""
    until = time.monotonic() + seconds
    while True:
        found = store(page)
        if holds(found):
            return found
        if time.monotonic() > until:
            numbers = [row["number"] for row in found["outbox"]]
            raise AssertionError(f"the store did not come to it; unsent: {numbers}")
        time.sleep(0.05)  # between two looks: IndexedDB tells nobody outside the page


# Follows a link inside the app: nothing is loaded, so it works without signal and costs a tenth.
_FOLLOW = """(path) => {
  const link = document.createElement('a');
  link.href = path;
  document.body.append(link);
  link.click();
  link.remove();
}"""


def follow(page: Page, path: str) -> None:
    """Go to an address within the running app, and wait for its page."""
    page.evaluate(_FOLLOW, path)
    page.wait_for_function(
        "(path) => location.pathname + location.search === path", arg=path.split("#", maxsplit=1)[0]
    )
    page.wait_for_selector("h1")


def sign_in(page: Page, name: str, password: str = PASSWORD) -> None:
    """Sign a person in on the sign-in page, and wait for the first exchange."""
    page.locator("input[autocomplete=username]").fill(name)
    page.locator("input[type=password]").fill(password)
    page.locator("form .btn-go").click()
    page.locator("input[type=password]").wait_for(state="detached")
    # undecided values keep the line from saying that all is saved
    page.wait_for_selector(".syncline.passed, .syncline.caution")


def press(page: Page, code: str) -> None:
    """Press the button or link with the words of a code."""
    page.get_by_role("button", name=words(code)).or_(
        page.get_by_role("link", name=words(code))
    ).first.click()


def step_is(page: Page, step: str) -> None:
    """Wait until the Apply page is at a step (where, mix, check, measure, spray, end, sign)."""
    page.locator(".stem-step.is-current h2", has_text=words(f"apply.{step}")).wait_for()


def choose_places(page: Page, *places: str) -> None:
    """Tick the places whose line says each text, such as "Bench 1"."""
    step_is(page, "where")
    for place in places:
        page.locator("label.choice", has_text=place).click()
    press(page, "apply.where_done")


def choose_mix(page: Page, tank_l: str = "15") -> None:
    """Take the demo's mix in a tank."""
    step_is(page, "mix")
    page.locator("label.choice", has_text="Height, bedding").click()
    page.get_by_label(words("apply.tank"), exact=False).first.fill(tank_l)
    press(page, "apply.mix_done")
    pass_checks(page)


def pass_checks(page: Page) -> None:
    """Answer every caution of the checks, and go on to measuring."""
    step_is(page, "check")
    unanswered = page.locator(".answer.caution:not(.is-answered)")
    while unanswered.count():  # a register that is read a moment later may bring one more
        unanswered.first.locator("label.choice", has_text=words("check.answer.seen_to")).click()
    press(page, "check.done")
    step_is(page, "measure")


def wear(page: Page) -> None:
    """Tick that the PPE for the act at hand is worn."""
    page.locator("label.worn").click()


def start_spraying(page: Page) -> None:
    """Say that every load is mixed, and start."""
    wear(page)
    while page.locator(".stem-step.is-current h2", has_text=words("apply.measure")).count():
        press(page, "apply.load_mixed")
    step_is(page, "spray")
    wear(page)
    press(page, "apply.start")
    step_is(page, "end")


def end_spraying(page: Page) -> None:
    """Say that all places are done."""
    page.locator("label.choice", has_text=words("apply.ended_all")).click()
    press(page, "apply.end_now")
    step_is(page, "sign")


def until_signature(page: Page, *places: str) -> None:
    """Log an application up to the signature."""
    choose_places(page, *places)
    choose_mix(page)
    start_spraying(page)
    end_spraying(page)


def sign(page: Page) -> None:
    """Sign, and wait for the page that says where the record is."""
    press(page, "apply.sign_now")
    page.get_by_role("heading", level=1, name=words("saved.here")).or_(
        page.get_by_role("heading", level=1, name=words("saved.office"))
    ).wait_for()
