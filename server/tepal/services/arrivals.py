"""What came in since midnight, by person and device, for the office's morning. Reads only."""

from __future__ import annotations

from datetime import UTC, datetime, time
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from tepal.services.server_acts import instant_text, server_device
from tepal.store import records as record_rows
from tepal.store.journal import arrived_since

if TYPE_CHECKING:
    from sqlalchemy.orm import Session as DbSession


def midnight(zone: str, now: datetime) -> datetime:
    """Return the instant (UTC) at which the local day of `now` began; UTC's where no such zone."""
    try:
        known = ZoneInfo(zone)
    except (ZoneInfoNotFoundError, ValueError):
        known = ZoneInfo("UTC")
    # the wall clock's own midnight: on the days of a clock change not 24 h before the next one
    return datetime.combine(now.astimezone(known).date(), time(), known).astimezone(UTC)


def arrivals(db: DbSession, establishment: str, now: datetime) -> dict[str, Any]:
    """Return {"since", "rows"}: who sent how much since midnight by the establishment's clock.

    A row is a person on a device: names, number of entries, when the last came, and the
    applications begun with them, each with its mix and its start. What the server enters by
    itself is nobody's work and is left out. Most entries first.
    """
    own = record_rows.load(db, establishment, [("establishment", establishment)])
    zone = next((str(one.fields.get("zone") or "") for one in own.values()), "")
    since = instant_text(midnight(zone, now))
    server = server_device(db, establishment)
    found: dict[tuple[str, str], dict[str, Any]] = {}
    for one in arrived_since(db, establishment, since):
        if one.device == server or one.device is None:
            continue
        row = found.setdefault(
            (one.member or "", one.device),
            {"member": one.member, "device": one.device, "entries": 0, "last_at": "", "ids": []},
        )
        row["entries"] += 1
        row["last_at"] = max(row["last_at"], one.received_at)
        if (one.kind, one.action) == ("application", "create") and one.record not in row["ids"]:
            row["ids"].append(one.record)
    keys = {("member", member) for member, _ in found if member}
    keys |= {("device", device) for _, device in found}
    keys |= {("application", one) for row in found.values() for one in row["ids"]}
    records = record_rows.load(db, establishment, keys)
    rows = []
    for (member, device), row in found.items():
        person, phone = records.get(("member", member)), records.get(("device", device))
        applications = [records.get(("application", one)) for one in row.pop("ids")]
        rows.append(
            {
                **row,
                "member_name": person.fields.get("name", "") if person else "",
                "device_label": phone.fields.get("label", "") if phone else "",
                "applications": [
                    {
                        "id": one.id,
                        "mix_name": one.fields.get("mix_name"),
                        "started_at": one.fields.get("started_at"),
                    }
                    for one in applications
                    # one that still waits for a decision is no record yet
                    if one is not None and one.state != "void"
                ],
            }
        )
    rows.sort(key=lambda row: (-row["entries"], row["member_name"], row["device_label"]))
    return {"since": since, "rows": rows}
