"""Frozen view models to canonical JSON and back, and their digest.

A stored report keeps this text; read back, it gives the same view and so the same bytes of paper.
"""

from __future__ import annotations

import dataclasses
import hashlib
import json
import types
import typing
from typing import Any, TypeVar

View = TypeVar("View")


def to_json(view: Any) -> str:
    """Return the canonical JSON of a view model: sorted keys, no spaces, plain UTF-8."""
    return json.dumps(
        dataclasses.asdict(view), ensure_ascii=False, sort_keys=True, separators=(",", ":")
    )


def digest(view: Any) -> str:
    """Return the SHA-256 of the canonical JSON, 64 hexadecimal digits."""
    return hashlib.sha256(to_json(view).encode("utf-8", "surrogatepass")).hexdigest()


def from_json(kind: type[View], text: str) -> View:
    """Return the view model that `to_json` wrote.

    Raises
    ------
    TypeError, KeyError   The text was not written from this kind of view model.
    """
    view: View = _built(kind, json.loads(text))
    return view


def _built(kind: Any, stored: Any) -> Any:
    if isinstance(kind, types.UnionType):  # only `X | None` is used in view models
        inner = [arm for arm in typing.get_args(kind) if arm is not type(None)]
        return None if stored is None else _built(inner[0], stored)
    if typing.get_origin(kind) is tuple:
        item = typing.get_args(kind)[0]
        return tuple(_built(item, part) for part in stored)
    if dataclasses.is_dataclass(kind) and isinstance(kind, type):
        hints = typing.get_type_hints(kind)
        return kind(**{name: _built(hints[name], value) for name, value in stored.items()})
    return stored
