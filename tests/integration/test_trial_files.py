"""Values from sheets and whole trials from files: what is wrong is named by cell, and leaves nothing."""

from __future__ import annotations

import base64
import copy
import datetime as dt
import io
import json
from typing import TYPE_CHECKING, Any

import jsonschema_rs
import pytest
from openpyxl import Workbook, load_workbook

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
        {"code": "buds", "name": "Buds", "type": "count", "per": "plant"},
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
    assert (back["ai"], back["rate"]["value"]) == ("paclobutrazol", "2")
    assert again["trial"]["plots"][0]["treatment"] == first["treatment"]  # as it was drawn
    assert again["trial"]["plots"][0]["received"] == other
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


def test_mix_that_the_file_left_out_can_be_linked_by_the_office(book: Book, trial: str) -> None:
    document = book.manager.get(f"/api/v1/trials/{trial}/file").json
    received = {
        "treatment": 1, "ai": "daminozide", "rate": {"value": "2500", "unit": "mg/L"},
        "method": "spray",
    }  # fmt: skip
    document |= {"establishment": "Sallowmere Nursery", "received": [received]}
    made = book.manager.post("/api/v1/trials/file", {"file": document}).json["id"]
    strength = {"value": "4", "unit": "g/L"}
    product, mix = book.uuid(), book.uuid()
    target = {"value": "2", "unit": "mg/L"}
    rows = document["trial"]["treatments"]
    linked = [{**row, "tank_mix": mix} for row in rows]

    replies = [
        book.manager.exchange(text)["results"][0]["outcome"]
        for text in (
            book.manager.entry("product", "create", record=product, fields={
                "name": "Sample SC", "kind": "product", "physical_form": "liquid",
                "ingredients": [{"ai": "paclobutrazol", "strength": strength, "basis": "w_v"}],
            }),
            book.manager.entry("tank_mix", "create", record=mix, fields={
                "name": "2 mg/L", "method": "drench",
                "components": [{"product": product, "target": target}],
            }),
            book.manager.entry(
                "trial", "change", record=made, changes={"treatments": {"was": rows, "to": linked}}
            ),
        )
    ]  # fmt: skip

    assert replies == ["accepted"] * 3
    found = book.manager.get(f"/api/v1/trials/{made}/file").json["received"]
    # what the file itself said of a treatment stays
    assert [(row["treatment"], row["ai"]) for row in found] == [
        (1, "daminozide"),
        (2, "paclobutrazol"),
    ]


MORE_PROBLEMS = [
    ([["Parcela", "Planta", "Height"], [None, 1, 14.6]], (2, "Parcela", "", "no_plot_here")),
    ([["Plot", "Plant", "Height"], ["101", 1, "=B2*7"]], (2, "Height", "=B2*7", "formula")),
    ([["Plot", "Plant", "Height"], ["101", 1, dt.date(2026, 4, 3)]],
     (2, "Height", "2026-04-03", "is_a_day")),
    ([["Plot", "Plant", "Height", "height (cm)"], ["101", 1, 14.6, 15]],
     (1, "height (cm)", "height (cm)", "column_twice")),
    ([["values of June"], ["Plot", "Plant", "Height", "Colour"], ["101", 1, 14.6, 3]],
     (1, "values of June", "values of June", "unknown_column")),
    ([["Plot", "Plant", "Buds"], ["101", 1, 2.5]], (2, "Buds", "2.5", "not_planned")),
]  # fmt: skip


@pytest.mark.parametrize(("rows", "expected"), MORE_PROBLEMS, ids=[p[1][3] for p in MORE_PROBLEMS])
def test_problem_of_a_workbook_names_its_cell(
    book: Book, trial: str, rows: list[list[Any]], expected: tuple[int, str, str, str]
) -> None:
    tried = send(book, trial, workbook(rows), "/dry-run", name="field.xlsx")

    first = tried.json["problems"][0]
    assert (first["row"], first["column"], first["value"], first["code"]) == expected
    assert first["sheet"] == "Field"


