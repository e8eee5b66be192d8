"""Latin squares drawn at random: exactly uniform to order 5, by a Markov chain above.

Shuffling rows, columns and symbols of one cyclic square reaches only its own isotopy class, which
is not all squares from order 4 up; so it is not used.
"""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING

from tepal.domain.errors import OutOfRangeError

if TYPE_CHECKING:
    from tepal.designs.chance import Chance

Square = tuple[tuple[int, ...], ...]

#: Up to this order all reduced squares are listed (56 of order 5; 9,408 of order 6 take too long).
LARGEST_LISTED = 5
LARGEST_ORDER = 20


@cache
def reduced_squares(order: int) -> tuple[Square, ...]:
    """Return every Latin square of the order whose first row and column are 0, 1, 2, ...

    Parameters
    ----------
    order : int, 1 to 5     There are 1, 1, 1, 4, 56 of them (OEIS A000315).
    """
    if not 1 <= order <= LARGEST_LISTED:
        raise OutOfRangeError(
            "designs.latin_order_out_of_range",
            f"Reduced squares are listed for orders 1 to {LARGEST_LISTED}, not {order}.",
            order=order,
            largest=LARGEST_LISTED,
        )
    found: list[Square] = []
    grid = [[-1] * order for _ in range(order)]
    grid[0] = list(range(order))
    for row in range(order):
        grid[row][0] = row

    def fill(cell: int) -> None:
        if cell == order * order:
            found.append(tuple(tuple(row) for row in grid))
            return
        i, j = divmod(cell, order)
        if i == 0 or j == 0:
            fill(cell + 1)
            return
        used = set(grid[i][:j]) | {grid[above][j] for above in range(i)}
        for symbol in range(order):
            if symbol not in used:
                grid[i][j] = symbol
                fill(cell + 1)
        grid[i][j] = -1

    fill(0)
    return tuple(found)


def random_square(order: int, chance: Chance) -> Square:
    """Return a Latin square; `square[i][j]` is the symbol 0..order-1 of row i, column j.

    Parameters
    ----------
    order : int, 2 to 20
    chance : Chance     Draws are taken from it in a fixed order.

    Notes
    -----
    Orders to 5: a reduced square is chosen, its rows but the first and then all its columns are
    shuffled; every square comes from exactly one such choice, so all are equally likely.
    Larger orders: `walked_square`, then rows, columns and symbols are shuffled. The walk's limit is
    uniform [1]; that order**3 visits come close enough is common practice, not proved. The
    shuffles make it exact within each isotopy class.

    References
    ----------
    [1] Jacobson & Matthews 1996, Generating uniformly distributed random Latin squares.
        J. Combin. Designs 4:405-437.
    """
    if not 2 <= order <= LARGEST_ORDER:
        raise OutOfRangeError(
            "designs.latin_order_out_of_range",
            f"A Latin square of {order} treatments is not offered; use 2 to {LARGEST_ORDER}, "
            "or a randomised complete block design.",
            order=order,
            largest=LARGEST_ORDER,
        )
    if order > LARGEST_LISTED:
        walked = walked_square(order, order**3, chance)
        row_order, column_order, names = (chance.shuffled(range(order)) for _ in range(3))
        return tuple(tuple(names[walked[i][j]] for j in column_order) for i in row_order)
    reduced = chance.choice(reduced_squares(order))
    rows = [reduced[0], *chance.shuffled(reduced[1:])]
    columns = chance.shuffled(range(order))
    return tuple(tuple(row[j] for j in columns) for row in rows)


def walked_square(order: int, n_visits: int, chance: Chance) -> Square:
    """Return the `n_visits`-th Latin square that a walk from the cyclic one comes by.

    Each move of the chain keeps or repairs a square that is Latin but for one cell that counts a
    symbol minus once ("improper"). See Jacobson & Matthews 1996, section 4 (reference in
    `random_square`).

    Parameters
    ----------
    order : int, >= 2
    n_visits : int, >= 1    Latin squares come by, not moves.
    chance : Chance

    Notes
    -----
    The incidence cube is held as three tables of the places of its ones: symbols of (row, column),
    columns of (row, symbol), rows of (column, symbol). A line has one of them, or two where it
    passes through the improper cell, whose minus one stands in `minus` alone.
    HAZARD: stopping at the first Latin square after a number of *moves* favours squares that are
    easily entered (chi-square p of 1e-143 over order 4); the walk seen at its Latin squares only
    is symmetric, so visits are what is counted.
    """
    n = order
    by_rc = [[[(i + j) % n] for j in range(n)] for i in range(n)]
    by_rs = [[[(s - i) % n] for s in range(n)] for i in range(n)]
    by_cs = [[[(s - j) % n] for s in range(n)] for j in range(n)]

    def add(r: int, c: int, s: int) -> None:
        by_rc[r][c].append(s)
        by_rs[r][s].append(c)
        by_cs[c][s].append(r)

    def take(r: int, c: int, s: int) -> None:
        by_rc[r][c].remove(s)
        by_rs[r][s].remove(c)
        by_cs[c][s].remove(r)

    minus: tuple[int, int, int] | None = None
    visits = 0
    while visits < n_visits:
        if minus is None:
            r, c = chance.below(n), chance.below(n)
            # any symbol but the one that stands there: a cell of the cube that holds 0
            s = (by_rc[r][c][0] + 1 + chance.below(n - 1)) % n
            s2, c2, r2 = by_rc[r][c][0], by_rs[r][s][0], by_cs[c][s][0]
        else:
            r, c, s = minus
            s2 = by_rc[r][c][chance.below(2)]
            c2 = by_rs[r][s][chance.below(2)]
            r2 = by_cs[c][s][chance.below(2)]
        if minus is None:
            add(r, c, s)
        # the sub-cube (r, c, s) - (r2, c2, s2): four corners gain one, four lose one
        add(r, c2, s2)
        add(r2, c, s2)
        add(r2, c2, s)
        take(r, c, s2)
        take(r, c2, s)
        take(r2, c, s)
        if s2 in by_rc[r2][c2]:
            take(r2, c2, s2)
            minus = None
            visits += 1
        else:
            minus = (r2, c2, s2)
    return tuple(tuple(by_rc[i][j][0] for j in range(n)) for i in range(n))
