"""The month's view model: every application whose start falls in it, totals, what is not known.

Reads only; `services/papers.py` stores and prints it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from sqlalchemy import func, select

from tepal.domain.amounts import amount_text
from tepal.domain.errors import NotFoundError, TepalError
from tepal.domain.strength import strengths_of
from tepal.domain.units import quantity_value, unit_of
from tepal.reports.month_view import MonthView, Total
from tepal.reports.print_facts import Caution
from tepal.services import office
from tepal.services.application_text import ApplicationText
from tepal.services.month_since import changed_since
from tepal.services.record_story import stories
from tepal.services.standards_text import StandardsText
from tepal.store import records as record_rows
from tepal.store.kind_models import PhotoRecord

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from sqlalchemy.orm import Session as DbSession

    from tepal.domain.words import Words
    from tepal.services.book_text import TextMaker
    from tepal.services.month_since import Earlier
    from tepal.services.print_base import Book
    from tepal.sync.merge import RecordState


def month_view(
    book: Book,
    month: str,
    *,
    house: str | None = None,
    only_of: str | None = None,
    earlier: Earlier | None = None,
) -> MonthView:
    """Return the month as final text.

    Parameters
    ----------
    month : "YYYY-MM"        By the local date of the start.
    house : id               Only applications with a place in that house.
    only_of : a member's id  Only what this person applied or entered; None = everybody's.
    earlier : the print before, of the same month and house; needed for a reprint.

    Raises
    ------
    NotFoundError   `papers.no_such_house`.
    """
    db, establishment, text, words = book.db, book.id, book.text, book.words
    found = office.applications_of_month(db, establishment, month)
    filter_text, elsewhere = words.text("book.filter.all"), 0
    if house is not None:
        filter_text = words.text("book.filter.house", house=_house_name(db, establishment, house))
        found = [record for record in found if house in houses_of(record)]
        elsewhere = sum(houses_of(record) != {house} for record in found)
    if only_of is not None:
        filter_text = words.text("book.filter.own", filter=filter_text)
        found = [one for one in found if only_of in (one.author, one.fields.get("operator"))]
    ids = [record.id for record in found]
    told = stories(db, establishment, "application", ids)
    standards = StandardsText(text, book.own)
    maker = ApplicationText(
        text, book.names("member"), book.names("device", "label"), standards,
        areas_of(db, establishment),
    )  # fmt: skip
    conflicts = open_conflicts(db, establishment, set(ids))
    photos = _photo_counts(db, establishment, ids)
    live = [record for record in found if record.state != "void"]
    records = tuple(
        maker.record(
            record, told[record.id], conflicts.get(record.id, []), photos.get(record.id, 0)
        )
        for record in found
    )
    notes = _total_notes(found, conflicts, words)
    if elsewhere:
        notes = (*notes, words.text("book.totals.elsewhere", n=elsewhere))
    return MonthView(
        **book.facts(),
        month=text.month(month),
        filter=filter_text,
        rule_set=standards.rule_set([record.fields for record in found]),
        applications=records,
        product_totals=_product_totals(live, text),
        active_totals=_active_totals(live, text),
        total_notes=notes,
        cautions=(
            Caution(words.text("book.caution.label_again")),
            Caution(words.text("book.caution.keeping"), from_memory=True),
        ),
        since=None if earlier is None else changed_since(earlier, records, words),
        since_print="" if earlier is None else words.text(
            "book.since.print", n=earlier.number, at=text.instant(earlier.printed_at)
        ),
    )  # fmt: skip


def houses_of(record: RecordState) -> set[str]:
    """Return the ids of the houses that an application treated."""
    return {str(line["house"]) for line in record.fields.get("lines") or [] if line.get("house")}


def _house_name(db: DbSession, establishment: str, house: str) -> str:
    found = record_rows.load(db, establishment, [("house", house)])
    if not found:
        raise NotFoundError("papers.no_such_house", "the office has no such house")
    return str(found["house", house].fields.get("name", ""))


def areas_of(db: DbSession, establishment: str) -> dict[str, Mapping[str, Any]]:
    """Return the restriction of each application, by the application's id."""
    return {
        str(one.fields["application"]): one.fields
        for one in record_rows.load_all(db, establishment, "restriction")
        if one.state != "void" and one.fields.get("application")
    }


