"""The export and the file of unsent entries: everything in it, no secret, nothing lost."""

from __future__ import annotations

import base64
import csv
import hashlib
import io
import json
import zipfile
from typing import TYPE_CHECKING, Any

import jsonschema_rs
import pytest
from PIL import Image

from support.book import PASSWORD, Book, Desk
from tepal.services.access import hash_password
from tepal.services.exchange import read_numbers
from tepal.services.server_acts import Act, Chance, act, server_device
from tepal.store.database import read_session, write_session
from tepal.store.models import EnrolmentCode, MemberSecret, SessionToken

if TYPE_CHECKING:
    from collections.abc import Iterator


@pytest.fixture(scope="module")
def book(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Book]:
    made = Book(tmp_path_factory.mktemp("files"))
    made.manager.exchange(
        made.manager.entry("lot", "create", fields={"code": 'L1, "spring"', "crop": "Petunia"}),
        made.manager.entry(
            "label_file", "create",
            fields={"sort": "label", "file_name": "../../etc/passwd", "sha256": "a" * 64, "size": 9},
        ),
    )  # fmt: skip
    yield made
    made.close()


def exported(book: Book) -> dict[str, bytes]:
    reply = book.manager.post("/api/v1/export", {})
    assert reply.status_code == 200
    with zipfile.ZipFile(io.BytesIO(reply.data)) as packed:
        return {name: packed.read(name) for name in packed.namelist()}


def test_export_holds_every_kind_in_json_and_csv_with_its_schema(book: Book) -> None:
    files = exported(book)

    lots = json.loads(files["records/lot.json"])
    assert [one["fields"]["code"] for one in lots] == ['L1, "spring"']
    rows = list(csv.DictReader(io.StringIO(files["tables/lot.csv"].decode("utf-8-sig"))))
    assert rows[0]["code"] == 'L1, "spring"'
    for name in [name for name in files if name.startswith("schemas/")]:
        schema = jsonschema_rs.validator_for(json.loads(files[name]))
        for record in json.loads(files[name.replace("schemas", "records")]):
            schema.validate(record["fields"])
    journal = [json.loads(line) for line in files["journal.jsonl"].splitlines()]
    manifest = json.loads(files["manifest.json"])
    assert manifest["journal"]["seq"] == journal[-1]["seq"] == len(journal)
    assert manifest["journal"]["hash"] == journal[-1]["hash"]


def test_no_secret_is_in_the_export_and_no_name_becomes_a_path(book: Book) -> None:
    book.manager.post("/api/v1/pin", {"pin": "4711"})
    book.manager.post("/api/v1/enrolment-codes", {"label": "x", "ceiling": "operator"})
    with book.app.app_context(), read_session() as db:
        secrets = [
            value
            for model in (MemberSecret, SessionToken, EnrolmentCode)
            for row in db.query(model)
            for name in ("password_hash", "pin_hash", "pin_salt", "token_hash", "code_hash")
            if (value := getattr(row, name, None))
        ]
    assert len(secrets) >= 5

    files = exported(book)

    whole = b"".join(files.values()).decode()
    assert [secret for secret in [*secrets, PASSWORD] if secret in whole] == []
    assert hash_password(PASSWORD, b"0" * 16) not in whole
    assert [name for name in files if ".." in name or name.startswith("/")] == []


def unsent_file(desk: Desk, *texts: str, **more: Any) -> dict[str, Any]:
    device = {"id": desk.device, "label": "Phone 3"}
    return {
        "format": "tepal-unsent", "version": 1, "device": device,
        "saved_at": "2026-05-12T14:00:00.000Z", "entries": list(texts), **more,
    }  # fmt: skip


