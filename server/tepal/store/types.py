"""Column types: instants that refuse to lose their zone."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

from sqlalchemy import DateTime
from sqlalchemy.types import TypeDecorator


class UtcDateTime(TypeDecorator[datetime]):
    """An instant in UTC. SQLite drops offsets silently, so naive values are refused here."""

    impl = DateTime
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Any) -> datetime | None:
        """Convert to UTC; refuse a naive value."""
        del dialect
        if value is None:
            return None
        if value.tzinfo is None:
            raise ValueError("an instant needs its zone")
        return value.astimezone(UTC).replace(tzinfo=None)

    def process_result_value(self, value: datetime | None, dialect: Any) -> datetime | None:
        """Give the zone back."""
        del dialect
        return None if value is None else value.replace(tzinfo=UTC)
