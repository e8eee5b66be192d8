"""Door notice and the log of oral notices and early entries, for one restriction.

Reads only; `services/papers.py` stores and prints. Early-entry limits: 40 CFR 170.603 as compiled
(4 h wait, 1 h in 24 h short tasks, 8 h in 24 h limited contact: read in the superseded text and
agency pages; the current section from memory).
"""

from __future__ import annotations

from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any, Final

from tepal.domain.entry import minutes_before
from tepal.domain.errors import TepalError
from tepal.domain.moments import moment_ms
from tepal.domain.restriction import rei_end_ms
from tepal.domain.rounding import decimal_text
from tepal.domain.signs import sign_size
from tepal.domain.units import quantity_value
from tepal.reports.door_view import LETTERING, STANDARD_MM, DoorNoticeView
from tepal.reports.print_facts import Caution
from tepal.reports.table_view import Pair, TablePart, TableSheetView
from tepal.reports.theme import PAPER_MM
from tepal.services.book_text import utc_of

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from tepal.reports.door_view import SignForm
    from tepal.services.print_base import Book

_BLANK_LINES: Final = 6


def door_notice_view(book: Book, restriction: str, form: SignForm) -> DoorNoticeView:
    """Return the notice of a restriction.

    Raises
    ------
    NotFoundError   `papers.no_such_record`.
    """
    fields = book.one("restriction", restriction).fields
    facts = book.facts()
    sheet = STANDARD_MM if form == "tiled" else PAPER_MM[facts["paper"]]
    letters = LETTERING[form]
    size = sign_size(*sheet, letters.heading_mm, letters.letters_mm, letters.circle_mm)
    below = [
        f"{fields.get('place') or ''} · {fields.get('product_names') or ''}",
        book.say("book.notice.times", start=book.moment(fields.get("started_at")) or "–",
                 end=book.moment(fields.get("ended_at")) or "–"),
        _until(book, fields),
    ]  # fmt: skip
    notes = []
    if form == "sheet":
        paper = book.say(f"book.paper.{facts['paper']}")
        notes.append(book.say("book.notice.not_standard", paper=paper))
    if size.most_apart_ft is not None:
        notes.append(book.say("book.notice.small", feet=f"{size.most_apart_ft:g}"))
    notes += [book.say("book.notice.full_size"), book.say("book.notice.where")]
    if form == "tiled":
        notes = [book.say("book.notice.tiled"), book.say("book.notice.full_size")]
    return DoorNoticeView(
        **facts, form=form, title=book.say("book.notice.title", place=str(fields.get("place"))),
        below=tuple(below), size_notes=tuple(notes),
    )  # fmt: skip


def _until(book: Book, fields: Mapping[str, Any]) -> str:
    """Say when the REI ends, or why that is not known; never that entry is allowed."""
    rei, ended = fields.get("rei"), fields.get("ended_at")
    if rei is None or fields.get("rei_unknown"):
        return book.say("book.notice.rei_unknown")
    hours = quantity_value(rei, "time", "rei") / 3600
    if ended is None:
        return book.say("book.notice.not_ended", rei=book.text.quantity(rei))
    end = rei_end_ms(utc_of(ended).timestamp() * 1000, hours)
    until = book.text.local_instant(datetime.fromtimestamp((end or 0) / 1000, tz=UTC))
    return book.say("book.notice.until", rei=book.text.quantity(rei), until=until)


def _from_to(book: Book, entry: Mapping[str, Any], logged: Sequence[Mapping[str, Any]]) -> str:
    """Say when it was, how long, and how long that person was inside in the fullest 24 h."""
    began, ended = entry.get("began_at"), entry.get("ended_at")
    times = f"{book.moment(began)}–{book.text.clock(ended) or '…'}"
    if began is None or ended is None:
        return times
    try:
        minutes = (moment_ms(ended) - moment_ms(began)) / 60_000
        others = [one for one in logged if one is not entry]
        before = minutes_before(others, str(entry.get("who") or ""), moment_ms(began), minutes)
    except TepalError:  # times that make no sense are printed, not counted
        return times
    said = {"minutes": decimal_text(minutes, 0), "total": decimal_text(minutes + before, 0)}
    if entry.get("task") == "no_contact":
        return f"{times} {book.say('book.log.minutes', **said)}"
    return f"{times} {book.say('book.log.minutes_day', **said)}"


def entry_log_view(book: Book, restriction: str) -> TableSheetView:
    """Return the log page of a restriction: who was told, who went in, with lines to write on.

    Raises
    ------
    NotFoundError   `papers.no_such_record`.
    """
    record = book.one("restriction", restriction)
    fields, people = record.fields, book.names("member")
    told = [
        (
            book.moment(one.get("at")), str(one.get("told") or ""), str(one.get("words") or ""),
            people.get(str(one.get("by")), ""), "",
        )
        for one in fields.get("oral_notices") or []
    ]  # fmt: skip
    logged = [one.fields for one in book.all("early_entry")]
    entries = [
        (
            _from_to(book, e, logged),
            str(e.get("who") or ""),
            book.say(f"choice.task.{e['task']}") if e.get("task") else "",
            str(e.get("ppe") or ""), str(e.get("reason") or ""),
            people.get(str(e.get("told_by")), ""),
        )
        for e in logged
        if e.get("restriction") == restriction
    ]  # fmt: skip
    say = book.say
    signs = " – ".join(
        book.moment(fields.get(name)) or "…" for name in ("signs_up_at", "signs_down_at")
    )
    reopened = book.moment(fields.get("reopened_at"))
    by = str(fields.get("reopened_name") or people.get(str(fields.get("reopened_by")), ""))
    return TableSheetView(
        **book.facts(),
        title=say("book.log.title", place=str(fields.get("place") or "")),
        pairs=(
            Pair(say("book.log.products"), str(fields.get("product_names") or "")),
            Pair(say("book.log.rei"), _until(book, fields)),
            Pair(say("book.log.signs"), signs),
            Pair(say("book.fact.reopened_at"),
                 f"{reopened} {by}" if reopened else say("book.log.not_reopened")),
        ),
        parts=(
            TablePart(
                say("book.log.told"),
                tuple(say(f"book.log.{n}") for n in ("when", "who", "words", "by", "sign")),
                (34, 40, 60, 34, 24), tuple(told), say("book.log.none"), _BLANK_LINES,
                (say("book.log.told_note"),),
            ),
            TablePart(
                say("book.log.entries"),
                tuple(say(f"book.log.{n}") for n in ("time", "who", "task", "ppe", "why", "by")),
                (34, 30, 32, 44, 36, 26), tuple(entries), say("book.log.none"), _BLANK_LINES,
                (say("book.log.entry_note"),),
            ),
        ),
        fixed_cautions=("label", "rei", "local"),
        cautions=(Caution(say("book.log.entry_rule"), from_memory=True),),
    )  # fmt: skip
