"""Numbers as sentences, tables and charts of results write them, in the establishment's format."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tepal.domain.rounding import format_number, significant_decimals

if TYPE_CHECKING:
    from tepal.domain.rounding import NumberFormat
    from tepal.domain.words import Words


class NumberWords:
    """Writes numbers; `level` is the per cent of an interval at `alpha`."""

    def __init__(self, words: Words, number_format: NumberFormat, alpha: float) -> None:
        self.words, self.number_format, self.alpha = words, number_format, alpha
        self.level = self.number(100 * (1 - alpha), 3, trim=True)

    def number(self, value: float, significant: int = 3, *, trim: bool = False) -> str:
        """Return a number with so many significant digits, at least those before the point."""
        places = significant_decimals(value, significant) if value else 0
        text = format_number(value, min(places, 8), self.number_format)
        if trim and places:
            text = text.rstrip("0").rstrip(self.number_format["decimal"])
        return text.replace("-", "\u2212")

    def fixed(self, value: float, n_decimals: int) -> str:
        """Return a number with so many decimals and a true minus sign."""
        return format_number(value, n_decimals, self.number_format).replace("-", "\u2212")

    def pct(self, value: float) -> str:
        """Return a per cent: one decimal below 10, none above."""
        return f"{self.fixed(value, 1 if abs(value) < 9.95 else 0)}\u00a0%"

    def p(self, value: float | None) -> str:
        """Return a p-value to three decimals; "< 0.001" below, more where it meets alpha."""
        if value is None:
            return "–"
        if value < 0.001:
            return f"<\u00a0{self.fixed(0.001, 3)}"
        if value > 0.9995:
            return f">\u00a0{self.fixed(0.999, 3)}"
        shown = 3
        while shown < 6 and round(value, shown) == round(self.alpha, shown) and value != self.alpha:
            shown += 1
        return f"=\u00a0{self.fixed(value, shown)}"
