"""Form specs in the browser: the same checks as the server, nothing typed is lost, all has words."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from support.node_calls import call_js
from tepal.forms.deriver import form_specs
from tepal.forms.validator import problems

pytestmark = pytest.mark.node

HERE = Path(__file__).parent
LOCALE = HERE.parents[1] / "web" / "app" / "locale"
CASES = json.loads((HERE / "field_cases.json").read_text())
KIND_SPECS: dict[str, dict[str, Any]] = form_specs()["kinds"]
SPECS: dict[str, list[dict[str, Any]]] = {kind: spec["fields"] for kind, spec in KIND_SPECS.items()}
POINT = {"numberFormat": {"decimal": ".", "thousands": ""}, "unitSystem": "metric"}
COMMA = {"numberFormat": {"decimal": ",", "thousands": ""}, "unitSystem": "us"}


def spec_of(kind: str, field: str) -> dict[str, Any]:
    open_fields = KIND_SPECS[kind].get("open_fields")
    if open_fields and field.startswith(open_fields["prefix"]):
        return {"name": field, **open_fields}
    return next(spec for spec in SPECS[kind] if spec["name"] == field)


def every_field() -> list[tuple[str, dict[str, Any]]]:
    """(kind and path, spec) of every field, the inner ones too."""
    found: list[tuple[str, dict[str, Any]]] = []

    def walk(prefix: str, specs: list[dict[str, Any]]) -> None:
        for spec in specs:
            path = f"{prefix}.{spec['name']}"
            found.append((path, spec))
            walk(path, spec.get("fields", []))

    for kind, specs in SPECS.items():
        walk(kind, specs)
    return found


def test_case_file_has_as_many_cases_as_it_says() -> None:
    assert len(CASES["cases"]) == CASES["n_cases"]


@pytest.mark.parametrize(
    "case", CASES["cases"], ids=lambda c: f"{c['kind']}.{c['field']}={c['value']!r:.40}"
)
def test_server_finds_what_the_case_says(case: dict[str, Any]) -> None:
    found = problems(case["kind"], {case["field"]: case["value"]})

    assert found == ({case["field"]: [case["code"]]} if case["code"] else {})


def test_browser_finds_what_the_cases_say() -> None:
    calls = [[spec_of(case["kind"], case["field"]), case["value"]] for case in CASES["cases"]]

    results = call_js("forms/checks.js", "fieldProblem", calls)

    found = [result["value"] and result["value"]["code"] for result in results]
    assert list(zip(CASES["cases"], found, strict=True)) == [
        (case, case["code"]) for case in CASES["cases"]
    ]


def test_cases_meet_every_field_type() -> None:
    met = {spec_of(case["kind"], case["field"])["type"] for case in CASES["cases"]}

    assert met == {spec["type"] for _, spec in every_field()} - {"longtext", "digest"} | {
        "measured"
    }


@pytest.mark.parametrize("name", ["m_", "m_Height", "m_" + "x" * 25, "height"])
def test_a_field_that_only_looks_like_a_measurement_is_unknown(name: str) -> None:
    assert problems("observation", {name: "1"}) == {name: ["unknown_field"]}


def test_every_field_type_has_a_check_and_a_control() -> None:
    source = (HERE.parents[1] / "web" / "app" / "forms" / "record-form.js").read_text()

    for kind_type in {spec["type"] for _, spec in every_field()}:
        assert f'case "{kind_type}":' in source


# --- between what was typed and what travels ---------------------------------------------------

MOMENT = {"local": "2026-05-12T07:10:00", "offset_min": -240, "zone": "America/New_York"}
PRODUCT = {
    "name": "Stemwright SL",
    "registration_number": None,
    "country": None,
    "kind": "product",
    "physical_form": "liquid",
    "formulation_type": "SL",
    "ingredients": [
        {
            "ai": "a",
            "strength": {"value": "118.0", "unit": "g/L"},
            "basis": None,
            "expressed_as": None,
        }
    ],
    "density": {"value": "1.050", "unit": "g/mL"},
    "rei": None,
    "double_notice": False,
    "signal_word": None,
    "ppe_mixing": None,
    "ppe_applying": "gloves\nboots",
    "first_aid": None,
    "use_within": None,
    "water_ph_min": "5.50",
    "water_ph_max": None,
    "label_on": "2026-03-02",
}


def typed_and_back(kind: str, values: dict[str, Any], ways: dict[str, Any]) -> dict[str, Any]:
    typed = call_js("forms/typed.js", "typedOf", [[SPECS[kind], values, ways]])[0]["value"]
    result: dict[str, Any] = call_js(
        "forms/typed.js", "wireOf", [[SPECS[kind], typed, ways, values]]
    )[0]["value"]
    return result


@pytest.mark.parametrize("ways", [POINT, COMMA], ids=["point", "comma"])
def test_values_come_back_digit_by_digit(ways: dict[str, Any]) -> None:
    known = {spec["name"] for spec in SPECS["product"]}
    values = {name: value for name, value in PRODUCT.items() if name in known}

    back = typed_and_back("product", values, ways)

    assert back["problems"] == {}
    assert {name: back["values"][name] for name in values} == values


def test_comma_is_shown_where_the_establishment_writes_commas() -> None:
    specs = [spec_of("product", "density")]
    values = {"density": {"value": "1.05", "unit": "g/mL"}}

    typed = call_js("forms/typed.js", "typedOf", [[specs, values, COMMA]])[0]["value"]

    assert typed == {"density": {"value": "1,05", "unit": "g/mL"}}


@pytest.mark.parametrize(
    ("text", "ways", "code"),
    [
        ("1,200", POINT, "number.ambiguous"),
        ("1.200", COMMA, "number.ambiguous"),
        ("0,5", POINT, "number.other_decimal_mark"),
        ("about 5", POINT, "number.not_a_number"),
        ("-5", POINT, "out_of_range"),
    ],
)
def test_unreadable_amount_names_its_field_and_keeps_the_others(
    text: str, ways: dict[str, Any], code: str
) -> None:
    specs = [spec_of("house", "name"), spec_of("house", "area")]
    typed = {"name": " House 1 ", "area": {"value": text, "unit": "m2"}}

    result = call_js("forms/typed.js", "wireOf", [[specs, typed, ways]])[0]["value"]

    assert result["problems"]["area"]["code"] == code
    assert result["values"] == {"name": "House 1"}


def test_problem_in_a_row_is_named_by_its_path() -> None:
    specs = [spec_of("product", "ingredients")]
    row = {
        "ai": "a",
        "strength": {"value": "4 %", "unit": "%"},
        "basis": "w_w",
        "expressed_as": None,
    }

    result = call_js("forms/typed.js", "wireOf", [[specs, {"ingredients": [row]}, POINT]])[0][
        "value"
    ]

    assert list(result["problems"]) == ["ingredients.0.strength"]
    assert "ingredients" not in result["values"]


def test_empty_required_fields_are_missing_not_wrong() -> None:
    specs = [spec_of("house", "name"), spec_of("house", "area")]
    typed = {"name": "  ", "area": {"value": "", "unit": "m2"}}

    result = call_js("forms/typed.js", "wireOf", [[specs, typed, POINT]])[0]["value"]

    assert result == {"values": {"name": None, "area": None}, "problems": {}, "missing": ["name"]}


def test_first_unit_follows_the_establishment() -> None:
    specs = [spec_of("house", "area")]

    shown = call_js("forms/typed.js", "typedOf", [[specs, {}, POINT], [specs, {}, COMMA]])

    assert [one["value"]["area"]["unit"] for one in shown] == ["m2", "[sft_i]"]


# --- words ---------------------------------------------------------------------------------------


def catalogue(language: str) -> dict[str, str]:
    merged: dict[str, str] = {}
    for path in LOCALE.glob(f"*.{language}.json"):
        merged |= json.loads(path.read_text())
    return merged


def label_codes(path: str) -> tuple[str, str]:
    return f"field.{path}", f"field.{path.rsplit('.', 1)[1]}"


def test_every_field_and_choice_has_words() -> None:
    known = catalogue("en")
    without = []
    for path, spec in every_field():
        if not set(label_codes(path)) & known.keys():
            without.append(path)
        last = path.rsplit(".", 1)[1]
        for value in spec.get("choices", []):
            if not {f"choice.{path}.{value}", f"choice.{last}.{value}"} & known.keys():
                without.append(f"{path} = {value}")

    assert without == []


def test_no_words_are_left_from_a_field_that_is_gone() -> None:
    codes: set[str] = set()
    for path, spec in every_field():
        last = path.rsplit(".", 1)[1]
        codes |= {*label_codes(path), f"hint.{path}"}
        codes |= {
            f"choice.{stem}.{value}" for stem in (path, last) for value in spec.get("choices", [])
        }
    # a form for one answer only, such as a lot that is split, may have narrower words
    codes |= {
        f"field.{kind}.{value}.{field['name']}"
        for kind, specs in SPECS.items()
        for spec in specs
        for value in spec.get("choices", [])
        for field in specs
    }
    spoken = {code for code in catalogue("en") if code.startswith(("field.", "choice.", "hint."))}

    assert spoken - codes == set()


def test_every_problem_code_has_words() -> None:
    known = catalogue("en")
    codes = {case["code"] for case in CASES["cases"] if case["code"]}
    codes |= {
        "too_many_rows",
        "not_a_digest",
        "number.ambiguous",
        "number.other_decimal_mark",
        "number.not_a_number",
    }

    assert {f"form.{code}" for code in codes} <= known.keys()
