"""Analysis of trials online: the matrix of cells, one cell, its charts, the report, exports.

Computed in the server's worker process on demand; the last result of a cell is kept.
"""

from __future__ import annotations

from typing import Any

from flask import Response
from flask_smorest import Blueprint
from marshmallow import Schema, fields, validate

from tepal.api.guard import chance, config, known_trial, permitted, permitted_word, proof
from tepal.api.replies import XLSX, pdf_reply
from tepal.api.state import photo_storage, worker
from tepal.services import trial_results as service
from tepal.services.access import AccessError

blueprint = Blueprint(
    "analysis", __name__, url_prefix="/api/v1/trials", description="Analysis of trials"
)

_CODE = validate.Regexp(r"\A[A-Za-z0-9_.\-]{0,24}\Z")
_MEDIA = {
    "csv": "text/csv; charset=utf-8",
    "json": "application/json",
    "R": "text/plain; charset=utf-8",
    "xlsx": XLSX,
}


@blueprint.before_request
def _known_device() -> None:
    """Ask who is there before the query is read: a stranger learns nothing of its shape."""
    permitted("read")


class LanguageQuery(Schema):
    """In which language."""

    language = fields.String(load_default="en", validate=validate.OneOf(("en", "es")))


class CellQuery(LanguageQuery):
    """Which measurement at which assessment; without one, its course over all assessments."""

    measurement = fields.String(required=True, validate=_CODE)
    assessment = fields.String(load_default="", validate=_CODE)


class ChartQuery(CellQuery):
    """Which chart of the cell, for a light or a dark ground."""

    name = fields.String(required=True, validate=_CODE)
    theme = fields.String(load_default="light", validate=validate.OneOf(("light", "dark")))


class ReportQuery(LanguageQuery):
    """In which language and style."""

    style = fields.String(load_default="grower", validate=validate.OneOf(("grower", "journal")))


class ExportQuery(Schema):
    """Which file."""

    name = fields.String(required=True, validate=validate.OneOf(service.EXPORTS))


def desk_of(language: str, *, person: bool = False) -> service.Desk:
    """Return who asks and with what; papers and files need a person."""
    who = permitted("papers" if person else "read", person=person)
    if person and permitted_word() == "own":
        raise AccessError("access.not_permitted", "an operator prints the own applications")
    return service.Desk(
        who.establishment, language, config().web_root / "locale", chance(),
        worker(),
    )  # fmt: skip


@blueprint.get("/<trial_id>/analysis")
@blueprint.arguments(LanguageQuery, location="query")
@blueprint.response(200, description="The cells of a trial and what is known of each")
def matrix(query: dict[str, str], trial_id: str) -> dict[str, Any]:
    """Return measurements, assessments and the state of every cell."""
    return service.matrix(desk_of(query["language"]), known_trial(trial_id))


@blueprint.get("/<trial_id>/analysis/cell")
@blueprint.arguments(CellQuery, location="query")
@blueprint.response(200, description="One cell: sentences, tables, charts, trust")
def cell(query: dict[str, str], trial_id: str) -> dict[str, Any]:
    """Return one cell, computed where its input has changed; a course holds two views."""
    desk = desk_of(query["language"])
    return service.cell(desk, known_trial(trial_id), query["measurement"], query["assessment"])


@blueprint.get("/<trial_id>/analysis/chart")
@blueprint.arguments(ChartQuery, location="query")
@blueprint.response(200, description="One chart", content_type="image/svg+xml")
def chart(query: dict[str, str], trial_id: str) -> Response:
    """Return one chart as an SVG document."""
    desk = desk_of(query["language"])
    svg = service.chart_svg(
        desk, known_trial(trial_id), query["measurement"], query["assessment"], query["name"],
        is_dark=query["theme"] == "dark",
    )  # fmt: skip
    return Response(svg, mimetype="image/svg+xml")


@blueprint.get("/<trial_id>/report")
@blueprint.arguments(ReportQuery, location="query")
@blueprint.response(200, description="The trial report as PDF", content_type="application/pdf")
def report(query: dict[str, Any], trial_id: str) -> Response:
    """Print the report of a trial. Each print is kept and numbered."""
    desk = desk_of(query["language"], person=True)
    name, pdf = service.report_pdf(
        desk, known_trial(trial_id), query["style"], member=proof(person=True).member or "",
        storage=photo_storage(),
    )  # fmt: skip
    return pdf_reply(pdf, f"trial-{name}")


@blueprint.get("/<trial_id>/export")
@blueprint.arguments(ExportQuery, location="query")
@blueprint.response(200, description="Values, plot values, results, workbook or R script")
def export(query: dict[str, str], trial_id: str) -> Response:
    """Return the trial in an open format."""
    desk = desk_of("en", person=True)
    name, content = service.export(desk, known_trial(trial_id), query["name"])
    response = Response(content, content_type=_MEDIA[name.rpartition(".")[2]])
    response.headers["Content-Disposition"] = f'attachment; filename="{name}"'
    return response
