"""The faces of the papers and which characters they can print.

Four Atkinson Hyperlegible files carry the text; DejaVu Sans lends what they lack (arrows, ticks,
Greek, Cyrillic). ReportLab keeps fonts in one registry per process, so they are registered once,
at the first use and not at import.
"""

from __future__ import annotations

from functools import cache, lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont

if TYPE_CHECKING:
    from tepal.reports.theme import Face

FOLDER = Path(__file__).parent / "fonts"
FALLBACK = "TepalFallback"
FONT_OF_FACE: dict[Face, str] = {
    "text": "TepalText",
    "strong": "TepalStrong",
    "mono": "TepalMono",
    "figure": "TepalFigure",
}
_FILES = {
    "TepalText": "AtkinsonHyperlegibleNext-Regular.ttf",
    "TepalStrong": "AtkinsonHyperlegibleNext-Bold.ttf",
    "TepalMono": "AtkinsonHyperlegibleMono-Regular.ttf",
    "TepalFigure": "AtkinsonHyperlegibleMono-SemiBold.ttf",
    FALLBACK: "DejaVuSans.ttf",
}


@cache
def _faces() -> dict[str, TTFont]:
    faces = {name: TTFont(name, str(FOLDER / file)) for name, file in _FILES.items()}
    for font in faces.values():
        pdfmetrics.registerFont(font)
    return faces


@cache
def glyphs(font: str) -> frozenset[str]:
    """Return the characters a registered font has a letterform for."""
    return frozenset(chr(code) for code in _faces()[font].face.charToGlyph)


@lru_cache(maxsize=65536)
def text_width(text: str, font: str, size: float, tracking: float = 0.0) -> float:
    """Return the width of a text in points, `tracking` em added after each character."""
    return float(_faces()[font].stringWidth(text, size)) + len(text) * tracking * size


def cap_height(font: str) -> float:
    """Return the height of the capitals of a font, in em."""
    return float(_faces()[font].face.capHeight) / 1000
