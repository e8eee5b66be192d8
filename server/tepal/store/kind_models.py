"""A model per record kind, made from its schema: a column per field, nested values as JSON.

No foreign keys between synced kinds: a parent may still be on a phone, or in quarantine.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from sqlalchemy import JSON, BigInteger, Boolean, Column, Integer, String, Text

from tepal.forms import fields as form
from tepal.forms.kinds import KINDS, Kind
from tepal.store.database import Base
from tepal.store.models import ConflictRecord, HeldRecord, SyncColumns

if TYPE_CHECKING:
    from sqlalchemy.types import TypeEngine

_LONGEST_STRING: Final = 200
_LARGEST_INTEGER: Final = 2**31 - 1
OPEN_COLUMN: Final = "measured"  # where a kind's open fields lie, as one JSON object

# kind -> the references that are asked for by value
INDEXED: Final[dict[str, tuple[str, ...]]] = {
    "bench": ("house",),
    "calibration": ("sprayer",),
    "photo": ("of_id", "sha256"),
    "voice_note": ("of_id", "sha256"),
    "label_file": ("product", "sha256"),
    "lot_event": ("lot",),
    "supplier_treatment": ("lot",),
    "batch": ("product",),
    "stock_count": ("batch",),
    "order_outcome": ("order",),
    "restriction": ("application", "house"),
    "early_entry": ("restriction",),
    "assessment": ("trial",),
    "observation": ("trial", "lot"),
    "exclusion": ("trial",),
}
# kind -> {column: the moment whose local date it holds}
DERIVED: Final[dict[str, dict[str, str]]] = {"application": {"started_on": "started_at"}}


def _column_type(field: form.WireField) -> TypeEngine[Any]:
    """Return the column type of a field; what is nested on the wire is JSON."""
    match field:
        case form.Choices() | form.Texts() | form.Refs():
            return JSON(none_as_null=True)
        case form.Ref():
            return String(36)
        case form.Digest():
            return String(64)
        case form.Day():
            return String(10)
        case form.Decimal():
            return String(24)
        case form.Flag():
            return Boolean()
        case form.Whole():
            return BigInteger() if field.most > _LARGEST_INTEGER else Integer()
        case form.Choice():
            return String(max(map(len, field.choices)))
        case form.Text() if field.max_length <= _LONGEST_STRING:
            return String(field.max_length)
        case form.Text():
            return Text()
        case _:
            return JSON(none_as_null=True)  # an absent value is SQL NULL, never the word null


def _model(kind: Kind) -> type[Base]:
    indexed = INDEXED.get(kind.name, ())
    columns: dict[str, Any] = {
        name: Column(_column_type(field), nullable=True, index=name in indexed or None)
        for name, field in kind.schema.fields.items()
        if isinstance(field, form.WireField)
    }
    for name, source in DERIVED.get(kind.name, {}).items():
        columns[name] = Column(String(10), nullable=True, index=True, info={"derived": source})
    if kind.open_fields is not None:
        columns[OPEN_COLUMN] = Column(
            JSON(none_as_null=True), nullable=True, info={"open": kind.open_fields.prefix}
        )
    title = "".join(word.title() for word in kind.name.split("_"))
    return type(
        f"{title}Record",
        (SyncColumns, Base),
        {"__tablename__": kind.name, "__doc__": f"Kind `{kind.name}`.", **columns},
    )


RECORD_MODELS: Final[dict[str, Any]] = {
    **{name: _model(kind) for name, kind in KINDS.items()},
    "conflict": ConflictRecord,
    "held": HeldRecord,
}

ApplicationRecord: Final[Any] = RECORD_MODELS["application"]
DeviceRecord: Final[Any] = RECORD_MODELS["device"]
MemberRecord: Final[Any] = RECORD_MODELS["member"]
PhotoRecord: Final[Any] = RECORD_MODELS["photo"]
