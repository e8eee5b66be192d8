"""What the office reads online: applications of a month, the history of a record, phones.

Reads only. These are views of the whole book, not part of what phones hold.
"""

from __future__ import annotations

import json
import re
from typing import TYPE_CHECKING, Any, Final

from sqlalchemy import func, select

from tepal.domain.errors import NotFoundError, OutOfRangeError
from tepal.services.record_story import stories
from tepal.services.server_acts import server_device
from tepal.store import records as record_rows
from tepal.store.journal import cases_about, rows_about
from tepal.store.kind_models import ApplicationRecord
from tepal.store.models import DeviceHeard, DeviceTally
from tepal.sync.ports import CONFLICT

if TYPE_CHECKING:
    from sqlalchemy.orm import Session as DbSession

    from tepal.services.record_story import Step
    from tepal.sync.merge import RecordState
    from tepal.sync.ports import JournalRow


_MONTH: Final = re.compile(r"[0-9]{4}-(?:0[1-9]|1[0-2])")


def check_month(month: str) -> str:
    """Return the month if it reads YYYY-MM.

    Raises
    ------
    OutOfRangeError   `office.not_a_month`.
    """
    if _MONTH.fullmatch(month) is None:
        raise OutOfRangeError("office.not_a_month", f"{month!r} is not a month (YYYY-MM)")
    return month


def applications_of_month(db: DbSession, establishment: str, month: str) -> list[RecordState]:
    """Return the applications whose start falls in the month by its local date, in that order."""
    table = record_rows.table_of("application")
    names = record_rows.field_columns("application")
    check_month(month)
    query = (
        select(table)
        .where(
            table.c.establishment == establishment,
            table.c.started_on >= f"{month}-01",
            table.c.started_on <= f"{month}-31",
        )
        .order_by(table.c.started_on, table.c.created_seq)
    )
    found = [record_rows.state_of("application", row, names) for row in db.execute(query)]
    return sorted(
        found, key=lambda r: (r.fields.get("started_at", {}).get("local", ""), r.created_seq)
    )


def n_applications_of_month(db: DbSession, establishment: str, month: str) -> int:
    """Return how many applications `applications_of_month` would return."""
    check_month(month)
    table = record_rows.table_of("application")
    query = (
        select(func.count())
        .select_from(table)
        .where(
            table.c.establishment == establishment,
            table.c.started_on >= f"{month}-01",
            table.c.started_on <= f"{month}-31",
        )
    )
    return int(db.execute(query).scalar_one())


def months_with_applications(db: DbSession, establishment: str) -> list[str]:
    """Return the months (YYYY-MM) that hold applications, newest first."""
    query = (
        select(ApplicationRecord.started_on)
        .where(
            ApplicationRecord.establishment == establishment,
            ApplicationRecord.started_on.is_not(None),
        )
        .distinct()
    )
    return sorted({str(day)[:7] for day in db.execute(query).scalars()}, reverse=True)


def amended_among(db: DbSession, establishment: str, ids: list[str]) -> set[str]:
    """Return which of these applications changed after they were signed, however that came about.

    An entry that still waits or is quarantined has changed nothing.
    """
    told = stories(db, establishment, "application", ids)
    return {record_id for record_id, steps in told.items() if any(map(_is_amendment, steps))}


def _is_amendment(step: Step) -> bool:
    return (
        step.before is not None
        and step.before.state == "signed"
        and step.before.fields != step.after.fields
    )


def former_values(steps: list[Step]) -> dict[str, list[Any]]:
    """Return {field: the values it had before the one it has, oldest first}; None = it was empty.

    Only what was replaced once the record existed in signed form: what was typed before a person
    stood for it is no former record.
    """
    found: dict[str, list[Any]] = {}
    for step in filter(_is_amendment, steps):
        before = step.before.fields if step.before else {}
        for name in sorted({*before, *step.after.fields}):
            if before.get(name) != step.after.fields.get(name):
                found.setdefault(name, []).append(before.get(name))
    return found


