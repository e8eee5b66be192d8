"""The day on a phone and in the office: what is the next step, as the shipped modules say it."""

from __future__ import annotations

from typing import Any

import pytest

from support.node_calls import call_js

pytestmark = pytest.mark.node


def row(kind: str, record: str, state: str = "open", **fields: Any) -> dict[str, Any]:
    shown = {"state": state, "fields": fields, "revision": 1, "form_version": 1, "author": "m"}
    return {"key": f"{kind}/{record}", "kind": kind, "id": record, "shown": shown, "pending": []}


def call(module: str, name: str, *args: Any) -> Any:
    answer = call_js(f"state/{module}.js", name, [list(args)])[0]
    return answer.get("value", answer.get("error"))


DUE = [{"row": row("spray_order", "o1"), "state": "late"}]


@pytest.mark.parametrize(
    ("running", "due", "begun", "step"),
    [
        (False, [], None, "fresh"),
        (False, [], {"order": None}, "begun"),
        (False, DUE, None, "order"),
        (False, DUE, {"order": None}, "order"),  # a due order comes before what was begun beside it
        (False, DUE, {"order": "o2"}, "order"),
        (False, DUE, {"order": "o1"}, "begun"),  # the same order: it goes on where it was left
        (True, DUE, {"order": "o1"}, "running"),
    ],
)
def test_next_step_is_what_runs_then_the_due_order_then_what_was_begun(
    running: bool, due: list[Any], begun: Any, step: str
) -> None:
    found = {"running": running, "due": due, "begun": begun}
    assert call("orders", "nextStep", found) == step


@pytest.mark.parametrize(
    ("form", "is_begun"),
    [
        (None, False),
        ({"step": "where", "places": [], "note": " "}, False),
        ({"step": "where", "places": ["b1"]}, True),
        ({"mix": "m"}, True),
        ({"order": "o"}, True),
        ({"note": "wind from the door"}, True),
        ({"record": "a"}, True),
    ],
)
def test_a_form_is_begun_once_somebody_chose_something(form: Any, is_begun: bool) -> None:
    assert call("apply-draft", "isBegun", form) is is_begun


@pytest.mark.parametrize(
    ("form", "is_other"),
    [
        ({"order": None, "places": []}, False),  # nothing chosen: the order fills it
        ({"order": "o1", "places": ["b1"]}, False),  # the order itself goes on
        ({"order": None, "places": ["b1"]}, True),  # what was chosen by hand is not overwritten
        ({"order": "o2", "places": ["b1"]}, True),
        ({"order": "o2", "record": "a"}, True),
    ],
)
def test_an_order_never_overwrites_what_was_begun_beside_it(form: Any, is_other: bool) -> None:
    assert call("apply-draft", "isOtherBegun", form, "o1") is is_other
