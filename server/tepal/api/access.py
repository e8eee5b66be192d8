"""Set-up, sign-in, sign-out and what the session is."""

from __future__ import annotations

import hmac
from typing import Any

from flask import Response, g, jsonify, request
from flask_smorest import Blueprint
from marshmallow import Schema, fields, validate

from tepal.api.guard import (
    DEVICE_COOKIE,
    PERSON_COOKIE,
    UUID_TEXT,
    chance,
    config,
    is_in_hand,
    json_body,
    printable,
    proof,
    set_cookie,
)
from tepal.api.state import limiter
from tepal.services import access
from tepal.services.access import DEVICE_DAYS, PERSON_HOURS, AccessError
from tepal.services.session_view import session_view
from tepal.store.database import read_session, write_session

blueprint = Blueprint("access", __name__, url_prefix="/api/v1", description="Who is here")


class DeviceBody(Schema):
    """The store that asks: its own id (a new store makes a new one) and a name for it."""

    id = fields.String(required=True, validate=UUID_TEXT)
    label = fields.String(required=True, validate=[validate.Length(1, 80), printable])


class SignInBody(Schema):
    """Name, password and the device that asks."""

    name = fields.String(required=True, validate=[validate.Length(1, 120), printable])
    password = fields.String(required=True, validate=[validate.Length(1, 200), printable])
    device = fields.Nested(DeviceBody, required=True)


class SetUpBody(SignInBody):
    """The first sign-in of a new server."""

    token = fields.String(required=True, validate=[validate.Length(1, 200), printable])
    establishment = fields.String(required=True, validate=[validate.Length(1, 200), printable])
    zone = fields.String(required=True, validate=[validate.Length(1, 64), printable])
    country = fields.String(load_default="", validate=[validate.Length(max=2), printable])
    number_format = fields.String(
        load_default="1234.5", validate=validate.OneOf(("1234.5", "1234,5"))
    )
    unit_system = fields.String(load_default="metric", validate=validate.OneOf(("metric", "us")))
    language = fields.String(load_default="en", validate=validate.OneOf(("en", "es")))


class SessionReply(Schema):
    """Who is here: device, member, establishment; null where nobody is."""

    is_set_up = fields.Boolean()
    device = fields.Dict(allow_none=True)
    member = fields.Dict(allow_none=True)
    establishment = fields.Dict(allow_none=True)


@blueprint.get("/session")
@blueprint.response(200, SessionReply)
def session() -> dict[str, Any]:
    """Return what this request's cookies prove, in names."""
    with read_session() as db:
        if not access.is_set_up(db):
            return {"is_set_up": False, "device": None, "member": None, "establishment": None}
        who = access.prove(
            db, request.cookies.get(DEVICE_COOKIE), request.cookies.get(PERSON_COOKIE),
            chance().now(),
        )  # fmt: skip
        return {"is_set_up": True, **session_view(db, who)}


@blueprint.post("/set-up")
@blueprint.doc(
    requestBody={"content": {"application/json": {"schema": SetUpBody}}, "required": True}
)
@blueprint.response(200, SessionReply)
def set_up() -> Response:
    """Create the establishment and its first manager; asks for the token of the console."""
    body = SetUpBody().load(json_body())
    count_try("set-up")
    # as bytes: text of other letters than ASCII cannot be compared in constant time
    if not hmac.compare_digest(body["token"].strip().encode(), config().set_up_token.encode()):
        raise AccessError("access.wrong_set_up_token", "this is not the token of the console")
    limiter().succeeded("set-up")
    with write_session() as db:
        establishment, member = access.set_up(
            db, chance(), name=body["establishment"], zone=body["zone"],
            country=body["country"], number_format=body["number_format"],
            unit_system=body["unit_system"], member_name=body["name"].strip(),
            password=body["password"], language=body["language"],
        )  # fmt: skip
    return _signed_in(establishment, member, "manager", body["device"])


@blueprint.post("/sign-in")
@blueprint.doc(
    requestBody={"content": {"application/json": {"schema": SignInBody}}, "required": True}
)
@blueprint.response(200, SessionReply)
def sign_in() -> Response:
    """Sign a person in with a password; puts a new device on record.

    A new device's ceiling is the role of the person who signs in first.
    """
    body = SignInBody().load(json_body())
    name = body["name"].strip()  # as it is looked up: a space more is no fresh set of tries
    count_try(name)
    with read_session() as db:
        establishment = access.only_establishment(db)
        member, role = access.sign_in(db, establishment, name, body["password"])
    limiter().succeeded(name)
    return _signed_in(establishment, member, role, body["device"])


@blueprint.post("/sign-out")
@blueprint.response(200, SessionReply)
def sign_out() -> Response:
    """End the person session. The device, its outbox and its drafts stay."""
    proof()
    with write_session() as db:
        access.sign_out(db, request.cookies.get(PERSON_COOKIE))
    g.tokens_changed = True
    response = jsonify({"is_set_up": True, "device": None, "member": None, "establishment": None})
    response.delete_cookie(PERSON_COOKIE, secure=True, httponly=True, samesite="Lax", path="/")
    return response


def count_try(name: str) -> None:
    """Count a try under a name as failed, until `limiter().succeeded` forgets it.

    Before the password is looked at: tries at the same moment must not all be free.

    Raises
    ------
    AccessError   `access.too_many_tries`: the name has to wait.
    """
    wait = limiter().take(name, chance().now().timestamp())
    if wait > 0:
        raise AccessError(
            "access.too_many_tries", "too many wrong tries; wait a little", wait_s=int(wait) + 1
        )


def _signed_in(establishment: str, member: str, role: str, device: dict[str, Any]) -> Response:
    in_hand = is_in_hand(device["id"])
    with write_session() as db:
        access.admit_device(
            db, establishment, device["id"], label=device["label"], ceiling=role,
            member=member, chance=chance(), is_in_hand=in_hand,
        )  # fmt: skip
        tokens = {
            sort: access.issue_token(
                db, chance(), sort=sort, establishment=establishment, device=device["id"],
                member=member if sort == "person" else None,
            )
            for sort in ("device", "person")
        }  # fmt: skip
    with read_session() as db:
        view = session_view(db, access.Proof(establishment, device["id"], member))
    response = jsonify({"is_set_up": True, **view})
    set_cookie(response, DEVICE_COOKIE, tokens["device"], DEVICE_DAYS * 86400)
    set_cookie(response, PERSON_COOKIE, tokens["person"], PERSON_HOURS * 3600)
    g.tokens_changed = True
    return response
