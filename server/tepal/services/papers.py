"""Printing: a paper's view model is frozen, stored with its hash and numbered, then drawn.

Commits the stored paper. The same view model gives the same bytes.
"""

from __future__ import annotations

import dataclasses
import hashlib
import json
from typing import TYPE_CHECKING, Any

from sqlalchemy import func, select

from tepal.reports.month import render_month
from tepal.services.catalogue import catalogue, words_for
from tepal.services.month import month_view
from tepal.store import records as record_rows
from tepal.store.models import Paper

if TYPE_CHECKING:
    from pathlib import Path

    from sqlalchemy.orm import Session as DbSession

    from tepal.services.server_acts import Chance


def view_json(view: Any) -> dict[str, Any]:
    """Return a view model as JSON data."""
    found: dict[str, Any] = json.loads(json.dumps(dataclasses.asdict(view), ensure_ascii=False))
    return found


def view_hash(view: dict[str, Any]) -> str:
    """Return the SHA-256 of a view model's canonical text."""
    text = json.dumps(view, ensure_ascii=False, sort_keys=True, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()


def print_month(
    db: DbSession,
    establishment: str,
    month: str,
    language: str,
    *,
    locale: Path,
    member: str,
    chance: Chance,
) -> bytes:
    """Print the applications of a month as PDF; the paper is stored and numbered. Commits."""
    now = chance.instant()
    with db.begin():
        before = db.execute(
            select(func.count())
            .select_from(Paper)
            .where(
                Paper.establishment == establishment,
                Paper.sort == "month",
                Paper.subject == month,
            )
        ).scalar_one()
        people = record_rows.load(db, establishment, [("member", member)])
        name = people["member", member].fields.get("name", "") if people else ""
        view = month_view(
            db, establishment, month, words_for(locale, language),
            now=now, printed_by=str(name), reprint_number=before,
        )  # fmt: skip
        stored = view_json(view)
        db.add(
            Paper(
                establishment=establishment, id=chance.uuid7(), sort="month", subject=month,
                number=before, view=stored, view_hash=view_hash(stored), printed_at=now,
                printed_by=member,
            )
        )  # fmt: skip
    return render_month(view, catalogue(locale, language))
