"""Fresh devices for browser tests, without the cost of a fresh browser profile.

A new profile loads the app's hundred modules anew, which takes longer than most tests. A profile
that is given back has its pages closed, and its cookies, database, storage, workers and kept files
thrown away; what stays is the HTTP cache, and that holds files by their digest only.
"""

from __future__ import annotations

from typing import TYPE_CHECKING
from urllib.parse import urlsplit

from support.pictures import context_for

if TYPE_CHECKING:
    from playwright.sync_api import Browser, BrowserContext, Page

    from support.pictures import Screen


class Profiles:
    """Browser profiles by screen, lent and given back."""

    def __init__(self, browser: Browser) -> None:
        self._browser = browser
        self._free: dict[Screen, list[BrowserContext]] = {}
        self._lent: list[tuple[Screen, BrowserContext]] = []

    def take(self, screen: Screen) -> Page:
        """Return a page of an empty profile. Scripts and routes go to the page, not its context."""
        free = self._free.setdefault(screen, [])
        context = free.pop() if free else context_for(self._browser, screen)
        self._lent.append((screen, context))
        return context.new_page()

    def give_back(self) -> None:
        """Empty every profile that was taken, and keep it for the next test."""
        lent, self._lent = self._lent, []
        for screen, context in lent:
            origins = {
                f"{at.scheme}://{at.netloc}"
                for at in (urlsplit(page.url) for page in context.pages)
                if at.netloc
            }
            for page in context.pages:
                page.close()
            context.clear_cookies()
            blank = context.new_page()
            chrome = context.new_cdp_session(blank)
            for origin in origins:
                chrome.send("Storage.clearDataForOrigin", {"origin": origin, "storageTypes": "all"})
            blank.close()
            self._free[screen].append(context)
