"""Printing the month: a large one is read and drawn in the worker process, never beside a phone.

An application costs about 10 ms of interpreter time to read, freeze and draw; 3,000 of them would
slow every exchange for half a minute. So all of it happens away from the server, which only counts
the prints and stores the view. Commits.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING, Any, Final

from sqlalchemy import select

from tepal.reports.month import render_month
from tepal.services.catalogue import catalogue, words_for
from tepal.services.month import month_view
from tepal.services.month_since import Earlier
from tepal.services.office import n_applications_of_month
from tepal.services.papers import Printing, keep_drawn, view_json
from tepal.services.print_base import read_book
from tepal.services.worker import tell
from tepal.store.database import separate_reader, url_of
from tepal.store.models import Paper

if TYPE_CHECKING:
    from pathlib import Path

    from sqlalchemy.orm import Session as DbSession

    from tepal.services.print_base import Book
    from tepal.services.prints_now import PrintsNow
    from tepal.services.worker import Worker

# A process that is started for a print takes a second or two; below this many applications the
# print is over sooner than that.
LARGE: Final = 40
SORT: Final = "month"


@dataclass(frozen=True, slots=True)
class AskedMonth:
    """Which month is printed, for whom: nothing but values, so that it travels to the worker.

    Attributes
    ----------
    month : "YYYY-MM"         By the local date of the start.
    house : id or None        Only the applications with a place in that house.
    only_of : a member's id   Only what this person applied or entered; None = everybody's.
    """

    establishment: str
    month: str
    language: str
    locale: Path
    house: str | None = None
    only_of: str | None = None

    @property
    def subject(self) -> str:
        """Return what its prints are counted by."""
        own = f":{self.only_of[-12:]}" if self.only_of else ""
        return f"{self.month}:{self.house or 'all'}:{self.language}{own}"


def print_month(
    printing: Printing,
    month: str,
    *,
    house: str | None = None,
    only_own: bool = False,
    worker: Worker | None = None,
    prints: PrintsNow | None = None,
) -> bytes:
    """Print the applications of a month, of one house or all, as PDF. Commits.

    `only_own`: those that the printing member applied. `worker`: where a large month is drawn;
    None = here, for a command that nobody waits beside. `prints`: where it says how far it is.

    A reprint says what changed since the print before it in the same language; another language's
    print is no print before.

    Raises
    ------
    OutOfRangeError, NotFoundError   `office.not_a_month`, `papers.no_such_house`.
    """
    db, establishment = printing.db, printing.establishment
    asked = AskedMonth(
        establishment, month, printing.language, printing.locale, house,
        printing.member if only_own else None,
    )  # fmt: skip
    away = worker if n_applications_of_month(db, establishment, month) >= LARGE else None

    def make(book: Book) -> tuple[dict[str, Any], bytes]:
        if away is None:
            return drawn_month(book, asked)
        url = url_of(db)
        db.rollback()  # no snapshot is held open while the worker is busy
        job = partial(drawn_away, url, asked, book.now, book.printed_by, book.reprint_number)
        if prints is None:
            return away.run(job)
        about = {"month": month, "house": house, "language": printing.language}
        with prints.printing(establishment, printing.member, about) as number:
            return away.run_as(number, job)

    return keep_drawn(printing, SORT, asked.subject, make)


def drawn_month(book: Book, asked: AskedMonth) -> tuple[dict[str, Any], bytes]:
    """Return (the month's view as JSON data, the PDF)."""
    view = month_view(
        book, asked.month, house=asked.house, only_of=asked.only_of, earlier=_last(book.db, asked)
    )
    words = catalogue(asked.locale, asked.language)
    return view_json(view), render_month(view, words, drawn=tell)


def drawn_away(
    url: str, asked: AskedMonth, now: str, printed_by: str, reprint_number: int
) -> tuple[dict[str, Any], bytes]:
    """Do as `drawn_month` does, in a process that has no app: over a connection of its own."""
    words = words_for(asked.locale, asked.language)
    with separate_reader(url) as db:
        book = read_book(
            db, asked.establishment, words, now=now, printed_by=printed_by,
            reprint_number=reprint_number,
        )  # fmt: skip
        return drawn_month(book, asked)


def _last(db: DbSession, asked: AskedMonth) -> Earlier | None:
    query = (
        select(Paper)
        .where(
            Paper.establishment == asked.establishment,
            Paper.sort == SORT,
            Paper.subject == asked.subject,
        )
        .order_by(Paper.number.desc())
        .limit(1)
    )
    row = db.execute(query).scalar_one_or_none()
    if row is None:
        return None
    return Earlier(row.number, row.printed_at, row.view["applications"])
