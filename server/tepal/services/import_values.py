"""One cell -> the value that a field stores, or what is wrong with it and what cures it.

Nothing is guessed: a number that could be read in two ways, a day that could be two days, a unit
that nobody named is a question. Codes of problems: `import.<code>` in the catalogue.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Any, Final

from marshmallow import ValidationError

from tepal.forms.fields import Choice, Choices, Day, Decimal, Flag, Quantity, Ref, Refs, Text, Whole

if TYPE_CHECKING:
    from collections.abc import Callable

    from tepal.forms.fields import WireField
    from tepal.services.import_sheets import Cell

# Words that people put in a header or behind a number -> UCUM code. Trade words, own list.
UNIT_WORDS: Final = {
    "m": "m", "cm": "cm", "mm": "mm", "ft": "[ft_i]", "foot": "[ft_i]", "feet": "[ft_i]",
    "in": "[in_i]", "inch": "[in_i]", "inches": "[in_i]", "m2": "m2", "m²": "m2", "sqm": "m2",
    "sq m": "m2", "sq ft": "[sft_i]", "sqft": "[sft_i]", "ft2": "[sft_i]", "ft²": "[sft_i]",
    "ml": "mL", "l": "L", "liter": "L", "litre": "L", "litros": "L", "g": "g", "kg": "kg",
    "gal": "[gal_us]", "fl oz": "[foz_us]", "oz": "[oz_av]", "lb": "[lb_av]", "lbs": "[lb_av]",
    "g/l": "g/L", "mg/l": "mg/L", "ppm": "mg/L", "mg/ml": "mg/mL", "%": "%",
    "lb/gal": "[lb_av]/[gal_us]", "ml/l": "mL/L", "h": "h", "hour": "h", "hours": "h", "hr": "h",
    "hrs": "h", "horas": "h", "d": "d", "day": "d", "days": "d", "g/ml": "g/mL", "kg/l": "g/mL",
    "°c": "Cel", "c": "Cel", "°f": "[degF]", "f": "[degF]",
}  # fmt: skip
_NUMBER: Final = re.compile(r"[-+]?[0-9][0-9.,'\u00a0\u202f ]*")
_YES: Final = frozenset({"yes", "y", "true", "1", "x", "sí", "si", "s"})
_NO: Final = frozenset({"no", "n", "false", "0"})
_DATE: Final = re.compile(r"([0-9]{1,2})[./-]([0-9]{1,2})[./-]([0-9]{4})")


class CellError(Exception):
    """Why a cell has no value: a code of the catalogue and its parameters."""

    def __init__(self, code: str, **params: Any) -> None:
        super().__init__(code)
        self.code = code
        self.params = params


@dataclass(frozen=True, slots=True)
class Ways:
    """How the file writes numbers and days; None is asked where it matters.

    `decimal`: "." or ","; `dates`: "dmy" or "mdy".
    """

    decimal: str | None = None
    dates: str | None = None


def unit_of_header(header: str) -> str | None:
    """Return the unit that a header names in brackets or behind a comma, or None."""
    inside = re.search(r"[(\[]\s*([^()\[\]]+?)\s*[)\]]\s*$", header) or re.search(
        r",\s*([^,]+?)\s*$", header
    )
    return None if inside is None else unit_code(inside[1])


def unit_code(text: str) -> str | None:
    """Return the UCUM code of a unit as people write it, or None."""
    plain = re.sub(r"\s+", " ", text.strip().rstrip("."))
    return UNIT_WORDS.get(plain.lower()) or (plain if plain in UNIT_WORDS.values() else None)


def value_of(
    field: WireField,
    cell: Cell,
    ways: Ways,
    unit: str | None,
    find: Callable[[str, str], list[str]],
) -> Any:
    """Return what the field stores for a cell; None for an empty one.

    Parameters
    ----------
    unit : the column's unit (UCUM), by its header or as the user chose.
    find : (kind, name) -> ids of the records of that name.

    Raises
    ------
    CellError   With the code and parameters of what is wrong.
    """
    if not cell.text:
        return None
    if cell.is_formula:
        raise CellError("import.formula")
    value = _read(field, cell, ways, unit, find)
    try:
        field.check(value)
    except ValidationError as error:
        raise CellError(f"import.{error.messages[0]}", **_bounds(field)) from error
    return value


def _read(
    field: WireField,
    cell: Cell,
    ways: Ways,
    unit: str | None,
    find: Callable[[str, str], list[str]],
) -> Any:
    if isinstance(field, Quantity):
        return _quantity(field, cell, ways, unit)
    if isinstance(field, Decimal):
        return _number(cell, ways)
    if isinstance(field, Whole):
        number = _number(cell, ways)
        if "." in number:
            raise CellError("import.not_whole")
        return int(number)
    if isinstance(field, Day):
        return _day(cell, ways)
    if isinstance(field, Flag):
        return _flag(cell.text)
    if isinstance(field, Choices):
        return [_choice(field, part) for part in _parts(cell.text)]
    if isinstance(field, Choice):
        return _choice(field, cell.text)
    if isinstance(field, Refs):
        return [_reference(field, part, find) for part in _parts(cell.text)]
    if isinstance(field, Ref):
        return _reference(field, cell.text, find)
    if isinstance(field, Text):
        return cell.text
    raise CellError("import.not_from_a_table")


def _parts(text: str) -> list[str]:
    return [part.strip() for part in re.split(r"[;|]", text) if part.strip()]


def plain_number(text: str, ways: Ways) -> str:
    """Return a number as plain digits with a point.

    One sign followed by exactly three digits ("1,234") can be a thousand or a decimal: where the
    file's way is not known it is asked, never guessed.

    Raises
    ------
    CellError   `import.not_a_number`, `import.ambiguous_number`.
    """
    bare = re.sub(r"[\u00a0\u202f' ]", "", text)
    if not re.fullmatch(r"[-+]?[0-9][0-9.,]*", bare):
        raise CellError("import.not_a_number")
    sign, bare = ("-" if bare[0] == "-" else ""), bare.lstrip("+-")
    decimal = ways.decimal
    marks = {mark for mark in ".," if mark in bare}
    if decimal is None and len(marks) == 2:  # the last one is the decimal sign
        decimal = max(".,", key=bare.rfind)
    if decimal is None and len(marks) == 1:
        mark = marks.pop()
        if bare.count(mark) > 1:
            decimal = "." if mark == "," else ","
        elif re.fullmatch(rf"[1-9][0-9]{{0,2}}{re.escape(mark)}[0-9]{{3}}", bare):
            raise CellError("import.ambiguous_number")
        else:
            decimal = mark
    thousands = "," if (decimal or ".") == "." else "."
    whole, _, part = bare.partition(decimal or ".")
    groups = whole.split(thousands)
    grouped = len(groups) == 1 or (
        1 <= len(groups[0]) <= 3 and all(len(group) == 3 for group in groups[1:])
    )
    if not grouped or not re.fullmatch(r"[0-9]*", part):
        raise CellError("import.not_a_number")
    digits = "".join(groups).lstrip("0") or "0"
    return sign + digits + (f".{part}" if part else "")


def _number(cell: Cell, ways: Ways) -> str:
    return cell.number if cell.number is not None else plain_number(cell.text, ways)


def _quantity(field: Quantity, cell: Cell, ways: Ways, unit: str | None) -> dict[str, str]:
    found = _NUMBER.match(cell.text)
    if found is None:
        raise CellError("import.not_a_number")
    behind = cell.text[found.end() :].strip()
    own = unit_code(behind) if behind else unit
    if behind and own is None:
        raise CellError("import.unit_unknown", unit=behind[:40], units=", ".join(field.units))
    if own is None and len(field.units) == 1:
        own = field.units[0]
    if own is None:
        raise CellError("import.unit_missing", units=", ".join(field.units))
    if own not in field.units:
        raise CellError("import.unit_not_offered", unit=own, units=", ".join(field.units))
    number = cell.number if cell.number is not None else plain_number(found[0].strip(), ways)
    return {"value": number, "unit": own}


def _day(cell: Cell, ways: Ways) -> str:
    if cell.day is not None:
        return cell.day
    match = _DATE.fullmatch(cell.text)
    if match is None:
        return cell.text  # ISO, or refused by the field
    first, second, year = (int(part) for part in match.groups())
    if first <= 12 and second <= 12 and first != second and ways.dates is None:
        raise CellError("import.ambiguous_day")
    month, day = (first, second) if ways.dates == "mdy" or second > 12 else (second, first)
    try:
        return date(year, month, day).isoformat()
    except ValueError as error:
        raise CellError("import.not_a_day") from error


def _flag(text: str) -> bool:
    if text.lower() in _YES | _NO:
        return text.lower() in _YES
    raise CellError("import.not_yes_or_no")


def _choice(field: Choice, text: str) -> str:
    plain = re.sub(r"[\s-]+", "_", text.strip().lower())
    for one in field.choices:
        if plain == one.lower() or text.strip() == one:
            return one
    raise CellError("import.not_a_choice", choices=", ".join(field.choices))


def _reference(field: Ref, name: str, find: Callable[[str, str], list[str]]) -> str:
    ids = find(field.kind, name)
    if len(ids) == 1:
        return ids[0]
    code = "import.no_such_record" if not ids else "import.several_records"
    raise CellError(code, name=name[:80], kind=field.kind)


def _bounds(field: WireField) -> dict[str, Any]:
    return {
        name: getattr(field, name)
        for name in ("least", "most", "max_length")
        if hasattr(field, name)
    }
