"""The walk, the questions, the planner and the grid of a trial, as the shipped modules do them."""

from __future__ import annotations

from typing import Any

import pytest

from support.node_calls import call_js

pytestmark = pytest.mark.node

POINT, COMMA = {"decimal": ".", "thousands": ""}, {"decimal": ",", "thousands": ""}
HEIGHT = {
    "code": "height", "name": "Height", "type": "continuous", "unit": "cm", "per": "plant",
    "least": "5", "most": "60", "decimals": 1,
}  # fmt: skip
COLOUR = {"code": "colour", "type": "rating", "per": "plot", "least": "1", "most": "5"}
TRIAL: dict[str, Any] = {
    "code": "T07", "plants_per_plot": 2, "day_zero_on": "2026-05-01",
    "measurements": [HEIGHT, COLOUR],
    "plots": [
        {"plot": 2, "code": "102", "block": 1, "treatment": 2},
        {"plot": 1, "code": "101", "block": 1, "treatment": 1},
        {"guard": True, "row": 1, "column": 1},
        {"plot": 3, "code": "201", "block": 2, "treatment": 2},
    ],
    "assessments": [
        {"code": "w2", "day": 14, "window": 2, "measurements": ["height"]},
        {"code": "w4", "day": 28, "window": 2, "measurements": ["height", "colour"]},
        {"code": "round", "sort": "daily_round", "day": 20, "until_day": 40, "measurements": []},
    ],
}  # fmt: skip


def one(module: str, name: str, *args: Any) -> Any:
    answer = call_js(f"state/{module}.js", name, [list(args)])[0]
    return answer.get("value", answer.get("error"))


def test_walk_goes_by_plot_number_with_the_plot_before_its_plants() -> None:
    stops = one("measure", "stopsOf", TRIAL, TRIAL["assessments"][1])

    assert [(s["code"], s["plant"]) for s in stops] == [
        ("101", 0), ("101", 1), ("101", 2), ("102", 0), ("102", 1), ("102", 2),
        ("201", 0), ("201", 1), ("201", 2),
    ]  # fmt: skip
    assert [s["inBlock"] for s in stops if s["plant"] == 0] == [1, 2, 1]


def test_treatment_is_named_by_its_mix_and_rate_until_somebody_types_a_name() -> None:
    mixes = [{"id": "m", "name": "Drench"}, {"id": "n", "name": "Drench 4 mg/L"}]

    def named(one_: dict[str, Any], more: dict[str, Any]) -> Any:
        return one("trial-plan", "namedByMix", one_, more, mixes)["name"]

    rate = {"role": "rate", "name": "", "rate": "", "rate_unit": "mg/L"}
    assert named(rate, {"tank_mix": "m"}) == "Drench"
    assert named({**rate, "tank_mix": "m", "name": "Drench"}, {"rate": "4"}) == "Drench 4 mg/L"
    assert named({**rate, "rate": "4", "name": "4 mg/L"}, {"tank_mix": "n"}) == "Drench 4 mg/L"
    assert named({**rate, "name": "My own"}, {"rate": "4"}) == "My own"
    assert named({**rate, "tank_mix": "m", "name": "Drench"}, {"name": ""}) == ""
    assert named({"role": "water", "name": "water check"}, {"role": "other"}) == "water check"


@pytest.mark.parametrize(
    ("value", "earlier", "code"),
    [
        ("14.6", None, None),
        ("4.9", None, "below_range"),
        ("146", None, "above_range"),
        ("14.6", "20.0", "fell"),  # more than a tenth below
        ("18.5", "20.0", None),
        ("60", "19.0", "rose"),  # more than three times
    ],
)
def test_question_comes_after_entry_and_only_where_there_is_one(
    value: str, earlier: str | None, code: str | None
) -> None:
    found = one(
        "measure", "questionAbout", HEIGHT, value, {"earlier": earlier, "numberFormat": POINT}
    )

    assert (found and found["code"]) == code


@pytest.mark.parametrize(
    ("text", "expected"),
    [("T07/201", {"at": 6}), ("t07/201", {"at": 6}), ("102", {"at": 3}),
     ("T08/201", {"problem": "other_trial", "code": "T08"}),
     ("999", {"problem": "no_such_plot", "code": "999"})],
)  # fmt: skip
def test_label_leads_to_its_plot(text: str, expected: dict[str, Any]) -> None:
    stops = one("measure", "stopsOf", TRIAL, TRIAL["assessments"][1])

    assert one("measure", "stopOfCode", text, "T07", stops) == expected