def test_file_of_unsent_entries_waits_until_accepted_and_counts_once(book: Book) -> None:
    """The phone sends the same entries after all; then the file comes a second time."""
    book.manager.add_member("Rosa Lind", "operator")
    phone = Desk(book, "Rosa Lind")
    texts = [phone.entry("calibration", "create", fields={"note": f"no {n}"}) for n in range(3)]
    body = unsent_file(phone, *texts)

    first = book.manager.post("/api/v1/unsent-files", body).json
    sent = phone.exchange(*texts)
    second = book.manager.post("/api/v1/unsent-files", body).json

    assert (first["n_quarantined"], first["n_known"], first["device_label"]) == (3, 0, "Phone 3")
    assert (second["n_quarantined"], second["n_known"]) == (0, 3)
    assert [one["reason"] for one in sent["results"]] == ["from_file"] * 3
    assert sent["ack"] == 3
    book.manager.cursor = None
    held = [
        one
        for one in book.manager.exchange()["records"]
        if one["kind"] == "held" and one["fields"].get("text") in texts
    ]
    assert [one["fields"]["reason"] for one in held] == ["from_file"] * 3
    decisions = [
        book.manager.entry("held", "decide", record=one["id"], fields={"decision": "accept"})
        for one in held
    ]
    reply = book.manager.exchange(*decisions)
    assert [one["outcome"] for one in reply["results"]] == ["accepted"] * 3
    notes = [one["fields"]["note"] for one in reply["records"] if one["kind"] == "calibration"]
    assert sorted(notes) == ["no 0", "no 1", "no 2"]


def test_photos_of_a_revoked_phone_come_back_with_their_entry(book: Book) -> None:
    """The office has the entry of a photo, held back; the photo comes by file, a damaged one too."""
    phone = Desk(book, "Ines Prado")
    picture = io.BytesIO()
    Image.new("RGB", (4, 3), "green").save(picture, "JPEG")
    content = picture.getvalue()
    sha256 = hashlib.sha256(content).hexdigest()
    told = {"sha256": sha256, "size": len(content), "width": 4, "height": 3}
    body = unsent_file(
        phone, phone.entry("photo", "create", fields=told),
        photos=[
            {"sha256": sha256, "content": base64.b64encode(content).decode()},
            {"sha256": "b" * 64, "content": base64.b64encode(content).decode()},
            {"sha256": "../../escape", "content": "no base64"},
        ],
    )  # fmt: skip

    first = book.manager.post("/api/v1/unsent-files", body).json
    second = book.manager.post("/api/v1/unsent-files", body).json

    assert [first[name] for name in ("n_photos", "n_photos_known", "n_photos_refused")] == [3, 0, 2]
    assert [second[name] for name in ("n_photos_known", "n_photos_refused")] == [1, 2]
    reply = book.manager.get(f"/api/v1/photos/{sha256}")
    assert (reply.data, reply.mimetype) == (content, "image/jpeg")
    asked = book.manager.exchange(photos=[sha256])
    assert (asked["photos_stored"], asked["photos_owed"]) == ([sha256], [])


@pytest.mark.parametrize(
    ("more", "code"),
    [
        ({"format": "other"}, "unsent.not_our_file"),
        ({"version": 2}, "unsent.newer_file"),
        ({"entries": [5]}, "unsent.not_our_file"),
        ({"photos": ["x"]}, "unsent.not_our_file"),
        ({"entries": ["x"] * 20_001}, "unsent.too_many"),
    ],
)
def test_other_file_is_refused_with_words(book: Book, more: dict[str, Any], code: str) -> None:
    reply = book.manager.post("/api/v1/unsent-files", {**unsent_file(book.manager), **more})

    assert (reply.status_code, reply.json["code"]) == (422, code)


def test_file_that_names_the_server_takes_none_of_its_numbers(book: Book) -> None:
    """Else the server's next act would find its number used, and every import would fail."""
    chance = Chance(book.clock.now, book.random.randbytes)
    with book.app.app_context(), read_session() as db:
        server = server_device(db, book.establishment)
        after = read_numbers(db, book.establishment, server).ack
    forged = book.manager.entry("calibration", "create", device=server, number=10_000)
    next_but_one = book.manager.entry("calibration", "create", device=server, number=after + 2)
    body = {"format": "tepal-unsent", "version": 1, "entries": [forged, next_but_one]}

    reply = book.manager.post("/api/v1/unsent-files", body)

    assert reply.json["n_quarantined"] == 2
    with book.app.app_context(), write_session() as db:
        acts = [
            Act("house", book.uuid(), "create", book.manager.member, {"name": f"House {n}"})
            for n in range(3)
        ]
        pushed = act(db, book.establishment, server, acts, chance)
        assert [one.outcome for one in pushed.results] == ["accepted"] * 3
