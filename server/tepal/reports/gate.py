"""The one gate that every text passes on its way to paper.

There is no markup behind it: `<` and `&` are characters like any other, because nothing in the
papers parses text. The gate removes what has no shape (control and format characters), picks a
font per run of characters, and puts a visible box where no font can print a character *correctly*.
It remembers what it replaced, so that the paper can say so.
"""

from __future__ import annotations

import unicodedata
from dataclasses import dataclass
from typing import TYPE_CHECKING

from tepal.reports.typeface import FALLBACK, FONT_OF_FACE, glyphs

if TYPE_CHECKING:
    from tepal.reports.theme import Face

REPLACEMENT = "\u25af"  # white vertical rectangle, in DejaVu Sans

# DejaVu Sans has letters of scripts that need joining, reordering or a right-to-left line, which
# this renderer does not do. Printed letter by letter they would say something else: replace them.
_RIGHT_TO_LEFT = frozenset({"R", "AL", "AN"})
_LAO = range(0x0E80, 0x0F00)


@dataclass(frozen=True, slots=True)
class Run:
    """Characters that one font prints."""

    text: str
    font: str


def clean(text: str) -> str:
    """Return the text without shapeless characters: composed (NFC), newlines kept, tabs spaced.

    Removed: control characters other than newline, format characters (zero-width joiners, bidi
    controls, soft hyphens) and variation selectors. Lone surrogates stay: `Gate` replaces them.
    """
    text = unicodedata.normalize("NFC", text.replace("\r\n", "\n").replace("\r", "\n"))
    text = text.replace("\t", " ").replace("\u2028", "\n").replace("\u2029", "\n")
    if text.isascii() and text.isprintable():
        return text
    return "".join(c for c in text if c == "\n" or not _is_shapeless(c))


def _is_shapeless(char: str) -> bool:
    return unicodedata.category(char) in {"Cc", "Cf"} or "\ufe00" <= char <= "\ufe0f"


def _is_misread(char: str) -> bool:
    return unicodedata.bidirectional(char) in _RIGHT_TO_LEFT or ord(char) in _LAO


class Gate:
    """Turns text into printable runs for one paper and keeps account of replaced characters."""

    def __init__(self) -> None:
        self._replaced: dict[str, None] = {}

    @property
    def replaced(self) -> tuple[str, ...]:
        """The sequences that were replaced, in order of appearance, as `U+XXXX U+YYYY`."""
        return tuple(self._replaced)

    def runs(self, text: str, face: Face) -> tuple[Run, ...]:
        """Return the cleaned text as runs; characters without a usable glyph become boxes."""
        text = clean(text)
        font = FONT_OF_FACE[face]
        own = glyphs(font)
        if own.issuperset(text.replace("\n", "")):
            return (Run(text, font),) if text else ()
        fonts: list[str] = []
        chars: list[str] = []
        lost: list[str] = []
        for char in text:
            if char == "\n" or char in own:
                fonts.append(font)
            elif char in glyphs(FALLBACK) and not _is_misread(char):
                fonts.append(FALLBACK)
            else:
                fonts.append(FALLBACK)
                chars.append(REPLACEMENT)
                lost.append(char)
                continue
            chars.append(char)
            self._note(lost)
        self._note(lost)
        return _grouped(chars, fonts)

    def printable(self, text: str) -> str:
        """Return the text as one line with boxes where needed, for titles and outlines."""
        return " ".join("".join(run.text for run in self.runs(text, "text")).split())

    def _note(self, lost: list[str]) -> None:
        if lost:
            self._replaced[" ".join(f"U+{ord(char):04X}" for char in lost)] = None
            lost.clear()


def _grouped(chars: list[str], fonts: list[str]) -> tuple[Run, ...]:
    runs: list[Run] = []
    start = 0
    for i in range(1, len(chars) + 1):
        if i == len(chars) or fonts[i] != fonts[start]:
            runs.append(Run("".join(chars[start:i]), fonts[start]))
            start = i
    return tuple(runs)
