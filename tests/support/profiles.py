"""Fresh devices for browser tests, without the cost of a fresh browser profile.

A new profile loads the app's 250 files anew: 4 s of processor time, against 0.8 s for a page whose files
are in the profile's HTTP cache. A profile that is given back has its pages closed, and its cookies,
database, storage, workers and kept files thrown away; what stays is the HTTP cache, and that holds
files by their digest only. Scripts and routes go to the page, never to its context.
"""

from __future__ import annotations

import time
from contextlib import contextmanager
from typing import TYPE_CHECKING
from urllib.parse import urlsplit

from support.phone import follow, sign_in, store
from support.pictures import context_for

if TYPE_CHECKING:
    from collections.abc import Iterator

    from playwright.sync_api import Browser, BrowserContext, Frame, Page

    from support.live_server import LiveServer
    from support.pictures import Screen


class Profiles:
    """Browser profiles by screen and by whether service workers run, lent and given back."""

    def __init__(self, browser: Browser) -> None:
        self._browser = browser
        self._free: dict[tuple[Screen, bool], list[BrowserContext]] = {}
        self._origins: dict[BrowserContext, set[str]] = {}
        self._lent: list[tuple[tuple[Screen, bool], BrowserContext]] = []

    def take(self, screen: Screen, *, with_worker: bool = False, is_kept: bool = False) -> Page:
        """Return a page of an empty profile, until `give_back`; a kept one stays."""
        sort = (screen, with_worker)
        free = self._free.setdefault(sort, [])
        context = free.pop() if free else self._new(screen, with_worker=with_worker)
        if not is_kept:
            self._lent.append((sort, context))
        return context.new_page()

    def _new(self, screen: Screen, *, with_worker: bool) -> BrowserContext:
        context = context_for(self._browser, screen, with_worker=with_worker)
        seen = self._origins[context] = set()

        def note(frame: Frame) -> None:
            at = urlsplit(frame.url)
            if at.scheme == "http":
                seen.add(f"{at.scheme}://{at.netloc}")

        context.on("page", lambda page: page.on("framenavigated", note))
        return context

    @contextmanager
    def lent(self, screen: Screen, *, with_worker: bool = False) -> Iterator[Page]:
        """Lend a page of an empty profile for as long as the context lasts."""
        page = self.take(screen, with_worker=with_worker)
        try:
            yield page
        finally:
            self._empty(page.context)

    def give_back(self) -> None:
        """Empty every profile that was taken, and keep it for the next test."""
        for _, context in list(self._lent):
            self._empty(context)

    def _empty(self, context: BrowserContext) -> None:
        place = next(n for n, (_, lent) in enumerate(self._lent) if lent is context)
        sort, _ = self._lent.pop(place)
        context.set_offline(False)
        for page in context.pages[1:]:
            page.close()
        last = context.pages[0] if context.pages else context.new_page()
        last.goto("about:blank")
        context.clear_cookies()
        chrome = context.new_cdp_session(last)
        for origin in self._origins[context]:
            chrome.send("Storage.clearDataForOrigin", {"origin": origin, "storageTypes": "all"})
        last.close()
        self._free[sort].append(context)


# What an earlier test typed and did not save would stand in the next one's form.
_DROP_DRAFTS = """() => new Promise((good, bad) => {
  const ask = indexedDB.open('tepal');
  ask.onsuccess = () => {
    const tx = ask.result.transaction('drafts', 'readwrite');
    tx.objectStore('drafts').clear();
    tx.oncomplete = () => { ask.result.close(); good(); };
    tx.onerror = () => bad(tx.error);
  };
  ask.onerror = () => bad(ask.error);
})"""


class SignedIn:
    """Pages on which a person is signed in, kept from test to test of one server.

    A test that is about the device itself takes a fresh profile instead.
    """

    def __init__(self, profiles: Profiles) -> None:
        self._profiles = profiles
        self._pages: dict[tuple[LiveServer, str, Screen, str], Page] = {}

    def page(self, at: LiveServer, name: str, screen: Screen, language: str) -> Page:
        """Return the person's page at Today, with all that the server has."""
        key = (at, name, screen, language)
        page = self._pages.get(key)
        if page is None:
            page = self._pages[key] = open_app(
                self._profiles.take(screen, is_kept=True), at, name, language
            )
        page.unroute_all()
        page.context.set_offline(False)
        follow(page, "/today")
        page.evaluate(_DROP_DRAFTS)
        hear(page, at)
        return page


def open_app(page: Page, at: LiveServer, name: str | None, language: str) -> Page:
    """Open the app on a fresh page and sign the person in, where one is named."""
    page.add_init_script(f"localStorage.setItem('tepal.language', '{language}')")
    page.goto(f"{at.address}/today")
    if name is not None:
        sign_in(page, name)
    return page


def hear(page: Page, at: LiveServer) -> None:
    """Let the page ask the server until it has everything."""
    wanted = at.rows("SELECT max(seq) FROM journal")[0][0]
    until = time.monotonic() + 60
    while int(store(page)["meta"]["cursor"].split(".")[2]) < wanted:
        assert time.monotonic() < until, "the page does not hear the server"
        page.evaluate("() => dispatchEvent(new Event('online'))")
        page.wait_for_timeout(100)
