"""The month's view model: every application whose start falls in it, totals, what is not known.

Reads only; `services/papers.py` stores and prints it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from sqlalchemy import func, select

from tepal import __version__
from tepal.domain.amounts import amount_text
from tepal.domain.errors import NotFoundError, TepalError
from tepal.domain.number_format import number_format_of
from tepal.domain.strength import strengths_of
from tepal.domain.units import quantity_value, unit_of
from tepal.reports.month_view import MonthView, Total
from tepal.reports.print_facts import Caution, CompleteAsOf, DeviceHeard, Establishment
from tepal.services import office
from tepal.services.application_text import ApplicationText
from tepal.services.book_text import TextMaker
from tepal.services.month_since import changed_since
from tepal.services.record_story import names_of, stories
from tepal.services.standards_text import StandardsText
from tepal.store import records as record_rows
from tepal.store.journal import read_head
from tepal.store.kind_models import PhotoRecord
from tepal.sync.engine import missing_ranges
from tepal.sync.ports import Numbers

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from sqlalchemy.orm import Session as DbSession

    from tepal.domain.words import Words
    from tepal.services.month_since import Earlier
    from tepal.sync.merge import RecordState

_SILENT_AFTER_H = 24  # a phone not heard for a day may hold entries nobody has seen


def month_view(
    db: DbSession,
    establishment: str,
    month: str,
    words: Words,
    *,
    now: str,
    printed_by: str,
    reprint_number: int,
    house: str | None = None,
    only_of: str | None = None,
    earlier: Earlier | None = None,
) -> MonthView:
    """Return the month as final text.

    Parameters
    ----------
    month : "YYYY-MM"        By the local date of the start.
    now : UTC text           When it is printed.
    reprint_number : 0 = first print.
    house : id               Only applications with a place in that house.
    only_of : a member's id  Only what this person applied or entered; None = everybody's.
    earlier : the print before, of the same month and house; needed for a reprint.

    Raises
    ------
    NotFoundError   `papers.no_such_house`.
    """
    own = record_rows.load(db, establishment, [("establishment", establishment)])
    fields = own["establishment", establishment].fields
    text = TextMaker(words, number_format_of(fields.get("number_format")), fields.get("zone", ""))
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
    maker = ApplicationText(
        text,
        names_of(db, establishment, "member", "name"),
        names_of(db, establishment, "device", "label"),
        StandardsText(text, fields),
        areas_of(db, establishment),
    )
    conflicts = open_conflicts(db, establishment, set(ids))
    photos = _photo_counts(db, establishment, ids)
    live = [record for record in found if record.state != "void"]
    head = read_head(db, establishment)
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
        paper=fields.get("paper", "a4"),
        language=words.language,
        establishment=Establishment(
            fields.get("name", ""), tuple(str(fields.get("address", "")).splitlines())
        ),
        month=text.month(month),
        filter=filter_text,
        rule_set=StandardsText(text, fields).rule_set([record.fields for record in found]),
        generated_at=text.instant(now),
        printed_by=printed_by,
        software=f"Tepal {__version__}",
        reprint_number=reprint_number,
        head_seq=head.seq,
        head_hash=head.hash,
        complete_as_of=complete_as_of(db, establishment, text, now),
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
    from datetime import datetime

    seconds = datetime.fromisoformat(later) - datetime.fromisoformat(earlier)
    return seconds.total_seconds() / 3600
