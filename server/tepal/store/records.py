"""Rows of the typed tables <-> `RecordState`: the only place that knows both."""

from __future__ import annotations

import functools
from typing import TYPE_CHECKING, Any, cast

from sqlalchemy import Table, exists, insert, literal, select, union_all, update
from sqlalchemy.sql import bindparam

from tepal.store.kind_models import OPEN_COLUMN, RECORD_MODELS
from tepal.store.models import SYNC_COLUMNS, RecordHead
from tepal.sync.merge import RecordState

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from sqlalchemy import BindParameter, CompoundSelect, Row, Select, Update
    from sqlalchemy.orm import Session

    from tepal.sync.ports import Key

_CHUNK = 500  # SQLite's limit on bound values is far above; this keeps statements short


def table_of(kind: str) -> Table:
    """Return the table of a kind."""
    return cast("Table", RECORD_MODELS[kind].__table__)


@functools.cache
def field_columns(kind: str) -> tuple[str, ...]:
    """Return the columns that are fields of the kind, in order; derived ones are not."""
    return tuple(
        column.name
        for column in table_of(kind).columns
        if column.name not in SYNC_COLUMNS and not column.info
    )


@functools.cache
def _has_open_fields(kind: str) -> bool:
    return OPEN_COLUMN in table_of(kind).columns


def _open_values(kind: str, fields: dict[str, Any]) -> dict[str, Any]:
    """Return the column that holds the fields which the user defined, or nothing."""
    if not _has_open_fields(kind):
        return {}
    named = set(field_columns(kind))
    return {OPEN_COLUMN: {name: fields[name] for name in fields if name not in named} or None}


@functools.cache
def _derived_columns(kind: str) -> tuple[tuple[str, str], ...]:
    """Return (column, field it follows from) of the kind."""
    return tuple(
        (column.name, column.info["derived"])
        for column in table_of(kind).columns
        if "derived" in column.info
    )


def derived_values(kind: str, fields: dict[str, Any]) -> dict[str, Any]:
    """Return the values of columns that follow from a field: the local date of a moment."""
    values = {}
    for name, source in _derived_columns(kind):
        moment = fields.get(source)
        values[name] = moment["local"][:10] if isinstance(moment, dict) else None
    return values


def state_of(kind: str, row: Row[Any], names: Sequence[str]) -> RecordState:
    """Return one row as a RecordState; empty columns are absent fields."""
    mapping = row._mapping  # noqa: SLF001 -- SQLAlchemy's public name for row access by column
    return RecordState(
        kind=kind,
        id=mapping["id"],
        fields={name: mapping[name] for name in names if mapping[name] is not None}
        | ((mapping[OPEN_COLUMN] or {}) if _has_open_fields(kind) else {}),
        state=mapping["state"],
        revision=mapping["revision"],
        form_version=mapping["form_version"],
        author=mapping["author"],
        created_seq=mapping["created_seq"],
    )


# A statement over a table of sixty columns costs more to build than to run: each is built once.


@functools.cache
def _by_ids(kind: str) -> Select[Any]:
    table = table_of(kind)
    return select(table).where(
        table.c.establishment == bindparam("establishment"),
        table.c.id.in_(bindparam("ids", expanding=True)),
    )


@functools.cache
def _whole(kind: str) -> Select[Any]:
    table = table_of(kind)
    return (
        select(table)
        .where(table.c.establishment == bindparam("establishment"))
        .order_by(table.c.created_seq, table.c.id)
    )


@functools.cache
def _update_of(table: Table, keys: tuple[str, ...]) -> Update:
    names = [column.name for column in table.columns if column.name not in keys]
    return (
        update(table)
        .where(*(table.c[key] == bindparam(f"at_{key}") for key in keys))
        .values({name: bindparam(name) for name in names})
    )