def open_conflicts(
    db: DbSession, establishment: str, ids: set[str]
) -> dict[str, list[RecordState]]:
    """Return the undecided conflicts of applications, by application."""
    found: dict[str, list[RecordState]] = {}
    for case in record_rows.load_all(db, establishment, "conflict"):
        of_id = str(case.fields.get("of_id"))
        if of_id in ids and "decision" not in case.fields:
            found.setdefault(of_id, []).append(case)
    return found


def _photo_counts(db: DbSession, establishment: str, ids: Sequence[str]) -> dict[str, int]:
    query = (
        select(PhotoRecord.of_id, func.count())
        .where(PhotoRecord.establishment == establishment, PhotoRecord.state != "void")
        .group_by(PhotoRecord.of_id)
    )
    wanted = set(ids)
    return {row[0]: row[1] for row in db.execute(query) if row[0] in wanted}


def _product_totals(live: Iterable[RecordState], text: TextMaker) -> tuple[Total, ...]:
    """Sum the amounts of each product as sold; volumes and masses are never added together."""
    sums: dict[tuple[str, str, str], tuple[float, int]] = {}
    for record in live:
        for product in record.fields.get("products") or []:
            amount = product.get("amount")
            if not amount:
                continue
            dimension = unit_of(amount["unit"]).dimension
            key = (
                str(product.get("name") or ""),
                str(product.get("registration_number") or ""),
                dimension,
            )
            base, count = sums.get(key, (0.0, 0))
            sums[key] = (base + quantity_value(amount, dimension, "amount"), count + 1)
    totals = []
    for (name, registration, dimension), (base, count) in sorted(sums.items()):
        shown = amount_text(base, dimension, text.number_format)
        totals.append(Total(name, registration, shown.metric, shown.us, count))
    return tuple(totals)


def _active_totals(live: Iterable[RecordState], text: TextMaker) -> tuple[Total, ...]:
    """Sum each a.i. over the month, from the amounts and the strengths on their labels that day.

    A product whose strength cannot be read (density missing, say) is left out here; its own line
    shows the label's words.
    """
    sums: dict[str, tuple[float, int]] = {}
    for record in live:
        for ai, mg in _active_mg(record):
            total, count = sums.get(ai, (0.0, 0))
            sums[ai] = (total + mg, count + 1)
    totals = []
    for ai, (mg, count) in sorted(sums.items()):
        shown = amount_text(mg / 1000, "mass", text.number_format)
        totals.append(Total(ai, "", shown.metric, shown.us, count))
    return tuple(totals)


def _active_mg(record: RecordState) -> Iterable[tuple[str, float]]:
    """Return (a.i., mg) of one application, each a.i. once."""
    found: dict[str, float] = {}
    for product in record.fields.get("products") or []:
        amount = product.get("amount")
        if not amount or not product.get("ingredients"):
            continue
        dimension = unit_of(amount["unit"]).dimension
        try:
            measured = quantity_value(amount, dimension, "amount")
            for strength in strengths_of(product):
                mg = measured * strength.mg_per_measure
                found[strength.ai] = found.get(strength.ai, 0.0) + mg
        except TepalError:
            continue
    return found.items()


def _total_notes(
    found: Sequence[RecordState], conflicts: Mapping[str, Any], words: Words
) -> tuple[str, ...]:
    notes = []
    n_void = sum(1 for record in found if record.state == "void")
    if n_void:
        notes.append(words.text("book.totals.without_void", n=n_void))
    if conflicts:
        notes.append(words.text("book.totals.undecided", n=len(conflicts)))
    return tuple(notes)
