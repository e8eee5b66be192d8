"""The day on a phone and in the office: the next step and trial work, as the shipped modules say."""

from __future__ import annotations

from typing import Any

import pytest

from support.node_calls import call_js
from tepal.services.trial_due import is_whole, trial_work
from tepal.sync.merge import RecordState

pytestmark = pytest.mark.node


def row(kind: str, record: str, state: str = "open", **fields: Any) -> dict[str, Any]:
    shown = {"state": state, "fields": fields, "revision": 1, "form_version": 1, "author": "m"}
    return {"key": f"{kind}/{record}", "kind": kind, "id": record, "shown": shown, "pending": []}


def state_of(kind: str, record: str, fields: dict[str, Any]) -> RecordState:
    return RecordState(kind, record, fields, "open", 1, 1, "m", 1)


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


TRIAL: dict[str, Any] = {
    "code": "T07", "phase": "running", "day_zero_on": "2026-05-01",
    "assessments": [
        {"code": "w2", "name": "Two weeks", "day": 14, "window": 2},
        {"code": "w4", "day": 28},
        {"code": "open", "sort": "daily_round", "day": 10, "until_day": 20},
    ],
}  # fmt: skip


@pytest.mark.parametrize(
    ("today", "begun", "states"),
    [
        # by hand: two weeks on 15 May, 13 to 17; four weeks on 29 May; rounds 11 to 21 May
        ("2026-05-10", [], {"w2": "planned", "open": "planned", "w4": "planned"}),
        ("2026-05-13", [], {"w2": "due", "open": "due", "w4": "planned"}),
        ("2026-05-17", [], {"w2": "due", "open": "due", "w4": "planned"}),
        ("2026-05-18", [], {"w2": "overdue", "open": "due", "w4": "planned"}),
        ("2026-05-18", ["w2"], {"w2": "begun", "open": "due", "w4": "planned"}),
        # a round of yesterday is none of today, and after its last day nothing can be made up for
        ("2026-05-18", ["open.2026-05-17"], {"w2": "overdue", "open": "due", "w4": "planned"}),
        ("2026-05-18", ["open.2026-05-18"], {"w2": "overdue", "open": "begun", "w4": "planned"}),
        ("2026-05-22", [], {"w2": "overdue", "w4": "planned"}),
    ],
)
def test_trial_work_of_a_day_is_the_same_on_the_page_and_on_the_paper(
    today: str, begun: list[str], states: dict[str, str]
) -> None:
    rows = [row("assessment", code, trial="t", code=code) for code in begun]
    on_page = call("trial-due", "trialWork", [row("trial", "t", **TRIAL)], rows, today)
    on_paper = trial_work(
        [state_of("trial", "t", TRIAL)],
        [state_of("assessment", code, {"trial": "t", "code": code}) for code in begun],
        today,
    )

    assert {one["code"]: one["state"] for one in on_page} == states
    assert [(o["code"], o["from"], o["to"], o["state"]) for o in on_page] == [
        (one.code, one.first, one.last, one.state) for one in on_paper
    ]


@pytest.mark.parametrize(
    ("today", "whole", "state"),
    [
        ("2026-05-17", False, "begun"),  # its days are not over
        ("2026-05-17", True, "done"),
        ("2026-05-18", False, "unfinished"),
        ("2026-05-18", True, "done"),
        ("2026-05-18", None, "begun"),  # not known: nothing is claimed
    ],
)
def test_an_assessment_that_was_begun_is_late_while_it_lacks_something(
    today: str, whole: bool | None, state: str
) -> None:
    rows = [row("assessment", "w2", trial="t", code="w2")]
    known = {} if whole is None else {"t w2": whole}
    on_page = call("trial-due", "trialWork", [row("trial", "t", **TRIAL)], rows, today, known)
    on_paper = trial_work(
        [state_of("trial", "t", TRIAL)],
        [state_of("assessment", "w2", {"trial": "t", "code": "w2"})],
        today,
        {} if whole is None else {("t", "w2"): whole},
    )

    assert next(one["state"] for one in on_page if one["code"] == "w2") == state
    assert next(one.state for one in on_paper if one.code == "w2") == state


