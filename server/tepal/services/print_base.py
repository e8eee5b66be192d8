"""What a paper's view starts from: whose it is, its words, and what the office had heard."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from tepal import __version__
from tepal.domain.errors import NotFoundError
from tepal.domain.number_format import number_format_of
from tepal.reports.print_facts import Establishment
from tepal.services.book_text import TextMaker
from tepal.services.month import complete_as_of
from tepal.services.record_story import names_of
from tepal.store import records as record_rows
from tepal.store.journal import read_head

if TYPE_CHECKING:
    from collections.abc import Mapping

    from sqlalchemy.orm import Session as DbSession

    from tepal.domain.words import Words
    from tepal.sync.merge import RecordState


@dataclass(frozen=True, slots=True)
class Book:
    """The records of one establishment as a paper's service reads them, with their words."""

    db: DbSession
    id: str
    own: Mapping[str, Any]
    text: TextMaker
    now: str
    printed_by: str
    reprint_number: int

    @property
    def words(self) -> Words:
        """Return the words of the paper."""
        return self.text.words

    def one(self, kind: str, record: str) -> RecordState:
        """Return a record.

        Raises
        ------
        NotFoundError   `papers.no_such_record`.
        """
        found = record_rows.load(self.db, self.id, [(kind, record)])
        if not found:
            raise NotFoundError("papers.no_such_record", f"the office has no such {kind}")
        return found[kind, record]

    def all(self, kind: str) -> list[RecordState]:
        """Return the records of a kind that are not void."""
        return [r for r in record_rows.load_all(self.db, self.id, kind) if r.state != "void"]

    def names(self, kind: str, field: str = "name") -> dict[str, str]:
        """Return {id: text} of one field."""
        return names_of(self.db, self.id, kind, field)

    def say(self, code: str, /, **params: str | int) -> str:
        """Return the words for a code."""
        return self.words.text(code, **params)

    def moment(self, moment: Any) -> str:
        """Return day and clock of a moment; "" for none."""
        return f"{self.text.day(moment)} {self.text.clock(moment)}" if moment else ""

    def facts(self) -> dict[str, Any]:
        """Return the fields that all views share."""
        head = read_head(self.db, self.id)
        return {
            "paper": self.own.get("paper", "a4"),
            "language": self.words.language,
            "establishment": Establishment(
                self.own.get("name", ""), tuple(str(self.own.get("address", "")).splitlines())
            ),
            "generated_at": self.text.instant(self.now),
            "printed_by": self.printed_by,
            "software": f"Tepal {__version__}",
            "reprint_number": self.reprint_number,
            "head_seq": head.seq,
            "head_hash": head.hash,
            "complete_as_of": complete_as_of(self.db, self.id, self.text, self.now),
        }


def read_book(
    db: DbSession, establishment: str, words: Words, *, now: str, printed_by: str,
    reprint_number: int,
) -> Book:  # fmt: skip
    """Return the book of an establishment, ready for a paper."""
    own = record_rows.load(db, establishment, [("establishment", establishment)])
    fields = own["establishment", establishment].fields
    text = TextMaker(words, number_format_of(fields.get("number_format")), fields.get("zone", ""))
    return Book(db, establishment, fields, text, now, printed_by, reprint_number)
