"""How long a push of 1,000 entries takes, against the barest way to store the same rows.

    PYTHONPATH=server:tests python tests/bench/bench_sync.py [DATABASE_URL]

The bare side is a Flask route that inserts the same journal rows, record rows and head rows with
SQLAlchemy Core and commits: same database, same settings, same number of requests, no checks, no
merge, no chain. Medians of 5. The bar: a push costs at most 4 times the bare insert.
"""

from __future__ import annotations

import json
import statistics
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

from flask import Flask, jsonify, request
from sqlalchemy import delete, insert, select

from support.book import SAME_ORIGIN, Book, Desk
from tepal.store.database import Base, db, read_session, write_session
from tepal.store.journal import read_head

REPEATS = 5
CALLS, PER_CALL = 5, 200
BAR = 4.0
PLACES = {"journal": "seq", "application": "revision", "record_head": "seq"}  # table: its seq


def entries(desk: Desk) -> list[list[str]]:
    """Return 5 x 200 new applications, each as a phone would send it."""
    fields = {
        "method": "spray",
        "volume": {"value": "12.5", "unit": "L"},
        "area": {"value": "40", "unit": "m2"},
        "purpose": "height",
        "operator": desk.member,
        "operator_name": "Ines Prado",
        "started_at": {"local": "2026-05-12T07:00:00", "offset_min": -240, "zone": "Etc/UTC"},
        "ended_at": {"local": "2026-05-12T07:40:00", "offset_min": -240, "zone": "Etc/UTC"},
        "lines": [{"place": f"bench {n}", "crop": "Petunia"} for n in range(3)],
        "products": [{"name": "Product A", "amount": {"value": "12", "unit": "mL"}}],
        "note": "dry spots near the wall",
    }
    return [
        [desk.entry("application", "create", fields=fields) for _ in range(PER_CALL)]
        for _ in range(CALLS)
    ]


def push_once(desk: Desk) -> float:
    """Return the seconds that pushing 1,000 new entries takes, replies included."""
    batches = entries(desk)
    desk.exchange()
    seconds = 0.0
    for batch in batches:
        body = {"device": desk.device, "cursor": desk.cursor, "entries": batch}
        raw = json.dumps(body)
        start = time.perf_counter()
        reply = desk.client.post(
            "/api/v1/exchange", data=raw, headers=SAME_ORIGIN, base_url="https://localhost",
            content_type="application/json",
        )  # fmt: skip
        seconds += time.perf_counter() - start
        assert {r["outcome"] for r in reply.json["results"]} == {"accepted"}
        desk.cursor = reply.json["cursor"]
    return seconds


def noop_once(desk: Desk) -> float:
    """Return the seconds of an exchange with nothing to say on either side."""
    desk.exchange()
    start = time.perf_counter()
    desk.exchange()
    return time.perf_counter() - start


def rows_of(book: Book, after_seq: int) -> list[dict[str, list[dict[str, Any]]]]:
    """Return the rows that the last push wrote, per call, ready to be inserted again."""
    found: list[dict[str, list[dict[str, Any]]]] = [{t: [] for t in PLACES} for _ in range(CALLS)]
    with book.app.app_context(), read_session() as session:
        for name, column in PLACES.items():
            table = Base.metadata.tables[name]
            place = table.c[column]
            for row in session.execute(select(table).where(place > after_seq).order_by(place)):
                values = dict(row._mapping)
                found[(values[column] - after_seq - 1) // PER_CALL][name].append(values)
    return found


def bare_app(book: Book) -> Flask:
    """Return a Flask app with one route: insert the rows of the body, commit, say how many."""
    app = Flask("bare")

    @app.post("/rows")
    def rows() -> Any:
        body = request.get_json()
        with book.app.app_context(), write_session() as session, session.begin():
            for name in PLACES:
                session.execute(insert(Base.metadata.tables[name]), body[name])
        return jsonify({"n": len(body["journal"])})

    return app


def bare_once(book: Book, app: Flask, after_seq: int) -> float:
    """Take the rows of the last push out and put them in again the bare way; return the seconds."""
    calls = rows_of(book, after_seq)
    with book.app.app_context(), write_session() as session, session.begin():
        for name, place in PLACES.items():
            table = Base.metadata.tables[name]
            session.execute(delete(table).where(table.c[place] > after_seq))
    client = app.test_client()
    seconds = 0.0
    for call in calls:
        raw = json.dumps(call)
        start = time.perf_counter()
        reply = client.post("/rows", data=raw, content_type="application/json")
        seconds += time.perf_counter() - start
        assert reply.json["n"] == PER_CALL
    return seconds


def analyse(book: Book) -> None:
    """Let PostgreSQL count its rows, as it does by itself a minute after the first ones came."""
    with book.app.app_context():
        engine = db.engines[None]
        if engine.dialect.name == "postgresql":
            with engine.connect().execution_options(isolation_level="AUTOCOMMIT") as connection:
                connection.exec_driver_sql("ANALYZE")


def head_seq(book: Book) -> int:
    """Return the journal's last seq."""
    with book.app.app_context(), read_session() as session:
        return read_head(session, book.establishment).seq


def main() -> int:
    """Measure and print; exit code 1 when the push is over the bar."""
    with tempfile.TemporaryDirectory() as folder:
        book = Book(Path(folder), database_url=sys.argv[1] if len(sys.argv) > 1 else "")
        desk, bare = book.manager, bare_app(book)
        pushes, bares = [], []
        for turn in range(REPEATS + 1):  # in turn, so that both meet the same table and machine
            if turn == 1:
                analyse(book)
            after = head_seq(book)
            pushes.append(push_once(desk))
            bares.append(bare_once(book, bare, after))
        noops = [noop_once(desk) for _ in range(REPEATS * 4)]
        with book.app.app_context():
            name = db.engines[None].dialect.name
        book.close()
    push, base = statistics.median(pushes[1:]), statistics.median(bares[1:])  # the first warms up
    print(f"database                 {name}")
    print(f"push of 1,000 entries    {push:.3f} s   ({CALLS} x {PER_CALL}, median of {REPEATS})")
    print(f"bare insert of the same  {base:.3f} s   (median of {REPEATS})")
    print(f"ratio                    {push / base:.2f}    (bar {BAR:g})")
    print(f"no-op exchange           {statistics.median(noops) * 1000:.1f} ms")
    return 0 if push / base <= BAR else 1


if __name__ == "__main__":
    raise SystemExit(main())
