"""Layouts and sizes over HTTP: drawn by the engine, refused where they would rewrite the past."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import jsonschema_rs
import pytest

from support.book import Book
from tepal.services import trial_file
from tepal.services.trial_book import trial_data
from tepal.services.trials import measured_plots, stored_layout
from tepal.store.database import read_session

if TYPE_CHECKING:
    from collections.abc import Iterator

TREATMENTS = [{"number": n, "name": f"rate {n}", "role": "rate"} for n in (1, 2, 3)]
ASKED: dict[str, Any] = {
    "design": "rcbd",
    "treatments": TREATMENTS,
    "n_blocks": 4,
    "plants_per_plot": 2,
    "bench": {"rows": 6, "columns": 5, "guard_rows": 1, "guard_columns": 1},
    "seed": 7,
}


@pytest.fixture
def book(tmp_path: Any) -> Iterator[Book]:
    book = Book(tmp_path)
    yield book
    book.close()


def test_layout_holds_every_treatment_once_in_every_block_and_marks_guards(book: Book) -> None:
    reply = book.manager.post("/api/v1/trials/layout", ASKED)

    plots = measured_plots(reply.json)
    assert len(plots) == 12
    for block in range(1, 5):
        assert sorted(p["treatment"] for p in plots if p["block"] == block) == [1, 2, 3]
    assert [p["code"] for p in plots[:4]] == ["101", "102", "103", "201"]
    assert sum(bool(p.get("guard")) for p in reply.json["plots"]) == 30 - 4 * 3


def test_same_seed_draws_the_same_layout_and_no_seed_another(book: Book) -> None:
    first = book.manager.post("/api/v1/trials/layout", ASKED).json
    again = book.manager.post("/api/v1/trials/layout", ASKED).json
    fresh = book.manager.post(
        "/api/v1/trials/layout", {k: v for k, v in ASKED.items() if k != "seed"}
    ).json

    assert first == again
    assert fresh["seed"] != first["seed"]


def laid_out(book: Book) -> str:
    """Save a trial with a layout; return its id."""
    drawn = book.manager.post("/api/v1/trials/layout", ASKED).json
    trial = book.uuid()
    fields = {"code": "T07", "title": "Drench", "treatments": TREATMENTS, **drawn}
    text = book.manager.entry("trial", "create", record=trial, fields=fields)
    assert book.manager.exchange(text)["results"][0]["outcome"] == "accepted"
    return trial


def test_new_layout_asks_for_a_reason_before_the_first_application(book: Book) -> None:
    trial = laid_out(book)

    without = book.manager.post("/api/v1/trials/layout", {**ASKED, "trial": trial})
    with_one = book.manager.post(
        "/api/v1/trials/layout", {**ASKED, "trial": trial, "reason": "a post in the way"}
    )

    assert (without.status_code, without.json["code"]) == (422, "trials.reason_missing")
    assert with_one.status_code == 200


def test_layout_of_a_treated_trial_stays(book: Book) -> None:
    trial = laid_out(book)
    book.manager.exchange(book.manager.entry("application", "create", fields={"trial": trial}))

    reply = book.manager.post(
        "/api/v1/trials/layout", {**ASKED, "trial": trial, "reason": "did not like it"}
    )

    assert (reply.status_code, reply.json["code"]) == (422, "trials.already_treated")


def test_layout_that_arrives_after_the_treatment_waits(book: Book) -> None:
    trial = laid_out(book)
    manager = book.manager
    manager.cursor = None
    plots = next(r["fields"]["plots"] for r in manager.exchange()["records"] if r["id"] == trial)
    turned = [{**p, "treatment": 1 + p["treatment"] % 2} if "plot" in p else p for p in plots]
    moved = [{**plot, "row": plot["row"] + 10} for plot in plots]
    manager.exchange(manager.entry("application", "create", fields={"trial": trial}))

    outcomes = [
        manager.exchange(
            manager.entry(
                "trial", "change", record=trial, fields={"plots": {"was": plots, "to": to}}
            )
        )["results"][0]
        for to in (turned, moved)
    ]

    assert [(one["outcome"], one.get("reason")) for one in outcomes] == [
        ("waiting", "trial_treated"), ("accepted", None)
    ]  # fmt: skip


def test_potting_on_keeps_treatment_and_origin_of_every_plant(book: Book) -> None:
    trial = laid_out(book)
    stored = stored_layout(book.manager.post("/api/v1/trials/layout", ASKED).json | {
        "treatments": TREATMENTS
    })  # fmt: skip
    was = {plot.number: plot.treatment for plot in stored.plots}

    reply = book.manager.post(
        f"/api/v1/trials/{trial}/potted", {"bench": {"rows": 4, "columns": 6}, "seed": 3}
    )

    assert len(reply.json["plots"]) == 24
    assert all(p["treatment"] == was[int(p["origin"].split(".")[0])] for p in reply.json["plots"])
    assert len({p["origin"] for p in reply.json["plots"]}) == 24


def saved(book: Book, kind: str, fields: dict[str, Any]) -> str:
    record = book.uuid()
    text = book.manager.entry(kind, "create", record=record, fields=fields)
    assert book.manager.exchange(text)["results"][0]["outcome"] == "accepted"
    return record


def test_plants_potted_on_twice_stay_samples_of_their_liner_plots(book: Book) -> None:
    liners = laid_out(book)
    bench = {"bench": {"rows": 4, "columns": 6}, "seed": 3}
    first = book.manager.post(f"/api/v1/trials/{liners}/potted", bench).json
    about = {"title": "Drench", "treatments": TREATMENTS}
    pots = saved(book, "trial", {**about, "code": "T08", "origin": liners, **first})
    wrong = next(p for p in first["plots"] if p["treatment"] == 1)
    told = [{"plot": wrong["plot"], "planned": 1, "actual": 3}]
    saved(book, "application", {"trial": pots, "plots": told})
    kept = [[p["plot"], 1] for p in first["plots"][:20]] + [[wrong["plot"], 1]]
    kept = [list(one) for one in {tuple(one) for one in kept}]

    second = book.manager.post(
        f"/api/v1/trials/{pots}/potted", {**bench, "seed": 4, "kept": kept}
    ).json
    last = saved(book, "trial", {**about, "code": "T09", "origin": pots, **second})

    of = {p["origin"]: p["treatment"] for p in first["plots"]}
    assert {p["origin"] for p in second["plots"]} == {
        p["origin"] for p in first["plots"] if [p["plot"], 1] in kept
    }
    assert all(p["treatment"] == of[p["origin"]] for p in second["plots"])
    with book.app.app_context(), read_session() as db:
        data = trial_data(db, book.establishment, last)
    units = {p.number: p for p in data.plots}
    assert data.potting is not None
    assert data.potting.code == "T07"
    assert {p.code for p in units.values()} <= {f"{b}0{n}" for b in range(1, 5) for n in (1, 2, 3)}
    now = next(p for p in second["plots"] if p["origin"] == wrong["origin"])
    [move] = [m for m in data.potting.moves if m.code == now["code"]]
    assert units[move.plot].treatment == 3
    document = book.manager.get(f"/api/v1/trials/{last}/file").json
    assert document["liner"]["code"] == "T07"
    # what it got between the two moves, and what a pot got after them, comes back with the file
    late = next(p for p in second["plots"] if p["treatment"] == 2)
    told = [{"plot": late["plot"], "planned": 2, "actual": 1}]
    saved(book, "application", {"trial": last, "plots": told})
    document = book.manager.get(f"/api/v1/trials/{last}/file").json
    jsonschema_rs.validate(trial_file.schema(), document)
    made = book.manager.post("/api/v1/trials/file", {"file": document}).json
    with book.app.app_context(), read_session() as db:
        here = trial_data(db, book.establishment, last)
        there = trial_data(db, book.establishment, made["id"])
    assert {p.code for p in here.plots} == {p.code for p in there.plots}
    got = {(p.number, p.treatment) for p in there.plots}
    assert got == {(p.number, p.treatment) for p in here.plots}
    assert len(got) == len(here.plots) > len({p.code for p in there.plots})
    plots = book.manager.get(f"/api/v1/trials/{made['id']}/file").json["trial"]["plots"]
    assert [p["treatment"] for p in plots] == [p["treatment"] for p in document["trial"]["plots"]]


def test_size_says_that_a_trial_cannot_answer_its_question(book: Book) -> None:
    asked = {
        "design": "rcbd", "comparison": "control", "n_treatments": 6, "n_replicates": 3,
        "difference_pct": 10, "plot_cv_pct": 12,
    }  # fmt: skip

    reply = book.manager.post("/api/v1/trials/size", asked)

    assert reply.json["power"] < 0.3
    assert reply.json["findings"][0]["code"] == "designs.too_small_for_question"


@pytest.mark.parametrize(
    ("change", "code"),
    [
        ({"design": "guess"}, "http.invalid"),
        ({"n_blocks": 0}, "http.invalid"),
        ({"treatments": TREATMENTS[:1]}, "designs.too_few_treatments"),
        ({"bench": {"rows": 2, "columns": 2}}, "designs.bench_too_small"),
    ],
)
def test_layout_that_cannot_be_says_why(book: Book, change: dict[str, Any], code: str) -> None:
    reply = book.manager.post("/api/v1/trials/layout", {**ASKED, **change})

    assert (reply.status_code, reply.json["code"]) == (422, code)


def test_plan_changed_after_the_first_value_is_told_with_its_reason(book: Book) -> None:
    trial = laid_out(book)
    contrast = {"name": "both rates", "weights": [
        {"treatment": 1, "weight": "2"}, {"treatment": 2, "weight": "-1"},
        {"treatment": 3, "weight": "-1"},
    ]}  # fmt: skip
    observed = {
        "trial": trial, "assessment": "w2", "plot": 1, "plant": 1, "m_height": "12.5",
    }  # fmt: skip
    plan = {
        "assessments": [{"code": "w2", "name": "Two weeks", "day": 14}],
        "measurements": [{"code": "height", "name": "Height", "type": "continuous"}],
        "comparison": "dunnett",
    }
    late = {
        "comparison": {"was": "dunnett", "to": "tukey"}, "contrasts": [contrast],
        "note": "no question of the plan",
    }  # fmt: skip

    replies = book.manager.exchange(
        book.manager.entry("trial", "change", record=trial, fields=plan),
        book.manager.entry("observation", "create", fields=observed),
        book.manager.entry("trial", "change", record=trial, fields=late, reason="asked <later>"),
    )["results"]

    assert [r["outcome"] for r in replies] == ["accepted"] * 3
    with book.app.app_context(), read_session() as db:
        data = trial_data(db, book.establishment, trial)
    assert [(c.name, c.before, c.after, c.on, c.reason) for c in data.plan_changes] == [
        ("comparison", "dunnett", "tukey", "2026-05-12", "asked <later>"),
        ("contrasts", "", "both rates (1: 2, 2: -1, 3: -1)", "2026-05-12", "asked <later>"),
    ]
    assert all(c.by for c in data.plan_changes)
    assert data.plan.contrasts[0].coefficients == ((1, 2.0), (2, -1.0), (3, -1.0))
