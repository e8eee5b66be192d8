"""What the browser tests share: one Chromium, one server and one gallery a worker.

`server` is everybody's: a test works on records of its own there. A test that stops the server, or
changes what all others would see, takes `own_server`; it starts from a copy of the same demo.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from playwright.sync_api import expect

from support.gallery_server import gallery_server
from support.live_server import live_server
from support.pictures import OFFICE
from support.profiles import Profiles, SignedIn, open_app
from tepal.services.demo import MANAGER

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from playwright.sync_api import Browser, Page

    from support.live_server import LiveServer
    from support.pictures import Screen

# Waiting costs a test that passes nothing, and five seconds are short where the machine has other work.
expect.set_options(timeout=20_000)


@pytest.fixture(scope="session")
def server() -> Iterator[LiveServer]:
    """The server that all tests of a worker share."""
    with live_server() as running:
        running.is_shared = True
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


@pytest.fixture(scope="session")
def signed_in(all_profiles: Profiles) -> SignedIn:
    """The signed-in pages of this worker."""
    return SignedIn(all_profiles)


@pytest.fixture
def opened(profiles: Profiles, signed_in: SignedIn) -> Callable[..., Page]:
    """Return a function that gives a page with a person signed in.

    On a server that tests share the page is kept for the next test too; `is_fresh` asks for a
    device of the test's own.
    """

    def open_page(
        at: LiveServer, name: str = MANAGER, *, screen: Screen = OFFICE, language: str = "en",
        is_fresh: bool = False,
    ) -> Page:  # fmt: skip
        if at.is_shared and not is_fresh:
            return signed_in.page(at, name, screen, language)
        return open_app(profiles.take(screen), at, name, language)

    return open_page
