"""The stored view of a trial report gives the same paper again; journal style; photos of a line-up."""

from __future__ import annotations

import io
from dataclasses import replace

from PIL import Image

from support.paper_reading import assert_inside_the_margins, whole_text
from support.random_trials import LOCALE, facts, speaker
from support.trial_sample import factorial
from tepal.reports.frozen import from_json, to_json
from tepal.reports.trial_report import render_trial_report
from tepal.reports.trial_view import ReportPhoto, TrialReportView
from tepal.services.catalogue import catalogue
from tepal.services.trial_analysis import analyse_trial


def test_stored_view_gives_the_same_bytes_with_its_photos() -> None:
    picture = io.BytesIO()
    Image.new("RGB", (1600, 900), "green").save(picture, "JPEG")
    photos = (ReportPhoto("a" * 64, "2026-05-12"), ReportPhoto("b" * 64, "still on a phone"))
    data = factorial()
    view = speaker(data).report_view(analyse_trial(data), replace(facts(), photos=photos))
    stored = from_json(TrialReportView, to_json(view))
    files = {"a" * 64: picture.getvalue()}

    first = render_trial_report(view, catalogue(LOCALE, "en"), files)

    assert stored == view
    assert render_trial_report(stored, catalogue(LOCALE, "en"), files) == first
    assert_inside_the_margins(first)
    assert "Line-up photos" in whole_text(first)


def test_every_table_with_letters_names_procedure_and_alpha_in_both_styles() -> None:
    data = factorial()
    cells = analyse_trial(data)
    for style in ("grower", "journal"):
        words = speaker(data)
        words.style = style  # type: ignore[assignment]
        table = next(t for c in cells for t in words.view(c).tables if t.name == "means")
        notes = " ".join(table.notes)

        assert "Tukey-Kramer" in notes
        assert "0.05" in notes
        marks = {row[-1] for row in table.rows}
        assert bool(marks & {"NS", "*", "**", "***"}) == (style == "journal")
