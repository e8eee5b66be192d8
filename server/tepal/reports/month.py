"""The monthly application record: every application of one month of one establishment.

Start here: `render_month` turns a `MonthView` (month_view.py) into a PDF. The front, the record,
the totals and the margins are here; the rows of one application are in record_rows.py.
"""

from __future__ import annotations

from itertools import zip_longest
from typing import TYPE_CHECKING

from reportlab.lib.units import mm
from reportlab.platypus import Flowable, Spacer

from tepal.reports import theme
from tepal.reports.flowables import (
    Column,
    Row,
    Stack,
    columns,
    height_of,
)
from tepal.reports.lines import Span, TextBlock
from tepal.reports.month_view import MonthView, Total
from tepal.reports.pager import Section
from tepal.reports.paper import Paper
from tepal.reports.record_rows import RecordRows, grid
from tepal.reports.shapes import Panel
from tepal.reports.values import figure_spans
from tepal.reports.words import Words

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from tepal.reports.print_facts import DeviceHeard

__all__ = ["MonthView", "render_month"]


def render_month(
    view: MonthView, words: Mapping[str, str], *, drawn: Callable[[int, int], None] | None = None
) -> bytes:
    """Return the PDF of a monthly record; the same view and words give the same bytes.

    `drawn` is told how many applications of how many are drawn.

    Raises
    ------
    CatalogueError   `words` lacks a sentence of the paper.
    """
    return _Month(view, Words(words), drawn or _unheard).render()


def _unheard(_done: int, _total: int) -> None:
    """Nobody asks how far it is."""


