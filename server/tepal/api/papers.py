"""Papers as PDF, and the applications of a period as data.

Each print is kept and numbered. The month and the mixing sheet are in office.py.
"""

from __future__ import annotations

from typing import Any

from flask import Response, jsonify
from flask_smorest import Blueprint
from marshmallow import Schema, fields, validate

from tepal.api.guard import UUID_TEXT, chance, permitted, permitted_word
from tepal.api.replies import print_reply
from tepal.services import papers
from tepal.services.access import AccessError
from tepal.services.period_export import period_csv, period_document, period_schema
from tepal.store.database import read_session

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


@blueprint.get("/application")
@blueprint.arguments(OfApplication, location="query")
@blueprint.response(200, description="The sheet as PDF", content_type="application/pdf")
def application_sheet(query: dict[str, Any]) -> Response:
    """Print one application with its photos and every entry about it."""
    asked, only_own = query["application"], _only_own()
    return print_reply(
        query["language"], "application", lambda to: papers.print_application(to, asked, only_own)
    )


class OfRestriction(Spoken):
    """Which restriction."""

    restriction = fields.String(required=True, validate=UUID_TEXT)


class DoorQuery(OfRestriction):
    """Which restriction, and whether the sign is one sheet or tiles of the standard size."""

    form = fields.String(load_default="sheet", validate=validate.OneOf(("sheet", "tiled")))


class OfLot(Spoken):
    """Which lot."""

    lot = fields.String(required=True, validate=UUID_TEXT)


class OfDay(Spoken):
    """Which day."""

    day = fields.Date(required=True)


@blueprint.get("/door-notice")
@blueprint.arguments(DoorQuery, location="query")
@blueprint.response(200, description="The sign as PDF", content_type="application/pdf")
def door_notice(query: dict[str, Any]) -> Response:
    """Print the sign for the doors of a restricted area."""
    asked, form = query["restriction"], query["form"]
    return print_reply(
        query["language"], "door-notice", lambda to: papers.print_door_notice(to, asked, form)
    )


@blueprint.get("/entry-log")
@blueprint.arguments(OfRestriction, location="query")
@blueprint.response(200, description="The log as PDF", content_type="application/pdf")
def entry_log(query: dict[str, Any]) -> Response:
    """Print the log of oral notices and early entries of a restriction."""
    asked = query["restriction"]
    return print_reply(query["language"], "entry-log", lambda to: papers.print_entry_log(to, asked))


@blueprint.get("/lot-history")
@blueprint.arguments(OfLot, location="query")
@blueprint.response(200, description="The history as PDF", content_type="application/pdf")
def lot_history(query: dict[str, Any]) -> Response:
    """Print what was applied to a lot."""
    asked = query["lot"]
    return print_reply(
        query["language"], "lot-history", lambda to: papers.print_lot_history(to, asked)
    )


@blueprint.get("/central-display")
@blueprint.arguments(Spoken, location="query")
@blueprint.response(200, description="The display as PDF", content_type="application/pdf")
def central_display(query: dict[str, Any]) -> Response:
    """Print the central display as it has to hang now."""
    return print_reply(query["language"], "central-display", papers.print_central_display)


@blueprint.get("/day-plan")
@blueprint.arguments(OfDay, location="query")
@blueprint.response(200, description="The plan as PDF", content_type="application/pdf")
def day_plan(query: dict[str, Any]) -> Response:
    """Print the houses through a day."""
    asked = query["day"].isoformat()
    return print_reply(query["language"], "day-plan", lambda to: papers.print_day_plan(to, asked))


class PeriodQuery(Schema):
    """Which days, by the local date of the start, and in which form."""

    first = fields.Date(required=True)
    last = fields.Date(required=True)
    house = fields.String(load_default=None, validate=UUID_TEXT)
    form = fields.String(load_default="json", validate=validate.OneOf(("json", "csv")))


@blueprint.get("/period")
@blueprint.arguments(PeriodQuery, location="query")
@blueprint.response(200, description="The applications, see /api/v1/schemas/applications.json")
def period(query: dict[str, Any]) -> Response:
    """Return the applications of a period as JSON, or as CSV with a row for each product."""
    only_own = _only_own()
    who = permitted("papers", person=True)
    first, last = query["first"].isoformat(), query["last"].isoformat()
    with read_session() as db:
        document = period_document(
            db, who.establishment, first, last, now=chance().instant(), house=query["house"],
            only_of=who.member if only_own else None,
        )  # fmt: skip
    if query["form"] == "csv":
        response = Response(period_csv(document), mimetype="text/csv")
    else:
        response = jsonify(document)
    name = f"applications-{first}-{last}.{query['form']}"
    response.headers["Content-Disposition"] = f'attachment; filename="{name}"'
    return response


schemas = Blueprint("schemas", __name__, url_prefix="/api/v1/schemas", description="JSON Schemas")


@schemas.get("/applications.json")
@schemas.response(200, description="JSON Schema of the applications of a period")
def applications_schema() -> dict[str, Any]:
    """Return the JSON Schema that every exported period follows. Open to everybody."""
    return period_schema()
