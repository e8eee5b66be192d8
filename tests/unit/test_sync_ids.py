"""Ids that follow from what a record is about."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tepal.sync.ids import shared_id

VECTORS = json.loads(
    (Path(__file__).resolve().parents[1] / "vectors/ids/shared_id.json").read_text()
)


@pytest.mark.parametrize("case", VECTORS["cases"], ids=lambda case: case["id"])
def test_shared_id_follows_from_its_parts(case: dict[str, object]) -> None:
    args = case["args"]
    assert isinstance(args, list)

    assert shared_id(*args) == case["expect"]
