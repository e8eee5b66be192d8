"""Printing: a paper's view model is frozen, stored with its hash and numbered, then drawn.

Commits the stored paper. The same view model gives the same bytes. A view is made by the paper's
own service (application_sheet.py, mixing_sheet.py, notices.py, ...). The month, which may be large,
has its own way to print: month_paper.py.
"""

from __future__ import annotations

import dataclasses
import hashlib
import json
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, TypeVar

from sqlalchemy import func, select

from tepal.reports.application_sheet import render_application_sheet
from tepal.reports.door_notice import render_door_notice
from tepal.reports.mixing_sheet import render_mixing_sheet
from tepal.reports.table_sheet import render_table_sheet
from tepal.services.application_sheet import application_sheet_view
from tepal.services.catalogue import catalogue, words_for
from tepal.services.central_display import central_display_view
from tepal.services.day_plan import day_plan_view
from tepal.services.lot_history import lot_history_view
from tepal.services.mixing_sheet import mixing_sheet_view
from tepal.services.notices import door_notice_view, entry_log_view
from tepal.services.print_base import read_book
from tepal.store import records as record_rows
from tepal.store.database import write_session
from tepal.store.journal import SqlJournal
from tepal.store.models import Paper

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from sqlalchemy.orm import Session as DbSession

    from tepal.domain.words import Words
    from tepal.reports.door_view import SignForm
    from tepal.services.mixing_sheet import AskedSheet
    from tepal.services.print_base import Book
    from tepal.services.server_acts import Chance

Drawn = TypeVar("Drawn")
View = TypeVar("View")


@dataclass(frozen=True, slots=True)
class Printing:
    """One print: for whom, in which language, where the words lie, and the clock.

    `db` is a session on the readers' engine.
    """

    db: DbSession
    establishment: str
    language: str
    locale: Path
    member: str
    chance: Chance

    @property
    def words(self) -> Words:
        """Return the words of the print's language."""
        return words_for(self.locale, self.language)


def print_paper(
    printing: Printing,
    sort: str,
    subject: str,
    make: Callable[[Book], Any],
    render: Callable[[Any, dict[str, str]], bytes],
) -> bytes:
    """Make a view, store and number it, and draw it. Commits."""
    view = keep_paper(printing, sort, subject, make)
    return render(view, catalogue(printing.locale, printing.language))


def keep_paper(printing: Printing, sort: str, subject: str, make: Callable[[Book], View]) -> View:
    """Make a view of the book, number it, and store it with its hash. Commits.

    Parameters
    ----------
    sort, subject : what the number counts: prints of this sort about this subject.
    """

    def made(book: Book) -> tuple[dict[str, Any], View]:
        view = make(book)
        return view_json(view), view

    return keep_drawn(printing, sort, subject, made)


def keep_drawn(
    printing: Printing,
    sort: str,
    subject: str,
    make: Callable[[Book], tuple[dict[str, Any], Drawn]],
) -> Drawn:
    """Do as `keep_paper` does with what `make` returns: the view as JSON data, and anything.

    `make` reads one snapshot, so that the head a paper names and the records on it are of one
    moment, and no phone waits meanwhile: the establishment's lock is held for the new row alone.
    Where the same paper was printed meanwhile, its number is taken and it is made again.
    """
    db, establishment, member = printing.db, printing.establishment, printing.member
    now = printing.chance.instant()
    while True:
        number = printed_before(db, establishment, sort, subject)
        book = read_book(
            db, establishment, printing.words, now=now,
            printed_by=_name(db, establishment, member), reprint_number=number,
        )  # fmt: skip
        stored, drawn = make(book)
        db.rollback()  # the snapshot ends: a second turn sees what was printed meanwhile
        row = Paper(
            establishment=establishment, id=printing.chance.uuid7(), sort=sort, subject=subject,
            number=number, view=stored, view_hash=view_hash(stored), printed_at=now,
            printed_by=member,
        )  # fmt: skip
        with write_session() as writing, writing.begin():
            SqlJournal(writing, establishment).lock()
            if printed_before(writing, establishment, sort, subject) == number:
                writing.add(row)
                return drawn


