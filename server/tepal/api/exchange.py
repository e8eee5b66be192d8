"""POST /api/v1/exchange, PUT and GET /api/v1/photos, GET /api/v1/forms."""

from __future__ import annotations

import json
from typing import Any

from flask import Response, request
from flask_smorest import Blueprint
from marshmallow import EXCLUDE, Schema, fields, validate

from tepal.api.guard import UUID_TEXT, chance, json_body, permitted, proof, raw_body
from tepal.api.state import photo_storage, spare, wire_texts
from tepal.domain.errors import TepalError
from tepal.services import exchange as service
from tepal.services import permission
from tepal.services import photos as photo_service
from tepal.services.authority import NO, Session
from tepal.store.database import read_session, write_session
from tepal.sync.cursor import read_cursor

blueprint = Blueprint("exchange", __name__, url_prefix="/api/v1", description="Sync")

_SHA = validate.And(validate.Regexp(r"^[0-9a-f]{64}$"), validate.Length(equal=64))


class ExchangeBody(Schema):
    """What a device sends."""

    class Meta:
        """Unknown members come from newer clients and are ignored."""

        unknown = EXCLUDE

    device = fields.String(required=True, validate=UUID_TEXT)
    cursor = fields.String(allow_none=True, load_default=None)
    sent_at = fields.String(load_default="")
    round = fields.String(load_default="", validate=validate.Length(max=36))
    entries = fields.List(
        fields.String(), load_default=list, validate=validate.Length(max=service.MAX_ENTRIES)
    )
    photos = fields.List(
        fields.String(validate=_SHA), load_default=list, validate=validate.Length(max=200)
    )
    status = fields.Dict(keys=fields.String(), load_default=None, allow_none=True)


class WireRecord(Schema):
    """A record as it stands."""

    kind = fields.String()
    id = fields.String()
    revision = fields.Integer()
    state = fields.String()
    form_version = fields.Integer()
    author = fields.String()
    fields_ = fields.Dict(data_key="fields", attribute="fields")


class ExchangeReply(Schema):
    """What the server answers: what it holds of the device's numbers, then the news."""

    ack = fields.Integer()
    seen = fields.Integer()
    missing = fields.List(fields.List(fields.Integer()))
    results = fields.List(fields.Dict())
    records = fields.List(fields.Nested(WireRecord))
    cursor = fields.String()
    upto = fields.Integer()
    more = fields.Boolean()
    reset = fields.Boolean()
    epoch = fields.String()
    now = fields.String()
    head = fields.Dict()
    forms_version = fields.String()
    photos_owed = fields.List(fields.Dict())
    photos_stored = fields.List(fields.String())
    resend = fields.Boolean()
    revoked = fields.Boolean()
    round = fields.String()


_BODY = ExchangeBody()


@blueprint.post("/exchange")
@blueprint.doc(
    requestBody={"content": {"application/json": {"schema": ExchangeBody}}, "required": True}
)
@blueprint.response(200, ExchangeReply)
def exchange() -> Response:
    """Take a device's entries into the journal and return what it has not seen.

    Gzip both ways. Entries are texts; each counts once however often it is sent. An entry is
    acknowledged by `seen` and `missing`, never by the status code alone.
    """
    who = proof(revoked_too=True)
    spare("rounds", who.device, 1, chance().now().timestamp())
    body = _BODY.load(json_body())
    if body["device"] != who.device:
        raise TepalError("access.not_permitted", "the device named is not the one signed in")
    received_at = chance().instant()
    results: list[dict[str, Any]] = []
    if body["entries"]:
        with write_session() as db:
            session = Session(who.device, "display", who.member)
            pushed = service.push(
                db, who.establishment, session, body["entries"], received_at,
                status=body["status"],
            )  # fmt: skip
        results = [
            {
                "id": one.entry_id, "number": one.number, "seq": one.seq,
                "outcome": one.outcome, "reason": one.reason,
            }
            for one in pushed.results
        ]  # fmt: skip
    news, texts = _news(who.establishment, who.device, body)
    # `round` comes back as it came: the device takes no reply but the one to its own request
    reply = {**news, "results": results, "now": received_at, "round": body["round"]}
    # the records are JSON already (services/wire.py); what is around them is written here
    around = json.dumps(reply, ensure_ascii=False, separators=(",", ":"))
    return Response(f'{around[:-1]},"records":[{",".join(texts)}]}}', mimetype="application/json")


