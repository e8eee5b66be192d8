"""The marks a chart is made of, and their three ways out: paper, SVG file, plain data for a page.

A chart is laid out once (charts.py); here nothing moves. Inks are roles, not colours: paper, the
light and the dark screen each give them their own, and no meaning hangs on colour alone.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any, Literal
from xml.sax.saxutils import escape, quoteattr

from reportlab.lib.colors import HexColor
from reportlab.platypus import Flowable

from tepal.reports import theme
from tepal.reports.gate import Gate, clean
from tepal.reports.typeface import FONT_OF_FACE, text_width

if TYPE_CHECKING:
    from reportlab.lib.colors import Color

    from tepal.reports.theme import Face

Anchor = Literal["start", "middle", "end"]
Fill = Literal["none", "ink", "paper"]

# Series: Okabe & Ito's palette for colour-blind readers (from memory), darkened or lightened so
# that each keeps 3:1 on its ground; glyph and dash tell them apart without colour.
_SERIES = {
    "paper": ("#1a1f18", "#0f5f9c", "#a8500a", "#0b6e50", "#8a3f73", "#5a5f66"),
    "light": ("#1a1f18", "#0f5f9c", "#a8500a", "#0b6e50", "#8a3f73", "#5a5f66"),
    "dark": ("#f1efe6", "#7cc0f2", "#f2a65e", "#5fd0a8", "#e3a1cc", "#b9bec6"),
}
_HEAT = {
    "paper": ("#ffffff", "#e6efe2", "#cddfc6", "#b0cda8", "#93ba8a"),
    "light": ("#ffffff", "#e6efe2", "#cddfc6", "#b0cda8", "#93ba8a"),
    "dark": ("#1f2420", "#26382a", "#2d4c36", "#356142", "#3d774f"),
}
_GROUND = {
    "paper": {"ink": "#1a1f18", "second": "#4d5247", "rule": "#b4b2a4", "paper": "#ffffff"},
    "light": {"ink": "#1a1f18", "second": "#4d5247", "rule": "#b4b2a4", "paper": "#ffffff"},
    "dark": {"ink": "#f1efe6", "second": "#c4c6ba", "rule": "#5d6258", "paper": "#1f2420"},
}
Theme = Literal["paper", "light", "dark"]
_SVG_FONT = "'Atkinson Hyperlegible Next', 'DejaVu Sans', sans-serif"


def colour_of(ink: str, theme_: Theme) -> str:
    """Return the colour of an ink role as #rrggbb."""
    if ink.startswith("series"):
        return _SERIES[theme_][int(ink[6:]) % len(_SERIES[theme_])]
    if ink.startswith("heat"):
        return _HEAT[theme_][int(ink[4:])]
    return _GROUND[theme_][ink]


@dataclass(frozen=True, slots=True)
class Mark:
    """One mark; lengths in points, y downward from the top edge.

    Attributes
    ----------
    kind : "line" through `points`, "shape" closed and filled, "circle" at the first point, "text"
        whose baseline starts (or is centred, or ends) at the first point.
    ink : role: ink, second, rule, paper, series0..5, heat0..4.
    fill : of shapes and circles: none, the ink, or the paper's ground.
    """

    kind: Literal["line", "shape", "circle", "text"]
    points: tuple[tuple[float, float], ...]
    ink: str = "ink"
    width: float = 0.8
    dash: tuple[float, ...] = ()
    fill: Fill = "none"
    radius: float = 0.0
    text: str = ""
    size: float = 0.0
    anchor: Anchor = "start"
    face: Face = "text"
    turned: bool = False


@dataclass(frozen=True, slots=True)
class Drawing:
    """A chart laid out: its size in points and its marks in drawing order."""

    width: float
    height: float
    marks: tuple[Mark, ...]


def drawing_data(drawing: Drawing) -> dict[str, Any]:
    """Return a drawing as JSON-ready data for the office page, which draws it with its own inks."""
    return asdict(drawing)


def svg_of(drawing: Drawing, alt: str, theme_: Theme = "light") -> str:
    """Return a drawing as an SVG document of its own, with its words as alternative text."""
    w, h = _n(drawing.width), _n(drawing.height)
    parts = [
        (
            f'<svg xmlns="http://www.w3.org/2000/svg" width="{w}" height="{h}"'
            f' viewBox="0 0 {w} {h}" role="img" aria-label={_attribute(alt)}>'
        ),
        f"<title>{_svg_text(alt)}</title>",
        f'<rect width="{w}" height="{h}" fill="{colour_of("paper", theme_)}"/>',
        *(_svg_mark(mark, theme_) for mark in drawing.marks),
        "</svg>",
    ]
    return "\n".join(parts) + "\n"


def _n(x: float) -> str:
    return f"{x:.2f}".rstrip("0").rstrip(".")


def _svg_text(text: str) -> str:
    return escape(clean(text))


