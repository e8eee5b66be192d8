"""A kind's fields as JSON Schema (draft 2020-12): what an export says of its own records."""

from __future__ import annotations

from typing import Any, Final

from tepal.forms.deriver import derive
from tepal.forms.fields import MISSING_WHYS, MOST_TEXTS
from tepal.forms.kinds import KINDS

_DECIMAL: Final = r"^-?[0-9]{1,12}(\.[0-9]{1,9})?$"
_UUID: Final = r"^[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}$"
_MOMENT: Final = {
    "type": "object",
    "description": "wall time, minutes east of UTC, IANA zone",
    "properties": {
        "local": {"type": "string", "format": "date-time-local"},
        "offset_min": {"type": "integer"},
        "zone": {"type": "string"},
    },
    "required": ["local", "offset_min", "zone"],
}


def schema_of(kind: str) -> dict[str, Any]:
    """Return the JSON Schema of a kind's `fields`; every field may be absent.

    Raises
    ------
    KeyError   The kind is not registered.
    """
    registered = KINDS[kind]
    found: dict[str, Any] = {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": kind,
        "description": f"fields of a {kind}, form version {registered.form_version}",
        "type": "object",
        "properties": {spec["name"]: _of(spec) for spec in derive(registered.schema)},
        "additionalProperties": False,
    }
    if registered.open_fields is not None:
        prefix, field = registered.open_fields.prefix, registered.open_fields.field
        shape = _of({"type": field.type_name, **field.spec()})
        found["patternProperties"] = {f"^{prefix}[a-z0-9_]{{1,24}}$": shape}
    return found


def _of(spec: dict[str, Any]) -> dict[str, Any]:
    sort = spec["type"]
    if sort in ("list", "group"):
        group = {
            "type": "object",
            "properties": {one["name"]: _nullable(_of(one)) for one in spec["fields"]},
            "additionalProperties": False,
        }
        return group if sort == "group" else _array(group, spec.get("max_rows"))
    shape: dict[str, Any] = _PLAIN[sort](spec)
    return shape


def _nullable(shape: dict[str, Any]) -> dict[str, Any]:
    return {"anyOf": [shape, {"type": "null"}]}


def _array(items: dict[str, Any], most: int | None) -> dict[str, Any]:
    return {"type": "array", "items": items} | ({} if most is None else {"maxItems": most})


def _text(spec: dict[str, Any]) -> dict[str, Any]:
    return {"type": "string", "maxLength": spec["max_length"]}


def _choice(spec: dict[str, Any]) -> dict[str, Any]:
    return {"enum": spec["choices"]}


def _ref(spec: dict[str, Any]) -> dict[str, Any]:
    return {"type": "string", "pattern": _UUID, "description": f"id of a {spec['ref']}"}


def _quantity(spec: dict[str, Any]) -> dict[str, Any]:
    return {
        "type": "object",
        "description": f"the digits as typed, with a UCUM unit; {spec['min']} to {spec['max']}",
        "properties": {
            "value": {"type": "string", "pattern": _DECIMAL},
            "unit": {"enum": spec["unit_choices"]},
        },
        "required": ["value", "unit"],
        "additionalProperties": False,
    }


def _integer(spec: dict[str, Any]) -> dict[str, Any]:
    return {"type": "integer", "minimum": spec["min"], "maximum": spec["max"]}


def _measured(_: dict[str, Any]) -> dict[str, Any]:
    missing = {
        "type": "object",
        "properties": {
            "missing": {"enum": list(MISSING_WHYS)},
            "note": {"type": ["string", "null"]},
        },
        "required": ["missing", "note"],
    }
    return {"anyOf": [{"type": "string"}, missing]}


_PLAIN: Final[dict[str, Any]] = {
    "text": _text,
    "longtext": _text,
    "texts": lambda spec: _array(_text(spec), MOST_TEXTS),
    "choice": _choice,
    "choices": lambda spec: _array(_choice(spec), None),
    "quantity": _quantity,
    "number": lambda _: {"type": "string", "pattern": _DECIMAL},
    "integer": _integer,
    "bool": lambda _: {"type": "boolean"},
    "date": lambda _: {"type": "string", "format": "date"},
    "moment": lambda _: _MOMENT,
    "ref": _ref,
    "refs": lambda spec: _array(_ref(spec), 500),
    "digest": lambda _: {"type": "string", "pattern": "^[0-9a-f]{64}$"},
    "measured": _measured,
}
