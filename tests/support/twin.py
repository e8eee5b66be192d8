"""Runs the pure functions in both languages: Python directly, JS in Node with the shipped modules.

Cases are `{"function": "module.name", "args": {...}}` with Python's names, or `{"program": [...]}`
(see tests/web/core/call_core.js); results are `{"value": ...}` or `{"error": code, "context": ...}`
with JSON values, so that both sides can be compared.
"""

from __future__ import annotations

import collections.abc
import dataclasses
import importlib
import json
import subprocess
import types
import typing
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from support.node_calls import node_path
from tepal.domain.errors import TepalError

ROOT = Path(__file__).resolve().parents[2]
CORE = ROOT / "web" / "app" / "core"
DOMAIN = ROOT / "server" / "tepal" / "domain"
RUNNER = ROOT / "tests" / "web" / "core" / "run_core.mjs"

# Modules of the mix core and of the rules; other twins have their own runners.
MODULES = (
    "air",
    "amounts",
    "applied",
    "areas",
    "calibration",
    "checks",
    "components",
    "dilution",
    "doses",
    "entry",
    "errors",
    "followed",
    "growth",
    "heights",
    "house_checks",
    "injector",
    "label_checks",
    "label_uses",
    "leftover",
    "lines",
    "loads",
    "measuring",
    "mix_request",
    "mixing_order",
    "moments",
    "ranges",
    "requirements",
    "restriction",
    "rounding",
    "shares",
    "signs",
    "slips",
    "standards",
    "stock",
    "stock_checks",
    "stricter",
    "strength",
    "tank",
    "units",
    "ventilation",
)


def run_js(cases: list[dict[str, Any]]) -> dict[str, Any]:
    """Return `{"names": exports per module, "results": [...]}` of the cases run in Node."""
    with TemporaryDirectory() as folder:
        cases_path = Path(folder) / "cases.json"
        results_path = Path(folder) / "results.json"
        cases_path.write_text(json.dumps({"modules": MODULES, "cases": cases}))
        done = subprocess.run(
            [node_path(), str(RUNNER), str(CORE), str(cases_path), str(results_path)],
            capture_output=True,
            text=True,
            check=False,
            timeout=120,
        )
        if done.returncode != 0:
            raise AssertionError(done.stderr)
        results: dict[str, Any] = json.loads(results_path.read_text())
        return results


@cache
def _modules() -> dict[str, types.ModuleType]:
    return {name: importlib.import_module(f"tepal.domain.{name}") for name in MODULES}


@cache
def _types() -> dict[str, Any]:
    known: dict[str, Any] = {
        "Any": Any,
        "Mapping": collections.abc.Mapping,
        "Sequence": collections.abc.Sequence,
    }
    for module in _modules().values():
        for name in module.__dict__:
            value = getattr(module, name)
            if isinstance(value, type):
                known[name] = value
    return known


def _built(kind: Any, value: Any) -> Any:
    """Return a JSON value as the dataclasses that an annotation asks for."""
    if value is None:
        return None
    if dataclasses.is_dataclass(kind) and isinstance(kind, type):
        hints = typing.get_type_hints(kind, localns=_types())
        return kind(**{key: _built(hints[key], item) for key, item in value.items()})
    arguments = typing.get_args(kind)
    if isinstance(kind, types.UnionType) or typing.get_origin(kind) is typing.Union:
        return _built(next(one for one in arguments if one is not type(None)), value)
    if isinstance(value, list) and arguments:
        items = [_built(arguments[0], item) for item in value]
        return tuple(items) if typing.get_origin(kind) is tuple else items
    return value


def _plain(value: Any) -> Any:
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return {
            field.name: _plain(getattr(value, field.name)) for field in dataclasses.fields(value)
        }
    if isinstance(value, dict):
        return {key: _plain(item) for key, item in value.items()}
    if isinstance(value, (list, tuple)):
        return [_plain(item) for item in value]
    return value


def call_py(name: str, args: dict[str, Any]) -> dict[str, Any]:
    """Return what the Python twin gives for one call, as JSON values."""
    module_name, _, member = name.partition(".")
    module = _modules().get(module_name)
    function = getattr(module, member, None)
    if module is None or not callable(function):
        raise AssertionError(f"no function {name} in tepal.domain")
    hints = typing.get_type_hints(function, localns=_types())
    built = [_built(hints.get(key), value) for key, value in args.items()]
    try:
        return {"value": _plain(function(*built))}
    except TepalError as error:
        return {"error": error.code, "context": _plain(error.context)}


def program_py(steps: list[list[Any]]) -> dict[str, Any]:
    """Run a program of calls; an argument {"$": n, "field": name} is (a field of) result n."""
    results: list[Any] = []
    for name, args in steps:
        filled = {}
        for key, value in args.items():
            if isinstance(value, dict) and "$" in value:
                result = results[value["$"]]
                filled[key] = result[value["field"]] if "field" in value else result
            else:
                filled[key] = value
        result = call_py(name, filled)
        if "error" in result:
            return result
        results.append(result["value"])
    return {"value": results[-1]}


def run_py(cases: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Return the results of the cases in Python."""
    return [
        program_py(case["program"])
        if "program" in case
        else call_py(case["function"], case["args"])
        for case in cases
    ]


def camel(name: str) -> str:
    """Return Python's snake_case name as JS writes it."""
    first, *rest = name.split("_")
    return first + "".join(part[:1].upper() + part[1:] for part in rest)


def differences(a: Any, b: Any, rel_tol: float, where: str = "") -> list[str]:
    """Return where two JSON values differ; messages for developers are not compared."""
    if isinstance(a, bool) or isinstance(b, bool) or a is None or b is None:
        return [] if a is b else [f"{where}: {a!r} != {b!r}"]
    if isinstance(a, (int, float)) and isinstance(b, (int, float)):
        if a == b or abs(a - b) <= rel_tol * max(abs(a), abs(b)):
            return []
        return [f"{where}: {a!r} != {b!r}"]
    if isinstance(a, dict) and isinstance(b, dict):
        found = [] if a.keys() == b.keys() else [f"{where}: {sorted(a)} != {sorted(b)}"]
        for key in a.keys() & b.keys():
            if key != "message":
                found += differences(a[key], b[key], rel_tol, f"{where}.{key}")
        return found
    if isinstance(a, list) and isinstance(b, list):
        found = [] if len(a) == len(b) else [f"{where}: {len(a)} items != {len(b)}"]
        for index, (one, other) in enumerate(zip(a, b, strict=False)):
            found += differences(one, other, rel_tol, f"{where}[{index}]")
        return found
    return [] if a == b else [f"{where}: {a!r} != {b!r}"]
