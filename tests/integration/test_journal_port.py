"""The contract of `sync.ports.JournalPort`, over the journal in memory and in both databases."""

from __future__ import annotations

import dataclasses
from contextlib import contextmanager
from typing import TYPE_CHECKING

import pytest

from support.book import Book
from support.pushing import DEVICE, ESTABLISHMENT, uuid
from tepal.store.database import write_session
from tepal.store.journal import SqlJournal, found_journal
from tepal.sync.chain import genesis
from tepal.sync.memory import MemoryJournal
from tepal.sync.merge import RecordState
from tepal.sync.ports import HELD, Head, JournalRow, Numbers, StoreRefusedError

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from contextlib import AbstractContextManager
    from pathlib import Path

    from tepal.sync.ports import JournalPort

    Open = Callable[[], AbstractContextManager[JournalPort]]

JOURNALS = ["memory", "sqlite", pytest.param("postgresql", marks=pytest.mark.postgres)]


@pytest.fixture(params=JOURNALS)
def journal(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Open]:
    """Yield a function that opens the journal of one establishment in a transaction."""
    if request.param == "memory":
        made = MemoryJournal(ESTABLISHMENT)

        @contextmanager
        def same() -> Iterator[JournalPort]:
            yield made

        yield same
        return
    url = "" if request.param == "sqlite" else request.getfixturevalue("cluster").new_database()
    book = Book(tmp_path, database_url=url)
    with book.app.app_context():
        with write_session() as session, session.begin():
            found_journal(session, ESTABLISHMENT, "00000000")

        @contextmanager
        def opened() -> Iterator[JournalPort]:
            with write_session() as session, session.begin():
                yield SqlJournal(session, ESTABLISHMENT)

        yield opened
    book.close()


def record(kind: str, n: int, seq: int, **fields: object) -> RecordState:
    return RecordState(kind, uuid(n), dict(fields), "open", seq, 1, uuid(0xC1), seq)


def row(seq: int, **more: object) -> JournalRow:
    made = JournalRow(
        seq, "a" * 64, "2026-05-12T14:00:00.000Z", "accepted", None, f"text {seq}", f"{seq:064x}",
        uuid(0x1000 + seq), DEVICE, seq, uuid(0xC1), "house", uuid(1), "create",
    )  # fmt: skip
    return dataclasses.replace(made, **more)


def waiting(n: int, seq: int, **more: object) -> RecordState:
    fields = {"reason": "record_missing", "of_kind": "house", "of_id": uuid(1), "text": "{}"}
    return record(HELD, n, seq, **(fields | more))


def test_empty_journal_starts_at_the_genesis(journal: Open) -> None:
    with journal() as port:
        assert port.lock() == Head("00000000", 0, genesis(ESTABLISHMENT))
        assert port.numbers(DEVICE) == Numbers(0, ())


def test_rows_are_known_by_id_and_by_digest(journal: Open) -> None:
    with journal() as port:
        port.lock()
        port.append([row(1), row(2, outcome="waiting", reason="asked_for"), row(3, entry_id=None)])
    with journal() as port:
        by_id = port.known([uuid(0x1002)], [])
        by_digest = port.known([], [f"{3:064x}"])
        both = port.known([uuid(0x1001)], [f"{1:064x}"])
        none = port.known([uuid(9)], ["0" * 64])

    assert [(k.seq, k.outcome, k.reason) for k in by_id] == [(2, "waiting", "asked_for")]
    assert [(k.seq, k.entry_id) for k in by_digest] == [(3, None)]
    assert [k.seq for k in both] == [1]
    assert list(none) == []


def test_more_ids_than_one_statement_takes(journal: Open) -> None:
    with journal() as port:
        port.lock()
        port.append([row(n) for n in range(1, 1201)])
        port.store([record("house", n, n, name=f"House {n}") for n in range(1, 1201)])
    with journal() as port:
        port.lock()
        known = port.known([uuid(0x1000 + n) for n in range(1, 1201)], [])
        found = port.records([("house", uuid(n)) for n in range(1, 1301)])

    assert len(known) == len(found) == 1200


