"""The sheet of one application: everything on file about it, and how it came to be so."""

from __future__ import annotations

from typing import TYPE_CHECKING

from reportlab.lib.units import mm
from reportlab.platypus import Flowable, Spacer

from tepal.reports import theme
from tepal.reports.application_view import ApplicationSheetView, HistoryLine
from tepal.reports.flowables import Column, Record, Row, Stack, columns
from tepal.reports.lines import Span, TextBlock
from tepal.reports.pager import Section
from tepal.reports.paper import Paper, capitalised
from tepal.reports.shapes import Stake
from tepal.reports.values import ValueSetter
from tepal.reports.words import Words

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from tepal.reports.flowables import Node
    from tepal.reports.record import Value
    from tepal.reports.theme import TextStyle

__all__ = ["ApplicationSheetView", "render_application_sheet"]


def render_application_sheet(view: ApplicationSheetView, words: Mapping[str, str]) -> bytes:
    """Return the PDF of one application; the same view and words give the same bytes.

    Raises
    ------
    CatalogueError   `words` lacks a sentence of the paper.
    """
    return _Sheet(view, Words(words)).render()


class _Sheet(Paper):
    def __init__(self, view: ApplicationSheetView, words: Words) -> None:
        title = words.say("papers.application.title", number=view.record.number)
        super().__init__(view, words, title, landscape=False, is_reviewed=False)
        self.view, self.record = view, view.record
        self.values = ValueSetter(words, self.marks, struck=view.record.void is not None)

    def render(self) -> bytes:
        sections = [
            Section([*self._front(), *self._facts()]),
            self._products(),
            self._places(),
            Section(self._more()),
            Section(self._history(), keep=2),
            Section([Spacer(1, 5), self.cautions(("label", "rei", "local"))], keep=2),
        ]
        return self.pdf(sections, subject=self.view.rule_set)

    def _spans(self, field: str, value: Value, style: TextStyle = theme.BODY) -> list[Span]:
        return self.values.value(value, self.words.say(f"papers.field.{field}"), style)

    # --- head ------------------------------------------------------------------------------

    def _front(self) -> list[Flowable]:
        say = self.words.say
        states = ", ".join(say(f"papers.state.{state}") for state in self.record.states)
        pairs = (
            (say("papers.application.record"), states),
            (say("papers.month.rule_set"), self.view.rule_set),
            (say("papers.application.known"), self.view.complete_as_of.at),
        )
        rows: list[Flowable] = [self.front(pairs), Spacer(1, 5)]
        mark = self.record.void
        if mark is not None:
            told = say("papers.change", by=mark.by, at=mark.at, reason=mark.reason)
            void = Span(say("papers.state.void").upper(), theme.NAME, frame=True)
            rows += [TextBlock(self.gate, [void, Span(f"  {told}")]), Spacer(1, 6)]
        if self.record.missing:
            stop = theme.STRONG.but(ink=theme.STOP)
            missing = Span(say("papers.record.missing") + " ", stop)
            named = Span(", ".join(self.record.missing))
            rows += [TextBlock(self.gate, [missing, named]), Spacer(1, 6)]
        return rows

    def _facts(self) -> list[Row]:
        r, figure = self.record, theme.FIGURE
        fields: tuple[tuple[str, Value, TextStyle], ...] = (
            ("date", r.date, theme.STRONG),
            ("place", r.place, theme.STRONG),
            ("start", r.start, figure),
            ("description", r.description, theme.BODY),
            ("end", r.end, figure),
            ("area", r.area, figure),
            ("rei", r.rei, figure),
            ("volume", r.volume, figure),
            ("rei_end", r.rei_end, theme.STRONG),
            ("method", r.method, theme.BODY),
            ("mix", r.mix, theme.STRONG),
            ("operator", r.operator, theme.STRONG),
            ("certificate_full", r.certificate, theme.BODY),
            ("signature", r.signature, theme.BODY),
        )
        say = self.words.say
        pairs = [
            (say(f"papers.field.{name}"), self._spans(name, value, style) or [Span("–")])
            for name, value, style in fields
        ]
        return self.fact_rows(pairs)

    # --- tables ----------------------------------------------------------------------------

    def _heads(self, title: str, names: Sequence[str], c: Sequence[Column]) -> Stack:
        style = theme.SMALL_STRONG.but(ink=theme.INK)
        cells: list[tuple[Column, Flowable]] = [
            (column, self.text(capitalised(self.words.say(f"papers.field.{name}")), style))
            for name, column in zip(names, c, strict=True)
        ]
        return Stack([self.heading(title), Row(cells, pad=2.4)])

    def _products(self) -> Section:
        c = columns(self.width, (36, 24, 53, 20, 36, 19), gutter=2 * mm)
        names = ("product", "registration", "active_ingredients", "rate", "amount", "label_rei")
        rows = []
        for line in self.record.products:
            name = self._spans("product", line.name, theme.STRONG)
            batch = self.values.captioned("papers.field.batch", line.batch)
            if batch:
                name += [Span("\n", theme.SMALL), *batch]
            cells = (
                name,
                self._spans("registration", line.registration),
                self._spans("active_ingredients", line.active_ingredients),
                self._spans("rate", line.rate, theme.FIGURE),
                self._spans("amount", line.amount, theme.FIGURE),
                self._spans("label_rei", line.rei, theme.FIGURE),
            )
            rows.append(self._table_row(cells, c))
        heads = self._heads("papers.application.products", names, c)
        return Section(rows, head=heads, keep=2)

    def _places(self) -> Section:
        c = columns(self.width, (33, 50, 31, 31, 22, 21), gutter=2 * mm)
        names = ("bench", "crop", "stage", "plants", "area", "volume")
        rows = []
        struck = self.record.void is not None
        for line in self.record.places:
            crop = self._spans("crop", line.crop)
            rest = (
                self._spans("stage", line.stage),
                self._spans("plants", line.plants),
                self._spans("area", line.area, theme.FIGURE),
                self._spans("volume", line.volume, theme.FIGURE),
            )
            row = self._table_row((self._spans("bench", line.bench), [], *rest), c)
            row.cells[1] = (c[1], Stake(self.gate, line.lot_code, crop, struck=struck))
            rows.append(row)
        heads = self._heads("papers.application.places", names, c)
        return Section(rows, head=heads, keep=2)

    def _table_row(self, cells: Sequence[Sequence[Span]], c: Sequence[Column]) -> Row:
        set_cells = [
            (column, TextBlock(self.gate, spans or [Span("–")]))
            for column, spans in zip(c, cells, strict=True)
        ]
        return Row(set_cells, rule=theme.RULE, pad=2.4)

    # --- the rest --------------------------------------------------------------------------

    def _more(self) -> list[Flowable]:
        r, say = self.record, self.words.say
        pairs = [(f.label, self.values.value(f.value, f.label) or [Span("–")]) for f in r.facts]
        pairs.append((say("papers.application.entered"), [Span(r.entered)]))
        rows: list[Flowable] = []
        if r.standards:
            rows.append(self.heading("papers.application.standards"))
        for line in r.standards:
            rows += [TextBlock(self.gate, self.values.standard(line)), Spacer(1, 3)]
        rows += [self.heading("papers.application.more"), *self.fact_rows(pairs)]
        struck = r.void is not None
        for note in r.notes:
            caption = Span(say("papers.field.note") + " ", theme.SMALL)
            rows += [
                Spacer(1, 4),
                TextBlock(self.gate, [caption, Span(note, strike=struck)]),
            ]
        if self.values.told:
            rows.append(self.heading("papers.application.changes"))
            rows += [TextBlock(self.gate, told) for told in self.values.told]
        if self.view.photos:
            rows.append(self.heading("papers.application.photos"))
        for photo in self.view.photos:
            said = [Span(f"{photo.caption}, {photo.taken_at}  "), Span(photo.sha256, theme.HASH)]
            rows.append(TextBlock(self.gate, said))
        return rows

    def _history(self) -> list[Flowable]:
        rows: list[Flowable] = [self.heading("papers.application.history")]
        for line in self.view.history:
            inner = Column(0.0, self.width - theme.STEM_MM * mm)
            row = Row([(inner, TextBlock(self.gate, self._told(line)))], pad=2.8)
            full = self.geometry.body_height
            again = self.text(self.title, theme.SMALL_STRONG)
            node: Node = "void" if line.action == "void" else "done"
            rows.append(Record([row], node=node, full_height=full, again=again))
        return rows

    def _told(self, line: HistoryLine) -> list[Span]:
        say = self.words.say
        spans = [
            Span(f"{line.at}  ", theme.CLOCK),
            Span(say(f"papers.action.{line.action}"), theme.STRONG),
            Span(" " + say("papers.action.by", by=line.by, device=line.device), theme.BODY),
        ]
        if line.text:
            spans.append(Span(f"\n{line.text}"))
        if line.reason:
            spans += [
                Span("\n" + say("papers.action.reason") + " ", theme.SMALL),
                Span(line.reason),
            ]
        spans.append(Span("  " + say("papers.action.seq", seq=line.seq), theme.SMALL))
        return spans
