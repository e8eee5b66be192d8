"""Bring the database to this version's tables: Alembic, forward only, from any release."""

from __future__ import annotations

from pathlib import Path
from typing import Final

from alembic import command
from alembic.config import Config
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory

from tepal.store.database import db

MIGRATIONS: Final = Path(__file__).with_name("migrations")


def alembic_config() -> Config:
    """Return Alembic's settings; there is no ini file."""
    config = Config()
    config.set_main_option("script_location", str(MIGRATIONS))
    return config


def is_current() -> bool:
    """Whether the database has this version's tables. Needs an app context."""
    newest = ScriptDirectory.from_config(alembic_config()).get_current_head()
    with db.engines[None].connect() as connection:
        return MigrationContext.configure(connection).get_current_revision() == newest


def upgrade() -> None:
    """Run the migrations that this database lacks. Needs an app context."""
    if not is_current():
        command.upgrade(alembic_config(), "head")
