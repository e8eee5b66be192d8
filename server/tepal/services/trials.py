"""Planning a trial: a layout by chance, and what a trial of that size can find.

Reads the book, never writes: a layout goes back to the office, which saves it as an entry. Called
by the API for a person in the office. Seeds come from the app's random source.
"""

from __future__ import annotations

import dataclasses
from typing import TYPE_CHECKING, Any, Final

from tepal.designs.benches import Bench
from tepal.designs.layouts import Layout, Plot, lay_out
from tepal.designs.potting import pot_on
from tepal.designs.sizes import SizeQuestion, size_answer
from tepal.designs.specs import DesignSpec, Factor, Treatment
from tepal.domain.errors import NotFoundError, TepalError
from tepal.store import records as record_rows

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from sqlalchemy.orm import Session as DbSession

    from tepal.domain.errors import Finding
    from tepal.services.server_acts import Chance
    from tepal.sync.entry import Entry
    from tepal.sync.merge import RecordState

KIND_OF: Final = {
    "crd": "completely_randomised",
    "rcbd": "randomised_complete_block",
    "latin_square": "latin_square",
    "split_plot": "split_plot",
}
DEFAULT_PLANT_CV_PCT: Final = 0.0
TREATED: Final = "trial_treated"  # why a new layout waits for a grower


class TrialError(TepalError, ValueError):
    """A trial that cannot be done as asked; codes `trials.*`."""


@dataclasses.dataclass(frozen=True, slots=True)
class AskedLayout:
    """What the planner asks for; `bench` counts cells (rows, columns, guards, cells out of use)."""

    design: str
    treatments: tuple[Mapping[str, Any], ...]
    n_blocks: int
    plants_per_plot: int = 1
    factors: tuple[str, ...] = ()
    whole_plot_factors: tuple[str, ...] = ()
    bench: Mapping[str, Any] | None = None
    seed: int | None = None


def layout_of(asked: AskedLayout, chance: Chance) -> dict[str, Any]:
    """Return seed, algorithm and plots (as fields of the trial record) for what was asked.

    Raises
    ------
    DesignError, BenchError, OutOfRangeError   Codes `designs.*`.
    """
    layout = lay_out(_spec(asked), seed_of(asked.seed, chance))
    return {
        "design": asked.design,
        "n_blocks": asked.n_blocks,
        "plants_per_plot": asked.plants_per_plot,
        "rows": layout.bench.n_rows,
        "columns": layout.bench.n_columns,
        "seed": str(layout.seed),
        "algorithm": layout.algorithm,
        "plots": plot_rows(layout),
    }


def may_randomise(db: DbSession, establishment: str, trial_id: str, reason: str) -> None:
    """Refuse a new layout of a trial that was treated, or one without a reason.

    Raises
    ------
    TrialError   `trials.already_treated`, `trials.reason_missing`.
    """
    found = record_rows.load(db, establishment, [("trial", trial_id)])
    trial = found.get(("trial", trial_id))
    if trial is None or not trial.fields.get("plots"):
        return  # planned on this device and never laid out: nothing to replace
    treated = applications_of(db, establishment, trial_id)
    if treated:
        raise TrialError(
            "trials.already_treated",
            "This trial was treated; a new layout would no longer say which plot got what. Plan a "
            "new trial, or record what went wrong on the application.",
            n=len(treated),
        )
    if not reason.strip():
        raise TrialError(
            "trials.reason_missing",
            "Say why the layout is drawn anew; the reason is kept with the trial.",
        )


def applications_of(db: DbSession, establishment: str, trial_id: str) -> list[RecordState]:
    """Return the applications of a trial that are not void, oldest first."""
    return [
        one
        for one in record_rows.load_all(db, establishment, "application")
        if one.fields.get("trial") == trial_id and one.state != "void"
    ]


class LayoutGate:
    """Judges new layouts in one push, as `may_randomise` does where a layout is asked for here.

    A phone may draw one without having heard of the application of another.
    """

    def __init__(self, db: DbSession, establishment: str) -> None:
        self.db = db
        self.establishment = establishment

    def reason(self, entry: Entry, current: RecordState | None) -> str | None:
        """Return why a change of a trial's plots waits, or None where it may take effect."""
        was = _treatments_by_plot(current.fields.get("plots") if current else None)
        if not was or was == _treatments_by_plot(entry.changes["plots"].to):
            return None
        treated = applications_of(self.db, self.establishment, entry.record)
        return TREATED if treated else None


def _treatments_by_plot(plots: Any) -> dict[Any, Any]:
    return {p["plot"]: p.get("treatment") for p in plots or () if p.get("plot")}


