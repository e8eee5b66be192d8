"""Calendar addresses: made and revoked by a grower, read by whoever has one."""

from __future__ import annotations

from typing import Any

from flask import Blueprint as PlainBlueprint
from flask import Response
from flask_smorest import Blueprint
from marshmallow import Schema, fields, validate

from tepal.api.guard import chance, json_body, permitted, printable
from tepal.services import calendar_feed as service
from tepal.store.database import read_session, write_session

blueprint = Blueprint("feeds", __name__, url_prefix="/api/v1", description="Calendar addresses")
# not below /api: a calendar program has no cookie, the address itself is the key
public = PlainBlueprint("calendar", __name__)


class FeedBody(Schema):
    """What the address is for."""

    label = fields.String(required=True, validate=[validate.Length(1, 80), printable])


@blueprint.get("/feeds")
@blueprint.response(200, description="Calendar addresses that were made")
def list_feeds() -> dict[str, Any]:
    """Return the addresses without their tokens."""
    who = permitted("registers", person=True)
    with read_session() as db:
        service.require_planner(db, who)
        return {"feeds": service.feeds(db, who)}


@blueprint.post("/feeds")
@blueprint.doc(
    requestBody={"content": {"application/json": {"schema": FeedBody}}, "required": True}
)
@blueprint.response(200, description="The address, shown this once")
def make_feed() -> dict[str, str]:
    """Make a calendar address."""
    who = permitted("registers", person=True)
    body = FeedBody().load(json_body())
    with write_session() as db:
        made = service.make_feed(db, who, body["label"], chance())
    return {"id": made["id"], "path": f"/calendar/{made['token']}.ics"}


@blueprint.post("/feeds/<feed>/revoke")
@blueprint.response(200, description="Done")
def revoke_feed(feed: str) -> dict[str, bool]:
    """Revoke an address: from now on it answers nothing."""
    who = permitted("registers", person=True)
    with write_session() as db:
        service.revoke_feed(db, who, feed, chance().instant())
    return {"ok": True}


@public.get("/calendar/<token>.ics")
def calendar(token: str) -> Response:
    """Return the spray orders. The address is the key; it needs no cookie."""
    with read_session() as db:
        text = service.feed_of(db, token, chance())
    response = Response(text, mimetype="text/calendar")
    response.headers["Content-Disposition"] = 'inline; filename="spray-orders.ics"'
    response.headers["Cache-Control"] = "private, no-cache"
    return response
