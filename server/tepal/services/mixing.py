"""A mix of the register over chosen places, as the mix core's request and what it says.

Twin of `requestOf` in web/app/state/apply.js: the same records give the same request, so that the
paper prints what the screen showed. Reads nothing; the caller hands in the records.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from tepal.domain.calibration import calibration_of
from tepal.domain.errors import TepalError
from tepal.domain.rounding import decimal_text, significant_decimals

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from tepal.domain.rounding import NumberFormat
    from tepal.sync.merge import RecordState

Quantity = dict[str, str]


@dataclass(frozen=True, slots=True)
class TreatedPlace:
    """A bench, the lot on it (or none), and what of it is treated."""

    bench: RecordState
    lot: RecordState | None
    house: RecordState | None
    area: Quantity | None
    n_containers: int | None

    @property
    def key(self) -> str:
        """Return the line's id: bench and lot."""
        return f"{self.bench.id}/{self.lot.id if self.lot else ''}"

    @property
    def name(self) -> str:
        """Return "House 1, Bench 2"."""
        names = [
            self.house.fields.get("name") if self.house else None,
            self.bench.fields.get("name"),
        ]
        return ", ".join(str(name) for name in names if name)


@dataclass(frozen=True, slots=True, kw_only=True)
class MixJob:
    """Everything a mix is computed from."""

    mix: RecordState
    products: Mapping[str, RecordState]
    places: Sequence[TreatedPlace]
    instruments: Sequence[RecordState]
    tank: Quantity
    number_format: NumberFormat
    calibrated: Quantity | None = None
    pairs: Sequence[RecordState] = ()
    jar_tests: Sequence[RecordState] = ()
    water_ph: str | None = None
    extra: Quantity | None = None

    def request(self) -> dict[str, Any]:
        """Return the mix core's request (domain/mix.schema.json)."""
        fields = self.mix.fields
        request: dict[str, Any] = {
            "method": fields.get("method"),
            "number_format": dict(self.number_format),
            "components": [
                self._component(number, component)
                for number, component in enumerate(fields.get("components") or [], start=1)
            ],
            "lines": [self._line(place) for place in self.places],
            "tank": {"capacity": self.tank},
            "instruments": [
                {"id": row.id, **row.fields}
                for row in _live(self.instruments)
                if row.fields.get("resolution") and row.fields.get("capacity")
            ],
        }
        if fields.get("injector_ratio"):
            meaning = fields.get("injector_meaning")
            request["injector"] = {"ratio": fields["injector_ratio"], "meaning": meaning}
        if self.extra or fields.get("extra"):  # a trial's overage counts before the mix's own
            request["extra"] = self.extra or fields["extra"]
        if self.calibrated:
            request["calibrated"] = self.calibrated
        if self.water_ph:
            request["water"] = {"ph": self.water_ph}
        request["incompatible_pairs"] = [
            dict(row.fields)
            for row in _live(self.pairs)
            if row.fields.get("a") and row.fields.get("b")
        ]
        request["jar_tests"] = [
            {"products": row.fields["products"], "result": row.fields["result"]}
            for row in _live(self.jar_tests)
            if row.fields.get("products") and row.fields.get("result")
        ]
        request["season"] = []
        return request

    def _component(self, number: int, component: Mapping[str, Any]) -> dict[str, Any]:
        rest = {key: value for key, value in component.items() if key not in ("matches", "product")}
        product = self.products.get(str(component.get("product")))
        found: dict[str, Any] = {
            **rest,
            "id": str(number),
            "product": {"id": component.get("product"), **(product.fields if product else {})},
        }
        if component.get("matches"):
            found["matches"] = str(component["matches"])
        return found

    def _line(self, place: TreatedPlace) -> dict[str, Any]:
        line: dict[str, Any] = {
            "id": place.key,
            "bench": place.bench.id,
            "lot": place.lot.id if place.lot else None,
        }
        if place.area:
            line["area"] = place.area
        if place.n_containers:
            line["n_containers"] = place.n_containers
        fields = self.mix.fields
        if fields.get("volume_per_container"):
            return {**line, "volume_per_container": fields["volume_per_container"]}
        return {**line, "volume_per_area": fields.get("volume_per_area")}


def _live(rows: Iterable[RecordState]) -> Iterable[RecordState]:
    return (row for row in rows if row.state != "void")


@dataclass(frozen=True, slots=True)
class NewestCalibration:
    """What a sprayer was last measured to put down, and on which day ("" where not on file)."""

    calibrated: Quantity
    measured_on: str


def newest_calibration(
    calibrations: Iterable[RecordState], sprayer: str
) -> NewestCalibration | None:
    """Return the newest calibration of a sprayer that gives a result; None where there is none.

    Twin of `newestOf` in web/app/state/calibration.js.
    """
    own = [row for row in _live(calibrations) if row.fields.get("sprayer") == sprayer]
    own.sort(key=lambda row: (str(row.fields.get("measured_on") or ""), row.id), reverse=True)
    for row in own:
        catches = [one.get("amount") for one in row.fields.get("catches") or [] if one]
        try:
            result = calibration_of({**row.fields, "catches": [one for one in catches if one]})
        except TepalError:
            continue  # half filled in: an older one that can be computed counts
        value = result.ml_per_m2
        text = decimal_text(value, min(12, significant_decimals(value, 15)))
        day = str(row.fields.get("measured_on") or "")
        return NewestCalibration({"value": text, "unit": "mL/m2"}, day)
    return None


def is_overdue(sprayer: RecordState, measured_on: str, today: str) -> bool:
    """Say whether the sprayer's interval has passed; False where no interval is on file."""
    every = sprayer.fields.get("calibrate_every")
    if not every or not measured_on:
        return False
    day = dt.date.fromisoformat(measured_on)
    due = day + dt.timedelta(days=int(float(every["value"])))
    return dt.date.fromisoformat(today) > due
