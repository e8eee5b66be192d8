"""The history of a lot to ship with its plants: everything that was applied to it, supplier first.

An application that treated a lot before it was split or merged counts for what came of it. Reads
only; `services/papers.py` stores and prints it.
"""

from __future__ import annotations

from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

from tepal.domain.restriction import rei_end_ms
from tepal.reports.print_facts import Caution
from tepal.reports.table_view import Pair, TablePart, TableSheetView
from tepal.services.application_text import rei_of
from tepal.services.book_text import utc_of

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from tepal.services.print_base import Book
    from tepal.sync.merge import RecordState

_SHARES = (30, 34, 40, 28, 28, 30)


def lot_history_view(book: Book, lot: str) -> TableSheetView:
    """Return the history of a lot.

    Raises
    ------
    NotFoundError   `papers.no_such_record`.
    """
    record = book.one("lot", lot)
    lots = {one.id: one for one in book.all("lot")} | {lot: record}
    line = _ancestry(lot, lots)
    fields, say = record.fields, book.say
    own = [
        (str(f["started_at"]["local"]), row)
        for f in (one.fields for one in book.all("application"))
        if f.get("started_at")
        for row in _applied(book, f, line, lots)
    ]
    supplied = [
        (str(f.get("applied_on") or ""), _supplied(book, f))
        for f in (one.fields for one in book.all("supplier_treatment"))
        if f.get("lot") in line
    ]
    events = [
        (str((f.get("at") or {}).get("local", "")), _event(book, f))
        for f in (one.fields for one in book.all("lot_event"))
        if f.get("lot") in line
    ]
    name = " ".join(str(fields[n]) for n in ("crop", "cultivar") if fields.get(n))
    heads = tuple(say(f"book.lot.{n}") for n in ("day", "product", "active", "dose", "how", "who"))
    notes = [say("book.lot.void_note")]
    running = _still_running(book, line)
    if running:
        notes.insert(0, running)
    return TableSheetView(
        **book.facts(),
        title=say("book.lot.title", code=str(fields.get("code") or "")),
        pairs=(
            Pair(say("book.lot.crop"), name),
            Pair(say("book.lot.plants"), _plants(book, fields)),
            Pair(say("book.lot.stage"), str(fields.get("stage") or "–")),
            Pair(say("book.lot.from"), ", ".join(
                str(lots[one].fields.get("code")) for one in line if one != lot
            ) or str(fields.get("supplier") or "–")),
        ),
        parts=(
            TablePart(say("book.lot.supplied"), heads, _SHARES,
                      tuple(row for _, row in sorted(supplied)), say("book.lot.none_supplied")),
            TablePart(say("book.lot.own"), heads, _SHARES,
                      tuple(row for _, row in sorted(own)), say("book.lot.none_own"),
                      notes=tuple(notes)),
            TablePart(say("book.lot.life"), (say("book.lot.day"), say("book.lot.what"),
                      say("book.lot.note")), (30, 44, 80),
                      tuple(row for _, row in sorted(events)), say("book.lot.none_life")),
        ),
        fixed_cautions=("label", "local"),
        cautions=(Caution(say("book.lot.caution")),),
    )  # fmt: skip


def _ancestry(lot: str, lots: Mapping[str, RecordState]) -> list[str]:
    """Return the lot and all lots that it came from, each once."""
    found, waiting = [], [lot]
    while waiting:
        one = waiting.pop()
        if one in found or one not in lots:
            continue
        found.append(one)
        waiting += lots[one].fields.get("from_lots") or []
    return found


def _applied(
    book: Book, fields: Mapping[str, Any], line: list[str], lots: Mapping[str, RecordState]
) -> Iterator[tuple[str, ...]]:
    mine = [one for one in fields.get("lines") or [] if one.get("lot") in line]
    if not mine:
        return
    codes = ", ".join(
        dict.fromkeys(
            str(lots[one["lot"]].fields.get("code")) for one in mine if one["lot"] != line[0]
        )
    )
    stage = next((str(one["stage"]) for one in mine if one.get("stage")), "")
    method = book.say(f"choice.method.{fields['method']}") if fields.get("method") else ""
    for product in fields.get("products") or []:
        number = product.get("registration_number")
        yield (
            book.text.day(fields["started_at"]),
            f"{product.get('name') or ''}\n{number}" if number else str(product.get("name") or ""),
            _actives(book, product.get("ingredients")),
            book.text.quantity(product.get("target")) or "–",
            "\n".join(part for part in (method, stage) if part),
            "\n".join(
                part
                for part in (
                    str(fields.get("operator_name") or ""),
                    book.say("book.lot.as", code=codes) if codes else "",
                    "" if fields.get("signature") else book.say("papers.state.unsigned"),
                )
                if part
            ),
        )


def _supplied(book: Book, fields: Mapping[str, Any]) -> tuple[str, ...]:
    number = fields.get("registration_number")
    day = fields.get("applied_on")
    return (
        book.text.day({"local": f"{day}T00:00:00"}) if day else "–",
        "\n".join(str(part) for part in (fields.get("product_name"), number) if part) or "–",
        _actives(book, fields.get("ingredients")),
        book.text.quantity(fields.get("target") or fields.get("dose")) or "–",
        book.say(f"choice.method.{fields['method']}") if fields.get("method") else "–",
        str(fields.get("source") or "–"),
    )


def _event(book: Book, fields: Mapping[str, Any]) -> tuple[str, ...]:
    more = [str(fields[n]) for n in ("stage", "container", "customer", "note") if fields.get(n)]
    if fields.get("n_containers"):
        more.insert(0, book.say("book.containers", n=int(fields["n_containers"])))
    what = book.say(f"choice.what.{fields['what']}") if fields.get("what") else "–"
    return (book.text.day(fields.get("at")) or "–", what, ", ".join(more))


def _actives(book: Book, ingredients: Any) -> str:
    rows = [
        " ".join(p for p in (one.get("ai") or "", book.text.quantity(one.get("strength"))) if p)
        for one in ingredients or []
    ]
    return "\n".join(rows) or "–"


def _plants(book: Book, fields: Mapping[str, Any]) -> str:
    n = fields.get("n_containers")
    parts = [book.say("book.containers", n=int(n)) if n else "", str(fields.get("container") or "")]
    return ", ".join(part for part in parts if part) or "–"


def _still_running(book: Book, line: list[str]) -> str:
    """Say which REI on the lot is still running, or unknown; "" where none is on file."""
    now_ms = datetime.fromisoformat(book.now).timestamp() * 1000
    ends: list[float] = []
    for fields in (one.fields for one in book.all("application")):
        if not any(one.get("lot") in line for one in fields.get("lines") or []):
            continue
        ended = fields.get("ended_at")
        end = rei_end_ms(utc_of(ended).timestamp() * 1000, rei_of(fields)) if ended else None
        if end is None:
            return book.say("book.lot.rei_unknown")
        ends.append(end)
    last = max(ends, default=0)
    if last <= now_ms:
        return ""
    until = book.text.local_instant(datetime.fromtimestamp(last / 1000, tz=UTC))
    return book.say("book.lot.rei_running", until=until)
