"""Texts of records as they travel: kept once, new when a record moved, never another's.

`WireTexts.of` asks the store for what it lacks: here a store in memory stands in its place, which
counts what it was asked for.
"""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any, cast

import pytest

from tepal.services import wire
from tepal.services.wire import MAX_HELD_CHARS, SCOPE, WALL_SCOPE, WireTexts, wire_record, wire_text
from tepal.store.journal import Moved
from tepal.sync.merge import RecordState

if TYPE_CHECKING:
    from sqlalchemy.orm import Session as DbSession

DB = cast("DbSession", None)  # the store in memory needs none


def lot(record: str = "a", kind: str = "lot", revision: int = 1, **fields: Any) -> RecordState:
    return RecordState(kind, record, fields, "open", revision, 1, "author", 1)


def moved(record: str, at_hash: str, kind: str = "lot", seq: int = 1) -> Moved:
    return Moved(seq, at_hash, kind, record)


class Store:
    """The records of establishments, and which of them were read."""

    def __init__(self) -> None:
        self.records: dict[str, dict[tuple[str, str], RecordState]] = {}
        self.asked: list[tuple[str, str]] = []

    def put(self, establishment: str, *records: RecordState) -> None:
        """Have records."""
        mine = self.records.setdefault(establishment, {})
        mine.update({(one.kind, one.id): one for one in records})

    def load(
        self, _db: DbSession, establishment: str, wanted: list[tuple[str, str]]
    ) -> dict[tuple[str, str], RecordState]:
        """Return the records as `store.records.load` does."""
        self.asked += wanted
        return {key: self.records[establishment][key] for key in wanted}


@pytest.fixture
def store(monkeypatch: pytest.MonkeyPatch) -> Store:
    made = Store()
    monkeypatch.setattr(wire.record_rows, "load", made.load)
    return made


def revisions(texts: tuple[str, ...]) -> list[int]:
    return [json.loads(text)["revision"] for text in texts]


def test_text_is_read_once_for_all_phones_and_keeps_the_order_of_the_page(store: Store) -> None:
    store.put("e", lot("a", revision=1), lot("b", revision=2))
    texts = WireTexts()
    first = texts.of(DB, "e", "epoch", [moved("a", "h1"), moved("b", "h2")])

    again = texts.of(DB, "e", "epoch", [moved("b", "h2"), moved("a", "h1")])

    assert (revisions(first), revisions(again)) == ([1, 2], [2, 1])
    assert store.asked == [("lot", "a"), ("lot", "b")]


def test_record_that_moved_is_read_again_and_no_other(store: Store) -> None:
    store.put("e", lot("a"), lot("b"))
    texts = WireTexts()
    texts.of(DB, "e", "epoch", [moved("a", "h1"), moved("b", "h2")])
    store.put("e", lot("a", revision=2))

    fresh = texts.of(DB, "e", "epoch", [moved("b", "h2"), moved("a", "h3", seq=3)])

    assert revisions(fresh) == [1, 2]
    assert store.asked[2:] == [("lot", "a")]


def test_redaction_begins_an_epoch_in_which_no_older_text_is_sent(store: Store) -> None:
    """A redaction changes fields and no hash: the epoch alone tells the texts apart."""
    store.put("e", lot("a", note="Rosa Lind, Bench 4"))
    texts = WireTexts()
    texts.of(DB, "e", "before", [moved("a", "h1")])
    store.put("e", lot("a"))

    (fresh,) = texts.of(DB, "e", "after", [moved("a", "h1")])

    assert "Rosa" not in fresh


def test_two_establishments_with_the_same_ids_get_their_own_texts(store: Store) -> None:
    """Each has a chain of its own: its hashes are no other's, even where ids are alike."""
    store.put("one", lot("a", code="of one"))
    store.put("two", lot("a", code="of two"))
    texts = WireTexts()

    found = [
        json.loads(texts.of(DB, name, f"epoch of {name}", [moved("a", f"hash of {name}")])[0])
        for name in ("one", "two", "one")
    ]

    assert [one["fields"]["code"] for one in found] == ["of one", "of two", "of one"]


def test_kinds_with_the_same_id_in_one_entry_stay_apart(store: Store) -> None:
    store.put("e", lot("a"), lot("a", kind="lot_event"))

    texts = WireTexts().of(DB, "e", "epoch", [moved("a", "h"), moved("a", "h", kind="lot_event")])

    assert [json.loads(text)["kind"] for text in texts] == ["lot", "lot_event"]


def test_texts_that_were_not_asked_for_lately_give_way(store: Store) -> None:
    store.put("e", lot("a"), lot("b"), lot("c"))
    texts = WireTexts(most_chars=2 * len(wire_text(lot("a"))))
    texts.of(DB, "e", "x", [moved("a", "1"), moved("b", "2")])
    texts.of(DB, "e", "x", [moved("a", "1")])  # b is the older one now
    texts.of(DB, "e", "x", [moved("c", "3")])
    store.asked.clear()

    texts.of(DB, "e", "x", [moved("a", "1"), moved("c", "3"), moved("b", "2")])

    assert store.asked == [("lot", "b")]


def test_page_larger_than_what_is_kept_is_sent_whole(store: Store) -> None:
    store.put("e", lot("a"), lot("b"))
    page = [moved("a", "1"), moved("b", "2")]

    assert len(WireTexts(most_chars=10).of(DB, "e", "x", page)) == 2


@pytest.mark.parametrize("kind", ["application", "restriction", "conflict"])
def test_wall_gets_no_names_no_signatures_and_no_author(kind: str) -> None:
    named = {"operator": "m", "operator_name": "Rosa Lind", "signature": "x", "note": "n",
             "reason": "r", "member": "m", "operator_number": "7"}  # fmt: skip
    record = lot("a", kind=kind, rei="12 h", **named)

    on_wall = wire_record(record, WALL_SCOPE)

    assert on_wall["fields"] == {"rei": "12 h"}
    assert on_wall["author"] == ""
    assert wire_record(record, SCOPE)["fields"] == {"rei": "12 h", **named}
    assert wire_record(record, SCOPE)["author"] == "author"


def test_wall_reads_the_note_of_what_names_nobody() -> None:
    assert wire_record(lot("a", kind="product", note="n"), WALL_SCOPE)["fields"] == {"note": "n"}


def test_held_text_too_long_for_a_phone_stays_in_the_office_and_says_how_long_it_is() -> None:
    whole = "x" * MAX_HELD_CHARS
    fits = wire_record(lot("a", kind="held", text=whole, of_kind="lot"))["fields"]
    long = wire_record(lot("a", kind="held", text=f"{whole}y", of_kind="lot"))["fields"]

    assert fits == {"text": whole, "of_kind": "lot"}
    assert long == {"text": "", "text_chars": MAX_HELD_CHARS + 1, "of_kind": "lot"}


def test_text_is_short_and_keeps_letters_as_they_are() -> None:
    text = wire_text(lot("a", code="Ñandú"))

    assert '"fields":{"code":"Ñandú"}' in text
    assert json.loads(text) == wire_record(lot("a", code="Ñandú"))
