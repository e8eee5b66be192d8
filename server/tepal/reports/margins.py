"""What stands in the margins of every page: running head, running foot, page x of y."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from reportlab.lib.units import mm

from tepal.reports import theme
from tepal.reports.flowables import height_of
from tepal.reports.lines import Span, TextBlock

if TYPE_CHECKING:
    from collections.abc import Sequence

    from tepal.reports.gate import Gate
    from tepal.reports.theme import Geometry, TextStyle
    from tepal.reports.words import Words

_ELLIPSIS = "…"
_BETWEEN = "  ·  "


@dataclass(slots=True)
class Margins:
    """Draws head and foot; the head is left out on page 1, where the front says the same.

    A line too long for the margin is shortened here and only here: the front prints it whole.
    """

    gate: Gate
    words: Words
    geometry: Geometry
    head: tuple[str, str]
    foot: Sequence[str]

    def draw(self, canvas: Any, page: int, pages: int) -> None:
        """Draw the margins of one page."""
        g = self.geometry
        number = self.words.say("papers.page", page=page, pages=pages)
        right = theme.SMALL_STRONG.but(ink=theme.INK, align="right")
        if page > 1:
            y = g.height - theme.RUNNING_HEAD_MM * mm
            name, title = self.head
            strong = theme.SMALL_STRONG.but(ink=theme.INK)
            third = g.body_width / 3
            self._line(canvas, name, strong, g.left, y, third - 6)
            self._line(canvas, title, theme.SMALL, g.left + third, y, third - 6)
            self._line(canvas, number, right, g.left + 2 * third, y, third)
            self._rule(canvas, y - 3)
        y = theme.RUNNING_FOOT_MM * mm
        self._rule(canvas, y)
        y -= 2 + theme.SMALL.leading
        self._line(canvas, number, right, g.right - 90, y, 90)
        for line in self._foot_lines(g.body_width - 96):
            self._line(canvas, line, theme.SMALL, g.left, y, g.body_width - 96)
            y -= theme.SMALL.leading

    def _foot_lines(self, width: float) -> list[str]:
        """Return the foot's items packed into lines of a width."""
        lines: list[str] = []
        for item in self.foot:
            longer = f"{lines[-1]}{_BETWEEN}{item}" if lines else item
            if lines and TextBlock(self.gate, [Span(longer, theme.SMALL)]).natural_width <= width:
                lines[-1] = longer
            else:
                lines.append(item)
        return lines

    def _rule(self, canvas: Any, y: float) -> None:
        canvas.setStrokeColor(theme.RULE)
        canvas.setLineWidth(theme.HAIRLINE)
        canvas.line(self.geometry.left, y, self.geometry.right, y)

    def _line(
        self, canvas: Any, text: str, style: TextStyle, x: float, y: float, width: float
    ) -> None:
        text = " ".join(text.split())
        block = TextBlock(self.gate, [Span(text, style)])
        while block.natural_width > width and len(text) > 1:
            keep = max(1, min(len(text) - 1, int(len(text) * width / block.natural_width) - 1))
            text = text[:keep].rstrip()
            block = TextBlock(self.gate, [Span(text + _ELLIPSIS, style)])
        height_of(block, width + 1)
        block.draw_at(canvas, x, y)
