"""Online views for the office: applications, history, phones, papers."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from flask_smorest import Blueprint
from marshmallow import Schema, fields, validate

from tepal.api.guard import UUID_TEXT, chance, known_id, permitted, permitted_word, proof
from tepal.api.replies import print_reply
from tepal.api.state import prints_now, worker
from tepal.services import later_checks, papers
from tepal.services import office as service
from tepal.services.access import AccessError
from tepal.services.arrivals import arrivals
from tepal.services.mixing_sheet import AskedPlace, AskedSheet
from tepal.services.month_paper import print_month
from tepal.services.wire import wire_record
from tepal.store.database import read_session

if TYPE_CHECKING:
    from flask import Response


blueprint = Blueprint("office", __name__, url_prefix="/api/v1", description="Online views")


@blueprint.before_request
def _known_device() -> None:
    """Ask who is there before the query is read: a stranger learns nothing of its shape."""
    permitted("read")


_MONTH = validate.Regexp(r"\A[0-9]{4}-[0-9]{2}\Z")


class MonthQuery(Schema):
    """Which month, by the local date of the start."""

    month = fields.String(required=True, validate=_MONTH)


class PaperQuery(MonthQuery):
    """Which month, in which language."""

    language = fields.String(load_default="en", validate=validate.OneOf(("en", "es")))
    house = fields.String(load_default=None, validate=UUID_TEXT)


_ID = r"[0-9a-f]{8}(?:-[0-9a-f]{4}){3}-[0-9a-f]{12}"
_NUMBER = r"[0-9]{1,9}(?:\.[0-9]{1,9})?"
_PLACE = rf"\A{_ID}:(?:{_ID})?:(?:{_NUMBER}:(?:m2|\[sft_i\])|:):[0-9]{{0,8}}\Z"


class MixingSheetQuery(Schema):
    """A tank mix, the places it is for, and the tank; amounts are computed from the records."""

    tank_mix = fields.String(required=True, validate=UUID_TEXT)
    place = fields.List(
        fields.String(validate=validate.Regexp(_PLACE)),
        required=True,
        validate=validate.Length(1, 200),
        metadata={
            "description": "bench:lot:area:unit:containers, one for each place; lot, area with its"
            " unit (m2 or [sft_i]) and containers may be empty"
        },
    )
    tank = fields.String(
        required=True,
        validate=validate.Regexp(rf"\A{_NUMBER}:(?:L|mL|\[gal_us\]|\[foz_us\])\Z"),
        metadata={"description": "what the tank holds: value:unit (L, mL, [gal_us], [foz_us])"},
    )
    sprayer = fields.String(validate=UUID_TEXT)
    water_ph = fields.String(validate=validate.Regexp(r"\A[0-9]{1,2}(?:\.[0-9]{1,3})?\Z"))
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
                {**wire_record(record), "amended": record.id in amended} for record in found
            ],
        }


@blueprint.get("/applications/<record_id>/later")
@blueprint.response(200, description="What the checks find with what the office knows")
def known_later(record_id: str) -> dict[str, Any]:
    """Return the stops and cautions that the operator of an application was not told."""
    who = proof()
    with read_session() as db:
        found = later_checks.later_findings(
            db, who.establishment, known_id(record_id, "office.no_such_record")
        )
        return {"findings": found}


@blueprint.get("/records/<kind>/<record_id>/history")
@blueprint.response(200, description="Every entry about a record")
def history(kind: str, record_id: str) -> dict[str, Any]:
    """Return a record as it stands and every entry about it, oldest first."""
    who = proof()
    known_id(record_id, "office.no_such_record")
    with read_session() as db:
        found = service.history(db, who.establishment, kind, record_id)
        record = found["record"]
        return {
            "record": None if record is None else wire_record(record),
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


@blueprint.get("/arrivals")
@blueprint.response(200, description="What came in since midnight, by person and device")
def arrived() -> dict[str, Any]:
    """Return who sent how much today, by the establishment's clock."""
    who = proof()
    with read_session() as db:
        return arrivals(db, who.establishment, chance().now())


@blueprint.get("/reports/month")
@blueprint.arguments(PaperQuery, location="query")
@blueprint.response(200, description="The month as PDF", content_type="application/pdf")
def month_report(query: dict[str, str]) -> Response:
    """Print the applications of a month. Each print is kept and numbered."""
    word = _month_word()
    return print_reply(
        query["language"],
        f"applications-{query['month']}",
        lambda to: print_month(
            to,
            query["month"],
            house=query["house"],
            only_own=word == "own",
            worker=worker(),
            prints=prints_now(),
        ),
    )


@blueprint.get("/reports/month/standing")
@blueprint.response(200, description="How far this person's long months are")
def month_standing() -> dict[str, Any]:
    """Return the long months that the person prints: waiting, drawn so far, ready."""
    _month_word()
    who = proof(person=True)
    return {"prints": prints_now().of(who.establishment, who.member or "")}


def _month_word() -> str:
    """Return the table's word for the person who prints a month."""
    permitted("papers", person=True)
    word = permitted_word()
    if word == "trials":
        raise AccessError("access.not_permitted", "a technician prints trials")
    return word


@blueprint.get("/papers/mixing-sheet")
@blueprint.arguments(MixingSheetQuery, location="query")
@blueprint.response(200, description="The mixing sheet as PDF", content_type="application/pdf")
def mixing_sheet(query: dict[str, Any]) -> Response:
    """Print what to measure for a tank mix over places, load by load. Each print is kept.

    The amounts are computed from the office's records; 422 with the core's code where the mix
    cannot be computed, 404 where the office lacks one of the records.
    """
    permitted("read", person=True)
    asked = AskedSheet(
        tank_mix=query["tank_mix"],
        places=tuple(_asked_place(text) for text in query["place"]),
        tank=_asked_quantity(query["tank"]),
        sprayer=query.get("sprayer"),
        water_ph=query.get("water_ph"),
    )
    return print_reply(
        query["language"],
        f"mixing-sheet-{asked.digest}",
        lambda to: papers.print_mixing_sheet(to, asked),
    )


def _asked_quantity(text: str) -> dict[str, str]:
    value, unit = text.split(":")
    return {"value": value, "unit": unit}


def _asked_place(text: str) -> AskedPlace:
    bench, lot, value, unit, n_containers = text.split(":")
    return AskedPlace(
        bench,
        lot or None,
        {"value": value, "unit": unit} if value else None,
        int(n_containers) if n_containers else None,
    )
