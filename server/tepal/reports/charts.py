"""The charts of trials, described and laid out: three forms with shared axes, over 400 lines.

A frozen description of final strings and numbers becomes marks.

Three forms carry all of them: rows of intervals (means, per cent of control, partners), curves
over an axis (dose, growth, opening, residuals), and the bench as a grid. The same drawing goes to
paper, to SVG and to the office page; a table with the same numbers stands beside every one.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from tepal.domain.rounding import decimal_text
from tepal.reports.chart_marks import Anchor, Drawing, Mark, width_of, wrapped

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

Glyph = Literal["dot", "square", "triangle", "diamond", "cross", "ring"]
GLYPHS: tuple[Glyph, ...] = ("dot", "square", "triangle", "diamond", "cross", "ring")
DASHES: tuple[tuple[float, ...], ...] = ((), (5, 2), (1.5, 1.8), (7, 2, 1.5, 2))

_SIZE = 8.0
_LEADING = 10.0
_PAD = 6.0
_PLOT_HEIGHT = 150.0
_DENSE = 12  # more points than this would hide the line they lie on


@dataclass(frozen=True, slots=True)
class IntervalRow:
    """A row: estimate with its interval, filled where the interval excludes the reference."""

    label: str
    value: float | None
    lower: float | None
    upper: float | None
    text: str = ""
    is_filled: bool = True
    glyph: str = "dot"


@dataclass(frozen=True, slots=True)
class IntervalChart:
    """Rows of intervals over one numbered axis; `text` of a row stands at the right (letters)."""

    rows: tuple[IntervalRow, ...]
    axis: str
    decimal: str = "."
    reference: float | None = None


@dataclass(frozen=True, slots=True)
class Series:
    """Points of one series; `kind` says how they are joined, `errors` are half-lengths in y."""

    label: str
    x: tuple[float, ...]
    y: tuple[float, ...]
    kind: Literal["points", "line", "step"] = "points"
    errors: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True)
class RuleLine:
    """A line across the plot with its words: the wanted height, zero."""

    axis: Literal["x", "y"]
    value: float
    label: str


@dataclass(frozen=True, slots=True)
class CurveChart:
    """Series over a numbered axis."""

    series: tuple[Series, ...]
    x_axis: str
    y_axis: str
    decimal: str = "."
    rules: tuple[RuleLine, ...] = ()
    y_from: float | None = None
    y_to: float | None = None


@dataclass(frozen=True, slots=True)
class BenchCell:
    """A plot at its place; `shade` 0 (least) to 4 (most), None where there is no value."""

    row: int
    column: int
    text: str
    treatment: str
    shade: int | None


@dataclass(frozen=True, slots=True)
class BenchChart:
    """The bench: rows from the aisle, columns from the left."""

    n_rows: int
    n_columns: int
    cells: tuple[BenchCell, ...]


@dataclass(frozen=True, slots=True)
class Chart:
    """One chart with title and alternative text; exactly one of the three forms is given."""

    name: str
    title: str
    alt: str
    note: str = ""
    intervals: IntervalChart | None = None
    curves: CurveChart | None = None
    bench: BenchChart | None = None


def drawing_of(chart: Chart, width: float = 420.0) -> Drawing:
    """Return a chart laid out to a width, pt; labels wrap and are never cut off."""
    if chart.intervals is not None:
        return _intervals(chart.intervals, width)
    if chart.curves is not None:
        return _curves(chart.curves, width)
    if chart.bench is not None:
        return _bench(chart.bench, width)
    return Drawing(width, 0.0, ())


# --- axes ----------------------------------------------------------------------------------


def ticks(low: float, high: float, most: int = 7) -> tuple[float, ...]:
    """Return round numbers (1, 2, 5 times a power of ten) that cover low to high.

    Examples
    --------
    >>> ticks(0.2, 9.3, 5)
    (0.0, 5.0, 10.0)
    """
    span = high - low
    # values that differ by rounding alone stand on one spot
    if not span > 1e-12 * max(abs(low), abs(high)) or not math.isfinite(span):
        span = abs(low) or 1.0
        low, high = low - span / 2, high + span / 2
        span = high - low
    power = 10.0 ** math.floor(math.log10(span / most))
    step = next(k * power for k in (1, 2, 5, 10, 20) if span / (k * power) <= most - 1)
    first, last = math.floor(low / step + 1e-9), math.ceil(high / step - 1e-9)
    return tuple(i * step for i in range(int(first), int(last) + 1))


def _tick_text(value: float, step: float, decimal: str) -> str:
    places = max(0, -math.floor(math.log10(step) + 1e-9))
    return decimal_text(value, places).replace(".", decimal).replace("-", "\u2212")


def _text(
    x: float,
    y: float,
    text: str,
    ink: str = "ink",
    anchor: Anchor = "start",
    size: float = _SIZE,
    *,
    strong: bool = False,
    turned: bool = False,
) -> Mark:
    return Mark(
        "text", ((x, y),), ink, text=text, size=size, anchor=anchor,
        face="strong" if strong else "text", turned=turned,
    )  # fmt: skip


# --- rows of intervals ---------------------------------------------------------------------


def _intervals(chart: IntervalChart, width: float) -> Drawing:
    labels_width = min(
        width * 0.40, max((width_of(r.label, _SIZE) for r in chart.rows), default=0.0) + 1
    )
    notes_width = max((width_of(r.text, _SIZE, "strong") for r in chart.rows), default=0.0)
    notes_width = min(notes_width + (8.0 if notes_width else 0.0), width * 0.25)
    known = [x for r in chart.rows for x in (r.value, r.lower, r.upper) if x is not None] + (
        [] if chart.reference is None else [chart.reference]
    )
    marks_at = ticks(min(known, default=0.0), max(known, default=1.0))
    low, high = marks_at[0], marks_at[-1]
    step = marks_at[1] - marks_at[0]
    words = [_tick_text(v, step, chart.decimal) for v in marks_at]
    half = max(width_of(word, 7.4) for word in words) / 2
    left = labels_width + max(12.0, half)
    right = min(width - notes_width - 8.0, width - half)

    def at(value: float) -> float:
        return left + (value - low) / (high - low) * (right - left)

    marks: list[Mark] = []
    y = _PAD
    bands = []
    for row in chart.rows:
        lines = wrapped(row.label, _SIZE, labels_width)
        notes = wrapped(row.text, _SIZE, max(notes_width - 7.5, 8.0), "strong") if row.text else []
        tall = max(18.0, max(len(lines), len(notes)) * _LEADING + 6.0)
        bands.append((row, lines, notes, y, tall))
        y += tall
    bottom = y
    marks += [
        Mark("line", ((at(value), _PAD), (at(value), bottom)), "rule", 0.4) for value in marks_at
    ]
    if chart.reference is not None:
        x = at(chart.reference)
        marks.append(Mark("line", ((x, _PAD - 2), (x, bottom)), "second", 1.2))
    for row, lines, notes, top, tall in bands:
        first = top + tall / 2 - (len(lines) - 1) * _LEADING / 2 + _SIZE * 0.35
        marks += [_text(0.0, first + i * _LEADING, line) for i, line in enumerate(lines)]
        marks += _interval(row, at, top + tall / 2, left, right)
        start = top + tall / 2 - (len(notes) - 1) * _LEADING / 2 + _SIZE * 0.35
        marks += [
            _text(right + 10.0, start + i * _LEADING, note, strong=True)
            for i, note in enumerate(notes)
        ]
    marks += [
        _text(at(v), bottom + 10.0, word, "second", "middle", 7.4)
        for v, word in zip(marks_at, words, strict=True)
    ]
    axis = wrapped(chart.axis, 7.4, width - left)
    marks += [
        _text((left + right) / 2 if len(axis) == 1 else left, bottom + 21.0 + i * 9.0, line,
              "second", "middle" if len(axis) == 1 else "start", 7.4)
        for i, line in enumerate(axis)
    ]  # fmt: skip
    if len(axis) == 1:
        half = width_of(axis[0], 7.4) / 2
        middle = min(max((left + right) / 2, half), width - half)
        marks[-1] = _text(middle, bottom + 21.0, axis[0], "second", "middle", 7.4)
    return Drawing(width, bottom + 15.0 + 9.0 * len(axis), tuple(marks))


def _interval(
    row: IntervalRow, at: Callable[[float], float], y: float, left: float, right: float
) -> list[Mark]:
    place = at
    if row.value is None:
        return [_text((left + right) / 2, y + 3.0, "–", "second", "middle")]
    lower = left if row.lower is None else place(row.lower)
    upper = right if row.upper is None else place(row.upper)
    marks = []
    if row.lower is not None or row.upper is not None:
        marks.append(Mark("line", ((lower, y), (upper, y)), "ink", 1.6))
        for x, is_open, way in ((lower, row.lower is None, 1), (upper, row.upper is None, -1)):
            if is_open:  # no limit on this side: an arrow, not an end
                marks.append(
                    Mark("line", ((x + way * 4, y - 3), (x, y), (x + way * 4, y + 3)), "ink", 1.2)
                )
            else:
                marks.append(Mark("line", ((x, y - 2.5), (x, y + 2.5)), "ink", 1.2))
    glyph: Glyph = next((g for g in GLYPHS if g == row.glyph), "dot")
    return [*marks, *_glyph(glyph, place(row.value), y, "ink", 3.6, is_filled=row.is_filled)]


def _glyph(
    glyph: Glyph, x: float, y: float, ink: str, r: float, *, is_filled: bool = True
) -> list[Mark]:
    fill: Literal["ink", "paper"] = "ink" if is_filled else "paper"
    if glyph in ("dot", "ring"):
        inner: Literal["ink", "paper"] = "paper" if glyph == "ring" else fill
        return [Mark("circle", ((x, y),), ink, 1.3, fill=inner, radius=r)]
    if glyph == "cross":
        return [
            Mark("line", ((x - r, y - r), (x + r, y + r)), ink, 1.6),
            Mark("line", ((x - r, y + r), (x + r, y - r)), ink, 1.6),
        ]
    corners = {
        "square": ((-r, -r), (r, -r), (r, r), (-r, r)),
        "triangle": ((0, -r * 1.2), (r * 1.1, r * 0.9), (-r * 1.1, r * 0.9)),
        "diamond": ((0, -r * 1.3), (r * 1.3, 0), (0, r * 1.3), (-r * 1.3, 0)),
    }[glyph]
    return [Mark("shape", tuple((x + a, y + b) for a, b in corners), ink, 1.3, fill=fill)]


# --- curves --------------------------------------------------------------------------------


def _curves(chart: CurveChart, width: float) -> Drawing:
    xs = [x for s in chart.series for x in s.x] + [r.value for r in chart.rules if r.axis == "x"]
    ys = [r.value for r in chart.rules if r.axis == "y"]
    for s in chart.series:
        half = s.errors or (0.0,) * len(s.y)
        ys += [v for y, e in zip(s.y, half, strict=True) for v in (y - e, y + e)]
    ys += [y for y in (chart.y_from, chart.y_to) if y is not None]
    x_ticks = ticks(min(xs, default=0.0), max(xs, default=1.0), 9)
    y_ticks = ticks(min(ys, default=0.0), max(ys, default=1.0))
    x_step, y_step = x_ticks[1] - x_ticks[0], y_ticks[1] - y_ticks[0]
    y_words = [_tick_text(v, y_step, chart.decimal) for v in y_ticks]
    left = 16.0 + max(width_of(t, 7.4) for t in y_words) + 7.0
    x_words = [_tick_text(v, x_step, chart.decimal) for v in x_ticks]
    top, bottom = _PAD + 4, _PAD + 4 + _PLOT_HEIGHT
    right = width - max(12.0, width_of(x_words[-1], 7.4) / 2)

    def at(x: float, y: float) -> tuple[float, float]:
        return (
            left + (x - x_ticks[0]) / (x_ticks[-1] - x_ticks[0]) * (right - left),
            bottom - (y - y_ticks[0]) / (y_ticks[-1] - y_ticks[0]) * (bottom - top),
        )

    marks: list[Mark] = []
    for value, word in zip(y_ticks, y_words, strict=True):
        y = at(0.0, value)[1]
        marks.append(Mark("line", ((left, y), (right, y)), "rule", 0.4))
        # clear of a mark that stands on the axis itself
        marks.append(_text(left - 6.0, y + 2.6, word, "second", "end", 7.4))
    for value, word in zip(x_ticks, x_words, strict=True):
        x = at(value, 0.0)[0]
        marks.append(Mark("line", ((x, bottom), (x, bottom + 3)), "second", 0.8))
        marks.append(_text(x, bottom + 11.0, word, "second", "middle", 7.4))
    marks.append(Mark("line", ((left, bottom), (right, bottom)), "second", 0.8))
    y_size = 7.4 * min(1.0, (bottom - top + 10.0) / max(width_of(chart.y_axis, 7.4), 1.0))
    marks.append(
        _text(8.0, (top + bottom) / 2, chart.y_axis, "second", "middle", y_size, turned=True)
    )
    x_lines = wrapped(chart.x_axis, 7.4, right - left)
    marks += [
        _text((left + right) / 2, bottom + 22.0 + 9.0 * i, line, "second", "middle", 7.4)
        for i, line in enumerate(x_lines)
    ]
    for rule in chart.rules:
        ends = (
            (at(x_ticks[0], rule.value), at(x_ticks[-1], rule.value))
            if rule.axis == "y"
            else (at(rule.value, y_ticks[0]), at(rule.value, y_ticks[-1]))
        )
        marks.append(Mark("line", ends, "second", 1.1, (4, 2.5)))
        if rule.label:
            marks.append(_text(right - 2.0, ends[1][1] - 3.0, rule.label, "second", "end", 7.4))
    for i, s in enumerate(chart.series):
        marks += _series(s, i, at)
    legend, tall = _legend(chart.series, left, bottom + 28.0 + 9.0 * (len(x_lines) - 1), right)
    return Drawing(width, bottom + 30.0 + 9.0 * (len(x_lines) - 1) + tall, (*marks, *legend))


def _series(s: Series, i: int, place: Callable[[float, float], tuple[float, float]]) -> list[Mark]:
    ink, dash = f"series{i % 6}", DASHES[(i // 2) % len(DASHES)]
    points = tuple(place(x, y) for x, y in zip(s.x, s.y, strict=True))
    marks: list[Mark] = []
    if s.kind == "step" and len(points) > 1:
        stairs = [points[0]]
        for (_, before), (x, y) in itertools.pairwise(points):
            stairs += [(x, before), (x, y)]
        marks.append(Mark("line", tuple(stairs), ink, 1.4, dash))
    elif s.kind == "line" and len(points) > 1:
        marks.append(Mark("line", points, ink, 1.4, dash))
    for (x, y), e in zip(zip(s.x, s.y, strict=True), s.errors, strict=False):
        if e > 0:
            marks.append(Mark("line", (place(x, y - e), place(x, y + e)), ink, 1.0))
    dense = len(points) > _DENSE and s.kind != "points"
    shown = [] if dense else list(points)
    if dense and s.kind == "step":
        shown = list(points[:: max(1, len(points) // 6)])
    for x, y in shown:
        marks += _glyph(GLYPHS[i % len(GLYPHS)], x, y, ink, 2.6)
    return marks


def _legend(
    series: Sequence[Series], left: float, top: float, right: float
) -> tuple[list[Mark], float]:
    """Return the names of the series below the plot, as many on a line as fit whole."""
    marks: list[Mark] = []
    x, y = left, top + 8.0
    for i, s in enumerate(series):
        if not s.label:
            continue
        lines = wrapped(s.label, 7.4, right - left - 26.0)
        needed = 26.0 + max(width_of(line, 7.4) for line in lines)
        if x > left and (x + needed > right or len(lines) > 1):
            x, y = left, y + 11.0
        ink = f"series{i % 6}"
        if s.kind != "points":
            marks.append(
                Mark("line", ((x, y - 2.6), (x + 16, y - 2.6)), ink, 1.4, DASHES[(i // 2) % 4])
            )
        if s.kind != "line" or len(s.x) <= _DENSE:  # a dense curve carries no glyphs
            marks += _glyph(GLYPHS[i % len(GLYPHS)], x + 8.0, y - 2.6, ink, 2.6)
        for k, line in enumerate(lines):
            marks.append(_text(x + 21.0, y + 9.0 * k, line, "ink", "start", 7.4))
        y += 9.0 * (len(lines) - 1)
        x += needed + 10.0
    return marks, y - top + 4.0 if marks else 0.0


# --- the bench -----------------------------------------------------------------------------


def _bench(chart: BenchChart, width: float) -> Drawing:
    left, top = 16.0, 14.0
    side = min((width - left - 2.0) / max(chart.n_columns, 1), 46.0)
    tall = max(24.0, min(side * 0.8, 30.0))
    marks = [
        *(
            _text(left + (column - 0.5) * side, 9.0, str(column), "second", "middle", 6.6)
            for column in range(1, chart.n_columns + 1)
        ),
        *(
            _text(left - 4.0, top + (row - 0.4) * tall, str(row), "second", "end", 6.6)
            for row in range(1, chart.n_rows + 1)
        ),
    ]
    for cell in chart.cells:
        x, y = left + (cell.column - 1) * side, top + (cell.row - 1) * tall
        box = ((x, y), (x + side, y), (x + side, y + tall), (x, y + tall))
        if cell.shade is not None:
            marks.append(Mark("shape", box, f"heat{cell.shade}", 0.0, fill="ink"))
        marks.append(Mark("shape", box, "rule", 0.5))
        if cell.shade is None and not cell.text:
            marks.append(Mark("line", ((x + 2, y + tall - 2), (x + side - 2, y + 2)), "rule", 0.6))
        size = _fitting(cell.text, side - 4.0, 8.2)
        marks.append(
            _text(x + side / 2, y + tall * 0.46, cell.text, "ink", "middle", size, strong=True)
        )
        small = _fitting(cell.treatment, side - 4.0, 6.6)
        marks.append(
            _text(x + side / 2, y + tall * 0.84, cell.treatment, "second", "middle", small)
        )
    return Drawing(width, top + chart.n_rows * tall + 4.0, tuple(marks))


def _fitting(text: str, width: float, size: float) -> float:
    wide = width_of(text, size, "strong")
    return size if wide <= width else size * width / wide
