"""`tepal verify` sees whatever was changed behind the journal's back, and a restore is no crime."""

from __future__ import annotations

import hashlib
import json
from typing import TYPE_CHECKING, Any

import pytest
from sqlalchemy import text

from support.photos import announce, jpeg, pieces, put
from support.pushing import SIGNATURE
from tepal.cli import main
from tepal.photos.storage import PhotoStorage
from tepal.services.restore import mark_restored
from tepal.services.server_acts import Chance
from tepal.services.verify import VerifyResult, verify
from tepal.store.database import read_session, write_session
from tepal.sync.replay import judge_anchor

if TYPE_CHECKING:
    from pathlib import Path

    from support.book import Book


def check(book: Book, *anchors: tuple[int, str]) -> VerifyResult:
    with book.app.app_context(), read_session() as session:
        storage = PhotoStorage(book.config.photos_url)
        return verify(session, book.establishment, storage, anchors)


def codes(book: Book) -> set[str]:
    return {fault.code for fault in check(book).faults}


def meddle(book: Book, statement: str) -> None:
    """Change the database as somebody with access to its files could."""
    with book.app.app_context(), write_session() as session, session.begin():
        assert session.execute(text(statement)).rowcount >= 1


@pytest.fixture
def filled(book: Book) -> Book:
    """A book with a signed and amended application, a conflict, a held entry and a photo."""
    desk = book.manager
    application = book.uuid()
    desk.exchange(
        desk.entry(
            "application", "create", record=application, fields={"note": "a", "signature": SIGNATURE}
        ),
        desk.entry(
            "application", "amend", record=application, reason="misread",
            fields={"note": {"was": "a", "to": "b"}},
        ),
        desk.entry(
            "application", "amend", record=application, reason="misread",
            fields={"note": {"was": "a", "to": "c"}},
        ),
        "nonsense",
    )  # fmt: skip
    photo = jpeg()
    sha256 = announce(book, photo)
    for n, piece in enumerate(pieces(photo)):
        put(book, sha256, n, piece)
    return book


def test_untouched_book_is_good(filled: Book) -> None:
    head = filled.manager.exchange()["head"]

    found = check(filled, (head["seq"], head["hash"]), (head["seq"], head["hash"][:16]))

    assert found.is_good
    assert (found.seq, found.n_photos) == (head["seq"], 1)
    assert [anchor.word for anchor in found.anchors] == ["ok", "ok"]


@pytest.mark.parametrize(
    ("statement", "code"),
    [
        ("UPDATE application SET note = 'x'", "field_differs"),
        ("UPDATE application SET state = 'open'", "state_differs"),
        ("UPDATE application SET author = 'x'", "state_differs"),
        ("DELETE FROM application", "record_lost"),
        ("DELETE FROM conflict", "record_lost"),
        ("DELETE FROM held", "record_lost"),
        ("UPDATE held SET reason = 'x'", "field_differs"),
        ("UPDATE journal SET text = replace(text, 'misread', 'misrEad')", "text_changed"),
        ("UPDATE journal SET digest = 'x' WHERE seq = 5", "chain_broken"),
        ("UPDATE journal SET received_at = 'x' WHERE seq = 5", "chain_broken"),
        ("UPDATE journal SET outcome = 'merged' WHERE seq = 5", "chain_broken"),
        ("UPDATE journal SET hash = 'x' WHERE seq = 5", "chain_broken"),
        ("DELETE FROM journal WHERE seq = 5", "row_missing"),
        ("DELETE FROM journal WHERE seq = (SELECT max(seq) FROM journal)", "head_differs"),
        ("UPDATE journal SET member = 'x' WHERE seq = 5", "columns_differ"),
        ("UPDATE journal SET record = 'x' WHERE seq = 5", "columns_differ"),
        ("UPDATE journal_head SET seq = seq - 1", "head_differs"),
        ("DELETE FROM record_head WHERE kind = 'application'", "index_differs"),
        ("UPDATE record_head SET seq = seq + 1 WHERE kind = 'conflict'", "index_differs"),
        ("UPDATE device_tally SET ack = ack + 1", "numbers_differ"),
        ("UPDATE device_tally SET ack = ack - 1", "numbers_differ"),
        ("DELETE FROM device_tally", "numbers_differ"),
    ],
)
def test_meddling_shows(filled: Book, statement: str, code: str) -> None:
    meddle(filled, statement)

    assert code in codes(filled)


def test_record_without_an_entry_shows(filled: Book) -> None:
    meddle(
        filled,
        "INSERT INTO house (establishment, id, revision, created_seq, state, form_version, author) "
        f"VALUES ('{filled.establishment}', 'x', 1, 1, 'open', 1, 'x')",
    )

    assert codes(filled) >= {"record_without_entry", "index_differs"}


def photo_file(book: Book) -> Path:
    from pathlib import Path

    return next(Path(book.config.photos_url).rglob("*.jpg"))


def test_lost_photo_shows(filled: Book) -> None:
    photo_file(filled).unlink()

    assert codes(filled) == {"photo_lost"}


