"""Values from sheets and whole trials from files: what is wrong is named by cell, and leaves nothing."""

from __future__ import annotations

import base64
import copy
import io
import json
from typing import TYPE_CHECKING, Any

import jsonschema_rs
import pytest
from openpyxl import Workbook

from support.book import Book
from tepal.services import trial_file
from tepal.services.trials import measured_plots

if TYPE_CHECKING:
    from collections.abc import Iterator

FIELDS: dict[str, Any] = {
    "code": "T07",
    "title": "Drench",
    "treatments": [{"number": n, "name": f"rate {n}", "role": "rate"} for n in (1, 2)],
    "measurements": [
        {"code": "height", "name": "Height", "type": "continuous", "unit": "cm", "per": "plant"},
        {"code": "flower", "name": "First flower", "type": "days", "per": "plant"},
    ],
    "assessments": [
        {"code": "w4", "name": "Four weeks", "day": 28, "measurements": ["height", "flower"]}
    ],
}


@pytest.fixture(scope="module")
def book(tmp_path_factory: Any) -> Iterator[Book]:
    book = Book(tmp_path_factory.mktemp("book"))
    yield book
    book.close()


@pytest.fixture
def trial(book: Book) -> str:
    """A trial of two treatments in three blocks, two plants a plot."""
    asked = {
        "design": "rcbd", "treatments": FIELDS["treatments"], "n_blocks": 3, "plants_per_plot": 2,
        "seed": 4,
    }  # fmt: skip
    drawn = book.manager.post("/api/v1/trials/layout", asked).json
    trial = book.uuid()
    text = book.manager.entry("trial", "create", record=trial, fields=FIELDS | drawn)
    assert book.manager.exchange(text)["results"][0]["outcome"] == "accepted"
    return trial


def send(book: Book, trial: str, content: bytes, act: str = "", name: str = "values.csv") -> Any:
    body = {"name": name, "content": base64.b64encode(content).decode(), "assessment": "w4"}
    return book.manager.post(f"/api/v1/trials/{trial}/values{act}", body)


def observations(book: Book, trial: str) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = book.manager.get(f"/api/v1/trials/{trial}/file").json[
        "observations"
    ]
    return found


def workbook(rows: list[list[Any]]) -> bytes:
    book = Workbook()
    sheet = book.active
    assert sheet is not None
    sheet.title = "Field"
    for row in rows:
        sheet.append(row)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def test_values_of_a_workbook_become_observations(book: Book, trial: str) -> None:
    content = workbook([["Plot", "Plant", "Height, cm", "note"], ["101", 1, 14.6, "pale"],
                        ["T07/202", 2, "dead", None]])  # fmt: skip

    reply = send(book, trial, content, name="field.xlsx")

    assert (reply.status_code, reply.json["n_values"]) == (200, 2)
    found = {(o["plot"], o["plant"]): o for o in observations(book, trial)}
    assert found[1, 1]["m_height"] == "14.6"
    assert found[1, 1]["note"] == "pale"
    assert found[4, 2]["m_height"] == {"missing": "dead", "note": None}


def test_same_sheet_again_changes_nothing(book: Book, trial: str) -> None:
    content = b"plot,plant,height,flower\n101,1,14.6,2026-06-03\n"
    send(book, trial, content)

    again = send(book, trial, content)

    assert (again.json["n_values"], again.json["n_known"]) == (0, 2)


PROBLEMS = [
    (b"plot,plant,height\n999,1,3\n", (2, "plot", "999", "no_such_plot")),
    (b"plot,plant,height\n101,7,3\n", (2, "plant", "7", "no_such_plant")),
    (b"plot,plant,height\n101,1,14;6\n", (2, "height", "14;6", "not_a_number")),
    (b'plot,plant,height\n101,1,"1,200"\n', (2, "height", "1,200", "ambiguous")),
    (b"plot,plant,flower\n101,1,June\n", (2, "flower", "June", "not_a_day")),
    (b"plot,plant,heihgt\n101,1,3\n", (1, "heihgt", "heihgt", "unknown_column")),
    (b"plot,plant,height\n101,1,3\n101,1,4\n", (3, "height", "4", "twice")),
    (b"plant,height\n1,3\n", (1, "", "", "no_plot_column")),
]


@pytest.mark.parametrize(("content", "expected"), PROBLEMS, ids=[p[1][3] for p in PROBLEMS])
def test_problem_names_sheet_row_column_value_and_leaves_nothing(
    book: Book, trial: str, content: bytes, expected: tuple[int, str, str, str]
) -> None:
    tried = send(book, trial, content, "/dry-run")
    refused = send(book, trial, content)

    first = tried.json["problems"][0]
    assert (first["row"], first["column"], first["value"], first["code"]) == expected
    assert first["sheet"] == "values.csv"
    assert (refused.status_code, refused.json["code"]) == (422, "trials.import_problems")
    assert observations(book, trial) == []


