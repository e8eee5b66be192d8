"""The bench as a grid of cells: which cells a trial may use, the walk along them, where blocks lie.

Row 1 is nearest the aisle from which the bench is read, column 1 is at its left end. One cell
holds one plot (a pot, a tray, a group of pots).
"""

from __future__ import annotations

from dataclasses import dataclass

from tepal.domain.errors import TepalError

Cell = tuple[int, int]
MOST_CELLS = 40_000


class BenchError(TepalError, ValueError):
    """A bench that does not exist or does not hold the trial."""


@dataclass(frozen=True, slots=True)
class Bench:
    """A grid of `n_rows` x `n_columns` cells with guards around it.

    Parameters
    ----------
    n_rows, n_columns : int, >= 1       Cells of the whole bench, guards included.
    guard_rows : int, >= 0              Rows of guard plants along the front and along the back.
    guard_columns : int, >= 0           Columns of guard plants at the left and at the right end.
    out_of_use : tuple of (row, column) Cells that hold no plot: a post, a drip, a broken mat.
    block_rows, block_columns : int | None  Shape of the piece of bench that one block takes;
                                            None: the most compact shape that fits.

    Raises
    ------
    BenchError
    """

    n_rows: int
    n_columns: int
    guard_rows: int = 0
    guard_columns: int = 0
    out_of_use: tuple[Cell, ...] = ()
    block_rows: int | None = None
    block_columns: int | None = None

    def __post_init__(self) -> None:
        for name in ("n_rows", "n_columns", "block_rows", "block_columns"):
            value = getattr(self, name)
            if value is not None and value < 1:
                raise BenchError(
                    "designs.bench_size",
                    f"{name} is {value}; give 1 or more.",
                    name=name,
                    value=value,
                )
        if (self.block_rows is None) != (self.block_columns is None):
            raise BenchError(
                "designs.bench_block_shape",
                "A block's shape needs both its rows and its columns.",
                block_rows=self.block_rows,
                block_columns=self.block_columns,
            )
        if self.guard_rows < 0 or self.guard_columns < 0:
            raise BenchError(
                "designs.bench_guards",
                f"Guards of {self.guard_rows} rows and {self.guard_columns} columns; "
                "give 0 or more.",
                guard_rows=self.guard_rows,
                guard_columns=self.guard_columns,
            )
        if self.n_rows * self.n_columns > MOST_CELLS:
            raise BenchError(
                "designs.bench_too_large",
                f"A bench of {self.n_rows} x {self.n_columns} cells is larger than {MOST_CELLS} "
                "cells; describe the part that holds the trial.",
                n_rows=self.n_rows,
                n_columns=self.n_columns,
                limit=MOST_CELLS,
            )
        outside = [c for c in self.out_of_use if not self.holds(c)]
        if outside:
            raise BenchError(
                "designs.bench_cell_outside",
                f"Cell {outside[0][0]}:{outside[0][1]} is not on a bench of "
                f"{self.n_rows} rows and {self.n_columns} columns.",
                row=outside[0][0],
                column=outside[0][1],
            )

    def holds(self, cell: Cell) -> bool:
        """Whether the cell lies on the bench."""
        return 1 <= cell[0] <= self.n_rows and 1 <= cell[1] <= self.n_columns

    def is_guard(self, cell: Cell) -> bool:
        """Whether the cell holds a guard plant."""
        row, column = cell
        return cell not in self.out_of_use and not (
            self.guard_rows < row <= self.n_rows - self.guard_rows
            and self.guard_columns < column <= self.n_columns - self.guard_columns
        )

    def guards(self) -> tuple[Cell, ...]:
        """Return the guard cells, row by row."""
        cells = ((r, c) for r in range(1, self.n_rows + 1) for c in range(1, self.n_columns + 1))
        return tuple(cell for cell in cells if self.is_guard(cell))

    def walk(self) -> tuple[Cell, ...]:
        """Return the cells that may hold plots, serpentine: one row out, the next one back."""
        inner_rows = self.n_rows - 2 * self.guard_rows
        inner_columns = self.n_columns - 2 * self.guard_columns
        inside = serpentine(
            self.guard_rows + 1, self.guard_columns + 1, inner_rows, inner_columns, forward=True
        )
        shut = set(self.out_of_use)
        return tuple(cell for cell in inside if cell not in shut)


