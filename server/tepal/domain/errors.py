"""The root of all errors that Tepal raises on purpose, and the finding that rules return.

Twin: web/app/core/errors.js. Misuse or impossible input raises a `TepalError`; a rule that is
breached or an assumption that is in doubt is a returned `Finding`; a bug flies as what it is.
"""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass
from typing import Any, Literal

Severity = Literal["stop", "caution", "note"]


class TepalError(Exception):
    """An error with a stable code and parameters; the catalogue holds its words.

    Parameters
    ----------
    code : str      Dotted, append-only, listed in the catalogues as `error.<code>`.
    message : str   English sentence for logs and developers.
    context : JSON values that fill the catalogue's message (numbers with their unit in the key).
    """

    def __init__(self, code: str, message: str, **context: Any) -> None:
        super().__init__(message)
        self.code = code
        self.message = message
        self.context = context

    def __reduce__(self) -> tuple[Any, ...]:
        return (_rebuild, (type(self), self.code, self.message, self.context))

    def __str__(self) -> str:
        return self.message


def _rebuild(
    kind: type[TepalError], code: str, message: str, context: dict[str, Any]
) -> TepalError:
    error = kind.__new__(kind)
    TepalError.__init__(error, code, message, **context)
    return error


class UnitError(TepalError, ValueError):
    """A unit is unknown, or of another dimension than the place asks for."""


class OutOfRangeError(TepalError, ValueError):
    """A number is not finite or lies outside what the formula is defined for."""


class NotFoundError(TepalError, LookupError):
    """A thing named by an id is not there."""


def text_of(value: Any) -> str:
    """Return a text as it is and '' for anything else: contexts and names hold texts only."""
    return value if isinstance(value, str) else ""


@dataclass(frozen=True, slots=True)
class Finding:
    """What a rule found: a code with parameters, how serious, and where the rule comes from."""

    code: str
    severity: Severity
    message: str
    field: str | None = None
    source: str | None = None
    context: dict[str, Any] = dataclasses.field(default_factory=dict)
