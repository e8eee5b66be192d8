"""The rooms of web/app import in one direction only; files stay small; forbidden calls stay out."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from tepal.api.web_references import references_in_js

APP = Path(__file__).resolve().parents[2] / "web" / "app"
# room -> rooms it may import from (itself is always allowed)
MAY_IMPORT = {
    "core": set(),
    "store": {"core"},
    "sync": {"core"},
    "net": {"core"},
    "locale": {"core"},
    "state": {"core"},
    "ui": {"core"},
    "forms": {"ui", "core"},
    "pages": {"forms", "ui", "state", "core"},
}
MODULES = sorted(
    path.relative_to(APP).as_posix()
    for path in APP.rglob("*.js")
    if path.relative_to(APP).parts[0] != "vendor"
)
IN_ROOMS = [module for module in MODULES if "/" in module]


def source_of(module: str) -> str:
    return (APP / module).read_text()


def code_of(module: str) -> str:
    """The source without its comments (good enough for looking up calls)."""
    source = re.sub(r"/\*.*?\*/", "", source_of(module), flags=re.DOTALL)
    return re.sub(r"(?m)(?<!:)//.*$", "", source)


@pytest.mark.parametrize("module", IN_ROOMS)
def test_module_imports_only_from_rooms_below(module: str) -> None:
    room = module.split("/", maxsplit=1)[0]
    for reference in references_in_js(source_of(module)):
        target = (APP / module).parent.joinpath(reference.path).resolve().relative_to(APP.resolve())
        if target.suffix == ".js":
            assert target.parts[0] in MAY_IMPORT[room] | {room}, f"{module} -> {target}"


@pytest.mark.parametrize("module", IN_ROOMS)
def test_package_is_imported_only_where_it_belongs(module: str) -> None:
    room = module.split("/", maxsplit=1)[0]
    for name in re.findall(r'(?:from|import) "([@a-z][\w@/-]*)"', source_of(module)):
        assert room != "core", f"core is pure, but {module} imports {name}"
        if name == "dexie":
            assert room == "store"
        if name in ("preact", "preact/hooks", "htm", "preact-iso", "uplot"):
            assert room in ("ui", "forms", "pages", "state")


@pytest.mark.parametrize("module", IN_ROOMS)
def test_only_net_calls_fetch(module: str) -> None:
    if not module.startswith("net/"):
        assert not re.search(r"(?<![\w.])fetch\(", code_of(module))


@pytest.mark.parametrize("module", IN_ROOMS)
def test_clock_and_chance_are_arguments(module: str) -> None:
    if not module.startswith("net/"):
        assert not re.search(
            r"Date\.now\(|new Date\(\)|Math\.random\(|randomUUID\(|getRandomValues\(",
            code_of(module),
        )


@pytest.mark.parametrize("module", IN_ROOMS)
def test_quantities_are_rounded_in_one_place(module: str) -> None:
    if module != "core/rounding.js":
        assert not re.search(
            r"\.toFixed\(|\.toPrecision\(|toLocaleString\(|NumberFormat\(", code_of(module)
        )


@pytest.mark.parametrize("module", MODULES)
def test_module_is_short_or_says_why(module: str) -> None:
    lines = source_of(module).splitlines()

    assert len(lines) <= 400 or "long" in lines[0], module


@pytest.mark.parametrize("module", MODULES)
def test_module_says_what_it_is_for(module: str) -> None:
    assert source_of(module).startswith(("//", "/*")), f"{module} needs a head comment"


@pytest.mark.parametrize("module", MODULES)
def test_nothing_writes_markup_from_text(module: str) -> None:
    assert not re.search(
        r"innerHTML|outerHTML|insertAdjacentHTML|dangerouslySetInnerHTML|\beval\(", code_of(module)
    )
