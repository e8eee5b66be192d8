"""What the register pages reckon: a lot's events and descent, stock, a house's plan, exposure.

All by hand; the modules are the shipped ones, run in Node.
"""

from __future__ import annotations

import json
from typing import Any

import pytest

from support.node_calls import call_js

pytestmark = pytest.mark.node

DAY_MS = 86_400_000


def q(value: str, unit: str) -> dict[str, str]:
    return {"value": value, "unit": unit}


def at(day: str, time: str = "10:00:00") -> dict[str, Any]:
    return {"local": f"2026-{day}T{time}", "offset_min": 0, "zone": "Etc/UTC"}


def row(kind: str, record: str, state: str = "open", **fields: Any) -> dict[str, Any]:
    shown = {"state": state, "fields": fields, "revision": 1, "form_version": 1, "author": "m"}
    return {"key": f"{kind}/{record}", "kind": kind, "id": record, "shown": shown, "pending": []}


def value(module: str, name: str, *args: Any) -> Any:
    return call_js(module, name, [list(args)])[0]["value"]


LOT = row("lot", "a", code="A", crop="Lantana", n_containers=100, benches=["b1"], stage="buds")


def event(what: str, told: dict[str, Any], *others: Any, fresh: Any = None) -> dict[str, Any]:
    found: dict[str, Any] = value(
        "state/lot-life.js", "eventOf", what, {"at": at("05-01"), **told}, LOT, list(others), fresh
    )
    return found


def wanted(found: dict[str, Any]) -> list[dict[str, Any]]:
    return [one["wanted"] for one in found["changes"]]


def test_split_takes_containers_along_and_remembers_its_parent() -> None:
    found = event("split", {"n_containers": 30}, fresh={"id": "n", "code": "A2"})

    assert wanted(found) == [{"n_containers": 70}]
    assert found["created"]["fields"] == {
        "crop": "Lantana", "stage": "buds", "code": "A2", "phase": "growing", "from_lots": ["a"],
        "n_containers": 30, "benches": ["b1"],
    }  # fmt: skip
    assert found["event"]["other_lots"] == ["n"]


@pytest.mark.parametrize(
    ("what", "told", "change"),
    [
        ("shipped", {"n_containers": 40}, {"n_containers": 60}),
        ("shipped", {"n_containers": 100},
         {"n_containers": 0, "phase": "shipped", "benches": None}),
        ("discarded", {}, {"phase": "discarded", "benches": None}),
        ("counted", {"n_containers": 97}, {"n_containers": 97}),
        ("stage", {"stage": "visible buds"}, {"stage": "visible buds", "bbch": None}),
        ("moved", {"benches": ["b2"]}, {"benches": ["b2"]}),
        ("stick", {"n_containers": 90}, {"n_containers": 90, "started_on": "2026-05-01"}),
    ],
)  # fmt: skip
def test_event_changes_its_lot(what: str, told: dict[str, Any], change: dict[str, Any]) -> None:
    [got] = wanted(event(what, told))

    assert change.items() <= got.items()


def test_merge_adds_up_and_empties_the_others() -> None:
    other = row("lot", "b", code="B", crop="Lantana", n_containers=25, benches=["b2"])

    found = event("merged", {"other_lots": ["b"]}, other)

    assert wanted(found) == [
        {"n_containers": 125, "benches": ["b1", "b2"], "from_lots": ["b"]},
        {"phase": "merged", "benches": None},
    ]


@pytest.mark.parametrize(
    ("what", "told", "code"),
    [
        ("shipped", {"n_containers": 101}, "life.more_than_there"),
        ("split", {"n_containers": 100}, "life.all_of_it"),
        ("counted", {}, "life.needed"),
        ("moved", {"benches": []}, "life.needed"),
    ],
)
def test_impossible_event_is_told(what: str, told: dict[str, Any], code: str) -> None:
    found = event(what, told, fresh={"id": "n", "code": "A2"})

    assert code in [one["code"] for one in found["problems"]]


def test_lots_of_two_crops_do_not_become_one() -> None:
    found = event("merged", {"other_lots": ["b"]}, row("lot", "b", crop="Salvia"))

    assert [one["code"] for one in found["problems"]] == ["life.other_crop"]


def test_parents_past_counts_up_to_the_split_and_no_further() -> None:
    child = row("lot", "c", code="C", crop="Lantana", from_lots=["a"])
    split = row("lot_event", "e", lot="a", what="split", other_lots=["c"], at=at("05-10"))
    applied = [
        row("application", day, started_at=at(day), lines=[{"lot": "a"}])
        for day in ("05-09", "05-11")
    ]
    book = {"lots": [LOT, child], "events": [split], "supplied": [], "applications": applied}

    life = value("state/lot-life.js", "lifeOf", "c", book)

    assert [(one["sort"], one["row"]["id"], one["from"]) for one in life] == [
        ("event", "e", None), ("applied", "05-09", "a"),
    ]  # fmt: skip


