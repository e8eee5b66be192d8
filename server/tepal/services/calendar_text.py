"""Spray orders as an iCalendar stream (RFC 5545). Pure: the caller hands in rows and the time.

An order with days alone is a day event; one day with both times is a timed event in UTC. Lines end
with CRLF and are folded at 75 octets (RFC 5545, 3.1); text is escaped (3.3.11).
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from typing import TYPE_CHECKING, Final
from zoneinfo import ZoneInfo

if TYPE_CHECKING:
    from collections.abc import Sequence

_FOLD: Final = 75  # octets without the line break
STATUSES: Final = {"planned": "TENTATIVE", "done": "CONFIRMED", "cancelled": "CANCELLED"}


@dataclass(frozen=True, slots=True)
class PlannedOrder:
    """An order as the calendar shows it; days `YYYY-MM-DD`, times `HH:MM` or None."""

    id: str
    revision: int
    title: str
    places: str
    details: str
    first: str
    last: str
    from_time: str | None
    to_time: str | None
    status: str  # planned | done | cancelled


def calendar_text(name: str, orders: Sequence[PlannedOrder], zone: str, now: datetime) -> str:
    """Return the stream. `zone` is the establishment's IANA zone, `now` an instant in UTC."""
    lines = [
        "BEGIN:VCALENDAR", "VERSION:2.0", "PRODID:-//Tepal//Spray orders//EN",
        "CALSCALE:GREGORIAN", "METHOD:PUBLISH", f"NAME:{_escaped(name)}",
        f"X-WR-CALNAME:{_escaped(name)}", "REFRESH-INTERVAL;VALUE=DURATION:PT1H",
    ]  # fmt: skip
    for order in orders:
        lines += _event(order, zone, now)
    lines.append("END:VCALENDAR")
    return "".join(f"{_folded(line)}\r\n" for line in lines)


def _event(order: PlannedOrder, zone: str, now: datetime) -> list[str]:
    lines = [
        "BEGIN:VEVENT", f"UID:{order.id}@tepal", f"DTSTAMP:{_utc(now)}",
        f"SEQUENCE:{order.revision}", *_times(order, zone), f"SUMMARY:{_escaped(order.title)}",
        f"STATUS:{STATUSES[order.status]}", "TRANSP:TRANSPARENT",
    ]  # fmt: skip
    if order.places:
        lines.append(f"LOCATION:{_escaped(order.places)}")
    if order.details:
        lines.append(f"DESCRIPTION:{_escaped(order.details)}")
    return [*lines, "END:VEVENT"]


def _times(order: PlannedOrder, zone: str) -> list[str]:
    """A timed event where the order has one day and both times, else whole days."""
    if order.first == order.last and order.from_time and order.to_time:
        place = ZoneInfo(zone)
        start, end = (
            datetime.fromisoformat(f"{order.first}T{time}").replace(tzinfo=place)
            for time in (order.from_time, order.to_time)
        )
        if end > start:
            return [f"DTSTART:{_utc(start)}", f"DTEND:{_utc(end)}"]
    # the end of a day event is the first day after it (RFC 5545, 3.6.1)
    after = date.fromisoformat(order.last) + timedelta(days=1)
    return [
        f"DTSTART;VALUE=DATE:{order.first.replace('-', '')}", f"DTEND;VALUE=DATE:{after:%Y%m%d}",
    ]  # fmt: skip


def _utc(moment: datetime) -> str:
    return f"{moment.astimezone(UTC):%Y%m%dT%H%M%SZ}"


def _escaped(text: str) -> str:
    found = text.replace("\\", "\\\\").replace(";", "\\;").replace(",", "\\,")
    return found.replace("\r\n", "\\n").replace("\n", "\\n").replace("\r", "\\n")


def _folded(line: str) -> str:
    """Fold at 75 octets, never inside a character: the next line begins with a space."""
    parts: list[str] = []
    part, octets = "", 0
    for char in line:
        width = len(char.encode())
        if octets + width > _FOLD:
            parts.append(part)
            part, octets = " ", 1
        part, octets = part + char, octets + width
    return "\r\n".join([*parts, part])