class _Month(Paper):
    def __init__(self, view: MonthView, words: Words, drawn: Callable[[int, int], None]) -> None:
        title = words.say("papers.month.title", month=view.month)
        super().__init__(view, words, title, landscape=True, is_reviewed=True)
        self.view, self.drawn = view, drawn

    def render(self) -> bytes:
        front = Section([*self._front(), *self._since(), Spacer(1, 4)])
        return self.pdf([front, self._record(), *self._totals()], subject=self.view.filter)

    # --- front -----------------------------------------------------------------------------

    def _front(self) -> list[Flowable]:
        view, say = self.view, self.words.say
        pairs = (
            (say("papers.month.filter"), view.filter),
            (say("papers.month.rule_set"), view.rule_set),
            (say("papers.month.holds"), self._counts()),
        )
        known, cautions = columns(self.width, (42, 58), gutter=6 * mm)
        panels = (self._known(), self.cautions(("label", "rei", "local", "copy")))
        least = max(height_of(panels[0], known.width), height_of(panels[1], cautions.width))
        if least <= self.geometry.body_height / 2:
            for panel in panels:
                panel.least = least
        return [self.front(pairs), Row([(known, panels[0]), (cautions, panels[1])], pad=6)]

    def _since(self) -> list[Flowable]:
        """Return what changed since the print before; nothing on a first print."""
        since = self.view.since
        if since is None:
            return []
        title = self.words.say("papers.since.title", print=self.view.since_print)
        lines = since or (self.words.say("papers.since.nothing"),)
        parts = [self.text(title, theme.HEADING), *(self.text(line) for line in lines)]
        return [Spacer(1, 6), Panel(parts, ink=theme.SLATE)]

    def _counts(self) -> str:
        records = self.view.applications
        parts = [self.words.count("papers.applications", len(records))]
        for state in ("void", "missing", "unsigned", "undecided", "running", "amended"):
            n = sum(1 for record in records if state in record.states)
            if n:
                parts.append(self.words.count(f"papers.month.of_them.{state}", n))
        return ", ".join(parts)

    def _known(self) -> Panel:
        known, say = self.view.complete_as_of, self.words.say
        parts: list[Flowable] = [
            self.text(say("papers.complete.title", at=known.at), theme.HEADING),
            self.text(say("papers.complete.statement")),
            *(TextBlock(self.gate, self._device(device)) for device in known.devices),
            *(self.text(note) for note in known.notes),
        ]
        return Panel(parts, ink=theme.SLATE)

    def _device(self, device: DeviceHeard) -> list[Span]:
        said = self.words.say(f"papers.device.{device.state}", at=device.heard_at)
        style = theme.BODY if device.state == "heard" else theme.STRONG.but(ink=theme.AMBER)
        spans = [Span(f"{device.name}: ", theme.STRONG), Span(said, style)]
        if device.owes:
            spans.append(Span(f" {device.owes}", theme.STRONG.but(ink=theme.AMBER)))
        return spans

    # --- record ----------------------------------------------------------------------------

    def _record(self) -> Section:
        records = self.view.applications
        if not records:
            said = self.words.say("papers.month.empty", month=self.view.month)
            return Section([self.text(said, theme.STRONG)])
        head = self._column_heads()
        full = self.geometry.body_height - height_of(head, self.width)
        inner = self.width - theme.STEM_MM * mm
        body = []
        for done, record in enumerate(records):
            self.drawn(done, len(records))
            rows = RecordRows(self.gate, self.words, self.marks, record, full, inner)
            body.append(rows.flowable())
        self.drawn(len(records), len(records))
        return Section(body, head=head)

    def _column_heads(self) -> Row:
        indent = theme.STEM_MM * mm
        cells: list[tuple[Column, Flowable]] = []
        names = ("when", "where", "quantity", "mix", "rei", "operator", "record")
        shifted = [Column(c.x + indent, c.width) for c in grid(self.width - indent)]
        for name, column in zip(names, shifted, strict=True):
            first = self.words.say(f"papers.column.{name}")
            second = self.words.say(f"papers.column.{name}.lines")
            spans = [Span(first, theme.SMALL_STRONG.but(ink=theme.INK))]
            if second:
                spans.append(Span(f"\n{second}", theme.SMALL))
            cells.append((column, TextBlock(self.gate, spans)))
        return Row(cells, pad=2.5)

    # --- end -------------------------------------------------------------------------------

    def _totals(self) -> list[Section]:
        view, say = self.view, self.words.say
        title = self.text(say("papers.totals.title", month=view.month), theme.HEADING)
        notes = [self.text(note) for note in view.total_notes]
        if any(record.void for record in view.applications):
            notes.append(self.text(say("papers.totals.void"), theme.SMALL))
        if not (view.product_totals or view.active_totals):
            return [Section([Spacer(1, 10), title, self.text(say("papers.totals.none")), *notes])]
        head = Stack([Spacer(1, 8), title, self._total_heads()])
        rows = [
            self._total_row(product, active)
            for product, active in zip_longest(view.product_totals, view.active_totals)
        ]
        return [Section(rows, head=head, keep=len(rows)), Section(notes)]

    def _total_columns(self) -> tuple[Column, ...]:
        # products: name, registration, amount, other unit, used in | the same of the a.i.
        shares = (48, 27, 22, 22, 26, 4, 44, 22, 22, 26)
        return columns(self.width, shares, gutter=theme.GUTTER_MM * mm)

    def _total_heads(self) -> Row:
        c, say = self._total_columns(), self.words.say
        style = theme.SMALL_STRONG.but(ink=theme.INK)
        right = style.but(align="right")
        return Row(
            [
                (c[0], self.text(say("papers.totals.product"), style)),
                (c[1], self.text(say("papers.field.registration"), style)),
                (c[2], self.text(say("papers.totals.amount"), right)),
                (c[4], self.text(say("papers.totals.used_in"), right)),
                (c[6], self.text(say("papers.totals.active"), style)),
                (c[7], self.text(say("papers.totals.amount"), right)),
                (c[9], self.text(say("papers.totals.used_in"), right)),
            ],
            pad=3,
        )

    def _total_row(self, product: Total | None, active: Total | None) -> Row:
        c = self._total_columns()
        cells: list[tuple[Column, Flowable]] = []
        if product is not None:
            cells += self._total(product, (c[0], *c[2:5]))
            cells.append((c[1], self.text(product.registration)))
        if active is not None:
            cells += self._total(active, c[6:10])
        return Row(cells, rule=theme.RULE, pad=2.4)

    def _total(self, total: Total, c: Sequence[Column]) -> list[tuple[Column, Flowable]]:
        used = self.words.count("papers.applications", total.n_applications)
        figures = figure_spans(total.amount, theme.FIGURE)
        return [
            (c[0], self.text(total.name, theme.STRONG)),
            (c[1], TextBlock(self.gate, figures, align="right")),
            (c[2], self.text(total.also, theme.SMALL.but(align="right"))),
            (c[3], self.text(used, theme.SMALL.but(align="right", ink=theme.INK))),
        ]
