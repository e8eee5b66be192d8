"""Printing: a paper's view model is frozen, stored with its hash and numbered, then drawn.

Commits the stored paper. The same view model gives the same bytes.
"""

from __future__ import annotations

import dataclasses
import hashlib
import json
from typing import TYPE_CHECKING, Any

from sqlalchemy import func, select

from tepal.reports.mixing_sheet import render_mixing_sheet
from tepal.reports.month import render_month
from tepal.services.catalogue import catalogue, words_for
from tepal.services.mixing_sheet import mixing_sheet_view
from tepal.services.month import month_view
from tepal.store import records as record_rows
from tepal.store.models import Paper

if TYPE_CHECKING:
    from pathlib import Path

    from sqlalchemy.orm import Session as DbSession

    from tepal.services.mixing_sheet import AskedSheet
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
    only_own: bool = False,
) -> bytes:
    """Print the applications of a month as PDF; the paper is stored and numbered. Commits.

    `only_own`: what the member applied or entered, as a paper of its own.
    """
    subject = f"{month}:{member}" if only_own else month
    now = chance.instant()
    words = words_for(locale, language)
    with db.begin():
        before, name = (
            _printed_before(db, establishment, "month", subject),
            _name(db, establishment, member),
        )
        view = month_view(
            db, establishment, month, words,
            now=now, printed_by=name, reprint_number=before,
            only_of=member if only_own else None,
        )  # fmt: skip
        _store(
            db,
            establishment,
            "month",
            subject,
            before,
            view,
            now=now,
            member=member,
            chance=chance,
        )
    return render_month(view, catalogue(locale, language))


def print_mixing_sheet(
    db: DbSession,
    establishment: str,
    asked: AskedSheet,
    language: str,
    *,
    locale: Path,
    member: str,
    chance: Chance,
) -> bytes:
    """Print a tank mix over places as PDF; the paper is stored, the same order numbered. Commits.

    Raises
    ------
    NotFoundError   `mixing.no_such_record`.
    TepalError      What the mix core raises for a mix that cannot be computed.
    """
    now = chance.instant()
    subject = f"{asked.tank_mix}:{asked.digest}"
    with db.begin():
        before = _printed_before(db, establishment, "mixing_sheet", subject)
        view = mixing_sheet_view(
            db, establishment, asked, words_for(locale, language),
            now=now, printed_by=_name(db, establishment, member), reprint_number=before,
        )  # fmt: skip
        _store(
            db, establishment, "mixing_sheet", subject, before, view,
            now=now, member=member, chance=chance,
        )  # fmt: skip
    return render_mixing_sheet(view, catalogue(locale, language))


def _printed_before(db: DbSession, establishment: str, sort: str, subject: str) -> int:
    """Return how often this paper was printed before."""
    query = (
        select(func.count())
        .select_from(Paper)
        .where(Paper.establishment == establishment, Paper.sort == sort, Paper.subject == subject)
    )
    return int(db.execute(query).scalar_one())


def _name(db: DbSession, establishment: str, member: str) -> str:
    people = record_rows.load(db, establishment, [("member", member)])
    return str(people["member", member].fields.get("name", "")) if people else ""


def _store(
    db: DbSession,
    establishment: str,
    sort: str,
    subject: str,
    number: int,
    view: Any,
    *,
    now: str,
    member: str,
    chance: Chance,
) -> None:
    stored = view_json(view)
    db.add(
        Paper(
            establishment=establishment, id=chance.uuid7(), sort=sort, subject=subject,
            number=number, view=stored, view_hash=view_hash(stored), printed_at=now,
            printed_by=member,
        )
    )  # fmt: skip
