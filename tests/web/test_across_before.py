"""Which question of past trials a mix on these lots would ask again, as the shipped module picks it."""

from __future__ import annotations

from typing import Any

import pytest

from support.node_calls import call_js

pytestmark = pytest.mark.node

MIX = {"id": "mix", "shown": {"revision": 7, "fields": {}}}


def lot(crop: str, eppo: str | None = None) -> dict[str, Any]:
    return {"id": crop, "shown": {"fields": {"crop": crop, "crop_eppo": eppo}}}


def question(key: str, **of: Any) -> dict[str, Any]:
    return {
        "key": key, "crop_key": "SALSP", "crop_names": ["salvia"], "is_primary": True,
        "is_untreated": True, "n": 2, "mixes": {"mix": 7}, **of,
    }  # fmt: skip


def before(
    questions: list[dict[str, Any]], lots: list[dict[str, Any]], mix: Any = MIX
) -> list[str]:
    answer = call_js("state/across.js", "questionsBefore", [[questions, mix, lots]])[0]
    return [one["key"] for one in answer["value"]]


@pytest.mark.parametrize("crop", [lot("Salvia"), lot("  SALVIA "), lot("Sage", "salsp")])
def test_crop_is_met_by_name_or_code(crop: dict[str, Any]) -> None:
    assert before([question("a")], [crop]) == ["a"]


def test_other_crop_changed_mix_no_figure_and_no_mix_meet_nothing() -> None:
    assert before([question("a")], [lot("Lantana", "LANCA")]) == []
    assert before([question("a", mixes={"mix": 6})], [lot("Salvia")]) == []
    assert before([question("a", n=0)], [lot("Salvia")]) == []
    assert before([question("a")], [lot("Salvia")], None) == []


def test_one_line_a_crop_untreated_and_primary_first() -> None:
    questions = [
        question("water", is_untreated=False, n=9), question("width", is_primary=False, n=5),
        question("height"), question("other", crop_key="LANCA", crop_names=["lantana"]),
    ]  # fmt: skip

    assert before(questions, [lot("Salvia"), lot("Lantana")]) == ["height", "other"]
