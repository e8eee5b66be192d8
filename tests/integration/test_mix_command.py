"""`tepal mix`: a file in, JSON or text out, an exit code that says how it went."""

from __future__ import annotations

import io
import json
from typing import TYPE_CHECKING, Any

import jsonschema_rs
import pytest

from tepal import cli
from tepal.commands.mix import schema_text
from tepal.domain import mix_request
from tepal.domain.units import UNITS

if TYPE_CHECKING:
    from pathlib import Path

EXAMPLE: dict[str, Any] = {
    "method": "spray",
    "number_format": {"decimal": ".", "thousands": ","},
    "components": [
        {
            "id": "d",
            "product": {
                "id": "p1",
                "name": "Dry 85",
                "physical_form": "dry",
                "formulation_type": "SG",
                "ingredients": [
                    {
                        "ai": "daminozide",
                        "strength": {"value": "85", "unit": "%"},
                        "basis": "w_w",
                    }
                ],
                "use_within": {"value": "24", "unit": "h"},
            },
            "target": {"value": "2500", "unit": "mg/L"},
        },
        {
            "id": "w",
            "product": {"name": "Wetter", "kind": "adjuvant", "physical_form": "liquid"},
            "target": {"value": "0.05", "unit": "%"},
        },
    ],
    "lines": [
        {
            "id": "1",
            "bench": "B1",
            "lot": "26-101",
            "area": {"value": "30", "unit": "m2"},
            "volume_per_area": {"value": "200", "unit": "mL/m2"},
            "n_containers": 900,
            "n_plants": 2700,
        }
    ],
    "tank": {"capacity": {"value": "5", "unit": "L"}},
    "extra": {"value": "0.5", "unit": "L"},
    "instruments": [
        {
            "id": "s5",
            "name": "5 mL syringe",
            "resolution": {"value": "0.2", "unit": "mL"},
            "capacity": {"value": "5", "unit": "mL"},
        },
        {
            "id": "bal",
            "name": "balance",
            "resolution": {"value": "0.1", "unit": "g"},
            "capacity": {"value": "500", "unit": "g"},
        },
    ],
}


def without(*names: str) -> dict[str, Any]:
    return {key: value for key, value in EXAMPLE.items() if key not in names}