def potted_layout(
    db: DbSession,
    establishment: str,
    trial_id: str,
    bench: Mapping[str, Any],
    kept: Sequence[tuple[int, int]] | None,
    seed: int | None,
    chance: Chance,
) -> dict[str, Any]:
    """Return the layout of the trial that follows when a trial's plants are potted on.

    Every plant becomes a plot of one plant at a new random place, and keeps its origin
    ("plot.plant"): the place it had as a liner, also when it is moved a second time, so that the
    plots that were treated stay the experimental units.

    Raises
    ------
    NotFoundError   `trials.no_such_trial`.
    TrialError      `trials.no_layout`.
    DesignError     `designs.plant_unknown`, `designs.no_plants`; BenchError.
    """
    trial = load_trial(db, establishment, trial_id)
    layout = stored_layout(trial.fields)
    potted = pot_on(layout, _bench(bench), seed_of(seed, chance), kept)
    n_blocks = layout.spec.n_blocks
    whole = {p.number: p.whole_plot for p in layout.plots}
    was = {int(p["plot"]): str(p["origin"]) for p in trial.fields["plots"] if p.get("origin")}
    return {
        "design": trial.fields.get("design", "crd"),
        "n_blocks": n_blocks or trial.fields.get("n_blocks", 1),
        "plants_per_plot": 1,
        "rows": potted.bench.n_rows,
        "columns": potted.bench.n_columns,
        "seed": str(potted.seed),
        "algorithm": potted.algorithm,
        "plots": [
            {
                "plot": plant.number,
                "code": f"{plant.number:03d}",
                "row": plant.row,
                "column": plant.column,
                "treatment": plant.treatment,
                "origin": was.get(plant.origin_plot) or f"{plant.origin_plot}.{plant.origin_plant}",
                **({} if plant.block is None else {"block": plant.block}),
                **(
                    {}
                    if whole[plant.origin_plot] is None
                    else {"whole_plot": whole[plant.origin_plot]}
                ),
            }
            for plant in potted.plants
        ]
        + [{"guard": True, "row": r, "column": c} for r, c in potted.bench.guards()],
    }


def load_trial(db: DbSession, establishment: str, trial_id: str) -> RecordState:
    """Return a trial.

    Raises
    ------
    NotFoundError   `trials.no_such_trial`.
    """
    found = record_rows.load(db, establishment, [("trial", trial_id)]).get(("trial", trial_id))
    if found is None:
        raise NotFoundError(
            "trials.no_such_trial", "The office does not know this trial. Send it, then try again."
        )
    return found


def stored_layout(fields: Mapping[str, Any]) -> Layout:
    """Return a trial's stored plots as a `Layout`; the plots count, not what the seed would give.

    Raises
    ------
    TrialError   `trials.no_layout`.
    """
    plots = measured_plots(fields)
    if not plots:
        raise TrialError("trials.no_layout", "This trial has no layout yet; draw one first.")
    design = str(fields.get("design") or "crd")
    spec = _spec(
        AskedLayout(
            design=design,
            treatments=tuple(fields.get("treatments") or ()),
            n_blocks=int(fields.get("n_blocks") or 1),
            plants_per_plot=int(fields.get("plants_per_plot") or 1),
            factors=tuple(fields.get("factors") or ()) if design == "split_plot" else (),
            whole_plot_factors=tuple((fields.get("factors") or ())[:1])
            if design == "split_plot"
            else (),
            bench={"rows": fields.get("rows") or 1, "columns": fields.get("columns") or len(plots)},
        )
    )
    return Layout(
        spec,
        int(fields.get("seed") or 0),
        tuple(
            Plot(
                int(p["plot"]),
                int(p.get("row") or 1),
                int(p.get("column") or 1),
                int(p["treatment"]),
                p.get("block"),
                p.get("whole_plot"),
            )
            for p in plots
        ),
        str(fields.get("algorithm") or ""),
    )


def measured_plots(fields: Mapping[str, Any]) -> list[dict[str, Any]]:
    """Return the plots of a trial without its guards, in walking order."""
    plots = [p for p in fields.get("plots") or () if not p.get("guard") and p.get("plot")]
    return sorted(plots, key=lambda p: int(p["plot"]))


