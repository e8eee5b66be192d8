"""The browser fills messages as the server does: both run tests/vectors/words."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from support.node_calls import call_js
from tepal.domain.words import WordsError, fill_message

VECTOR = json.loads(
    (Path(__file__).parents[1] / "vectors" / "words" / "fill_message.json").read_text()
)
CASES = VECTOR["cases"]


@pytest.mark.parametrize("case", CASES, ids=lambda case: case["id"])
def test_server_fills_the_message(case: dict[str, Any]) -> None:
    if "error" in case:
        with pytest.raises(WordsError) as caught:
            fill_message(**case["args"])
        assert caught.value.code == case["error"]
    else:
        assert fill_message(**case["args"]) == case["expect"]


@pytest.mark.node
def test_browser_fills_the_messages() -> None:
    calls = [[case["args"]["message"], case["args"]["params"]] for case in CASES]

    results = call_js("core/words.js", "fillMessage", calls)

    assert results == [
        {"error": case["error"]} if "error" in case else {"value": case["expect"]} for case in CASES
    ]


def test_case_file_has_as_many_cases_as_it_says() -> None:
    assert len(CASES) == VECTOR["n_cases"]
