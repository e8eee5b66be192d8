"""The number formats an establishment may choose, and what each means.

Twin: web/app/core/number_format.js. Numbers follow the establishment's format, never the language.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from tepal.domain.rounding import NumberFormat

#: What `establishment.number_format` stands for; written as the number 1234.5 is written in it.
NUMBER_FORMATS: Final[dict[str, NumberFormat]] = {
    "1234.5": {"decimal": ".", "thousands": ""},
    "1234,5": {"decimal": ",", "thousands": ""},
}


def number_format_of(code: str | None) -> NumberFormat:
    """Return the format of a code; an establishment that has not chosen writes 1234.5."""
    return NUMBER_FORMATS.get(code or "", NUMBER_FORMATS["1234.5"])


def local_decimal(decimal: str, number_format: NumberFormat) -> str:
    """Return a stored decimal ("1.05") as people there read it ("1,05"); no digit changes."""
    return decimal.replace(".", number_format["decimal"])
