"""Applications of a period as data, and `tepal report`: for a cron job and for other programs."""

from __future__ import annotations

import csv
import io
import json
from typing import TYPE_CHECKING, Any

import jsonschema_rs
import pytest

from support.book import Book
from support.paper_reading import whole_text
from tepal.cli import main
from tepal.services.period_export import period_schema

if TYPE_CHECKING:
    from pathlib import Path

START = {"local": "2026-05-31T23:30:00", "offset_min": -240, "zone": "America/New_York"}
FIELDS = {
    "started_at": START, "site": "greenhouse", "mix_name": "=1+1", "method": "spray",
    "area": {"value": "50", "unit": "m2"}, "operator_name": "Rosa Lind",
    "products": [
        {"name": "=cmd", "registration_number": "99001-12", "rei": {"value": "12", "unit": "h"},
         "amount": {"value": "60", "unit": "mL"},
         "ingredients": [{"ai": "chlormequat chloride", "strength": {"value": "118", "unit": "g/L"}}]},
        {"name": "Filmlay", "kind": "adjuvant"},
    ],
    "lines": [{"place": "North, Bench 2", "crop": "Lantana", "crop_eppo": "LANCA", "bbch": 51}],
}  # fmt: skip


@pytest.fixture(scope="module")
def book(tmp_path_factory: pytest.TempPathFactory) -> Book:
    book = Book(tmp_path_factory.mktemp("book"))
    desk = book.manager
    desk.exchange(
        desk.entry("application", "create", fields=FIELDS),
        desk.entry("application", "create", fields={"started_at": {**START, "local": "2026-06-02T08:00:00"}}),
    )  # fmt: skip
    return book


def period(book: Book, **query: str) -> Any:
    asked = {"first": "2026-05-01", "last": "2026-05-31"} | query
    return book.manager.get(
        "/api/v1/papers/period?" + "&".join(f"{k}={v}" for k, v in asked.items())
    )


def test_period_follows_the_schema_that_the_server_publishes(book: Book) -> None:
    published = book.app.test_client().get("/api/v1/schemas/applications.json").json
    document = period(book).json

    jsonschema_rs.Draft202012Validator(published, validate_formats=True).validate(document)
    assert published == period_schema()
    (one,) = document["applications"]
    # by the local date of the start: 03:30 UTC on 1 June is still May there
    assert one["started_at"] == "2026-05-31T23:30:00-04:00"
    # Reg. (EU) 2023/564, Annex: type of use, size, crop with EPPO code, BBCH
    assert (one["type_of_use"], one["size"]["value"]) == ("closed_space", "50")
    assert (one["locations"][0]["crop_eppo"], one["locations"][0]["bbch"]) == ("LANCA", 51)
    gaps = {gap["field"] for gap in one["standards"][0]["missing"]}
    assert "end" in gaps


def test_period_as_csv_has_a_row_for_each_product_and_no_formula(book: Book) -> None:
    rows = list(csv.DictReader(io.StringIO(period(book, form="csv").text)))

    assert [row["product"] for row in rows] == ["'=cmd", "Filmlay"]
    assert rows[0]["active_ingredients"] == "chlormequat chloride 118 g/L"


@pytest.mark.parametrize(
    ("first", "last"), [("2026-05-02", "2026-05-01"), ("2020-01-01", "2026-01-01")]
)
def test_period_that_is_none_is_told(book: Book, first: str, last: str) -> None:
    reply = period(book, first=first, last=last)

    assert (reply.status_code, reply.json["code"]) == (422, "papers.period")


def test_report_command_writes_pdf_and_data_and_leaves_files_alone(
    book: Book, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("TEPAL_DATABASE_URL", book.config.database_url)
    monkeypatch.setenv("TEPAL_PHOTOS_URL", book.config.photos_url)
    monkeypatch.setenv("TEPAL_INSTANCE", str(tmp_path / "instance"))
    command = ["report", "month", "--month", "2026-05", "--out", str(tmp_path)]

    assert main(command) == 0
    assert "Print" in whole_text((tmp_path / "applications-2026-05.pdf").read_bytes())
    assert main(command) == 2
    assert "--force" in capsys.readouterr().err
    assert main([*command, "--form", "json"]) == 0
    document = json.loads((tmp_path / "applications-2026-05.json").read_text())
    assert len(document["applications"]) == 1
    assert main([*command, "--house", "Nowhere", "--force"]) == 2
    assert "'Nowhere' is not one house" in capsys.readouterr().err
