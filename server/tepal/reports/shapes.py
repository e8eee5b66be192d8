"""Drawn pieces of the papers: stakes with lot codes, framed panels, anchor codes."""

from __future__ import annotations

from typing import TYPE_CHECKING

import segno
from reportlab.platypus import Flowable

from tepal.reports import theme
from tepal.reports.flowables import Stack, drawn_at, height_of
from tepal.reports.lines import Span, TextBlock

if TYPE_CHECKING:
    from collections.abc import Sequence

    from reportlab.lib.colors import Color

    from tepal.reports.gate import Gate

_STAKE_HEIGHT = 13.5
_STAKE_SHOULDER = 0.34  # share of the height that is the point; the stake of the screens has 0.36


class Stake(Flowable):  # type: ignore[misc]
    """The stake with a lot's code and the crop's name beside it.

    A code too long for a stake is set as plain text in front of the name, so that it prints whole.
    """

    def __init__(self, gate: Gate, code: str, name: Sequence[Span], *, struck: bool) -> None:
        super().__init__()
        style = theme.FIGURE.but(size=8.0)
        self._gate, self._name, self._struck = gate, list(name), struck
        self._code = Span(code, style, strike=struck)
        self._text: TextBlock | None = None
        self._inset = 0.0
        self._set_width = -1.0
        self.height = 0.0

    def wrap(self, avail: float, _room: float) -> tuple[float, float]:
        """Return the width given and the taller of stake and name, pt."""
        if self._set_width == avail:
            return avail, self.height
        self._set_width = avail
        code = TextBlock(self._gate, [self._code], leading=9.5)
        stake = code.natural_width + 8
        if not self._code.text or stake > avail * 0.45 or "\n" in self._code.text:
            self._inset = 0.0
            between = [Span(" ", theme.BODY)] if self._code.text else []
            self._text = TextBlock(self._gate, [self._code, *between, *self._name])
            self.height = height_of(self._text, avail)
            return avail, self.height
        self._inset = max(stake, 20.0) + 5
        self._stake_text = code
        code.wrap(avail, 0)
        self._text = TextBlock(self._gate, self._name)
        self._text_height = height_of(self._text, avail - self._inset)
        self.height = max(_STAKE_HEIGHT + 1, self._text_height)
        return avail, self.height

    def split(self, avail: float, height: float) -> list[Flowable]:
        """Split the name; the stake stays with its first lines."""
        self.wrap(avail, height)
        if self._inset == 0.0 and self._text is not None:
            return list(self._text.split(avail, height))
        whole = TextBlock(self._gate, [self._code, Span(" ", theme.BODY), *self._name])
        return list(whole.split(avail, height))

    def draw(self) -> None:
        """Draw the stake, its code and the name."""
        if self._text is None:
            return
        if self._inset == 0.0:
            drawn_at(self._text, self.canv, 0, 0)
            return
        canvas = self.canv
        width, top = self._inset - 5, self.height
        shoulder = top - _STAKE_HEIGHT * (1 - _STAKE_SHOULDER)
        path = canvas.beginPath()
        path.moveTo(0, top)
        path.lineTo(width, top)
        path.lineTo(width, shoulder)
        path.lineTo(width / 2, top - _STAKE_HEIGHT)
        path.lineTo(0, shoulder)
        path.close()
        canvas.setFillColor(theme.TRAY)
        canvas.setStrokeColor(theme.RULE_STRONG)
        canvas.setLineWidth(theme.HAIRLINE)
        canvas.drawPath(path, stroke=1, fill=1)
        shift = (width - self._stake_text.natural_width) / 2
        drawn_at(self._stake_text, canvas, shift, top - 9.2)
        drawn_at(self._text, canvas, self._inset, top - self._text_height)


