"""What a device may pull. A wall display gets what everybody may read without asking, no more.

Scope belongs to the device (its ceiling), not to the person: the phone's own store is not per
person. A display's scope is cut twice: by kind and field (here, so that no name, note or customer
leaves the server), and by time, to the applications that have to be on display.
"""

from __future__ import annotations

import dataclasses
from datetime import UTC, datetime, timedelta, timezone
from typing import TYPE_CHECKING, Any, Final

from tepal.domain.display_window import display_until_ms
from tepal.domain.units import quantity_value

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from tepal.sync.merge import RecordState

ALL: Final = "all1"  # every other device sees the whole establishment
DISPLAY: Final = "display1"

_PLACE: Final = ("name", "code", "house", "bay", "x", "y", "length", "width", "area", "retired")
# kind -> the fields that a wall display gets
DISPLAY_FIELDS: Final[dict[str, tuple[str, ...]]] = {
    "establishment": (
        "name", "address", "country", "region", "zone", "number_format", "unit_system", "standards",
        "medical_facility", "pesticide_agency", "poison_line", "eyewash", "spill",
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
        "signs_up_at", "signs_down_at", "reopened_at",
    ),
    "application": (
        "lines", "products", "mix_name", "method", "site", "area", "area_described", "started_at",
        "ended_at", "stopped_early",
    ),
}  # fmt: skip
# of the lists inside an application
_INNER: Final[dict[str, tuple[str, ...]]] = {
    "lines": ("bench", "lot", "house", "place", "lot_code", "crop", "area"),
    "products": (
        "product", "name", "registration_number", "country", "kind", "ingredients", "rei",
        "label_on", "sds_on", "double_notice",
    ),
}  # fmt: skip


def scope_of(ceiling: str) -> str:
    """Return the scope of a device with this ceiling, as it stands in its cursor."""
    return DISPLAY if ceiling == "display" else ALL


def within_scope(
    records: Iterable[RecordState], scope: str, now: datetime, *, is_first: bool
) -> list[RecordState]:
    """Return what a device of this scope gets of the records.

    Parameters
    ----------
    is_first : a snapshot: what is not on display is left out. Otherwise it goes as a stub, since
        the device may hold it from before.
    """
    if scope != DISPLAY:
        return list(records)
    found = []
    for record in records:
        names = DISPLAY_FIELDS.get(record.kind)
        if names is None:
            continue
        if record.kind == "application" and not is_on_display(record, now):
            if not is_first:
                found.append(dataclasses.replace(record, fields={}, state="void", author=""))
            continue
        fields = {name: _cut(name, record.fields[name]) for name in names if name in record.fields}
        found.append(dataclasses.replace(record, fields=fields, author=""))
    return found


def _cut(name: str, value: Any) -> Any:
    inner = _INNER.get(name)
    if inner is None or not isinstance(value, list):
        return value
    return [{key: row[key] for key in inner if key in row} for row in value]


def is_on_display(record: RecordState, now: datetime) -> bool:
    """Whether an application has to be on the central display now (domain.display_window).

    One that has begun and not ended is: it is being sprayed.
    """
    fields = record.fields
    if record.state == "void" or not fields.get("started_at"):
        return False
    ended = fields.get("ended_at")
    if not ended:
        return True
    until = display_until_ms(moment_ms(ended), intervals_h(fields.get("products") or []))
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


def moment_ms(moment: Mapping[str, Any]) -> float:
    """Return a record's moment as ms since 1970."""
    offset = timezone(timedelta(minutes=moment["offset_min"]))
    local = datetime.fromisoformat(moment["local"]).replace(tzinfo=offset)
    return local.astimezone(UTC).timestamp() * 1000
