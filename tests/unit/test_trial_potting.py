"""Plants that were potted on are samples of the plots in which they were treated as liners."""

from __future__ import annotations

from typing import Any

import pytest

from tepal.designs.potting import draw_harvests
from tepal.designs.specs import DesignError
from tepal.services.trial_book import _plots, data_of
from tepal.services.trial_exports import tidy_rows
from tepal.services.trial_harvests import plants_of
from tepal.services.trial_potting import by_origin
from tepal.services.trial_table import cell_rows
from tepal.sync.merge import RecordState

TREATMENTS = [{"number": 1, "name": "untreated"}, {"number": 2, "name": "drench"}]
HEIGHT = {"code": "height", "type": "continuous", "per": "plot"}
LINER: dict[str, Any] = {
    "code": "T05", "design": "rcbd", "plants_per_plot": 2, "treatments": TREATMENTS,
    "plots": [
        {"plot": 1, "code": "101", "row": 1, "column": 1, "block": 1, "treatment": 2},
        {"plot": 2, "code": "102", "row": 1, "column": 2, "block": 1, "treatment": 1},
    ],
}  # fmt: skip
POTTED: dict[str, Any] = {
    "code": "T06", "design": "rcbd", "plants_per_plot": 1, "treatments": TREATMENTS, "control": 1,
    "measurements": [HEIGHT], "potted_on": "2026-05-20",
    "assessments": [
        {"code": "d28", "day": 28, "measurements": ["height"]},
        {"code": "cut", "day": 35, "sort": "harvest", "measurements": ["height"]},
        {"code": "d42", "day": 42, "measurements": ["height"]},
    ],
    "plots": [  # one liner, plant 1 of plot 2, was not potted on
        {"plot": 1, "code": "001", "row": 1, "column": 1, "block": 1, "treatment": 2, "origin": "1.2"},
        {"plot": 2, "code": "002", "row": 1, "column": 2, "block": 1, "treatment": 1, "origin": "2.2"},
        {"plot": 3, "code": "003", "row": 1, "column": 3, "block": 1, "treatment": 2, "origin": "1.1"},
    ],
}  # fmt: skip


def seen(plot: int, height: str, look: str = "d28") -> RecordState:
    fields = {"assessment": look, "plot": plot, "plant": 0, "m_height": height}
    return RecordState("observation", f"o{plot}{look}", fields, "open", 1, 1, "", plot)


def potted(rows: list[RecordState], fields: dict[str, Any] = POTTED) -> Any:
    data = data_of(fields, rows, (), (), (), {})
    return by_origin(data, fields, LINER, tuple(_plots(LINER, {})), {})


def test_pots_are_plants_of_their_liner_plots_which_stay_the_units() -> None:
    data = potted([seen(1, "20"), seen(2, "31"), seen(3, "22")])

    assert [(p.number, p.code, p.treatment, p.block) for p in data.plots] == [
        (1, "101", 2, 1), (2, "102", 1, 1),
    ]  # fmt: skip
    rows = cell_rows(data, data.measurement("height"), "d28", None)
    assert [(r.plot, r.plant, r.value) for r in rows] == [
        (1, 1, "22.0"), (1, 2, "20.0"), (2, 2, "31.0"),
    ]  # fmt: skip
    assert data.potting.code == "T05"
    assert data.potting.n_lost == 1
    assert [row[-1] for row in tidy_rows(data)] == ["003", "001", "002"]


def test_liner_treated_wrongly_keeps_what_it_got_after_potting_on() -> None:
    data = data_of(POTTED, [seen(1, "20")], (), (), (), {})

    data = by_origin(data, POTTED, LINER, tuple(_plots(LINER, {1: (2, 1, "2026-05-01")})), {})

    assert {p.number: p.treatment for p in data.plots} == {1: 1, 2: 1}


def test_pot_treated_wrongly_between_two_moves_becomes_a_plot_of_its_own() -> None:
    data = data_of(POTTED, [seen(1, "20"), seen(3, "22")], (), (), (), {})

    data = by_origin(data, POTTED, LINER, tuple(_plots(LINER, {})), {(1, 2): 1})

    assert sorted((p.code, p.treatment) for p in data.plots) == [("101", 1), ("101", 2), ("102", 1)]
    of = {p.number: p.treatment for p in data.plots}
    assert {v.value: of[v.plot] for v in data.values} == {20: 1, 22: 2}


def test_pot_that_was_harvested_is_no_missing_value_afterwards() -> None:
    fields = {**POTTED, "harvests": [
        {"assessment": "cut", "plants_per_plot": 1, "plants": [{"plot": 3, "plants": "1"}]}
    ]}  # fmt: skip
    data = potted([seen(1, "25", "d42"), seen(3, "9", "cut")], fields)
    height = data.measurement("height")

    cut = cell_rows(data, height, "cut", None)
    after = cell_rows(data, height, "d42", None)

    assert [(r.plot, r.plant, r.value) for r in cut] == [(1, 1, "9.0")]
    assert [(r.plot, r.plant, r.why) for r in after] == [(1, 2, ""), (2, 2, "not_recorded")]
    assert plants_of(fields, 3, "cut") == [1]
    assert plants_of(fields, 3, "d42") == []
    assert plants_of(fields, 1, "cut") == []


def test_harvests_take_no_plant_twice_and_say_when_a_plot_runs_out() -> None:
    units = [("1", [(1, 1), (1, 2), (1, 3)]), ("2", [(2, 1), (2, 2), (2, 3)])]

    first, second = draw_harvests(units, [(1, ()), (2, ("2",))], 7)

    assert sorted(plot for plot, _ in first) == [1, 2]
    assert {plot for plot, _ in second} == {2}
    assert not set(first) & set(second)
    with pytest.raises(DesignError, match="2 left"):
        draw_harvests(units, [(1, ()), (3, ())], 7)