def test_digits_travel_with_a_point_whatever_the_establishment_writes() -> None:
    assert one("measure", "wireValue", "14,6", COMMA) == "14.6"
    assert one("measure", "wireValue", "14,", COMMA) == "14"
    assert one("measure", "wireValue", "", COMMA) is None


def test_assessment_is_due_in_its_window_and_a_round_until_its_last_day() -> None:
    assert one("measure", "dueOf", TRIAL, TRIAL["assessments"][0]) == {
        "from": "2026-05-13", "on": "2026-05-15", "to": "2026-05-17",
    }  # fmt: skip
    assert one("measure", "dueOf", TRIAL, TRIAL["assessments"][2])["to"] == "2026-06-10"


def test_factorial_names_partners_and_their_mix() -> None:
    rows = one(
        "trial-plan", "factorial",
        [{"name": "A", "levels": "0, 500 mg/L"}, {"name": "B", "levels": "0; 10 mg/L"}],
    )  # fmt: skip

    assert [(r["number"], r["role"], r["name"]) for r in rows] == [
        (1, "untreated", "untreated"), (2, "partner", "B 10 mg/L"), (3, "partner", "A 500 mg/L"),
        (4, "mix", "A 500 mg/L + B 10 mg/L"),
    ]  # fmt: skip


def test_plan_and_record_are_the_same_trial() -> None:
    fields = {
        **TRIAL, "title": "Drench", "design": "rcbd", "n_blocks": 2, "rows": 2, "columns": 2,
        "treatments": [
            {"number": 1, "name": "untreated", "role": "untreated"},
            {"number": 2, "name": "1,5", "role": "rate", "rate": "1.5", "rate_unit": "mg/L"},
        ],
        "cv": {"value": "6.5", "unit": "%"},
    }  # fmt: skip

    plan = one("trial-plan", "planOf", fields, COMMA)
    back = one("trial-plan", "fieldsOf", plan, COMMA)

    assert plan["treatments"][1]["rate"] == "1,5"
    for name in ("code", "title", "treatments", "measurements", "assessments", "cv", "n_blocks"):
        assert back[name] == fields[name], name


def test_odd_plot_is_found_among_blocks_and_treatments_that_differ() -> None:
    stops = [
        {"code": f"{b}{t:02d}", "block": b, "treatment": t, "plot": b * 4 + t, "plant": 1,
         "definitions": [HEIGHT]}
        for b in range(1, 5) for t in range(1, 5)
    ]  # fmt: skip
    noise = [0.1, -0.2, 0.3, 0.0, -0.1, 0.2, -0.3, 0.1, 0.2, 0.0, -0.2, 0.3, 0.1, -0.1, 0.0, 0.2]
    rows = {
        s["code"]: {"m_height": f"{20 + 3 * s['block'] + 2 * s['treatment'] + e:.1f}"}
        for s, e in zip(stops, noise, strict=True)
    }
    rows["302"]["m_height"] = "53.0"  # 33.1 with the digits turned round or so
    answer = call_js_with_rows(stops, rows)

    assert answer == ["302"]


def call_js_with_rows(stops: list[Any], rows: dict[str, Any]) -> Any:
    """Call oddPlots, which takes a function, through one line of Node."""
    import json
    import subprocess

    from support.node_calls import APP, node_path

    code = (
        f"import {{ oddPlots }} from {json.dumps((APP / 'state/trial-grid.js').as_uri())};"
        f"const rows = {json.dumps(rows)};"
        f"console.log(JSON.stringify(oddPlots({json.dumps(stops)}, (s) => rows[s.code],"
        f" {json.dumps(HEIGHT)})));"
    )
    done = subprocess.run(
        [node_path(), "--input-type=module", "-e", code], capture_output=True, text=True, check=True
    )
    return json.loads(done.stdout)


def test_list_to_measure_again_hides_which_plots_are_meant() -> None:
    codes = [f"{b}{t:02d}" for b in (1, 2, 3) for t in (1, 2, 3, 4)]

    found = one("trial-grid", "againList", ["203"], codes)

    assert "203" in found
    assert len(found) == 4
    assert found == sorted(found)


