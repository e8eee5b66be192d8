"""Replies that several routes give alike: a PDF, and a paper that is printed for a person."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from flask import Response

from tepal.api.guard import chance, config, permitted
from tepal.services.papers import Printing
from tepal.store.database import read_session

if TYPE_CHECKING:
    from collections.abc import Callable

XLSX: Final = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


def pdf_reply(content: bytes, name: str) -> Response:
    """Return a PDF that the browser shows; `name` is the file's, without its ending."""
    response = Response(content, mimetype="application/pdf")
    response.headers["Content-Disposition"] = f'inline; filename="{name}.pdf"'
    return response


def print_reply(language: str, name: str, draw: Callable[[Printing], bytes]) -> Response:
    """Print a paper for the person of the request and answer with it. Commits.

    Raises
    ------
    AccessError   `access.no_person` and what `guard.permitted` raises.
    """
    who = permitted("read", person=True)
    with read_session() as db:
        locale = config().web_root / "locale"
        content = draw(
            Printing(db, who.establishment, language, locale, who.member or "", chance())
        )
    return pdf_reply(content, name)
