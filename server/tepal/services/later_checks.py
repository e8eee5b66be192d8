"""The checks again, with what the office knows: "known later".

A phone checks with what it has heard. When its application has arrived, the office runs the same
checks over the whole book as it was at the start of that application; stops and cautions that the
operator was not told are shown in the office, beside the record. An online view: nothing is stored
and nothing is held back. Twin of web/app/state/situation.js.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any, Final

from tepal.domain.checks import about_of, check_findings, known_later
from tepal.domain.errors import NotFoundError, TepalError
from tepal.domain.moments import moment_ms
from tepal.domain.stricter import stricter_fields
from tepal.services.stock_book import on_hand
from tepal.store import records as record_rows

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from sqlalchemy.orm import Session as DbSession

    from tepal.domain.errors import Finding
    from tepal.sync.merge import RecordState

_KINDS: Final = (
    "product", "lot", "application", "supplier_treatment", "restriction", "member", "certificate",
    "permit", "sprayer", "calibration", "batch", "stock_count", "incompatible_pair",
)  # fmt: skip


class Book:
    """The records that the checks look at, read once."""

    def __init__(self, db: DbSession, establishment: str) -> None:
        cases: dict[str, list[Mapping[str, Any]]] = {}
        for case in record_rows.load_all(db, establishment, "conflict"):
            if "decision" not in case.fields:
                cases.setdefault(str(case.fields.get("of_id")), []).append(case.fields)
        self.conflicts = cases
        self.rows: dict[str, list[RecordState]] = {
            kind: [
                self.strict(row)
                for row in record_rows.load_all(db, establishment, kind)
                if row.state != "void"
            ]
            for kind in _KINDS
        }
        key = ("establishment", establishment)
        found = record_rows.load(db, establishment, [key]).get(key)
        self.establishment: dict[str, Any] = {} if found is None else found.fields

    def strict(self, row: RecordState) -> RecordState:
        """Return a record with the stricter of two undecided values."""
        own = self.conflicts.get(row.id)
        return replace(row, fields=stricter_fields(row.kind, row.fields, own)) if own else row

    def by_id(self, kind: str) -> dict[str, dict[str, Any]]:
        """Return {id: fields} of a kind."""
        return {row.id: row.fields for row in self.rows[kind]}

    def fields(self, kind: str) -> list[dict[str, Any]]:
        """Return the fields of all records of a kind."""
        return [row.fields for row in self.rows[kind]]


def later_findings(db: DbSession, establishment: str, application: str) -> list[dict[str, Any]]:
    """Return what the office knows that the operator was not told, gravest first.

    Raises
    ------
    NotFoundError   `office.no_such_record`.
    """
    key = ("application", application)
    record = record_rows.load(db, establishment, [key]).get(key)
    if record is None:
        raise NotFoundError("office.no_such_record", "no such application")
    book = Book(db, establishment)
    return wire_findings(later_of(book, book.strict(record)))


def later_of(book: Book, record: RecordState) -> tuple[Finding, ...]:
    """Return the findings of one application that are known later."""
    situation = situation_of(book, record)
    if situation is None:
        return ()
    return known_later(record.fields.get("checks") or [], check_findings(situation))


def wire_findings(findings: Sequence[Finding]) -> list[dict[str, Any]]:
    """Return findings as they travel."""
    return [
        {
            "code": one.code, "severity": one.severity, "message": one.message,
            "source": one.source, "context": dict(one.context), "about": about_of(one),
        }
        for one in findings
    ]  # fmt: skip


def situation_of(book: Book, record: RecordState) -> dict[str, Any] | None:
    """Return the situation at the start of an application; None where it has no start."""
    fields = record.fields
    started = fields.get("started_at")
    if not started:
        return None
    start_ms = moment_ms(started)
    sprayer = book.by_id("sprayer").get(str(fields.get("sprayer")))
    earlier = [
        row.fields
        for row in book.rows["application"]
        if row.id != record.id and _before(row.fields, start_ms)
    ]
    return {
        "today": str(started["local"])[:10],
        "now_ms": start_ms,
        "heard_ms": start_ms,
        "skew_ms": 0,
        "step": "done",
        "application": fields,
        "products": book.by_id("product"),
        "lots": book.by_id("lot"),
        "applications": earlier,
        "supplier_treatments": book.fields("supplier_treatment"),
        "restrictions": _restrictions(book, record, start_ms),
        "operator": book.by_id("member").get(str(fields.get("operator"))),
        "certificates": [
            one for one in book.fields("certificate") if one.get("member") == fields.get("operator")
        ],
        "permit": book.by_id("permit").get(str(fields.get("permit"))),
        "sprayer": sprayer,
        "calibrations": [
            one for one in book.fields("calibration")
            if sprayer is not None and one.get("sprayer") == fields.get("sprayer")
        ],
        "batches": book.by_id("batch"),
        "stock": on_hand(
            book.rows["batch"], book.fields("stock_count"), earlier, book.by_id("product"), started
        ),
        "water_due_at": fields.get("water_due_at"),
        "incompatible_pairs": book.fields("incompatible_pair"),
        "establishment": book.establishment,
    }  # fmt: skip


def _before(fields: Mapping[str, Any], start_ms: float) -> bool:
    started = fields.get("started_at")
    try:
        return started is not None and moment_ms(started) < start_ms
    except TepalError:
        return False


def _restrictions(book: Book, record: RecordState, start_ms: float) -> list[dict[str, Any]]:
    """Return the restrictions on its places as they stood when it started."""
    lines = record.fields.get("lines") or []
    houses = {line.get("house") for line in lines}
    benches = {line.get("bench") for line in lines}
    found = []
    for row in book.rows["restriction"]:
        fields = row.fields
        if fields.get("application") == record.id or not _before(fields, start_ms):
            continue
        had_ended = _at_or_before(fields.get("ended_at"), start_ms)
        is_wide = fields.get("area") != "treated_area" or not had_ended
        if fields.get("house") in houses if is_wide else benches & set(fields.get("benches") or []):
            found.append(
                {
                    name: value
                    for name, value in fields.items()
                    if name not in ("ended_at", "reopened_at") or _at_or_before(value, start_ms)
                }
            )
    return found


def _at_or_before(moment: Any, start_ms: float) -> bool:
    return moment is not None and moment_ms(moment) <= start_ms