def view_json(view: Any) -> dict[str, Any]:
    """Return a view model as JSON data."""
    found: dict[str, Any] = json.loads(json.dumps(dataclasses.asdict(view), ensure_ascii=False))
    return found


def view_hash(view: dict[str, Any]) -> str:
    """Return the SHA-256 of a view model's canonical text."""
    text = json.dumps(view, ensure_ascii=False, sort_keys=True, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()


def print_application(printing: Printing, application: str, only_own: bool = False) -> bytes:
    """Print the sheet of one application as PDF. Commits.

    `only_own`: nobody else's than the printing member's.

    Raises
    ------
    NotFoundError   `papers.no_such_application`.
    """
    only_of = printing.member if only_own else None
    return print_paper(
        printing, "application", application,
        lambda book: application_sheet_view(book, application, only_of=only_of),
        render_application_sheet,
    )  # fmt: skip


def print_door_notice(printing: Printing, restriction: str, form: SignForm) -> bytes:
    """Print the sign for a restriction, on one sheet or tiled to the standard size. Commits.

    Raises
    ------
    NotFoundError   `papers.no_such_record`.
    """
    return print_paper(
        printing, "door_notice", f"{restriction}:{form}",
        lambda book: door_notice_view(book, restriction, form),
        render_door_notice,
    )  # fmt: skip


def print_entry_log(printing: Printing, restriction: str) -> bytes:
    """Print the log of oral notices and early entries of a restriction. Commits.

    Raises
    ------
    NotFoundError   `papers.no_such_record`.
    """
    return print_paper(
        printing, "entry_log", restriction,
        lambda book: entry_log_view(book, restriction), render_table_sheet,
    )  # fmt: skip


def print_lot_history(printing: Printing, lot: str) -> bytes:
    """Print what was applied to a lot, to ship with its plants. Commits.

    Raises
    ------
    NotFoundError   `papers.no_such_record`.
    """
    return print_paper(
        printing, "lot_history", lot, lambda book: lot_history_view(book, lot),
        render_table_sheet,
    )  # fmt: skip


def print_day_plan(printing: Printing, day: str) -> bytes:
    """Print the houses through a day, and what is restricted. Commits."""
    return print_paper(
        printing, "day_plan", day, lambda book: day_plan_view(book, day),
        render_table_sheet,
    )  # fmt: skip


def print_central_display(printing: Printing) -> bytes:
    """Print what has to hang where everybody can read it. Commits."""
    return print_paper(
        printing, "central_display", "", central_display_view, render_table_sheet,
    )  # fmt: skip


def print_mixing_sheet(printing: Printing, asked: AskedSheet) -> bytes:
    """Print a tank mix over places as PDF; the same order is numbered. Commits.

    Raises
    ------
    NotFoundError   `mixing.no_such_record`.
    TepalError      What the mix core raises for a mix that cannot be computed.
    """
    return print_paper(
        printing, "mixing_sheet", f"{asked.tank_mix}:{asked.digest}",
        lambda book: mixing_sheet_view(book, asked), render_mixing_sheet,
    )  # fmt: skip


def printed_before(db: DbSession, establishment: str, sort: str, subject: str) -> int:
    """Return how often this paper was printed before."""
    query = (
        select(func.count())
        .select_from(Paper)
        .where(Paper.establishment == establishment, Paper.sort == sort, Paper.subject == subject)
    )
    return int(db.execute(query).scalar_one())


def _name(db: DbSession, establishment: str, member: str) -> str:
    """Return who prints: a person's name, or the command where nobody does."""
    if not member:
        return "tepal report"
    people = record_rows.load(db, establishment, [("member", member)])
    return str(people["member", member].fields.get("name", "")) if people else ""