def test_records_come_back_as_stored(journal: Open) -> None:
    fields = {
        "name": "North", "area": {"value": "12.50", "unit": "m2"}, "note": "vent 🌱 \n two lines",
    }  # fmt: skip
    with journal() as port:
        port.lock()
        port.store([record("house", 1, 5, **fields)])
    with journal() as port:
        port.lock()
        found = port.records([("house", uuid(1)), ("house", uuid(2)), ("teapot", uuid(1))])

    assert found == {("house", uuid(1)): record("house", 1, 5, **fields)}


def test_stored_record_is_replaced_and_cleared(journal: Open) -> None:
    with journal() as port:
        port.lock()
        port.store([record("house", 1, 5, name="North", note="old")])
    with journal() as port:
        port.lock()
        old = port.records([("house", uuid(1))])["house", uuid(1)]
        changed = dataclasses.replace(
            old, revision=6, state="void", fields={"name": "South", "note": None}
        )
        port.store([changed])
    with journal() as port:
        port.lock()
        found = port.records([("house", uuid(1))])["house", uuid(1)]

    assert (found.fields["name"], found.fields.get("note")) == ("South", None)
    assert (found.state, found.revision, found.created_seq) == ("void", 6, 5)


def test_held_entries_come_by_what_they_wait_for_oldest_first(journal: Open) -> None:
    with journal() as port:
        port.lock()
        port.store([
            waiting(10, 7), waiting(11, 6), waiting(12, 5, reason="reason_owed"),
            waiting(13, 4, decision="refuse"), waiting(14, 3, of_id=uuid(2)),
            waiting(15, 2, of_kind="lot"),
        ])  # fmt: skip
    with journal() as port:
        port.lock()
        few = port.held_for([("house", uuid(1))])
        many = port.held_for([("house", uuid(n)) for n in range(1, 60)])
        none = port.held_for([("house", uuid(3))])

    assert [held.id for held in few] == [uuid(11), uuid(10)]
    assert [held.id for held in many] == [uuid(14), uuid(11), uuid(10)]
    assert none == []


def test_open_held_entries_of_a_group_come_together_oldest_first(journal: Open) -> None:
    mine = {"device": uuid(50), "of_group": uuid(60), "reason": "proposed"}
    with journal() as port:
        port.lock()
        port.store([
            waiting(10, 7, **mine), waiting(11, 6, **mine), waiting(12, 5, **mine, decision="accept"),
            waiting(13, 4, **(mine | {"device": uuid(51)})),
            waiting(14, 3, **(mine | {"of_group": uuid(61)})),
        ])  # fmt: skip
    with journal() as port:
        port.lock()
        assert [held.id for held in port.held_together(uuid(50), uuid(60))] == [uuid(11), uuid(10)]


def test_settled_entry_no_longer_waits(journal: Open) -> None:
    with journal() as port:
        port.lock()
        port.store([waiting(10, 7)])
    with journal() as port:
        port.lock()
        held = port.held_for([("house", uuid(1))])[0]
        port.store([dataclasses.replace(held, fields={**held.fields, "decision": "released"})])
    with journal() as port:
        port.lock()
        assert port.held_for([("house", uuid(1))]) == []


def test_head_and_numbers_are_kept(journal: Open) -> None:
    for seq, numbers in ((1, Numbers(1, ((4, 5), (9, 9)))), (2, Numbers(9, ()))):
        with journal() as port:
            port.lock()
            port.numbers(DEVICE)
            port.finish(Head("00000000", seq, f"{seq}" * 64), DEVICE, numbers)
        with journal() as port:
            assert port.lock() == Head("00000000", seq, f"{seq}" * 64)
            assert port.numbers(DEVICE) == numbers


@pytest.mark.parametrize("journal", JOURNALS[1:], indirect=True)  # maps refuse nothing
def test_savepoint_undoes_what_the_database_refuses(journal: Open) -> None:
    with journal() as port:
        port.lock()
        with pytest.raises(StoreRefusedError) as refused, port.savepoint():
            port.append([row(1), row(1)])
        assert "INSERT" not in str(refused.value)  # a phone hears it
        with port.savepoint():
            port.append([row(1)])
    with journal() as port:
        assert [k.seq for k in port.known([uuid(0x1001)], [])] == [1]


def test_savepoint_lets_bugs_fly(journal: Open) -> None:
    with journal() as port, pytest.raises(ZeroDivisionError), port.savepoint():
        raise ZeroDivisionError