def test_descent_in_a_circle_ends() -> None:
    lots = [row("lot", "a", from_lots=["b"]), row("lot", "b", from_lots=["a"])]

    assert value("state/lot-life.js", "ancestorsOf", "a", lots, []) == [{"lot": "b", "until": ""}]


def test_stock_counts_density_and_names_what_it_left_out() -> None:
    batch = row("batch", "k", product="p", amount=q("1", "kg"), cost="50")
    used = [
        row("application", n, started_at=at(day),
            products=[{"batch": "k", "amount": amount, **more}])
        for n, day, amount, more in (
            ("1", "05-01", q("100", "g"), {}),
            ("2", "05-02", q("100", "mL"), {"density": q("1.1", "g/mL")}),
            ("3", "05-03", q("10", "mL"), {}),
        )
    ]  # fmt: skip
    void = row("application", "4", "void", started_at=at("05-04"),
               products=[{"batch": "k", "amount": q("500", "g")}])  # fmt: skip

    [stock] = value("state/stock.js", "stockOf", [batch], [], [*used, void], {})

    # 1000 g - 100 g - 100 mL x 1.1 g/mL; the third has no density
    assert stock["left"] == pytest.approx(790)
    assert (stock["n_uses"], stock["n_unread"]) == (3, 1)
    # 50 for 1000 g: 110 g cost 5.50
    assert stock["uses"][0]["cost"] == pytest.approx(5.5)


def exposure(*applications: Any, restrictions: tuple[Any, ...] = (), now: str) -> list[Any]:
    now_ms = value("core/moments.js", "momentMs", at(*now.split("T")))
    found: list[Any] = value(
        "state/exposure.js", "exposuresOf", list(applications), list(restrictions), now_ms
    )
    return found


def sprayed(record: str, ended: str | None, rei: str | None, kind: str = "product") -> Any:
    product = {"name": "x", "kind": kind, **({"rei": q(rei, "h")} if rei else {})}
    more = {"ended_at": at(*ended.split("T"))} if ended else {}
    return row("application", record, started_at=at("05-01"), products=[product], **more)


@pytest.mark.parametrize(
    ("ended", "rei", "kind", "now", "is_restricted"),
    [
        (None, "12", "product", "05-01T11:00:00", True),  # being applied
        ("05-01T10:00:00", "12", "product", "05-01T21:59:00", True),
        ("05-01T10:00:00", "12", "product", "05-01T22:01:00", False),
        ("05-01T10:00:00", None, "product", "05-20T10:00:00", True),  # unknown is never over
        ("05-01T10:00:00", None, "product", "06-20T10:00:00", False),
        ("05-01T10:00:00", None, "adjuvant", "05-01T10:01:00", False),
    ],
)
def test_what_people_may_be_exposed_to(
    ended: str | None, rei: str | None, kind: str, now: str, is_restricted: bool
) -> None:
    [found] = exposure(sprayed("a", ended, rei, kind), now=now)

    assert found["isRestricted"] is is_restricted


def test_place_that_nobody_reopened_stays_on_the_emergency_page() -> None:
    restriction = row("restriction", "r", application="a")
    late = "05-09T10:00:00"
    [left] = exposure(sprayed("a", "05-01T10:00:00", "12"), restrictions=(restriction,), now=late)
    reopened = row("restriction", "r", application="a", reopened_at=at("05-02"))
    [open_] = exposure(sprayed("a", "05-01T10:00:00", "12"), restrictions=(reopened,), now=late)

    assert (left["isRestricted"], open_["isRestricted"]) == (True, False)


def test_plan_puts_benches_where_they_were_measured_and_the_rest_in_order() -> None:
    house = {"length": q("20", "m"), "width": q("8", "m")}
    measured = {"length": q("10", "m"), "width": q("150", "cm"), "x": q("1", "m"), "y": q("2", "m")}
    cross = {"length": q("7", "m"), "width": q("1", "m"), "x": q("0", "m"), "y": q("18", "m")}
    benches = [
        {"id": "m", "fields": measured}, {"id": "across", "fields": cross},
        {"id": "loose", "fields": {"length": q("5", "m"), "width": q("1", "m")}},
    ]  # fmt: skip

    plan = value("state/house-plan.js", "planOf", house, [], benches)

    by_id = {one["id"]: one for one in plan["benches"]}
    assert (by_id["m"]["x"], by_id["m"]["width"], by_id["m"]["length"]) == (1, 1.5, 10)
    # 7 m long at 18 m of 20 m: it only fits across
    assert (by_id["across"]["width"], by_id["across"]["length"]) == (7, 1)
    assert not by_id["loose"]["isPlaced"]
    assert plan["isOutlineAssumed"]  # the loose one stands beyond the wall, which is said


