import json
from dataclasses import replace

import pytest

from support import month_sample
from support.month_sample import application, month_view, required
from tepal.reports.frozen import digest, from_json, to_json
from tepal.reports.month import render_month
from tepal.reports.month_view import MonthView, Total
from tepal.reports.record import Change, ContradictionError, Rival, Value, VoidMark

CHANGE = Value("2 L", changes=(Change("3 L", "A", "now", "typo"),))
RIVAL = Value("2 L", rivals=(Rival("3 L", "A", "now"),))
MARK = VoidMark("A", "now", "twice")


@pytest.mark.parametrize(
    "wrong",
    [
        {"states": ()},
        {"end": required()},  # called complete, lacks the end
        {"end": required("  ")},
        {"missing": ("end time",)},
        {"states": ("complete", "missing"), "missing": ("end time",)},
        {"states": ("unsigned",), "end": required()},  # lacks the end and does not say so
        {"volume": CHANGE},  # complete, not called amended
        {"volume": RIVAL},
        {"states": ("void",)},
        {"void": MARK},
    ],
)
def test_record_refuses_a_state_that_contradicts_its_fields(wrong):
    with pytest.raises(ContradictionError) as caught:
        application(**wrong)

    assert caught.value.code == "reports.contradiction"
    assert "2026-0142" in str(caught.value)


@pytest.mark.parametrize(
    "right",
    [
        {"states": ("missing",), "end": required(), "missing": ("end time",)},
        {"states": ("complete", "amended"), "volume": CHANGE},
        {"states": ("undecided",), "volume": RIVAL},
        {"states": ("void",), "void": MARK, "end": required()},
    ],
)
def test_record_takes_states_that_fit_its_fields(right):
    assert application(**right).states == right["states"]


def test_missing_in_a_line_counts_like_missing_in_the_head():
    base = application()
    line = replace(base.products[0], registration=required())

    with pytest.raises(ContradictionError):
        application(products=(line,))


@pytest.mark.parametrize(
    "wrong",
    [
        {"paper": "a3"},
        {"reprint_number": -1},
        {"head_hash": "abc"},
        {"head_hash": "G" * 64},
        {"product_totals": (Total("Stemwright SL", "", "1 L", "", 9),)},  # 8 of 9 are not void
    ],
)
def test_month_refuses_what_contradicts_itself(wrong):
    with pytest.raises(ContradictionError):
        month_view(**wrong)


def test_a_stored_view_gives_the_same_view_and_the_same_bytes(english):
    view = month_view()

    again = from_json(MonthView, to_json(view))

    assert again == view
    assert render_month(again, english) == render_month(view, english)


def test_digest_changes_with_one_character():
    view = month_view()

    assert digest(view) == digest(month_view())
    assert digest(view) != digest(replace(view, printed_by="Ines Valcourd"))
    assert len(digest(view)) == 64


def test_json_keeps_any_text():
    hostile = month_sample.application(notes=("<b> & 東京 \ud800",))
    view = month_view(applications=(hostile,))

    assert from_json(MonthView, to_json(view)) == view
    assert len(digest(view)) == 64


def test_json_is_canonical():
    stored = json.loads(to_json(month_view()))

    assert list(stored) == sorted(stored)
    assert list(stored["establishment"]) == ["address", "ids", "name"]
