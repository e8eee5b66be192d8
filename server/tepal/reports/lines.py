"""Text set in lines: spans in, broken lines out, drawn and split over pages.

A `TextBlock` breaks at spaces, and inside a word only when the word alone is wider than the
column, so nothing is ever cut off. It splits between any two lines, so it has no greatest height.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from reportlab.platypus import Flowable

from tepal.reports.theme import BODY, HAIRLINE, STRIKE, TextStyle
from tepal.reports.typeface import text_width

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from reportlab.lib.colors import Color

    from tepal.reports.gate import Gate

NO_BREAK = "\u00a0"

# Where the baseline and the strike lie, as shares of leading and size. Drawn values of this theme.
_BASELINE = 0.76
_STRIKE_RISE = 0.30
_FRAME_INSET = 3.2  # free space left and right of framed text, frame included
_BREAK_AFTER = "-/_,;:.@"


@dataclass(frozen=True, slots=True)
class Span:
    """Text in one style; `strike` draws a line through it, `frame` a thin box around it."""

    text: str
    style: TextStyle = BODY
    strike: bool = False
    frame: bool = False

    def struck(self) -> Span:
        """Return the span with a line through it."""
        return Span(self.text, self.style, True, self.frame)


@dataclass(slots=True)
class _Piece:
    text: str
    font: str
    span: Span
    width: float


@dataclass(slots=True)
class _Word:
    pieces: list[_Piece] = field(default_factory=list)
    gap: float = 0.0  # width of the space before it; 0 where it touches the word before
    starts_line: bool = False

    @property
    def width(self) -> float:
        return sum(piece.width for piece in self.pieces)


@dataclass(frozen=True, slots=True)
class _Segment:
    x: float
    width: float
    text: str
    font: str
    span: Span


_Line = tuple[_Segment, ...]


def _words(gate: Gate, spans: Iterable[Span]) -> list[_Word]:
    words: list[_Word] = []
    open_word: _Word | None = None
    gap = 0.0
    breaks = False
    for span in spans:
        text = span.text.replace(" ", NO_BREAK) if span.frame else span.text
        for run in gate.runs(text, span.style.face):
            space = text_width(" ", run.font, span.style.size, span.style.tracking)
            for i, row in enumerate(run.text.split("\n")):
                if i:
                    if breaks:  # an empty line keeps its height
                        words.append(_Word(starts_line=True))
                    open_word, gap, breaks = None, 0.0, True
                for j, text in enumerate(row.split(" ")):
                    if j:
                        open_word, gap = None, space
                    if not text:
                        continue
                    if open_word is None:
                        open_word = _Word(gap=gap, starts_line=breaks)
                        words.append(open_word)
                        gap, breaks = 0.0, False
                    width = text_width(text, run.font, span.style.size, span.style.tracking)
                    width += 2 * _FRAME_INSET if span.frame else 0.0
                    open_word.pieces.append(_Piece(text, run.font, span, width))
    return words


def _chopped(word: _Word, width: float) -> list[_Word]:
    """Break a word wider than the column, after punctuation where that wastes under a third."""
    parts = [_Word(gap=word.gap, starts_line=word.starts_line)]
    room = width
    for piece in word.pieces:
        size = piece.span.style.size
        rest = piece.text
        while rest:
            n, used = 0, 0.0
            while n < len(rest):
                char = text_width(rest[n], piece.font, size, piece.span.style.tracking)
                if used + char > room and (n or parts[-1].pieces):
                    break
                used += char
                n += 1
            if n < len(rest):
                good = max(rest.rfind(mark, 0, n) for mark in _BREAK_AFTER) + 1
                n = good if good > n * 2 // 3 else n
            if n:
                used = text_width(rest[:n], piece.font, size, piece.span.style.tracking)
                parts[-1].pieces.append(_Piece(rest[:n], piece.font, piece.span, used))
                room -= used
                rest = rest[n:]
            if rest:
                parts.append(_Word(starts_line=True))
                room = width
    return parts


def _set(words: list[_Word], width: float) -> tuple[_Line, ...]:
    lines: list[list[_Word]] = []
    used = 0.0
    for whole in words:
        for word in _chopped(whole, width) if whole.width > width else (whole,):
            if not lines or word.starts_line or used + word.gap + word.width > width:
                lines.append([word])
                used = word.width
            else:
                lines[-1].append(word)
                used += word.gap + word.width
    return tuple(_segments(line) for line in lines)


def _segments(words: list[_Word]) -> _Line:
    found: list[_Segment] = []
    x = 0.0
    for i, word in enumerate(words):
        gap = word.gap if i else 0.0
        for j, piece in enumerate(word.pieces):
            last = found[-1] if found else None
            step = 0.0 if j else gap
            if last is not None and last.font == piece.font and last.span is piece.span:
                text = f"{last.text}{' ' if step else ''}{piece.text}"
                found[-1] = _Segment(
                    last.x, last.width + step + piece.width, text, last.font, last.span
                )
            else:
                found.append(_Segment(x + step, piece.width, piece.text, piece.font, piece.span))
            x += step + piece.width
    return tuple(found)


class TextBlock(Flowable):  # type: ignore[misc]
    """Spans set in lines of one leading.

    Parameters
    ----------
    gate : Gate                The paper's text gate.
    spans : sequence of Span   Set one after the other, with no space added between them.
    leading : float, pt        Line height; default: the greatest of the spans.
    align : "left" or "right"  Default: of the first span.
    """

    def __init__(
        self,
        gate: Gate,
        spans: Sequence[Span],
        leading: float | None = None,
        align: str | None = None,
    ) -> None:
        super().__init__()
        self.leading = leading or max((s.style.leading for s in spans), default=BODY.leading)
        self.align = align or (spans[0].style.align if spans else "left")
        self._words = _words(gate, spans)
        self._lines: tuple[_Line, ...] | None = None
        self._set_width = -1.0

    def wrap(self, avail: float, _room: float) -> tuple[float, float]:
        """Break the lines for a width; return that width and the height, pt."""
        if self._set_width != avail:
            if self._words or self._lines is None:
                self._lines = _set(self._words, avail)
            self._set_width = avail
        return avail, len(self._lines or ()) * self.leading

    @property
    def natural_width(self) -> float:
        """Width of the text on one line, pt."""
        return sum(word.gap * bool(i) + word.width for i, word in enumerate(self._words))

    @property
    def n_lines(self) -> int:
        """Lines of the last wrap."""
        return len(self._lines or ())

    def split(self, avail: float, height: float) -> list[TextBlock]:
        """Return the part that fits and the rest, or nothing when no line fits."""
        self.wrap(avail, height)
        lines = self._lines or ()
        n = int((height + 1e-6) // self.leading)
        if n >= len(lines):
            return [self]
        if n < 1:
            return []
        return [self._part(lines[:n]), self._part(lines[n:])]

    def _part(self, lines: tuple[_Line, ...]) -> TextBlock:
        part = object.__new__(TextBlock)
        Flowable.__init__(part)
        part.leading, part.align = self.leading, self.align
        part._words, part._lines, part._set_width = [], lines, self._set_width
        return part

    def draw(self) -> None:
        """Draw on the canvas given by `drawOn`."""
        self.draw_at(self.canv, 0.0, 0.0)

    def draw_at(self, canvas: Any, x: float, y: float) -> None:
        """Draw with the lower left corner at x, y."""
        lines = self._lines or ()
        top = y + len(lines) * self.leading
        ink: Color | None = None
        for i, line in enumerate(lines):
            base = top - (i + _BASELINE) * self.leading
            shift = x
            if self.align == "right" and line:
                shift += self._set_width - line[-1].x - line[-1].width
            for segment in line:
                style = segment.span.style
                if style.ink is not ink:
                    ink = style.ink
                    canvas.setFillColor(ink)
                canvas.setFont(segment.font, style.size)
                canvas.drawString(
                    shift + segment.x + (_FRAME_INSET if segment.span.frame else 0.0),
                    base,
                    segment.text,
                    charSpace=style.tracking * style.size,
                )
            _draw_marks(canvas, line, shift, base)


def _draw_marks(canvas: Any, line: _Line, x: float, base: float) -> None:
    start: float | None = None
    for i, segment in enumerate(line):
        size = segment.span.style.size
        if segment.span.frame:
            canvas.setStrokeColor(segment.span.style.ink)
            canvas.setLineWidth(HAIRLINE)
            canvas.roundRect(
                x + segment.x + 1, base - size * 0.26, segment.width - 2, size * 1.14, 1.6
            )
        if not segment.span.strike:
            continue
        if start is None:
            start = segment.x
        last = i + 1 == len(line) or not line[i + 1].span.strike
        if last:
            rise = base + size * _STRIKE_RISE
            canvas.setStrokeColor(segment.span.style.ink)
            canvas.setLineWidth(STRIKE)
            canvas.line(x + start, rise, x + segment.x + segment.width, rise)
            start = None
