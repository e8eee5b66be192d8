"""Every screen has help in both languages: what it is for, what to press, what it does not know."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

APP = Path(__file__).parents[2] / "web" / "app"
NAMES = set(re.findall(r'\[/.*?/, "(\w+)"\]', (APP / "ui" / "help.js").read_text())) | {"register"}


@pytest.mark.parametrize("language", ["en", "es"])
def test_every_help_has_its_three_parts_and_no_help_is_left_over(language: str) -> None:
    words = json.loads((APP / "locale" / f"help.{language}.json").read_text())
    shared = {"help.open", "help.for", "help.press", "help.not", "help.label"}
    parts = {f"help.{name}{part}" for name in NAMES for part in ("", ".for", ".press", ".not")}

    assert len(NAMES) > 20
    assert set(words) == shared | parts
    assert all(len(text) < 260 for text in words.values())
