"""The door notice: the sign of 40 CFR 170.409(b), on one sheet or as tiles of the standard size.

Words and their order, the circle with a raised hand and a stern face, and the colours as compiled
in the public rules (read in part; placement of hand and face from memory). The drawing is our own.
"""

from __future__ import annotations

import io
from typing import TYPE_CHECKING, Any

from reportlab.lib.colors import HexColor
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas

from tepal.reports import theme
from tepal.reports.door_view import LETTERING, STANDARD_MM, DoorNoticeView
from tepal.reports.gate import Gate
from tepal.reports.lines import Span, TextBlock
from tepal.reports.typeface import cap_height, text_width
from tepal.reports.words import Words

if TYPE_CHECKING:
    from collections.abc import Mapping

__all__ = ["DoorNoticeView", "render_door_notice"]

_RED = HexColor("#c8102e")
_STRONG = "TepalStrong"
_HEAD = ("DANGER", "PELIGRO")
_WHAT = ("PESTICIDES", "PESTICIDAS")
_OUT = ("KEEP OUT", "NO ENTRE")
_TILES = (2, 2)


def render_door_notice(view: DoorNoticeView, words: Mapping[str, str]) -> bytes:
    """Return the PDF; the same view and words give the same bytes.

    Raises
    ------
    CatalogueError   `words` lacks a sentence of the paper.
    """
    return _Door(view, Words(words)).render()


