"""The report of a trial: question, conclusion, methods, bench, results with charts, appendix.

Draws a `TrialReportView` of final strings; charts are laid out here to the paper's width, never
computed. Long labels wrap; nothing is cut off.
"""

from __future__ import annotations

import io
from typing import TYPE_CHECKING

from reportlab.lib.units import mm
from reportlab.lib.utils import ImageReader
from reportlab.platypus import Flowable, Spacer

from tepal.reports import theme
from tepal.reports.chart_marks import DrawnChart
from tepal.reports.charts import drawing_of
from tepal.reports.flowables import Column, Row, Stack, columns, height_of
from tepal.reports.lines import Span, TextBlock
from tepal.reports.pager import Section
from tepal.reports.paper import Paper
from tepal.reports.shapes import Panel, Stake
from tepal.reports.trial_view import TrialReportView
from tepal.reports.words import Words

if TYPE_CHECKING:
    from collections.abc import Mapping

    from tepal.reports.charts import Chart
    from tepal.reports.trial_view import ReportSection, TableView

__all__ = ["TrialReportView", "render_trial_report"]

_LEAD = theme.TextStyle(size=10.5, leading=14.5)
_PART = theme.TextStyle(face="strong", size=13.0, leading=17.0)
_CHART_MM = 150.0
_CHARTS_SIDE = ("residuals", "bench")  # smaller pictures that may stand two in a row
_PHOTO_HEIGHT_MM = 52.0


def render_trial_report(
    view: TrialReportView, words: Mapping[str, str], photos: Mapping[str, bytes] | None = None
) -> bytes:
    """Return the PDF of a trial report; the same view, words and photos give the same bytes.

    Raises
    ------
    CatalogueError   `words` lacks a sentence of the paper.
    """
    return _Report(view, Words(words), photos or {}).render()


