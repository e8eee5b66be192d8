"""Alembic's environment: migrations run over the app's writer engine, forward only."""

from alembic import context

from tepal.store import kind_models, models  # noqa: F401 -- registers the tables
from tepal.store.database import Base, db

with db.engines[None].connect() as connection:
    context.configure(
        connection=connection,
        target_metadata=Base.metadata,
        render_as_batch=connection.dialect.name == "sqlite",
        transaction_per_migration=True,
    )
    with context.begin_transaction():
        context.run_migrations()
