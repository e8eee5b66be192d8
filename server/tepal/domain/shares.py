"""What each bench, lot and plant gets: volume, and mass of each active ingredient.

Twin: web/app/core/shares.js. A mass per area, container or plant is there only where every line of
the lot says its area, containers or plants: a partial sum would understate the dose.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from tepal.domain.amounts import AmountText, amount_text
from tepal.domain.errors import UnitError, text_of
from tepal.domain.ranges import not_negative
from tepal.domain.units import quantity_value, unit_of

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from tepal.domain.components import Rate
    from tepal.domain.lines import Line
    from tepal.domain.rounding import NumberFormat

__all__ = [
    "AiShare",
    "LineShare",
    "LotTotal",
    "ai_shares",
    "line_shares",
    "lot_totals",
    "season_before",
]


@dataclass(frozen=True, slots=True)
class AiShare:
    """Active ingredient: concentration, mass, and mass per area, container and plant if known.

    The `season_*` figures add what the lot had before in this season; None where nothing is on file
    or the basis is not known.
    """

    component_id: str
    ai: str
    expressed_as: str
    mg_per_l: float
    mg: float
    mg_per_m2: float | None
    mg_per_container: float | None
    mg_per_plant: float | None
    season_mg_per_m2: float | None
    season_mg_per_container: float | None
    season_mg_per_plant: float | None


@dataclass(frozen=True, slots=True)
class LineShare:
    """What one bench and lot gets."""

    id: str
    bench: str | None
    lot: str | None
    volume_l: float
    volume_text: AmountText
    ais: tuple[AiShare, ...]


@dataclass(frozen=True, slots=True)
class LotTotal:
    """What one lot gets over all its lines."""

    lot: str
    volume_l: float
    ais: tuple[AiShare, ...]


def ai_shares(
    rates: Sequence[Rate],
    volume_l: float,
    area_m2: float | None = None,
    n_containers: int | None = None,
    n_plants: int | None = None,
    season: Mapping[str, float] | None = None,
    lot: str | None = None,
) -> tuple[AiShare, ...]:
    """Return the mass of every active ingredient in `volume_l` of final solution.

    `season` is what `season_before` returned; the lot's own figures are looked up in it.
    """
    shares: list[AiShare] = []
    before = season or {}
    for rate in rates:
        for ai in rate.ais:
            mg = ai.mg_per_l * volume_l
            per_m2 = None if area_m2 is None else mg / area_m2
            per_container = None if n_containers is None else mg / n_containers
            per_plant = None if n_plants is None else mg / n_plants
            key = _season_key(lot, ai.ai, ai.expressed_as)
            shares.append(
                AiShare(
                    rate.id,
                    ai.ai,
                    ai.expressed_as,
                    ai.mg_per_l,
                    mg,
                    per_m2,
                    per_container,
                    per_plant,
                    _added(before.get(key + "m2"), per_m2),
                    _added(before.get(key + "container"), per_container),
                    _added(before.get(key + "plant"), per_plant),
                )
            )
    return tuple(shares)


def line_shares(
    lines: Sequence[Line],
    rates: Sequence[Rate],
    season: Mapping[str, float],
    number_format: NumberFormat,
) -> tuple[LineShare, ...]:
    """Return what every bench and lot gets."""
    return tuple(
        LineShare(
            line.id,
            line.bench,
            line.lot,
            line.volume_l,
            amount_text(line.volume_l * 1000, "volume", number_format),
            ai_shares(
                rates,
                line.volume_l,
                line.area_m2,
                line.n_containers,
                line.n_plants,
                season,
                line.lot,
            ),
        )
        for line in lines
    )


def _added(before: float | None, now: float | None) -> float | None:
    return None if before is None or now is None else before + now


def _season_key(lot: str | None, ai: str, expressed_as: str) -> str:
    return f"{lot}\n{ai}\n{expressed_as}\n"


_ITEM_BASES = {
    "mg/{pot}": "container",
    "ug/{pot}": "container",
    "mg/{bulb}": "container",
    "mg/{plant}": "plant",
}


def season_before(records: Sequence[Mapping[str, Any]]) -> dict[str, float]:
    """Return what lots had before in this season, in mg by lot, a.i. and basis.

    Parameters
    ----------
    records : sequence of mapping
        `lot`, `ai`, `expressed_as` (default 'as_labelled') and `amount` {value, unit}, per area,
        per container or per plant. Several records of one lot, a.i. and basis are added.

    Raises
    ------
    UnitError         `season.unit` where the amount is not a mass per area, container or plant.
    OutOfRangeError   An amount is below zero.
    """
    before: dict[str, float] = {}
    for record in records:
        amount = record.get("amount")
        unit = unit_of(amount.get("unit") if isinstance(amount, dict) else None)
        basis = "m2" if unit.dimension == "mass_per_area" else _ITEM_BASES.get(unit.code)
        if basis is None:
            raise UnitError(
                "season.unit",
                f"{unit.code} is no mass per area, container or plant.",
                unit=unit.code,
            )
        mg = not_negative(quantity_value(amount, unit.dimension, "season"), "season")
        expressed_as = text_of(record.get("expressed_as")) or "as_labelled"
        key = (
            _season_key(text_of(record.get("lot")), text_of(record.get("ai")), expressed_as) + basis
        )
        before[key] = before.get(key, 0.0) + mg
    return before


def lot_totals(
    lines: Sequence[Line], rates: Sequence[Rate], season: Mapping[str, float]
) -> tuple[LotTotal, ...]:
    """Return what every named lot gets over all its lines, in the order the lots appear."""
    totals: list[LotTotal] = []
    for lot in dict.fromkeys(line.lot for line in lines if line.lot is not None):
        own = [line for line in lines if line.lot == lot]
        volume_l = 0.0
        for line in own:
            volume_l += line.volume_l
        totals.append(
            LotTotal(
                lot,
                volume_l,
                ai_shares(
                    rates,
                    volume_l,
                    _sum([line.area_m2 for line in own]),
                    _whole_sum([line.n_containers for line in own]),
                    _whole_sum([line.n_plants for line in own]),
                    season,
                    lot,
                ),
            )
        )
    return tuple(totals)


def _sum(values: Sequence[float | None]) -> float | None:
    """Return the sum, or None where one line does not say: a partial sum would understate."""
    total = 0.0
    for value in values:
        if value is None:
            return None
        total += value
    return total


def _whole_sum(values: Sequence[int | None]) -> int | None:
    total = _sum(values)
    return None if total is None else int(total)
