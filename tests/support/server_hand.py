"""The server's own hand on a live server's book: entries in bulk, without a request for each.

For benches that need a large book. The entries are real ones, written by the server's own acts.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from tepal.app import create_app
from tepal.config import Config
from tepal.services.access import only_establishment
from tepal.services.server_acts import Act, act, server_device
from tepal.store import records as record_rows
from tepal.store.database import read_session, write_session

if TYPE_CHECKING:
    from collections.abc import Sequence

    from flask import Flask

    from support.live_server import LiveServer

_BATCH = 800  # entries a transaction


class ServerHand:
    """An app of this process over the book of a live server."""

    def __init__(self, server: LiveServer) -> None:
        self.app: Flask = create_app(
            Config(
                database_url=f"sqlite:///{server.instance / 'tepal.db'}",
                photos_url=str(server.instance / "photos"),
            )
        )
        self._chance = self.app.extensions["tepal_chance"]
        with self.app.app_context(), read_session() as db:
            self.establishment = only_establishment(db)
            self.device = server_device(db, self.establishment)
            self.members = record_rows.load_all(db, self.establishment, "member")

    def member(self, role: str) -> str:
        """Return the id of the first member with a role."""
        return next(one.id for one in self.members if one.fields["role"] == role)

    def new_id(self) -> str:
        """Return a record id."""
        made: str = self._chance.uuid7()
        return made

    def save(self, acts: Sequence[Act]) -> None:
        """Put entries on record, a batch a transaction."""
        for start in range(0, len(acts), _BATCH):
            with self.app.app_context(), write_session() as db:
                act(db, self.establishment, self.device, acts[start : start + _BATCH], self._chance)
