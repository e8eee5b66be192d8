"""Lines of an application: which bench and lot gets how much solution.

Twin: web/app/core/lines.js. A line states its volume in one of three ways: an area with a volume
per area (spray, sprench), containers with a volume each (drench; trays or bulbs with what they take
up), or a volume of its own (sub-irrigation, bath). Stating two is an error that asks which counts.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from tepal.domain.errors import Finding, TepalError, text_of
from tepal.domain.ranges import positive, positive_up_to, whole_number
from tepal.domain.units import quantity_value, unit_of

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

__all__ = [
    "Line",
    "LineError",
    "calibration_findings",
    "line_findings",
    "lines_of",
    "shared_ml_per_container",
    "shared_ml_per_m2",
]

# Own bounds against slips of unit, no source: beyond them a house is no greenhouse.
_MAX_AREA_M2 = 1000000.0
_MAX_LINE_L = 1000000.0

# Published volumes per area: 100 mL/m2 (University of Florida, ASHS 2009) to 815 mL/m2 (sprench,
# 8 qt per 100 ft2, Michigan State University); per container 59 to 591 mL (Michigan State
# University, PGR drench guidelines). A fifth below and three times above still pass unasked.
_USUAL_ML_PER_M2 = (20.0, 2500.0)
_USUAL_ML_PER_CONTAINER = (5.0, 3000.0)

# Common practice, no source: a sprayer that puts down more than 10 % more or less than planned is
# set again or the mix planned anew.
_MAX_CALIBRATION_DEVIATION_PCT = 10.0


class LineError(TepalError, ValueError):
    """A line does not say how much solution it gets, or says it twice."""


@dataclass(frozen=True, slots=True)
class Line:
    """One bench and lot with its share of the solution; None where the record says nothing."""

    id: str
    bench: str | None
    lot: str | None
    volume_l: float
    area_m2: float | None
    ml_per_m2: float | None
    n_containers: int | None
    ml_per_container: float | None
    n_plants: int | None


def _count(record: Mapping[str, Any], name: str) -> int | None:
    value = record.get(name)
    return None if value is None else whole_number(value, name)


def _ml_per_container(quantity: Any) -> float:
    unit = unit_of(quantity.get("unit") if isinstance(quantity, dict) else None)
    per_item = unit.dimension == "volume_per_item"
    ml = quantity_value(
        quantity, "volume_per_item" if per_item else "volume", "volume_per_container"
    )
    return positive(ml, "volume_per_container")


def _line(record: Mapping[str, Any], number: int, calibrated: float | None) -> Line:
    name = text_of(record.get("id")) or str(number)
    for field in ("bench", "lot"):
        if record.get(field) is not None and not isinstance(record[field], str):
            raise LineError(
                "line.not_text", f"Line {name}: {field} is a name.", line=name, field=field
            )
    area = record.get("area")
    area_m2 = (
        None
        if area is None
        else positive_up_to(quantity_value(area, "area", "area"), "area", _MAX_AREA_M2)
    )
    n_containers = _count(record, "n_containers")
    ways = [
        way
        for way in ("volume", "volume_per_area", "volume_per_container")
        if record.get(way) is not None
    ]
    if len(ways) > 1:
        raise LineError(
            "line.two_volumes",
            f"Line {name} states its volume twice ({' and '.join(ways)}); say which one counts.",
            line=name,
            ways=ways,
        )
    ml_per_m2 = None
    ml_per_container = None
    if ways == ["volume"]:
        volume_l = quantity_value(record["volume"], "volume", "volume") / 1000
    elif ways == ["volume_per_container"]:
        if n_containers is None:
            raise LineError(
                "line.containers_missing",
                f"Line {name} needs its number of containers.",
                line=name,
            )
        ml_per_container = _ml_per_container(record["volume_per_container"])
        volume_l = n_containers * ml_per_container / 1000
    elif ways == ["volume_per_area"] or (area_m2 is not None and calibrated is not None):
        if area_m2 is None:
            raise LineError("line.area_missing", f"Line {name} needs its area.", line=name)
        ml_per_m2 = (
            positive(
                quantity_value(record["volume_per_area"], "volume_per_area", "volume_per_area"),
                "volume_per_area",
            )
            if ways
            else positive(calibrated, "calibrated_ml_per_m2")
        )
        volume_l = area_m2 * ml_per_m2 / 1000
    else:
        raise LineError(
            "line.volume_missing",
            f"Line {name} does not say how much solution it gets.",
            line=name,
        )
    return Line(
        name,
        record.get("bench"),
        record.get("lot"),
        positive_up_to(volume_l, "volume", _MAX_LINE_L),
        area_m2,
        ml_per_m2,
        n_containers,
        ml_per_container,
        _count(record, "n_plants"),
    )


def lines_of(
    records: Sequence[Mapping[str, Any]], calibrated_ml_per_m2: float | None = None
) -> tuple[Line, ...]:
    """Return the lines of an application with their volumes.

    Parameters
    ----------
    records : sequence of mapping
        `id`, `bench`, `lot`; `area`; `n_containers`, `n_plants` (whole numbers); and one of
        `volume`, `volume_per_area`, `volume_per_container`.
    calibrated_ml_per_m2 : float or None
        What the sprayer really puts down; used for a line that has an area and no volume.

    Raises
    ------
    LineError   `line.none`, `line.two_volumes`, `line.volume_missing`, `line.area_missing`,
                `line.containers_missing`, `line.id_twice`, `line.not_text`.
    OutOfRangeError, UnitError   A number is impossible or has a unit of another kind.
    """
    if not records:
        raise LineError("line.none", "There is no bench or lot to treat.")
    found: list[Line] = []
    seen: set[str] = set()
    for number, record in enumerate(records, start=1):
        line = _line(record, number, calibrated_ml_per_m2)
        if line.id in seen:
            raise LineError("line.id_twice", f"Two lines are called {line.id}.", line=line.id)
        seen.add(line.id)
        found.append(line)
    return tuple(found)


def line_findings(lines: Sequence[Line]) -> tuple[Finding, ...]:
    """Return a question for every volume per area or container far from published ones."""
    findings: list[Finding] = []
    for line in lines:
        if line.ml_per_m2 is not None:
            low, high = _USUAL_ML_PER_M2
            if line.ml_per_m2 < low or line.ml_per_m2 > high:
                findings.append(
                    Finding(
                        "line.volume_per_area_unusual",
                        "caution",
                        f"Line {line.id}: {line.ml_per_m2!r} mL/m2 is far from published spray "
                        "volumes; check the unit.",
                        "volume_per_area",
                        "published sprays and sprenches: 100 to 815 mL/m2",
                        {"line": line.id, "value": line.ml_per_m2, "low": 100, "high": 815},
                    )
                )
        if line.ml_per_container is not None:
            low, high = _USUAL_ML_PER_CONTAINER
            if line.ml_per_container < low or line.ml_per_container > high:
                findings.append(
                    Finding(
                        "line.volume_per_container_unusual",
                        "caution",
                        f"Line {line.id}: {line.ml_per_container!r} mL per container is far from "
                        "published drench volumes; check the unit.",
                        "volume_per_container",
                        "Michigan State University, PGR drench guidelines: 59 to 591 mL",
                        {"line": line.id, "value": line.ml_per_container, "low": 59, "high": 591},
                    )
                )
    return tuple(findings)


def calibration_findings(
    lines: Sequence[Line], calibrated_ml_per_m2: float | None
) -> tuple[Finding, ...]:
    """Return a caution for every volume per area that the sprayer was not measured to put down.

    More than 10 % of the planned volume per area apart (common practice, no source); lines that
    share a volume per area share the caution. None: the sprayer was not calibrated, nothing to say.
    """
    if calibrated_ml_per_m2 is None:
        return ()
    measured = positive(calibrated_ml_per_m2, "calibrated_ml_per_m2")
    findings: list[Finding] = []
    seen: set[float] = set()
    for line in lines:
        planned = line.ml_per_m2
        if planned is None or planned in seen:
            continue
        seen.add(planned)
        off_pct = (measured - planned) / planned * 100
        if abs(off_pct) > _MAX_CALIBRATION_DEVIATION_PCT:
            findings.append(
                Finding(
                    "line.volume_off_calibration",
                    "caution",
                    f"Planned: {planned!r} mL/m2; the sprayer was measured at {measured!r} mL/m2.",
                    "volume_per_area",
                    "common practice (no source)",
                    {"planned": planned, "measured": measured, "off_pct": off_pct},
                )
            )
    return tuple(findings)


def _shared(values: Sequence[float | None], missing: str, differing: str) -> float:
    first = values[0]
    if first is None or any(value is None for value in values):
        raise LineError(missing, "A dose needs the same volume per area or container on each line.")
    if any(abs(value - first) > first * 1e-9 for value in values if value is not None):
        raise LineError(
            differing,
            "The lines have different volumes, so one dose needs more than one concentration.",
        )
    return first


def shared_ml_per_container(lines: Sequence[Line]) -> float:
    """Return the one volume per container of all lines; a dose per pot needs it.

    Raises `LineError` (`line.dose_needs_containers`, `line.dose_needs_one_volume`).
    """
    values = [line.ml_per_container for line in lines]
    return _shared(values, "line.dose_needs_containers", "line.dose_needs_one_volume")


def shared_ml_per_m2(lines: Sequence[Line]) -> float:
    """Return the one volume per area of all lines; a dose per area needs it.

    Raises `LineError` (`line.dose_needs_area`, `line.dose_needs_one_volume`).
    """
    values = [line.ml_per_m2 for line in lines]
    return _shared(values, "line.dose_needs_area", "line.dose_needs_one_volume")
