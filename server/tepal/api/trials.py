"""Trials online: layouts drawn by chance, what a size can find, papers, imports, the trial file."""

from __future__ import annotations

from typing import Any

from flask_smorest import Blueprint
from marshmallow import EXCLUDE, Schema, fields, validate

from tepal.api.guard import UUID_TEXT, chance, json_body, permitted, proof
from tepal.services import trials
from tepal.store.database import read_session

blueprint = Blueprint("trials", __name__, url_prefix="/api/v1", description="Trials")


@blueprint.before_request
def _known_device() -> None:
    """Ask who is there before the body is read: a stranger learns nothing of its shape."""
    permitted("read")


def _count(most: int, *, least: int = 1, **more: Any) -> fields.Integer:
    return fields.Integer(strict=True, validate=validate.Range(least, most), **more)


def _number(low: float, high: float, **more: Any) -> fields.Float:
    return fields.Float(validate=validate.Range(low, high), **more)


class LevelBody(Schema):
    """The level of one factor."""

    factor = fields.String(required=True, validate=validate.Length(max=60))
    level = fields.String(required=True, validate=validate.Length(max=60))


class TreatmentBody(Schema):
    """A treatment as the layout needs it; further fields of the record are let through."""

    class Meta:
        """Fields of the record that chance has no use for."""

        unknown = EXCLUDE

    number = _count(1000, required=True)
    name = fields.String(validate=validate.Length(max=120), allow_none=True)
    multiple = _count(20)
    levels = fields.List(fields.Nested(LevelBody), validate=validate.Length(max=6), allow_none=True)


class BenchBody(Schema):
    """The bench in cells; row 1 at the aisle, column 1 at its left end."""

    rows = _count(1000, required=True)
    columns = _count(1000, required=True)
    guard_rows = _count(20, least=0)
    guard_columns = _count(20, least=0)
    block_rows = _count(1000)
    block_columns = _count(1000)
    out_of_use = fields.List(
        fields.List(_count(1000), validate=validate.Length(equal=2)),
        validate=validate.Length(max=2000),
    )


def _seed() -> fields.Integer:
    return fields.Integer(strict=True, validate=validate.Range(0, 2**53 - 1))


class LayoutBody(Schema):
    """What is to be laid out; without a seed the server draws one."""

    trial = fields.String(validate=UUID_TEXT)
    reason = fields.String(load_default="", validate=validate.Length(max=400))
    design = fields.String(required=True, validate=validate.OneOf(tuple(trials.KIND_OF)))
    treatments = fields.List(
        fields.Nested(TreatmentBody), required=True, validate=validate.Length(1, 200)
    )
    factors = fields.List(fields.String(validate=validate.Length(max=60)), load_default=list)
    whole_plot_factors = fields.List(
        fields.String(validate=validate.Length(max=60)), load_default=list
    )
    n_blocks = _count(1000, required=True)
    plants_per_plot = _count(1000, load_default=1)
    bench = fields.Nested(BenchBody)
    seed = _seed()


class PottedBody(Schema):
    """The bench the plants go to, and which: pairs (plot, plant); all where none is said."""

    bench = fields.Nested(BenchBody, required=True)
    kept = fields.List(
        fields.List(_count(100_000), validate=validate.Length(equal=2)),
        validate=validate.Length(1, 20_000),
    )
    seed = _seed()


class SizeBody(Schema):
    """A comparison, a difference and a spread in per cent of the control's mean, and replicates."""

    design = fields.String(required=True, validate=validate.OneOf(tuple(trials.KIND_OF)))
    comparison = fields.String(required=True, validate=validate.OneOf(("control", "pairs")))
    n_treatments = _count(100, least=2, required=True)
    n_replicates = _count(500, required=True)
    difference_pct = _number(0.01, 10_000, required=True)
    plot_cv_pct = _number(0.01, 1000, required=True)
    plant_cv_pct = _number(0, 1000, load_default=0.0)
    plants_per_plot = _count(1000, load_default=1)
    alpha = _number(0.0001, 0.5, load_default=0.05)
    power = _number(0.05, 0.9999, load_default=0.8)


def _body(schema: type[Schema]) -> dict[str, Any]:
    return {"content": {"application/json": {"schema": schema}}, "required": True}


@blueprint.post("/trials/layout")
@blueprint.doc(requestBody=_body(LayoutBody))
@blueprint.response(200, description="Seed, algorithm and plots, to be saved with the trial")
def layout() -> dict[str, Any]:
    """Draw a layout. Nothing is saved: the office saves it with the trial as an entry.

    A trial that was treated keeps its layout (422 `trials.already_treated`); a new layout of one
    that has one asks for a reason.
    """
    body = LayoutBody().load(json_body())
    if body.get("trial"):
        with read_session() as db:
            trials.may_randomise(db, proof().establishment, body["trial"], body["reason"])
    asked = trials.AskedLayout(
        design=body["design"],
        treatments=tuple(body["treatments"]),
        n_blocks=body["n_blocks"],
        plants_per_plot=body["plants_per_plot"],
        factors=tuple(body["factors"]),
        whole_plot_factors=tuple(body["whole_plot_factors"]),
        bench=body.get("bench"),
        seed=body.get("seed"),
    )
    return trials.layout_of(asked, chance())


@blueprint.post("/trials/size")
@blueprint.doc(requestBody=_body(SizeBody))
@blueprint.response(200, description="Power, the detectable difference, the replicates needed")
def size() -> dict[str, Any]:
    """Say what a trial of a size can find, before it starts."""
    return trials.size_view(SizeBody().load(json_body()))


@blueprint.post("/trials/<trial_id>/potted")
@blueprint.doc(requestBody=_body(PottedBody))
@blueprint.response(200, description="The layout of the trial that follows")
def potted(trial_id: str) -> dict[str, Any]:
    """Draw new places for the plants of a trial that are potted on; each keeps its origin."""
    body = PottedBody().load(json_body())
    kept = body.get("kept")
    with read_session() as db:
        return trials.potted_layout(
            db, proof().establishment, trial_id, body["bench"],
            None if kept is None else [(plot, plant) for plot, plant in kept],
            body.get("seed"), chance(),
        )  # fmt: skip