@pytest.mark.parametrize(
    ("text", "expected"),
    [("14,6", {"value": "14.6"}), ("", {"value": None}), ("tall", {"problem": "not_a_number"}),
     ("Not measured", {"value": {"missing": "not_measured", "note": None}}),
     ("14.6", {"problem": "other_decimal_mark"})],
)  # fmt: skip
def test_grid_cell_is_read_as_the_establishment_writes(text: str, expected: Any) -> None:
    assert one("trial-grid", "cellValue", text, HEIGHT, COMMA) == expected


def test_grid_says_and_understands_why_a_value_is_missing_in_the_readers_words() -> None:
    whys = {"dead": "muerta", "not_measured": "no medida"}
    missing = {"missing": "not_measured", "note": None}

    assert one("trial-grid", "cellText", missing, COMMA, whys) == "no medida"
    assert one("trial-grid", "cellValue", " No medida", HEIGHT, COMMA, whys) == {"value": missing}
    assert one("trial-grid", "cellValue", "dead", HEIGHT, COMMA, whys)["value"]["missing"] == "dead"


HARVESTED = {
    **TRIAL,
    "harvests": [{"assessment": "w2", "plants": [{"plot": 1, "plants": "2"}, {"plot": 2, "plants": "1"}]}],
}  # fmt: skip


def test_harvest_asks_for_the_drawn_plants_and_later_looks_never_again() -> None:
    at_harvest = one("measure", "stopsOf", HARVESTED, TRIAL["assessments"][0])
    after = one("measure", "stopsOf", HARVESTED, TRIAL["assessments"][1])

    assert [(s["plot"], s["plant"]) for s in at_harvest] == [(1, 2), (2, 1)]
    assert [(s["plot"], s["plant"]) for s in after if s["plant"] > 0] == [
        (1, 1), (2, 2), (3, 1), (3, 2),
    ]  # fmt: skip


def test_application_covers_the_plots_of_its_treatment_or_all_but_the_untreated_ones() -> None:
    place = {
        "key": "b/l", "bench": {"id": "b"}, "lot": {"id": "l"}, "area": {"value": "10", "unit": "m2"},
    }  # fmt: skip
    plots = [{**p, "bench": "b", "lot": "l"} for p in TRIAL["plots"] if "plot" in p]
    trial = {**TRIAL, "plots": plots, "plot_area": {"value": "0.35", "unit": "m2"}, "order": "o1"}

    own = one("measure", "trialAreas", trial, {"id": "o2", "treatment": 2}, [place])
    rest = one("measure", "trialAreas", trial, {"id": "o1", "treatment": 2}, [place])

    assert own["areas"] == {"b/l": {"value": "0.7", "unit": "m2"}}  # two plots of 0.35 m2
    assert own["containers"] == {"b/l": 4}
    assert rest["areas"] == {"b/l": {"value": "9.65", "unit": "m2"}}  # 10 less one plot untreated


def test_plants_that_died_or_are_named_are_not_potted_on() -> None:
    seen = [{"fields": {"plot": 1, "plant": 2, "condition": "dead"}}]

    typed = one("potting", "leftOut", "102, 201.1", TRIAL)
    wrong = one("potting", "leftOut", "201.3", TRIAL)

    assert one("potting", "goneOf", TRIAL, "2026-05-20", seen) is not None
    assert typed["problem"] == ""
    assert wrong["problem"] == "201.3"
    assert [a["code"] for a in one("potting", "aheadOf", TRIAL, "2026-05-20")] == ["w4", "round"]


@pytest.mark.parametrize(
    ("name", "weights", "code"),
    [
        ("rates", {"1": "2", "2": "-1", "3": "\u22121"}, ""),
        ("rates", {"1": "0,3", "2": "-0,1", "3": "-0,2"}, ""),  # 0.3 - 0.1 - 0.2 is no binary zero
        ("rates", {"1": "1", "2": "-0,33", "3": "-0,33", "4": "-0,33"}, "sum"),
        ("rates", {"1": "1", "2": "0"}, "none"),
        ("rates", {"1": "one", "2": "-1"}, "number"),
        ("rates", {"1": "1001", "2": "-1001"}, "number"),
        (" ", {"1": "1", "2": "-1"}, "name"),
        ("other", {"1": "1", "2": "-1"}, "twice"),
    ],
)
def test_contrast_is_whole_when_its_weights_add_up_to_zero(
    name: str, weights: dict[str, str], code: str
) -> None:
    contrast = {"name": name, "weights": weights}

    found = one("trial-contrasts", "contrastProblem", contrast, [{"name": "other"}], COMMA)

    assert found["code"] == code


