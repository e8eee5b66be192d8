"""The sheet of one application: the record as it stands, its photos, and every entry about it.

Reads only; `services/papers.py` stores and prints it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from sqlalchemy import select

from tepal.domain.errors import NotFoundError
from tepal.reports.application_view import ApplicationSheetView, HistoryLine, PhotoLine
from tepal.reports.print_facts import Caution
from tepal.services import office
from tepal.services.access import AccessError
from tepal.services.application_text import ApplicationText
from tepal.services.month import areas_of, open_conflicts
from tepal.services.record_story import stories
from tepal.services.standards_text import StandardsText
from tepal.store import records as record_rows
from tepal.store.kind_models import PhotoRecord

if TYPE_CHECKING:
    from sqlalchemy.orm import Session as DbSession

    from tepal.services.book_text import TextMaker
    from tepal.services.print_base import Book


def application_sheet_view(
    book: Book, application: str, *, only_of: str | None = None
) -> ApplicationSheetView:
    """Return the sheet as final text. `only_of`: a member, who may have the own ones only.

    Raises
    ------
    NotFoundError   `papers.no_such_application`.
    AccessError     `access.not_permitted`: the application is somebody else's.
    """
    db, establishment = book.db, book.id
    found = record_rows.load(db, establishment, [("application", application)])
    if not found:
        raise NotFoundError("papers.no_such_application", "the office has no such application")
    record = found["application", application]
    if only_of is not None and only_of not in (record.author, record.fields.get("operator")):
        raise AccessError("access.not_permitted", "this application is somebody else's")
    standards = StandardsText(book.text, book.own)
    photos = _photos(db, establishment, application, book.text)
    maker = ApplicationText(
        book.text, book.names("member"), book.names("device", "label"), standards,
        areas_of(db, establishment),
    )  # fmt: skip
    return ApplicationSheetView(
        **book.facts(),
        cautions=(Caution(book.say("book.caution.keeping"), from_memory=True),),
        rule_set=standards.rule_set([record.fields]),
        record=maker.record(
            record,
            stories(db, establishment, "application", [application])[application],
            open_conflicts(db, establishment, {application}).get(application, []),
            len(photos),
        ),
        history=tuple(_history(db, establishment, application, maker)),
        photos=photos,
    )


def _photos(
    db: DbSession, establishment: str, application: str, text: TextMaker
) -> tuple[PhotoLine, ...]:
    query = (
        select(PhotoRecord.captured_at, PhotoRecord.sha256)
        .where(
            PhotoRecord.establishment == establishment, PhotoRecord.of_id == application,
            PhotoRecord.state != "void",
        )
        .order_by(PhotoRecord.created_seq)
    )  # fmt: skip
    return tuple(
        PhotoLine(
            text.words.text("book.photo", n=number),
            f"{text.day(taken)} {text.clock(taken)}".strip(),
            sha256 or "",
        )
        for number, (taken, sha256) in enumerate(db.execute(query), start=1)
    )


def _history(
    db: DbSession, establishment: str, application: str, maker: ApplicationText
) -> list[HistoryLine]:
    """Return a line for each entry; one that waits or is held says so and has changed nothing."""
    words = maker.text.words
    lines = []
    for entry in office.history(db, establishment, "application", application)["entries"]:
        told = [] if entry["action"] == "create" else _changes(entry, maker)
        is_idle = entry["outcome"] in ("waiting", "quarantined")
        if is_idle or entry["outcome"] == "conflicted":
            told.append(words.text(f"book.outcome.{entry['outcome']}"))
        lines.append(
            HistoryLine(
                at=maker.moment_text(entry["made_at"] or {}),
                by=entry["member_name"],
                device=entry["device_label"],
                action="request" if is_idle else entry["action"] or "change",
                text="; ".join(told),
                reason=entry["reason"] or "",
                seq=entry["seq"],
            )
        )
    return lines


def _changes(entry: dict[str, Any], maker: ApplicationText) -> list[str]:
    words = maker.text.words
    told = []
    for name, pair in (entry["changes"] or {}).items():
        key = (
            f"field.application.{name}" if f"field.application.{name}" in words else f"field.{name}"
        )
        caption = words.text(key) if key in words else name
        if not isinstance(pair, dict):
            continue
        was, to = maker.plain(name, pair.get("was")), maker.plain(name, pair.get("to"))
        told.append(
            words.text("book.set", field=caption, value=to)
            if not was
            else words.text("book.since.value", field=caption, old=was, new=to or "–")
        )
    return told
