"""Geometry, inks and type sizes of every paper, as named constants.

Lengths are millimetres where the name ends in `_mm`, PostScript points elsewhere. The inks are
those of the screens; each is dark enough to be read when the paper is copied in greyscale.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

from reportlab.lib.colors import Color, HexColor
from reportlab.lib.units import mm

PaperSize = Literal["a4", "letter"]
Face = Literal["text", "strong", "mono", "figure"]

# ISO 216 A4 and ANSI/ASME Y14.1 size A (letter, 8.5 in x 11 in), short side first.
PAPER_MM: dict[PaperSize, tuple[float, float]] = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}

MARGIN_BINDING_MM = 18.0  # left: room for the holes of a binder
MARGIN_OUTER_MM = 12.0
MARGIN_TOP_MM = 14.0  # holds the running head
MARGIN_BOTTOM_MM = 18.0  # holds the running foot
RUNNING_HEAD_MM = 10.0  # from the top edge to the bottom of the running head
RUNNING_FOOT_MM = 16.5  # from the bottom edge to the top of the running foot
STEM_MM = 8.0  # the column left of the records in which the stem stands
GUTTER_MM = 2.6  # free space between two columns

INK = HexColor("#1a1f18")
INK_SECOND = HexColor("#4d5247")
RULE = HexColor("#b4b2a4")  # hairline inside a record
RULE_STRONG = HexColor("#7c7e70")  # hairline between records
TRAY = HexColor("#f1efe6")
LEAF = HexColor("#25643a")
AMBER = HexColor("#7a4b00")
STOP = HexColor("#9b1c12")
SLATE = HexColor("#2f5470")
STEM = HexColor("#6f8f4e")
WHITE = HexColor("#ffffff")

HAIRLINE = 0.4
LINE = 0.8
STRIKE = 0.7


@dataclass(frozen=True, slots=True)
class TextStyle:
    """How a run of text looks: face, size and leading in points, ink, alignment.

    `tracking` is added after every character, in em; the wide mono faces stand closer with it.
    """

    face: Face = "text"
    size: float = 8.6
    leading: float = 10.8
    ink: Color = INK
    align: Literal["left", "right"] = "left"
    tracking: float = 0.0

    def but(self, **changes: object) -> TextStyle:
        """Return a copy with some fields changed."""
        return replace(self, **changes)  # type: ignore[arg-type]


BODY = TextStyle()
STRONG = BODY.but(face="strong")
FIGURE = BODY.but(face="figure", size=9.2, tracking=-0.045)
UNIT = BODY.but(face="strong", size=8.2)  # the unit beside a figure
CLOCK = BODY.but(face="mono", size=8.6, tracking=-0.045)
SMALL = TextStyle(size=7.4, leading=9.4, ink=INK_SECOND)
SMALL_STRONG = SMALL.but(face="strong")
HASH = SMALL.but(face="mono", size=7.0)
TITLE = TextStyle(face="strong", size=19.0, leading=23.0)
NAME = TextStyle(face="strong", size=12.5, leading=15.5)
HEADING = TextStyle(face="strong", size=11.0, leading=14.0)


@dataclass(frozen=True, slots=True)
class Geometry:
    """The sheet and its body area, in points; the origin is the lower left corner."""

    width: float
    height: float
    left: float
    right: float
    top: float
    bottom: float

    @property
    def body_width(self) -> float:
        """Width of the body area, pt."""
        return self.right - self.left

    @property
    def body_height(self) -> float:
        """Height of the body area, pt."""
        return self.top - self.bottom


def geometry(paper: PaperSize, *, landscape: bool) -> Geometry:
    """Return the sheet of a paper size, portrait or landscape, with the margins of this theme."""
    short, long = PAPER_MM[paper]
    width, height = (long, short) if landscape else (short, long)
    return Geometry(
        width=width * mm,
        height=height * mm,
        left=MARGIN_BINDING_MM * mm,
        right=(width - MARGIN_OUTER_MM) * mm,
        top=(height - MARGIN_TOP_MM) * mm,
        bottom=MARGIN_BOTTOM_MM * mm,
    )
