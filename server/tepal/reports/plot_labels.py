"""Plot labels: a code that a phone reads, the same code for eyes, and where the plot stands.

Every piece has its place in millimetres, so that the labels of a bought sheet are met. The sheets
are common ones (their geometry from memory of such sheets; print one page on plain paper first).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from tepal.reports import theme
from tepal.reports.chart_marks import wrapped
from tepal.reports.ink import Ink

_PAD_MM: Final = 2.0
_LARGEST_CODE_MM: Final = 30.0
_SMALLEST_CODE_MM: Final = 6.0  # the code for eyes, read at arm's length
_SMALLEST_PT: Final = 5.0
_GIVE: Final = 1.3  # a little too long is set a little smaller, not broken
_LEADING: Final = 0.353 * 1.2  # pt to mm, with leading


@dataclass(frozen=True, slots=True)
class LabelSheet:
    """A sheet of labels, all lengths in mm; `left` and `top` are the first label's corner."""

    page_width: float
    page_height: float
    label_width: float
    label_height: float
    columns: int
    rows: int
    left: float
    top: float
    pitch_x: float
    pitch_y: float


SHEETS: Final = {
    "a4_63x38": LabelSheet(210.0, 297.0, 63.5, 38.1, 3, 7, 7.21, 15.15, 66.04, 38.1),
    "a4_99x67": LabelSheet(210.0, 297.0, 99.1, 67.7, 2, 4, 4.65, 13.1, 101.6, 67.7),
    "letter_67x25": LabelSheet(215.9, 279.4, 66.7, 25.4, 3, 10, 4.8, 12.7, 69.8, 25.4),
    "letter_102x51": LabelSheet(215.9, 279.4, 101.6, 50.8, 2, 5, 3.95, 12.7, 106.4, 50.8),
    "roll_50x25": LabelSheet(50.0, 25.0, 50.0, 25.0, 1, 1, 0.0, 0.0, 50.0, 25.0),
}


@dataclass(frozen=True, slots=True)
class PlotLabel:
    """One label: what the QR code says, the code in large, lines of final text below it."""

    qr: str
    code: str
    lines: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class PlotLabelsView:
    """A trial's labels in walking order."""

    title: str
    business: str
    language: str
    sheet: str
    labels: tuple[PlotLabel, ...]


def render_plot_labels(view: PlotLabelsView) -> bytes:
    """Return the PDF, as many pages as the labels need; the same view gives the same bytes."""
    sheet = SHEETS[view.sheet]
    ink = Ink(
        sheet.page_width, sheet.page_height, title=view.title, author=view.business,
        language=view.language,
    )  # fmt: skip
    a_page = sheet.columns * sheet.rows
    for i, label in enumerate(view.labels):
        place = i % a_page
        if i and place == 0:
            ink.new_page()
        row, column = divmod(place, sheet.columns)
        _label(
            ink, sheet, sheet.left + column * sheet.pitch_x, sheet.top + row * sheet.pitch_y, label
        )
    ink.new_page()
    return ink.pdf()


def _label(ink: Ink, sheet: LabelSheet, x: float, y: float, label: PlotLabel) -> None:
    height = sheet.label_height
    side = min(height - 2 * _PAD_MM, _LARGEST_CODE_MM)
    ink.code(x + _PAD_MM, y + (height - side) / 2, side, label.qr)
    left = x + _PAD_MM + side + 1.0
    room = x + sheet.label_width - _PAD_MM - left
    line = max(7.0, min(10.5, height * 0.3))  # pt; the label's height in mm is its measure
    pieces, step = _fitted(label.lines, line, room, height - 2 * _PAD_MM - _SMALLEST_CODE_MM)
    line = step / _LEADING
    # what is left above the lines is the code's: it is read from the aisle
    free = height - 2 * _PAD_MM - step * len(pieces)
    large = min(40.0, free / 0.353 * 0.95, height * 1.1)
    top = y + (height - large * 0.353 * 0.8 - step * len(pieces)) / 2 + large * 0.353 * 0.75
    ink.text(left, top, label.code, large, face="figure", width_mm=room)
    for n, (text, is_first) in enumerate(pieces):
        ink.text(
            left, top + step * (n + 1) + 0.6, text, line, width_mm=room,
            face="strong" if is_first else "text",
            ink=theme.INK if is_first else theme.INK_SECOND,
        )  # fmt: skip


def _fitted(
    lines: tuple[str, ...], size: float, room_mm: float, high_mm: float
) -> tuple[list[tuple[str, bool]], float]:
    """Return the lines, broken where they are too long, and their step in mm.

    They are set smaller while they are too many; what is still too much then is cut with "…".
    """
    while True:
        step = size * _LEADING
        pieces = [
            (piece, n == 0)
            for n, text in enumerate(lines)
            for piece in wrapped(
                text, size, _GIVE * room_mm * 72 / 25.4, "strong" if n == 0 else "text"
            )
        ]
        most = max(1, int(high_mm / step))
        if len(pieces) <= most:
            return pieces, step
        if size <= _SMALLEST_PT:
            return [*pieces[: most - 1], (f"{pieces[most - 1][0]} …", most == 1)], step
        size = max(_SMALLEST_PT, size - 0.5)
