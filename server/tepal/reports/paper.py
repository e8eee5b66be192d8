"""What all papers have in common: gate, words, front lines, cautions, anchor, margins."""

from __future__ import annotations

from typing import TYPE_CHECKING

from reportlab.lib.units import mm
from reportlab.platypus import Flowable, Spacer

from tepal.reports import theme
from tepal.reports.flowables import Column, Row, Stack, columns, joined
from tepal.reports.gate import Gate
from tepal.reports.lines import Span, TextBlock
from tepal.reports.margins import Margins
from tepal.reports.pager import Section, draw_pdf, lay_out
from tepal.reports.shapes import AnchorCode, Panel
from tepal.reports.values import MEMORY_MARK, Marks

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from tepal.reports.print_facts import PrintFacts
    from tepal.reports.words import Words

_ANCHOR_SIDE_MM = 17.0  # nearly half a millimetre a module


class Paper:
    """One paper while it is being set.

    Parameters
    ----------
    facts : PrintFacts   The view model.
    words : Words
    title : str          First line of the front and of every running head.
    landscape : bool
    is_reviewed : bool   The end leaves a line for the one who looked the paper through.
    """

    def __init__(
        self,
        facts: PrintFacts,
        words: Words,
        title: str,
        *,
        landscape: bool,
        is_reviewed: bool,
    ) -> None:
        self.facts, self.words, self.title = facts, words, title
        self.is_reviewed = is_reviewed
        self.gate, self.marks = Gate(), Marks()
        self.geometry = theme.geometry(facts.paper, landscape=landscape)
        self.width = self.geometry.body_width

    def pdf(self, sections: Sequence[Section], subject: str) -> bytes:
        """Close the paper with anchor and notes, lay it out and draw it."""
        closing = [Section([self._anchor()])]
        if self.gate.replaced:
            closing.append(Section(self._replaced(), keep=2))
        facts = self.facts
        margins = Margins(
            self.gate,
            self.words,
            self.geometry,
            head=(facts.establishment.name, self.title),
            foot=self._foot(),
        )
        return draw_pdf(
            lay_out([*sections, *closing], self.geometry),
            self.geometry,
            margins.draw,
            title=self.gate.printable(f"{self.title}, {facts.establishment.name}"),
            author=self.gate.printable(facts.establishment.name),
            subject=self.gate.printable(subject),
            language=facts.language,
        )

    def text(self, text: str, style: theme.TextStyle = theme.BODY) -> TextBlock:
        """Return a text in one style."""
        return TextBlock(self.gate, [Span(text, style)])

    def pair(self, caption: str, text: str) -> TextBlock:
        """Return "caption text" on one line, the caption in the second ink."""
        return TextBlock(
            self.gate, [Span(f"{caption} ", theme.BODY.but(ink=theme.INK_SECOND)), Span(text)]
        )

    def front(self, pairs: Iterable[tuple[str, str]]) -> Row:
        """Return title and business on the left, what the paper holds on the right."""
        facts, say = self.facts, self.words.say
        left, right = columns(self.width, (60, 40), gutter=8 * mm)
        business = facts.establishment
        identity = Stack(
            [
                self.text(self.title, theme.TITLE),
                self.text(business.name, theme.NAME),
                *(self.text(line) for line in (*business.address, *business.ids)),
            ]
        )
        reprint = (
            say("papers.reprint", n=facts.reprint_number)
            if facts.reprint_number
            else say("papers.first_print")
        )
        printed = say("papers.printed_by", at=facts.generated_at, by=facts.printed_by)
        told = Stack(
            [
                *(self.pair(caption, text) for caption, text in pairs),
                self.pair(say("papers.printed"), printed),
                self.pair(say("papers.print_number"), reprint),
            ],
            gap=1.5,
        )
        return Row([(left, identity), (right, told)], pad=0)

    def cautions(self, fixed: Sequence[str]) -> Panel:
        """Return the cautions: those of the catalogue that are named, then those of the view."""
        say = self.words.say
        parts: list[Flowable] = [self.text(say("papers.caution.title"), theme.HEADING)]
        parts += [self.text(say(f"papers.caution.{name}")) for name in fixed]
        for caution in self.facts.cautions:
            spans = [Span(caution.text)]
            if caution.from_memory:
                spans.append(Span(f" ({say('papers.from_memory')})", theme.STRONG))
            parts.append(TextBlock(self.gate, spans))
        return Panel(parts, ink=theme.STOP)

    def _anchor(self) -> Flowable:
        facts, say = self.facts, self.words.say
        grouped = " ".join(facts.head_hash[i : i + 8] for i in range(0, 64, 8))
        made = say("papers.made_with", software=facts.software)
        code = AnchorCode(f"{facts.head_seq}:{facts.head_hash}", _ANCHOR_SIDE_MM * mm)
        first, middle, last = columns(self.width, (32, 172, 70), gutter=5 * mm)
        told = Stack(
            [
                self.text(say("papers.anchor.title", seq=facts.head_seq), theme.HEADING),
                self.text(grouped, theme.HASH.but(size=8.2, leading=10.5, ink=theme.INK)),
                self.text(f"{say('papers.anchor.how')} {made}", theme.SMALL),
            ],
            gap=2,
        )
        if not self.is_reviewed:
            return Row([(first, code), (joined(middle, last), told)], pad=4.5)
        checked = Stack(
            [
                self.text(say("papers.checked.title"), theme.HEADING),
                Spacer(1, 22),
                Row([], rule=theme.RULE_STRONG, pad=1),
                self.text(say("papers.checked.line"), theme.SMALL),
            ]
        )
        return Row([(first, code), (middle, told), (last, checked)], pad=6)

    def _replaced(self) -> list[Flowable]:
        said = self.words.say("papers.replaced.note")
        codes = "  ·  ".join(self.gate.replaced)
        return [self.text(said, theme.STRONG), self.text(codes, theme.HASH)]

    def _foot(self) -> Sequence[str]:
        facts, say = self.facts, self.words.say
        items = [
            say("papers.foot.printed", at=facts.generated_at, by=facts.printed_by),
            say("papers.foot.known", at=facts.complete_as_of.at),
            say("papers.foot.anchor", seq=facts.head_seq, hash=facts.head_hash[:12]),
        ]
        if self.marks.from_memory:
            items.append(f"{MEMORY_MARK} {say('papers.from_memory')}")
        if self.gate.replaced:
            items.append(say("papers.replaced.legend"))
        return items

    def heading(self, key: str) -> Stack:
        """Return a heading of the catalogue with air above it."""
        return Stack([Spacer(1, 6), self.text(self.words.say(key), theme.HEADING)])

    def fact_rows(self, pairs: Sequence[tuple[str, Sequence[Span]]]) -> list[Row]:
        """Return captions and values in two columns, read from left to right, with hairlines."""
        half = columns(self.width, (1, 1), gutter=8 * mm)
        rows = []
        for i in range(0, len(pairs), 2):
            cells: list[tuple[Column, Flowable]] = []
            for column, (caption, spans) in zip(half, pairs[i : i + 2], strict=False):
                caption_width = min(column.width * 0.3, 30 * mm)
                value_x = column.x + caption_width + 2 * mm
                cells += [
                    (Column(column.x, caption_width), self.text(capitalised(caption), theme.SMALL)),
                    (
                        Column(value_x, column.x + column.width - value_x),
                        TextBlock(self.gate, spans),
                    ),
                ]
            rows.append(Row(cells, rule=theme.RULE, pad=2.4))
        return rows


def capitalised(caption: str) -> str:
    """Return a caption with its first letter large; the rest stays as the catalogue has it."""
    return caption[:1].upper() + caption[1:]
