"""Tank loads: their volumes, and what to measure of each partner for each of them.

Twin: web/app/core/loads.js. Full loads share their amounts, the last partial one has its own.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from tepal.domain.amounts import AmountText, amount_text
from tepal.domain.errors import Finding, TepalError
from tepal.domain.measuring import (
    Instrument,
    MeasuredAmount,
    TwoStep,
    measured_amount,
    two_step_dilution,
)
from tepal.domain.ranges import positive

if TYPE_CHECKING:
    from collections.abc import Sequence

    from tepal.domain.components import Rate
    from tepal.domain.rounding import NumberFormat

__all__ = ["Load", "LoadAmount", "TankError", "load_findings", "loads_of", "tank_loads"]


class TankError(TepalError, ValueError):
    """The tank, the water or the loads do not fit together."""


@dataclass(frozen=True, slots=True)
class LoadAmount:
    """One partner in one load: exact amount in mL or g, what to measure, what that gives.

    `resulting_mg_per_l` is each a.i. in the final solution with the measured amount, in the order
    of the product's a.i.; it is empty, and `error_pct` None, where no instrument measures it.
    """

    component_id: str
    exact: float
    unit: str
    text: AmountText
    measured: MeasuredAmount | None
    two_step: TwoStep | None
    error_pct: float | None
    resulting_mg_per_l: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Load:
    """One tank load, or several equal ones (`numbers` counts them from 1)."""

    numbers: tuple[int, ...]
    volume_l: float
    volume_text: AmountText
    water_half_text: AmountText
    amounts: tuple[LoadAmount, ...]


def tank_loads(volume_l: float, capacity_l: float) -> tuple[float, ...]:
    """Return the volume of each tank load: full ones, then the partial rest.

    Parameters
    ----------
    volume_l, capacity_l : float, L, > 0

    Returns
    -------
    tuple of float, L; the sum is `volume_l`. A rest below a billionth of the tank is no load.

    Raises
    ------
    OutOfRangeError   An input is not positive.
    TankError         `tank.too_many_loads` (above 1000: a slip of unit).
    """
    volume = positive(volume_l, "volume_l")
    capacity = positive(capacity_l, "capacity_l")
    n_exact = volume / capacity
    if n_exact > 1000:
        raise TankError(
            "tank.too_many_loads",
            f"{volume!r} L in a tank of {capacity!r} L are more than 1000 loads; check the units.",
            volume_l=volume,
            capacity_l=capacity,
        )
    n_full = math.floor(n_exact + 1e-9)
    rest = volume - n_full * capacity
    if n_full > 0 and rest <= capacity * 1e-9:
        return (*([capacity] * (n_full - 1)), volume - (n_full - 1) * capacity)
    return (*([capacity] * n_full), rest)


def _load_amounts(
    rates: Sequence[Rate],
    factor: float,
    load_l: float,
    instruments: Sequence[Instrument],
    max_error_pct: float,
    number_format: NumberFormat,
) -> tuple[LoadAmount, ...]:
    amounts: list[LoadAmount] = []
    for rate in rates:
        exact = rate.amount_per_l * factor * load_l
        dimension = "mass" if rate.unit == "g" else "volume"
        measured = measured_amount(exact, dimension, instruments, max_error_pct, number_format)
        two_step = None
        if measured is None or not measured.is_measurable:
            two_step = two_step_dilution(
                exact, dimension, instruments, max_error_pct, number_format
            )
        best = two_step if two_step is not None else measured
        error_pct = None if best is None else best.error_pct
        amounts.append(
            LoadAmount(
                rate.id,
                exact,
                rate.unit,
                amount_text(exact, dimension, number_format),
                measured,
                two_step,
                error_pct,
                ()
                if error_pct is None
                else tuple(ai.mg_per_l * (1 + error_pct / 100) for ai in rate.ais),
            )
        )
    return tuple(amounts)


def loads_of(
    rates: Sequence[Rate],
    factor: float,
    volumes: Sequence[float],
    instruments: Sequence[Instrument],
    max_error_pct: float,
    number_format: NumberFormat,
) -> tuple[Load, ...]:
    """Return equal loads once: full ones share their amounts, the last partial one has its own."""
    loads: list[Load] = []
    start = 0
    while start < len(volumes):
        end = start + 1
        while end < len(volumes) and volumes[end] == volumes[start]:
            end += 1
        loads.append(
            Load(
                tuple(range(start + 1, end + 1)),
                volumes[start],
                amount_text(volumes[start] * 1000, "volume", number_format),
                amount_text(volumes[start] * 500, "volume", number_format),
                _load_amounts(
                    rates, factor, volumes[start], instruments, max_error_pct, number_format
                ),
            )
        )
        start = end
    return tuple(loads)


def load_findings(rates: Sequence[Rate], loads: Sequence[Load]) -> tuple[Finding, ...]:
    """Return a finding for every amount that the instruments on file do not measure well."""
    findings: list[Finding] = []
    names = {rate.id: rate.product_name for rate in rates}
    for load in loads:
        for amount in load.amounts:
            context = {
                "component": names[amount.component_id],
                "load": load.numbers[0],
                "last_load": load.numbers[-1],
            }
            if amount.two_step is not None:
                findings.append(
                    Finding(
                        "tank.amount_too_small",
                        "caution",
                        f"{names[amount.component_id]}: the amount is too small to measure well; "
                        "dilute it in two steps.",
                        "components",
                        None,
                        context,
                    )
                )
            elif amount.measured is None or not amount.measured.is_measurable:
                findings.append(
                    Finding(
                        "tank.amount_not_measurable",
                        "stop",
                        f"{names[amount.component_id]}: no instrument on file measures this amount "
                        "well enough.",
                        "instruments",
                        None,
                        context,
                    )
                )
    return tuple(findings)
