"""The one map from exceptions to HTTP, and the one error body."""

from __future__ import annotations

import logging
from typing import TYPE_CHECKING, Any, Final

from flask import g, jsonify, request
from flask_smorest import Api
from marshmallow import Schema, ValidationError, fields
from werkzeug.exceptions import HTTPException, MethodNotAllowed

from tepal.domain.errors import NotFoundError, TepalError

if TYPE_CHECKING:
    from flask import Flask, Response

LOG = logging.getLogger("tepal.api")

# code -> HTTP status; codes not named are 422 (understood, but not to be done)
STATUS: Final[dict[str, int]] = {
    "access.no_device": 401,
    "access.no_person": 401,
    "access.wrong_name_or_password": 401,
    "access.wrong_set_up_token": 403,
    "access.wrong_code": 403,
    "access.device_revoked": 403,
    "access.device_above_role": 403,
    "access.not_permitted": 403,
    "access.other_site": 403,
    "access.not_set_up": 409,
    "access.already_set_up": 409,
    "access.too_many_tries": 429,
    "access.too_much": 429,
    "http.not_json": 415,
    "http.bad_json": 400,
    "http.bad_gzip": 400,
    "http.body_too_large": 413,
    # the phone keeps the photo and comes again: its record first, or all pieces once more
    "photos.not_announced": 409,
    "photos.hash_differs": 409,
}
RETRYABLE: Final = frozenset({409, 429, 500, 502, 503, 504})


class ErrorBody(Schema):
    """What every failing route answers with, as it is documented."""

    code = fields.String(required=True)
    message = fields.String(required=True)
    fields_ = fields.Dict(required=True, data_key="fields")
    retryable = fields.Boolean(required=True)
    request_id = fields.String(required=True)


class DocumentedApi(Api):  # type: ignore[misc]
    """flask-smorest with our own error body instead of its own."""

    ERROR_SCHEMA = ErrorBody


def error_body(
    code: str, message: str, status: int, fields: dict[str, Any] | None = None
) -> dict[str, Any]:
    """Return the body that every failing route answers with."""
    return {
        "code": code,
        "message": message,
        "fields": fields or {},
        "retryable": status in RETRYABLE,
        "request_id": g.get("request_id", ""),
    }


def status_of(error: TepalError) -> int:
    """Return the HTTP status of a Tepal error."""
    if error.code in STATUS:
        return STATUS[error.code]
    return 404 if isinstance(error, NotFoundError) else 422


def install(app: Flask) -> None:
    """Register the handlers."""

    @app.errorhandler(TepalError)
    def _tepal(error: TepalError) -> tuple[Response, int]:
        status = status_of(error)
        return jsonify(error_body(error.code, error.message, status, error.context)), status

    @app.errorhandler(ValidationError)
    def _invalid(error: ValidationError) -> tuple[Response, int]:
        messages = error.messages
        fields = messages if isinstance(messages, dict) else {"body": messages}
        body = error_body("http.invalid", "the body has fields that are not as asked", 422, fields)
        return jsonify(body), 422

    @app.errorhandler(HTTPException)
    def _http(error: HTTPException) -> tuple[Response, int]:
        status = error.code or 500
        details = getattr(error, "data", None) or {}
        fields = details.get("messages", {})
        code = "http.invalid" if status == 422 else f"http.{status}"
        response = jsonify(error_body(code, error.description or error.name, status, fields))
        if isinstance(error, MethodNotAllowed) and error.valid_methods:
            response.headers["Allow"] = ", ".join(sorted(error.valid_methods))
        return response, status

    @app.errorhandler(Exception)
    def _bug(error: Exception) -> tuple[Response, int]:
        LOG.error(
            "unhandled error", exc_info=error,
            extra={"request_id": g.get("request_id", ""), "path": request.path},
        )  # fmt: skip
        body = error_body("http.500", "the server failed; it has noted this", 500)
        return jsonify(body), 500
