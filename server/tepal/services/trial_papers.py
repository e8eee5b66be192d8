"""Papers of a trial: labels, map, field sheets, the mixing sheet of one treatment. Read only.

They are tools, not records: nothing is stored but the mixing sheet, which is one like any other.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import TYPE_CHECKING, Any, Final

from tepal.domain.errors import NotFoundError
from tepal.domain.number_format import number_format_of
from tepal.domain.rounding import decimal_text
from tepal.reports.plot_labels import SHEETS, PlotLabel, PlotLabelsView
from tepal.reports.trial_sheets import BenchMapView, FieldSheetView, MapCell, SheetHead
from tepal.services.book_text import TextMaker
from tepal.services.mixing_sheet import AskedPlace, AskedSheet
from tepal.services.trial_harvests import plants_of
from tepal.services.trials import TrialError, load_trial, measured_plots
from tepal.store import records as record_rows

if TYPE_CHECKING:
    from collections.abc import Mapping

    from sqlalchemy.orm import Session as DbSession

    from tepal.domain.words import Words
    from tepal.services.mixing import Quantity
    from tepal.sync.merge import RecordState

#: Plants that the observers of a warm-up measure, each for themselves; `WARM_UP` of the phone.
WARM_UP_PLANTS: Final = 5
#: Mixed beyond need where the plan says nothing: common practice, no source.
USUAL_OVERAGE_PCT: Final = 10.0


def label_code(trial: dict[str, Any], plot: dict[str, Any]) -> str:
    """Return what the QR code of a plot says: "T07/305", as the phone's pad reads it."""
    return f"{trial.get('code', '')}/{plot.get('code') or plot['plot']}"


@dataclass(frozen=True, slots=True)
class LaidOut:
    """What the papers of a trial are made of: fields of trial and business, words, and the day."""

    trial: dict[str, Any]
    own: dict[str, Any]
    words: Words
    day: str
    place: str = ""

    @property
    def business(self) -> str:
        """Return the name of the business."""
        return str(self.own.get("name", ""))


def laid_out(db: DbSession, establishment: str, trial_id: str, words: Words, now: str) -> LaidOut:
    """Return a trial that has a layout; `now` is the server's UTC instant, printed as local day.

    Raises
    ------
    NotFoundError   `trials.no_such_trial`.
    TrialError      `trials.no_layout`.
    """
    trial = _laid_out(db, establishment, trial_id)
    own = record_rows.load(db, establishment, [("establishment", establishment)])
    fields = own["establishment", establishment].fields
    text = TextMaker(words, number_format_of(fields.get("number_format")), fields.get("zone", ""))
    place = _place(db, establishment, trial)
    return LaidOut(trial, fields, words, text.local_day(now), place)


def _place(db: DbSession, establishment: str, trial: dict[str, Any]) -> str:
    """Return where the plots stand and what they are: "House 1, Bench 3 · Salvia 'Morning Tin'"."""
    plots = measured_plots(trial)
    keys = [("bench", b) for b in dict.fromkeys(p["bench"] for p in plots if p.get("bench"))]
    keys += [("lot", x) for x in dict.fromkeys(p["lot"] for p in plots if p.get("lot"))]
    found = record_rows.load(db, establishment, keys)
    benches = [found[k].fields for k in keys if k[0] == "bench" and k in found]
    houses = record_rows.load(
        db, establishment, [("house", b["house"]) for b in benches if b.get("house")]
    )
    named = [
        ", ".join(str(x) for x in (_name(houses, "house", b.get("house")), b.get("name")) if x)
        for b in benches
    ]
    lots = [
        " ".join(str(lot[x]) for x in ("code", "crop", "cultivar") if lot.get(x))
        for lot in (found[k].fields for k in keys if k[0] == "lot" and k in found)
    ]
    return " · ".join(x for x in ("; ".join(named), "; ".join(lots)) if x)


def _name(found: Mapping[Any, RecordState], kind: str, record_id: Any) -> str:
    record = found.get((kind, record_id))
    return "" if record is None else str(record.fields.get("name") or "")


