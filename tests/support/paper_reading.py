"""Reads a PDF back: text, page count, where letters stand, which lines are drawn."""

from __future__ import annotations

from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

import pypdfium2
import pypdfium2.raw as pdfium

from tepal.reports import theme

if TYPE_CHECKING:
    from collections.abc import Iterator

Box = tuple[float, float, float, float]  # left, bottom, right, top in pt


@contextmanager
def opened(pdf: bytes) -> Iterator[Any]:
    """Open a document and close it with its pages."""
    document = pypdfium2.PdfDocument(pdf)
    try:
        yield document
    finally:
        document.close()


def page_texts(pdf: bytes) -> list[str]:
    """Return the text of each page, all white space made single spaces."""
    with opened(pdf) as document:
        texts = [page.get_textpage().get_text_range() for page in document]
    return [" ".join(text.replace("\u00a0", " ").split()) for text in texts]


def whole_text(pdf: bytes) -> str:
    """Return the text of all pages."""
    return " ".join(page_texts(pdf))


def letter_boxes(pdf: bytes) -> list[list[tuple[str, Box]]]:
    """Return, per page, every printed letter with its box."""
    found = []
    with opened(pdf) as document:
        for page in document:
            text = page.get_textpage()
            letters = text.get_text_range()
            n = text.count_chars()
            boxes = [text.get_charbox(i) for i in range(n)]
            found.append(
                [
                    (letter, box)
                    for letter, box in zip(letters, boxes, strict=False)
                    if not letter.isspace()
                ]
            )
    return found


def page_sizes(pdf: bytes) -> list[tuple[float, float]]:
    """Return width and height of each page, pt."""
    with opened(pdf) as document:
        return [page.get_size() for page in document]


def text_boxes(pdf: bytes, wanted: str, page: int = 0) -> list[Box]:
    """Return the box around each occurrence of a text on a page."""
    with opened(pdf) as document:
        text = document[page].get_textpage()
        search = text.search(wanted, match_case=True)
        boxes = []
        while (hit := search.get_next()) is not None:
            start, count = hit
            parts = [text.get_charbox(i) for i in range(start, start + count)]
            lefts, bottoms, rights, tops = zip(*parts, strict=True)
            boxes.append((min(lefts), min(bottoms), max(rights), max(tops)))
        return boxes


def drawn_boxes(pdf: bytes, page: int = 0) -> list[Box]:
    """Return the bounds of every drawn path on a page."""
    with opened(pdf) as document:
        objects = document[page].get_objects(filter=[pdfium.FPDF_PAGEOBJ_PATH])
        return [drawn.get_bounds() for drawn in objects]


def is_struck(pdf: bytes, wanted: str, page: int = 0) -> list[bool]:
    """Tell for each occurrence of a text whether a level line runs through its whole length."""
    lines = [box for box in drawn_boxes(pdf, page) if box[3] - box[1] < 2]
    return [
        any(
            line[0] <= left + 1 and line[2] >= right - 1 and bottom < line[1] and line[3] < top
            for line in lines
        )
        for left, bottom, right, top in text_boxes(pdf, wanted, page)
    ]


def assert_inside_the_margins(pdf: bytes) -> None:
    """Fail if a letter stands outside the margins of the theme or within 5 mm of an edge."""
    sizes = page_sizes(pdf)
    for (width, height), letters in zip(sizes, letter_boxes(pdf), strict=True):
        for letter, (left, bottom, right, top) in letters:
            assert left >= theme.MARGIN_BINDING_MM * 72 / 25.4 - 2, letter
            assert right <= width - theme.MARGIN_OUTER_MM * 72 / 25.4 + 2, letter
            assert bottom >= 5 * 72 / 25.4, letter  # printers keep about 5 mm free
            assert top <= height - 5 * 72 / 25.4, letter
