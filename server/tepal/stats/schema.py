"""The JSON Schema of the results, derived from the dataclasses and shipped as a file.

`python -m tepal.stats.schema` prints it; a test holds the shipped file equal to this.
"""

from __future__ import annotations

import dataclasses
import json
import types
import typing
from importlib import resources
from typing import Any

from tepal.domain import errors
from tepal.domain.errors import Finding
from tepal.stats import results

SCHEMA_ID = "tepal-analysis/1"
DOCUMENT = "AnalysisDocument"


def json_schema() -> dict[str, Any]:
    """Return the schema of the document that `tepal analyse --json` prints.

    Returns
    -------
    dict, JSON Schema 2020-12: {"schema": "tepal-analysis/1", "results": [AnalysisResult, ...]}.

    Examples
    --------
    >>> json_schema()["properties"]["schema"]
    {'const': 'tepal-analysis/1'}
    """
    classes = [
        c
        for c in vars(results).values()
        if isinstance(c, type) and dataclasses.is_dataclass(c) and c is not Finding
    ]
    definitions = {c.__name__: _object(c) for c in sorted((*classes, Finding), key=_name)}
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "$id": SCHEMA_ID,
        "title": "Statistical analysis of a trial",
        "description": "A number is null only where a reason stands beside it.",
        "type": "object",
        "required": ["schema", "results"],
        "properties": {
            "schema": {"const": SCHEMA_ID},
            "results": {"type": "array", "items": {"$ref": "#/$defs/AnalysisResult"}},
        },
        "additionalProperties": False,
        "$defs": definitions,
    }


def shipped_schema() -> dict[str, Any]:
    """Return the schema as it is shipped inside the package.

    Examples
    --------
    >>> shipped_schema()["$id"]
    'tepal-analysis/1'
    """
    text = resources.files("tepal.stats").joinpath("schema/analysis.schema.json").read_text("utf-8")
    loaded: dict[str, Any] = json.loads(text)
    return loaded


def _name(c: type) -> str:
    return c.__name__


def _object(c: type) -> dict[str, Any]:
    names = vars(results) | vars(errors) | {"Any": Any}
    hints = typing.get_type_hints(c, names)
    properties: dict[str, Any] = {f.name: _type(hints[f.name]) for f in dataclasses.fields(c)}
    # the outermost result names its class
    properties["result"] = {"const": c.__name__}
    return {
        "type": "object",
        "required": [f.name for f in dataclasses.fields(c)],
        "properties": properties,
        "additionalProperties": False,
    }


def _type(hint: Any) -> dict[str, Any]:
    origin, args = typing.get_origin(hint), typing.get_args(hint)
    if origin in (typing.Union, types.UnionType):
        return {"anyOf": [_type(a) for a in args]}
    if origin is typing.Literal:
        return {"enum": list(args)}
    if origin is tuple:
        if len(args) == 2 and args[1] is Ellipsis:
            return {"type": "array", "items": _type(args[0])}
        return {
            "type": "array",
            "prefixItems": [_type(a) for a in args],
            "minItems": len(args),
            "maxItems": len(args),
        }
    if origin is dict:
        return {"type": "object"}
    if isinstance(hint, type) and dataclasses.is_dataclass(hint):
        return {"$ref": f"#/$defs/{hint.__name__}"}
    simple = {
        str: {"type": "string"},
        bool: {"type": "boolean"},
        int: {"type": "integer"},
        float: {"type": "number"},
        type(None): {"type": "null"},
    }
    found: dict[str, Any] = simple[hint]
    return found


if __name__ == "__main__":
    print(json.dumps(json_schema(), indent=1))  # noqa: T201
