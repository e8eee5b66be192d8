"""Text and codes straight on a canvas, for papers whose pieces have their places in mm."""

from __future__ import annotations

import io
from typing import TYPE_CHECKING, Any

import segno
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas

from tepal.reports import theme
from tepal.reports.gate import Gate
from tepal.reports.typeface import FONT_OF_FACE, text_width

if TYPE_CHECKING:
    from tepal.reports.theme import Face

QUIET_MODULES = 4  # ISO/IEC 18004: free space on every side of the code


class Ink:
    """A canvas in millimetres from the upper left corner of the page.

    Parameters
    ----------
    width_mm, height_mm : float     Size of every page.
    title, author, language : str   Of the document.
    """

    def __init__(
        self, width_mm: float, height_mm: float, *, title: str, author: str, language: str
    ) -> None:
        text_width("", FONT_OF_FACE["text"], 10)  # registers the faces
        self.width_mm, self.height_mm = width_mm, height_mm
        self._gate = Gate()
        self._file = io.BytesIO()
        self.canvas: Any = Canvas(
            self._file, pagesize=(width_mm * mm, height_mm * mm), invariant=1, pageCompression=1,
            lang=language, initialFontName=FONT_OF_FACE["text"],
        )  # fmt: skip
        self.canvas.setTitle(self._gate.printable(title))
        self.canvas.setAuthor(self._gate.printable(author))
        self.canvas.setCreator("Tepal")

    def text(
        self,
        x_mm: float,
        y_mm: float,
        text: str,
        size: float,
        *,
        face: Face = "text",
        width_mm: float | None = None,
        align: str = "left",
        ink: Any = theme.INK,
    ) -> None:
        """Write one line whose foot stands at `y_mm`; too long for `width_mm`, it is set smaller.

        Below half its size it is cut and ends in "…".
        """
        runs = self._gate.runs(" ".join(text.split()), face)
        width = sum(text_width(run.text, run.font, size) for run in runs)
        if width_mm is not None and width > width_mm * mm:
            if width * 0.5 > width_mm * mm:
                kept = len(text) - 1
                short = f"{text[:kept].rstrip()}…"
                while kept > 1 and self._width(short, size * 0.5, face) > width_mm * mm:
                    kept -= 1
                    short = f"{text[:kept].rstrip()}…"
                self.text(x_mm, y_mm, short, size * 0.5, face=face, align=align, ink=ink)
                return
            size *= width_mm * mm / width
            width = width_mm * mm
        x = x_mm * mm
        if align == "right":
            x -= width
        elif align == "centre":
            x -= width / 2
        self.canvas.setFillColor(ink)
        for run in runs:
            self.canvas.setFont(run.font, size)
            self.canvas.drawString(x, (self.height_mm - y_mm) * mm, run.text)
            x += text_width(run.text, run.font, size)

    def _width(self, text: str, size: float, face: Face) -> float:
        return sum(text_width(run.text, run.font, size) for run in self._gate.runs(text, face))

    def line(self, x1: float, y1: float, x2: float, y2: float, width: float = 0.4) -> None:
        """Draw a line, places in mm, width in points."""
        self.canvas.setStrokeColor(theme.RULE_STRONG)
        self.canvas.setLineWidth(width)
        h = self.height_mm
        self.canvas.line(x1 * mm, (h - y1) * mm, x2 * mm, (h - y2) * mm)

    def box(
        self,
        x: float,
        y: float,
        width: float,
        height: float,
        *,
        fill: Any = None,
        dash: bool = False,
    ) -> None:
        """Draw a rectangle with its upper left corner at x, y; mm."""
        self.canvas.setStrokeColor(theme.RULE_STRONG)
        self.canvas.setLineWidth(0.6)
        self.canvas.setDash([2, 2] if dash else [])
        if fill is not None:
            self.canvas.setFillColor(fill)
        self.canvas.rect(
            x * mm, (self.height_mm - y - height) * mm, width * mm, height * mm,
            stroke=1, fill=0 if fill is None else 1,
        )  # fmt: skip
        self.canvas.setDash([])

    def code(self, x: float, y: float, side: float, text: str) -> float:
        """Draw a QR code (ISO/IEC 18004, error level M) with its quiet zone in a square of `side`.

        Returns
        -------
        float, mm. The side of one module.
        """
        rows = tuple(segno.make_qr(text, error="m").matrix)
        module = side / (len(rows) + 2 * QUIET_MODULES)
        path = self.canvas.beginPath()
        for i, row in enumerate(rows):
            for j, dark in enumerate(row):
                if dark:
                    left = x + (j + QUIET_MODULES) * module
                    top = y + (i + QUIET_MODULES) * module
                    path.rect(
                        left * mm, (self.height_mm - top - module) * mm, module * mm, module * mm
                    )
        self.canvas.setFillColor(theme.INK)
        self.canvas.drawPath(path, stroke=0, fill=1)
        return float(module)

    def new_page(self) -> None:
        """End the page."""
        self.canvas.showPage()

    def pdf(self) -> bytes:
        """Return the document; the last page was ended by `new_page`."""
        self.canvas.save()
        return self._file.getvalue()
