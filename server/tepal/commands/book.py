"""What commands over an existing book share: the settings, a database at this version, a book."""

from __future__ import annotations

from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from sqlalchemy import make_url

from tepal.app import create_command_app
from tepal.config import Config
from tepal.domain.errors import TepalError
from tepal.services.access import only_establishment
from tepal.store.database import read_session
from tepal.store.upgrade import is_current

if TYPE_CHECKING:
    from collections.abc import Iterator

    from tepal.services.server_acts import Chance


def config_of_book(config: Config | None = None) -> Config:
    """Return the settings, if the book that they name is there: a command founds none.

    Raises
    ------
    TepalError   `store.no_book`.
    """
    config = Config.from_environment() if config is None else config
    file = make_url(config.database_url)
    if file.get_backend_name() == "sqlite" and file.database and not Path(file.database).exists():
        raise TepalError(
            "store.no_book",
            f"there is no book at {file.database}; TEPAL_INSTANCE or TEPAL_DATABASE_URL names it",
        )
    return config


@contextmanager
def open_book(config: Config | None = None) -> Iterator[tuple[str, Chance]]:
    """Yield (establishment id, clock and randomness) of the server that the settings name.

    Raises
    ------
    TepalError   `store.no_book`: no such file; `store.not_current`: it is of another version.
    """
    app = create_command_app(config_of_book(config))
    with app.app_context():
        if not is_current():
            raise TepalError(
                "store.not_current",
                "the database is not at this version yet: start the server once",
            )
        with read_session() as db:
            establishment = only_establishment(db)
        yield establishment, app.extensions["tepal_chance"]
