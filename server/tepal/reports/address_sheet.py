"""One page to hang up: the server's address as QR, and how a phone learns to trust it."""

from __future__ import annotations

import io
from dataclasses import dataclass
from typing import TYPE_CHECKING

from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas

from tepal.reports import theme
from tepal.reports.flowables import height_of
from tepal.reports.gate import Gate
from tepal.reports.lines import Span, TextBlock
from tepal.reports.shapes import AnchorCode
from tepal.reports.typeface import text_width
from tepal.reports.words import Words

if TYPE_CHECKING:
    from collections.abc import Mapping

_SIDE_MM = 62.0


@dataclass(frozen=True, slots=True)
class AddressView:
    """The address; where the authority's certificate can be fetched, and its SHA-256 ("" = public).

    `fingerprint` is printed in groups, so that two people can compare it aloud.
    """

    paper: theme.PaperSize
    language: str
    name: str
    address: str
    authority_address: str
    fingerprint: str


def render_address_sheet(view: AddressView, words: Mapping[str, str]) -> bytes:
    """Return the PDF; the same view and words give the same bytes."""
    said, gate = Words(words), Gate()
    page = theme.geometry(view.paper, landscape=False)
    file = io.BytesIO()
    text_width("A", "TepalText", 10)  # registers the faces
    canvas = Canvas(
        file, pagesize=(page.width, page.height), invariant=1, pageCompression=1,
        lang=view.language, initialFontName="TepalText",
    )  # fmt: skip
    title = said.say("papers.address.title", name=view.name)
    canvas.setTitle(gate.printable(title))
    y = page.top

    def put(text: str, style: theme.TextStyle, gap: float = 4.0) -> None:
        nonlocal y
        block = TextBlock(gate, [Span(text, style)])
        y -= height_of(block, page.body_width)
        block.draw_at(canvas, page.left, y)
        y -= gap

    def code(text: str, caption: str, x: float, top: float) -> None:
        AnchorCode(text, _SIDE_MM * mm).drawOn(canvas, x, top - _SIDE_MM * mm)
        block = TextBlock(gate, [Span(caption, theme.STRONG)])
        tall = height_of(block, _SIDE_MM * mm)
        block.draw_at(canvas, x, top - _SIDE_MM * mm - tall - 4)

    put(title, theme.TITLE, 8)
    put(view.address, theme.NAME.but(face="mono"), 10)
    top = y
    second = page.left + page.body_width / 2
    if view.authority_address:
        code(view.authority_address, said.say("papers.address.trust"), page.left, top)
        code(view.address, said.say("papers.address.open"), second, top)
    else:
        code(view.address, said.say("papers.address.only"), page.left, top)
    y = top - _SIDE_MM * mm - 34
    if view.fingerprint:
        put(said.say("papers.address.fingerprint"), theme.STRONG, 2)
        put(view.fingerprint, theme.BODY.but(face="mono"), 10)
        for phone in ("android", "iphone", "computer"):
            put(said.say(f"papers.address.{phone}"), theme.HEADING, 2)
            put(said.say(f"papers.address.{phone}.steps"), theme.BODY.but(size=10, leading=13), 8)
    put(said.say("papers.address.install"), theme.HEADING, 2)
    put(said.say("papers.address.install.steps"), theme.BODY.but(size=10, leading=13), 8)
    canvas.showPage()
    canvas.save()
    return file.getvalue()
