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
from tepal.reports.gate import Gate
from tepal.reports.lines import Span, TextBlock
from tepal.reports.margins import Margins
from tepal.reports.month_view import DeviceHeard, MonthView, Total
from tepal.reports.pager import Section, draw_pdf, lay_out
from tepal.reports.record_rows import RecordRows, grid
from tepal.reports.shapes import AnchorCode, Panel
from tepal.reports.values import MEMORY_MARK, Marks, figure_spans
from tepal.reports.words import Words

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

__all__ = ["MonthView", "render_month"]

_ANCHOR_SIDE_MM = 18.0  # half a millimetre a module


def render_month(view: MonthView, words: Mapping[str, str]) -> bytes:
    """Return the PDF of a monthly record; the same view and words give the same bytes.

    Raises
    ------
    CatalogueError   `words` lacks a sentence of the paper.
    """
    return _Month(view, Words(words)).pdf()


class _Month:
    def __init__(self, view: MonthView, words: Words) -> None:
        self.view, self.words = view, words
        self.gate, self.marks = Gate(), Marks()
        self.geometry = theme.geometry(view.paper, landscape=True)
        self.width = self.geometry.body_width
        self.title = words.say("papers.month.title", month=view.month)

    def pdf(self) -> bytes:
        view = self.view
        sections = [Section([*self._front(), Spacer(1, 4)]), self._record()]
        sections += self._totals()
        sections.append(Section([self._anchor()], keep=1))
        if self.gate.replaced:
            sections.append(Section(self._replaced(), keep=2))
        margins = Margins(
            self.gate,
            self.words,
            self.geometry,
            head=(view.establishment.name, self.title),
            foot=self._foot(),
        )
        return draw_pdf(
            lay_out(sections, self.geometry),
            self.geometry,
            margins.draw,
            title=f"{self.title}, {view.establishment.name}",
            author=view.establishment.name,
            subject=view.filter,
            language=view.language,
        )

    def _text(self, text: str, style: theme.TextStyle = theme.BODY) -> TextBlock:
        return TextBlock(self.gate, [Span(text, style)])

    def _pair(self, caption: str, text: str) -> TextBlock:
        return TextBlock(
            self.gate, [Span(f"{caption} ", theme.BODY.but(ink=theme.INK_SECOND)), Span(text)]
        )

    # --- front -----------------------------------------------------------------------------

    def _front(self) -> list[Flowable]:
        view, say = self.view, self.words.say
        left, right = columns(self.width, (60, 40), gutter=8 * mm)
        business = view.establishment
        identity = Stack(
            [
                self._text(self.title, theme.TITLE),
                self._text(business.name, theme.NAME),
                *(self._text(line) for line in (*business.address, *business.ids)),
            ]
        )
        reprint = (
            say("papers.reprint", n=view.reprint_number)
            if view.reprint_number
            else say("papers.first_print")
        )
        print_facts = Stack(
            [
                self._pair(say("papers.month.filter"), view.filter),
                self._pair(say("papers.month.rule_set"), view.rule_set),
                self._pair(say("papers.month.holds"), self._counts()),
                self._pair(
                    say("papers.printed"),
                    say("papers.printed_by", at=view.generated_at, by=view.printed_by),
                ),
                self._pair(say("papers.print_number"), reprint),
            ],
            gap=1.5,
        )
        top = Row([(left, identity), (right, print_facts)], pad=0)
        known, cautions = columns(self.width, (42, 58), gutter=6 * mm)
        panels = (self._known(), self._cautions())
        least = max(height_of(panels[0], known.width), height_of(panels[1], cautions.width))
        if least <= self.geometry.body_height / 2:
            for panel in panels:
                panel.least = least
        return [top, Row([(known, panels[0]), (cautions, panels[1])], pad=6)]

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
            self._text(say("papers.complete.title", at=known.at), theme.HEADING),
            self._text(say("papers.complete.statement")),
            *(TextBlock(self.gate, self._device(device)) for device in known.devices),
            *(self._text(note) for note in known.notes),
        ]
        return Panel(parts, ink=theme.SLATE)

    def _device(self, device: DeviceHeard) -> list[Span]:
        said = self.words.say(f"papers.device.{device.state}", at=device.heard_at)
        style = theme.BODY if device.state == "heard" else theme.STRONG.but(ink=theme.AMBER)
        spans = [Span(f"{device.name}: ", theme.STRONG), Span(said, style)]
        if device.owes:
            spans.append(Span(f" {device.owes}", theme.STRONG.but(ink=theme.AMBER)))
        return spans

    def _cautions(self) -> Panel:
        say = self.words.say
        fixed = ("label", "rei", "local", "copy")
        parts: list[Flowable] = [self._text(say("papers.caution.title"), theme.HEADING)]
        parts += [self._text(say(f"papers.caution.{name}")) for name in fixed]
        for caution in self.view.cautions:
            spans = [Span(caution.text)]
            if caution.from_memory:
                spans.append(Span(f" ({say('papers.from_memory')})", theme.STRONG))
            parts.append(TextBlock(self.gate, spans))
        return Panel(parts, ink=theme.STOP)

    # --- record ----------------------------------------------------------------------------

    def _record(self) -> Section:
        records = self.view.applications
        if not records:
            said = self.words.say("papers.month.empty", month=self.view.month)
            return Section([self._text(said, theme.STRONG)])
        head = self._column_heads()
        full = self.geometry.body_height - height_of(head, self.width)
        inner = self.width - theme.STEM_MM * mm
        body = [
            RecordRows(self.gate, self.words, self.marks, record, full, inner).flowable()
            for record in records
        ]
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
        title = self._text(say("papers.totals.title", month=view.month), theme.HEADING)
        notes = [self._text(note) for note in view.total_notes]
        if any(record.void for record in view.applications):
            notes.append(self._text(say("papers.totals.void"), theme.SMALL))
        if not (view.product_totals or view.active_totals):
            return [Section([Spacer(1, 10), title, self._text(say("papers.totals.none")), *notes])]
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
                (c[0], self._text(say("papers.totals.product"), style)),
                (c[1], self._text(say("papers.field.registration"), style)),
                (c[2], self._text(say("papers.totals.amount"), right)),
                (c[4], self._text(say("papers.totals.used_in"), right)),
                (c[6], self._text(say("papers.totals.active"), style)),
                (c[7], self._text(say("papers.totals.amount"), right)),
                (c[9], self._text(say("papers.totals.used_in"), right)),
            ],
            pad=3,
        )

    def _total_row(self, product: Total | None, active: Total | None) -> Row:
        c = self._total_columns()
        cells: list[tuple[Column, Flowable]] = []
        if product is not None:
            cells += self._total(product, (c[0], *c[2:5]))
            cells.append((c[1], self._text(product.registration)))
        if active is not None:
            cells += self._total(active, c[6:10])
        return Row(cells, rule=theme.RULE, pad=2.4)

    def _total(self, total: Total, c: Sequence[Column]) -> list[tuple[Column, Flowable]]:
        used = self.words.count("papers.applications", total.n_applications)
        figures = figure_spans(total.amount, theme.FIGURE)
        return [
            (c[0], self._text(total.name, theme.STRONG)),
            (c[1], TextBlock(self.gate, figures, align="right")),
            (c[2], self._text(total.also, theme.SMALL.but(align="right"))),
            (c[3], self._text(used, theme.SMALL.but(align="right", ink=theme.INK))),
        ]

    def _anchor(self) -> Flowable:
        view, say = self.view, self.words.say
        grouped = " ".join(view.head_hash[i : i + 8] for i in range(0, 64, 8))
        made = say("papers.made_with", software=view.software)
        code = AnchorCode(f"{view.head_seq}:{view.head_hash}", _ANCHOR_SIDE_MM * mm)
        first, middle, last = columns(self.width, (34, 150, 90), gutter=6 * mm)
        told = Stack(
            [
                self._text(say("papers.anchor.title", seq=view.head_seq), theme.HEADING),
                self._text(grouped, theme.HASH.but(size=8.2, leading=10.5, ink=theme.INK)),
                self._text(f"{say('papers.anchor.how')} {made}", theme.SMALL),
            ],
            gap=2,
        )
        checked = Stack(
            [
                self._text(say("papers.checked.title"), theme.HEADING),
                Spacer(1, 22),
                Row([], rule=theme.RULE_STRONG, pad=1),
                self._text(say("papers.checked.line"), theme.SMALL),
            ]
        )
        return Row([(first, code), (middle, told), (last, checked)], pad=6)

    def _replaced(self) -> list[Flowable]:
        said = self.words.say("papers.replaced.note")
        codes = "  ·  ".join(self.gate.replaced)
        return [self._text(said, theme.STRONG), self._text(codes, theme.HASH)]

    def _foot(self) -> Sequence[str]:
        view, say = self.view, self.words.say
        lines = [
            say(
                "papers.foot",
                at=view.generated_at,
                by=view.printed_by,
                known=view.complete_as_of.at,
                seq=view.head_seq,
                hash=view.head_hash[:12],
            )
        ]
        legend = []
        if self.marks.from_memory:
            legend.append(f"{MEMORY_MARK} {say('papers.from_memory')}")
        if self.gate.replaced:
            legend.append(say("papers.replaced.legend"))
        if legend:
            lines.append("  ·  ".join(legend))
        return lines
