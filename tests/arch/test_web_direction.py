"""The rooms of web/app import in one direction only; files stay small; forbidden calls stay out."""

from __future__ import annotations

import re
from pathlib import Path

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


def offenders(pattern: str, *, but: str = "") -> list[str]:
    """The modules in rooms whose code has a pattern, but for those whose path begins so."""
    return [
        module
        for module in IN_ROOMS
        if not (but and module.startswith(but)) and re.search(pattern, code_of(module))
    ]


def test_modules_import_only_from_rooms_below() -> None:
    wrong = []
    for module in IN_ROOMS:
        room = module.split("/", maxsplit=1)[0]
        for reference in references_in_js(source_of(module)):
            target = (APP / module).parent.joinpath(reference.path).resolve()
            target = target.relative_to(APP.resolve())
            if target.suffix == ".js" and target.parts[0] not in MAY_IMPORT[room] | {room}:
                wrong.append(f"{module} -> {target}")
    assert len(IN_ROOMS) > 200
    assert wrong == []


def test_packages_are_imported_only_where_they_belong() -> None:
    wrong = []
    for module in IN_ROOMS:
        room = module.split("/", maxsplit=1)[0]
        for name in re.findall(r'(?:from|import) "([@a-z][\w@/-]*)"', source_of(module)):
            is_drawing = name in ("preact", "preact/hooks", "htm", "preact-iso", "uplot")
            if (
                room == "core"  # pure
                or (name == "dexie" and room != "store")
                or (is_drawing and room not in ("ui", "forms", "pages", "state"))
            ):
                wrong.append(f"{module} imports {name}")
    assert wrong == []


def test_only_net_calls_fetch() -> None:
    assert offenders(r"(?<![\w.])fetch\(", but="net/") == []


def test_clock_and_chance_are_arguments() -> None:
    found = offenders(
        r"Date\.now\(|new Date\(\)|Math\.random\(|randomUUID\(|getRandomValues\(", but="net/"
    )
    assert found == []


def test_quantities_are_rounded_in_one_place() -> None:
    found = offenders(
        r"\.toFixed\(|\.toPrecision\(|toLocaleString\(|NumberFormat\(", but="core/rounding.js"
    )
    assert found == []


def test_modules_are_short_or_say_why() -> None:
    sources = {module: source_of(module).splitlines() for module in MODULES}

    assert [m for m, lines in sources.items() if len(lines) > 400 and "long" not in lines[0]] == []


def test_modules_say_what_they_are_for() -> None:
    assert [m for m in MODULES if not source_of(m).startswith(("//", "/*"))] == []


def test_nothing_writes_markup_from_text() -> None:
    pattern = r"innerHTML|outerHTML|insertAdjacentHTML|dangerouslySetInnerHTML|\beval\("

    assert [module for module in MODULES if re.search(pattern, code_of(module))] == []
