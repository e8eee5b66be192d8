"""The central display on paper: what has to hang where everybody can read it, and whom to reach.

40 CFR 170.311 as in the reference on records, 1a and 1b. The wall tablet shows the same from its
own records (web/app/pages/display.js). Reads only; `services/papers.py` stores and prints it.
"""

from __future__ import annotations

from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

from tepal.domain.moments import moment_ms
from tepal.domain.restriction import application_dates, longest_rei_h
from tepal.reports.print_facts import Caution
from tepal.reports.table_view import Pair, TablePart, TableSheetView
from tepal.services.wall import intervals_h, is_on_display

if TYPE_CHECKING:
    from collections.abc import Mapping

    from tepal.services.print_base import Book

_SHARES = (52, 52, 40, 34, 34, 30)
_HEADS = ("product", "where", "when", "rei", "sheet", "until")


def central_display_view(book: Book) -> TableSheetView:
    """Return the central display as it has to hang now, newest application first."""
    say = book.say
    now = datetime.fromisoformat(book.now)
    applied = sorted(
        (one.fields for one in book.all("application") if is_on_display(one, now)),
        key=lambda fields: moment_ms(fields["started_at"]),
        reverse=True,
    )
    sheets = _sheets(book)
    return TableSheetView(
        **book.facts(),
        title=say("book.display.title"),
        pairs=(
            Pair(say("book.display.medical"), _contact(book, book.own.get("medical_facility"))),
            Pair(say("book.display.agency"), _contact(book, book.own.get("pesticide_agency"))),
        ),
        parts=(
            TablePart(
                say("book.display.applied"),
                tuple(say(f"book.display.{name}") for name in _HEADS),
                _SHARES,
                tuple(_row(book, fields, sheets) for fields in applied),
                say("book.display.none"),
            ),
        ),
        fixed_cautions=("label", "rei", "local"),
        cautions=(
            Caution(say("book.display.rule")),
            Caution(say("book.display.rule_memory"), from_memory=True),
        ),
        is_landscape=True,
    )


def _contact(book: Book, contact: Mapping[str, Any] | None) -> str:
    parts = [str((contact or {}).get(name) or "") for name in ("name", "address", "phone")]
    return ", ".join(part.replace("\n", ", ") for part in parts if part) or book.say(
        "book.display.not_on_file"
    )


def _sheets(book: Book) -> dict[str, str]:
    """Return {product: date of its current safety data sheet}; "" where it has no date."""
    return {
        str(one.fields["product"]): str(one.fields.get("version_on") or "")
        for one in book.all("label_file")
        if one.fields.get("sort") == "sds"
        and one.fields.get("product")
        and not one.fields.get("replaced")
    }


def _row(book: Book, fields: Mapping[str, Any], sheets: Mapping[str, str]) -> tuple[str, ...]:
    products = fields.get("products") or []
    ended = fields.get("ended_at")
    dates = None
    if ended:
        intervals = intervals_h(products)
        rei_h = longest_rei_h(intervals) if intervals else 0.0
        dates = application_dates(moment_ms(ended), rei_h, ended["offset_min"])
    until = None if dates is None else dates.display_until_ms
    return (
        "\n".join(_product(book, one) for one in products) or book.say("book.display.not_on_file"),
        "\n".join(_place(book, line) for line in fields.get("lines") or []),
        "\n".join(
            (
                book.moment(fields["started_at"]),
                book.moment(ended) if ended else book.say("book.display.running"),
            )
        ),
        _interval(book, products, None if dates is None else dates.rei_end_ms),
        "\n".join(_sheet(book, one, sheets) for one in products),
        book.say("book.display.open_end") if until is None else _day(book, until),
    )


def _product(book: Book, product: Mapping[str, Any]) -> str:
    actives = [
        " ".join(p for p in (one.get("ai") or "", book.text.quantity(one.get("strength"))) if p)
        for one in product.get("ingredients") or []
    ]
    number = product.get("registration_number") or book.say("book.display.no_number")
    return "\n".join((f"{product.get('name') or '–'}, {number}", *actives))


def _place(book: Book, line: Mapping[str, Any]) -> str:
    what = " ".join(str(line[name]) for name in ("lot_code", "crop") if line.get(name))
    where = ", ".join(p for p in (line.get("place"), book.text.quantity(line.get("area"))) if p)
    return "\n".join(part for part in (what, where) if part)


def _interval(book: Book, products: list[dict[str, Any]], over_ms: float | None) -> str:
    intervals = intervals_h(products)
    if not intervals:
        return book.say("book.display.no_interval")
    if None in intervals:
        return book.say("book.display.interval_unknown")
    longest = next(
        book.text.quantity(one["rei"])
        for one in products
        if one.get("rei") and intervals_h([one]) == [longest_rei_h(intervals)]
    )
    return longest if over_ms is None else f"{longest}\n{_until(book, over_ms)}"


def _until(book: Book, ms: float) -> str:
    return book.say("book.display.until_at", at=book.text.local_instant(_instant(ms)))


def _day(book: Book, ms: float) -> str:
    return book.text.local_instant(_instant(ms)).split(",")[0]


def _instant(ms: float) -> datetime:
    return datetime.fromtimestamp(ms / 1000, UTC)


def _sheet(book: Book, product: Mapping[str, Any], sheets: Mapping[str, str]) -> str:
    day = product.get("sds_on") or sheets.get(str(product.get("product")))
    if day is None:
        return book.say("book.display.no_sheet")
    if day == "":
        return book.say("book.display.sheet_undated")
    return book.say("book.display.sheet_of", day=book.text.day({"local": f"{day}T00:00:00"}))