def test_value_that_differs_from_the_one_on_file_is_never_overwritten(
    book: Book, trial: str
) -> None:
    send(book, trial, b"plot,plant,height\n101,1,14.6\n")

    tried = send(book, trial, b"plot,plant,height\n101,1,15.9\n", "/dry-run")

    assert tried.json["problems"][0]["code"] == "differs"
    assert tried.json["problems"][0]["params"] == {"there": "14.6"}


def test_trial_file_fits_its_schema_and_comes_back_whole(book: Book, trial: str) -> None:
    send(book, trial, b"plot,plant,height,flower\n101,1,14.6,2026-06-03\n101,2,lost,\n")
    document = book.manager.get(f"/api/v1/trials/{trial}/file").json

    jsonschema_rs.validate(trial_file.schema(), document)
    made = book.manager.post("/api/v1/trials/file", {"file": document}).json
    again = book.manager.get(f"/api/v1/trials/{made['id']}/file").json

    assert made["code"] != document["trial"]["code"]
    assert again["observations"] == document["observations"]
    assert measured_plots(again["trial"]) == measured_plots(document["trial"])
    assert "bench" not in json.dumps(document["trial"]["plots"])


def test_trial_file_with_a_fault_names_the_place_and_leaves_nothing(book: Book, trial: str) -> None:
    send(book, trial, b"plot,plant,height\n101,1,14.6\n")
    document = copy.deepcopy(book.manager.get(f"/api/v1/trials/{trial}/file").json)
    document["observations"][0]["m_height"] = "tall"
    before = len(book.manager.exchange()["records"])

    tried = book.manager.post("/api/v1/trials/file", {"file": document, "dry_run": True}).json
    refused = book.manager.post("/api/v1/trials/file", {"file": document})

    assert tried["problems"] == [
        {"place": "observations[0].m_height", "value": "tall", "code": "not_a_day"}
    ]
    assert (refused.status_code, refused.json["code"]) == (422, "trials.file_problems")
    assert book.manager.exchange()["records"] == []
    assert before >= 0


def test_stranger_file_is_not_taken_for_a_trial(book: Book) -> None:
    reply = book.manager.post("/api/v1/trials/file", {"file": {"format": "other"}, "dry_run": True})

    assert reply.json["problems"][0]["code"] == "not_a_trial_file"


def test_trial_from_elsewhere_keeps_where_it_was_made_and_what_its_plots_got(
    book: Book, trial: str
) -> None:
    """Applications stay where they were made; what they say of crop, dose and plots comes along."""
    document = copy.deepcopy(book.manager.get(f"/api/v1/trials/{trial}/file").json)
    received = {
        "treatment": 2, "ai": "Paclobutrazol", "rate": {"value": "2", "unit": "mg/L"},
        "method": "drench", "volume_per_container": {"value": "60", "unit": "mL/{pot}"},
    }  # fmt: skip
    first = document["trial"]["plots"][0]
    other = 3 - first["treatment"]
    told = {"plot": first["plot"], "planned": first["treatment"], "actual": other}
    document |= {
        "establishment": "Sallowmere Nursery", "received": [received],
        "lots": [{"code": "9", "crop": "Salvia", "crop_eppo": "SALSP"}],
        "applications": [{"plots": [told]}],
    }  # fmt: skip
    jsonschema_rs.validate(trial_file.schema(), document)

    made = book.manager.post("/api/v1/trials/file", {"file": document}).json
    again = book.manager.get(f"/api/v1/trials/{made['id']}/file").json

    assert again["establishment"] == "Sallowmere Nursery"
    assert again["lots"] == [{"crop": "Salvia", "crop_eppo": "SALSP"}]
    (back,) = again["received"]
    assert (back["ai"], back["rate"]["value"]) == ("paclobutrazol", "2.00000")
    assert again["trial"]["plots"][0]["treatment"] == other
    assert again["applications"] == []


@pytest.mark.parametrize(
    ("part", "rows"),
    [
        ("received", [{"treatment": 1, "ai": "x", "rate": {"value": "2", "unit": "spoons"}}]),
        ("received", "much"),
        ("lots", [{"crop": "Salvia", "crop_eppo": "SALVIA-TOO-LONG"}]),
    ],
)
def test_fault_beside_the_trial_is_named(book: Book, trial: str, part: str, rows: Any) -> None:
    document = book.manager.get(f"/api/v1/trials/{trial}/file").json | {part: rows}

    tried = book.manager.post("/api/v1/trials/file", {"file": document, "dry_run": True}).json

    assert [one["place"] for one in tried["problems"]] == [part]