def size_view(asked: Mapping[str, Any]) -> dict[str, Any]:
    """Return what a trial of this size can find, as JSON.

    Parameters
    ----------
    asked : comparison ("control" | "pairs"), n_treatments, n_replicates, difference_pct,
            plot_cv_pct, design, plants_per_plot, plant_cv_pct, alpha, power

    Raises
    ------
    DesignError   `designs.size_out_of_range`, `designs.no_error_df`.
    """
    kind = KIND_OF.get(str(asked["design"]), "randomised_complete_block")
    if kind == "split_plot":  # asked as blocks with the spread between whole plots
        kind = "randomised_complete_block"
    question = SizeQuestion(
        comparison=asked["comparison"],
        n_treatments=asked["n_treatments"],
        difference_pct=asked["difference_pct"],
        plot_cv_pct=asked["plot_cv_pct"],
        plant_cv_pct=asked.get("plant_cv_pct", DEFAULT_PLANT_CV_PCT),
        plants_per_plot=asked.get("plants_per_plot", 1),
        kind=kind,  # type: ignore[arg-type]
        alpha=asked.get("alpha", 0.05),
        power=asked.get("power", 0.8),
    )
    answer = size_answer(question, asked["n_replicates"])
    return {
        "power": answer.power,
        "detectable_pct": answer.detectable_pct,
        "needed_replicates": answer.needed_replicates,
        "df_error": answer.df_error,
        "findings": [finding_json(one) for one in answer.findings],
    }


def finding_json(one: Finding) -> dict[str, Any]:
    """Return a finding as JSON."""
    return {
        "code": one.code,
        "severity": one.severity,
        "message": one.message,
        "source": one.source,
        "context": dict(one.context),
    }


def plot_rows(layout: Layout) -> list[dict[str, Any]]:
    """Return the plots of a layout as fields of the trial record, then its guard cells."""
    places: dict[int | None, int] = {}
    rows = []
    for plot in layout.plots:
        places[plot.block] = places.get(plot.block, 0) + 1
        row: dict[str, Any] = {
            "plot": plot.number,
            "code": _code(plot, places[plot.block]),
            "row": plot.row,
            "column": plot.column,
            "treatment": plot.treatment,
        }
        if plot.block is not None:
            row["block"] = plot.block
        if plot.whole_plot is not None:
            row["whole_plot"] = plot.whole_plot
        rows.append(row)
    rows += [{"guard": True, "row": r, "column": c} for r, c in layout.bench.guards()]
    return rows


def _code(plot: Plot, place: int) -> str:
    """Return "305" for the fifth plot of block 3, "1205" of block 12; without blocks, the number.

    It says where the plot stands, never what it was given.
    """
    return f"{plot.number:03d}" if plot.block is None else f"{plot.block}{place:02d}"


def _spec(asked: AskedLayout) -> DesignSpec:
    kind = KIND_OF.get(asked.design)
    if kind is None:
        raise TrialError(
            "trials.design_unknown",
            f"Design {asked.design!r} is not known; choose one of {', '.join(KIND_OF)}.",
            design=asked.design,
        )
    if kind == "split_plot" and asked.n_blocks < 2:
        kind = "split_plot_completely_randomised"
    factors = asked.factors if kind.startswith("split_plot") else ()
    treatments = tuple(
        Treatment(
            int(row["number"]),
            str(row.get("name") or f"{row['number']}"),
            tuple(_levels(row, factors)),
            int(row.get("multiple") or 1),
        )
        for row in sorted(asked.treatments, key=lambda row: int(row["number"]))
    )
    return DesignSpec(
        kind=kind,  # type: ignore[arg-type]
        treatments=treatments,
        n_replicates=asked.n_blocks,
        plants_per_plot=asked.plants_per_plot,
        factors=tuple(
            Factor(name, tuple(dict.fromkeys(t.levels[i] for t in treatments if t.levels)))
            for i, name in enumerate(factors)
        ),
        whole_plot_factors=asked.whole_plot_factors,
        bench=None if asked.bench is None else _bench(asked.bench),
    )


def _levels(row: Mapping[str, Any], factors: Sequence[str]) -> list[str]:
    named = {str(x.get("factor")): str(x.get("level")) for x in row.get("levels") or ()}
    return [named.get(name, "") for name in factors] if named else []


def _bench(asked: Mapping[str, Any]) -> Bench:
    return Bench(
        n_rows=int(asked["rows"]),
        n_columns=int(asked["columns"]),
        guard_rows=int(asked.get("guard_rows") or 0),
        guard_columns=int(asked.get("guard_columns") or 0),
        out_of_use=tuple((int(r), int(c)) for r, c in asked.get("out_of_use") or ()),
        block_rows=asked.get("block_rows"),
        block_columns=asked.get("block_columns"),
    )


def seed_of(asked: int | None, chance: Chance) -> int:
    """Return the seed that was asked for, else one drawn by chance."""
    if asked is not None:
        return asked
    # 53 bits: seeds travel as JSON numbers, which are exact only below 2**53
    return int.from_bytes(chance.random_bytes(7), "big") % 2**53