def serpentine(
    first_row: int, first_column: int, n_rows: int, n_columns: int, *, forward: bool
) -> list[Cell]:
    """Return the cells of a rectangle in walking order; `forward` is the first row's direction."""
    cells: list[Cell] = []
    for i in range(max(n_rows, 0)):
        columns = range(first_column, first_column + max(n_columns, 0))
        ahead = forward if i % 2 == 0 else not forward
        cells.extend((first_row + i, c) for c in (columns if ahead else reversed(columns)))
    return cells


def block_places(bench: Bench, n_blocks: int, block_size: int) -> tuple[tuple[Cell, ...], ...]:
    """Return the cells of each block in walking order.

    Blocks are compact rectangles where they fit: the shape is the bench's own or, of the shapes
    with exactly `block_size` cells, the one with the shortest edge (wide before deep). Where no
    shape fits, blocks are consecutive stretches of the serpentine walk.

    Raises
    ------
    BenchError      `designs.bench_too_small`, or `designs.bench_block_shape` for a shape asked for
                    that does not fit.
    """
    walk = bench.walk()
    if len(walk) < n_blocks * block_size:
        raise _too_small(bench, len(walk), n_blocks * block_size)
    if bench.block_rows is not None and bench.block_columns is not None:
        tiles = _tiles(bench, bench.block_rows, bench.block_columns)
        if bench.block_rows * bench.block_columns < block_size or len(tiles) < n_blocks:
            raise BenchError(
                "designs.bench_block_shape",
                f"The bench holds {len(tiles)} blocks of {bench.block_rows} x "
                f"{bench.block_columns} cells; {n_blocks} blocks of {block_size} plots are needed. "
                "Use another shape, a larger bench, or leave the shape open.",
                n_tiles=len(tiles),
                n_blocks=n_blocks,
                block_size=block_size,
            )
        return tuple(tile[:block_size] for tile in tiles[:n_blocks])
    shapes = [(h, block_size // h) for h in range(1, block_size + 1) if block_size % h == 0]
    for height, width in sorted(shapes, key=lambda s: (s[0] + s[1], s[0])):
        tiles = _tiles(bench, height, width)
        if len(tiles) >= n_blocks:
            return tuple(tiles[:n_blocks])
    return tuple(walk[i * block_size : (i + 1) * block_size] for i in range(n_blocks))


def square_places(bench: Bench, n_squares: int, order: int) -> tuple[tuple[Cell, ...], ...]:
    """Return the cells of each Latin square: `order` bench rows by `order` bench columns.

    Raises
    ------
    BenchError      `designs.bench_no_square` where they do not fit whole.
    """
    tiles = _tiles(bench, order, order)
    if len(tiles) < n_squares:
        raise BenchError(
            "designs.bench_no_square",
            f"Only {len(tiles)} whole squares of {order} x {order} cells found a place and "
            f"{n_squares} are needed; use a larger bench or a randomised complete block design.",
            n_tiles=len(tiles),
            n_squares=n_squares,
            order=order,
        )
    return tuple(tiles[:n_squares])


def _tiles(bench: Bench, height: int, width: int) -> list[tuple[Cell, ...]]:
    """Return rectangles without cells out of use, serpentine over the bench and within each.

    Each is put at the first place, row by row, where it is clear of posts and of those before it;
    on a bench without posts that is the plain grid.
    """
    last_row = bench.n_rows - bench.guard_rows - height + 1
    last_column = bench.n_columns - bench.guard_columns - width + 1
    blocked = set(bench.out_of_use)
    tiles: list[tuple[Cell, ...]] = []
    forward = True
    for row in range(bench.guard_rows + 1, last_row + 1):
        band = []
        for column in range(bench.guard_columns + 1, last_column + 1):
            if (row, column) in blocked:
                continue
            cells = serpentine(row, column, height, width, forward=forward)
            if blocked.isdisjoint(cells):
                blocked.update(cells)
                band.append(tuple(cells))
        if band:
            tiles.extend(band if forward else reversed(band))
            forward = not forward
    return tiles


def _too_small(bench: Bench, n_cells: int, n_needed: int) -> BenchError:
    return BenchError(
        "designs.bench_too_small",
        f"The bench of {bench.n_rows} x {bench.n_columns} cells has {n_cells} for plots after "
        f"guards and cells out of use; the trial needs {n_needed}. Use a larger bench, fewer "
        "guards or fewer replicates.",
        n_cells=n_cells,
        n_needed=n_needed,
    )
