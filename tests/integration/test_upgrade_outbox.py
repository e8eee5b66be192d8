"""An upgrade meets what is there: a phone's full outbox, and a book on the first tables.

200 entries made before it are sent after it, to a new process on the same files whose kinds have a
higher form version. A book whose tables are those of migration 0001 gets those of today, with all
that was in it (tests/integration/test_schema.py holds the last migration against the schema).
"""

from __future__ import annotations

import dataclasses
import json
from typing import TYPE_CHECKING, Any

import pytest

from support.book import Book, Desk
from tepal.app import create_app
from tepal.forms.kinds import KINDS
from tepal.services.exchange import MAX_ENTRIES, form_spec
from tepal.services.server_acts import Chance
from tepal.store.database import db

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

N_ENTRIES = 200
AT = {"local": "2026-05-12T07:40:00", "offset_min": -240, "zone": "America/New_York"}


@pytest.fixture
def book(tmp_path: Path) -> Iterator[Book]:
    one = Book(tmp_path)
    one.manager.add_member("Rosa Lind", "operator")
    yield one
    one.close()
    form_spec.cache_clear()  # what is derived once per process


def day_without_signal(rosa: Desk) -> list[str]:
    """Return a phone's outbox: 40 applications from the start to the signature, five entries each."""
    outbox = []
    for n in range(N_ENTRIES // 5):
        application, restriction = rosa.book.uuid(), rosa.book.uuid()
        started = {"mix_name": f"Mix {n}", "started_at": AT, "operator": rosa.member}
        kept_out = {"application": application, "place": f"Bench {n}", "started_at": AT}
        later = {**AT, "local": "2026-05-12T08:05:00"}
        signature = {"name": "Rosa Lind", "method": "pin", "at": later}
        outbox += [
            rosa.entry("application", "create", record=application, fields=started),
            rosa.entry("restriction", "create", record=restriction, fields=kept_out),
            rosa.entry("application", "change", record=application, fields={"ended_at": later}),
            rosa.entry("restriction", "change", record=restriction, fields={"ended_at": later}),
            rosa.entry(
                "application", "change", record=application, fields={"signature": signature}
            ),
        ]
    return outbox


def upgraded(book: Book, monkeypatch: pytest.MonkeyPatch) -> None:
    """End the old process and start the new one on the same database, a form version later."""
    book.close()
    for name, kind in list(KINDS.items()):
        newer = dataclasses.replace(kind, form_version=kind.form_version + 1)
        monkeypatch.setitem(KINDS, name, newer)
    form_spec.cache_clear()
    book.app = create_app(book.config, Chance(book.clock.now, book.random.randbytes))


def on_new_server(desk: Desk) -> None:
    """The phone keeps its cookies, its cursor and its numbers."""
    kept = desk.client._cookies
    desk.client = desk.book.app.test_client()
    desk.client._cookies = kept


def versions(desk: Desk) -> set[int]:
    return {one["version"] for one in desk.get("/api/v1/forms").json["kinds"].values()}


def journal(book: Book) -> list[tuple[Any, ...]]:
    with book.app.app_context(), db.engines[None].connect() as connection:
        query = "SELECT device, number, outcome, reason, text FROM journal ORDER BY seq"
        return [tuple(row) for row in connection.exec_driver_sql(query)]


def test_outbox_filled_before_an_upgrade_is_taken_in_whole_after_it(
    book: Book, monkeypatch: pytest.MonkeyPatch
) -> None:
    rosa = Desk(book, "Rosa Lind")
    known = rosa.exchange()["forms_version"]
    outbox = day_without_signal(rosa)
    assert len(outbox) == N_ENTRIES == MAX_ENTRIES  # one push of a phone
    assert {json.loads(text)["form_version"] for text in outbox} == {1}

    upgraded(book, monkeypatch)
    on_new_server(rosa)
    assert versions(rosa) == {kind.form_version for kind in KINDS.values()} >= {2, 3}
    reply = rosa.exchange(*outbox)
    assert reply["forms_version"] != known  # the phone hears that its forms are old

    assert [one["outcome"] for one in reply["results"]] == ["accepted"] * N_ENTRIES
    own = [row for row in journal(book) if row[0] == rosa.device]
    assert [row[1] for row in own] == list(range(1, N_ENTRIES + 1))
    assert [row[4] for row in own] == outbox  # kept as it was made, under its own version
    shown = rosa.get("/api/v1/applications?month=2026-05").json["applications"]
    assert len(shown) == N_ENTRIES // 5
    assert {one["state"] for one in shown} == {"signed"}
    assert {one["fields"]["mix_name"] for one in shown} == {f"Mix {n}" for n in range(40)}

    # sent again, since the answer was lost: nothing twice
    assert {one["outcome"] for one in rosa.exchange(*outbox)["results"]} == {"accepted"}
    assert len([row for row in journal(book) if row[0] == rosa.device]) == N_ENTRIES


def test_only_what_has_a_cause_is_set_apart_after_an_upgrade(
    book: Book, monkeypatch: pytest.MonkeyPatch
) -> None:
    rosa = Desk(book, "Rosa Lind")
    outbox = [
        rosa.entry("application", "create", fields={"mix_name": "Before", "started_at": AT}),
        rosa.entry("application", "create", fields={"no_such_field": "x"}),
        rosa.entry("application", "create", fields={"mix_name": "After"}, form_version=2),
        rosa.entry("application", "create", fields={"mix_name": "Too new"}, form_version=3),
    ]

    upgraded(book, monkeypatch)
    on_new_server(rosa)
    results = rosa.exchange(*outbox)["results"]

    assert [(one["outcome"], one["reason"]) for one in results] == [
        ("accepted", None), ("quarantined", "invalid_fields"), ("accepted", None),
        ("quarantined", "form_newer_than_server"),
    ]  # fmt: skip
    assert [row[4] for row in journal(book) if row[0] == rosa.device] == outbox  # kept all the same


def as_first_made(book: Book) -> None:
    """Give the book the tables of migration 0001: what later ones added is not there yet."""
    with book.app.app_context(), db.engines[None].begin() as connection:
        connection.exec_driver_sql("ALTER TABLE assessment DROP COLUMN again_plots")
        connection.exec_driver_sql("UPDATE alembic_version SET version_num = '0001'")


def test_book_on_the_first_tables_is_brought_up_with_all_that_is_in_it(book_on_each: Book) -> None:
    book, manager = book_on_each, book_on_each.manager
    trial, assessment = book.uuid(), book.uuid()
    before = manager.entry("assessment", "create", record=assessment,
                           fields={"trial": trial, "code": "w4"}, form_version=1)  # fmt: skip
    assert manager.exchange(before)["results"][0]["outcome"] == "accepted"
    entries = journal(book)
    as_first_made(book)

    book.close()
    book.app = create_app(book.config, Chance(book.clock.now, book.random.randbytes))
    on_new_server(manager)

    assert journal(book) == entries
    more = manager.entry("assessment", "change", record=assessment,
                         fields={"again_plots": ["101", "204"]}, form_version=2)  # fmt: skip
    manager.cursor = None
    reply = manager.exchange(more)
    assert reply["results"][0]["outcome"] == "accepted"
    row = next(one for one in reply["records"] if one["id"] == assessment)
    assert row["fields"] == {"trial": trial, "code": "w4", "again_plots": ["101", "204"]}
