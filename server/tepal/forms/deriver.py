"""Schema -> form spec: the versioned JSON from which the browser draws forms.

It raises on what it cannot express, rather than guess.
"""

from __future__ import annotations

import hashlib
import json
from typing import TYPE_CHECKING, Any

from tepal.domain.errors import TepalError
from tepal.forms.fields import Group, WireField
from tepal.forms.kinds import KINDS

if TYPE_CHECKING:
    from marshmallow import Schema

    from tepal.forms.kinds import Kind


class FormSpecError(TepalError, TypeError):
    """A schema holds a field that a form spec cannot express."""


def derive(schema: Schema) -> list[dict[str, Any]]:
    """Return the fields of a schema as JSON, in the order they are declared."""
    specs = []
    for name, field in schema.fields.items():
        if not isinstance(field, WireField):
            raise FormSpecError(
                "forms.not_expressible",
                f"field {name!r} of {type(schema).__name__} has no form type",
                field=name,
            )
        spec = {
            "name": name,
            "type": field.type_name,
            "required": field.required_on_paper,
            **field.spec(),
        }
        if isinstance(field, Group):
            spec["fields"] = derive(field.schema)
        specs.append(spec)
    return specs


def _open_spec(kind: Kind) -> dict[str, Any]:
    if kind.open_fields is None:
        return {}
    prefix, field = kind.open_fields.prefix, kind.open_fields.field
    return {"open_fields": {"prefix": prefix, "type": field.type_name, **field.spec()}}


def form_specs() -> dict[str, Any]:
    """Return {"version": digest of all, "kinds": {kind: {"version", "fields", "signed_field"}}}."""
    kinds = {
        kind.name: {
            "version": kind.form_version,
            "signed_field": kind.signed_field,
            "fields": derive(kind.schema),
            **_open_spec(kind),
        }
        for kind in KINDS.values()
    }
    text = json.dumps(kinds, sort_keys=True, separators=(",", ":"))
    return {"version": hashlib.sha256(text.encode()).hexdigest()[:12], "kinds": kinds}
