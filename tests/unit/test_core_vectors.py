"""The shared vectors of the mix core, run by Python and by Node.

A file per public function in tests/vectors/<module>/<function>.json. Both runners fail on an unknown
function, a case without an expectation, or a wrong count. `expect` is the whole answer, `expect_at`
parts of it by path ("loads.0.volume_l", "findings.length"), `error` the code of the error.
"""

from __future__ import annotations

import functools
import importlib
import inspect
import json
from typing import Any

import pytest

from support.twin import MODULES, ROOT, differences, run_js, run_py
from tepal.domain.units import UNITS

VECTORS = ROOT / "tests" / "vectors"
KEYS = {"function", "schema", "generator_version", "source", "n_cases", "rel_tol", "flags", "cases"}
OUTCOMES = {"expect", "expect_at", "error"}


def public_functions(module: str) -> set[str]:
    loaded = importlib.import_module(f"tepal.domain.{module}")
    names = getattr(loaded, "__all__", None) or [n for n in vars(loaded) if not n.startswith("_")]
    return {
        name
        for name in names
        if inspect.isfunction(getattr(loaded, name))
        and getattr(loaded, name).__module__ == loaded.__name__
    }


@functools.cache
def files() -> dict[str, dict[str, Any]]:
    return {
        f"{path.parent.name}.{path.stem}": json.loads(path.read_text())
        for module in MODULES
        for path in sorted((VECTORS / module).glob("*.json"))
    }


CASES = [(name, case) for name, document in files().items() for case in document["cases"]]
IDS = [f"{name}-{case['id']}" for name, case in CASES]


@functools.cache
def js_results() -> dict[str, dict[str, Any]]:
    cases = [{"function": name, "args": case["args"]} for name, case in CASES]
    results: list[dict[str, Any]] = run_js(cases)["results"]
    assert len(results) == len(CASES)
    return dict(zip(IDS, results, strict=True))


def at(value: Any, path: str) -> Any:
    for part in path.split("."):
        if part == "length":
            return len(value)
        value = value[int(part)] if isinstance(value, list) else value[part]
    return value


def check(case: dict[str, Any], rel_tol: float, result: dict[str, Any]) -> None:
    if "error" in case:
        assert result.get("error") == case["error"], result
        return
    assert "value" in result, result
    if "expect" in case:
        assert differences(result["value"], case["expect"], rel_tol) == []
        return
    assert case["expect_at"]
    for path, expected in case["expect_at"].items():
        # A difference of two nearly equal numbers (0 % error) has no relative tolerance.
        got = at(result["value"], path)
        if expected == 0 and isinstance(got, float):
            assert abs(got) < 1e-9, path
        else:
            assert differences(got, expected, rel_tol, path) == []


@pytest.mark.parametrize("module", MODULES)
def test_every_public_function_has_its_vectors(module: str) -> None:
    stored = {name.split(".")[1] for name in files() if name.startswith(f"{module}.")}

    assert stored == public_functions(module)


@pytest.mark.parametrize("name", list(files()))
def test_file_is_complete(name: str) -> None:
    document = files()[name]
    cases = document["cases"]

    assert set(document) == KEYS
    assert document["function"] == name.split(".")[1]
    assert document["source"]
    assert document["n_cases"] == len(cases) > 0
    assert len({case["id"] for case in cases}) == len(cases)
    for case in cases:
        assert len(OUTCOMES & set(case)) == 1, case["id"]
        assert set(case) - OUTCOMES == {"id", "why", "args", "flags"}, case["id"]
    assert set(document["flags"]) == {flag for case in cases for flag in case["flags"]}


def test_vectors_list_every_unit() -> None:
    listed = [
        case["args"]["code"] for case in files()["units.to_base"]["cases"] if "expect" in case
    ]

    assert listed == list(UNITS)


def faults(name: str, results: list[dict[str, Any]]) -> dict[str, str]:
    """Return what is wrong with the results of a file's cases, by case."""
    document = files()[name]
    found = {}
    for case, result in zip(document["cases"], results, strict=True):
        try:
            check(case, document["rel_tol"], result)
        except AssertionError as error:
            found[case["id"]] = str(error)
    return found


@pytest.mark.parametrize("name", list(files()))
def test_vectors_in_python(name: str) -> None:
    cases = [{"function": name, "args": case["args"]} for case in files()[name]["cases"]]

    assert faults(name, run_py(cases)) == {}


@pytest.mark.node
@pytest.mark.parametrize("name", list(files()))
def test_vectors_in_js(name: str) -> None:
    results = [js_results()[f"{name}-{case['id']}"] for case in files()[name]["cases"]]

    assert faults(name, results) == {}