def test_changed_photo_shows(filled: Book) -> None:
    photo_file(filled).write_bytes(b"another")

    assert codes(filled) == {"photo_changed"}


def test_rewritten_journal_contradicts_its_anchor(filled: Book) -> None:
    seen = filled.manager.exchange()["head"]

    found = check(filled, (seen["seq"], "0" * 64), (seen["seq"] + 5, seen["hash"]))

    assert [anchor.word for anchor in found.anchors] == ["contradicted", "not_reached"]
    assert not found.is_good
    assert found.faults == ()


def mark(book: Book, seen: dict[str, Any] | None) -> Any:
    with book.app.app_context(), write_session() as session:
        return mark_restored(
            session, book.establishment, Chance(book.clock.now, book.random.randbytes),
            old_seq=seen and seen["seq"], old_hash=seen and seen["hash"],
            by=book.manager.member, note="disk failed",
        )  # fmt: skip


def test_restore_starts_an_epoch_and_stands_in_the_journal(filled: Book) -> None:
    before = filled.manager.exchange()
    lost = {"seq": before["head"]["seq"] + 3, "hash": "c" * 64}

    mark(filled, lost)

    after = filled.manager.exchange()
    assert after["epoch"] != before["epoch"]
    assert (after["reset"], after["resend"]) == (True, True)
    found = check(filled, (lost["seq"], lost["hash"]), (lost["seq"] + 1, "d" * 64))
    assert found.faults == ()
    assert found.lost == ((before["head"]["seq"], lost["seq"]),)
    assert [anchor.word for anchor in found.anchors] == ["lost_in_restore", "not_reached"]


def test_restore_without_a_known_head_loses_no_stretch(filled: Book) -> None:
    mark(filled, None)

    found = check(filled)
    assert found.is_good
    assert found.lost == ()


def test_only_the_server_tells_of_a_restore(filled: Book) -> None:
    desk = filled.manager
    told = {"was": {"seq": 10**6, "hash": "c" * 64}, "to": {"seq": 1, "hash": "d" * 64}}
    forged = desk.entry(
        "establishment", "restore", record=filled.establishment, fields={"restored": told}
    )

    result = desk.exchange(forged)["results"][0]

    assert (result["outcome"], result["reason"]) == ("quarantined", "not_permitted")
    assert check(filled).lost == ()


@pytest.mark.parametrize(
    ("hash_at", "lost", "word"),
    [
        ("ab" * 32, [], "ok"),
        ("cd" * 32, [], "contradicted"),
        (None, [], "not_reached"),
        (None, [(4, 9)], "lost_in_restore"),
        ("cd" * 32, [(4, 9)], "lost_in_restore"),
        ("cd" * 32, [(5, 9)], "contradicted"),
        ("cd" * 32, [(1, 4)], "contradicted"),
        ("ab" * 32, [(4, 9)], "ok"),
    ],
)
def test_anchor_is_judged(hash_at: str | None, lost: list, word: str) -> None:
    assert judge_anchor(5, "ab" * 8, hash_at, lost) == word


@pytest.fixture
def environment(filled: Book, monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Book:
    monkeypatch.setenv("TEPAL_INSTANCE", str(tmp_path / "instance"))
    monkeypatch.setenv("TEPAL_DATABASE_URL", filled.config.database_url)
    monkeypatch.setenv("TEPAL_PHOTOS_URL", filled.config.photos_url)
    return filled


def test_command_says_all_good(environment: Book, capsys: pytest.CaptureFixture[str]) -> None:
    head = environment.manager.exchange()["head"]

    assert main(["verify", "--anchor", f"{head['seq']}:{head['hash'][:16]}"]) == 0

    shown = capsys.readouterr().out
    assert shown.endswith("All good.\n")
    assert f"Anchor {head['seq']}:{head['hash'][:16]}: ok" in shown


def test_command_prints_json_and_exits_1_on_a_finding(
    environment: Book, capsys: pytest.CaptureFixture[str]
) -> None:
    meddle(environment, "UPDATE application SET note = 'x'")

    assert main(["verify", "--json", "--no-photos"]) == 1

    found = json.loads(capsys.readouterr().out)
    assert [(f["code"], f["kind"], f["field"]) for f in found["faults"]] == [
        ("field_differs", "application", "note")
    ]


@pytest.mark.parametrize(
    "anchor", ["5", "5:xyz", "5:" + "a" * 15, ":" + "a" * 16, "-1:" + "a" * 16]
)
def test_command_exits_2_on_misuse(environment: Book, anchor: str) -> None:
    with pytest.raises(SystemExit) as caught:
        main(["verify", f"--anchor={anchor}"])

    assert caught.value.code == 2


def test_command_exits_2_without_a_book(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("TEPAL_INSTANCE", str(tmp_path / "empty"))

    assert main(["verify"]) == 2
    assert "there is no database at" in capsys.readouterr().err
    assert not (tmp_path / "empty" / "tepal.db").exists()  # a restore wants the place empty


def test_photo_hash_is_over_the_stored_bytes(filled: Book) -> None:
    path = photo_file(filled)

    assert hashlib.sha256(path.read_bytes()).hexdigest() == path.stem
