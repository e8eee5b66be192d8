"""Values of records as text for paper: quantities, moments, names. Nothing is decided here."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, timezone
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from tepal.domain.number_format import local_decimal
from tepal.domain.rounding import format_quantity
from tepal.domain.units import decimal_value, shown_in, to_base, unit_of

if TYPE_CHECKING:
    from tepal.domain.rounding import NumberFormat
    from tepal.domain.words import Words

_NBSP = "\u00a0"


@dataclass(frozen=True, slots=True)
class TextMaker:
    """Turns stored values into text in one language, number format and time zone."""

    words: Words
    number_format: NumberFormat
    zone: str

    def quantity(self, value: Any) -> str:
        """Return `{"value", "unit"}` with the digits that were typed: "1,05 L"; "" for none."""
        if not isinstance(value, dict):
            return ""
        unit = unit_of(value["unit"])
        return f"{local_decimal(value['value'], self.number_format)}{_NBSP}{unit.symbol}".strip()

    def other_system(self, value: Any) -> str:
        """Return the same amount in the other system of measures; "" where there is none."""
        if not isinstance(value, dict):
            return ""
        unit = unit_of(value["unit"])
        if unit.system not in ("metric", "us") or unit.dimension not in ("volume", "mass", "area"):
            return ""
        base = to_base(decimal_value(value["value"], "value"), unit.code)
        shown = shown_in(base, unit.dimension, "us" if unit.system == "metric" else "metric")
        return format_quantity(shown.value, shown.unit, self.number_format)

    def day(self, moment: Any) -> str:
        """Return the local calendar day of a moment: "Tue 12 May 2026"; "" for none."""
        if not isinstance(moment, dict):
            return ""
        local = datetime.fromisoformat(moment["local"])
        return self.words.text(
            "book.day",
            weekday=self.words.text(f"book.weekday.{local.isoweekday()}"),
            day=str(local.day),
            month=self.words.text(f"book.month_short.{local.month}"),
            year=str(local.year),
        )

    def clock(self, moment: Any) -> str:
        """Return the local time of day of a moment: "07:10"; "" for none."""
        return moment["local"][11:16] if isinstance(moment, dict) else ""

    def month(self, month: str) -> str:
        """Return "2026-05" as "May 2026"."""
        year, number = month.split("-")
        name = self.words.text(f"book.month.{int(number)}")
        return self.words.text("book.month_of", month=name, year=year)

    def instant(self, at: str) -> str:
        """Return a UTC instant of the server as local text with its offset."""
        local = datetime.fromisoformat(at).astimezone(self._zone())
        return f"{local:%Y-%m-%d %H:%M} {_offset(local)}"

    def local_instant(self, moment: datetime) -> str:
        """Return a UTC datetime as local day and time: "Tue 12 May 2026, 20:05"."""
        local = moment.astimezone(self._zone())
        as_moment = {"local": f"{local:%Y-%m-%dT%H:%M:%S}"}
        return f"{self.day(as_moment)}, {local:%H:%M}"

    def local_day(self, at: str) -> str:
        """Return the local day (YYYY-MM-DD) of a UTC instant of the server."""
        return f"{datetime.fromisoformat(at).astimezone(self._zone()):%Y-%m-%d}"

    def _zone(self) -> Any:
        try:
            return ZoneInfo(self.zone)
        except (ZoneInfoNotFoundError, ValueError):
            return UTC


def utc_of(moment: dict[str, Any]) -> datetime:
    """Return the instant of a moment: its wall time less its own offset."""
    offset = timezone(timedelta(minutes=moment["offset_min"]))
    return datetime.fromisoformat(moment["local"]).replace(tzinfo=offset).astimezone(UTC)


def _offset(local: datetime) -> str:
    text = f"{local:%z}"
    sign = "−" if text.startswith("-") else "+"
    return f"{sign}{text[1:3]}:{text[3:5]}"
