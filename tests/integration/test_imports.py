"""Tables into registers: nothing guessed, every problem with its place, all or nothing."""

from __future__ import annotations

import base64
import io
import zipfile
from typing import TYPE_CHECKING, Any

import pytest
from openpyxl import Workbook

from support.book import Book
from tepal.cli import main
from tepal.services.import_sample import SAMPLES
from tepal.services.import_sheets import ImportFileError, read_sheets
from tepal.services.import_values import CellError, Ways, plain_number

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from tepal.services.import_sample import Language

PRODUCTS = """Product;EPA Reg No;AI;Strength (g/L);REI (h);Kind;Label on;Color
Stemhold 250;00000-11;paclobutrazol;4,0;12;product;2026-02-01;red
Ledgerite;00000-12;daminozide;850;24;product;13.02.2026;blue
"""


@pytest.fixture(scope="module")
def book(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Book]:
    made = Book(tmp_path_factory.mktemp("imports"))
    yield made
    made.close()


def ask(book: Book, address: str, content: str | bytes, kind: str, **more: Any) -> Any:
    raw = content.encode() if isinstance(content, str) else content
    body = {"name": "table.csv", "content": base64.b64encode(raw).decode(), "kind": kind, **more}
    return book.manager.post(f"/api/v1/{address}", body)


def records(book: Book, kind: str) -> list[dict[str, Any]]:
    found, reply, book.manager.cursor = [], {"more": True}, None
    while reply["more"]:
        reply = book.manager.exchange()
        found += reply["records"]
    return [one["fields"] for one in found if one["kind"] == kind]


def test_products_come_in_with_units_from_headers_and_once(book: Book) -> None:
    plan = ask(book, "imports/dry-run", PRODUCTS, "product").json
    assert plan["problems"] == []
    assert (plan["n_rows"], plan["n_new"], plan["n_known"]) == (2, 2, 0)
    assert [c["field"] for c in plan["columns"]] == [
        "name", "registration_number", "ingredients.1.ai", "ingredients.1.strength", "rei", "kind",
        "label_on", None,
    ]  # fmt: skip
    assert "Ledgerite" not in [one["name"] for one in records(book, "product")]

    assert ask(book, "imports", PRODUCTS, "product").json["n_created"] == 2

    first = next(p for p in records(book, "product") if p["name"] == "Stemhold 250")
    assert first["ingredients"] == [
        {"ai": "paclobutrazol", "strength": {"value": "4.0", "unit": "g/L"}}
    ]
    assert first["rei"] == {"value": "12", "unit": "h"}
    again = ask(book, "imports", PRODUCTS, "product").json
    assert (again["n_created"], again["n_known"]) == (0, 2)


BAD_LOTS = """Lot,Crop,Pots,Benches,Stage
L1,Petunia,"1,200",B9,rooted
L2,,5.5,,
L3,Petunia,20,,
L3,Petunia,30,,
"""


def test_dry_run_names_sheet_row_column_value_and_cure(book: Book) -> None:
    found = ask(book, "imports/dry-run", BAD_LOTS, "lot").json["problems"]

    assert [(p["row"], p["column"], p["value"], p["code"]) for p in found] == [
        (2, "Pots", "1,200", "import.ambiguous_number"),
        (2, "Benches", "B9", "import.no_such_record"),
        (3, "Pots", "5.5", "import.not_whole"),
        (3, "Crop", "", "import.needed"),
        (5, "Lot", "l3", "import.row_twice"),
    ]
    assert {p["sheet"] for p in found} == {"table.csv"}


def test_aborted_import_leaves_nothing(book: Book) -> None:
    before = records(book, "lot")

    reply = ask(book, "imports", BAD_LOTS, "lot")

    assert (reply.status_code, reply.json["code"]) == (422, "import.has_problems")
    assert records(book, "lot") == before


def test_answers_to_what_is_asked_make_it_pass(book: Book) -> None:
    table = 'Lot,Crop,Pots,Started on\nL7,Petunia,"1,200",03/02/2026\n'
    reply = ask(book, "imports", table, "lot", decimal=".", dates="mdy")

    assert reply.json["n_created"] == 1
    lot = next(one for one in records(book, "lot") if one["code"] == "L7")
    assert (lot["n_containers"], lot["started_on"]) == (1200, "2026-03-02")


def workbook(rows: list[list[Any]]) -> bytes:
    made = Workbook()
    made.active.title = "Places"
    for row in rows:
        made.active.append(row)
    made.create_sheet("Empty")
    raw = io.BytesIO()
    made.save(raw)
    return raw.getvalue()