@pytest.mark.parametrize(
    ("name", "bare"),
    [
        ("../../etc/passwd", "passwd.pdf"), ("C:\\labels\\a.PDF", "a.pdf"), (".hidden", "hidden.pdf"),
        ("Label: 15 Jan?.pdf", "Label 15 Jan.pdf"), ("", "label.pdf"), ("x" * 300, "x" * 116 + ".pdf"),
    ],
)  # fmt: skip
def test_file_keeps_its_bare_name(name: str, bare: str) -> None:
    assert value("net/document-file.js", "bareName", name, "pdf") == bare


def test_files_to_keep_are_current_small_first_and_of_products_in_use() -> None:
    products = [row("product", "p"), row("product", "gone", retired=True)]
    files = [
        row("label_file", "1", product="p", sha256="big", size=900),
        row("label_file", "2", product="p", sha256="small", size=9),
        row("label_file", "3", product="p", sha256="old", size=1, replaced=True),
        row("label_file", "4", product="gone", sha256="gone", size=1),
        row("label_file", "5", "void", product="p", sha256="void", size=1),
    ]

    found = value("sync/file-keeping.js", "wantedFiles", files, products)

    assert [one["sha256"] for one in found] == ["small", "big"]


@pytest.mark.parametrize(
    ("country", "line", "shown"),
    [
        ("US", "1-800-222-1222", "1-800-222-1222"), ("ES", "+1 800 222 1222", "foreign"),
        ("DE", "0049 30 19240", "0049 30 19240"), (None, "18002221222", "foreign"),
    ],
)  # fmt: skip
def test_us_numbers_stay_in_the_us(country: str | None, line: str, shown: str) -> None:
    module = "state/emergency-numbers.js"
    assert value(module, "ownPoisonLine", {"poison_line": line, "country": country}) == shown
    numbers = [one["number"] for one in value(module, "numbersFor", country)["list"]]
    assert ("911" in numbers) is (country == "US")


def held(record: str, number: int, group: str | None, **fields: Any) -> dict[str, Any]:
    told = {"device": "d", "number": number, "of_group": group, "reason": "proposed", **fields}
    found = row("held", record, **told)
    return {**found, "confirmed": {**found["shown"], "fields": dict(told)}}


def test_entries_of_one_proposal_are_one_question_in_the_order_they_were_made() -> None:
    rows = [held("c", 3, None), held("b", 2, "g"), held("a", 1, "g"), held("d", 4, "other")]

    found = value("state/held-groups.js", "questionsOf", rows)

    assert [[one["id"] for one in question] for question in found] == [["a", "b"], ["c"], ["d"]]


def test_entries_held_back_for_other_reasons_stay_questions_of_their_own() -> None:
    rows = [held("a", 1, "g", reason="device_revoked"), held("b", 2, "g", reason="device_revoked")]

    assert len(value("state/held-groups.js", "questionsOf", rows)) == 2


def test_answer_still_on_the_phone_is_one_for_the_whole_question() -> None:
    first, second = held("a", 1, "g"), held("b", 2, "g")
    assert value("state/held-groups.js", "isOpenQuestion", [first, second])

    first["shown"]["fields"]["decision"] = "accept"
    assert not value("state/held-groups.js", "isOpenQuestion", [first, second])

    first["confirmed"]["fields"]["decision"] = "accept"  # the other came in after the answer
    assert value("state/held-groups.js", "isOpenQuestion", [first, second])


def held_entry(record: str, of_id: str, changes: dict[str, Any], **more: Any) -> dict[str, Any]:
    text = json.dumps({"changes": {name: {"was": None, "to": to} for name, to in changes.items()}})
    return held(record, 1, None, **{"of_kind": "lot", "of_id": of_id, "text": text, **more})


def test_lot_that_was_only_proposed_has_the_name_its_entry_gives_it() -> None:
    """A split that waits: the new lot is no record yet, and the event names it."""
    rows = [
        held_entry("h1", "a", {"n_containers": 70}),
        held_entry("h2", "n", {"code": "A2", "crop": "Lantana"}),
        held_entry("h3", "gone", {"code": "A3"}, decision="refuse"),
        held_entry("h4", "odd", {}, text=""),
        held_entry("h5", "apart", {"code": "A4"}, reason="device_revoked"),
    ]

    found = value("state/held-groups.js", "recordsHeld", rows)

    assert found["lot/n"] == {"fields": {"code": "A2", "crop": "Lantana"}, "isAsked": True}
    assert found["lot/odd"] == {"fields": {}, "isAsked": True}
    assert found["lot/apart"] == {"fields": {"code": "A4"}, "isAsked": False}
    assert "lot/gone" not in found
