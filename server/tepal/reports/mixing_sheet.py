"""The mixing sheet of one spray order: what to measure, in order, for every tank load.

The amounts are the largest thing on the page. PPE stands before them; a stop takes their place.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from reportlab.lib.units import mm
from reportlab.platypus import Flowable, Spacer

from tepal.reports import theme
from tepal.reports.flowables import Column, Row, Stack, columns
from tepal.reports.lines import Span, TextBlock
from tepal.reports.mixing_view import MixingSheetView, MixStep, TankLoad
from tepal.reports.pager import Section
from tepal.reports.paper import Paper
from tepal.reports.shapes import Boxes, Panel, Stake
from tepal.reports.values import ValueSetter
from tepal.reports.words import Words

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from tepal.reports.record import Value
    from tepal.reports.theme import TextStyle

__all__ = ["MixingSheetView", "render_mixing_sheet"]

_AMOUNT = theme.TextStyle(face="figure", size=22.0, leading=25.0, tracking=-0.045)
_UNIT = theme.TextStyle(face="strong", size=15.0, leading=25.0)
_OTHER = theme.TextStyle(face="strong", size=13.0, leading=16.0)
_STEP = theme.TextStyle(face="strong", size=12.0, leading=15.0)
_PPE = theme.TextStyle(face="strong", size=12.5, leading=16.0)


def render_mixing_sheet(view: MixingSheetView, words: Mapping[str, str]) -> bytes:
    """Return the PDF of one mixing sheet; the same view and words give the same bytes.

    Raises
    ------
    CatalogueError   `words` lacks a sentence of the paper.
    """
    return _Sheet(view, Words(words)).render()


class _Sheet(Paper):
    def __init__(self, view: MixingSheetView, words: Words) -> None:
        title = words.say("papers.mixing.title", order=view.order)
        super().__init__(view, words, title, landscape=False, is_reviewed=False)
        self.view = view
        self.values = ValueSetter(words, self.marks, struck=False)

    def render(self) -> bytes:
        sections = [Section([*self._front(), *self._places()])]
        if self.view.stops:
            sections.append(Section([Spacer(1, 8), self._stops()], keep=2))
        else:
            sections.append(Section([Spacer(1, 8), self._ppe()], keep=2))
            if self.view.raised:
                sections.append(Section([Spacer(1, 8), self._raised()], keep=2))
            sections += [self._load(load) for load in self.view.loads]
            sections.append(Section(self._after()))
        sections.append(Section([Spacer(1, 8), self.cautions(("label", "rei", "local"))], keep=2))
        return self.pdf(sections, subject=self.view.mix.text)

    def _front(self) -> list[Flowable]:
        view, say = self.view, self.words.say
        loads = self.words.count("papers.mixing.loads", view.n_loads)
        pairs = (
            (say("papers.mixing.takes"), loads),
            (say("papers.application.known"), view.complete_as_of.at),
        )
        fields: tuple[tuple[str, Value, TextStyle], ...] = (
            ("planned", view.planned, theme.STRONG),
            ("place", view.place, theme.STRONG),
            ("mix", view.mix, theme.STRONG),
            ("method", view.method, theme.BODY),
            ("volume", view.volume, theme.FIGURE),
            ("area", view.area, theme.FIGURE),
            ("operator", view.operator, theme.BODY),
            ("sprayer", view.sprayer, theme.BODY),
            ("rei", view.rei, theme.FIGURE),
        )
        shown = [
            (say(f"papers.field.{name}"), self._spans(name, value, style) or [Span("–")])
            for name, value, style in fields
        ]
        return [self.front(pairs), Spacer(1, 8), *self.fact_rows(shown)]

    def _spans(self, field: str, value: Value, style: TextStyle = theme.BODY) -> list[Span]:
        return self.values.value(value, self.words.say(f"papers.field.{field}"), style)

    def _places(self) -> list[Row]:
        c = columns(self.width, (40, 70, 40, 40), gutter=3 * mm)
        rows = []
        for line in self.view.places:
            crop = self._spans("crop", line.crop)
            cells: list[tuple[Column, Flowable]] = [
                (c[0], TextBlock(self.gate, self._spans("bench", line.bench))),
                (c[1], Stake(self.gate, line.lot_code, crop, struck=False)),
                (c[2], TextBlock(self.gate, self._spans("area", line.area, theme.FIGURE))),
                (c[3], TextBlock(self.gate, self._spans("volume", line.volume, theme.FIGURE))),
            ]
            rows.append(Row(cells, rule=theme.RULE, pad=2.4))
        return rows

    # --- before mixing ---------------------------------------------------------------------

    def _stops(self) -> Panel:
        say = self.words.say
        parts: list[Flowable] = [
            self.text(say("papers.mixing.stop"), theme.NAME.but(ink=theme.STOP)),
            *(self.text(stop, _PPE) for stop in self.view.stops),
            self.text(say("papers.mixing.no_amounts")),
        ]
        return Panel(parts, ink=theme.STOP, pad=9)

    def _ppe(self) -> Panel:
        say = self.words.say
        parts: list[Flowable] = []
        for key, lines in (("mixing", self.view.ppe_mixing), ("applying", self.view.ppe_applying)):
            parts.append(self.text(say(f"papers.ppe.{key}"), theme.SMALL_STRONG))
            shown = lines or (say("papers.ppe.not_on_file"),)
            style = _PPE if lines else _PPE.but(ink=theme.STOP)
            parts += [self.text(line, style) for line in shown]
        for line in self.view.answered:
            parts.append(self.pair(say("papers.mixing.answered"), line))
        parts.append(self.text(say("papers.caution.label"), theme.STRONG))
        return Panel(parts, ink=theme.INK, pad=8)

    def _raised(self) -> Panel:
        title = self.text(self.words.say("papers.mixing.raised"), theme.HEADING)
        return Panel([title, *(self.text(one) for one in self.view.raised)], ink=theme.STOP)

    # --- loads -----------------------------------------------------------------------------

    def _load(self, load: TankLoad) -> Section:
        say = self.words.say
        numbers = ", ".join(str(number) for number in load.numbers)
        n = self.view.n_loads
        key = "one" if len(load.numbers) == 1 else "alike"
        named = say(f"papers.mixing.load.{key}", numbers=numbers, n=n)
        volume = say("papers.mixing.load.volume", volume=load.volume, also=load.also)
        head = Stack(
            [
                Spacer(1, 10),
                TextBlock(
                    self.gate,
                    [Span(f"{named}  ", theme.NAME), Span(volume, theme.BODY)],
                ),
            ]
        )
        rows: list[Flowable] = [
            self._step(number, step) for number, step in enumerate(load.steps, start=1)
        ]
        labels = [say("papers.mixing.box", number=number) for number in load.numbers]
        rows.append(Boxes(self.gate, labels, say("papers.mixing.initials")))
        return Section(rows, head=head, keep=len(rows))

    def _step(self, number: int, step: MixStep) -> Row:
        c = columns(self.width, (9, 95, 76), gutter=3 * mm)
        amount, _, unit = step.amount.partition(" ")
        name = step.name or self.words.say(f"papers.mixing.{step.kind}")
        told: list[Flowable] = [self.text(name, _STEP)]
        if step.detail:
            told.append(self.text(step.detail))
        right = "right"
        figure = TextBlock(
            self.gate, [Span(amount, _AMOUNT), Span(f"\u00a0{unit}", _UNIT)], align=right
        )
        other = TextBlock(self.gate, [Span(step.also, _OTHER)], align=right)
        return Row(
            [
                (c[0], self.text(str(number), _STEP)),
                (c[1], Stack(told)),
                (c[2], Stack([figure, other] if step.also else [figure])),
            ],
            rule=theme.RULE_STRONG,
            pad=3,
        )

    def _after(self) -> Sequence[Flowable]:
        say = self.words.say
        said = self.view.leftovers or say("papers.mixing.leftovers.not_on_file")
        style = theme.BODY if self.view.leftovers else theme.STRONG.but(ink=theme.STOP)
        return [self.heading("papers.mixing.leftovers"), self.text(said, style)]
