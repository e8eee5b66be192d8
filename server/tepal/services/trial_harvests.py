"""Harvests of a trial: the plants are drawn by chance before anybody sees how they grew."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from tepal.designs.potting import draw_harvests
from tepal.services.trials import TrialError, measured_plots, seed_of

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from tepal.services.server_acts import Chance


def harvest_plants(
    fields: Mapping[str, Any], asked: Sequence[Mapping[str, Any]], seed: int | None, chance: Chance
) -> dict[str, Any]:
    """Return which plants each harvest takes, drawn by chance: no plant twice.

    Parameters
    ----------
    fields : of the trial, with its plots.
    asked : rows with `assessment`, `plants_per_plot`, `blocks` (texts; empty: all), in order of
            their days. After potting on, "per plot" is per liner plot.

    Returns
    -------
    {"seed": text, "harvests": [{"assessment", "plants": [{"plot", "plants": "2, 4"}]}]}

    Raises
    ------
    TrialError      `trials.no_layout`, `trials.harvest_too_large`.
    """
    plots = measured_plots(fields)
    if not plots:
        raise TrialError("trials.no_layout", "This trial has no layout yet; draw one first.")
    drawn = seed_of(seed, chance)
    units: dict[Any, list[tuple[int, int]]] = {}
    block_of = {}
    for plot in plots:
        unit = str(plot.get("origin") or plot["plot"]).partition(".")[0]
        n = 1 if plot.get("origin") else int(fields.get("plants_per_plot") or 1)
        units.setdefault(unit, []).extend((int(plot["plot"]), k) for k in range(1, n + 1))
        block_of[unit] = str(plot.get("block") or "")
    taken = draw_harvests(
        [(block_of[u], plants) for u, plants in units.items()],
        [(int(h["plants_per_plot"]), tuple(h.get("blocks") or ())) for h in asked],
        drawn,
    )
    found = []
    for one, plants in zip(asked, taken, strict=True):
        by_plot: dict[int, list[int]] = {}
        for plot_number, k in plants:
            by_plot.setdefault(plot_number, []).append(k)
        found.append(
            {
                "assessment": one["assessment"],
                "plants": [
                    {"plot": n, "plants": ", ".join(map(str, ks))} for n, ks in by_plot.items()
                ],
            }
        )
    return {"seed": str(drawn), "harvests": found}


def plants_of(fields: Mapping[str, Any], plot: int, assessment: str | None) -> list[int]:
    """Return the plants of a plot that stand at an assessment, or those that it harvests.

    Twin: `plantsOf` in web/app/state/measure.js.
    """
    plants = list(range(1, int(fields.get("plants_per_plot") or 1) + 1))
    days = {a.get("code"): int(a.get("day") or 0) for a in fields.get("assessments") or ()}
    own, is_harvest, gone = set(), False, set()
    for row in fields.get("harvests") or ():
        taken = {
            int(k)
            for p in row.get("plants") or ()
            if p.get("plot") == plot
            for k in str(p.get("plants") or "").replace(",", " ").split()
            if k.isdecimal()
        }
        if row.get("assessment") == assessment and row.get("plants"):
            is_harvest = True
            own |= taken
        elif days.get(row.get("assessment"), 0) < days.get(assessment, -(10**6)):
            gone |= taken
    return [k for k in plants if (k in own if is_harvest else k not in gone)]
