"""Which restrictions move because an application or a copied label has just changed.

A restriction is a record of its own, so a change of it is an entry: the server writes it, as a
device of its own, under the name of the person whose change it follows, in the transaction of that
change. Every phone hears of it like of any other entry, and the restriction's own history says
why. Reads only; `server_acts.follow_within` writes. The rule: domain/followed.py.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any, Final

from tepal.domain.errors import TepalError
from tepal.domain.followed import added_restrictions, followed_fields
from tepal.domain.stricter import stricter_fields
from tepal.services.restrictions import open_conflicts
from tepal.store import records as record_rows
from tepal.sync.ports import CONFLICT, HELD

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from sqlalchemy.orm import Session as DbSession

    from tepal.sync.engine import PushResult
    from tepal.sync.entry import Entry
    from tepal.sync.merge import RecordState
    from tepal.sync.prepared import Prepared

REASON: Final = "follows_application"  # its words: `restriction.reason.follows_application`
_MOVES: Final = {
    "application": frozenset(("ended_at", "products", "lines")),
    "product": frozenset(("rei", "label_on")),
}
_DONE: Final = ("accepted", "merged", "conflicted")


@dataclass(frozen=True, slots=True)
class Followed:
    """A restriction that moves: `changes` holds (was, to), `member` whose change it follows."""

    restriction: str
    member: str
    changes: dict[str, tuple[Any, Any]]


@dataclass(frozen=True, slots=True)
class Added:
    """A restriction of a house that an amendment added: the fields of a new record."""

    application: str
    member: str
    fields: dict[str, Any]


@dataclass(slots=True)
class _Causes:
    """{record id: member} of what may move a restriction."""

    application: dict[str, str]
    product: dict[str, str]
    restriction: dict[str, str]
    # applications whose places were put right: houses may have come to them. At the start the
    # phone writes the restrictions itself, and the second one may come with a later push.
    places: set[str] = field(default_factory=set)
    is_disputed: bool = False

    def note(self, kind: object, record: object, member: str) -> None:
        """Remember a change of an application or a product."""
        if kind in _MOVES and isinstance(record, str):
            getattr(self, str(kind))[record] = member


def followed(
    db: DbSession,
    establishment: str,
    prepared: Sequence[Prepared],
    result: PushResult,
    now_ms: float,
) -> list[Followed | Added]:
    """Return the restrictions that the entries just applied move or add.

    One query where none can.
    """
    causes = _Causes({}, {}, {})
    for one, outcome in zip(prepared, result.results, strict=True):
        if one.entry is not None and outcome.outcome in _DONE and not outcome.repeated:
            _note(db, establishment, one.entry, causes)
            causes.is_disputed = causes.is_disputed or outcome.outcome == "conflicted"
    rows = _restrictions(db, establishment, causes)
    if not rows and not causes.places:
        return []
    keys = {("application", str(row.fields["application"])) for row in rows}
    keys |= {("application", record) for record in causes.places}
    applications = {record.id: record for record in _load(db, establishment, keys)}
    if causes.is_disputed:  # two values, nobody has decided: the stricter one counts
        applications = {
            record.id: _strict(db, establishment, record) for record in applications.values()
        }
    used = {
        ("product", str(product["product"]))
        for record in applications.values()
        for product in record.fields.get("products") or []
        if product.get("product")
    }
    products = {
        record.id: record.fields
        for record in _load(db, establishment, used)
        if record.state != "void"
    }
    found: list[Followed | Added] = []
    for row in rows:
        application = applications.get(str(row.fields["application"]))
        if application is None or application.state == "void":
            continue
        member = _member(causes, row, application)
        if member is None:
            continue
        try:
            changes = followed_fields(row.fields, application.fields, products, now_ms)
        except TepalError:  # a unit or an instant that can't be read moves nothing
            continue
        if changes:
            pairs = {name: (row.fields.get(name), to) for name, to in changes.items()}
            found.append(Followed(row.id, member, pairs))
    return [*found, *_added(db, establishment, causes, applications, products, now_ms)]


def _added(
    db: DbSession,
    establishment: str,
    causes: _Causes,
    applications: Mapping[str, RecordState],
    products: Mapping[str, Any],
    now_ms: float,
) -> list[Added]:
    found = []
    for record in sorted(causes.places & applications.keys()):
        application = applications[record]
        if application.state == "void":
            continue
        rows = record_rows.load_by(db, establishment, "restriction", "application", [record])
        own = [row.fields for row in sorted(rows, key=lambda row: row.created_seq)]
        try:
            added = added_restrictions(own, application.fields, products, now_ms)
        except TepalError:
            continue
        found += [Added(record, causes.application[record], fields) for fields in added]
    return found


def _note(db: DbSession, establishment: str, entry: Entry, causes: _Causes) -> None:
    if entry.kind in (CONFLICT, HELD):  # somebody decided: what it was about has changed
        key = (entry.kind, entry.record)
        case = record_rows.load(db, establishment, [key]).get(key)
        if case is not None:
            causes.note(case.fields.get("of_kind"), case.fields.get("of_id"), entry.member)
            causes.is_disputed = True
            if case.fields.get("of_kind") == "application":
                causes.places.add(str(case.fields.get("of_id")))
    elif entry.kind in _MOVES and not _MOVES[entry.kind].isdisjoint(entry.changes):
        causes.note(entry.kind, entry.record, entry.member)
        if entry.kind == "application" and entry.action != "create" and "lines" in entry.changes:
            causes.places.add(entry.record)
    elif entry.kind == "restriction":
        # the end of the work arrives after the record was already changed; what a grower makes
        # of an end that stands is not undone
        end = entry.changes.get("ended_at")
        if end is not None and end.was is None:
            causes.restriction[entry.record] = entry.member


def _restrictions(db: DbSession, establishment: str, causes: _Causes) -> list[RecordState]:
    found: dict[str, RecordState] = {}
    if causes.application:
        rows = record_rows.load_by(
            db, establishment, "restriction", "application", causes.application
        )
        found |= {row.id: row for row in rows}
    if causes.restriction:
        keys = {("restriction", record) for record in causes.restriction}
        found |= {row.id: row for row in _load(db, establishment, keys)}
    if causes.product:  # a label is corrected: every restriction that still stands may follow
        rows = record_rows.load_all(db, establishment, "restriction")
        found |= {row.id: row for row in rows if row.fields.get("reopened_at") is None}
    return [row for row in found.values() if row.state != "void" and row.fields.get("application")]


def _member(causes: _Causes, row: RecordState, application: RecordState) -> str | None:
    """Return whose change a restriction may follow, or None where none concerns it."""
    own = causes.application.get(application.id) or causes.restriction.get(row.id)
    if own is not None:
        return own
    for product in application.fields.get("products") or []:
        if product.get("product") in causes.product:
            return causes.product[product["product"]]
    return None


def _load(db: DbSession, establishment: str, keys: set[tuple[str, str]]) -> list[RecordState]:
    return list(record_rows.load(db, establishment, keys).values())


def _strict(db: DbSession, establishment: str, record: RecordState) -> RecordState:
    cases = open_conflicts(db, establishment, record.kind, record.id)
    return replace(record, fields=stricter_fields(record.kind, record.fields, cases))
