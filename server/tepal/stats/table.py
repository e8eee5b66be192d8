"""A spreadsheet saved as text to columns, with errors that name row, column, value and cure.

The standard csv module reads it; pandas would take longer to load than the analysis takes.
"""

from __future__ import annotations

import csv
import io
import math
from dataclasses import dataclass

from tepal.stats.results import StatsError

MISSING = frozenset({"", "na", "n/a", "nan", "-", ".", "*", "null", "none"})


class TableError(StatsError):
    """A table cannot be read; the message names row, column, value and cure."""


@dataclass(frozen=True, slots=True)
class Table:
    """Columns of text, equal in length; `lines` holds each row's line in the file, for messages."""

    columns: dict[str, tuple[str, ...]]
    lines: tuple[int, ...]
    decimal_comma: bool = False

    def text(self, name: str) -> tuple[str, ...]:
        """Return a column as text.

        Raises
        ------
        TableError   `stats.no_column`, with the names there are.
        """
        if name not in self.columns:
            raise TableError(
                "stats.no_column",
                f"There is no column {name!r}; the first line of the file names"
                f" {', '.join(self.columns)}. Write the name as it stands there.",
                column=name,
            )
        return self.columns[name]

    def labels(self, name: str) -> tuple[str, ...]:
        """Return a column of names, none of them empty.

        Raises
        ------
        TableError   `stats.no_column`, `stats.empty_label`.
        """
        values = self.text(name)
        for line, value in zip(self.lines, values, strict=True):
            if value == "":
                raise TableError(
                    "stats.empty_label",
                    f"Line {line}: {name} is empty. Every row needs its {name}; for a missing"
                    " measurement leave the measurement empty instead.",
                    row=line,
                    column=name,
                )
        return values

    def numbers(self, name: str) -> list[float | None]:
        """Return a column of numbers; empty, NA and - are missing (None).

        Raises
        ------
        TableError   `stats.no_column`, `stats.not_a_number`.
        """
        return [
            self.number(name, line, value)
            for line, value in zip(self.lines, self.text(name), strict=True)
        ]

    def number(self, name: str, line: int, value: str) -> float | None:
        """Return one cell as a number, None where it is missing.

        Raises
        ------
        TableError   `stats.not_a_number`.
        """
        if value.lower() in MISSING:
            return None
        text = value.replace(",", ".") if self.decimal_comma else value
        try:
            number = float(text)
        except ValueError:
            number = math.nan
        if not math.isfinite(number) or "_" in text:
            hint = (
                " This file separates columns by commas, so a decimal needs a point."
                if "," in value and not self.decimal_comma
                else ""
            )
            raise TableError(
                "stats.not_a_number",
                f"Line {line}: {name} is {value!r}, which is not a number. Correct it, or leave the"
                f" cell empty if the plot was not measured.{hint}",
                row=line,
                column=name,
                value=value,
            )
        return number

    def where(self, rows: list[int]) -> Table:
        """Return the rows with these positions, in this order."""
        return Table(
            {k: tuple(v[i] for i in rows) for k, v in self.columns.items()},
            tuple(self.lines[i] for i in rows),
            self.decimal_comma,
        )


def read_table(text: str) -> Table:
    r"""Read a table saved as CSV: comma, semicolon or tab between columns, names in the first line.

    Parameters
    ----------
    text : str   The whole file. With semicolons or tabs a comma may be the decimal sign.

    Returns
    -------
    Table. Blank lines are skipped, spaces around values dropped.

    Raises
    ------
    TableError   `stats.empty_table`, `stats.header`, `stats.ragged`.

    Examples
    --------
    >>> table = read_table("treatment;height_cm\ncontrol;20,5\nx;")
    >>> table.numbers("height_cm")
    [20.5, None]
    """
    body = text.removeprefix("\ufeff")
    first = next((line for line in body.splitlines() if line.strip()), "")
    if not first:
        raise TableError(
            "stats.empty_table", "The file is empty; its first line names the columns."
        )
    delimiter = max("\t;,", key=lambda d: (first.count(d), d))
    rows = csv.reader(io.StringIO(body), delimiter=delimiter, skipinitialspace=True)
    header: list[str] | None = None
    columns: list[list[str]] = []
    lines: list[int] = []
    for row in rows:
        cells = [c.strip() for c in row]
        if not any(cells):
            continue
        if header is None:
            header = cells
            while header and header[-1] == "":
                header.pop()
            _check_header(header)
            columns = [[] for _ in header]
            continue
        while len(cells) > len(header) and cells[-1] == "":
            cells.pop()
        if len(cells) != len(header):
            raise TableError(
                "stats.ragged",
                f"Line {rows.line_num} has {len(cells)} values, the first line names {len(header)}"
                " columns. Look for a missing or an extra separator in this line.",
                row=rows.line_num,
            )
        lines.append(rows.line_num)
        for column, cell in zip(columns, cells, strict=True):
            column.append(cell)
    if header is None or not lines:
        raise TableError("stats.empty_table", "The file has column names but no rows below them.")
    return Table(
        {name: tuple(values) for name, values in zip(header, columns, strict=True)},
        tuple(lines),
        delimiter != ",",
    )


def _check_header(header: list[str]) -> None:
    for i, name in enumerate(header):
        if name == "":
            raise TableError(
                "stats.header", f"Column {i + 1} has no name in the first line; give it one."
            )
        if header.index(name) != i:
            raise TableError(
                "stats.header", f"Two columns are called {name!r}; give each a name of its own."
            )
