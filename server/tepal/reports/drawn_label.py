"""Label and safety data sheet of the demo's invented products, as one PDF page each.

They say on their face that they are invented. Fonts are the PDF's own: nothing is embedded.
"""

from __future__ import annotations

import io
from typing import TYPE_CHECKING

from reportlab.lib.pagesizes import A4
from reportlab.lib.utils import simpleSplit
from reportlab.pdfgen.canvas import Canvas

if TYPE_CHECKING:
    from collections.abc import Sequence


def drawn_label(title: str, lines: Sequence[tuple[str, str]]) -> bytes:
    """Return a PDF page with a title, captions and texts; the same input gives the same bytes."""
    out = io.BytesIO()
    page = Canvas(out, pagesize=A4, invariant=1)
    page.setTitle(title)
    page.rect(36, 36, A4[0] - 72, A4[1] - 72)
    page.setFont("Helvetica-Bold", 20)
    page.drawString(54, A4[1] - 80, title.encode("latin-1", "replace").decode("latin-1"))
    page.setFont("Helvetica-Oblique", 11)
    page.drawString(54, A4[1] - 100, "Invented for a demo. No product, no maker, no advice.")
    y = A4[1] - 136
    for caption, text in lines:
        page.setFont("Helvetica-Bold", 11)
        page.drawString(54, y, caption)
        y -= 15
        page.setFont("Helvetica", 10.5)
        plain = text.encode("latin-1", "replace").decode("latin-1")
        for line in simpleSplit(plain, "Helvetica", 10.5, A4[0] - 108):
            page.drawString(54, y, line)
            y -= 13
        y -= 8
    page.showPage()
    page.save()
    return out.getvalue()