def planned() -> dict[str, Any]:
    return {
        "code": "T07", "title": "Drench", "comparison": "dunnett", "primary_response": "height",
        "two_sided": True, "alpha": "0.05", "control": 1,
        "treatments": [
            {"number": n, "name": f"rate {n}", "role": "untreated" if n == 1 else "rate"}
            for n in (1, 2, 3)
        ],
        "contrasts": [
            {"name": "both", "weights": [
                {"treatment": 1, "weight": "-1"}, {"treatment": 2, "weight": "0.5"},
                {"treatment": 3, "weight": "0.5"},
            ]},
        ],
    }  # fmt: skip


def test_contrasts_come_back_from_the_planner_as_they_were_stored() -> None:
    plan = one("trial-plan", "planOf", planned(), COMMA)

    assert plan["contrasts"][0]["weights"]["2"] == "0,5"
    assert one("trial-plan", "fieldsOf", plan, COMMA)["contrasts"] == planned()["contrasts"]
    assert one("trial-contrasts", "judgedChanges", plan, planned(), COMMA) == []
    plan["contrasts"][0]["weights"]["2"] = "0,25"
    plan["comparison"] = "tukey"
    plan["title"] = "another"
    assert one("trial-contrasts", "judgedChanges", plan, planned(), COMMA) == [
        "comparison",
        "contrasts",
    ]


def test_treatment_taken_out_takes_its_weight_and_moves_the_others() -> None:
    plan = one("trial-plan", "planOf", planned(), POINT)

    left = one("trial-contrasts", "withoutTreatment", plan, 1)

    assert [t["name"] for t in left["treatments"]] == ["rate 1", "rate 3"]
    assert left["contrasts"][0]["weights"] == {"1": "-1", "2": "0.5"}


MIXED = {
    "plants_per_plot": 2,
    "measurements": [HEIGHT, COLOUR],
    "plots": [{"plot": n, "code": f"10{n}", "block": 1, "treatment": n} for n in (1, 2)],
    "assessments": [{"code": "w4", "day": 28, "measurements": ["height", "colour"]}],
}


def in_grid(call: str) -> Any:
    """Return what a function of the grid says of the mixed trial: rows of plots between plants."""
    import json
    import subprocess

    from support.node_calls import APP, node_path

    code = (
        f"import * as grid from {json.dumps((APP / 'state/trial-grid.js').as_uri())};"
        f"import * as measure from {json.dumps((APP / 'state/measure.js').as_uri())};"
        f"const trial = {json.dumps(MIXED)}; const planned = trial.assessments[0];"
        "const stops = measure.stopsOf(trial, planned);"
        "const columns = measure.definitionsOf(trial, planned);"
        f"console.log(JSON.stringify(grid.{call}));"
    )
    done = subprocess.run(
        [node_path(), "--input-type=module", "-e", code], capture_output=True, text=True, check=True
    )
    return json.loads(done.stdout)


def test_paste_of_plants_passes_over_rows_of_plots_and_says_what_found_no_place() -> None:
    # rows: plot 101, its plants 1 and 2, plot 102, its plants 1 and 2
    lines = '[["14,1"], [" 15,2 "], [""], ["17,4", "4"], ["18,5"]]'

    found = in_grid(f"placed({lines}, {{ r: 1, c: 0 }}, stops, columns)")

    assert found["cells"] == [[1, 0, "14,1"], [2, 0, "15,2"], [5, 0, "17,4"]]
    assert found["left"] == 2  # the 4 beside a plant, which has no colour, and the last line


def test_keys_move_to_the_next_row_that_has_the_measurement() -> None:
    assert in_grid("nextCell({ r: 0, c: 1 }, 1, 0, stops, columns)") == {"r": 3, "c": 1}
    assert in_grid("nextCell({ r: 4, c: 0 }, -1, 0, stops, columns)") == {"r": 2, "c": 0}
    assert in_grid("nextCell({ r: 3, c: 1 }, 1, 0, stops, columns)") is None


@pytest.mark.parametrize("text", ["NA", "-", "null", " n/a "])
def test_grid_understands_how_a_spreadsheet_says_nothing(text: str) -> None:
    missing = {"missing": "not_measured", "note": None}
    assert one("trial-grid", "cellValue", text, HEIGHT, COMMA) == {"value": missing}
