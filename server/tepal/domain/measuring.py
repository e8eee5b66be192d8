"""Measurable amounts: which instrument of the house, what it reads, and the error that leaves.

Twin: web/app/core/measuring.js. An amount is measured well by an instrument when half a division is
no more than the allowed error of it; where no instrument does, a two-step dilution makes the amount
larger. Instruments are records of the house:
`{id, name, resolution {value, unit}, capacity {value, unit}}`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from tepal.domain.errors import TepalError, text_of
from tepal.domain.ranges import positive, positive_up_to
from tepal.domain.rounding import (
    NumberFormat,
    decimals_of,
    for_measuring,
    format_quantity,
)
from tepal.domain.units import from_base, quantity_value, to_base, unit_of

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

__all__ = [
    "DEFAULT_MAX_ERROR_PCT",
    "MAX_FILLS",
    "Instrument",
    "InstrumentError",
    "MeasuredAmount",
    "TwoStep",
    "instruments_of",
    "measured_amount",
    "two_step_dilution",
]

# Own proposal, no source: half a division may be 5 % of the amount, so at least ten divisions.
DEFAULT_MAX_ERROR_PCT = 5.0
# Own proposal, no source: nobody should fill a cylinder more often than this for one tank.
MAX_FILLS = 10
_FACTORS = (10.0, 20.0, 50.0, 100.0, 200.0, 500.0, 1000.0)
_MAX_STOCK_ML = 10000.0


class InstrumentError(TepalError, ValueError):
    """A record of a measuring instrument contradicts itself."""


@dataclass(frozen=True, slots=True)
class Instrument:
    """A cylinder, syringe, balance or other measure; resolution and capacity in its own unit."""

    id: str
    name: str
    dimension: str
    unit: str
    resolution: float
    capacity: float


@dataclass(frozen=True, slots=True)
class MeasuredAmount:
    """What to read on an instrument for an exact amount.

    `amount` in `unit`; `amount_base` in mL or g; `error_pct` is how far the reading lies from the
    exact amount, `reading_error_pct` half a division (once per fill) in per cent of it.
    """

    instrument_id: str
    instrument_name: str
    amount: float
    unit: str
    n_decimals: int
    text: str
    n_fills: int
    amount_base: float
    error_pct: float
    reading_error_pct: float
    is_measurable: bool


@dataclass(frozen=True, slots=True)
class TwoStep:
    """First `product` made up with water to `stock_ml`, then `aliquot` of that into the tank."""

    factor: float
    product: MeasuredAmount
    stock_ml: float
    stock_text: str
    aliquot: MeasuredAmount
    stock_left_ml: float
    error_pct: float


def instruments_of(records: Sequence[Mapping[str, Any]]) -> tuple[Instrument, ...]:
    """Return the instruments of the house from their records.

    Raises `InstrumentError` (`instrument.capacity_below_resolution`), `UnitError`,
    `OutOfRangeError`.
    """
    found: list[Instrument] = []
    for number, record in enumerate(records, start=1):
        resolution = record.get("resolution")
        unit = unit_of(resolution.get("unit") if isinstance(resolution, dict) else None)
        dimension = "mass" if unit.dimension == "mass" else "volume"
        step = quantity_value(resolution, dimension, "resolution")
        capacity = quantity_value(record.get("capacity"), dimension, "capacity")
        instrument = Instrument(
            text_of(record.get("id")) or str(number),
            text_of(record.get("name")) or text_of(record.get("id")) or str(number),
            dimension,
            unit.code,
            from_base(positive(step, "resolution"), unit.code),
            from_base(positive(capacity, "capacity"), unit.code),
        )
        if instrument.capacity < instrument.resolution:
            raise InstrumentError(
                "instrument.capacity_below_resolution",
                f"{instrument.name}: the capacity is smaller than one division.",
                name=instrument.name,
            )
        found.append(instrument)
    return tuple(found)


def _reading(exact_base: float, instrument: Instrument) -> tuple[float, int, float] | None:
    """Return (amount, fills, half a division in per cent); None where it cannot be read."""
    exact = from_base(exact_base, instrument.unit)
    amount = for_measuring(exact, instrument.resolution)
    # HAZARD: 1.1 / 0.1 is 11.000000000000002; a billionth is no further fill.
    n_fills = math.ceil(amount / instrument.capacity - 1e-9)
    if amount == 0 or n_fills > MAX_FILLS:
        return None
    return (amount, n_fills, instrument.resolution / 2 * n_fills / exact * 100)


def _measured(
    exact_base: float,
    instrument: Instrument,
    reading: tuple[float, int, float],
    max_error_pct: float,
    number_format: NumberFormat,
) -> MeasuredAmount:
    amount, n_fills, reading_error_pct = reading
    exact = from_base(exact_base, instrument.unit)
    n_decimals = decimals_of(instrument.resolution)
    return MeasuredAmount(
        instrument.id,
        instrument.name,
        amount,
        instrument.unit,
        n_decimals,
        format_quantity(amount, instrument.unit, number_format, n_decimals),
        n_fills,
        to_base(amount, instrument.unit),
        (amount - exact) / exact * 100,
        reading_error_pct,
        reading_error_pct <= max_error_pct,
    )


def measured_amount(
    exact_base: float,
    dimension: str,
    instruments: Sequence[Instrument],
    max_error_pct: float,
    number_format: NumberFormat,
) -> MeasuredAmount | None:
    """Return what to read for an exact amount on the best instrument; None where none can.

    Parameters
    ----------
    exact_base : float, mL (dimension 'volume') or g (dimension 'mass'), > 0
    instruments : the house's instruments; those of another dimension are passed over.
    max_error_pct : float, %, > 0 to 50    Half a division may be this much of the amount.

    Notes
    -----
    Best: measures well before poorly, then fewest fills, then the smallest half division, then the
    order of the list. The reading lies at most half a division from the exact amount.
    """
    exact = positive(exact_base, "exact_base")
    allowed = positive_up_to(max_error_pct, "max_error_pct", 50)
    best: tuple[Instrument, tuple[float, int, float]] | None = None
    for instrument in instruments:
        if instrument.dimension != dimension:
            continue
        reading = _reading(exact, instrument)
        if reading is not None and (best is None or _is_better(reading, best[1], allowed)):
            best = (instrument, reading)
    return None if best is None else _measured(exact, best[0], best[1], allowed, number_format)


def _is_better(
    reading: tuple[float, int, float], best: tuple[float, int, float], allowed: float
) -> bool:
    _, n_fills, error = reading
    _, best_n_fills, best_error = best
    if (error <= allowed) != (best_error <= allowed):
        return error <= allowed
    if n_fills != best_n_fills:
        return n_fills < best_n_fills
    return error < best_error


def _stock_product(
    exact_base: float,
    factor: float,
    dimension: str,
    instruments: Sequence[Instrument],
    max_error_pct: float,
    number_format: NumberFormat,
) -> MeasuredAmount | None:
    """Return the smallest 1, 2 or 5 x 10^k that covers the amount and is read without rounding."""
    best: tuple[float, Instrument, tuple[float, int, float]] | None = None
    for instrument in instruments:
        if instrument.dimension != dimension:
            continue
        for power in range(-3, 5):
            for digit in (1, 2, 5):
                nice = float(f"{digit}e{power}")
                base = to_base(nice, instrument.unit)
                if (
                    nice > instrument.capacity
                    or base < exact_base * 1.1
                    or base * factor > _MAX_STOCK_ML
                    or (best is not None and base >= best[0])
                    or for_measuring(nice, instrument.resolution) != nice
                ):
                    continue
                reading = _reading(base, instrument)
                if reading is not None and reading[2] <= max_error_pct:
                    best = (base, instrument, reading)
    if best is None:
        return None
    return _measured(best[0], best[1], best[2], max_error_pct, number_format)


def two_step_dilution(
    exact_base: float,
    dimension: str,
    instruments: Sequence[Instrument],
    max_error_pct: float,
    number_format: NumberFormat,
) -> TwoStep | None:
    """Return a dilution in two measurable steps for an amount too small to measure; None if none.

    Step 1: measure `product` and make it up with water to `stock_ml` (1 mL or g in `factor` mL).
    Step 2: measure `aliquot` of that stock into the tank. The smallest factor of 10, 20, 50 ...
    1000 that works is taken; `error_pct` is the error of step 2, step 1 being read exactly.
    """
    exact = positive(exact_base, "exact_base")
    for factor in _FACTORS:
        aliquot = measured_amount(
            exact * factor, "volume", instruments, max_error_pct, number_format
        )
        if aliquot is None or not aliquot.is_measurable:
            continue
        product = _stock_product(
            exact, factor, dimension, instruments, max_error_pct, number_format
        )
        if product is None:
            continue
        stock_ml = product.amount_base * factor
        return TwoStep(
            factor,
            product,
            stock_ml,
            format_quantity(stock_ml, "mL", number_format),
            aliquot,
            stock_ml - aliquot.amount_base,
            aliquot.error_pct,
        )
    return None
