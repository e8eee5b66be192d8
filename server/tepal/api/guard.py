"""What every request passes: an id, same-origin, JSON, body limits, cookies, security headers."""

from __future__ import annotations

import base64
import binascii
import gzip
import re
import zlib
from typing import TYPE_CHECKING, Any, Final

from flask import current_app, g, request
from marshmallow import ValidationError, validate

from tepal.domain.errors import NotFoundError
from tepal.services import access, permission
from tepal.services.access import AccessError, Proof
from tepal.services.members import require_manager
from tepal.store.database import read_session, write_session
from tepal.sync.entry import read_json

if TYPE_CHECKING:
    from flask import Flask, Response

    from tepal.config import Config
    from tepal.services.server_acts import Chance

DEVICE_COOKIE: Final = "__Host-device"
PERSON_COOKIE: Final = "__Host-person"
# an id on the wire; the length too, since `$` also matches before a last newline
UUID_SHAPE: Final = re.compile(r"^[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}$")
UUID_TEXT: Final = validate.And(validate.Regexp(UUID_SHAPE), validate.Length(equal=36))
# what a database column or a password hash cannot take
_UNPRINTABLE: Final = re.compile("[\x00-\x1f\x7f\ud800-\udfff]")
_SAFE: Final = frozenset({"GET", "HEAD", "OPTIONS"})
_GZIP_FROM: Final = 1024  # bytes; smaller replies gain nothing


def printable(text: str) -> None:
    """Refuse control characters and halves of a surrogate pair.

    No `Regexp`: it would be published, and JSON holds no half of a surrogate pair.
    """
    if _UNPRINTABLE.search(text):
        raise ValidationError("control_characters")


def config() -> Config:
    """Return the app's settings."""
    found: Config = current_app.extensions["tepal_config"]
    return found


def chance() -> Chance:
    """Return the app's clock and random source."""
    found: Chance = current_app.extensions["tepal_chance"]
    return found


def proof(*, person: bool = False, revoked_too: bool = False) -> Proof:
    """Return what the request's cookies prove.

    Raises
    ------
    AccessError   `access.no_device`, `access.device_revoked` (but for routes that take a revoked
                  device's last entries), or `access.no_person` where a person session is asked for.
    """
    if "proof" not in g:
        with read_session() as db:
            g.proof = access.prove(
                db,
                request.cookies.get(DEVICE_COOKIE),
                request.cookies.get(PERSON_COOKIE),
                chance().now(),
            )
    found: Proof | None = g.proof
    if found is None:
        raise AccessError("access.no_device", "this device is not signed in")
    if found.revoked and not revoked_too:
        raise AccessError("access.device_revoked", "this device was revoked")
    if person and found.member is None:
        raise AccessError("access.no_person", "sign in with your password first")
    return found


def is_in_hand(device: str) -> bool:
    """Whether the request's own device cookie names this device."""
    with read_session() as db:
        who = access.prove(db, request.cookies.get(DEVICE_COOKIE), None, chance().now())
    return who is not None and who.device == device


def permitted(act: str, *, person: bool = False) -> Proof:
    """Return the proof of a request that may do an act of the table (services/authority.py).

    `person` asks for a password session of somebody who works here. `permitted_word` says more.

    Raises
    ------
    AccessError   `access.no_device`, `access.device_revoked`, `access.no_person`,
                  `access.not_permitted`.
    """
    who = proof()
    with read_session() as db:
        g.word = permission.require(db, who, act)
        if person:
            permission.require_person(db, who)
    return who


def permitted_word() -> str:
    """Return the table's word for the act that `permitted` was asked for last: "yes", "own" ..."""
    found: str = g.word
    return found


def acting_person() -> Proof:
    """Return the proof of somebody who works here, in a password session on any device.

    Raises
    ------
    AccessError   `access.no_device`, `access.no_person`, `access.not_permitted`.
    """
    who = proof(person=True)
    with read_session() as db:
        permission.require_person(db, who)
    return who


def manager_proof() -> Proof:
    """Return the proof of an active manager in a password session.

    Raises
    ------
    AccessError   `access.no_device`, `access.no_person`, `access.not_permitted`.
    """
    who = proof(person=True)
    with read_session() as db:
        require_manager(db, who)
    return who