def test_places_come_in_from_xlsx_each_in_its_house(book: Book) -> None:
    houses = workbook([["House", "Length (ft)"], ["North", 90.5], ["South", 60]])
    benches = workbook(
        [
            ["Bench", "House", "Length", "Width (ft)"],
            ["B1", "North", "30 ft", 5],
            ["B1", "South", "9 m", 5],
        ]
    )

    assert ask(book, "imports", houses, "house").json["n_created"] == 2
    assert ask(book, "imports", benches, "bench").json["n_created"] == 2

    north = next(one for one in records(book, "house") if one["name"] == "North")
    assert north["length"] == {"value": "90.5", "unit": "[ft_i]"}
    assert sorted(one["length"]["unit"] for one in records(book, "bench")) == ["[ft_i]", "m"]
    table = "Lot,Crop,Bench\nL8,Petunia,B1\nL9,Petunia,North / B1\n"
    plan = ask(book, "imports/dry-run", table, "lot").json
    assert [(p["row"], p["code"]) for p in plan["problems"]] == [(2, "import.several_records")]


def test_chosen_mapping_and_unit_go_before_the_headers_words(book: Book) -> None:
    table = "Where,How long,Greenhouse\nWest,30,no\n"
    plan = ask(
        book, "imports/dry-run", table, "house",
        mapping={"Where": "name", "How long": "length", "Greenhouse": None},
        units={"How long": "m"},
    ).json  # fmt: skip

    assert plan["rows"] == [
        {"row": 2, "values": {"name": "West", "length": {"value": "30", "unit": "m"}}}
    ]


@pytest.mark.parametrize(
    ("text", "decimal", "want"),
    [
        ("1,5", None, "1.5"), ("0,125", None, "0.125"), ("1,234.5", None, "1234.5"),
        ("1.234,5", None, "1234.5"), ("1 234,5", None, "1234.5"), ("1.234.567", None, "1234567"),
        ("12,345", ",", "12.345"), ("12,345", ".", "12345"), ("-3", None, "-3"),
    ],
)  # fmt: skip
def test_number_is_read_as_it_is_written(text: str, decimal: str | None, want: str) -> None:
    assert plain_number(text, Ways(decimal)) == want


@pytest.mark.parametrize("text", ["1,234", "1.234", "12 ab", "1,23,4", "", "--1", "1e5"])
def test_number_that_is_none_or_two_is_not_guessed(text: str) -> None:
    with pytest.raises(CellError):
        plain_number(text, Ways())


def bomb() -> bytes:
    raw = io.BytesIO()
    with zipfile.ZipFile(raw, "w", zipfile.ZIP_DEFLATED) as packed:
        packed.writestr("xl/worksheets/sheet1.xml", b"0" * 1_000_000)
    return raw.getvalue()


