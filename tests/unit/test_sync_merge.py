"""Merge of one entry into one record, from hand-made vectors."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tepal.sync.entry import Change
from tepal.sync.merge import RecordState, merge, same

VECTORS = json.loads(
    (Path(__file__).parents[1] / "vectors" / "merge" / "merge.json").read_text(encoding="utf-8")
)


def record(fields: dict, state: str) -> RecordState:
    return RecordState("application", "r", fields, state, 3, 1, "m", 2)


def test_every_vector_is_counted() -> None:
    assert len(VECTORS["cases"]) == VECTORS["n_cases"]
    assert len({case["id"] for case in VECTORS["cases"]}) == VECTORS["n_cases"]


@pytest.mark.parametrize("case", VECTORS["cases"], ids=lambda case: case["id"])
def test_merge_matches_vector(case: dict) -> None:
    args, expect = case["args"], case["expect"]
    current = None if args["current"] is None else record(**args["current"])

    result = merge(
        current,
        action=args["action"],
        changes={name: Change(*pair) for name, pair in args["changes"].items()},
        reason=args["reason"],
        new=record({}, "open"),
        signed_field="signature",
    )

    assert result.outcome == expect["outcome"]
    assert result.waits_for == expect.get("waits_for")
    if result.waits_for is not None:
        assert result.record == current
        return
    assert {k: v for k, v in result.record.fields.items() if v is not None} == expect["fields"]
    assert result.record.state == expect["state"]
    assert [
        {"field": c.field, "current": c.current, "other": c.other, "was": c.was}
        for c in result.conflicts
    ] == expect["conflicts"]


@pytest.mark.parametrize(
    ("left", "right", "equal"),
    [
        (True, 1, False),
        (0, False, False),
        (1, 1.0, True),
        ([1, [True]], [1, [1]], False),
        ({"a": None}, {}, False),
        ({"a": 1, "b": 2}, {"b": 2, "a": 1}, True),
        ("1", 1, False),
        (None, None, True),
    ],
)
def test_same_tells_json_values_apart(left: object, right: object, equal: bool) -> None:
    assert same(left, right) is equal
