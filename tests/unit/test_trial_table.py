"""The rows of a cell: what is left out, lost, not opened, treated otherwise than planned."""

from __future__ import annotations

import csv
import io

from support.demo_trials import demo_trial_data
from support.trial_sample import FLOWER, HEIGHT, drench
from tepal.designs.trial import Formulation, Partners
from tepal.services.trial_analysis import analyse_cell
from tepal.services.trial_book import actual_treatments, data_of
from tepal.services.trial_exports import csv_text, file_name, r_script, tidy_csv
from tepal.services.trial_table import cell_rows
from tepal.sync.merge import RecordState


def test_excluded_plot_has_no_value_and_says_so() -> None:
    data = drench()  # plot 5 was left out on day 44 only

    rows = {r.plot: r for r in cell_rows(data, HEIGHT, "a44", None) if r.plant == 1}
    before = {r.plot: r for r in cell_rows(data, HEIGHT, "a22", None) if r.plant == 1}

    assert (rows[5].value, rows[5].why) == ("", "excluded")
    assert before[5].value != ""
    assert (rows[17].value, rows[17].why) == ("", "not_recorded")  # lost on day 30
    figures = {p.plot: p for p in analyse_cell(data, "height", "a44").plots}
    assert figures[5].value is None
    assert figures[5].residual is None


def test_plant_that_no_round_saw_open_counts_as_still_closed() -> None:
    data = drench()
    opened = {(v.plot, v.plant) for v in data.values if v.measurement == "flower"}

    rows = cell_rows(data, FLOWER, "round", None)

    closed = [r for r in rows if (r.plot, r.plant) not in opened]
    assert all(r.value == ">56" for r in closed)
    lost = [r for r in rows if r.plot == 17 and r.value == ""]
    assert {r.why for r in lost} <= {"lost"}


def test_demo_trials_give_partners_blanks_and_the_last_day_of_the_round() -> None:
    found = demo_trial_data()

    assert found["T08"].partners == (Partners(1, 2, 3, 4),)
    assert found["T08"].formulations == (Formulation(3, 5, 4, 6),)
    assert found["T07"].assessment("round").until_day == 48
    assert found["T07"].plan.covariate == "height"


def test_plot_treated_otherwise_is_analysed_as_treated() -> None:
    fields = {
        "started_at": {"local": "2026-05-12T07:10:00"},
        "plots": [
            {"plot": 3, "planned": 2, "actual": 4},
            {"plot": 4, "planned": 2, "actual": 2},
        ],
    }
    record = RecordState("application", "x", fields, "signed", 1, 1, "m", 1)

    assert actual_treatments([record.fields]) == {3: (2, 4, "2026-05-12")}


def test_tidy_table_holds_every_plant_of_every_cell() -> None:
    data = drench()

    rows = list(csv.DictReader(io.StringIO(tidy_csv(data))))

    assert len(rows) == 36 * 3 * 5
    assert {r["why_empty"] for r in rows if r["value"] == ""} >= {"excluded", "not_recorded"}


def test_text_that_a_spreadsheet_would_run_is_quoted() -> None:
    assert csv_text(("a",), [("=1+1",), ("-2",), ("plain",)]) == "a\r\n'=1+1\r\n'-2\r\nplain\r\n"


def test_hostile_titles_stay_inside_comments_and_strings_of_the_script() -> None:
    from dataclasses import replace

    data = replace(drench(), title='x"\nsystem("ls")', code='../a";b')

    script = r_script(data)

    assert '\nsystem("ls")' not in script
    assert file_name(data) == "a--b"


def test_value_measured_again_blind_stands_beside_the_first_and_is_not_analysed() -> None:
    plan = {
        "treatments": [{"number": 1, "name": "untreated"}],
        "measurements": [{"code": "height", "type": "continuous"}],
        "assessments": [{"code": "a28", "day": 28, "measurements": ["height"]}],
        "plots": [{"plot": 1, "code": "101", "treatment": 1}],
    }

    def seen(assessment: str, height: str, **more: object) -> RecordState:
        fields = {"assessment": assessment, "plot": 1, "plant": 1, "m_height": height, **more}
        return RecordState("observation", assessment, fields, "open", 1, 1, "", 1)

    data = data_of(
        plan, [seen("a28", "21.4"), seen("a28.again", "12.4", again=True)], (), (), (), {}
    )

    assert [v.value for v in data.values] == [21.4]


def test_who_brought_a_trial_file_in_is_not_named_as_its_observer() -> None:
    plan = {
        "treatments": [{"number": 1, "name": "untreated"}],
        "measurements": [{"code": "height", "type": "continuous"}],
        "assessments": [{"code": "a28", "day": 28, "measurements": ["height"]}],
        "plots": [{"plot": 1, "code": "101", "treatment": 1}],
    }
    fields = {"assessment": "a28", "plot": 1, "plant": 1, "m_height": "21.4"}
    seen = RecordState("observation", "o", fields, "open", 1, 1, "m", 1)
    people = {"m": "Ines Prado"}

    here = data_of(plan, [seen], (), (), (), people)
    there = data_of({**plan, "elsewhere": "Sallowmere Nursery"}, [seen], (), (), (), people)

    assert [d.values[0].observer for d in (here, there)] == ["Ines Prado", ""]
