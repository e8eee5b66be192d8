"""Finds the records that a cell names, by the name or code that people write."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from tepal.forms.kinds import KINDS
from tepal.store import records as record_rows

if TYPE_CHECKING:
    from sqlalchemy.orm import Session as DbSession


class Names:
    """Finds records by the name or code that people write; each kind is read once."""

    def __init__(self, db: DbSession, establishment: str) -> None:
        self._db = db
        self._establishment = establishment
        self._by_kind: dict[str, dict[str, list[str]]] = {}

    def find(self, kind: str, name: str) -> list[str]:
        """Return the ids of the records with this name, code, or "house / bench"."""
        if kind not in self._by_kind:
            self._by_kind[kind] = self._read(kind)
        return self._by_kind[kind].get(_plain(name), [])

    def _read(self, kind: str) -> dict[str, list[str]]:
        found: dict[str, list[str]] = {}
        houses = {}
        if "house" in KINDS[kind].schema.fields:
            rows = record_rows.load_all(self._db, self._establishment, "house")
            houses = {row.id: str(row.fields.get("name", "")) for row in rows}
        for record in record_rows.load_all(self._db, self._establishment, kind):
            if record.state == "void" or record.fields.get("retired") is True:
                continue
            own = {
                _plain(str(record.fields[key])) for key in ("name", "code") if key in record.fields
            }
            house = houses.get(record.fields.get("house", ""))
            own |= {_plain(f"{house} / {one}") for one in own} if house else set()
            for one in own:
                found.setdefault(one, []).append(record.id)
        return found


def _plain(name: str) -> str:
    return re.sub(r"\s*/\s*", "/", re.sub(r"\s+", " ", name)).strip().lower()