def test_sheet_in_spanish_with_short_codes_and_words_is_understood(book: Book) -> None:
    plots = [{"plot": n, "code": f"{n:03d}", "treatment": 1} for n in (1, 2)]
    trial = book.uuid()
    fields = FIELDS | {"plots": plots, "plants_per_plot": 2}
    book.manager.exchange(book.manager.entry("trial", "create", record=trial, fields=fields))
    rows = [["Parcela", "Planta", "Evaluación", "Height (cm)", "Observaciones", "Tratamiento"],
            [1, 1, "Four weeks", 14.6, "pálida", 1], [2, 2, "w4", "Desechada", None, 1],
            [2, 1, "w4", None, None, 1], [1, 2, "w4", None, "solo una nota", 1]]  # fmt: skip

    reply = send(book, trial, workbook(rows), name="campo.xlsx")

    assert (reply.status_code, reply.json["n_values"]) == (200, 2)
    found = {(o["plot"], o["plant"]): o for o in observations(book, trial)}
    assert found[1, 1]["note"] == "pálida"
    assert found[2, 2]["m_height"] == {"missing": "discarded", "note": None}
    assert (found[1, 2]["note"], "m_height" in found[1, 2]) == ("solo una nota", False)
    other = [rows[0], [1, 1, "w4", 14.6, "another note", 1]]
    tried = send(book, trial, workbook(other), "/dry-run", name="campo.xlsx").json["problems"]
    assert [(p["column"], p["code"], p["params"]["there"]) for p in tried] == [
        ("Observaciones", "differs", "pálida")
    ]


def test_value_outside_the_plan_is_brought_in_only_once_somebody_looked(
    book: Book, trial: str
) -> None:
    measured = [FIELDS["measurements"][0] | {"least": "5", "most": "60"}, FIELDS["measurements"][1]]
    was = book.manager.get(f"/api/v1/trials/{trial}/file").json["trial"]["measurements"]
    text = book.manager.entry(
        "trial", "change", record=trial, changes={"measurements": {"was": was, "to": measured}}
    )
    assert book.manager.exchange(text)["results"][0]["outcome"] == "accepted"
    content = b"plot,plant,height\n101,1,146\n101,2,14.6\n"

    tried = send(book, trial, content, "/dry-run").json
    refused = send(book, trial, content)
    body = {"name": "v.csv", "content": base64.b64encode(content).decode(), "assessment": "w4"}
    looked = book.manager.post(f"/api/v1/trials/{trial}/values", body | {"is_looked_at": True})

    assert tried["n_problems"] == 0
    (asked,) = tried["unusual"]
    assert (asked["row"], asked["value"], asked["code"]) == (2, "146", "above_range")
    assert (refused.status_code, refused.json["code"]) == (422, "trials.import_unusual")
    assert looked.json["n_values"] == 2


def test_sheet_to_fill_in_has_the_trials_own_plants_and_comes_back(book: Book, trial: str) -> None:
    reply = book.manager.get(f"/api/v1/trials/{trial}/values/sample?language=es")

    filled = load_workbook(io.BytesIO(reply.data))
    sheet = filled["Four weeks"]
    head, first, *rest = sheet.iter_rows(values_only=True)
    assert head == (
        "Parcela", "Planta", "Evaluación", "Height (cm)", "First flower (YYYY-MM-DD)", "Nota",
    )  # fmt: skip
    assert first[:3] == ("101", 1, "w4")
    assert len(rest) == 11
    untouched = send(book, trial, reply.data, name="s.xlsx")
    assert (untouched.status_code, untouched.json["n_values"]) == (200, 0)
    sheet["D2"], sheet["E2"] = 14.6, dt.date(2026, 6, 3)
    out = io.BytesIO()
    filled.save(out)
    assert send(book, trial, out.getvalue(), name="s.xlsx").json["n_values"] == 2
    assert len(observations(book, trial)) == 1
