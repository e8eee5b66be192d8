"""What many tests share: databases to run on, and a book on each."""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from playwright.sync_api import Browser, Playwright

    from support.book import Book
    from support.postgres import Cluster

# The app is imported where it is needed: four seconds for each process that only hands out tests.


def pytest_itemcollected(item: pytest.Item) -> None:
    """Keep a file that makes something dear on one worker: its server, browser, book or R run."""
    is_dear = {"browser", "integration", "reports"} & set(item.path.parts)
    if (is_dear or item.path.name == "test_against_r.py") and item.path.name != "test_writers.py":
        item.add_marker(pytest.mark.xdist_group(item.path.name))


@pytest.hookimpl(trylast=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Start the long ones first, so that no worker is left alone with one at the end."""
    items.sort(key=lambda item: (item.get_closest_marker("full") is None, _is_short(item)))


def _is_short(item: pytest.Item) -> bool:
    return item.get_closest_marker("browser") is None


@pytest.fixture(autouse=True, scope="session")
def each_hash_once() -> Iterator[None]:
    """Compute a password's scrypt hash once per salt: every seeded book asks for the same one.

    The parameters stay the product's, and so does every byte of the result. Nor is what a module
    of the browser refers to looked for again by each app that a test builds.
    """
    from tepal.api import web_assets
    from tepal.api.web_references import references_in_js
    from tepal.services import access

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(access, "hash_password", lru_cache(512)(access.hash_password))
        patch.setattr(web_assets, "references_in_js", lru_cache(1024)(references_in_js))
        yield


@pytest.fixture(scope="session")
def playwright() -> Playwright:
    """The one Playwright of this process."""
    from support.pictures import driver

    return driver()


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """The one Chromium of this process; each test opens a profile of its own in it."""
    from support.pictures import chromium

    with chromium() as running:
        yield running


DATABASES = ["sqlite", pytest.param("postgresql", marks=pytest.mark.postgres)]


@pytest.fixture(scope="session")
def cluster() -> Iterator[Cluster]:
    """The throw-away PostgreSQL cluster; an error where the package is not installed."""
    from support.postgres import running_cluster

    yield from running_cluster()


@pytest.fixture(params=DATABASES)
def database_url(request: pytest.FixtureRequest, tmp_path: Path) -> str:
    """The URL of an empty database, once on SQLite and once on PostgreSQL."""
    if request.param == "sqlite":
        return f"sqlite:///{tmp_path / 'book.db'}"
    return request.getfixturevalue("cluster").new_database()


@pytest.fixture
def book(tmp_path: Path) -> Iterator[Book]:
    """A fresh book on SQLite."""
    from support.book import Book

    made = Book(tmp_path)
    yield made
    made.close()


@pytest.fixture
def book_on_each(tmp_path: Path, database_url: str) -> Iterator[Book]:
    """A fresh book on each database."""
    from support.book import Book

    made = Book(tmp_path, database_url=database_url)
    yield made
    made.close()
