"""What keeps a layout from being drawn is said in the reader's words: every code has a message."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
LOCALE = ROOT / "web" / "app" / "locale"
#: Findings and what only a bug can reach: a choice among nothing.
NOT_ASKED = {
    "designs.shared_pass", "designs.plants_are_samples", "designs.too_small_for_question",
    "designs.choice_out_of_range",
}  # fmt: skip


def raised() -> set[str]:
    sources = [path.read_text() for path in (ROOT / "server" / "tepal" / "designs").glob("*.py")]
    return {code for text in sources for code in re.findall(r'"(designs\.[a-z_]+)"', text)}


@pytest.mark.parametrize("language", ["en", "es"])
def test_every_refusal_of_a_layout_has_words(language: str) -> None:
    words: dict[str, str] = {}
    for path in LOCALE.glob(f"*.{language}.json"):
        words |= json.loads(path.read_text())

    codes = raised() - NOT_ASKED
    assert len(codes) > 25
    assert {code for code in codes if f"error.{code}" not in words} == set()
