"""Trials in and out: values from a sheet, the open trial file."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from flask import Response, json
from flask_smorest import Blueprint
from marshmallow import Schema, fields, validate

from tepal.api.guard import base64_bytes, chance, json_body, known_trial, permitted
from tepal.api.replies import XLSX
from tepal.services import trial_file, trial_import
from tepal.services.trial_sample import sample_values
from tepal.services.trials import load_trial
from tepal.store.database import read_session, write_session

if TYPE_CHECKING:
    from tepal.services.access import Proof

blueprint = Blueprint("trial_files", __name__, url_prefix="/api/v1", description="Trials in, out")


class ValuesBody(Schema):
    """A table file in base64, and the assessment where the sheet has no column for it."""

    name = fields.String(required=True, validate=validate.Length(1, 200))
    content = fields.String(required=True)
    assessment = fields.String(load_default=None, allow_none=True, validate=validate.Length(1, 24))
    is_looked_at = fields.Boolean(load_default=False)


class TrialFileBody(Schema):
    """A trial file, as it was written, and whether it is only looked at."""

    file = fields.Dict(required=True)
    dry_run = fields.Boolean(load_default=False)


def _doc(schema: type[Schema]) -> dict[str, Any]:
    return {"content": {"application/json": {"schema": schema}}, "required": True}


def _values() -> tuple[Proof, str, bytes, str | None, bool]:
    who = permitted("registers", person=True)
    body = ValuesBody().load(json_body())
    content = base64_bytes(body["content"])
    return who, body["name"], content, body["assessment"], body["is_looked_at"]


@blueprint.post("/trials/<trial_id>/values/dry-run")
@blueprint.doc(requestBody=_doc(ValuesBody))
@blueprint.response(200, description="What the import would do, and what stands against it")
def values_dry_run(trial_id: str) -> dict[str, Any]:
    """Read a sheet of values and say what importing it would do. Nothing is written."""
    who, name, content, assessment, _ = _values()
    with read_session() as db:
        return trial_import.plan_values(
            db,
            who.establishment,
            known_trial(trial_id),
            name,
            content,
            assessment,
            who.member or "",
        ).view()


@blueprint.post("/trials/<trial_id>/values")
@blueprint.doc(requestBody=_doc(ValuesBody))
@blueprint.response(200, description="What was written")
def values_import(trial_id: str) -> dict[str, Any]:
    """Import a sheet of values: all of them, or, with one problem, nothing."""
    who, name, content, assessment, is_looked_at = _values()
    with write_session() as db:
        return trial_import.import_values(
            db, who.establishment, known_trial(trial_id), name, content, assessment,
            who.member or "", chance(), is_looked_at=is_looked_at,
        ).view()  # fmt: skip


class SampleQuery(Schema):
    """Which sheet to fill in: of one assessment, or of all; in which language its headings are."""

    assessment = fields.String(load_default=None, validate=validate.Length(1, 24))
    language = fields.String(load_default="en", validate=validate.OneOf(("en", "es")))


@blueprint.get("/trials/<trial_id>/values/sample")
@blueprint.arguments(SampleQuery, location="query")
@blueprint.response(200, description="The sheet as XLSX", content_type=XLSX)
def values_sample(query: dict[str, Any], trial_id: str) -> Response:
    """Return a sheet to fill in, with the trial's own plots, plants and measurements."""
    who = permitted("registers", person=True)
    with read_session() as db:
        content = sample_values(
            db, who.establishment, known_trial(trial_id), query["assessment"], query["language"]
        )
        code = str(load_trial(db, who.establishment, trial_id).fields.get("code") or "")
    response = Response(content, content_type=XLSX)
    name = "".join(c for c in code if c.isalnum() and c.isascii()) or "trial"
    response.headers["Content-Disposition"] = f'attachment; filename="{name}-values.xlsx"'
    return response


@blueprint.get("/trials/<trial_id>/file")
@blueprint.response(200, description="The trial file")
def export_file(trial_id: str) -> Response:
    """Write one trial whole, in the open format of `trials/file-schema`."""
    who = permitted("read")
    with read_session() as db:
        document = trial_file.trial_file(
            db, who.establishment, known_trial(trial_id), chance().instant()
        )
    response = Response(json.dumps(document, indent=1), mimetype="application/json")
    name = "".join(c for c in str(document["trial"].get("code", "")) if c.isalnum()) or "trial"
    response.headers["Content-Disposition"] = f'attachment; filename="trial-{name}.json"'
    return response


@blueprint.get("/trials/file-schema")
@blueprint.response(200, description="JSON Schema of the trial file")
def file_schema() -> dict[str, Any]:
    """Return the JSON Schema of the trial file."""
    permitted("read")
    return trial_file.schema()


@blueprint.post("/trials/file")
@blueprint.doc(requestBody=_doc(TrialFileBody))
@blueprint.response(200, description="The new trial, or what stands against the file")
def import_file() -> dict[str, Any]:
    """Take a trial file in as a trial of its own; a dry run only says what stands against it."""
    who = permitted("registers", person=True)
    body = TrialFileBody().load(json_body())
    if body["dry_run"]:
        problems = trial_file.file_problems(body["file"])
        trial = body["file"].get("trial")
        return {
            "problems": problems[:300],
            "n_problems": len(problems),
            "code": trial.get("code") if isinstance(trial, dict) else None,
            "title": trial.get("title") if isinstance(trial, dict) else None,
        }
    with write_session() as db:
        return trial_file.import_trial(
            db, who.establishment, body["file"], who.member or "", chance()
        )
