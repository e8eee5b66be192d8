"""What a treatment costs and saves per plant, in the grower's own prices.

Bench cost of the delay against labour saved and value added. The interval carries the delay's
uncertainty; prices are taken as given.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from tepal.designs.trial import TrialData
    from tepal.services.trial_analysis import CellAnalysis


@dataclass(frozen=True, slots=True)
class TradeOff:
    """One treatment against the control, per plant, in the trial's currency."""

    treatment: int
    delay_days: float
    lower: float | None
    upper: float | None
    bench_cost: float
    bench_cost_lower: float | None
    bench_cost_upper: float | None
    labour_saved: float
    plant_value: float
    treatment_cost: float
    balance: float
    balance_lower: float | None
    balance_upper: float | None


def trade_offs(data: TrialData, cells: tuple[CellAnalysis, ...]) -> list[TradeOff]:
    """Return the trade-off of each treatment with a delay; [] without days or without prices."""
    prices = data.prices
    if prices.bench_day is None or not any((prices.labour_saved, prices.plant_value)):
        return []
    saved, worth = prices.labour_saved or 0.0, prices.plant_value or 0.0
    spent = prices.treatment_cost or 0.0
    found = []
    roles = {t.number: t.role for t in data.treatments}
    for c in cells:
        comparison = c.result.comparison
        if data.measurement(c.measurement).type != "days" or comparison is None:
            continue
        for e in comparison.comparisons:
            if e.value is None or e.pair is None or comparison.control is None:
                continue
            if roles[int(e.pair[0])] in ("untreated", "water", "blank"):
                continue  # nothing was gained there that could be weighed
            cost, low, high = (
                None if x is None else x * prices.bench_day for x in (e.value, e.lower, e.upper)
            )
            gain = saved + worth - spent
            found.append(
                TradeOff(
                    treatment=int(e.pair[0]),
                    delay_days=e.value,
                    lower=e.lower,
                    upper=e.upper,
                    bench_cost=cost or 0.0,
                    bench_cost_lower=low,
                    bench_cost_upper=high,
                    labour_saved=saved,
                    plant_value=worth,
                    treatment_cost=spent,
                    balance=gain - (cost or 0.0),
                    balance_lower=None if high is None else gain - high,
                    balance_upper=None if low is None else gain - low,
                )
            )
        break
    return found
