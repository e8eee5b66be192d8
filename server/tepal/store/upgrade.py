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


def upgrade() -> None:
    """Run the migrations that this database lacks. Needs an app context."""
    config = alembic_config()
    newest = ScriptDirectory.from_config(config).get_current_head()
    with db.engines[None].connect() as connection:
        have = MigrationContext.configure(connection).get_current_revision()
    if have != newest:
        command.upgrade(config, "head")
