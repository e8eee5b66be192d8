"""POST /api/v1/members/<id>/password: a manager gives a person a password."""

from __future__ import annotations

from typing import Any

from flask_smorest import Blueprint
from marshmallow import Schema, fields, validate

from tepal.api.guard import chance, json_body, known_id, manager_proof, printable
from tepal.services.members import set_member_password
from tepal.store.database import write_session

blueprint = Blueprint("members", __name__, url_prefix="/api/v1", description="People")


class PasswordBody(Schema):
    """The new password; how long it must be is judged by the service."""

    password = fields.String(required=True, validate=[validate.Length(max=1000), printable])


@blueprint.post("/members/<member_id>/password")
@blueprint.doc(
    requestBody={"content": {"application/json": {"schema": PasswordBody}}, "required": True}
)
@blueprint.response(200, description="Done")
def set_password(member_id: str) -> dict[str, Any]:
    """Set a member's password. Asks for a manager's own password session."""
    who = manager_proof()
    body = PasswordBody().load(json_body())
    with write_session() as db:
        member = known_id(member_id, "members.no_such_member")
        set_member_password(db, who, member, body["password"], chance())
    return {"ok": True}
