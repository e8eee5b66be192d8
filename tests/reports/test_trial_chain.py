"""Random simulated trials through the chain: analysed, said, drawn, printed."""

from __future__ import annotations

import re
import warnings
from typing import TYPE_CHECKING

import pytest

from support.paper_reading import assert_inside_the_margins, whole_text
from support.random_trials import random_trial, report_of, speaker
from tepal.reports.chart_marks import svg_of, width_of
from tepal.reports.charts import Chart, drawing_of
from tepal.services.trial_analysis import analyse_trial

if TYPE_CHECKING:
    from tepal.designs.trial import TrialData

UGLY = re.compile(r"[{}]|\bNone\b(?! of)|\bnan\b|\binf\b|trial_(words|report)\.")
WIDTHS = (250.0, 425.0)


def texts_of(view: object) -> list[str]:
    """Return every text of a view, however deep."""
    if isinstance(view, str):
        return [view]
    if isinstance(view, tuple):
        return [t for part in view for t in texts_of(part)]
    fields = getattr(view, "__slots__", ())
    return [t for name in fields for t in texts_of(getattr(view, name))]


def assert_nothing_is_clipped(chart: Chart) -> None:
    for width in WIDTHS:
        drawing = drawing_of(chart, width)
        for mark in drawing.marks:
            if mark.kind != "text" or mark.turned:
                continue
            wide = width_of(mark.text, mark.size, mark.face)
            start = mark.points[0][0] - {"start": 0.0, "middle": wide / 2, "end": wide}[mark.anchor]
            assert start >= -1.0, (chart.name, mark.text)
            assert start + wide <= drawing.width + 1.0, (chart.name, mark.text)
            assert 0.0 <= mark.points[0][1] <= drawing.height, (chart.name, mark.text)


def walk(seed: int) -> None:
    """Take one random trial through the chain and hold what comes out against the rules."""
    data: TrialData = random_trial(seed)
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        cells = analyse_trial(data)
        language = ("en", "es")[seed % 2]
        view, pdf = report_of(data, language, cells)
    views = [speaker(data, language).view(c) for c in cells]
    for cell, shown in zip(cells, views, strict=True):
        assert shown.sentences or cell.result.means is None, (seed, shown.title)
        for sentence in (*shown.sentences, *shown.trust):
            assert sentence.strip(), seed
            assert not UGLY.search(sentence.replace("{braces}", "")), (seed, sentence)
        for chart in shown.charts:
            assert chart.alt.strip(), (seed, chart.name)
            assert_nothing_is_clipped(chart)
            svg = svg_of(drawing_of(chart), chart.alt)
            assert "<spray>" not in svg
            assert "<drench>" not in svg
    assert texts_of(view)
    text = whole_text(pdf)
    assert f"Trial <{seed}> &" in text
    assert_inside_the_margins(pdf)


# 43: a curve with a singular matrix; 127: fitted values that differ by rounding alone
FOUND = (43, 127)


@pytest.mark.full
@pytest.mark.parametrize("seed", [*range(1, 21), *FOUND])
def test_random_trial_goes_through_the_chain(seed: int) -> None:
    walk(seed)


@pytest.mark.slow
@pytest.mark.parametrize("start", range(21, 301, 20))
def test_many_random_trials_go_through_the_chain(start: int) -> None:
    for seed in range(start, min(start + 20, 301)):
        walk(seed)
