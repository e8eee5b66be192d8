"""`tepal backup` and `tepal restore`: nothing missing, damage told, the rehearsal touches nothing."""

from __future__ import annotations

import io
import sqlite3
import tarfile
from contextlib import closing
from typing import TYPE_CHECKING

import pytest

from support.book import Book, Desk
from support.photos import announce, jpeg, pieces, put
from tepal.cli import main
from tepal.services.backup import Member, members_in
from tepal.store.journal import read_head

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from support.postgres import Cluster

PHOTO = jpeg(200)


def filled(book: Book) -> Book:
    desk = book.manager
    desk.exchange(desk.entry("lot", "create", fields={"code": "1·07", "crop": "Lantana"}))
    sha256 = announce(book, PHOTO)
    for n, piece in enumerate(pieces(PHOTO)):
        assert put(book, sha256, n, piece).status_code == 200
    return book


@pytest.fixture
def server(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Book]:
    book = filled(Book(tmp_path / "old"))
    settings(monkeypatch, tmp_path, book.config.database_url, book.config.photos_url)
    yield book
    book.close()


def settings(monkeypatch: pytest.MonkeyPatch, folder: Path, database: str, photos: str) -> None:
    monkeypatch.setenv("TEPAL_INSTANCE", str(folder / "instance"))
    monkeypatch.setenv("TEPAL_DATABASE_URL", database)
    monkeypatch.setenv("TEPAL_PHOTOS_URL", photos)


def epoch_of(book: Book) -> str:
    from tepal.store.database import read_session

    with book.app.app_context(), read_session() as db:
        return read_head(db, book.establishment).epoch


def test_backup_of_a_running_server_can_be_rehearsed(
    server: Book, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    target = tmp_path / "b.tar"

    assert main(["backup", str(target)]) == 0
    assert target.stat().st_mode & 0o077 == 0
    assert main(["restore", str(target), "--rehearse"]) == 0
    said = capsys.readouterr().out
    assert "1 photo files" in said
    assert "Rehearsal: the backup can be put back." in said
    assert main(["backup", str(target)]) == 2
    assert "choose another name" in capsys.readouterr().err


@pytest.mark.parametrize("what", ["bytes", "missing photo"])
def test_damaged_backup_is_told_before_anything_is_written(
    server: Book, tmp_path: Path, capsys: pytest.CaptureFixture[str], what: str
) -> None:
    target, broken = tmp_path / "b.tar", tmp_path / "broken.tar"
    assert main(["backup", str(target)]) == 0
    with tarfile.open(target) as old, tarfile.open(broken, "w") as new:
        for member in old.getmembers():
            content = old.extractfile(member)
            assert content is not None
            raw = content.read()
            if member.name.startswith("photos/"):
                if what == "missing photo":
                    continue
                raw = raw[:-1] + b"?"
            new.addfile(member, io.BytesIO(raw))

    assert main(["restore", str(broken), "--rehearse"]) == 2
    assert "is damaged or missing" in capsys.readouterr().err


def test_restore_needs_an_empty_place_and_a_name_and_starts_a_new_epoch(
    server: Book,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    target = tmp_path / "b.tar"
    assert main(["backup", str(target)]) == 0
    before = epoch_of(server)
    assert main(["restore", str(target), "--by", "Ines Prado"]) == 2
    assert "move it away first" in capsys.readouterr().err
    new = tmp_path / "new"
    settings(monkeypatch, tmp_path, f"sqlite:///{new / 'tepal.db'}", str(new / "photos"))
    assert main(["restore", str(target)]) == 2

    assert main(["restore", str(target), "--by", "Ines Prado", "--note", "disk broken"]) == 0

    assert main(["verify"]) == 0
    assert next((new / "photos").rglob("*.jpg")).read_bytes() == PHOTO
    with closing(sqlite3.connect(new / "tepal.db")) as look:
        ((epoch, reason),) = look.execute(
            "SELECT epoch, json_extract(text, '$.reason') FROM journal_head, journal"
            " WHERE action = 'restore'"
        )
    assert reason == "disk broken"
    assert epoch != before


def backed_up_without(desk: Desk, gone: str, tmp_path: Path) -> tuple[Path, Path]:
    """Let a member leave, and back up; return the backup and the folder to put it back into."""
    left = desk.entry(
        "member", "change", record=gone, fields={"active": {"was": True, "to": False}}
    )
    assert desk.exchange(left)["results"][0]["outcome"] == "accepted"
    target = tmp_path / "b.tar"
    assert main(["backup", str(target)]) == 0
    return target, tmp_path / "new"


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("Ines Pardo", "the backup has no member 'Ines Pardo'"),
        ("Rosa Lind", "'Rosa Lind' is operator in the backup, not manager"),
        ("Gone Away", "'Gone Away' is no longer active in the backup"),
    ],
)
def test_wrong_name_is_told_before_anything_is_unpacked(
    server: Book,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    name: str,
    said: str,
) -> None:
    desk = server.manager
    desk.add_member("Rosa Lind", "operator")
    target, new = backed_up_without(desk, desk.add_member("Gone Away", "manager"), tmp_path)
    settings(monkeypatch, tmp_path, f"sqlite:///{new / 'tepal.db'}", str(new / "photos"))

    assert main(["restore", str(target), "--by", name]) == 2

    told = capsys.readouterr().err
    assert said in told
    assert "Its managers are: Ines Prado" in told
    assert not new.exists()


def test_a_namesake_who_has_left_puts_nothing_back(
    server: Book, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    desk = server.manager
    gone, here = (desk.add_member("Two Alike", "manager") for _ in range(2))
    target, new = backed_up_without(desk, gone, tmp_path)
    settings(monkeypatch, tmp_path, f"sqlite:///{new / 'tepal.db'}", str(new / "photos"))

    assert main(["restore", str(target), "--by", "Two Alike"]) == 0

    with closing(sqlite3.connect(new / "tepal.db")) as look:
        ((by,),) = look.execute("SELECT member FROM journal WHERE action = 'restore'")
    assert by == here


def test_a_file_that_is_no_backup_is_told(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "x.tar"
    path.write_bytes(b"no tar")

    assert main(["restore", str(path), "--rehearse"]) == 2
    assert "is no backup of Tepal" in capsys.readouterr().err


@pytest.mark.postgres
def test_backup_of_postgresql_is_rehearsed_in_a_scratch_database(
    cluster: Cluster, tmp_path: Path, monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:  # fmt: skip
    postgres_url, scratch_url = cluster.new_database(), cluster.new_database()
    book = filled(Book(tmp_path / "old", database_url=postgres_url))
    settings(monkeypatch, tmp_path, postgres_url, book.config.photos_url)
    target = tmp_path / "b.tar"

    assert main(["backup", str(target)]) == 0
    rehearsal = ["restore", str(target), "--rehearse"]
    assert main(rehearsal) == 2
    assert "--scratch-database" in capsys.readouterr().err
    assert main([*rehearsal, "--scratch-database", scratch_url]) == 0
    assert "1 photo files" in capsys.readouterr().out
    assert members_in(target) == [Member("Ines Prado", "manager", is_active=True)]
    book.close()
