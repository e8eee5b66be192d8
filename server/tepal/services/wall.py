"""What a wall tablet gets of the records of its kinds: what anybody may read without asking.

Cut twice: by field, so that no name, note or customer leaves the server, and by time, to the
applications that have to be on display.
"""

from __future__ import annotations

import dataclasses
from typing import TYPE_CHECKING, Any, Final

from tepal.domain.moments import moment_ms
from tepal.domain.restriction import application_dates, longest_rei_h
from tepal.domain.units import quantity_value

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping
    from datetime import datetime

    from tepal.sync.merge import RecordState

_PLACE: Final = ("name", "code", "house", "bay", "x", "y", "length", "width", "area", "retired")
# kind -> the fields that a wall display gets
DISPLAY_FIELDS: Final[dict[str, tuple[str, ...]]] = {
    "establishment": (
        "name", "address", "country", "region", "zone", "number_format", "unit_system", "standards",
        "medical_facility", "pesticide_agency", "poison_line", "eyewash", "spill",
        "ventilation_parts_add", "whole_house",
    ),
    "house": (*_PLACE, "site", "ventilation"),
    "bay": _PLACE,
    "bench": _PLACE,
    "product": (
        "name", "registration_number", "country", "kind", "ingredients", "rei", "double_notice",
        "signal_word", "ppe_mixing", "ppe_applying", "early_entry_ppe", "first_aid", "maker_phone",
        "label_on", "retired",
    ),
    "label_file": (
        "product", "sort", "version_on", "file_name", "sha256", "size", "media_type", "replaced",
    ),
    "restriction": (
        "application", "house", "benches", "area", "area_during", "place", "product_names",
        "started_at", "ended_at", "rei", "rei_unknown", "double_notice", "ventilation_owed",
        "method_class", "ventilation", "inhalation_level", "measured_level", "measured_at",
        "signs_up_at", "signs_down_at", "reopened_at",
    ),
    "application": (
        "lines", "products", "mix_name", "method", "site", "area", "area_described", "started_at",
        "ended_at", "stopped_early",
    ),
}  # fmt: skip
# of the lists inside them
_INNER: Final[dict[str, tuple[str, ...]]] = {
    "ventilation": ("sort", "began_at", "ended_at", "air_exchanges"),
    "lines": ("bench", "lot", "house", "place", "lot_code", "crop", "area"),
    "products": (
        "product", "name", "registration_number", "country", "kind", "ingredients", "rei",
        "label_on", "sds_on", "double_notice",
    ),
}  # fmt: skip


def on_wall(
    records: Iterable[RecordState], now: datetime, *, is_first: bool
) -> tuple[RecordState, ...]:
    """Return what a wall tablet gets of the records of its kinds.

    Parameters
    ----------
    is_first : a snapshot: what is not on display is left out. Otherwise it goes as a stub, since
        the tablet may hold it from before.
    """
    found = []
    for record in records:
        names = DISPLAY_FIELDS.get(record.kind)
        if names is None:  # an open conflict: the stricter of two values counts on the wall too
            found.append(record)
        elif record.kind != "application" or is_on_display(record, now):
            fields = {
                name: _cut(name, record.fields[name]) for name in names if name in record.fields
            }
            found.append(dataclasses.replace(record, fields=fields))
        elif not is_first:
            found.append(dataclasses.replace(record, fields={}, state="void"))
    return tuple(found)


def _cut(name: str, value: Any) -> Any:
    inner = _INNER.get(name)
    if inner is None or not isinstance(value, list):
        return value
    return [{key: row[key] for key in inner if key in row} for row in value]


def is_on_display(record: RecordState, now: datetime) -> bool:
    """Whether an application has to be on the central display now (domain.restriction).

    One that has begun and not ended is: it is being sprayed.
    """
    fields = record.fields
    if record.state == "void" or not fields.get("started_at"):
        return False
    ended = fields.get("ended_at")
    if not ended:
        return True
    intervals = intervals_h(fields.get("products") or [])
    rei_h = longest_rei_h(intervals) if intervals else 0.0
    until = application_dates(moment_ms(ended), rei_h, ended["offset_min"]).display_until_ms
    return until is None or until > now.timestamp() * 1000


def intervals_h(products: Iterable[Mapping[str, Any]]) -> list[float | None]:
    """Return the restricted-entry intervals, h, of the products that have one to have.

    None where it is not on file. An adjuvant or blank has one only where its label says so.
    """
    found: list[float | None] = []
    for product in products:
        rei = product.get("rei")
        if rei is not None:
            found.append(quantity_value(rei, "time", "rei") / 3600)
        elif product.get("kind") in (None, "product"):
            found.append(None)
    return found