@pytest.mark.parametrize(
    ("content", "code"),
    [
        (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1old", "import.not_a_table"),
        (b"PK\x03\x04 no zip at all", "import.not_a_table"),
        (b"%PDF-1.7\x00\x01", "import.not_a_table"),
        (b'Name\n"never ends', "import.not_a_table"),
        (b"", "import.empty"),
        (b"Name\n", "import.empty"),
        (b"Name\n" + b"x\n" * 10_002, "import.too_large"),
    ],
)
def test_file_that_is_no_table_says_so(content: bytes, code: str) -> None:
    with pytest.raises(ImportFileError) as caught:
        read_sheets("table.csv", content)

    assert caught.value.code == code


def test_zip_bomb_is_refused_before_it_is_unpacked(monkeypatch: pytest.MonkeyPatch) -> None:
    # a bomb of the real limit's size takes longer to make than all the other tests together
    monkeypatch.setattr("tepal.services.import_sheets.MOST_UNPACKED", 100_000)
    with pytest.raises(ImportFileError) as caught:
        read_sheets("table.xlsx", bomb())

    assert caught.value.code == "import.too_large"


USES = """EPA Reg No;Product;Crop;Sites;Methods;Max concentration (mg/L);Interval (d)
00000-21;;Petunia;greenhouse;spray;30;14
00000-21;Stalkette;Pelargonium;greenhouse;drench;4;21
;Stalkette;Chrysanthemum;greenhouse;spray;5000;
"""


def sheets(**rows: list[list[Any]]) -> bytes:
    made = Workbook()
    made.remove(made.active)
    for name, lines in rows.items():
        sheet = made.create_sheet(name.replace("_", " "))
        for line in lines:
            sheet.append(line)
    raw = io.BytesIO()
    made.save(raw)
    return raw.getvalue()


def uses_of(book: Book, name: str) -> list[dict[str, Any]]:
    found = [one for one in records(book, "product") if one["name"] == name]
    assert len(found) == 1
    return list(found[0].get("uses", []))


def test_label_uses_come_with_the_products_from_a_second_sheet(book: Book) -> None:
    table = sheets(
        Products=[["Product", "EPA Reg No"], ["Stalkette", "00000-21"]],
        Label_uses=[line.split(";") for line in USES.splitlines()],
    )
    plan = ask(book, "imports/dry-run", table, "product").json
    assert (plan["problems"], plan["n_new"], plan["n_uses"]) == ([], 1, 3)
    assert (plan["uses_sheets"], plan["uses"]["sheet"]) == (["Label uses"], "Label uses")

    made = ask(book, "imports", table, "product").json

    assert (made["n_created"], made["n_uses"]) == (1, 3)
    assert uses_of(book, "Stalkette")[:2] == [
        {
            "crop": "Petunia", "sites": ["greenhouse"], "methods": ["spray"],
            "max_concentration": {"value": "30", "unit": "mg/L"},
            "min_interval": {"value": "14", "unit": "d"},
        },
        {
            "crop": "Pelargonium", "sites": ["greenhouse"], "methods": ["drench"],
            "max_concentration": {"value": "4", "unit": "mg/L"},
            "min_interval": {"value": "21", "unit": "d"},
        },
    ]  # fmt: skip


def test_label_uses_that_are_here_are_not_added_twice(book: Book) -> None:
    product = "Product;EPA Reg No;Crop\nTwigling;00000-22;Petunia\n"
    ask(book, "imports", product, "product")

    table = "Product;Crop\nTwigling;Petunia\nTwigling;Lantana\n"
    made = ask(book, "imports", table, "label_use").json

    assert (made["n_created"], made["n_uses"], made["n_known"]) == (0, 1, 1)
    assert [use["crop"] for use in uses_of(book, "Twigling")] == ["Petunia", "Lantana"]


def test_product_with_several_uses_stands_in_several_rows(book: Book) -> None:
    table = (
        "Product;Reg No;Crop;Max concentration (mg/L)\n"
        "Branchlet;00000-31;Verbena;500\nBranchlet;00000-31;Fuchsia;400\n"
    )

    made = ask(book, "imports", table, "product").json

    assert (made["n_created"], made["n_uses"]) == (1, 2)
    assert [use["crop"] for use in uses_of(book, "Branchlet")] == ["Verbena", "Fuchsia"]


def test_problem_of_a_label_use_names_its_sheet_and_leaves_nothing(book: Book) -> None:
    table = sheets(
        Products=[["Product", "EPA Reg No"], ["Corolle", "00000-41"]],
        Label_uses=[
            ["Reg No", "Product", "Crop", "Max concentration (mg/L)"],
            ["00000-41", "", "Petunia", "much"], ["00000-99", "", "Petunia", 4],
            ["00000-41", "Another", "Petunia", 4], ["", "", "Petunia", 4],
            ["00000-41", "", "", ""],
        ],
    )  # fmt: skip
    found = ask(book, "imports/dry-run", table, "product").json["problems"]
    assert [(p["sheet"], p["row"], p["column"], p["value"], p["code"]) for p in found] == [
        ("Label uses", 2, "Max concentration (mg/L)", "much", "import.not_a_number"),
        ("Label uses", 3, "Reg No", "00000-99", "import.no_such_product"),
        ("Label uses", 4, "Reg No", "00000-41", "import.name_of_another"),
        ("Label uses", 5, "Product", "", "import.needed"),
        ("Label uses", 6, "Crop", "", "import.use_empty"),
    ]

    assert ask(book, "imports", table, "product").status_code == 422
    assert not [one for one in records(book, "product") if one["name"] == "Corolle"]
    assert ask(book, "imports", table, "product", uses={"sheet": None}).json["n_created"] == 1


def test_command_says_what_is_wrong_with_the_file_it_was_given(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("TEPAL_INSTANCE", str(tmp_path / "empty"))
    table = tmp_path / "table.csv"

    missing = main(["import", str(table), "--kind", "product"])
    table.write_text(PRODUCTS, encoding="utf-8")
    without_book = main(["import", str(table), "--kind", "product"])

    assert (missing, without_book) == (2, 2)
    said = capsys.readouterr().err.splitlines()
    assert said[0] == f"tepal import: {table}: No such file or directory"
    assert said[1].startswith("tepal import: there is no database at ")


@pytest.mark.parametrize("language", ["en", "es"])
def test_samples_go_in_as_they_are_with_every_column_understood(
    tmp_path: Path, language: Language
) -> None:
    """In the order in which one names the other; products bring their uses as a second sheet."""
    book = Book(tmp_path)
    for kind in ("house", "bay", "bench", "lot", "product", "label_use"):
        sample = book.manager.get(f"/api/v1/imports/sample/{kind}?language={language}").data
        plan = ask(book, "imports/dry-run", sample, kind).json

        assert plan["problems"] == []
        wanted = [column.field for column in SAMPLES[kind]]
        assert [one["field"] for one in plan["columns"]] == wanted
        units = {one["header"].partition("(")[2] for one in plan["columns"] if one["unit"]}
        assert units == {f"{column.unit})" for column in SAMPLES[kind] if column.unit}
        done = ask(book, "imports", sample, kind).json
        if kind == "label_use":  # came with its product
            assert (done["n_known"], done["n_uses"]) == (1, 0)
        else:
            assert done["n_created"] == 1
    product = records(book, "product")[0]
    assert product["uses"][0]["min_interval"] == {"value": "7", "unit": "d"}
    book.close()


def test_sample_of_an_unknown_kind_says_what_there_is(book: Book) -> None:
    reply = book.manager.get("/api/v1/imports/sample/member")

    assert (reply.status_code, reply.json["code"]) == (422, "import.kind")
