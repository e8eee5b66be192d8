"""Engines: one for writers, one for readers, the same code on SQLite and PostgreSQL.

SQLite: WAL, synchronous=FULL, foreign keys on; writers open with BEGIN IMMEDIATE (a deferred BEGIN
that reads and then writes fails under load), readers with plain BEGIN. PostgreSQL: writers READ
COMMITTED with the establishment row locked first, readers REPEATABLE READ: one snapshot a pull.
"""

from __future__ import annotations

from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

from flask_sqlalchemy import SQLAlchemy
from sqlalchemy import Engine, create_engine, event, make_url
from sqlalchemy.orm import DeclarativeBase, Session

if TYPE_CHECKING:
    from collections.abc import Iterator

    from flask import Flask

READ_BIND = "read"


class Base(DeclarativeBase):
    """The declarative base of all models."""


db = SQLAlchemy(model_class=Base, session_options={"expire_on_commit": False})


def engine_options(url: str, *, read_only: bool) -> dict[str, Any]:
    """Return create_engine options for a database URL."""
    if make_url(url).get_backend_name() == "sqlite":
        return {"connect_args": {"timeout": 30, "check_same_thread": False}}
    options: dict[str, Any] = {"pool_size": 10, "max_overflow": 20, "pool_pre_ping": True}
    if read_only:
        options["isolation_level"] = "REPEATABLE READ"
    return options


def init_database(app: Flask, url: str) -> None:
    """Bind both engines to the app and set each connection up."""
    app.config["SQLALCHEMY_DATABASE_URI"] = url
    app.config["SQLALCHEMY_ENGINE_OPTIONS"] = engine_options(url, read_only=False)
    app.config["SQLALCHEMY_BINDS"] = {
        READ_BIND: {"url": url, **engine_options(url, read_only=True)}
    }
    db.init_app(app)
    with app.app_context():
        prepare_engine(db.engines[None], begin="BEGIN IMMEDIATE")
        prepare_engine(db.engines[READ_BIND], begin="BEGIN")


def prepare_engine(engine: Engine, *, begin: str) -> None:
    """Install the SQLite settings on an engine; others need none."""
    if engine.dialect.name != "sqlite":
        return

    @event.listens_for(engine, "connect")
    def _connect(connection: Any, record: Any) -> None:
        del record
        connection.isolation_level = None  # we say BEGIN ourselves
        cursor = connection.cursor()
        cursor.execute("PRAGMA journal_mode=WAL")
        cursor.execute("PRAGMA synchronous=FULL")
        cursor.execute("PRAGMA foreign_keys=ON")
        cursor.execute("PRAGMA busy_timeout=30000")
        cursor.close()

    @event.listens_for(engine, "begin")
    def _begin(connection: Any) -> None:
        connection.exec_driver_sql(begin)


def read_session() -> Session:
    """Return a session on the readers' engine. The caller closes it."""
    return Session(db.engines[READ_BIND], expire_on_commit=False)


def write_session() -> Session:
    """Return a session on the writers' engine. The caller commits or rolls back, and closes it."""
    return Session(db.engines[None], expire_on_commit=False)


def url_of(session: Session) -> str:
    """Return the address of a session's database, password included: for a process beside ours."""
    engine = session.get_bind()
    return engine.engine.url.render_as_string(hide_password=False)


@contextmanager
def separate_reader(url: str) -> Iterator[Session]:
    """Open a reading session in a process that has no app, and close its connection behind it."""
    engine = create_engine(url, **engine_options(url, read_only=True))
    prepare_engine(engine, begin="BEGIN")
    try:
        with Session(engine, expire_on_commit=False) as session:
            yield session
    finally:
        engine.dispose()
