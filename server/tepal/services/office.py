"""What the office reads online: applications of a month, the history of a record, phones.

Reads only. These are views of the whole book, not part of what phones hold.
"""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

from sqlalchemy import select

from tepal.domain.errors import NotFoundError, OutOfRangeError
from tepal.store import records as record_rows
from tepal.store.journal import rows_about
from tepal.store.models import ApplicationRecord, DeviceHeard, DeviceTally

if TYPE_CHECKING:
    from sqlalchemy.orm import Session as DbSession

    from tepal.sync.merge import RecordState
    from tepal.sync.ports import JournalRow


def check_month(month: str) -> str:
    """Return the month if it reads YYYY-MM.

    Raises
    ------
    OutOfRangeError   `office.not_a_month`.
    """
    parts = month.split("-")
    good = len(month) == 7 and len(parts) == 2 and all(p.isdigit() for p in parts)
    if not good or not 1 <= int(parts[1]) <= 12:
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


def history(db: DbSession, establishment: str, kind: str, record_id: str) -> list[dict[str, Any]]:
    """Return every entry about a record, oldest first, with names of people and devices.

    Raises
    ------
    NotFoundError   `office.no_such_record`: the journal knows nothing of it.
    """
    rows = [row for row in rows_about(db, establishment, [record_id]) if row.kind == kind]
    if not rows:
        raise NotFoundError("office.no_such_record", "no entry speaks of this record")
    names = _names(db, establishment, rows)
    return [_line(row, names) for row in rows]


def _names(db: DbSession, establishment: str, rows: list[JournalRow]) -> dict[str, str]:
    keys = {("member", row.member) for row in rows if row.member}
    keys |= {("device", row.device) for row in rows if row.device}
    found = record_rows.load(db, establishment, keys)
    return {
        record_id: str(record.fields.get("name" if kind == "member" else "label", ""))
        for (kind, record_id), record in found.items()
    }


def _line(row: JournalRow, names: dict[str, str]) -> dict[str, Any]:
    try:
        entry = json.loads(row.text)
    except ValueError:
        entry = {}
    return {
        "seq": row.seq,
        "received_at": row.received_at,
        "outcome": row.outcome,
        "outcome_reason": row.reason,
        "action": row.action,
        "member": row.member,
        "member_name": names.get(row.member or "", ""),
        "device_label": names.get(row.device or "", ""),
        "made_at": entry.get("made_at"),
        "reason": entry.get("reason"),
        "changes": entry.get("changes"),
    }


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
    for record in record_rows.load_all(db, establishment, "device"):
        row, tally = heard.get(record.id), tallies.get(record.id)
        found.append(
            {
                "id": record.id,
                "label": record.fields.get("label", ""),
                "ceiling": record.fields.get("ceiling"),
                "revoked": bool(record.fields.get("revoked")),
                "heard_at": row.heard_at if row else None,
                "status": row.status if row else None,
                "ack": tally.ack if tally else 0,
                "beyond": list(tally.beyond) if tally else [],
            }
        )
    return found