def labels_view(of: LaidOut, *, sheet: str, blinded: bool) -> PlotLabelsView:
    """Return the labels of a trial in walking order."""
    trial, words = of.trial, of.words
    names = {t["number"]: t.get("name", "") for t in trial.get("treatments") or ()}
    inside: dict[Any, int] = {}
    labels = []
    # on a small label the title would be too small to read, and would make the rest smaller
    title = (str(trial.get("title", "")),) if SHEETS[sheet].label_height >= 50 else ()
    for plot in measured_plots(trial):
        block = plot.get("block")
        inside[block] = inside.get(block, 0) + 1
        where = (
            words.text("trial_papers.plot", n=plot["plot"])
            if block is None
            else words.text("trial_papers.block_plot", block=block, n=inside[block])
        )
        what = () if blinded else (f"{plot['treatment']} · {names.get(plot['treatment'], '')}",)
        labels.append(
            PlotLabel(
                label_code(trial, plot),
                str(plot.get("code") or plot["plot"]),
                (f"{trial.get('code', '')} · {where}", *what, *title),
            )
        )
    return PlotLabelsView(
        title=words.text("trial_papers.labels", code=trial.get("code", "")),
        business=of.business,
        language=words.language,
        sheet=sheet,
        labels=tuple(labels),
    )


def map_view(of: LaidOut, *, blinded: bool) -> BenchMapView:
    """Return the bench of a trial."""
    trial, words = of.trial, of.words
    cells = {(p.get("row"), p.get("column")): p for p in trial.get("plots") or ()}
    n_rows = max([int(trial.get("rows") or 1), *(int(r or 1) for r, _ in cells)])
    n_columns = max([int(trial.get("columns") or 1), *(int(c or 1) for _, c in cells)])
    guard = words.text("trial_papers.guard")
    rows = tuple(
        tuple(
            _map_cell(cells.get((row, column)), guard, words, blinded=blinded)
            for column in range(1, n_columns + 1)
        )
        for row in range(1, n_rows + 1)
    )
    legend: tuple[str, ...] = ()
    if not blinded:
        legend = tuple(
            f"{t['number']} · {t.get('name', '')}" for t in trial.get("treatments") or ()
        )
    seed = words.text(
        "trial_papers.seed", seed=trial.get("seed", "–"), algorithm=trial.get("algorithm", "")
    )
    return BenchMapView(
        head=_head(of, "trial_papers.map", (seed,)),
        rows=rows,
        aisle=words.text("trial_papers.aisle"),
        row_name=words.text("trial_papers.row"),
        legend=legend,
    )


def _map_cell(plot: dict[str, Any] | None, guard: str, words: Words, *, blinded: bool) -> MapCell:
    if plot is None:
        return MapCell("free")
    if plot.get("guard"):
        return MapCell("guard", guard)
    lines = () if blinded else (words.text("trial_papers.treatment", n=plot["treatment"]),)
    return MapCell("plot", str(plot.get("code") or plot["plot"]), lines, plot.get("block"))