def set_cookie(response: Response, name: str, value: str, seconds: int) -> None:
    """Set one of the two cookies."""
    response.set_cookie(
        name, value, max_age=seconds, secure=True, httponly=True, samesite="Lax", path="/"
    )


def json_body() -> dict[str, Any]:
    """Return the request's JSON object, gunzipped within the limit.

    Raises
    ------
    AccessError   `http.not_json`, `http.bad_json`, `http.body_too_large`.
    """
    if request.mimetype != "application/json":
        raise AccessError("http.not_json", "the body must be application/json")
    try:
        body = read_json(raw_body().decode())
    except (ValueError, RecursionError) as error:
        raise AccessError("http.bad_json", "the body is not JSON") from error
    if not isinstance(body, dict):
        raise AccessError("http.not_json", "the body must be a JSON object")
    return body


def known_id(text: str, code: str) -> str:
    """Return an id out of an address; one of another shape no record can have.

    Raises
    ------
    NotFoundError   The code given.
    """
    if UUID_SHAPE.fullmatch(text) is None:
        raise NotFoundError(code, "the office knows no record of this id")
    return text


def known_trial(trial_id: str) -> str:
    """Return a trial's id out of an address; raises NotFoundError (`trials.no_such_trial`)."""
    return known_id(trial_id, "trials.no_such_trial")


def base64_bytes(text: str) -> bytes:
    """Return the bytes of the body's field `content`.

    Raises
    ------
    ValidationError   `not_base64`.
    """
    try:
        return base64.b64decode(text, validate=True)
    except (binascii.Error, ValueError) as error:
        raise ValidationError({"content": ["not_base64"]}) from error


def raw_body() -> bytes:
    """Return the request's body, gunzipped; no more than the limit is ever unpacked."""
    limit = config().max_body_mb * 1024 * 1024
    data = request.get_data(cache=False)
    if request.headers.get("Content-Encoding") == "gzip":
        try:
            unpacker = zlib.decompressobj(wbits=31)
            data = unpacker.decompress(data, limit + 1)
        except zlib.error as error:
            raise AccessError("http.bad_gzip", "the body is not valid gzip") from error
        if not unpacker.eof and len(data) <= limit:
            raise AccessError("http.bad_gzip", "the gzip body is cut off")
    if len(data) > limit:
        raise AccessError("http.body_too_large", "the body is too large", most_mb=limit >> 20)
    return data


def install(app: Flask, security_headers: dict[str, str]) -> None:
    """Register the checks before and the headers after each request."""

    @app.before_request
    def _before() -> None:
        g.request_id = (
            request.headers.get("X-Request-Id", "")[:64] or chance().random_bytes(8).hex()
        )
        if request.method not in _SAFE:
            _same_origin()

    @app.after_request
    def _after(response: Response) -> Response:
        response.headers["X-Request-Id"] = g.get("request_id", "")
        for name, value in security_headers.items():
            response.headers.setdefault(name, value)
        if request.path.startswith("/api/"):
            response.headers.setdefault("Cache-Control", "no-store")
            _compress(response)
        _slide()
        return response


def _same_origin() -> None:
    """A state change must come from our own pages: Sec-Fetch-Site, else a matching Origin."""
    site = request.headers.get("Sec-Fetch-Site")
    origin = request.headers.get("Origin")
    own = f"{request.scheme}://{request.host}"
    if site == "same-origin" or (site in (None, "none") and origin == own):
        return
    raise AccessError("access.other_site", "this request comes from another site")


def _compress(response: Response) -> None:
    if (
        response.mimetype == "application/json"
        and "gzip" in request.headers.get("Accept-Encoding", "")
        and not response.direct_passthrough
        and (response.content_length or 0) >= _GZIP_FROM
    ):
        response.set_data(gzip.compress(response.get_data(), compresslevel=5))
        response.headers["Content-Encoding"] = "gzip"
        response.headers["Vary"] = "Accept-Encoding"


def _slide() -> None:
    """Keep the cookies of an active device alive; written at most once in 5 % of their life."""
    if g.get("proof") is None or g.get("tokens_changed"):
        return
    for name, sort in ((DEVICE_COOKIE, "device"), (PERSON_COOKIE, "person")):
        token = request.cookies.get(name)
        if token and sort in g.proof.sliding:
            with write_session() as db:
                access.slide(db, token, sort, chance().now())
