"""A table file -> sheets of text cells: CSV and XLSX, within bounds. Reads bytes only."""

from __future__ import annotations

import csv
import io
import re
import zipfile
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import Any, Final

from tepal.domain.errors import TepalError

MOST_ROWS: Final = 10_000
MOST_COLUMNS: Final = 100
MOST_SHEETS: Final = 20
MOST_UNPACKED: Final = 200_000_000  # bytes of an XLSX once unpacked; a bomb has more
MOST_CHARS: Final = 4_000


class ImportFileError(TepalError, ValueError):
    """A table file that cannot be read."""


@dataclass(frozen=True, slots=True)
class Cell:
    """A cell: its text, or the number or day that the sheet itself says it is."""

    text: str
    number: str | None = None  # plain decimal, where the sheet holds a number
    day: str | None = None  # ISO, where the sheet holds a date
    is_formula: bool = False  # a formula whose result the file does not hold; `text` is the formula


@dataclass(frozen=True, slots=True)
class Sheet:
    """One sheet: its name, the header's cells, and (row number as the sheet counts, cells)."""

    name: str
    header: tuple[str, ...]
    rows: tuple[tuple[int, tuple[Cell, ...]], ...]
    head_row: int = 1


def read_sheets(name: str, content: bytes) -> list[Sheet]:
    """Return the sheets of a file that hold anything; of a CSV the one.

    Raises
    ------
    ImportFileError   `import.not_a_table`, `import.too_large`, `import.empty`.
    """
    if content[:4] == b"PK\x03\x04":
        sheets = _xlsx(content)
    elif content[:8] == b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" or b"\x00" in content[:4096]:
        raise ImportFileError(
            "import.not_a_table", "this is no CSV and no XLSX file; save the table as one of them"
        )
    else:
        sheets = [_csv(name, content)]
    found = [sheet for sheet in sheets if sheet.header and sheet.rows]
    if not found:
        raise ImportFileError("import.empty", "no sheet of this file has a header and rows")
    return found


def _csv(name: str, content: bytes) -> Sheet:
    text = _decoded(content)
    first = text.split("\n", 1)[0]
    delimiter = max(";\t,", key=first.count)  # the header tells: it has no decimal commas
    # strict: a quote that never ends would swallow the rest of the file silently
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    try:
        lines = []
        for cells in reader:
            lines.append((reader.line_num, [Cell(one.strip()) for one in cells]))
            _check_size(len(lines), len(cells))
    except csv.Error as error:
        raise ImportFileError(
            "import.not_a_table", f"line {reader.line_num} is not CSV: {error}"
        ) from error
    return _sheet(name[:80], lines)


def _decoded(content: bytes) -> str:
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError:
        return content.decode("cp1252", errors="replace")  # what spreadsheets on Windows write


def _xlsx(content: bytes) -> list[Sheet]:
    from openpyxl import load_workbook

    try:
        _check_unpacked(content)
        book = load_workbook(io.BytesIO(content), read_only=True, data_only=True)
        sheets = [_of_worksheet(one) for one in book.worksheets[:MOST_SHEETS]]
        book.close()
        if _has_formulas(content):
            book = load_workbook(io.BytesIO(content), read_only=True)
            sheets = [
                _with_formulas(sheet, _of_worksheet(one))
                for sheet, one in zip(sheets, book.worksheets, strict=False)
            ]
            book.close()
    except ImportFileError:
        raise
    except Exception as error:  # a broken file breaks openpyxl in ways without a name
        raise ImportFileError("import.not_a_table", "this XLSX file cannot be read") from error
    return sheets


def _check_unpacked(content: bytes) -> None:
    with zipfile.ZipFile(io.BytesIO(content)) as packed:
        if sum(one.file_size for one in packed.infolist()) > MOST_UNPACKED:
            raise ImportFileError(
                "import.too_large", "the file unpacks to too much",
                most_rows=MOST_ROWS, most_columns=MOST_COLUMNS,
            )  # fmt: skip


def _has_formulas(content: bytes) -> bool:
    with zipfile.ZipFile(io.BytesIO(content)) as packed:
        return any(
            re.search(rb"<f[ >]", packed.read(one)) is not None
            for one in packed.namelist()
            if one.startswith("xl/worksheets/")
        )


def _with_formulas(sheet: Sheet, written: Sheet) -> Sheet:
    """Show formulas that hold no result: only a spreadsheet program reckons, and saves it.

    Left out silently, such a cell would be a value that is missing and never asked about.
    """
    results = dict(sheet.rows)
    rows = []
    for number, cells in written.rows:
        known = results.get(number, ())
        row = [
            known[at] if at < len(known) and known[at].text
            else Cell(cell.text, is_formula=True) if cell.text.startswith("=")
            else Cell("")
            for at, cell in enumerate(cells)
        ]  # fmt: skip
        rows.append((number, (*row, *known[len(row) :])))
    return replace(sheet, rows=tuple(rows)) if sheet.header == written.header else sheet


def _of_worksheet(worksheet: Any) -> Sheet:
    # the size that the file itself claims is not believed: each row read is counted
    worksheet.reset_dimensions()
    lines = []
    for number, values in enumerate(worksheet.iter_rows(values_only=True), start=1):
        cells = [_cell(value) for value in values[: MOST_COLUMNS + 1]]
        while cells and not cells[-1].text:
            cells.pop()
        lines.append((number, cells))
        _check_size(len(lines), len(cells))
    return _sheet(str(worksheet.title)[:80], lines)


def _cell(value: Any) -> Cell:
    if value is None:
        return Cell("")
    if isinstance(value, bool):
        return Cell("yes" if value else "no")
    if isinstance(value, int | float):
        plain = str(value) if isinstance(value, int) else _plain(value)
        return Cell(plain, number=plain)
    if isinstance(value, datetime | date):
        day = value.strftime("%Y-%m-%d")
        return Cell(day, day=day)
    return Cell(str(value).strip()[:MOST_CHARS])


def _plain(value: float) -> str:
    """Return a float's shortest digits without an exponent."""
    text = repr(value)
    if "e" in text or "n" in text:
        text = format(value, ".9f").rstrip("0").rstrip(".")
    return text.removesuffix(".0")


def _check_size(n_rows: int, n_columns: int) -> None:
    if n_rows > MOST_ROWS + 1 or n_columns > MOST_COLUMNS:
        raise ImportFileError(
            "import.too_large", f"at most {MOST_ROWS} rows and {MOST_COLUMNS} columns",
            most_rows=MOST_ROWS, most_columns=MOST_COLUMNS,
        )  # fmt: skip


def _sheet(name: str, lines: list[tuple[int, list[Cell]]]) -> Sheet:
    """The first line that holds anything is the header; empty lines are left out."""
    filled = [(number, cells) for number, cells in lines if any(one.text for one in cells)]
    if not filled:
        return Sheet(name, (), ())
    header = tuple(cell.text for cell in filled[0][1])
    rows = tuple((number, tuple(cells)) for number, cells in filled[1:])
    return Sheet(name, header, rows, filled[0][0])
