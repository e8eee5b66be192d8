"""Units of measure: one literal table with UCUM codes, and exact conversion between them.

Twin: web/app/core/units.js (the same rows in the same order; a vector lists every unit).
A unit's base value is `(value - offset) * numerator / denominator`, in the base unit of its
dimension. What a person typed stays as typed: `{"value": "1.05", "unit": "mL"}`, the value a
decimal text with '.', the unit a UCUM code.

Sources: UCUM 2.1 (codes and definitions); NIST Handbook 44 (2024) appendix C (exact US values:
gallon 231 in3, pound 453.59237 g, inch 2.54 cm); imperial gallon 4.54609 L (UK Units of Measurement
Regulations 1995). The US acre is UCUM's, 43 560 square survey feet (4 parts in a million larger
than 43 560 square international feet).
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any, NotRequired, TypedDict

from tepal.domain.errors import UnitError, text_of
from tepal.domain.ranges import finite

__all__ = [
    "UNITS",
    "Quantity",
    "Shown",
    "Unit",
    "convert",
    "decimal_value",
    "from_base",
    "quantity_value",
    "shown_in",
    "to_base",
    "unit_of",
]


class Quantity(TypedDict):
    """A number as a person typed it: decimal text with '.', and a UCUM unit code."""

    value: str
    unit: str
    of: NotRequired[str]


@dataclass(frozen=True, slots=True)
class Unit:
    """One row of the table; `system` is metric, us, imperial or any."""

    code: str
    dimension: str
    numerator: float
    denominator: float
    offset: float
    symbol: str
    system: str


@dataclass(frozen=True, slots=True)
class Shown:
    """A value in the unit that people of a system of measures read best."""

    value: float
    unit: str


# code, dimension, numerator, denominator, offset, symbol, system
_ROWS: tuple[tuple[str, str, float, float, float, str, str], ...] = (
    ("mL", "volume", 1, 1, 0, "mL", "metric"),
    ("uL", "volume", 1, 1000, 0, "µL", "metric"),
    ("cm3", "volume", 1, 1, 0, "cm³", "metric"),
    ("L", "volume", 1000, 1, 0, "L", "metric"),
    ("m3", "volume", 1000000, 1, 0, "m³", "metric"),
    ("[gal_us]", "volume", 3785.411784, 1, 0, "US gal", "us"),
    ("[qt_us]", "volume", 946.352946, 1, 0, "US qt", "us"),
    ("[pt_us]", "volume", 473.176473, 1, 0, "US pt", "us"),
    ("[cup_us]", "volume", 236.5882365, 1, 0, "US cup", "us"),
    ("[foz_us]", "volume", 29.5735295625, 1, 0, "fl oz", "us"),
    ("[tbs_us]", "volume", 14.78676478125, 1, 0, "tbsp", "us"),
    ("[tsp_us]", "volume", 4.92892159375, 1, 0, "tsp", "us"),
    ("[cin_i]", "volume", 16.387064, 1, 0, "in³", "us"),
    ("[gal_br]", "volume", 4546.09, 1, 0, "imp gal", "imperial"),
    ("[qt_br]", "volume", 1136.5225, 1, 0, "imp qt", "imperial"),
    ("[pt_br]", "volume", 568.26125, 1, 0, "imp pt", "imperial"),
    ("[foz_br]", "volume", 28.4130625, 1, 0, "imp fl oz", "imperial"),
    ("g", "mass", 1, 1, 0, "g", "metric"),
    ("mg", "mass", 1, 1000, 0, "mg", "metric"),
    ("ug", "mass", 1, 1000000, 0, "µg", "metric"),
    ("kg", "mass", 1000, 1, 0, "kg", "metric"),
    ("[oz_av]", "mass", 28.349523125, 1, 0, "oz", "us"),
    ("[lb_av]", "mass", 453.59237, 1, 0, "lb", "us"),
    ("m", "length", 1, 1, 0, "m", "metric"),
    ("mm", "length", 1, 1000, 0, "mm", "metric"),
    ("cm", "length", 1, 100, 0, "cm", "metric"),
    ("km", "length", 1000, 1, 0, "km", "metric"),
    ("[in_i]", "length", 0.0254, 1, 0, "in", "us"),
    ("[ft_i]", "length", 0.3048, 1, 0, "ft", "us"),
    ("[yd_i]", "length", 0.9144, 1, 0, "yd", "us"),
    ("[mi_i]", "length", 1609.344, 1, 0, "mi", "us"),
    ("m2", "area", 1, 1, 0, "m²", "metric"),
    ("cm2", "area", 1, 10000, 0, "cm²", "metric"),
    ("har", "area", 10000, 1, 0, "ha", "metric"),
    ("[sin_i]", "area", 0.00064516, 1, 0, "in²", "us"),
    ("[sft_i]", "area", 0.09290304, 1, 0, "ft²", "us"),
    ("[syd_i]", "area", 0.83612736, 1, 0, "yd²", "us"),
    ("[acr_us]", "area", 4046.872609874252, 1, 0, "acre", "us"),
    ("s", "time", 1, 1, 0, "s", "any"),
    ("min", "time", 60, 1, 0, "min", "any"),
    ("h", "time", 3600, 1, 0, "h", "any"),
    ("d", "time", 86400, 1, 0, "d", "any"),
    ("Cel", "temperature", 1, 1, 0, "°C", "metric"),
    ("[degF]", "temperature", 5, 9, 32, "°F", "us"),
    ("K", "temperature", 1, 1, 273.15, "K", "metric"),
    ("mg/L", "mass_concentration", 1, 1, 0, "mg/L", "any"),
    ("ug/L", "mass_concentration", 1, 1000, 0, "µg/L", "metric"),
    ("ug/mL", "mass_concentration", 1, 1, 0, "µg/mL", "metric"),
    ("mg/mL", "mass_concentration", 1000, 1, 0, "mg/mL", "metric"),
    ("g/L", "mass_concentration", 1000, 1, 0, "g/L", "metric"),
    ("g/(100.L)", "mass_concentration", 10, 1, 0, "g/100 L", "metric"),
    ("kg/L", "mass_concentration", 1000000, 1, 0, "kg/L", "metric"),
    ("g/mL", "mass_concentration", 1000000, 1, 0, "g/mL", "metric"),
    ("g/[gal_us]", "mass_concentration", 1000, 3.785411784, 0, "g/US gal", "us"),
    ("g/[foz_us]", "mass_concentration", 1000, 0.0295735295625, 0, "g/fl oz", "us"),
    ("mg/[qt_us]", "mass_concentration", 1, 0.946352946, 0, "mg/US qt", "us"),
    ("[oz_av]/[gal_us]", "mass_concentration", 28349.523125, 3.785411784, 0, "oz/US gal", "us"),
    (
        "[oz_av]/(100.[gal_us])",
        "mass_concentration",
        28349.523125,
        378.5411784,
        0,
        "oz/100 US gal",
        "us",
    ),
    ("[lb_av]/[qt_us]", "mass_concentration", 453592.37, 0.946352946, 0, "lb/US qt", "us"),
    ("[lb_av]/[gal_us]", "mass_concentration", 453592.37, 3.785411784, 0, "lb/US gal", "us"),
    (
        "[lb_av]/(100.[gal_us])",
        "mass_concentration",
        453592.37,
        378.5411784,
        0,
        "lb/100 US gal",
        "us",
    ),
    ("[lb_av]/[gal_br]", "mass_concentration", 453592.37, 4.54609, 0, "lb/imp gal", "imperial"),
    ("mg/g", "mass_fraction", 1, 1, 0, "mg/g", "metric"),
    ("g/kg", "mass_fraction", 1, 1, 0, "g/kg", "metric"),
    ("mL/L", "volume_ratio", 1, 1, 0, "mL/L", "metric"),
    ("uL/L", "volume_ratio", 1, 1000, 0, "µL/L", "metric"),
    ("mL/(100.L)", "volume_ratio", 1, 100, 0, "mL/100 L", "metric"),
    ("L/(100.L)", "volume_ratio", 10, 1, 0, "L/100 L", "metric"),
    ("mL/[gal_us]", "volume_ratio", 1, 3.785411784, 0, "mL/US gal", "us"),
    ("[tsp_us]/[gal_us]", "volume_ratio", 4.92892159375, 3.785411784, 0, "tsp/US gal", "us"),
    ("[tbs_us]/[gal_us]", "volume_ratio", 14.78676478125, 3.785411784, 0, "tbsp/US gal", "us"),
    ("[foz_us]/[gal_us]", "volume_ratio", 29.5735295625, 3.785411784, 0, "fl oz/US gal", "us"),
    (
        "[foz_us]/(100.[gal_us])",
        "volume_ratio",
        29.5735295625,
        378.5411784,
        0,
        "fl oz/100 US gal",
        "us",
    ),
    ("[pt_us]/(100.[gal_us])", "volume_ratio", 473.176473, 378.5411784, 0, "pt/100 US gal", "us"),
    ("[qt_us]/(100.[gal_us])", "volume_ratio", 946.352946, 378.5411784, 0, "qt/100 US gal", "us"),
    ("%", "fraction", 1, 1, 0, "%", "any"),
    ("mL/m2", "volume_per_area", 1, 1, 0, "mL/m²", "metric"),
    ("L/m2", "volume_per_area", 1000, 1, 0, "L/m²", "metric"),
    ("L/(100.m2)", "volume_per_area", 10, 1, 0, "L/100 m²", "metric"),
    ("L/har", "volume_per_area", 1, 10, 0, "L/ha", "metric"),
    ("[foz_us]/[sft_i]", "volume_per_area", 29.5735295625, 0.09290304, 0, "fl oz/ft²", "us"),
    ("[qt_us]/(100.[sft_i])", "volume_per_area", 946.352946, 9.290304, 0, "qt/100 ft²", "us"),
    ("[gal_us]/(100.[sft_i])", "volume_per_area", 3785.411784, 9.290304, 0, "gal/100 ft²", "us"),
    ("[gal_us]/(1000.[sft_i])", "volume_per_area", 3785.411784, 92.90304, 0, "gal/1000 ft²", "us"),
    ("[gal_us]/[acr_us]", "volume_per_area", 3785.411784, 4046.872609874252, 0, "gal/acre", "us"),
    ("mg/m2", "mass_per_area", 1, 1, 0, "mg/m²", "metric"),
    ("g/m2", "mass_per_area", 1000, 1, 0, "g/m²", "metric"),
    ("g/har", "mass_per_area", 1, 10, 0, "g/ha", "metric"),
    ("kg/har", "mass_per_area", 100, 1, 0, "kg/ha", "metric"),
    ("mg/[sft_i]", "mass_per_area", 1, 0.09290304, 0, "mg/ft²", "us"),
    ("[oz_av]/(1000.[sft_i])", "mass_per_area", 28349.523125, 92.90304, 0, "oz/1000 ft²", "us"),
    ("[lb_av]/[acr_us]", "mass_per_area", 453592.37, 4046.872609874252, 0, "lb/acre", "us"),
    ("mL/min", "flow", 1, 1, 0, "mL/min", "metric"),
    ("mL/s", "flow", 60, 1, 0, "mL/s", "metric"),
    ("L/min", "flow", 1000, 1, 0, "L/min", "metric"),
    ("L/h", "flow", 1000, 60, 0, "L/h", "metric"),
    ("[foz_us]/min", "flow", 29.5735295625, 1, 0, "fl oz/min", "us"),
    ("[gal_us]/min", "flow", 3785.411784, 1, 0, "gal/min", "us"),
    ("m/min", "speed", 1, 1, 0, "m/min", "metric"),
    ("m/s", "speed", 60, 1, 0, "m/s", "metric"),
    ("km/h", "speed", 1000, 60, 0, "km/h", "metric"),
    ("[ft_i]/s", "speed", 18.288, 1, 0, "ft/s", "us"),
    ("[ft_i]/min", "speed", 0.3048, 1, 0, "ft/min", "us"),
    ("[mi_i]/h", "speed", 1609.344, 60, 0, "mph", "us"),
    ("Pa", "pressure", 1, 1000, 0, "Pa", "metric"),
    ("kPa", "pressure", 1, 1, 0, "kPa", "metric"),
    ("bar", "pressure", 100, 1, 0, "bar", "metric"),
    ("[psi]", "pressure", 6.894757293168361, 1, 0, "psi", "us"),
    ("[pH]", "acidity", 1, 1, 0, "pH", "any"),
    ("uS/cm", "conductivity", 1, 1000, 0, "µS/cm", "metric"),
    ("mS/cm", "conductivity", 1, 1, 0, "mS/cm", "metric"),
    ("dS/m", "conductivity", 1, 1, 0, "dS/m", "metric"),
    ("umol/m2/s", "photon_flux", 1, 1, 0, "µmol/m²/s", "any"),
    ("mol/m2/d", "light_integral", 1, 1, 0, "mol/m²/d", "any"),
    ("lx", "illuminance", 1, 1, 0, "lx", "metric"),
    ("klx", "illuminance", 1000, 1, 0, "klx", "metric"),
    ("1", "count", 1, 1, 0, "", "any"),
    ("{pot}", "count", 1, 1, 0, "pots", "any"),
    ("{plant}", "count", 1, 1, 0, "plants", "any"),
    ("{tray}", "count", 1, 1, 0, "trays", "any"),
    ("{bulb}", "count", 1, 1, 0, "bulbs", "any"),
    ("mg/{pot}", "mass_per_item", 1, 1, 0, "mg/pot", "any"),
    ("ug/{pot}", "mass_per_item", 1, 1000, 0, "µg/pot", "any"),
    ("mg/{plant}", "mass_per_item", 1, 1, 0, "mg/plant", "any"),
    ("mg/{bulb}", "mass_per_item", 1, 1, 0, "mg/bulb", "any"),
    ("mL/{pot}", "volume_per_item", 1, 1, 0, "mL/pot", "metric"),
    ("[foz_us]/{pot}", "volume_per_item", 29.5735295625, 1, 0, "fl oz/pot", "us"),
    ("mL/{plant}", "volume_per_item", 1, 1, 0, "mL/plant", "metric"),
    ("[qt_us]/{plant}", "volume_per_item", 946.352946, 1, 0, "qt/plant", "us"),
    ("mL/{tray}", "volume_per_item", 1, 1, 0, "mL/tray", "metric"),
    ("L/{tray}", "volume_per_item", 1000, 1, 0, "L/tray", "metric"),
    ("[foz_us]/{tray}", "volume_per_item", 29.5735295625, 1, 0, "fl oz/tray", "us"),
    ("mL/{bulb}", "volume_per_item", 1, 1, 0, "mL/bulb", "metric"),
)

UNITS: dict[str, Unit] = {row[0]: Unit(*row) for row in _ROWS}

_DECIMAL = re.compile(r"[+-]?[0-9]{1,20}(\.[0-9]{1,20})?", re.ASCII)

# per system and dimension: (unit, smallest value in base units shown in it), largest unit first
_SHOWN: dict[str, dict[str, tuple[tuple[str, float], ...]]] = {
    "metric": {
        "volume": (("L", 1000), ("mL", 0)),
        "mass": (("kg", 1000), ("g", 0)),
        "area": (("m2", 0),),
        "volume_per_area": (("mL/m2", 0),),
        "mass_per_area": (("mg/m2", 0),),
    },
    "us": {
        "volume": (("[gal_us]", 3785.411784), ("[foz_us]", 0)),
        "mass": (("[lb_av]", 453.59237), ("[oz_av]", 0)),
        "area": (("[sft_i]", 0),),
        "volume_per_area": (("[qt_us]/(100.[sft_i])", 0),),
        "mass_per_area": (("mg/[sft_i]", 0),),
    },
}


def unit_of(code: Any) -> Unit:
    """Return the row of a UCUM code; raise `UnitError` (`unit.unknown`) where there is none."""
    row = UNITS.get(code) if isinstance(code, str) else None
    if row is None:
        raise UnitError("unit.unknown", f"The unit {code!r} is not known.", unit=text_of(code))
    return row


def to_base(value: float, code: str) -> float:
    """Return `value` in the base unit of its dimension."""
    row = unit_of(code)
    return (finite(value, "value") - row.offset) * row.numerator / row.denominator


def from_base(value: float, code: str) -> float:
    """Return a base value in the unit `code`."""
    row = unit_of(code)
    return finite(value, "value") * row.denominator / row.numerator + row.offset


def convert(value: float, from_code: str, to_code: str) -> float:
    """Return `value` of `from_code` in `to_code`; `UnitError` where the dimensions differ."""
    source = unit_of(from_code)
    wanted = unit_of(to_code)
    if source.dimension != wanted.dimension:
        raise UnitError(
            "unit.wrong_dimension",
            f"{from_code} is a unit of {source.dimension}, {to_code} of {wanted.dimension}.",
            field=None,
            unit=from_code,
            dimension=source.dimension,
            wanted=wanted.dimension,
        )
    if from_code == to_code:
        return finite(value, "value")
    return from_base(to_base(value, from_code), to_code)


def decimal_value(text: Any, field: str) -> float:
    """Return the number that a stored decimal text stands for ('.' mark, no exponent)."""
    if not isinstance(text, str) or not _DECIMAL.fullmatch(text):
        raise UnitError(
            "unit.value_not_decimal",
            f"{field}: {text!r} is not a decimal number such as 1.05.",
            field=field,
            text=text_of(text),
        )
    return float(text)


def quantity_value(quantity: Any, dimension: str, field: str) -> float:
    """Return a `{value, unit}` in the base unit of `dimension`.

    Raises `UnitError`: `unit.quantity_missing` (not a value with a unit), `unit.value_not_decimal`,
    `unit.unknown`, `unit.wrong_dimension`. The sign is not judged here.
    """
    if not isinstance(quantity, dict) or "value" not in quantity or "unit" not in quantity:
        raise UnitError("unit.quantity_missing", f"{field} needs a value with a unit.", field=field)
    value = decimal_value(quantity["value"], field)
    row = unit_of(quantity["unit"])
    if row.dimension != dimension:
        raise UnitError(
            "unit.wrong_dimension",
            f"{field}: {row.code} is a unit of {row.dimension}, not of {dimension}.",
            field=field,
            unit=row.code,
            dimension=row.dimension,
            wanted=dimension,
        )
    return to_base(value, row.code)


def shown_in(base_value: float, dimension: str, system: str) -> Shown:
    """Return a base value in the unit that `system` ('metric' or 'us') shows it in."""
    rows = _SHOWN.get(system, {}).get(dimension)
    if rows is None:
        raise UnitError(
            "unit.not_shown",
            f"No unit to show {dimension} in the {system} system.",
            dimension=dimension,
            system=system,
        )
    for code, smallest in rows:
        if base_value >= smallest:
            return Shown(from_base(base_value, code), code)
    code = rows[-1][0]
    return Shown(from_base(base_value, code), code)
