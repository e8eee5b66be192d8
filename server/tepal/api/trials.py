"""Trials online: layouts drawn by chance, what a size can find, papers, imports, the trial file."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from flask_smorest import Blueprint
from marshmallow import EXCLUDE, Schema, fields, validate

from tepal.api.guard import UUID_TEXT, chance, config, json_body, known_trial, permitted, proof
from tepal.api.replies import pdf_reply, print_reply
from tepal.reports.plot_labels import SHEETS, render_plot_labels
from tepal.reports.trial_sheets import render_bench_map, render_field_sheet
from tepal.services import papers, trial_papers, trials
from tepal.services.catalogue import words_for
from tepal.services.trial_harvests import harvest_plants
from tepal.store.database import read_session

if TYPE_CHECKING:
    from collections.abc import Callable

    from flask import Response

    from tepal.services.trial_papers import LaidOut

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


class HarvestRowBody(Schema):
    """A harvest: the planned look it belongs to, plants of each plot, blocks (none: all)."""

    assessment = fields.String(required=True, validate=validate.Length(1, 24))
    plants_per_plot = _count(1000, required=True)
    blocks = fields.List(fields.String(validate=validate.Length(max=12)), load_default=list)


class HarvestPlotBody(Schema):
    """A plot as the draw needs it; further fields of the record are let through."""

    class Meta:
        """Fields of the record that the draw has no use for."""

        unknown = EXCLUDE

    plot = _count(100_000, allow_none=True)
    block = _count(10_000, least=0, allow_none=True)
    origin = fields.String(validate=validate.Length(max=24), allow_none=True)
    guard = fields.Boolean(allow_none=True)


class HarvestsBody(Schema):
    """The plots as they are planned, saved or not, and the harvests in order of their days."""

    plots = fields.List(
        fields.Nested(HarvestPlotBody), required=True, validate=validate.Length(1, 5000)
    )
    plants_per_plot = _count(1000, load_default=1)
    harvests = fields.List(
        fields.Nested(HarvestRowBody), required=True, validate=validate.Length(1, 40)
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


_LANGUAGE = validate.OneOf(("en", "es"))
_YES_NO = validate.OneOf(("yes", "no"))
_DECIMAL = validate.Regexp(r"\A[0-9]{1,6}(?:\.[0-9]{1,4})?\Z")


class SheetQuery(Schema):
    """In which language, and whether the treatments are left out."""

    language = fields.String(load_default="en", validate=_LANGUAGE)
    blinded = fields.String(load_default="yes", validate=_YES_NO)
    assessment = fields.String(validate=validate.Length(1, 24))


class LabelQuery(SheetQuery):
    """Which sheet of labels lies in the printer."""

    sheet = fields.String(load_default="a4_63x38", validate=validate.OneOf(tuple(SHEETS)))


class TreatmentSheetQuery(Schema):
    """Which treatment, what its plots measure, how much more is mixed, what the tank holds."""

    language = fields.String(load_default="en", validate=_LANGUAGE)
    treatment = fields.Integer(required=True, validate=validate.Range(0, 1000))
    area = fields.String(validate=_DECIMAL, metadata={"description": "of all its plots, m2"})
    overage = fields.Float(
        validate=validate.Range(0, 100),
        metadata={"description": "per cent mixed beyond need; the plan's where none is said"},
    )
    tank = fields.String(load_default="10", validate=_DECIMAL, metadata={"description": "L"})


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
            db, proof().establishment, known_trial(trial_id), body["bench"],
            None if kept is None else [(plot, plant) for plot, plant in kept],
            body.get("seed"), chance(),
        )  # fmt: skip


@blueprint.post("/trials/harvests")
@blueprint.doc(requestBody=_body(HarvestsBody))
@blueprint.response(200, description="The seed, and which plants each harvest takes")
def harvests() -> dict[str, Any]:
    """Draw which plants are harvested when. Nothing is saved: it goes into the trial's entry."""
    body = HarvestsBody().load(json_body())
    return harvest_plants(body, body["harvests"], body.get("seed"), chance())


@dataclass(frozen=True, slots=True)
class TrialPaper:
    """A paper of a trial: its place below /papers, what may be asked, its view and its renderer."""

    place: str
    told: str
    query: type[Schema]
    view: Callable[[LaidOut, dict[str, Any]], Any]
    render: Callable[[Any], bytes]
    name: str


TRIAL_PAPERS: Final = (
    TrialPaper(
        "labels", "Print a label per plot, in walking order.", LabelQuery,
        lambda of, asked: trial_papers.labels_view(
            of, sheet=asked["sheet"], blinded=asked["blinded"] == "yes"
        ),
        render_plot_labels, "plot-labels",
    ),
    TrialPaper(
        "map", "Print where every plot stands.", SheetQuery,
        lambda of, asked: trial_papers.map_view(of, blinded=asked["blinded"] == "yes"),
        render_bench_map, "bench-map",
    ),
    TrialPaper(
        "field-sheet", "Print sheets to write on, in walking order.", SheetQuery,
        lambda of, asked: trial_papers.field_sheet_view(of, asked.get("assessment")),
        render_field_sheet, "field-sheet",
    ),
)  # fmt: skip


def _serve(paper: TrialPaper) -> None:
    def draw(query: dict[str, Any], trial_id: str) -> Response:
        words = words_for(config().web_root / "locale", query["language"])
        with read_session() as db:
            of = trial_papers.laid_out(
                db, proof().establishment, known_trial(trial_id), words,
                chance().now().isoformat(),
            )  # fmt: skip
        return pdf_reply(paper.render(paper.view(of, query)), paper.name)

    draw.__doc__ = paper.told  # the published description reads it
    told = blueprint.response(200, description=paper.told, content_type="application/pdf")(draw)
    asked = blueprint.arguments(paper.query, location="query")(told)
    rule = f"/trials/<trial_id>/papers/{paper.place}"
    blueprint.get(rule, endpoint=paper.name)(asked)


for _paper in TRIAL_PAPERS:
    _serve(_paper)


@blueprint.get("/trials/<trial_id>/papers/mixing-sheet")
@blueprint.arguments(TreatmentSheetQuery, location="query")
@blueprint.response(200, description="The mixing sheet as PDF", content_type="application/pdf")
def treatment_sheet(query: dict[str, Any], trial_id: str) -> Response:
    """Print what to measure for one treatment with its overage. Each print is kept."""
    who = permitted("read", person=True)
    with read_session() as db:
        asked = trial_papers.treatment_sheet(
            db, who.establishment, known_trial(trial_id), query["treatment"],
            area_m2=query.get("area"), overage_pct=query.get("overage"), tank_l=query["tank"],
        )  # fmt: skip
    return print_reply(
        query["language"],
        f"mixing-sheet-treatment-{query['treatment']}",
        lambda to: papers.print_mixing_sheet(to, asked),
    )
