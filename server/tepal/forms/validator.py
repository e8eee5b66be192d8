"""Field checks from the registry, as plain functions that services hand to sync."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from marshmallow import ValidationError

from tepal.forms.fields import WireField
from tepal.forms.kinds import KINDS

if TYPE_CHECKING:
    from collections.abc import Mapping


def problems(kind: str, values: Mapping[str, Any]) -> dict[str, list[str]]:
    """Return {field: [code, ...]} of what the kind's schema refuses; null always clears a field.

    Raises
    ------
    KeyError   The kind is not registered.
    """
    registered = KINDS[kind]
    found: dict[str, list[str]] = {}
    for name, value in values.items():
        field = registered.field(name)
        if not isinstance(field, WireField):
            found[name] = ["unknown_field"]
        elif value is not None:
            try:
                field.check(value)
            except ValidationError as error:
                found[name] = [str(message) for message in error.messages]
    return found
