"""What a phone's rules read: the stricter of two undecided values, and unknown as unknown."""

from __future__ import annotations

from typing import Any

import pytest

from support.node_calls import call_js

pytestmark = pytest.mark.node


def row(key: str, **fields: Any) -> dict[str, Any]:
    return {"id": key, "shown": {"state": "open", "fields": fields}}


def hours(value: str) -> dict[str, str]:
    return {"value": value, "unit": "h"}


def test_only_rows_with_an_open_conflict_are_read_strictly() -> None:
    rows = [row("r1", rei=hours("2"), place="House 1"), row("r2", rei=hours("2"))]
    conflict = row("c1", of_kind="restriction", of_id="r1", field="rei", other=hours("8"))
    decided = row("c2", of_id="r2", field="rei", other=hours("8"), decision="current")

    [strict, plain] = call_js(
        "state/strict.js",
        "strictRows",
        [["restriction", rows, [conflict, decided]], ["restriction", rows, []]],
    )

    assert [one["shown"]["fields"] for one in strict["value"]] == [
        {"rei": hours("8"), "place": "House 1"},
        {"rei": hours("2")},
    ]
    assert plain["value"] == rows


def test_unknown_double_notice_is_not_no() -> None:
    yes, no, silent = ({"double_notice": value} for value in (True, False, None))
    wetter = {"kind": "adjuvant"}

    found = call_js(
        "state/restrictions.js",
        "doubleNotice",
        [[[no, yes, silent]], [[no, silent]], [[no, wetter]]],
    )

    assert found == [{"value": True}, {"value": None}, {"value": False}]
