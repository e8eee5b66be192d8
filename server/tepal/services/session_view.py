"""Who is here, in names: what a page shows of the session. Read only."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from tepal.store import records as record_rows

if TYPE_CHECKING:
    from sqlalchemy.orm import Session as DbSession

    from tepal.services.access import Proof


def session_view(db: DbSession, who: Proof | None) -> dict[str, Any]:
    """Return {"device", "member", "establishment"}: each an object with its id, or None."""
    if who is None:
        return {"device": None, "member": None, "establishment": None}
    keys = {"device": who.device, "establishment": who.establishment}
    if who.member is not None:
        keys["member"] = who.member
    found = record_rows.load(db, who.establishment, keys.items())
    view: dict[str, Any] = {"device": None, "member": None, "establishment": None}
    for kind, record_id in keys.items():
        record = found.get((kind, record_id))
        if record is not None:
            view[kind] = {"id": record_id, **record.fields}
    return view