class _Report(Paper):
    def __init__(self, view: TrialReportView, words: Words, photos: Mapping[str, bytes]) -> None:
        super().__init__(view, words, view.title, landscape=False, is_reviewed=True)
        self.view, self.photos = view, photos

    def render(self) -> bytes:
        sections = [Section(self._front())]
        for part in self.view.sections:
            sections += self._part(part)
        if self.view.photos:
            sections.append(
                Section([self._heading(self.view.photos_title), *self._pictures()], keep=2)
            )
        return self.pdf(sections, subject=self.view.question or self.view.title)

    def _front(self) -> list[Flowable]:
        view = self.view
        pairs = [(fact.caption, fact.text) for fact in view.facts]
        name = [Span(view.question or view.title, _LEAD.but(face="strong"))]
        stake = Stake(self.gate, view.code, name, struck=False)
        said: list[Flowable] = [self.text(line, _LEAD) for line in view.conclusion]
        parts: list[Flowable] = [self.front(pairs), Spacer(1, 8), stake, Spacer(1, 6)]
        if said:
            parts += [Panel(said, ink=theme.LEAF, pad=8.0), Spacer(1, 8)]
        caution = self.text(view.caution, theme.STRONG.but(ink=theme.STOP))
        return [*parts, Panel([caution], ink=theme.STOP), Spacer(1, 4)]

    def _heading(self, title: str) -> Stack:
        return Stack([Spacer(1, 12), self.text(title, _PART), Spacer(1, 3)])

    def _part(self, part: ReportSection) -> list[Section]:
        heading = self._heading(part.title)
        said = [Stack([self.text(line), Spacer(1, 3)]) for line in part.sentences]
        found = [Section(said, lead=heading, keep=2)] if said else []
        for table in part.tables:
            found += self._table(table, None if found else heading)
        charts = self._charts(part.charts, None if found else heading)
        found += charts or ([] if found else [Section([heading])])
        if part.notes:
            notes = [self.text(note, theme.SMALL.but(ink=theme.INK)) for note in part.notes]
            found.append(Section([Spacer(1, 4), *notes], keep=2))
        return found

    # --- tables ----------------------------------------------------------------------------

    def _table(self, table: TableView, lead: Flowable | None) -> list[Section]:
        grid = columns(self.width, table.shares, gutter=theme.GUTTER_MM * mm)
        head = theme.SMALL_STRONG.but(ink=theme.INK)
        cells: list[tuple[Column, Flowable]] = [
            (column, self.text(text, head.but(align="right") if i in table.right else head))
            for i, (column, text) in enumerate(zip(grid, table.heads, strict=True))
        ]
        above: list[Flowable] = [Spacer(1, 6)]
        if table.title:
            above.append(self.text(table.title, theme.STRONG))
        heads = Stack([*above, Row(cells, pad=2.5)])
        rows = [self._row(row, table, grid) for row in table.rows]
        closing: list[Flowable] = [Row([], rule=theme.RULE_STRONG, pad=1)]
        closing += [self.text(note, theme.SMALL) for note in table.notes]
        whole = [*rows, Stack(closing)]
        n = len(whole)
        return [Section(whole, head=heads, keep=n if n < 14 else 3, lead=lead)]

    def _row(self, row: tuple[str, ...], table: TableView, grid: tuple[Column, ...]) -> Row:
        cells: list[tuple[Column, Flowable]] = []
        for i, (column, text) in enumerate(zip(grid, row, strict=True)):
            style = theme.BODY.but(align="right") if i in table.right else theme.BODY
            cells.append((column, TextBlock(self.gate, [Span(text, style)])))
        return Row(cells, rule=theme.RULE, pad=2.0)

    # --- charts ----------------------------------------------------------------------------

    def _charts(self, charts: tuple[Chart, ...], lead: Flowable | None) -> list[Section]:
        """Return the charts one below the other, small ones in pairs; the first under `lead`."""
        rows: list[Flowable] = []
        small = [c for c in charts if c.name in _CHARTS_SIDE and self._is_narrow(c)]
        rows += [self._chart(c, min(_CHART_MM * mm, self.width)) for c in charts if c not in small]
        for i in range(0, len(small), 2):
            pair = small[i : i + 2]
            halves = columns(self.width, (1, 1), gutter=8 * mm)
            cells = [
                (column, self._chart(chart, column.width))
                for column, chart in zip(halves, pair, strict=False)
            ]
            rows.append(Row(cells, pad=0))
        return [Section([row], lead=None if i else lead) for i, row in enumerate(rows)]

    def _is_narrow(self, chart: Chart) -> bool:
        return chart.bench is None or chart.bench.n_columns <= 8

    def _chart(self, chart: Chart, width: float) -> Stack:
        parts: list[Flowable] = [
            Spacer(1, 8),
            self.text(chart.title, theme.STRONG),
            Spacer(1, 2),
            DrawnChart(self.gate, drawing_of(chart, width)),
        ]
        if chart.note:
            parts.append(self.text(chart.note, theme.SMALL))
        return Whole(parts)

    # --- photos ----------------------------------------------------------------------------

    def _pictures(self) -> list[Flowable]:
        rows: list[Flowable] = []
        halves = columns(self.width, (1, 1, 1), gutter=4 * mm)
        shown = [p for p in self.view.photos if p.sha256 in self.photos]
        for i in range(0, len(shown), 3):
            cells: list[tuple[Column, Flowable]] = []
            for column, photo in zip(halves, shown[i : i + 3], strict=False):
                picture = Picture(self.photos[photo.sha256], column.width, _PHOTO_HEIGHT_MM * mm)
                cells.append((column, Stack([picture, self.text(photo.caption, theme.SMALL)], 2.0)))
            rows.append(Row(cells, pad=3))
        return rows


class Whole(Stack):
    """A stack that never splits: a chart stays with its title."""

    def split(self, avail: float, height: float) -> list[Flowable]:
        """Return nothing: it goes whole onto the next page."""
        return [self] if height_of(self, avail) <= height else []


class Picture(Flowable):  # type: ignore[misc]
    """A photo set to one height, so that a line-up has one scale; never wider than given."""

    def __init__(self, content: bytes, widest: float, height: float) -> None:
        super().__init__()
        self._image = ImageReader(io.BytesIO(content))
        wide, tall = self._image.getSize()
        scale = min(height / tall, widest / wide)
        self._size = (wide * scale, tall * scale)

    def wrap(self, _avail: float, _room: float) -> tuple[float, float]:
        """Return the size on paper, pt."""
        return self._size

    def draw(self) -> None:
        """Draw the photo."""
        self.canv.drawImage(self._image, 0, 0, *self._size)
