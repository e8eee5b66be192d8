"""The pieces a paper is built of: stacks, rows of cells, records hung on a stem.

Every piece that can grow knows how to split, so that a cell of any height prints whole.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal

from reportlab.lib.units import mm
from reportlab.platypus import Flowable

from tepal.reports import theme
from tepal.reports.lines import TextBlock

if TYPE_CHECKING:
    from collections.abc import Sequence

    from reportlab.lib.colors import Color


Node = Literal["done", "open", "void"]


def drawn_at(flowable: Flowable, canvas: Any, x: float, y: float) -> None:
    """Draw a wrapped flowable; text blocks take the quick way."""
    if isinstance(flowable, TextBlock):
        flowable.draw_at(canvas, x, y)
    else:
        flowable.drawOn(canvas, x, y)


def height_of(flowable: Flowable, width: float) -> float:
    """Return the height of a flowable set to a width, pt."""
    return float(flowable.wrap(width, 1e6)[1])


class Stack(Flowable):  # type: ignore[misc]
    """Flowables one under the other; splits between and inside them."""

    def __init__(self, parts: Sequence[Flowable], gap: float = 0.0) -> None:
        super().__init__()
        self.parts = list(parts)
        self.gap = gap
        self._heights: list[float] = []

    def wrap(self, avail: float, _room: float) -> tuple[float, float]:
        """Return the width given and the sum of the heights, pt."""
        self.width = avail
        self._heights = [height_of(part, avail) for part in self.parts]
        return avail, sum(self._heights) + self.gap * max(0, len(self.parts) - 1)

    def split(self, avail: float, height: float) -> list[Flowable]:
        """Return the part that fits and the rest, or nothing when not even a line fits."""
        self.wrap(avail, height)
        room = height
        for i, (part, tall) in enumerate(zip(self.parts, self._heights, strict=True)):
            if tall > room + 1e-6:
                head, tail = self.parts[:i], self.parts[i:]
                halves = part.split(avail, room)
                if halves:
                    head, tail = [*head, halves[0]], [*halves[1:], *self.parts[i + 1 :]]
                return [Stack(head, self.gap), Stack(tail, self.gap)] if head else []
            room -= tall + self.gap
        return [self]

    def draw(self) -> None:
        """Draw the parts from top to bottom."""
        y = sum(self._heights) + self.gap * max(0, len(self.parts) - 1)
        for part, height in zip(self.parts, self._heights, strict=True):
            y -= height
            drawn_at(part, self.canv, 0, y)
            y -= self.gap


@dataclass(frozen=True, slots=True)
class Column:
    """Left edge and width of a column, pt, from the left edge of its row."""

    x: float
    width: float


def columns(total: float, shares: Sequence[float], *, gutter: float) -> tuple[Column, ...]:
    """Cut a width into columns in the given shares, each followed by a gutter."""
    whole = sum(shares)
    edges = [0.0]
    for share in shares:
        edges.append(edges[-1] + total * share / whole)
    last = len(shares) - 1
    return tuple(
        Column(edges[i], edges[i + 1] - edges[i] - (0 if i == last else gutter))
        for i in range(len(shares))
    )


def joined(first: Column, last: Column) -> Column:
    """Return the column that reaches from one column to the end of another."""
    return Column(first.x, last.x + last.width - first.x)


class Row(Flowable):  # type: ignore[misc]
    """Cells side by side with a hairline above; as tall as its tallest cell.

    Parameters
    ----------
    cells : (Column, Flowable) pairs
    rule : Color or None    Ink of the hairline above, from `rule_from` to the right end.
    pad : float, pt         Free space above and below the cells.
    """

    def __init__(
        self,
        cells: Sequence[tuple[Column, Flowable]],
        *,
        rule: Color | None = None,
        rule_from: float = 0.0,
        pad: float = 2.2,
    ) -> None:
        super().__init__()
        self.cells = list(cells)
        self.rule, self.rule_from, self.pad = rule, rule_from, pad
        self._heights: list[float] = []

    def wrap(self, avail: float, _room: float) -> tuple[float, float]:
        """Return the width given and the height of the tallest cell with padding, pt."""
        self.width = avail
        self._heights = [height_of(cell, column.width) for column, cell in self.cells]
        self.height = max(self._heights, default=0.0) + 2 * self.pad
        return avail, self.height

    def split(self, avail: float, height: float) -> list[Flowable]:
        """Split every cell at the same height; nothing when a cell has no line that fits."""
        self.wrap(avail, height)
        room = height - 2 * self.pad
        heads: list[tuple[Column, Flowable]] = []
        tails: list[tuple[Column, Flowable]] = []
        for (column, cell), tall in zip(self.cells, self._heights, strict=True):
            if tall <= room + 1e-6:
                heads.append((column, cell))
                continue
            halves = cell.split(column.width, room)
            if not halves:
                return []
            heads.append((column, halves[0]))
            tails.extend((column, half) for half in halves[1:])
        head = Row(heads, rule=self.rule, rule_from=self.rule_from, pad=self.pad)
        return [head, Row(tails, pad=self.pad)] if tails else [head]

    def draw(self) -> None:
        """Draw rule and cells, all hanging from the top."""
        if self.rule is not None:
            self.canv.setStrokeColor(self.rule)
            self.canv.setLineWidth(theme.HAIRLINE)
            self.canv.line(self.rule_from, self.height, self.width, self.height)
        top = self.height - self.pad
        for (column, cell), height in zip(self.cells, self._heights, strict=True):
            drawn_at(cell, self.canv, column.x, top - height)


class Record(Flowable):  # type: ignore[misc]
    """Rows of one record, hung on the stem; kept on one page when it fits on one.

    Parameters
    ----------
    rows : sequence of Flowable
    node : Node              Filled with a tick, open ring, or ring with a stroke through it.
    full_height : float, pt  Body height of a fresh page: a record taller than that is split.
    again : Flowable         First row of every continuation.
    outline : str            Its line in the document's outline; "" = none. Printable text only.
    """

    def __init__(
        self,
        rows: Sequence[Flowable],
        *,
        node: Node | None,
        full_height: float,
        again: Flowable,
        outline: str = "",
    ) -> None:
        super().__init__()
        self.outline = outline
        self.rows = list(rows)
        self.node, self.full_height, self.again = node, full_height, again
        self.indent = theme.STEM_MM * mm
        self._heights: list[float] = []

    def wrap(self, avail: float, _room: float) -> tuple[float, float]:
        """Return the width given and the sum of the rows, pt."""
        self.width = avail
        self._heights = [height_of(row, avail - self.indent) for row in self.rows]
        self.height = sum(self._heights)
        return avail, self.height

    def split(self, avail: float, height: float) -> list[Flowable]:
        """Return head and continuation; nothing when the record fits whole on a fresh page."""
        self.wrap(avail, height)
        if self.height <= self.full_height:
            return []
        halves = Stack(self.rows).split(avail - self.indent, height)
        if len(halves) != 2:
            return []
        head, tail = halves
        if self.node is None and len(head.parts) == 1:  # only the continuation line would fit
            return []
        return [
            self._part(head.parts, self.node, self.outline),
            self._part([self.again, *tail.parts], None, ""),
        ]

    def _part(self, rows: list[Flowable], node: Node | None, outline: str) -> Record:
        return Record(
            rows, node=node, full_height=self.full_height, again=self.again, outline=outline
        )

    def draw(self) -> None:
        """Draw the stem, its node, and the rows."""
        canvas = self.canv
        x = 1.9 * mm
        canvas.setStrokeColor(theme.STEM)
        canvas.setLineWidth(1.3)
        canvas.line(x, 0, x, self.height)
        y = self.height
        for row, height in zip(self.rows, self._heights, strict=True):
            y -= height
            drawn_at(row, canvas, self.indent, y)
        if self.outline:
            # The place is named by page and height: unique, and the same in every print.
            _, top = canvas.absolutePosition(0, self.height)
            name = f"r{canvas.getPageNumber()}-{top:.1f}"
            canvas.bookmarkHorizontal(name, 0, self.height)
            canvas.addOutlineEntry(self.outline, name)
        if self.node is not None:
            draw_node(canvas, x, self.height - 8.2, self.node)


def draw_node(canvas: Any, x: float, y: float, node: Node) -> None:
    """Draw a node of the stem around a point: done, open or void, told apart without colour."""
    radius = 4.3
    canvas.setLineWidth(1.1)
    if node == "done":
        canvas.setFillColor(theme.LEAF)
        canvas.setStrokeColor(theme.LEAF)
        canvas.circle(x, y, radius, stroke=1, fill=1)
        canvas.setStrokeColor(theme.WHITE)
        canvas.lines([(x - 2.1, y - 0.1, x - 0.6, y - 1.7), (x - 0.6, y - 1.7, x + 2.2, y + 1.7)])
        return
    canvas.setFillColor(theme.WHITE)
    canvas.setStrokeColor(theme.AMBER if node == "open" else theme.INK)
    canvas.circle(x, y, radius, stroke=1, fill=1)
    if node == "void":
        canvas.line(x - radius - 1.4, y - radius - 1.4, x + radius + 1.4, y + radius + 1.4)
