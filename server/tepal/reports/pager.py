"""Lays flowables out on pages first and draws them afterwards, so that "page 2 of 9" is known.

ReportLab's own document template draws while it flows and cannot name the page count without a
second build; here the layout is a value.
"""

from __future__ import annotations

import io
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from reportlab.pdfgen.canvas import Canvas

from tepal.domain.errors import TepalError
from tepal.reports.flowables import drawn_at, height_of

if TYPE_CHECKING:
    from reportlab.platypus import Flowable

    from tepal.reports.theme import Geometry

Furniture = Callable[[Any, int, int], None]


class LayoutError(TepalError):
    """A piece of a paper fits on no page and cannot be split: a bug in its renderer."""


@dataclass(frozen=True, slots=True)
class Section:
    """Flowables with a head that is repeated at the top of each page they reach.

    Attributes
    ----------
    body : sequence of Flowable
    head : Flowable or None
    keep : int     So many first pieces of the body are kept together where a page can hold them.
    lead : Flowable or None   Stands once above the first head and stays with it: a heading.
    """

    body: Sequence[Flowable]
    head: Flowable | None = None
    keep: int = 1
    lead: Flowable | None = None


@dataclass(frozen=True, slots=True)
class Placed:
    """A flowable and the lower left corner where it is drawn, pt."""

    flowable: Flowable
    x: float
    y: float
    width: float


@dataclass(slots=True)
class _Sheets:
    geometry: Geometry
    pages: list[list[Placed]] = field(default_factory=lambda: [[]])
    room: float = 0.0

    def __post_init__(self) -> None:
        self.room = self.geometry.body_height

    def new_page(self) -> None:
        self.pages.append([])
        self.room = self.geometry.body_height

    def put(self, flowable: Flowable) -> None:
        width = self.geometry.body_width
        height = height_of(flowable, width)
        self.room -= height
        place = Placed(flowable, self.geometry.left, self.geometry.bottom + self.room, width)
        self.pages[-1].append(place)


def lay_out(sections: Sequence[Section], geometry: Geometry) -> list[list[Placed]]:
    """Return the pages of a paper.

    Raises
    ------
    LayoutError   A piece neither fits on an empty page nor splits (`reports.does_not_fit`).
    """
    sheets = _Sheets(geometry)
    for section in sections:
        _flow(section, sheets)
    return sheets.pages


def _flow(section: Section, sheets: _Sheets) -> None:
    width = sheets.geometry.body_width
    queue = list(reversed(section.body))
    together = sum(height_of(f, width) for f in section.body[: section.keep])
    head = 0.0 if section.head is None else height_of(section.head, width)
    lead = 0.0 if section.lead is None else height_of(section.lead, width)
    needed = lead + head + together
    if sheets.pages[-1] and sheets.room < needed <= sheets.geometry.body_height:
        sheets.new_page()
    if section.lead is not None:
        sheets.put(section.lead)
    headed = section.head is None
    while queue:
        piece = queue.pop()
        due = 0.0 if headed else head
        if height_of(piece, width) + due <= sheets.room + 1e-6:
            parts = [piece]
        else:
            parts = piece.split(width, sheets.room - due) if sheets.room > due else []
            if len(parts) < 2:
                if not sheets.pages[-1]:
                    raise LayoutError(
                        "reports.does_not_fit",
                        f"A {type(piece).__name__} is taller than a page and does not split.",
                    )
                sheets.new_page()
                headed = section.head is None
                queue.append(piece)
                continue
        if not headed and section.head is not None:
            sheets.put(section.head)
            headed = True
        sheets.put(parts[0])
        if len(parts) > 1:
            queue.extend(reversed(parts[1:]))
            sheets.new_page()
            headed = section.head is None


def draw_pdf(
    pages: Sequence[Sequence[Placed]],
    geometry: Geometry,
    furniture: Furniture,
    *,
    title: str,
    author: str,
    subject: str,
    language: str,
) -> bytes:
    """Draw laid-out pages; `furniture(canvas, page, pages)` draws what stands in the margins.

    The same pages give the same bytes: ReportLab's `invariant` fixes dates and ids.
    """
    file = io.BytesIO()
    canvas = Canvas(
        file,
        pagesize=(geometry.width, geometry.height),
        invariant=1,
        pageCompression=1,
        lang=language,
        initialFontName="TepalText",
    )
    canvas.setTitle(title)
    canvas.setAuthor(author)
    canvas.setSubject(subject)
    canvas.setCreator("Tepal")
    for number, page in enumerate(pages, start=1):
        furniture(canvas, number, len(pages))
        for placed in page:
            placed.flowable.wrap(placed.width, 1e6)
            drawn_at(placed.flowable, canvas, placed.x, placed.y)
        canvas.showPage()
    canvas.save()
    return file.getvalue()
