"""What the browser tests share: one Chromium, one server and one gallery a worker.

`server` is everybody's: a test works on records of its own there. A test that stops the server, or
changes what all others would see, takes `own_server`; it starts from a copy of the same demo.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from support.gallery_server import gallery_server
from support.live_server import live_server
from support.pictures import OFFICE
from support.profiles import Profiles
from tepal.services.demo import MANAGER, PASSWORD

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from playwright.sync_api import Browser, Page

    from support.live_server import LiveServer
    from support.pictures import Screen


@pytest.fixture(scope="session")
def server() -> Iterator[LiveServer]:
    """The server that all tests of a worker share."""
    with live_server() as running:
        yield running


@pytest.fixture
def own_server() -> Iterator[LiveServer]:
    """A server of the test's own."""
    with live_server() as running:
        yield running


@pytest.fixture(scope="session")
def gallery() -> Iterator[str]:
    """The address of the gallery of components."""
    with gallery_server() as running:
        yield running


@pytest.fixture(scope="session")
def all_profiles(browser: Browser) -> Profiles:
    """The browser profiles of this worker."""
    return Profiles(browser)


@pytest.fixture
def profiles(all_profiles: Profiles) -> Iterator[Profiles]:
    """Browser profiles, taken back after the test."""
    yield all_profiles
    all_profiles.give_back()


@pytest.fixture
def opened(profiles: Profiles) -> Callable[..., Page]:
    """Return a function that signs a person in on a fresh device."""

    def open_app(
        at: LiveServer, name: str | None = MANAGER, *, screen: Screen = OFFICE,
        language: str = "en",
    ) -> Page:  # fmt: skip
        page = profiles.take(screen)
        page.add_init_script(f"localStorage.setItem('tepal.language', '{language}')")
        page.goto(f"{at.address}/today")
        if name is not None:
            page.locator("input[autocomplete=username]").fill(name)
            page.locator("input[type=password]").fill(PASSWORD)
            page.locator("form .btn-go").click()
            # the first exchange is over; undecided values keep the line from saying that all is saved
            page.wait_for_selector(".syncline.passed, .syncline.caution")
        return page

    return open_app
