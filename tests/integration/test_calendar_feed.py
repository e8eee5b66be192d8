"""Spray orders as a calendar, read by an independent reader (the `icalendar` package).

RFC 5545: lines of at most 75 octets with CRLF (3.1), escaped text (3.3.11), the end of a day event
is the first day after it (3.6.1).
"""

from __future__ import annotations

from datetime import UTC, date, datetime
from typing import TYPE_CHECKING, Any

import pytest
from icalendar import Calendar

from support.book import Book, Desk
from tepal.services.calendar_text import PlannedOrder, calendar_text

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

NOW = datetime(2026, 5, 12, 14, 0, tzinfo=UTC)
NASTY = "Height, bedding; week 2 \\ ‘Copperline’ – línea muy larga que no cabe en setenta y cinco octetos"


def order(**more: Any) -> PlannedOrder:
    values = {
        "id": "0197-1", "revision": 7, "title": NASTY, "places": "House 1, Bench 1", "details": "a\nb",
        "first": "2026-05-12", "last": "2026-05-14", "from_time": None, "to_time": None,
        "status": "planned",
    }  # fmt: skip
    return PlannedOrder(**{**values, **more})


def event_of(text: str) -> Any:
    return next(iter(Calendar.from_ical(text).walk("VEVENT")))


def test_text_is_folded_and_escaped_and_read_back() -> None:
    text = calendar_text("Quillhaven Nursery", [order()], "America/New_York", NOW)

    lines = text.split("\r\n")
    assert lines[-1] == ""
    assert all(len(line.encode()) <= 75 for line in lines)
    assert "\n" not in text.replace("\r\n", "")
    event = event_of(text)
    assert str(event["SUMMARY"]) == NASTY
    assert str(event["DESCRIPTION"]) == "a\nb"
    assert (event.decoded("DTSTART"), event.decoded("DTEND")) == (
        date(2026, 5, 12), date(2026, 5, 15),
    )  # fmt: skip


@pytest.mark.parametrize(
    ("day", "zone", "start"),
    [
        # before and after the clock change of 8 March 2026 in New York (UTC-5, then UTC-4)
        ("2026-03-07", "America/New_York", datetime(2026, 3, 7, 11, 0, tzinfo=UTC)),
        ("2026-03-08", "America/New_York", datetime(2026, 3, 8, 10, 0, tzinfo=UTC)),
        ("2026-07-01", "Europe/Madrid", datetime(2026, 7, 1, 4, 0, tzinfo=UTC)),
    ],
)
def test_day_with_times_is_a_moment_in_the_establishments_zone(
    day: str, zone: str, start: datetime
) -> None:
    one = order(first=day, last=day, from_time="06:00", to_time="10:30")

    event = event_of(calendar_text("x", [one], zone, NOW))

    assert event.decoded("DTSTART") == start


@pytest.fixture(scope="module")
def book(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Book]:
    one = Book(tmp_path_factory.mktemp("feed"))
    yield one
    one.close()


def test_address_is_shown_once_kept_as_hash_and_revocable(book: Book) -> None:
    desk = book.manager
    made = desk.post("/api/v1/feeds", {"label": "office calendar"}).json
    token = made["path"].removeprefix("/calendar/").removesuffix(".ics")
    fields = {"title": "Height, bedding", "window_from": "2026-05-12", "window_to": "2026-05-12"}
    sent = desk.exchange(desk.entry("spray_order", "create", fields=fields))
    assert sent["results"][0]["outcome"] == "accepted"
    stranger = book.app.test_client()

    reply = stranger.get(made["path"], base_url="https://localhost")

    assert reply.status_code == 200
    assert reply.mimetype == "text/calendar"
    assert str(event_of(reply.text)["SUMMARY"]) == "Height, bedding"
    listed = desk.get("/api/v1/feeds")
    assert token not in listed.text
    assert [one["label"] for one in listed.json["feeds"]] == ["office calendar"]
    assert desk.post(f"/api/v1/feeds/{made['id']}/revoke", {}).status_code == 200
    gone = stranger.get(made["path"], base_url="https://localhost")
    assert (gone.status_code, gone.json["code"]) == (404, "feeds.no_such_feed")
    unknown = stranger.get(f"/calendar/{token[:-1]}x.ics", base_url="https://localhost")
    assert (unknown.status_code, unknown.json["code"]) == (404, "feeds.no_such_feed")


def test_operator_makes_no_address(book: Book) -> None:
    book.manager.add_member("Rosa Lind", "operator")
    operator = Desk(book, "Rosa Lind")

    reply = operator.post("/api/v1/feeds", {"label": "mine"})

    assert reply.status_code == 403


def test_pattern_revokes_no_address(tmp_path: Path) -> None:
    book = Book(tmp_path)
    book.manager.post("/api/v1/feeds", {"label": "kitchen"})

    reply = book.manager.post(f"/api/v1/feeds/{'_' * 16}/revoke", {})

    assert (reply.status_code, reply.json["code"]) == (404, "feeds.no_such_feed")
