"""The map of a trial's bench, and sheets to write on where no phone can be used."""

from __future__ import annotations

from dataclasses import dataclass

from tepal.reports import theme
from tepal.reports.chart_marks import wrapped
from tepal.reports.ink import Ink

_MARGIN = 12.0
_FOOT = 11.0


@dataclass(frozen=True, slots=True)
class MapCell:
    """One cell of the bench: "plot", "guard" or "free"; `lines` below the code."""

    sort: str
    code: str = ""
    lines: tuple[str, ...] = ()
    block: int | None = None


@dataclass(frozen=True, slots=True)
class SheetHead:
    """What stands on top and at the foot of every page, as final text."""

    title: str
    under: tuple[str, ...]
    foot: str
    business: str
    language: str
    paper: str = "a4"


@dataclass(frozen=True, slots=True)
class BenchMapView:
    """The bench row by row, row 1 first, and the legend."""

    head: SheetHead
    rows: tuple[tuple[MapCell, ...], ...]
    aisle: str
    row_name: str
    legend: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class FieldSheetView:
    """Columns to write in, a line per plant; `blocks` hold (name, lines of first cells).

    `definitions` has a text per column, "" where there is none; `note` is the last column's name,
    `missing` says what is written where nothing can be measured.
    """

    head: SheetHead
    columns: tuple[str, ...]
    definitions: tuple[str, ...]
    fixed: tuple[str, ...]
    blocks: tuple[tuple[str, tuple[tuple[str, ...], ...]], ...]
    observer: str
    note: str
    missing: str
    page_of: str


def _page(head: SheetHead, *, landscape: bool) -> Ink:
    short, long = theme.PAPER_MM["letter" if head.paper == "letter" else "a4"]
    size = (long, short) if landscape else (short, long)
    return Ink(*size, title=head.title, author=head.business, language=head.language)


def _headed(ink: Ink, head: SheetHead) -> float:
    """Write head and foot; return where the body begins, mm."""
    width = ink.width_mm - 2 * _MARGIN
    ink.text(_MARGIN, 18, head.title, 17, face="strong", width_mm=width)
    y = 24.0
    for line in head.under:
        ink.text(_MARGIN, y, line, 10, width_mm=width, ink=theme.INK_SECOND)
        y += 4.8
    ink.text(_MARGIN, ink.height_mm - _FOOT + 3, head.foot, 8, width_mm=width, ink=theme.INK_SECOND)
    return y + 1.5


#: A cell below this size can't be read at the bench: the map goes on over further pages.
_CELL_MM = (9.0, 7.5)
_LARGEST_CELL_MM = (44.0, 30.0)


