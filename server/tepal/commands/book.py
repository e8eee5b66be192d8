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


@contextmanager
def open_book(config: Config | None = None) -> Iterator[tuple[str, Chance]]:
    """Yield (establishment id, clock and randomness) of the server that the settings name.

    Raises
    ------
    TepalError   `store.no_database`, `store.not_current`: it is not there, or of another version.
    """
    config = Config.from_environment() if config is None else config
    require_database(config)
    app = create_command_app(config)
    with app.app_context():
        require_current()
        with read_session() as db:
            establishment = only_establishment(db)
        yield establishment, app.extensions["tepal_chance"]


def require_database(config: Config) -> None:
    """Raise where an SQLite file is not there: to ask for it would leave an empty one behind.

    Raises
    ------
    TepalError   `store.no_database`.
    """
    url = make_url(config.database_url)
    if url.get_backend_name() == "sqlite" and not Path(url.database or "").is_file():
        raise TepalError(
            "store.no_database",
            f"there is no database at {url.database}: set TEPAL_INSTANCE or TEPAL_DATABASE_URL as "
            "the server has it",
        )


def require_current() -> None:
    """Raise where the database is not at this version.

    Raises
    ------
    TepalError   `store.not_current`.
    """
    if not is_current():
        raise TepalError(
            "store.not_current", "the database is not at this version yet: start the server once"
        )