def _attribute(text: str) -> str:
    return quoteattr(" ".join(clean(text).split()))


def _svg_mark(mark: Mark, theme_: Theme) -> str:
    ink = colour_of(mark.ink, theme_)
    x, y = mark.points[0]
    if mark.kind == "text":
        weight = ' font-weight="700"' if mark.face in ("strong", "figure") else ""
        turn = f' transform="rotate(-90 {_n(x)} {_n(y)})"' if mark.turned else ""
        return (
            f'<text x="{_n(x)}" y="{_n(y)}" font-family="{_SVG_FONT}" font-size="{_n(mark.size)}"'
            f'{weight} fill="{ink}" text-anchor="{mark.anchor}"{turn}>{_svg_text(mark.text)}</text>'
        )
    fill = {"none": "none", "ink": ink, "paper": colour_of("paper", theme_)}[mark.fill]
    dash = f' stroke-dasharray="{" ".join(_n(d) for d in mark.dash)}"' if mark.dash else ""
    look = f'stroke="{ink}" stroke-width="{_n(mark.width)}" fill="{fill}"{dash}'
    if mark.width == 0:
        look = f'fill="{fill}"'
    if mark.kind == "circle":
        return f'<circle cx="{_n(x)}" cy="{_n(y)}" r="{_n(mark.radius)}" {look}/>'
    at = " ".join(f"{_n(a)},{_n(b)}" for a, b in mark.points)
    return f'<{"polygon" if mark.kind == "shape" else "polyline"} points="{at}" {look}/>'


class DrawnChart(Flowable):  # type: ignore[misc]
    """A drawing on paper; text passes the paper's gate."""

    def __init__(self, gate: Gate, drawing: Drawing) -> None:
        super().__init__()
        self.gate, self.drawing = gate, drawing

    def wrap(self, _avail: float, _room: float) -> tuple[float, float]:
        """Return width and height of the drawing, pt."""
        return self.drawing.width, self.drawing.height

    def draw(self) -> None:
        """Draw every mark."""
        for mark in self.drawing.marks:
            self._draw(mark)

    def _draw(self, mark: Mark) -> None:
        canvas, top = self.canv, self.drawing.height
        ink = _print_ink(mark.ink)
        if mark.kind == "text":
            self._text(mark, ink)
            return
        canvas.setStrokeColor(ink)
        canvas.setFillColor(ink if mark.fill == "ink" else theme.WHITE)
        canvas.setLineWidth(mark.width)
        canvas.setDash(list(mark.dash))
        stroke, fill = int(mark.width > 0), int(mark.fill != "none")
        if mark.kind == "circle":
            x, y = mark.points[0]
            canvas.circle(x, top - y, mark.radius, stroke=stroke, fill=fill)
        else:
            path = canvas.beginPath()
            path.moveTo(mark.points[0][0], top - mark.points[0][1])
            for x, y in mark.points[1:]:
                path.lineTo(x, top - y)
            if mark.kind == "shape":
                path.close()
            canvas.drawPath(path, stroke=stroke, fill=fill)
        canvas.setDash([])

    def _text(self, mark: Mark, ink: Color) -> None:
        canvas = self.canv
        runs = self.gate.runs(" ".join(mark.text.split()), mark.face)
        width = sum(text_width(run.text, run.font, mark.size) for run in runs)
        shift = {"start": 0.0, "middle": -width / 2, "end": -width}[mark.anchor]
        x, y = mark.points[0]
        canvas.saveState()
        canvas.translate(x, self.drawing.height - y)
        if mark.turned:
            canvas.rotate(90)
        canvas.setFillColor(ink)
        for run in runs:
            canvas.setFont(run.font, mark.size)
            canvas.drawString(shift, 0, run.text)
            shift += text_width(run.text, run.font, mark.size)
        canvas.restoreState()


def _print_ink(ink: str) -> Color:
    return HexColor(colour_of(ink, "paper"))


def width_of(text: str, size: float, face: Face = "text") -> float:
    """Return the width of a text as the papers print it, pt."""
    return text_width(text, FONT_OF_FACE[face], size)


def wrapped(text: str, size: float, width: float, face: Face = "text") -> list[str]:
    """Return a text in lines that fit a width; a word longer than the line is cut, never lost."""
    lines: list[str] = []
    current = ""
    for word in " ".join(clean(text).split()).split(" "):
        rest = word
        joined = f"{current} {rest}" if current else rest
        if width_of(joined, size, face) <= width:
            current = joined
            continue
        if current:
            lines.append(current)
        while width_of(rest, size, face) > width and len(rest) > 1:
            n = 1
            while n < len(rest) and width_of(rest[: n + 1], size, face) <= width:
                n += 1
            lines.append(rest[:n])
            rest = rest[n:]
        current = rest
    return [*lines, current] if current or not lines else lines