class _Door:
    def __init__(self, view: DoorNoticeView, words: Words) -> None:
        self.view, self.words = view, words
        self.gate = Gate()
        self.page = theme.geometry(view.paper, landscape=False)
        self.letters = LETTERING[view.form]

    def render(self) -> bytes:
        file = io.BytesIO()
        text_width("A", _STRONG, 10)  # registers the faces before the canvas asks for one
        canvas = Canvas(
            file, pagesize=(self.page.width, self.page.height), invariant=1, pageCompression=1,
            lang=self.view.language, initialFontName="TepalText",
        )  # fmt: skip
        canvas.setTitle(self.gate.printable(self.view.title))
        canvas.setAuthor(self.gate.printable(self.view.establishment.name))
        canvas.setCreator("Tepal")
        if self.view.form == "tiled":
            self._tiles(canvas)
        else:
            self._sheet(canvas)
        canvas.save()
        return file.getvalue()

    def _sheet(self, canvas: Any) -> None:
        page = self.page
        below = self._text_height(page)
        width = page.width - 2 * theme.MARGIN_OUTER_MM * mm
        bottom = below + 10 * mm
        height = page.height - 10 * mm - bottom
        canvas.saveState()
        canvas.translate(theme.MARGIN_OUTER_MM * mm, bottom)
        self._sign(canvas, width, height)
        canvas.restoreState()
        self._below(canvas, below + 6 * mm)
        canvas.showPage()

    def _tiles(self, canvas: Any) -> None:
        """Draw the sign once for each tile, shifted and clipped; the marks show where to cut."""
        page = self.page
        width, height = (side * mm for side in STANDARD_MM)
        across, down = width / _TILES[0], height / _TILES[1]
        left, bottom = (page.width - across) / 2, (page.height - down) / 2 + 8 * mm
        for row in range(_TILES[1]):
            for column in range(_TILES[0]):
                canvas.saveState()
                clip = canvas.beginPath()
                clip.rect(left, bottom, across, down)
                canvas.clipPath(clip, stroke=0, fill=0)
                canvas.translate(left - column * across, bottom - (_TILES[1] - 1 - row) * down)
                self._sign(canvas, width, height)
                canvas.restoreState()
                canvas.setStrokeColor(theme.RULE_STRONG)
                canvas.setLineWidth(theme.HAIRLINE)
                canvas.setDash(3, 3)
                canvas.rect(left, bottom, across, down)
                canvas.setDash()
                number = row * _TILES[0] + column + 1
                told = self.words.say("papers.sign.tile", n=number, of=_TILES[0] * _TILES[1])
                self._write(canvas, [told, *self.view.size_notes, self._foot()], bottom - 3 * mm)
                canvas.showPage()
        self._below(canvas, page.height - 40 * mm)
        canvas.showPage()

    # --- the sign ----------------------------------------------------------------------------

    def _sign(self, canvas: Any, width: float, height: float) -> None:
        letters = self.letters
        canvas.setFillColor(theme.WHITE)
        canvas.setStrokeColor(theme.INK)
        canvas.setLineWidth(2.2 * mm)
        canvas.rect(1.5 * mm, 1.5 * mm, width - 3 * mm, height - 3 * mm, stroke=1, fill=1)
        rows = [*((word, letters.heading_mm, _RED) for word in _HEAD)]
        rows += [(word, letters.letters_mm, theme.INK) for word in _WHAT]
        last = [(word, letters.letters_mm, theme.INK) for word in _OUT]
        solid = sum(cap for _, cap, _ in (*rows, *last)) * mm + letters.circle_mm * mm
        gap = (height - solid - 8 * mm) / (len(rows) + len(last) + 2)
        y = height - 4 * mm
        for word, cap, ink in rows:
            y -= gap + cap * mm
            self._word(canvas, word, cap, ink, width / 2, y)
        y -= gap + letters.circle_mm * mm
        self._circle(canvas, width / 2, y + letters.circle_mm * mm / 2, letters.circle_mm * mm / 2)
        for word, cap, ink in last:
            y -= gap + cap * mm
            self._word(canvas, word, cap, ink, width / 2, y)

    def _word(self, canvas: Any, word: str, cap_mm: float, ink: Any, x: float, y: float) -> None:
        size = cap_mm * mm / cap_height(_STRONG)
        canvas.setFont(_STRONG, size)
        canvas.setFillColor(ink)
        canvas.drawCentredString(x, y, word)

    def _circle(self, canvas: Any, x: float, y: float, r: float) -> None:
        """Draw a red disc with a white raised hand on the left and a stern white face behind it."""
        canvas.setLineWidth(r * 0.05)
        canvas.setStrokeColor(theme.INK)
        canvas.setFillColor(_RED)
        canvas.circle(x, y, r, stroke=1, fill=1)
        canvas.setFillColor(theme.WHITE)
        # face: right; a little smaller than the hand
        fx, fy, fr = x + r * 0.45, y - r * 0.02, r * 0.4
        canvas.setLineWidth(r * 0.03)
        canvas.ellipse(fx - fr * 0.82, fy - fr, fx + fr * 0.82, fy + fr, stroke=1, fill=1)
        canvas.setLineWidth(r * 0.06)
        for side in (-1, 1):
            brow_x = fx + side * fr * 0.38
            canvas.line(
                brow_x - fr * 0.24, fy + fr * (0.3 - side * 0.11),
                brow_x + fr * 0.24, fy + fr * (0.3 + side * 0.11),
            )  # fmt: skip
            canvas.setFillColor(theme.INK)
            canvas.circle(brow_x, fy + fr * 0.08, fr * 0.1, stroke=0, fill=1)
        canvas.arc(fx - fr * 0.4, fy - fr * 0.85, fx + fr * 0.4, fy - fr * 0.3, 30, 120)
        # hand: left, in front
        canvas.setFillColor(theme.WHITE)
        canvas.setLineWidth(r * 0.035)
        hx, hy = x - r * 0.43, y - r * 0.12
        w = r * 0.15
        for n, tall in enumerate((0.66, 0.78, 0.74, 0.58)):
            left = hx - 2 * w + n * w
            canvas.roundRect(left, hy, w * 0.94, r * tall, w * 0.45, stroke=1, fill=1)
        canvas.saveState()
        canvas.translate(hx + 2 * w, hy - r * 0.2)
        canvas.rotate(-38)
        canvas.roundRect(-w * 0.6, 0, w, r * 0.36, w * 0.45, stroke=1, fill=1)
        canvas.restoreState()
        canvas.roundRect(hx - 2 * w, hy - r * 0.42, 4 * w, r * 0.56, w * 0.6, stroke=1, fill=1)
        canvas.setStrokeColor(theme.WHITE)
        canvas.rect(hx - 1.88 * w, hy + r * 0.02, 3.74 * w, r * 0.16, stroke=0, fill=1)

    # --- the words below ------------------------------------------------------------------------

    def _foot(self) -> str:
        facts, say = self.view, self.words.say
        print_number = (
            say("papers.reprint", n=facts.reprint_number)
            if facts.reprint_number
            else say("papers.first_print")
        )
        printed = say("papers.foot.printed", at=facts.generated_at, by=facts.printed_by)
        return (
            f"{facts.establishment.name} · {printed} · {say('papers.print_number')} {print_number}"
            f" · {say('papers.foot.anchor', seq=facts.head_seq, hash=facts.head_hash[:12])}"
        )

    def _blocks(self) -> list[TextBlock]:
        body = [TextBlock(self.gate, [Span(line, theme.STRONG)]) for line in self.view.below]
        body += [TextBlock(self.gate, [Span(line)]) for line in self.view.size_notes]
        return [*body, TextBlock(self.gate, [Span(self._foot(), theme.SMALL)])]

    def _text_height(self, page: theme.Geometry) -> float:
        width = page.width - 2 * theme.MARGIN_OUTER_MM * mm
        return float(sum(block.wrap(width, 1e6)[1] for block in self._blocks()))

    def _below(self, canvas: Any, top: float) -> None:
        width = self.page.width - 2 * theme.MARGIN_OUTER_MM * mm
        y = top
        for block in self._blocks():
            y -= block.wrap(width, 1e6)[1]
            block.draw_at(canvas, theme.MARGIN_OUTER_MM * mm, y)

    def _write(self, canvas: Any, lines: list[str], top: float) -> None:
        width = self.page.width - 2 * theme.MARGIN_OUTER_MM * mm
        y = top
        for line in lines:
            block = TextBlock(self.gate, [Span(line, theme.SMALL)])
            y -= block.wrap(width, 1e6)[1]
            block.draw_at(canvas, theme.MARGIN_OUTER_MM * mm, y)
