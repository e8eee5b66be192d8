"""Values as spans: struck old ones beside the present one, missing ones framed, marks explained."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from tepal.reports import theme
from tepal.reports.lines import NO_BREAK, Span

if TYPE_CHECKING:
    from tepal.reports.record import StandardLine, Value
    from tepal.reports.theme import TextStyle
    from tepal.reports.words import Words

MEMORY_MARK = "†"
_LONGEST_QUANTITY = 14  # characters: "0.304 fl oz", "424 macetas"; longer text may break


@dataclass(slots=True)
class Marks:
    """Which marks a paper has used, so that its foot explains those and no others."""

    from_memory: bool = False


def figure_spans(text: str, style: TextStyle, *, strike: bool = False) -> list[Span]:
    """Return a text as spans; in a mono style the unit stands beside the number in the text face.

    Number and unit are never broken over two lines.
    """
    number, space, unit = text.partition(" ")
    if not space or not number[:1].isdigit():
        return [Span(text, style, strike)]
    if style.face not in {"figure", "mono"}:
        short = len(text) <= _LONGEST_QUANTITY
        return [Span(text.replace(" ", NO_BREAK) if short else text, style, strike)]
    beside = theme.UNIT.but(ink=style.ink)
    # One object for gap and unit keeps the strike in one piece.
    return [
        Span(number, style, strike),
        Span(NO_BREAK + unit.replace(" ", NO_BREAK), beside, strike),
    ]


@dataclass(slots=True)
class ValueSetter:
    """Sets the values of one record as spans and keeps the account of their changes.

    Attributes
    ----------
    struck : bool              The record is void: every value is printed struck through.
    told : list of span lists  One numbered line per changed or undecided value, in order.
    """

    words: Words
    marks: Marks
    struck: bool
    told: list[list[Span]] = field(default_factory=list)

    def value(self, value: Value, label: str, style: TextStyle = theme.BODY) -> list[Span]:
        """Return the spans of a value: struck old ones, the present one, rivals, marks."""
        spans: list[Span] = []
        for change in value.changes:
            old = change.old or self.words.say("papers.value.empty")
            spans += figure_spans(old, style.but(ink=theme.INK_SECOND), strike=True)
            spans.append(Span(" ", theme.BODY))
        if value.is_missing:
            missing = self.words.say("papers.value.missing")
            spans.append(Span(missing, style.but(face="strong", ink=theme.STOP), frame=True))
        elif value.text:
            spans += figure_spans(value.text, style, strike=self.struck)
        elif value.changes or value.rivals:
            spans.append(Span(self.words.say("papers.value.empty"), style))
        if value.also:
            other = value.also.replace(" ", NO_BREAK)
            spans += [Span(" ", theme.SMALL), Span(other, theme.SMALL, strike=self.struck)]
        for rival in value.rivals:
            between = self.words.say("papers.value.or")
            spans.append(Span(f" {between} ", theme.SMALL))
            other = rival.text or self.words.say("papers.value.empty")
            spans += figure_spans(other, style, strike=self.struck)
        if value.from_memory:
            self.marks.from_memory = True
            spans.append(Span(MEMORY_MARK, style))
        if value.changes or value.rivals:
            self._tell(value, label)
            spans.append(Span(f"{NO_BREAK}[{len(self.told)}]", theme.SMALL_STRONG))
        return spans

    def _tell(self, value: Value, label: str) -> None:
        number = len(self.told) + 1
        spans = [Span(f"[{number}] {label}: ", theme.SMALL_STRONG)]
        texts = [c.old or self.words.say("papers.value.empty") for c in value.changes]
        texts.append(value.text or self.words.say("papers.value.empty"))
        for i, change in enumerate(value.changes):
            spans += [
                Span(texts[i], theme.SMALL, strike=True),
                Span(f" {texts[i + 1]}. ", theme.SMALL.but(ink=theme.INK)),
                Span(
                    self.words.say(
                        "papers.change", by=change.by, at=change.at, reason=change.reason
                    )
                    + " ",
                    theme.SMALL,
                ),
            ]
        if value.rivals:
            spans.append(
                Span(self.words.say("papers.rivals", text=texts[-1]) + " ", theme.SMALL_STRONG)
            )
        for rival in value.rivals:
            other = rival.text or self.words.say("papers.value.empty")
            said = self.words.say("papers.rival", text=other, by=rival.by, at=rival.at)
            spans.append(Span(said + " ", theme.SMALL))
        self.told.append(spans)

    def standard(self, line: StandardLine) -> list[Span]:
        """Return what one standard finds: complete or what it lacks, then dates and notes."""
        ink = theme.SMALL.but(ink=theme.INK)
        spans = [Span(f"{line.name}: ", theme.SMALL_STRONG.but(ink=theme.INK))]
        if line.is_complete:
            said = self.words.say("papers.standard.complete")
            spans.append(Span(f"{said} ", theme.SMALL_STRONG.but(ink=theme.LEAF)))
        else:
            said = self.words.say("papers.standard.lacks")
            spans.append(Span(f"{said} ", theme.SMALL_STRONG.but(ink=theme.STOP)))
        for lack in line.lacks:
            mark = MEMORY_MARK if lack.from_memory else ""
            self.marks.from_memory |= lack.from_memory
            spans.append(Span(f"{lack.text} [{lack.citation}{mark}]; ", ink))
        spans += [Span(f"{note} ", theme.SMALL_STRONG.but(ink=theme.AMBER)) for note in line.notes]
        if line.dates:
            spans.append(Span(line.dates, theme.SMALL))
        return spans

    def captioned(self, key: str, value: Value) -> list[Span]:
        """Return "caption value" in small type, or nothing where an optional value is empty."""
        if value.is_blank:
            return []
        label = self.words.say(key)
        spans = self.value(value, label, theme.SMALL.but(ink=theme.INK))
        return [Span(f"{label} ", theme.SMALL), *spans]