def _news(
    establishment: str, device: str, body: dict[str, Any]
) -> tuple[dict[str, Any], tuple[str, ...]]:
    """Return (the reply but for its records, the texts of the records)."""
    with read_session() as db:
        ceiling, revoked = service.device_state(db, establishment, device)
        scope = service.scope_of(ceiling)
        numbers = service.read_numbers(db, establishment, device)
        reply = service.wire_numbers(numbers)
        if revoked:  # pulls stop at once; what it pushed is in quarantine and acknowledged
            return {
                **reply, "cursor": body["cursor"] or "", "more": False,
                "reset": False, "revoked": True, "photos_owed": [], "photos_stored": [], "head": {},
                "upto": 0, "epoch": "", "forms_version": service.forms_version(),
            }, ()  # fmt: skip
        pulled = service.pull(
            db, establishment, body["cursor"], scope, now=chance().now(), wire=wire_texts()
        )
        digests = body["photos"]
        owed = photo_service.owed(db, establishment, digests) if digests else []
        stored = photo_service.stored(db, establishment, digests) if digests else []
    if body["status"] is not None and not body["entries"]:  # else the push has noted it
        with write_session() as db:
            service.note_heard(db, establishment, device, chance().instant(), body["status"])
    previous = read_cursor(body["cursor"])
    return {
        **reply,
        "cursor": pulled.cursor,
        "upto": pulled.upto,
        "more": pulled.more,
        "reset": pulled.reset,
        "resend": pulled.reset and previous is not None,
        "epoch": pulled.head.epoch,
        "head": {"seq": pulled.head.seq, "hash": pulled.head.hash},
        "forms_version": service.forms_version(),
        "photos_owed": owed,
        "photos_stored": stored,
    }, pulled.texts


@blueprint.get("/forms")
@blueprint.response(200, description="Form specs of all kinds")
def forms() -> dict[str, Any]:
    """Return the form specs: what the browser draws forms from, offline too."""
    proof()
    return service.form_spec()


@blueprint.put("/photos/<sha256>/<int:n>")
@blueprint.response(200, description="Which pieces are here, and whether the photo is whole")
def put_photo_piece(sha256: str, n: int) -> dict[str, Any]:
    """Take one 64 kB piece of a photo whose record has arrived."""
    who = permitted("create_field")
    _check_digest(sha256)
    content = raw_body()
    spare("upload_bytes", who.device, len(content), chance().now().timestamp())
    with write_session() as db:
        return photo_service.put_piece(
            db, photo_storage(), who.establishment, sha256, n, content, chance().instant()
        )


def _check_digest(sha256: str) -> None:
    if len(sha256) != 64 or set(sha256) - set("0123456789abcdef"):
        raise TepalError("photos.bad_digest", "a photo is named by its SHA-256")


@blueprint.get("/photos/<sha256>")
@blueprint.response(200, description="The file", content_type="application/octet-stream")
def get_photo(sha256: str) -> Response:
    """Return a stored photo, sound, label or safety data sheet; documents as an attachment.

    A wall tablet may have documents only: the display leads to the safety data sheets.
    """
    who = permitted("central")
    _check_digest(sha256)
    with read_session() as db:
        may_all = permission.word_for(db, who, "read") != NO
        file = photo_service.read_file(
            db, photo_storage(), who.establishment, sha256, only_documents=not may_all
        )
    response = Response(file.content, mimetype=file.media_type)
    response.headers["Cache-Control"] = "private, max-age=31536000, immutable"
    # never the name that a person gave the file: a header is no place for it
    suffix = "pdf" if file.media_type == "application/pdf" else "jpg"
    response.headers["Content-Disposition"] = (
        f'attachment; filename="document-{sha256[:12]}.{suffix}"' if file.is_document else "inline"
    )
    response.set_etag(sha256)
    response.make_conditional(request)
    return response
