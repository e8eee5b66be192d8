"""Python and JS give the same numbers, have the same names and the same units."""

from __future__ import annotations

import inspect
import re
from typing import Any

import pytest

from support.twin import CORE, DOMAIN, MODULES, camel, differences, run_js, run_py
from support.twin_cases import has_exp, twin_cases
from tepal.domain import errors, units

SEED = 20261125
N_CASES = 10_000

pytestmark = pytest.mark.node


@pytest.fixture(scope="module")
def computed() -> list[tuple[dict[str, Any], dict[str, Any]]]:
    """The random cases, each with what Python says."""
    cases = twin_cases(SEED, N_CASES)
    return list(zip(cases, run_py(cases), strict=True))


@pytest.mark.full
@pytest.mark.xdist_group("core_twin")
def test_random_inputs_give_equal_numbers(
    computed: list[tuple[dict[str, Any], dict[str, Any]]],
) -> None:
    cases = [case for case, _ in computed]
    js = run_js(cases)["results"]

    unequal = []
    for (case, one), other in zip(computed, js, strict=True):
        # Arithmetic is bit-equal; exp differs in the last digits between V8 and Python.
        found = differences(one, other, 1e-12 if has_exp(case) else 0.0)
        if found:
            unequal.append((case, found))
    assert len(cases) == N_CASES
    assert unequal == []


@pytest.mark.full
@pytest.mark.xdist_group("core_twin")
def test_random_inputs_reach_results_and_errors(
    computed: list[tuple[dict[str, Any], dict[str, Any]]],
) -> None:
    """A generator that only drew errors would prove nothing."""
    plans = [result for case, result in computed if case["function"] == "tank.tank_plan"]

    assert sum("value" in plan for plan in plans) > 300
    assert len({result["error"] for _, result in computed if "error" in result}) > 20


def python_names(module_name: str) -> set[str]:
    """Names that JS must have too: functions, constants and errors; records are typedefs there."""
    module = __import__(f"tepal.domain.{module_name}", fromlist=["*"])
    public = getattr(module, "__all__", None) or [
        name
        for name, value in vars(module).items()
        if getattr(value, "__module__", "") == module.__name__ and not name.startswith("_")
    ]
    names = set()
    for name in public:
        value = getattr(module, name)
        if inspect.isclass(value) and not issubclass(value, (errors.TepalError, errors.Finding)):
            continue
        if value is errors.Severity:
            continue
        names.add(camel(name) if inspect.isfunction(value) else name)
    return names


@pytest.fixture(scope="module")
def js_names() -> dict[str, list[str]]:
    return run_js([])["names"]


@pytest.mark.parametrize("module", MODULES)
def test_modules_have_the_same_public_names(module: str, js_names: dict[str, list[str]]) -> None:
    assert set(js_names[module]) == python_names(module)


@pytest.mark.parametrize("module", MODULES)
def test_records_are_typedefs_in_js(module: str) -> None:
    python = (DOMAIN / f"{module}.py").read_text()
    source = (CORE / f"{module}.js").read_text()
    records = re.findall(
        r"^@dataclass\(frozen=True, slots=True\)\nclass (\w+)|^class (\w+)\(TypedDict\)",
        python,
        re.MULTILINE,
    )

    for first, second in records:
        name = first or second
        if name != "Finding":
            assert re.search(rf"@typedef \{{.*\}} {name}\b", source), name


def test_units_are_the_same_table() -> None:
    source = (CORE / "units.js").read_text()
    table = source[source.index("const ROWS = [") : source.index("];")]
    rows = re.findall(
        r'\["([^"]+)",\s*"(\w+)",\s*([\d.]+),\s*([\d.]+),\s*([\d.]+),\s*"([^"]*)",\s*"(\w+)"\s*,?\s*\]',
        re.sub(r"\n\s+", " ", table).replace("[ ", "["),
    )

    assert [(c, d, float(n), float(m), float(o), s, y) for c, d, n, m, o, s, y in rows] == [
        (u.code, u.dimension, u.numerator, u.denominator, u.offset, u.symbol, u.system)
        for u in units.UNITS.values()
    ]
