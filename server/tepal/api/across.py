"""Across trials online: what finished trials found, by question; computed in the worker process."""

from __future__ import annotations

from typing import Any

from flask_smorest import Blueprint
from marshmallow import fields, validate

from tepal.api.analysis import LanguageQuery, desk_of
from tepal.api.guard import known_trial, permitted
from tepal.services import across as service

blueprint = Blueprint(
    "across", __name__, url_prefix="/api/v1/trials", description="What trials say together"
)


@blueprint.before_request
def _known_device() -> None:
    """Ask who is there before the query is read: a stranger learns nothing of its shape."""
    permitted("read")


class QuestionQuery(LanguageQuery):
    """Which question, by the key that the list gave it."""

    key = fields.String(required=True, validate=validate.Regexp(r"\A[0-9a-f]{16}\Z"))


@blueprint.get("/across")
@blueprint.arguments(LanguageQuery, location="query")
@blueprint.response(200, description="Every question that finished trials answer, with its answer")
def across(query: dict[str, str]) -> dict[str, Any]:
    """Return the questions, the mixes of the register that fit each, and what is not computed."""
    return service.overview(desk_of(query["language"]))


@blueprint.get("/across/question")
@blueprint.arguments(QuestionQuery, location="query")
@blueprint.response(200, description="One question: sentences, table, chart, notes")
def question(query: dict[str, str]) -> dict[str, Any]:
    """Return one question whole."""
    return service.question(desk_of(query["language"]), query["key"])


@blueprint.get("/<trial_id>/across")
@blueprint.response(200, description="How many effects the trial has")
def compute(trial_id: str) -> dict[str, Any]:
    """Compute the effects of one trial where they are not kept; the list names who waits."""
    return service.compute(desk_of("en"), known_trial(trial_id))
