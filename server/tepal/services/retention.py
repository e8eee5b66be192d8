"""How long records must be kept, and so until when a person's name stays in them. Reads only.

Each application is kept until the latest day that a standard which applies to it names
(domain/standards.py) or the establishment's own `keep_years`. Nothing is deleted inside that time.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from tepal.domain.moments import add_years
from tepal.domain.standards import completeness, standards_for
from tepal.store import records as record_rows

if TYPE_CHECKING:
    from collections.abc import Mapping

    from sqlalchemy.orm import Session as DbSession


@dataclass(frozen=True, slots=True)
class Kept:
    """Until when what names a person is kept. `unknown`: records without a known last day."""

    until: str | None
    n_records: int
    n_unknown: int


def kept_until(application: Mapping[str, Any], establishment: Mapping[str, Any]) -> str | None:
    """Return the last day an application must be kept; None: not known, so it may not go."""
    days = [
        completeness(standard, application, establishment).keep_until
        for standard in standards_for(application, establishment)
    ]
    started = application.get("started_at")
    years = establishment.get("keep_years")
    if years is not None and isinstance(started, dict):
        days.append(add_years(started["local"][:10], years))
    return None if not days or None in days else max(day for day in days if day is not None)


def kept_for(db: DbSession, establishment: str, member: str) -> Kept:
    """Return until when the applications that speak of a person are kept."""
    own = record_rows.load(db, establishment, [("establishment", establishment)])
    fields = own["establishment", establishment].fields
    days = [
        kept_until(record.fields, fields)
        for record in record_rows.load_all(db, establishment, "application")
        if record.author == member or member in json.dumps(record.fields)
    ]
    known = [day for day in days if day is not None]
    return Kept(max(known, default=None), len(days), len(days) - len(known))
