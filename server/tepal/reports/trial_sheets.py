"""The map of a trial's bench, and sheets to write on where no phone can be used."""

from __future__ import annotations

from dataclasses import dataclass

from tepal.reports import theme
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
    """Columns to write in, a line per plant; `blocks` hold (name, lines of first cells)."""

    head: SheetHead
    columns: tuple[str, ...]
    definitions: tuple[str, ...]
    fixed: tuple[str, ...]
    blocks: tuple[tuple[str, tuple[tuple[str, ...], ...]], ...]
    observer: str
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
        ink.text(_MARGIN, y, line, 9, width_mm=width, ink=theme.INK_SECOND)
        y += 4.4
    ink.text(_MARGIN, ink.height_mm - _FOOT + 3, head.foot, 7, width_mm=width, ink=theme.INK_SECOND)
    return y + 1.5


def render_bench_map(view: BenchMapView) -> bytes:
    """Return the map as one page; cells shrink until the bench fits."""
    ink = _page(view.head, landscape=True)
    top = _headed(ink, view.head)
    n_rows, n_columns = len(view.rows), max(len(row) for row in view.rows)
    legend = 4.6 * ((len(view.legend) + 2) // 3) + 8
    room = ink.height_mm - top - _FOOT - legend - 4
    cell_w = min(30.0, (ink.width_mm - 2 * _MARGIN - 8) / n_columns)
    cell_h = min(22.0, room / n_rows)
    for i, row in enumerate(view.rows):
        y = top + i * cell_h
        ink.text(_MARGIN, y + cell_h / 2 + 1, f"{view.row_name} {i + 1}", 7, ink=theme.INK_SECOND)
        for j, cell in enumerate(row):
            _cell(ink, cell, _MARGIN + 10 + j * cell_w, y, cell_w - 1, cell_h - 1)
            beside = row[j + 1] if j + 1 < len(row) else None
            if cell.block is not None and beside is not None and beside.block != cell.block:
                x = _MARGIN + 10 + (j + 1) * cell_w - 0.5
                ink.line(x, y - 0.5, x, y + cell_h - 0.5, 2.2)
            behind = view.rows[i + 1][j] if i + 1 < n_rows and j < len(view.rows[i + 1]) else None
            if cell.block is not None and behind is not None and behind.block != cell.block:
                x, edge = _MARGIN + 10 + j * cell_w - 0.5, y + cell_h - 0.5
                ink.line(x, edge, x + cell_w, edge, 2.2)
    y = top + n_rows * cell_h + 5
    ink.text(_MARGIN + 10, y, view.aisle, 9, face="strong")
    third = (ink.width_mm - 2 * _MARGIN) / 3
    for n, line in enumerate(view.legend):
        ink.text(_MARGIN + third * (n % 3), y + 6 + 4.6 * (n // 3), line, 9, width_mm=third - 3)
    ink.new_page()
    return ink.pdf()


def _cell(ink: Ink, cell: MapCell, x: float, y: float, width: float, height: float) -> None:
    if cell.sort == "free":
        return
    is_guard = cell.sort == "guard"
    ink.box(x, y, width, height, fill=theme.TRAY if is_guard else None, dash=is_guard)
    size = min(13.0, height * 1.1)
    if is_guard:
        ink.text(x + width / 2, y + height / 2 + 1, cell.code, min(7.5, size), align="centre",
                 width_mm=width - 1, ink=theme.INK_SECOND)  # fmt: skip
        return
    foot, middle = y + size * 0.353 + 1.2, x + width / 2
    ink.text(middle, foot, cell.code, size, face="figure", align="centre", width_mm=width - 1)
    for n, line in enumerate(cell.lines):
        at = foot + 3.4 * (n + 1)
        if at < y + height - 0.4:
            ink.text(middle, at, line, 8, align="centre", width_mm=width - 1)


def render_field_sheet(view: FieldSheetView) -> bytes:
    """Return the sheets; a block begins a page, its head is repeated where it goes on."""
    ink = _page(view.head, landscape=False)
    pages = _pages(view, ink)
    for n, (block, lines) in enumerate(pages, start=1):
        y = _headed(ink, view.head)
        ink.text(_MARGIN, y + 4, block, 12, face="strong")
        ink.text(ink.width_mm - _MARGIN, y + 4, view.observer, 9, align="right")
        of = view.page_of.replace("{page}", str(n)).replace("{pages}", str(len(pages)))
        ink.text(
            ink.width_mm - _MARGIN, ink.height_mm - _FOOT + 3, of, 7, align="right",
            ink=theme.INK_SECOND,
        )  # fmt: skip
        _table(ink, view, y + 8, lines)
        ink.new_page()
    return ink.pdf()


_ROW = 8.2
_HEAD = 9.0


def _pages(view: FieldSheetView, ink: Ink) -> list[tuple[str, tuple[tuple[str, ...], ...]]]:
    start = 24 + 4.4 * len(view.head.under) + 1.5 + 8 + _HEAD + 3.8 * len(view.definitions)
    n = max(1, int((ink.height_mm - _FOOT - start - 3) / _ROW))
    return [
        (block, lines[at : at + n])
        for block, lines in view.blocks
        for at in range(0, max(1, len(lines)), n)
    ]


def _table(ink: Ink, view: FieldSheetView, y: float, lines: tuple[tuple[str, ...], ...]) -> None:
    for line in view.definitions:
        ink.text(_MARGIN, y + 2.6, line, 8, width_mm=ink.width_mm - 2 * _MARGIN)
        y += 3.8
    fixed = 16.0
    n_open = len(view.columns)
    width = (ink.width_mm - 2 * _MARGIN - fixed * len(view.fixed)) / n_open
    xs = [_MARGIN + fixed * i for i in range(len(view.fixed))]
    xs += [_MARGIN + fixed * len(view.fixed) + width * i for i in range(n_open)]
    for x, name in zip(xs, (*view.fixed, *view.columns), strict=True):
        ink.text(x + 1, y + _HEAD - 2.2, name, 9, face="strong", width_mm=width - 2)
    y += _HEAD
    right = ink.width_mm - _MARGIN
    ink.line(_MARGIN, y, right, y, 1.2)
    for cells in lines:
        for x, text in zip(xs, cells, strict=False):
            ink.text(x + 1, y + _ROW - 2.4, text, 12, face="figure", width_mm=fixed - 2)
        y += _ROW
        ink.line(_MARGIN, y, right, y)
    bottom = y
    for x in [*xs[len(view.fixed) :], right]:
        ink.line(x, bottom - _ROW * len(lines) - _HEAD, x, bottom)
