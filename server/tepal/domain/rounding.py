"""The only place that rounds or formats a quantity, and reads a typed number.

Twin: web/app/core/rounding.js. Rounding is half up (away from zero) on the shortest decimal
digits that stand for the binary64 value (what `repr` and JavaScript's `String` print), so that
2.675 rounds to 2.68 in both languages; `round`, `format` and `toFixed` disagree on ties and are
never used.
A number format is `{"decimal": "." or ",", "thousands": "," "." " " "'" or ""}` of the
establishment, never of the language.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any, TypedDict

from tepal.domain.errors import TepalError, text_of
from tepal.domain.ranges import finite, positive
from tepal.domain.units import unit_of

if TYPE_CHECKING:
    from collections.abc import Mapping

__all__ = [
    "PLAIN_FORMAT",
    "NumberFormat",
    "NumberFormatError",
    "decimal_text",
    "decimals_of",
    "for_measuring",
    "format_context",
    "format_number",
    "format_quantity",
    "parse_decimal",
    "parse_number",
    "round_half_up",
    "significant_decimals",
]


class NumberFormat(TypedDict):
    """Decimal mark and thousands separator of an establishment."""

    decimal: str
    thousands: str


class NumberFormatError(TepalError, ValueError):
    """A typed number cannot be read, or can be read in two ways."""


PLAIN_FORMAT: NumberFormat = {"decimal": ".", "thousands": ""}

# Between number and unit, and between thousands: a space that never breaks the line.
_NO_BREAK_SPACE = "\u00a0"
_SPACES = re.compile("[\u0020\u00a0\u2009\u202f]")


def _digits(value: float) -> tuple[bool, int, int]:
    """Return (negative, whole, exponent) with |value| = whole * 10**exponent, digits shortest."""
    text = repr(abs(finite(value, "value")))
    mantissa, _, power = text.partition("e")
    whole, _, fraction = mantissa.partition(".")
    digits = (whole + fraction).lstrip("0")
    exponent = (int(power) if power else 0) - len(fraction)
    shortest = digits.rstrip("0")
    if shortest == "":
        return (False, 0, 0)
    return (value < 0, int(shortest), exponent + len(digits) - len(shortest))


def _scaled(value: float, n_decimals: int) -> tuple[bool, int]:
    """Return (negative, whole) with whole = |value| * 10**n_decimals rounded half up."""
    negative, whole, exponent = _digits(value)
    shift = exponent + n_decimals
    if shift >= 0:
        return (negative, whole * 10**shift)
    unit = 10**-shift
    return (negative, (2 * whole + unit) // (2 * unit))


def round_half_up(value: float, n_decimals: int) -> float:
    """Return `value` rounded half up (away from zero) to `n_decimals` decimal places."""
    negative, whole = _scaled(value, n_decimals)
    number = float(f"{whole}e{-n_decimals}")
    return -number if negative and whole != 0 else number


def decimal_text(value: float, n_decimals: int) -> str:
    """Return `value` rounded half up as plain text with '.', exactly `n_decimals` places."""
    negative, whole = _scaled(value, n_decimals)
    digits = str(whole).rjust(n_decimals + 1, "0")
    split = len(digits) - n_decimals
    text = digits[:split] + ("." + digits[split:] if n_decimals > 0 else "")
    return "-" + text if negative and whole != 0 else text


def decimals_of(value: float) -> int:
    """Return how many decimal places the shortest digits of `value` have (0.05 has 2)."""
    _, _, exponent = _digits(value)
    return max(0, -exponent)


def significant_decimals(value: float, n_significant: int) -> int:
    """Return the decimal places that show `n_significant` digits of `value`, never below 0."""
    _, whole, exponent = _digits(value)
    if whole == 0:
        return 0
    leading = len(str(whole)) - 1 + exponent
    return max(0, n_significant - 1 - leading)


def for_measuring(value: float, resolution: float) -> float:
    """Return `value` rounded half up to a whole number of divisions of an instrument.

    Parameters
    ----------
    value : float, in the instrument's unit, > 0
    resolution : float, same unit, > 0     The smallest division that is read.

    Returns
    -------
    float, same unit; at most half a division away from `value`, 0 where less than half a division.

    Notes
    -----
    Computed on decimal digits, so 0.3 stays 0.3. Twin: web/app/core/rounding.js.
    Vectors: tests/vectors/rounding/for_measuring.json
    """
    _, value_whole, value_power = _digits(positive(value, "value"))
    _, step_whole, step_power = _digits(positive(resolution, "resolution"))
    power = min(value_power, step_power)
    value_units = value_whole * 10 ** (value_power - power)
    step_units = step_whole * 10 ** (step_power - power)
    steps = (2 * value_units + step_units) // (2 * step_units)
    return float(f"{steps * step_units}e{power}")


def _separators(number_format: Any) -> tuple[str, str]:
    decimal = number_format.get("decimal") if isinstance(number_format, dict) else None
    thousands = number_format.get("thousands") if isinstance(number_format, dict) else None
    if (
        decimal not in (".", ",")
        or thousands not in ("", ".", ",", " ", "'")
        or decimal == thousands
    ):
        raise NumberFormatError(
            "number.unknown_format",
            "A number format has a decimal mark '.' or ',' and another thousands separator.",
        )
    return (decimal, thousands)


def format_number(
    value: float, n_decimals: int, number_format: NumberFormat, is_grouped: bool = False
) -> str:
    """Return `value` with `n_decimals` places in the establishment's number format.

    Thousands are separated only where `is_grouped` says so: measured amounts never are.
    """
    decimal, thousands = _separators(number_format)
    text = decimal_text(value, n_decimals)
    sign = "-" if text.startswith("-") else ""
    whole, _, fraction = text.removeprefix("-").partition(".")
    if is_grouped and thousands != "":
        groups: list[str] = []
        while len(whole) > 3:
            groups.insert(0, whole[-3:])
            whole = whole[:-3]
        groups.insert(0, whole)
        whole = (_NO_BREAK_SPACE if thousands == " " else thousands).join(groups)
    return sign + whole + (decimal + fraction if fraction else "")


def _shown_decimals(value: float) -> int:
    """Return the places that show four significant digits without trailing zeros."""
    places = significant_decimals(value, 4)
    if places == 0:
        return 0
    text = decimal_text(value, places)
    n_zeros = 0
    while n_zeros < places and text[len(text) - 1 - n_zeros] == "0":
        n_zeros += 1
    return places - n_zeros


def format_context(context: Mapping[str, Any], number_format: NumberFormat) -> dict[str, str]:
    """Return the context of an error or finding as texts that fill a catalogue's message.

    Numbers get four significant digits in the establishment's format; lists are joined by commas;
    None is an empty text.
    """
    return {key: _context_text(value, number_format) for key, value in context.items()}


def _context_text(value: Any, number_format: NumberFormat) -> str:
    if isinstance(value, list):
        return ", ".join(_context_text(item, number_format) for item in value)
    if isinstance(value, (int, float)) and not isinstance(value, bool):
        return format_number(value, _shown_decimals(value), number_format)
    return text_of(value)


def format_quantity(
    value: float,
    unit: str,
    number_format: NumberFormat,
    n_decimals: int | None = None,
    is_grouped: bool = False,
) -> str:
    """Return a value with its unit's symbol, such as '12.5 mL'.

    Without `n_decimals` four significant digits are shown and trailing zeros dropped; for a
    measured amount hand in the decimals of the instrument's resolution, and no grouping.
    """
    symbol = unit_of(unit).symbol
    places = _shown_decimals(value) if n_decimals is None else n_decimals
    text = format_number(value, places, number_format, is_grouped)
    return text if symbol == "" else text + _NO_BREAK_SPACE + symbol


def _unreadable(code: str, text: Any, message: str, **context: Any) -> NumberFormatError:
    return NumberFormatError(code, message, text=text_of(text), **context)


def parse_decimal(text: Any, number_format: NumberFormat) -> str:
    """Return what a person typed as stored decimal text: '.' mark, no separators, no exponent.

    Raises
    ------
    NumberFormatError
        `number.ambiguous`           '1,200' and '1.200' can be 1200 or 1.2; both are given.
        `number.other_decimal_mark`  '0,5' where the establishment writes '0.5', or the reverse.
        `number.not_a_number`        Anything else that is not digits with these separators.
    """
    decimal, thousands = _separators(number_format)
    if not isinstance(text, str):
        raise _unreadable("number.not_a_number", text, "A number is typed as text.")
    typed = _SPACES.sub(" ", text).strip(" ")
    match = re.fullmatch(r"([+-]?)([0-9][0-9., ']{0,40}|[.,][0-9]{1,20})", typed, re.ASCII)
    if match is None:
        raise _unreadable(
            "number.not_a_number", text, f"{text!r} is not a number; type digits only."
        )
    sign = "-" if match[1] == "-" else ""
    body = match[2]
    if re.fullmatch(r"[0-9]{1,20}", body):
        return sign + body
    # One mark before exactly three digits: thousands to one reader, a decimal mark to the other.
    if re.fullmatch(r"[1-9][0-9]{0,2}[.,][0-9]{3}", body):
        whole, part = re.split(r"[.,]", body)
        readings = [sign + whole + part, sign + whole + "." + part]
        raise _unreadable(
            "number.ambiguous",
            text,
            f"{text!r} can be {readings[0]} or {readings[1]}; say which.",
            readings=readings,
        )
    grouped = rf"[1-9][0-9]{{0,2}}(?:{re.escape(thousands)}[0-9]{{3}})+|" if thousands else ""
    match = re.fullmatch(rf"({grouped}[0-9]{{1,20}})(?:\{decimal}([0-9]{{1,20}}))?", body)
    if match is not None:
        whole = re.sub(r"[^0-9]", "", match[1])
        return sign + whole + ("." + match[2] if match[2] else "")
    if re.fullmatch(r"[.,][0-9]{1,20}", body) and body[0] == decimal:
        return sign + "0." + body[1:]
    other = "," if decimal == "." else "."
    plain = re.fullmatch(rf"([0-9]{{0,20}})\{other}[0-9]{{1,20}}", body)
    mirrored = re.fullmatch(rf"[1-9][0-9]{{0,2}}(\{decimal}[0-9]{{3}})+\{other}[0-9]{{1,20}}", body)
    if plain or mirrored:
        raise _unreadable(
            "number.other_decimal_mark",
            text,
            f"{text!r}: the decimal mark here is {decimal!r}.",
            decimal=decimal,
        )
    raise _unreadable("number.not_a_number", text, f"{text!r} is not a number in this format.")


def parse_number(text: Any, number_format: NumberFormat) -> float:
    """Return the number a person typed; errors as in `parse_decimal`."""
    return float(parse_decimal(text, number_format))
