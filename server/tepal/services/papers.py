"""Printing: a paper's view model is frozen, stored with its hash and numbered, then drawn.

Commits the stored paper. The same view model gives the same bytes. A view is made by the paper's
own service (application_sheet.py, mixing_sheet.py, notices.py, ...), on the readers' engine: the
writers' lock is held for one row, never while a paper is thought out. The month, which may be
large, has its own way to print: month_paper.py.
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


@dataclass(frozen=True, slots=True)
class Facts:
    """What every view is given: when it is printed, by whom, and how often before."""

    now: str
    printed_by: str
    reprint_number: int


def print_paper(
    printing: Printing,
    sort: str,
    subject: str,
    make: Callable[[Facts], Any],
    render: Callable[[Any, dict[str, str]], bytes],
) -> bytes:
    """Make a view, store and number it, and draw it. Commits.

    Parameters
    ----------
    sort, subject : what the number counts: prints of this sort about this subject.
    """

    def made(facts: Facts) -> tuple[dict[str, Any], Any]:
        view = make(facts)
        return view_json(view), view

    view = keep_paper(
        printing.db, printing.establishment, sort, subject, made,
        member=printing.member, chance=printing.chance,
    )  # fmt: skip
    return render(view, catalogue(printing.locale, printing.language))


def keep_paper(
    db: DbSession, establishment: str, sort: str, subject: str,
    make: Callable[[Facts], tuple[dict[str, Any], Drawn]], *, member: str, chance: Chance,
) -> Drawn:  # fmt: skip
    """Number and store a paper, and return what `make` returned beside its view. Commits.

    `make` reads on its own time, outside the writers' lock; where the same paper was printed
    meanwhile, its number is another one and it is made again.

    Parameters
    ----------
    db : a session on the readers' engine.
    make : facts -> (the view as JSON data, anything).
    """
    now = chance.instant()
    while True:
        number = printed_before(db, establishment, sort, subject)
        stored, drawn = make(Facts(now, _name(db, establishment, member), number))
        db.rollback()  # end of the snapshot: a second turn sees what was printed meanwhile
        row = Paper(
            establishment=establishment, id=chance.uuid7(), sort=sort, subject=subject,
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

    def make(facts: Facts) -> Any:
        return application_sheet_view(
            printing.db, printing.establishment, application, printing.words, now=facts.now,
            printed_by=facts.printed_by, reprint_number=facts.reprint_number,
            only_of=printing.member if only_own else None,
        )  # fmt: skip

    return print_paper(printing, "application", application, make, render_application_sheet)


def print_door_notice(printing: Printing, restriction: str, form: SignForm) -> bytes:
    """Print the sign for a restriction, on one sheet or tiled to the standard size. Commits.

    Raises
    ------
    NotFoundError   `papers.no_such_record`.
    """
    return print_paper(
        printing, "door_notice", f"{restriction}:{form}",
        lambda facts: door_notice_view(_book(printing, facts), restriction, form),
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
        lambda facts: entry_log_view(_book(printing, facts), restriction), render_table_sheet,
    )  # fmt: skip


def print_lot_history(printing: Printing, lot: str) -> bytes:
    """Print what was applied to a lot, to ship with its plants. Commits.

    Raises
    ------
    NotFoundError   `papers.no_such_record`.
    """
    return print_paper(
        printing, "lot_history", lot, lambda facts: lot_history_view(_book(printing, facts), lot),
        render_table_sheet,
    )  # fmt: skip


def print_day_plan(printing: Printing, day: str) -> bytes:
    """Print the houses through a day, and what is restricted. Commits."""
    return print_paper(
        printing, "day_plan", day, lambda facts: day_plan_view(_book(printing, facts), day),
        render_table_sheet,
    )  # fmt: skip


def print_central_display(printing: Printing) -> bytes:
    """Print what has to hang where everybody can read it. Commits."""
    return print_paper(
        printing, "central_display", "", lambda facts: central_display_view(_book(printing, facts)),
        render_table_sheet,
    )  # fmt: skip


def _book(printing: Printing, facts: Facts) -> Book:
    return read_book(
        printing.db, printing.establishment, printing.words, now=facts.now,
        printed_by=facts.printed_by, reprint_number=facts.reprint_number,
    )  # fmt: skip


def print_mixing_sheet(printing: Printing, asked: AskedSheet) -> bytes:
    """Print a tank mix over places as PDF; the same order is numbered. Commits.

    Raises
    ------
    NotFoundError   `mixing.no_such_record`.
    TepalError      What the mix core raises for a mix that cannot be computed.
    """

    def make(facts: Facts) -> Any:
        return mixing_sheet_view(
            printing.db, printing.establishment, asked, printing.words, now=facts.now,
            printed_by=facts.printed_by, reprint_number=facts.reprint_number,
        )  # fmt: skip

    subject = f"{asked.tank_mix}:{asked.digest}"
    return print_paper(printing, "mixing_sheet", subject, make, render_mixing_sheet)


def keep_trial_report(
    db: DbSession,
    establishment: str,
    trial: str,
    view_of: Callable[[int, str, str], View],
    *,
    member: str,
    chance: Chance,
) -> View:
    """Freeze, number and store a trial's report: `view_of(prints before, name, now)`. Commits."""

    def make(facts: Facts) -> tuple[dict[str, Any], View]:
        view = view_of(facts.reprint_number, facts.printed_by, facts.now)
        return view_json(view), view

    return keep_paper(db, establishment, "trial", trial, make, member=member, chance=chance)


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