PLANTS: dict[str, Any] = {
    **TRIAL, "plants_per_plot": 2,
    "plots": [{"plot": 1}, {"plot": 2}, {"plot": 9, "guard": True}],
    "measurements": [{"code": "height"}, {"code": "weight", "per": "plot"}, {"code": "other"}],
    "harvests": [{"assessment": "w0", "plants": [{"plot": 2, "plants": "1, 2"}]}],
    "assessments": [{"code": "w0", "day": 2},
                    {"code": "w2", "day": 14, "measurements": ["height", "weight"]}],
}  # fmt: skip
WHOLE: list[dict[str, Any]] = [
    {"plot": 1, "plant": 0, "m_weight": "3"},
    {"plot": 1, "plant": 1, "m_height": "14.6"},
    {"plot": 1, "plant": 2, "m_height": {"missing": "dead"}},
]


@pytest.mark.parametrize(
    ("at", "change", "is_right"),
    [
        (0, {}, True),  # plot 2 was harvested, the guard is nobody's
        (0, {"m_weight": None}, False),
        (1, {"m_height": None}, False),
        (2, {"plant": 3}, False),
    ],
)
def test_an_assessment_is_whole_once_every_plant_has_a_value_or_a_reason(
    at: int, change: dict[str, Any], *, is_right: bool
) -> None:
    rows = [{**one, **change} if i == at else one for i, one in enumerate(WHOLE)]
    assert is_whole(PLANTS, "w2", rows) is is_right


def test_only_running_trials_with_a_day_of_treatment_want_anything() -> None:
    others = [{**TRIAL, "phase": "planned"}, {**TRIAL, "day_zero_on": None}]
    assert not call("trial-due", "trialWork", [row("trial", "t", **one) for one in others], [],
                    "2026-05-15")  # fmt: skip
    assert not trial_work([state_of("trial", "t", one) for one in others], [], "2026-05-15")


NORTH = {"house": "n", "bench": "n1", "place": "North, Bench 1"}
SOUTH = {"house": "s", "bench": "s1", "place": "South, Bench 1"}


@pytest.mark.parametrize(
    ("pending", "lines", "houses"),
    [
        ([7], [NORTH, SOUTH], ["n", "s"]),  # amended here: the office has not been heard since
        ([], [NORTH, SOUTH], ["n"]),  # what the office said stands
        ([7], [NORTH], ["n"]),
    ],
)
def test_phone_that_amends_counts_the_added_house_before_the_office_is_heard(
    pending: list[int], lines: list[Any], houses: list[str]
) -> None:
    used = [{"name": "A", "rei": {"value": "4", "unit": "h"}}]
    application = {**row("application", "a", products=used, lines=lines), "pending": pending}
    stands = row(
        "restriction", "r", application="a", house="n", benches=["n1"], place="North, Bench 1",
        rei={"value": "4", "unit": "h"},
    )  # fmt: skip

    found = call("followed", "followedRows", [stands], [application], [], 0)

    assert [one["shown"]["fields"]["house"] for one in found] == houses
    assert len({one["key"] for one in found}) == len(found)


def test_amended_bench_brings_its_house_and_its_words() -> None:
    benches = [row("bench", "b", name="Bench 4", house="h"), row("bench", "loose", name="Yard")]
    houses = [row("house", "h", name="House 2")]
    at = [call("apply", "placeOfBench", one, benches, houses) for one in ("b", "loose", "gone")]
    assert at == [
        {"house": "h", "place": "House 2, Bench 4"}, {"house": None, "place": "Yard"},
        {"house": None, "place": None},
    ]  # fmt: skip
