"""Messages for people: a code and parameters become a sentence in one language.

A catalogue is a flat mapping code -> message, read from web/app/locale by whoever has files (this
room has none) and passed in. Twin: web/app/core/words.js.

A message may hold `{name}`, replaced by the parameter, and `{name|one|other}`, replaced by the
first word when the parameter is exactly 1 and by the second otherwise: "{n} {n|entry|entries}".
Quantities arrive as strings that `rounding` made; nothing is rounded here.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from tepal.domain.errors import NotFoundError, TepalError

if TYPE_CHECKING:
    from collections.abc import Mapping

_PLACE = re.compile(r"\{(\w+)(?:\|([^{}|]*)\|([^{}|]*))?\}")


class WordsError(TepalError, ValueError):
    """A message asks for a parameter that was not given."""


def fill_message(message: str, params: Mapping[str, str | int]) -> str:
    """Return the message with its places filled.

    Parameters
    ----------
    message : str     May hold `{name}` and `{name|one|other}`.
    params : mapping  Name -> text or whole number; more than the message needs is fine.

    Raises
    ------
    WordsError   A place has no parameter (code `words.missing_param`).
    """

    def filled(match: re.Match[str]) -> str:
        name, one, other = match.groups()
        if name not in params:
            text = f"the message {message!r} needs the parameter {name!r}"
            raise WordsError("words.missing_param", text, template=message, name=name)
        value = params[name]
        if one is None:
            return str(value)
        return one if str(value) == "1" else other

    return _PLACE.sub(filled, message)


def places_of(message: str) -> list[str]:
    """Return the names of the parameters that a message needs, sorted, each once."""
    return sorted({match[1] for match in _PLACE.finditer(message)})


class Words:
    """One language's catalogue, ready to speak.

    Parameters
    ----------
    language : str       BCP 47 tag, such as "en" or "es".
    catalogue : mapping  Code -> message; parts must be merged already.
    """

    def __init__(self, language: str, catalogue: Mapping[str, str]) -> None:
        self.language = language
        self._catalogue = catalogue

    def __contains__(self, code: str) -> bool:
        return code in self._catalogue

    def text(self, code: str, /, **params: str | int) -> str:
        """Return the words for a code; raises NotFoundError (`words.missing_code`) without one."""
        message = self._catalogue.get(code)
        if message is None:
            text = f"no message {code!r} in the catalogue {self.language!r}"
            raise NotFoundError("words.missing_code", text, asked=code, language=self.language)
        return fill_message(message, params)