@pytest.fixture
def run(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    def run_mix(content: Any, *options: str) -> tuple[int, str, str]:
        path = tmp_path / "mix.json"
        path.write_text(content if isinstance(content, str) else json.dumps(content))
        code = cli.main(["mix", str(path), *options])
        captured = capsys.readouterr()
        return code, captured.out, captured.err

    return run_mix


def test_json_has_the_amounts_of_each_load(run) -> None:
    code, out, err = run(EXAMPLE)

    plan = json.loads(out)
    assert (code, err) == (0, "")
    # 30 m2 x 200 mL + 0.5 L = 6.5 L: 5 L and 1.5 L; 2500 x 5 / 850 = 14.706 g
    assert [load["volume_l"] for load in plan["loads"]] == [5.0, 1.5]
    assert plan["loads"][0]["amounts"][0]["measured"]["text"] == "14.7\u00a0g"
    assert plan["lines"][0]["ais"][0]["mg_per_m2"] == 500


def test_text_says_what_to_measure_and_that_the_label_is_the_law(run) -> None:
    code, out, _ = run(EXAMPLE, "--format", "text")

    text = out.replace("\u00a0", " ")
    assert code == 0
    assert text.startswith("The label is the law.")
    assert "1. Water: fill half, 2.5 L (84.54 fl oz); start agitation" in text
    assert "2. Dry 85: 14.7 g (balance); exact 14.71 g, 0.5187 oz, error 0.0 %" in text
    assert "4. Water up to 5 L" in text
    # 1.5 L need 0.75 mL: half a division of the syringe is 13 % of it
    assert "step 1: 2.0 mL (5 mL syringe), made up with water to 20 mL" in text
    assert "step 2: 7.6 mL of that (5 mL syringe)" in text
    assert "Use within 24 h" in text
    assert "daminozide: 15000 mg, 500 mg/m², 16.67 mg/pot, 5.556 mg/plant" in text
    assert "note: No jar test of Dry 85 + Wetter is on file." in text


def test_text_leaves_out_what_is_not_known(run) -> None:
    product = dict(EXAMPLE["components"][0]["product"])
    del product["use_within"]
    request = {
        **without("extra"),
        "components": [{**EXAMPLE["components"][0], "product": product}],
        "lines": [{"volume": {"value": "5", "unit": "L"}}],
    }

    code, out, _ = run(request, "--format", "text")

    text = out.replace("\u00a0", " ")
    assert code == 0
    # 2500 mg/L x 5 L; no area, container or plant is stated, so no dose per one of them
    assert "  1: 5 L (1.321 US gal)\n    daminozide: 12500 mg\n" in text
    assert "Use within" not in text
    assert "Findings" not in text


def test_text_names_stock_fills_and_unmeasurable_amounts(run) -> None:
    request = {
        **EXAMPLE,
        "method": "injector",
        "injector": {"ratio": "10", "meaning": "part_in_total"},
        "instruments": [{**EXAMPLE["instruments"][0], "capacity": {"value": "1", "unit": "mL"}}],
        "tank": {"capacity": {"value": "0.3", "unit": "L"}},
        "components": EXAMPLE["components"],
    }

    code, out, _ = run(request, "--format", "text")

    assert code == 1
    assert "Stock for an injector that dilutes it 10 times" in out
    assert "Each of loads 1 to 2" in out
    assert "2 fills" in out
    assert "no instrument on file measures it" in out


def test_stop_finding_is_exit_code_one(run) -> None:
    code, out, _ = run({**EXAMPLE, "incompatible_pairs": [{"a": "p1", "b": "Wetter"}]})

    assert code == 1
    assert "mix.incompatible_pair" in {finding["code"] for finding in json.loads(out)["findings"]}


@pytest.mark.parametrize(
    ("content", "words"),
    [
        ("{", "is not JSON"),
        ("[1]", "holds no mix"),
        ('{"method": NaN}', "is not JSON"),
        (without("tank"), "The tank needs its capacity"),
        ({**EXAMPLE, "tank": {"capacity": {"value": "5,5", "unit": "L"}}}, "not a decimal number"),
        ({**EXAMPLE, "tank": {"capacity": {"value": "0", "unit": "L"}}}, "allowed: > 0"),
        ({**EXAMPLE, "tank": {"capacity": {"value": "5", "unit": "ha"}}}, "is not known"),
        ({**EXAMPLE, "extras": 1}, "not known: extras"),
    ],
)
def test_bad_file_is_exit_code_two_and_one_sentence(run, content: Any, words: str) -> None:
    code, out, err = run(content)

    assert (code, out) == (2, "")
    assert words in err
    assert err.startswith("tepal mix: ")
    assert err.count("\n") == 1


def test_missing_file_is_exit_code_two(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(["mix", str(tmp_path / "none.json")]) == 2
    assert "cannot be read" in capsys.readouterr().err
    assert cli.main(["mix"]) == 2
    assert "Name the JSON file" in capsys.readouterr().err


def test_standard_input_is_read(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    # sys.stdin is the command's real input; there is no seam to hand another one in.
    monkeypatch.setattr("sys.stdin", io.StringIO(json.dumps(EXAMPLE)))

    assert cli.main(["mix", "-"]) == 0
    assert json.loads(capsys.readouterr().out)["volume_l"] == 6.5


def test_schema_is_printed_and_is_a_schema(capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(["mix", "--schema"]) == 0

    assert jsonschema_rs.meta.is_valid(json.loads(capsys.readouterr().out))


def test_schema_takes_the_example_and_refuses_slips() -> None:
    validator = jsonschema_rs.validator_for(json.loads(schema_text()))

    assert validator.is_valid(EXAMPLE)
    assert not validator.is_valid(without("tank"))
    assert not validator.is_valid({**EXAMPLE, "extras": 1})
    assert not validator.is_valid({**EXAMPLE, "tank": {"capacity": {"value": "5,5", "unit": "L"}}})
    assert not validator.is_valid({**EXAMPLE, "tank": {"capacity": {"value": 5, "unit": "L"}}})


def test_schema_knows_the_fields_methods_and_units_of_the_core() -> None:
    schema = json.loads(schema_text())
    defs = schema["$defs"]

    assert set(schema["properties"]) == mix_request._REQUEST_FIELDS
    assert set(defs["component"]["properties"]) == mix_request._COMPONENT_FIELDS
    assert set(defs["line"]["properties"]) == mix_request._LINE_FIELDS
    assert set(schema["properties"]["season"]["items"]["properties"]) == mix_request._SEASON_FIELDS
    assert tuple(schema["properties"]["method"]["enum"]) == mix_request.METHODS
    for name in ("volume", "area", "length", "time", "speed", "temperature", "volume_per_area"):
        wanted = [code for code, unit in UNITS.items() if unit.dimension == name]
        assert defs[name]["properties"]["unit"]["enum"] == wanted
