"""Every message exists in both languages, is asked for somewhere, and asks for the same values."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from tepal.domain.words import places_of

ROOT = Path(__file__).resolve().parents[2]
LOCALE = ROOT / "web" / "app" / "locale"
PARTS = sorted({path.name.split(".")[0] for path in LOCALE.glob("*.json")})
# Parts that only the server speaks: papers, and the book as papers print it. A phone need not carry them.
SERVER_PARTS = {"trial_words", "trial_papers", "book", "papers"}
CODE = r"[a-z][a-z0-9_]*(?:\.[a-z0-9_]+)+"


def catalogue(language: str) -> dict[str, str]:
    merged: dict[str, str] = {}
    for path in sorted(LOCALE.glob(f"*.{language}.json")):
        merged |= json.loads(path.read_text())
    return merged


def sources() -> list[str]:
    js = [
        path.read_text()
        for path in (ROOT / "web" / "app").rglob("*.js")
        if "vendor" not in path.parts
    ]
    return js + [path.read_text() for path in (ROOT / "server").rglob("*.py")]


@pytest.mark.parametrize("part", PARTS)
def test_part_has_the_same_codes_in_both_languages(part: str) -> None:
    en = json.loads((LOCALE / f"{part}.en.json").read_text())
    es = json.loads((LOCALE / f"{part}.es.json").read_text())

    assert set(en) == set(es)


@pytest.mark.parametrize("language", ["en", "es"])
def test_no_code_stands_twice(language: str) -> None:
    seen: dict[str, str] = {}
    for path in sorted(LOCALE.glob(f"*.{language}.json")):
        pairs = json.loads(path.read_text(), object_pairs_hook=list)
        for code, _ in pairs:
            assert code not in seen, f"{code} stands in {seen.get(code)} and {path.name}"
            seen[code] = path.name


def test_places_are_the_same_in_both_languages() -> None:
    en, es = catalogue("en"), catalogue("es")

    for code, message in en.items():
        assert places_of(message) == places_of(es[code]), code


@pytest.mark.parametrize("language", ["en", "es"])
def test_message_has_words_and_no_loose_braces(language: str) -> None:
    for code, message in catalogue(language).items():
        assert message.strip() == message, code
        assert message or code.startswith("papers.column."), code  # a column without a head
        left = re.sub(r"\{\w+(?:\|[^{}|]*\|[^{}|]*)?\}", "", message)
        assert not re.search(r"[{}|]", left), code


def test_every_code_that_a_page_asks_for_exists() -> None:
    known = catalogue("en")
    for source in sources():
        for code in re.findall(rf"""\bt\(\s*["']({CODE})["']""", source):
            assert code in known, code


def test_every_composed_code_fits_some_message() -> None:
    known = catalogue("en")
    for source in sources():
        for text in re.findall(r"\bt\(\s*`([^`]*\$\{[^`]*)`", source):
            parts = re.split(r"\$\{[^}]*\}", text)
            pattern = re.compile(r"[\w.,/\-]+".join(map(re.escape, parts)))
            assert any(map(pattern.fullmatch, known)), text


def test_no_message_is_left_over() -> None:
    """A code counts as used when it is quoted somewhere, or fits a code put together from parts."""
    quoted: set[str] = set()
    patterns: list[re.Pattern[str]] = []
    for source in sources():
        quoted |= set(re.findall(rf"""["'`]({CODE})["'`]""", source))
        # JS `install.${kind}.1`, Python f"field.{kind}.{name}"
        put_together = r"""[`"']((?:[a-z0-9_]+\.)+(?:[a-z0-9_.]*\$?\{[^}\n]*\}[a-z0-9_.]*)+)[`"']"""
        for text in re.findall(put_together, source):
            parts = re.split(r"\$?\{[^}]*\}", text)
            patterns.append(re.compile(r"[\w.,/\-]+".join(map(re.escape, parts))))
    # reports/words.py picks one of two sentences by count
    quoted |= {f"{code}.{form}" for code in quoted for form in ("one", "other")}
    left = [
        code
        for code in catalogue("en")
        if code not in quoted and not any(pattern.fullmatch(code) for pattern in patterns)
    ]

    assert left == []


def test_every_catalogue_file_is_read_by_the_app() -> None:
    listed = set(re.findall(r'"\./([\w.-]+\.json)"', (LOCALE / "catalogues.js").read_text()))

    assert listed == {
        path.name for path in LOCALE.glob("*.json") if path.name.split(".")[0] not in SERVER_PARTS
    }
