"""What a paper's view starts from: whose it is, its words, and what the office had heard."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING, Any

from tepal import __version__
from tepal.domain.errors import NotFoundError
from tepal.domain.number_format import number_format_of
from tepal.reports.print_facts import CompleteAsOf, DeviceHeard, Establishment
from tepal.services import office
from tepal.services.book_text import TextMaker
from tepal.services.record_story import names_of
from tepal.store import records as record_rows
from tepal.store.journal import read_head
from tepal.sync.engine import missing_ranges
from tepal.sync.ports import Numbers

if TYPE_CHECKING:
    from collections.abc import Mapping

    from sqlalchemy.orm import Session as DbSession

    from tepal.domain.words import Words
    from tepal.sync.merge import RecordState

_SILENT_AFTER_H = 24  # a phone not heard for a day may hold entries nobody has seen


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
        """Return the fields that all views share (`PrintFacts`)."""
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


def complete_as_of(db: DbSession, establishment: str, text: TextMaker, now: str) -> CompleteAsOf:
    """Say up to when each phone was heard: what it still holds, no paper can know."""
    devices = []
    for phone in office.phones(db, establishment):
        if phone["revoked"] or phone["label"] == "server":
            continue
        heard_at = phone["heard_at"]
        _, holes = missing_ranges(Numbers.stored(phone["ack"], phone["beyond"]))
        owes = []
        if holes:
            numbers = ", ".join(str(a) if a == b else f"{a}–{b}" for a, b in holes)
            owes.append(text.words.text("book.owes.missing", numbers=numbers))
        unsent = (phone["status"] or {}).get("unsent") or 0
        if unsent:
            owes.append(text.words.text("book.owes.unsent", n=unsent))
        state = "never" if heard_at is None else "heard"
        if heard_at is not None and _hours_between(heard_at, now) > _SILENT_AFTER_H:
            state = "silent"
        devices.append(
            DeviceHeard(
                phone["label"],
                "" if heard_at is None else text.instant(heard_at),
                state,  # type: ignore[arg-type]
                " ".join(owes),
            )
        )
    return CompleteAsOf(text.instant(now), tuple(devices))


def _hours_between(earlier: str, later: str) -> float:
    seconds = datetime.fromisoformat(later) - datetime.fromisoformat(earlier)
    return seconds.total_seconds() / 3600
