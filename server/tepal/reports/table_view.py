"""What a paper of plain tables prints: final text in titled tables, with room to write by hand."""

from __future__ import annotations

from dataclasses import dataclass

from tepal.reports.print_facts import PrintFacts, contradiction


@dataclass(frozen=True, slots=True)
class Pair:
    """A caption and its text on the front."""

    caption: str
    text: str


@dataclass(frozen=True, slots=True)
class TablePart:
    """One table: heads, shares of the width, rows of final text, and empty rows to write in.

    `empty` is said in place of rows where there is none.
    """

    title: str
    heads: tuple[str, ...]
    shares: tuple[int, ...]
    rows: tuple[tuple[str, ...], ...]
    empty: str = ""
    n_blank: int = 0
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class TableSheetView(PrintFacts):
    """Everything on such a paper, final. `fixed_cautions` are names of the catalogue's."""

    title: str
    pairs: tuple[Pair, ...]
    parts: tuple[TablePart, ...]
    fixed_cautions: tuple[str, ...] = ("label", "local")
    is_landscape: bool = False

    def __post_init__(self) -> None:
        """Refuse rows that do not fit their heads (`reports.contradiction`)."""
        PrintFacts.__post_init__(self)
        for part in self.parts:
            widths = {len(part.heads), len(part.shares), *(len(row) for row in part.rows)}
            if len(widths) != 1:
                raise contradiction(f"the rows of {part.title} do not fit their heads")