def render_bench_map(view: BenchMapView) -> bytes:
    """Return the map; cells shrink until the bench fits, and a larger bench takes more pages."""
    ink = _page(view.head, landscape=True)
    legend = 5.2 * ((len(view.legend) + 2) // 3) + 9
    top = 24.0 + 4.8 * len(view.head.under) + 1.5 + 5  # and the numbers of the columns
    wide, high = ink.width_mm - 2 * _MARGIN - 14, ink.height_mm - top - _FOOT - legend - 3
    n_columns = max(len(row) for row in view.rows)
    columns = _bands(n_columns, int(wide / _CELL_MM[0]))
    for rows in _bands(len(view.rows), max(1, int(high / _CELL_MM[1]))):
        for band in columns:
            _headed(ink, view.head)
            size = (
                min(_LARGEST_CELL_MM[0], wide / len(band)),
                min(_LARGEST_CELL_MM[1], high / len(rows)),
            )
            _map_page(ink, view, (rows, band), top, size)
            ink.new_page()
    return ink.pdf()


def _bands(n: int, most: int) -> list[range]:
    """Return 0..n-1 in stretches of like length, none longer than `most`."""
    n_bands = -(-n // most)
    each = -(-n // n_bands)
    return [range(at, min(at + each, n)) for at in range(0, n, each)]


def _map_page(
    ink: Ink, view: BenchMapView, part: tuple[range, range], top: float, size: tuple[float, float]
) -> None:
    rows, columns = part
    left, (cell_w, cell_h) = _MARGIN + 14, size
    for j in columns:
        x = left + (j - columns[0] + 0.5) * cell_w
        ink.text(x, top - 1.5, str(j + 1), 8, align="centre", ink=theme.INK_SECOND)
    for i in rows:
        y = top + (i - rows[0]) * cell_h
        ink.text(_MARGIN, y + cell_h / 2 + 1, f"{view.row_name} {i + 1}", 9, width_mm=13,
                 ink=theme.INK_SECOND)  # fmt: skip
        for j in columns:
            x = left + (j - columns[0]) * cell_w
            cell = _at(view, i, j)
            if cell is None:
                continue
            _cell(ink, cell, x, y, cell_w - 1, cell_h - 1)
            for other, line in (
                (
                    _at(view, i, j + 1),
                    (x + cell_w - 0.5, y - 0.5, x + cell_w - 0.5, y + cell_h - 0.5),
                ),
                (
                    _at(view, i + 1, j),
                    (x - 0.5, y + cell_h - 0.5, x + cell_w - 0.5, y + cell_h - 0.5),
                ),
            ):
                if other is not None and _is_parted(cell, other):
                    ink.line(*line, 2.2)
    y = top + len(rows) * cell_h + 5
    ink.text(left, y, view.aisle, 10, face="strong")
    third = (ink.width_mm - 2 * _MARGIN) / 3
    for n, text in enumerate(view.legend):
        at = y + 6.5 + 5.2 * (n // 3)
        ink.text(_MARGIN + third * (n % 3), at, text, 10, width_mm=third - 3)


def _at(view: BenchMapView, row: int, column: int) -> MapCell | None:
    cells = view.rows[row] if row < len(view.rows) else ()
    return cells[column] if column < len(cells) else None


def _is_parted(one: MapCell, other: MapCell) -> bool:
    return one.block is not None and other.block != one.block


def _cell(ink: Ink, cell: MapCell, x: float, y: float, width: float, height: float) -> None:
    if cell.sort == "free":
        return
    is_guard = cell.sort == "guard"
    ink.box(x, y, width, height, fill=theme.TRAY if is_guard else None, dash=is_guard)
    size = min(18.0, height * 1.1)
    if is_guard:
        ink.text(x + width / 2, y + height / 2 + 1, cell.code, min(8, size), align="centre",
                 width_mm=width - 1, ink=theme.INK_SECOND)  # fmt: skip
        return
    foot, middle = y + size * 0.353 + 1.2, x + width / 2
    ink.text(middle, foot, cell.code, size, face="figure", align="centre", width_mm=width - 1)
    for n, line in enumerate(cell.lines):
        at = foot + 4.6 * (n + 1)
        if at < y + height - 0.4:
            ink.text(middle, at, line, 11, align="centre", width_mm=width - 1)


_ROWS_MM = (8.2, 11.0)
_LINE_MM = 4.0
_PT_PER_MM = 72 / 25.4
#: Narrower, a gloved hand can't write a number into it: more columns go onto a sheet of their own.
_COLUMN_MM = 27.0
_FIXED_MM = 16.0


@dataclass(frozen=True, slots=True)
class _Part:
    """One page: a block's lines under some of the columns."""

    block: str
    lines: tuple[tuple[str, ...], ...]
    columns: tuple[str, ...]
    definitions: tuple[str, ...]
    row: float


def render_field_sheet(view: FieldSheetView) -> bytes:
    """Return the sheets; a block begins a page, its head is repeated where it goes on."""
    ink = _page(view.head, landscape=False)
    parts = _parts(view, ink)
    for n, part in enumerate(parts, start=1):
        y = _headed(ink, view.head)
        ink.text(_MARGIN, y + 4, part.block, 13, face="strong")
        ink.text(ink.width_mm - _MARGIN, y + 4, view.observer, 10, align="right")
        of = view.page_of.replace("{page}", str(n)).replace("{pages}", str(len(parts)))
        ink.text(
            ink.width_mm - _MARGIN, ink.height_mm - _FOOT + 3, of, 8, align="right",
            ink=theme.INK_SECOND,
        )  # fmt: skip
        _table(ink, view, part, y + 8)
        ink.new_page()
    return ink.pdf()


def _parts(view: FieldSheetView, ink: Ink) -> list[_Part]:
    """Return the pages: per block and stretch of columns as many lines as the page holds.

    Rows grow where all lines of a block have more room than they need: numbers are written in
    gloves.
    """
    body = ink.width_mm - 2 * _MARGIN
    room_for = max(1, int((body - _FIXED_MM * len(view.fixed) - _NOTE_MM) / _COLUMN_MM))
    parts = []
    for block, lines in view.blocks:
        for band in _bands(len(view.columns), room_for):
            words = (*(view.definitions[i] for i in band if view.definitions[i]), view.missing)
            told = tuple(
                piece for text in words if text for piece in wrapped(text, 9, body * _PT_PER_MM)
            )
            columns = tuple(view.columns[i] for i in band)
            start = 24 + 4.8 * len(view.head.under) + 1.5 + 8 + _LINE_MM * len(told)
            start += _head_mm(_widths(view, columns, body), columns)
            room = ink.height_mm - _FOOT - start - 3
            n = max(1, int(room / _ROWS_MM[0]))
            row = min(_ROWS_MM[1], max(_ROWS_MM[0], room / max(1, len(lines))))
            parts += [
                _Part(block, lines[at : at + n], columns, told, row)
                for at in range(0, max(1, len(lines)), n)
            ]
    return parts


_NOTE_MM = 34.0


def _widths(view: FieldSheetView, columns: tuple[str, ...], body: float) -> tuple[float, float]:
    """Return the width of a column of values and that of the note, mm."""
    open_mm = body - _FIXED_MM * len(view.fixed)
    value = min(42.0, (open_mm - _NOTE_MM) / len(columns))
    return value, open_mm - value * len(columns)


def _head_mm(widths: tuple[float, float], columns: tuple[str, ...]) -> float:
    n = max(len(wrapped(c, 9, (widths[0] - 2) * _PT_PER_MM, "strong")) for c in columns)
    return 3.0 + _LINE_MM * n


def _table(ink: Ink, view: FieldSheetView, part: _Part, y: float) -> None:
    for line in part.definitions:
        ink.text(_MARGIN, y + 2.8, line, 9)
        y += _LINE_MM
    value, note = _widths(view, part.columns, ink.width_mm - 2 * _MARGIN)
    fixed_end = _MARGIN + _FIXED_MM * len(view.fixed)
    xs = [_MARGIN + _FIXED_MM * i for i in range(len(view.fixed))]
    xs += [fixed_end + value * i for i in range(len(part.columns) + 1)]
    head = _head_mm((value, note), part.columns)
    top = y
    y += head
    for x, name in zip(xs, (*view.fixed, *part.columns, view.note), strict=True):
        room = _FIXED_MM if x < fixed_end else value if x < xs[-1] else note
        pieces = wrapped(name, 9, (room - 2) * _PT_PER_MM, "strong")
        for n, piece in enumerate(reversed(pieces)):
            ink.text(x + 1, y - 2.0 - _LINE_MM * n, piece, 9, face="strong", width_mm=room - 2)
    right = ink.width_mm - _MARGIN
    ink.line(_MARGIN, y, right, y, 1.2)
    for cells in part.lines:
        for x, text in zip(xs, cells, strict=False):
            ink.text(x + 1, y + part.row / 2 + 2.0, text, 13, face="figure", width_mm=_FIXED_MM - 2)
        y += part.row
        ink.line(_MARGIN, y, right, y)
    for x in [*xs[len(view.fixed) :], right]:
        ink.line(x, top, x, y)