class Panel(Flowable):  # type: ignore[misc]
    """A stack in a thin frame; splits with its content."""

    def __init__(
        self, parts: Sequence[Flowable], *, ink: Color, pad: float = 6.0, least: float = 0.0
    ) -> None:
        super().__init__()
        self.least = least  # least height, pt: panels side by side end on one line
        self.stack = Stack(parts, gap=2.0)
        self.ink, self.pad = ink, pad

    def wrap(self, avail: float, _room: float) -> tuple[float, float]:
        """Return the width given and the height of the content with padding, pt."""
        self.width = avail
        self._text_height = height_of(self.stack, avail - 2 * self.pad)
        self.height = max(self.least, self._text_height + 2 * self.pad)
        return avail, self.height

    def split(self, avail: float, height: float) -> list[Flowable]:
        """Split the content into two frames."""
        halves = self.stack.split(avail - 2 * self.pad, height - 2 * self.pad)
        if len(halves) != 2:
            return []
        return [Panel(half.parts, ink=self.ink, pad=self.pad) for half in halves]

    def draw(self) -> None:
        """Draw frame and content."""
        self.canv.setStrokeColor(self.ink)
        self.canv.setLineWidth(theme.LINE)
        self.canv.roundRect(0, 0, self.width, self.height, 5)
        self.stack.drawOn(self.canv, self.pad, self.height - self.pad - self._text_height)


class AnchorCode(Flowable):  # type: ignore[misc]
    """A QR code (ISO/IEC 18004, error level M) of a short ASCII text."""

    def __init__(self, text: str, side: float) -> None:
        super().__init__()
        self._rows = tuple(segno.make_qr(text, error="m").matrix)
        self.side = side

    def wrap(self, _avail: float, _room: float) -> tuple[float, float]:
        """Return the side twice, pt."""
        return self.side, self.side

    def draw(self) -> None:
        """Draw the dark modules; the quiet zone is the free paper around it."""
        module = self.side / len(self._rows)
        path = self.canv.beginPath()
        for i, row in enumerate(self._rows):
            for j, dark in enumerate(row):
                if dark:
                    path.rect(j * module, self.side - (i + 1) * module, module, module)
        self.canv.setFillColor(theme.INK)
        self.canv.drawPath(path, stroke=0, fill=1)


class Boxes(Flowable):  # type: ignore[misc]
    """Empty boxes to write in, one per label, wrapped into lines; a caption stands in front.

    Splits between its lines.
    """

    width_each = 96.0
    height_each = 30.0

    def __init__(self, gate: Gate, labels: Sequence[str], caption: str) -> None:
        super().__init__()
        self._gate, self._caption = gate, caption
        self.labels = list(labels)

    def _per_line(self, width: float) -> int:
        return max(1, int(width // self.width_each))

    def wrap(self, avail: float, _room: float) -> tuple[float, float]:
        """Return the width given and the height of caption and lines of boxes, pt."""
        self.width = avail
        per_line = self._per_line(avail)
        self._lines = [self.labels[i : i + per_line] for i in range(0, len(self.labels), per_line)]
        self._above = TextBlock(self._gate, [Span(self._caption, theme.SMALL)])
        self._above_height = height_of(self._above, avail)
        self.height = self._above_height + len(self._lines) * (self.height_each + 4) + 3
        return avail, self.height

    def split(self, avail: float, height: float) -> list[Flowable]:
        """Return the lines that fit and the rest."""
        self.wrap(avail, height)
        fit = int((height - self._above_height - 3) // (self.height_each + 4))
        if fit < 1:
            return []
        n = fit * self._per_line(avail)
        return [
            Boxes(self._gate, labels, self._caption)
            for labels in (self.labels[:n], self.labels[n:])
            if labels
        ]

    def draw(self) -> None:
        """Draw caption, boxes and their labels."""
        y = self.height - self._above_height
        self._above.draw_at(self.canv, 0, y)
        self.canv.setLineWidth(theme.HAIRLINE)
        for line in self._lines:
            y -= self.height_each + 4
            for i, label in enumerate(line):
                x = i * self.width_each
                self.canv.setStrokeColor(theme.RULE_STRONG)
                self.canv.roundRect(x, y, self.width_each - 6, self.height_each, 4)
                text = TextBlock(self._gate, [Span(label, theme.SMALL)])
                tall = height_of(text, self.width_each - 14)
                text.draw_at(self.canv, x + 4, y + self.height_each - tall - 1)
