"""Tables and saved files in, the whole book out: what the office brings in and takes away."""

from __future__ import annotations

import tempfile
import zipfile
from typing import TYPE_CHECKING, Any

from flask import Response
from flask_smorest import Blueprint
from marshmallow import Schema, fields, validate

from tepal.api.guard import base64_bytes, chance, json_body, manager_proof, permitted, raw_body
from tepal.api.replies import XLSX
from tepal.api.state import photo_storage
from tepal.services import imports, unsent
from tepal.services.export_book import export_files, write_export
from tepal.services.import_sample import sample_table
from tepal.services.import_values import Ways
from tepal.store.database import read_session, write_session

if TYPE_CHECKING:
    from collections.abc import Iterator

blueprint = Blueprint("book_files", __name__, url_prefix="/api/v1", description="Files in and out")


class UsesBody(Schema):
    """The sheet of label uses beside the products; no sheet: none is read."""

    sheet = fields.String(load_default=None, allow_none=True, validate=validate.Length(max=80))
    mapping = fields.Dict(
        keys=fields.String(), values=fields.String(allow_none=True), load_default=dict
    )
    units = fields.Dict(keys=fields.String(), values=fields.String(), load_default=dict)


class ImportBody(Schema):
    """A table file in base64, what it holds, and answers to what it leaves open."""

    name = fields.String(required=True, validate=validate.Length(1, 200))
    content = fields.String(required=True)
    kind = fields.String(required=True, validate=validate.Length(1, 40))
    sheet = fields.String(load_default=None, allow_none=True, validate=validate.Length(max=80))
    mapping = fields.Dict(
        keys=fields.String(), values=fields.String(allow_none=True), load_default=dict
    )
    units = fields.Dict(keys=fields.String(), values=fields.String(), load_default=dict)
    decimal = fields.String(load_default=None, allow_none=True, validate=validate.OneOf((".", ",")))
    dates = fields.String(
        load_default=None, allow_none=True, validate=validate.OneOf(("dmy", "mdy"))
    )
    uses = fields.Nested(UsesBody, load_default=None, allow_none=True)


_DOC = {"content": {"application/json": {"schema": ImportBody}}, "required": True}


def _asked() -> imports.AskedImport:
    body = ImportBody().load(json_body())
    return imports.AskedImport(
        body["name"], base64_bytes(body["content"]), body["kind"], body["sheet"], body["mapping"],
        body["units"], Ways(body["decimal"], body["dates"]),
        None if body["uses"] is None else imports.AskedUses(**body["uses"]),
    )  # fmt: skip


@blueprint.post("/imports/dry-run")
@blueprint.doc(requestBody=_DOC)
@blueprint.response(200, description="What the import would do, and what stands against it")
def dry_run() -> dict[str, Any]:
    """Read a table and say what importing it would do. Nothing is written."""
    who = permitted("registers", person=True)
    asked = _asked()
    with read_session() as db:
        return imports.plan_view(asked, imports.dry_run(db, who.establishment, asked))


@blueprint.post("/imports")
@blueprint.doc(requestBody=_DOC)
@blueprint.response(200, description="What was written")
def carry_out() -> dict[str, Any]:
    """Import a table: every row, or nothing at all."""
    who = permitted("registers", person=True)
    asked = _asked()
    with write_session() as db:
        found = imports.carry_out(db, who.establishment, asked, who.member or "", chance())
    return {
        "n_created": found.n_created, "n_known": found.n_known, "n_uses": found.n_uses,
        "group": found.group,
    }  # fmt: skip


class SampleQuery(Schema):
    """In which language the headings are."""

    language = fields.String(load_default="en", validate=validate.OneOf(("en", "es")))


@blueprint.get("/imports/sample/<kind>")
@blueprint.arguments(SampleQuery, location="query")
@blueprint.response(200, description="The sample as XLSX", content_type=XLSX)
def import_sample(query: dict[str, Any], kind: str) -> Response:
    """Return a table with the headings that are understood and one invented row."""
    permitted("registers", person=True)
    response = Response(sample_table(kind, query["language"]), content_type=XLSX)
    name = f"tepal-sample-{kind.replace('_', '-')}.xlsx"  # a kind that is known: nothing typed
    response.headers["Content-Disposition"] = f'attachment; filename="{name}"'
    return response


@blueprint.post("/export")
@blueprint.response(200, description="The whole book as a ZIP", content_type="application/zip")
def export() -> Response:
    """Write everything in open formats. A POST: a link elsewhere must not start it."""
    who = manager_proof()
    file = tempfile.TemporaryFile()  # noqa: SIM115 -- the reply closes it when it is sent
    with read_session() as db, zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as packed:
        files = export_files(db, who.establishment, photo_storage(), chance().instant())
        write_export(files, packed.writestr)
    file.seek(0)

    def pieces() -> Iterator[bytes]:
        with file:
            yield from iter(lambda: file.read(1 << 20), b"")

    response = Response(pieces(), mimetype="application/zip")
    name = f"tepal-export-{chance().instant()[:10]}.zip"
    response.headers["Content-Disposition"] = f'attachment; filename="{name}"'
    return response


@blueprint.post("/unsent-files")
@blueprint.doc(
    requestBody={"content": {"application/json": {"schema": {"type": "object"}}}, "required": True}
)
@blueprint.response(200, description="How many entries wait now")
def take_unsent() -> dict[str, Any]:
    """Take back a file that a phone's sync page saved; its entries wait until accepted."""
    who = permitted("decide", person=True)
    content = raw_body()
    with write_session() as db:
        found = unsent.take_unsent(
            db, photo_storage(), who.establishment, content, chance().instant()
        )
    return {
        "n_entries": found.n_entries, "n_quarantined": found.n_quarantined,
        "n_known": found.n_known, "device_label": found.device_label, "saved_at": found.saved_at,
        "n_photos": found.n_photos, "n_photos_known": found.n_photos_known,
        "n_photos_refused": found.n_photos_refused,
    }  # fmt: skip
