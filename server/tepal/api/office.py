"""Online views for the office: applications, history, phones, papers."""

from __future__ import annotations

from typing import Any

from flask import Response
from flask_smorest import Blueprint
from marshmallow import Schema, fields, validate

from tepal.api.guard import UUID_SHAPE, chance, config, proof
from tepal.domain.errors import NotFoundError
from tepal.services import exchange as exchange_service
from tepal.services import office as service
from tepal.services import papers
from tepal.store.database import read_session, write_session

blueprint = Blueprint("office", __name__, url_prefix="/api/v1", description="Online views")

_MONTH = validate.Regexp(r"^\d{4}-\d{2}$")


class MonthQuery(Schema):
    """Which month, by the local date of the start."""

    month = fields.String(required=True, validate=_MONTH)


class PaperQuery(MonthQuery):
    """Which month, in which language."""

    language = fields.String(load_default="en", validate=validate.OneOf(("en", "es")))


@blueprint.get("/applications")
@blueprint.arguments(MonthQuery, location="query")
@blueprint.response(200, description="Applications of a month")
def applications(query: dict[str, str]) -> dict[str, Any]:
    """Return the applications of a month, and the months that have any."""
    who = proof()
    with read_session() as db:
        found = service.applications_of_month(db, who.establishment, query["month"])
        amended = service.amended_among(db, who.establishment, [record.id for record in found])
        return {
            "month": query["month"],
            "months": service.months_with_applications(db, who.establishment),
            "applications": [
                {**exchange_service.wire_record(record), "amended": record.id in amended}
                for record in found
            ],
        }


@blueprint.get("/records/<kind>/<record_id>/history")
@blueprint.response(200, description="Every entry about a record")
def history(kind: str, record_id: str) -> dict[str, Any]:
    """Return a record as it stands and every entry about it, oldest first."""
    who = proof()
    if UUID_SHAPE.fullmatch(record_id) is None:
        raise NotFoundError("office.no_such_record", "no entry speaks of this record")
    with read_session() as db:
        found = service.history(db, who.establishment, kind, record_id)
        record = found["record"]
        return {
            "record": None if record is None else exchange_service.wire_record(record),
            "former": found["former"],
            "entries": found["entries"],
        }


@blueprint.get("/phones")
@blueprint.response(200, description="Devices and what they last said")
def phones() -> dict[str, Any]:
    """Return the devices with when they were last heard."""
    who = proof()
    with read_session() as db:
        return {"phones": service.phones(db, who.establishment)}


@blueprint.get("/reports/month")
@blueprint.arguments(PaperQuery, location="query")
@blueprint.response(200, description="The month as PDF", content_type="application/pdf")
def month_report(query: dict[str, str]) -> Response:
    """Print the applications of a month. Each print is kept and numbered."""
    who = proof(person=True)
    with write_session() as db:
        pdf = papers.print_month(
            db, who.establishment, query["month"], query["language"],
            locale=config().web_root / "locale", member=who.member or "", chance=chance(),
        )  # fmt: skip
    response = Response(pdf, mimetype="application/pdf")
    name = f"applications-{query['month']}.pdf"
    response.headers["Content-Disposition"] = f'inline; filename="{name}"'
    return response