def history(db: DbSession, establishment: str, kind: str, record_id: str) -> dict[str, Any]:
    """Return {"record", "former", "entries"}: the record as it stands and all ever said about it.

    Entries are oldest first, with names of people and devices. Decisions on its conflicts and held
    entries are entries of their own kind; `about` says what they decided on.

    Raises
    ------
    NotFoundError   `office.no_such_record`: the journal knows nothing of it.
    """
    cases = {
        case.id: case
        for case in cases_about(db, establishment, [record_id])
        if case.fields.get("of_kind") == kind
    }
    rows = [
        row
        for row in rows_about(db, establishment, [record_id, *cases])
        if (row.kind == kind and row.record == record_id) or row.record in cases
    ]
    if not rows:
        raise NotFoundError("office.no_such_record", "no entry speaks of this record")
    names = _names(db, establishment, rows)
    record = record_rows.load(db, establishment, [(kind, record_id)]).get((kind, record_id))
    steps = stories(db, establishment, kind, [record_id])[record_id]
    return {
        "record": record,
        "former": former_values(steps),
        "entries": [_line(row, names, cases) for row in rows],
    }


def _names(db: DbSession, establishment: str, rows: list[JournalRow]) -> dict[str, str]:
    keys = {("member", row.member) for row in rows if row.member}
    keys |= {("device", row.device) for row in rows if row.device}
    found = record_rows.load(db, establishment, keys)
    return {
        record_id: str(record.fields.get("name" if kind == "member" else "label", ""))
        for (kind, record_id), record in found.items()
    }


def _line(row: JournalRow, names: dict[str, str], cases: dict[str, RecordState]) -> dict[str, Any]:
    entry = _read(row.text)
    case = cases.get(row.record or "")
    return {
        "seq": row.seq,
        "received_at": row.received_at,
        "outcome": row.outcome,
        "outcome_reason": row.reason,
        "kind": row.kind,
        "action": row.action,
        "member": row.member,
        "member_name": names.get(row.member or "", ""),
        "device_label": names.get(row.device or "", ""),
        "made_at": entry.get("made_at"),
        "reason": entry.get("reason"),
        "changes": entry.get("changes"),
        "about": None if case is None else _about(case),
    }


def _about(case: RecordState) -> dict[str, Any]:
    """Return what a decision decided on: a field with two values, or an entry that was held."""
    if case.kind == CONFLICT:
        return {name: case.fields.get(name) for name in ("field", "current", "other")}
    held = _read(str(case.fields.get("text", "")))
    return {
        "action": case.fields.get("action"),
        "reason": case.fields.get("reason"),
        "changes": held.get("changes"),
    }


def _read(text: str) -> dict[str, Any]:
    """Return the entry of a text; an empty one where it is none (quarantined for it)."""
    try:
        found = json.loads(text)
    except ValueError:
        return {}
    return found if isinstance(found, dict) else {}


def phones(db: DbSession, establishment: str) -> list[dict[str, Any]]:
    """Return the devices with when they were last heard, what they said, and missing numbers."""
    heard = {
        row.device: row
        for row in db.execute(
            select(DeviceHeard).where(DeviceHeard.establishment == establishment)
        ).scalars()
    }
    tallies = {
        row.device: row
        for row in db.execute(
            select(DeviceTally).where(DeviceTally.establishment == establishment)
        ).scalars()
    }
    found = []
    own = server_device(db, establishment)
    for record in record_rows.load_all(db, establishment, "device"):
        row, tally = heard.get(record.id), tallies.get(record.id)
        found.append(
            {
                "id": record.id,
                "label": record.fields.get("label", ""),
                "is_server": record.id == own,
                "ceiling": record.fields.get("ceiling"),
                "revoked": bool(record.fields.get("revoked")),
                "heard_at": row.heard_at if row else None,
                "status": row.status if row else None,
                "ack": tally.ack if tally else 0,
                "beyond": list(tally.beyond) if tally else [],
            }
        )
    return found
