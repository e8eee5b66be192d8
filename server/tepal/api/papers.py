"""Papers as PDF: one application, door notice, oral-notice log, day plan, history of a lot.

Each print is kept and numbered. The month and the mixing sheet are in office.py.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from flask import Response
from flask_smorest import Blueprint
from marshmallow import Schema, fields, validate

from tepal.api.guard import UUID_TEXT, chance, config, permitted, permitted_word
from tepal.services import papers
from tepal.services.access import AccessError
from tepal.services.papers import Printing
from tepal.store.database import write_session

if TYPE_CHECKING:
    from collections.abc import Callable

blueprint = Blueprint("papers", __name__, url_prefix="/api/v1/papers", description="Papers")


@blueprint.before_request
def _known_person() -> None:
    """Ask who is there before the query is read: a stranger learns nothing of its shape."""
    permitted("read", person=True)


class Spoken(Schema):
    """The language of the paper."""

    language = fields.String(load_default="en", validate=validate.OneOf(("en", "es")))


class OfApplication(Spoken):
    """Which application."""

    application = fields.String(required=True, validate=UUID_TEXT)


def _only_own() -> bool:
    """Return whether the person prints own applications only.

    Raises
    ------
    AccessError   `access.not_permitted`: the person prints trials only, or nothing.
    """
    permitted("papers", person=True)
    if permitted_word() == "trials":
        raise AccessError("access.not_permitted", "a technician prints trials")
    return permitted_word() == "own"


def answer(query: dict[str, Any], name: str, draw: Callable[[Printing], bytes]) -> Response:
    """Print a paper for the person of the request and answer with it."""
    who = permitted("read", person=True)
    with write_session() as db:
        pdf = draw(
            Printing(
                db, who.establishment, query["language"], config().web_root / "locale",
                who.member or "", chance(),
            )
        )  # fmt: skip
    response = Response(pdf, mimetype="application/pdf")
    response.headers["Content-Disposition"] = f'inline; filename="{name}.pdf"'
    return response


@blueprint.get("/application")
@blueprint.arguments(OfApplication, location="query")
@blueprint.response(200, description="The sheet as PDF", content_type="application/pdf")
def application_sheet(query: dict[str, Any]) -> Response:
    """Print one application with its photos and every entry about it."""
    asked, only_own = query["application"], _only_own()
    return answer(query, "application", lambda to: papers.print_application(to, asked, only_own))