def load(session: Session, establishment: str, keys: Iterable[Key]) -> dict[Key, RecordState]:
    """Return those records that exist, one query per kind and 500 ids."""
    by_kind: dict[str, list[str]] = {}
    for kind, record_id in keys:
        if kind in RECORD_MODELS:
            by_kind.setdefault(kind, []).append(record_id)
    found: dict[Key, RecordState] = {}
    for kind, ids in by_kind.items():
        names = field_columns(kind)
        for start in range(0, len(ids), _CHUNK):
            some = {"establishment": establishment, "ids": ids[start : start + _CHUNK]}
            for row in session.execute(_by_ids(kind), some):
                record = state_of(kind, row, names)
                found[kind, record.id] = record
    return found


@functools.cache
def _one_of_each() -> CompoundSelect[tuple[str]]:
    here: BindParameter[str] = bindparam("establishment")
    return union_all(
        *(
            select(literal(kind)).where(exists().where(table_of(kind).c.establishment == here))
            for kind in RECORD_MODELS
        )
    )


def load_every(session: Session, establishment: str) -> list[RecordState]:
    """Return every record of every kind; a kind without records costs no query of its own."""
    found = session.execute(_one_of_each(), {"establishment": establishment})
    kinds = [str(row[0]) for row in found]
    return [record for kind in kinds for record in load_all(session, establishment, kind)]


def load_all(session: Session, establishment: str, kind: str) -> list[RecordState]:
    """Return every record of a kind, oldest first."""
    names = field_columns(kind)
    rows = session.execute(_whole(kind), {"establishment": establishment})
    return [state_of(kind, row, names) for row in rows]


def load_by(
    session: Session, establishment: str, kind: str, field: str, values: Iterable[str]
) -> list[RecordState]:
    """Return the records of a kind whose field is one of the values; the field is indexed."""
    table, names, wanted = table_of(kind), field_columns(kind), list(values)
    found = []
    for start in range(0, len(wanted), _CHUNK):
        query = select(table).where(
            table.c.establishment == establishment,
            table.c[field].in_(wanted[start : start + _CHUNK]),
        )
        found += [state_of(kind, row, names) for row in session.execute(query)]
    return found


def save(
    session: Session, establishment: str, records: Sequence[RecordState], existing: set[Key]
) -> None:
    """Insert new records, update existing ones, and move them in `record_head`; in bulk."""
    heads = cast("Table", RecordHead.__table__)
    groups: dict[tuple[str, bool], list[dict[str, Any]]] = {}
    moved: dict[bool, list[dict[str, Any]]] = {True: [], False: []}
    for record in records:
        old = (record.kind, record.id) in existing
        groups.setdefault((record.kind, old), []).append(_row(establishment, record))
        moved[old].append(
            {
                "establishment": establishment, "kind": record.kind, "id": record.id,
                "seq": record.revision, "revision": record.revision,
            }
        )  # fmt: skip
    for (kind, old), rows in groups.items():
        _write(session, table_of(kind), rows, ("establishment", "id"), old=old)
    for old, rows in moved.items():
        _write(session, heads, rows, ("establishment", "kind", "id"), old=old)


def _row(establishment: str, record: RecordState) -> dict[str, Any]:
    return {
        "establishment": establishment,
        "id": record.id,
        "revision": record.revision,
        "created_seq": record.created_seq,
        "state": record.state,
        "form_version": record.form_version,
        "author": record.author,
        **{name: record.fields.get(name) for name in field_columns(record.kind)},
        **_open_values(record.kind, record.fields),
        **derived_values(record.kind, record.fields),
    }


def _write(
    session: Session,
    table: Table,
    rows: list[dict[str, Any]],
    keys: tuple[str, ...],
    *,
    old: bool,
) -> None:
    if not rows:
        return
    if not old:
        session.execute(insert(table), rows)
        return
    session.connection().execute(
        _update_of(table, keys),
        [{f"at_{k}" if k in keys else k: v for k, v in row.items()} for row in rows],
    )