def field_sheet_view(of: LaidOut, assessment: str | None) -> FieldSheetView:
    """Return sheets for one assessment, or with every measurement where none is named.

    Raises
    ------
    NotFoundError   `trials.no_such_assessment`.
    TrialError      `trials.nothing_to_measure`.
    """
    trial, words = of.trial, of.words
    planned = {a.get("code"): a for a in trial.get("assessments") or ()}
    if assessment is not None and assessment not in planned:
        raise NotFoundError(
            "trials.no_such_assessment", "The trial has no such assessment.", name=assessment
        )
    wanted = None if assessment is None else planned[assessment].get("measurements") or ()
    measured = [
        m for m in trial.get("measurements") or () if wanted is None or m.get("code") in wanted
    ]
    if not measured:
        raise TrialError(
            "trials.nothing_to_measure", "Nothing is measured there; add a measurement first."
        )
    rows = [
        (plot.get("block"), (str(plot.get("code") or plot["plot"]), str(plant)))
        for plot in measured_plots(trial)
        for plant in plants_of(trial, int(plot["plot"]), assessment)
    ]
    if assessment and planned[assessment].get("sort") == "warm_up" and len(rows) > WARM_UP_PLANTS:
        rows = [rows[i * len(rows) // WARM_UP_PLANTS] for i in range(WARM_UP_PLANTS)]
    blocks: dict[Any, list[tuple[str, ...]]] = {}
    for block, cells in rows:
        blocks.setdefault(block, []).append(cells)
    name = planned[assessment].get("name", assessment) if assessment else ""
    return FieldSheetView(
        head=_head(of, "trial_papers.field_sheet", (name,) if name else ()),
        columns=tuple(
            ", ".join(str(x) for x in (m.get("name") or m.get("code"), m.get("unit")) if x)
            for m in measured
        ),
        definitions=tuple(
            f"{m.get('name') or m.get('code')}: {m['definition']}" if m.get("definition") else ""
            for m in measured
        ),
        fixed=(words.text("trial_papers.column_plot"), words.text("trial_papers.column_plant")),
        blocks=tuple(
            (
                words.text("trial_papers.all_plots")
                if block is None
                else words.text("trial_papers.block", block=block),
                tuple(lines),
            )
            for block, lines in blocks.items()
        ),
        observer=words.text("trial_papers.observer"),
        note=words.text("trial_papers.column_note"),
        missing=words.text("trial_papers.missing"),
        page_of=words.text("trial_papers.page", page="{page}", pages="{pages}"),
    )  # fmt: skip


def treatment_sheet(
    db: DbSession,
    establishment: str,
    trial_id: str,
    number: int,
    *,
    area_m2: str | None,
    overage_pct: float | None,
    tank_l: str,
) -> AskedSheet:
    """Return the mixing sheet to ask for one treatment: its plots' area and pots, and the overage.

    Without an area that is asked for or on file, that of the bench counts, and the sheet says so.

    Raises
    ------
    NotFoundError   `trials.no_such_trial`, `trials.no_such_treatment`.
    TrialError      `trials.no_layout`, `trials.no_mix`, `trials.no_bench`.
    """
    trial = _laid_out(db, establishment, trial_id)
    treatment = next((t for t in trial.get("treatments") or () if t.get("number") == number), None)
    if treatment is None:
        raise NotFoundError(
            "trials.no_such_treatment", "The trial has no such treatment.", number=number
        )
    if not treatment.get("tank_mix"):
        raise TrialError(
            "trials.no_mix",
            "This treatment has no tank mix; choose one in the plan.",
            number=number,
        )
    plots = [p for p in measured_plots(trial) if p.get("treatment") == number]
    if not any(p.get("bench") for p in plots):
        raise TrialError("trials.no_bench", "Say in the plan on which bench the plots stand.")
    extra = _overage(trial, overage_pct)
    each = trial.get("plot_area") if area_m2 is None else None
    places: dict[tuple[str, str | None], int] = {}
    for plot in plots:
        if plot.get("bench"):
            at = (plot["bench"], plot.get("lot"))
            places[at] = places.get(at, 0) + 1
    n_plants = int(trial.get("plants_per_plot") or 1)
    found = tuple(
        AskedPlace(
            bench, lot,
            _times(each, n) if each else _share(area_m2, n, len(plots)),
            n * n_plants,
        )
        for (bench, lot), n in places.items()
    )  # fmt: skip
    notes: list[tuple[str, dict[str, Any]]] = [
        ("trial_papers.mixed_for",
         {"code": str(trial.get("code") or ""), "number": number, "n": len(plots)}),
    ]  # fmt: skip
    if each:
        notes.append(("trial_papers.plot_area", {"n": len(plots), "area": each}))
    elif area_m2 is None and _goes_by_area(db, establishment, treatment["tank_mix"]):
        notes.append(("trial_papers.no_plot_area", {}))
    own = trial.get("overage") or overage_pct is not None
    notes.append(("trial_papers.overage" if own else "trial_papers.overage_usual", {"pct": extra}))
    return AskedSheet(
        tank_mix=treatment["tank_mix"], places=found, tank={"value": tank_l, "unit": "L"},
        extra=extra, notes=tuple(notes),
    )  # fmt: skip


def _goes_by_area(db: DbSession, establishment: str, mix: str) -> bool:
    found = record_rows.load(db, establishment, [("tank_mix", mix)]).get(("tank_mix", mix))
    return found is not None and bool(found.fields.get("volume_per_area"))


def _overage(trial: dict[str, Any], asked_pct: float | None) -> Quantity:
    if asked_pct is not None:
        return {"value": f"{asked_pct:g}", "unit": "%"}
    return trial.get("overage") or {"value": f"{USUAL_OVERAGE_PCT:g}", "unit": "%"}


def _times(each: Quantity, n: int) -> Quantity:
    return {"value": f"{Decimal(each['value']) * n:f}", "unit": each["unit"]}


def _share(area_m2: str | None, n: int, of: int) -> Quantity | None:
    """Return the part of an area that was typed for all plots which falls to some of them."""
    if area_m2 is None:
        return None
    return {"value": decimal_text(float(area_m2) * n / of, 4), "unit": "m2"}


def _laid_out(db: DbSession, establishment: str, trial_id: str) -> dict[str, Any]:
    trial = load_trial(db, establishment, trial_id).fields
    if not measured_plots(trial):
        raise TrialError("trials.no_layout", "This trial has no layout yet; draw one first.")
    return trial


def _head(of: LaidOut, title: str, under: tuple[str, ...]) -> SheetHead:
    code = str(of.trial.get("code", ""))
    return SheetHead(
        title=f"{code} · {of.trial.get('title', '')}",
        under=(" · ".join(x for x in (of.words.text(title), of.place) if x), *under),
        foot=f"{of.business} · {code} · {of.day}",
        business=of.business,
        language=of.words.language,
        paper=str(of.own.get("paper") or "a4"),
    )
