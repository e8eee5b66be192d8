"""Codes that let devices in, and the PINs of people who share a device."""

from __future__ import annotations

from typing import Any

from flask import Response, g, jsonify, request
from flask_smorest import Blueprint
from marshmallow import Schema, fields, validate

from tepal.api.access import DeviceBody, SessionReply, count_try
from tepal.api.guard import (
    DEVICE_COOKIE,
    UUID_TEXT,
    acting_person,
    chance,
    is_in_hand,
    json_body,
    manager_proof,
    permitted,
    printable,
    set_cookie,
)
from tepal.api.state import limiter
from tepal.services import access, enrolment
from tepal.services.access import DEVICE_DAYS
from tepal.services.session_view import session_view
from tepal.store.database import read_session, write_session

blueprint = Blueprint("enrolment", __name__, url_prefix="/api/v1", description="Devices and PINs")


class CodeBody(Schema):
    """What the new device is called, and the most it may ever do."""

    label = fields.String(required=True, validate=[validate.Length(1, 80), printable])
    ceiling = fields.String(required=True, validate=validate.Length(1, 12))


class EnrolBody(Schema):
    """The code, and the store that asks."""

    code = fields.String(required=True, validate=validate.Length(1, 20))
    device = fields.Nested(DeviceBody, required=True)


class PinBody(Schema):
    """A new PIN; of another member only where a manager sets it."""

    pin = fields.String(required=True, validate=validate.Length(1, 20))
    member = fields.String(load_default=None, allow_none=True, validate=UUID_TEXT)


@blueprint.post("/enrolment-codes")
@blueprint.doc(
    requestBody={"content": {"application/json": {"schema": CodeBody}}, "required": True}
)
@blueprint.response(200, description="The code, and until when it counts")
def make_code() -> dict[str, str]:
    """Make a code for one new device: single use, ten minutes."""
    who = manager_proof()
    body = CodeBody().load(json_body())
    with write_session() as db:
        return enrolment.make_code(
            db, who.establishment, ceiling=body["ceiling"], label=body["label"],
            made_by=who.member or "", chance=chance(),
        )  # fmt: skip


@blueprint.post("/enrol")
@blueprint.doc(
    requestBody={"content": {"application/json": {"schema": EnrolBody}}, "required": True}
)
@blueprint.response(200, SessionReply)
def enrol() -> Response:
    """Let the device in that typed a code; nobody is signed in on it yet."""
    body = EnrolBody().load(json_body())
    tries = f"enrol {request.remote_addr}"  # an address of its own: no stranger locks others out
    count_try(tries)
    device = body["device"]["id"]
    in_hand = is_in_hand(device)
    with write_session() as db:
        establishment = enrolment.enrol(db, body["code"], device, chance(), is_in_hand=in_hand)
        limiter().succeeded(tries)
        token = access.issue_token(
            db, chance(), sort="device", establishment=establishment, device=device, member=None
        )
    with read_session() as db:
        view = session_view(db, access.Proof(establishment, device, None))
    response = jsonify({"is_set_up": True, **view})
    set_cookie(response, DEVICE_COOKIE, token, DEVICE_DAYS * 86400)
    g.tokens_changed = True
    return response


@blueprint.get("/pins")
@blueprint.response(200, description="PIN verifiers of the people who may share this device")
def pins() -> dict[str, Any]:
    """Return the PIN verifiers; they stay on the device and are in no export."""
    who = permitted("read")
    with read_session() as db:
        return {"pins": enrolment.pin_verifiers(db, who.establishment)}


@blueprint.post("/pin")
@blueprint.doc(requestBody={"content": {"application/json": {"schema": PinBody}}, "required": True})
@blueprint.response(200, description="Done")
def set_pin() -> dict[str, bool]:
    """Set a PIN: one's own with a password session, another's as a manager."""
    who = acting_person()
    body = PinBody().load(json_body())
    member = body["member"] or who.member or ""
    if member != who.member:
        who = manager_proof()
    with write_session() as db:
        enrolment.set_pin(db, who.establishment, member, body["pin"], chance())
    return {"ok": True}
