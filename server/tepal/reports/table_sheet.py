"""Draws papers of plain tables: history of a lot, plan of a day, log of a restriction."""

from __future__ import annotations

from typing import TYPE_CHECKING

from reportlab.lib.units import mm
from reportlab.platypus import Flowable, Spacer

from tepal.reports import theme
from tepal.reports.flowables import Row, Stack, columns
from tepal.reports.pager import Section
from tepal.reports.paper import Paper
from tepal.reports.table_view import TablePart, TableSheetView
from tepal.reports.words import Words

if TYPE_CHECKING:
    from collections.abc import Mapping

__all__ = ["TableSheetView", "render_table_sheet"]

_BLANK_PT = 20.0  # a line that a hand can write on


def render_table_sheet(view: TableSheetView, words: Mapping[str, str]) -> bytes:
    """Return the PDF; the same view and words give the same bytes.

    Raises
    ------
    CatalogueError   `words` lacks a sentence of the paper.
    """
    return _Tables(view, Words(words)).render()


class _Tables(Paper):
    def __init__(self, view: TableSheetView, words: Words) -> None:
        super().__init__(
            view, words, view.title, landscape=view.is_landscape, is_reviewed=False
        )  # fmt: skip
        self.view = view

    def render(self) -> bytes:
        known = (self.words.say("papers.application.known"), self.view.complete_as_of.at)
        pairs = [(pair.caption, pair.text) for pair in self.view.pairs]
        sections = [Section([self.front([*pairs, known]), Spacer(1, 4)])]
        sections += [self._part(part) for part in self.view.parts]
        cautions = self.cautions(self.view.fixed_cautions)
        sections.append(Section([Spacer(1, 6), cautions], keep=2))
        return self.pdf(sections, subject=self.view.title)

    def _part(self, part: TablePart) -> Section:
        c = columns(self.width, part.shares, gutter=2 * mm)
        style = theme.SMALL_STRONG.but(ink=theme.INK)
        heads = Row(
            [(column, self.text(head, style)) for column, head in zip(c, part.heads, strict=True)],
            pad=2.4,
        )
        title = self.text(part.title, theme.HEADING)
        head = Stack([Spacer(1, 6), title, heads])
        faces = [theme.STRONG, *[theme.BODY] * (len(c) - 1)]
        rows: list[Flowable] = [
            Row(
                [
                    (column, self.text(cell, face))
                    for column, cell, face in zip(c, row, faces, strict=True)
                ],
                rule=theme.RULE,
                pad=2.6,
            )
            for row in part.rows
        ]  # fmt: skip
        if not rows and part.empty:
            rows += [Spacer(1, 2), self.text(part.empty, theme.STRONG), Spacer(1, 5)]
        for _ in range(part.n_blank):
            rows += [Row([], rule=theme.RULE_STRONG, pad=1), Spacer(1, _BLANK_PT)]
        rows += [self.text(note, theme.SMALL) for note in part.notes]
        return Section(rows, head=head, keep=min(2, len(rows)))
