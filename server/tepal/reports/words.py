"""The fixed words of the papers: column heads, captions, states, cautions.

A catalogue is flat JSON, key -> sentence with `{parameter}` places. The one who calls a renderer
reads the file and hands over a mapping, so that no path is known here.
"""

from __future__ import annotations

import json
import string
from typing import TYPE_CHECKING

from tepal.domain.errors import TepalError

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path


class CatalogueError(TepalError, ValueError):
    """A catalogue is not flat text, lacks a key, or a sentence wants a parameter nobody gave."""


def read_catalogue(path: Path) -> dict[str, str]:
    """Read a catalogue file.

    Raises
    ------
    CatalogueError   The file is not one flat object of strings (`reports.catalogue_not_flat`).
    """
    catalogue = json.loads(path.read_text(encoding="utf-8"))
    if not isinstance(catalogue, dict) or not all(isinstance(v, str) for v in catalogue.values()):
        raise CatalogueError(
            "reports.catalogue_not_flat",
            f"{path.name} must be one object whose values are all text.",
            file=path.name,
        )
    return catalogue


def parameters(sentence: str) -> frozenset[str]:
    """Return the parameter names of a sentence."""
    return frozenset(name for _, name, _, _ in string.Formatter().parse(sentence) if name)


class Words:
    """Looks sentences up in a catalogue and fills their parameters."""

    def __init__(self, catalogue: Mapping[str, str]) -> None:
        self._catalogue = catalogue

    def say(self, key: str, **given: str | int) -> str:
        """Return the sentence of a key with its parameters filled.

        Raises
        ------
        CatalogueError   No such key (`reports.word_missing`), or the sentence has a parameter
            that was not given (`reports.parameter_missing`).
        """
        sentence = self._catalogue.get(key)
        if sentence is None:
            raise CatalogueError(
                "reports.word_missing", f"The catalogue has no key {key}.", key=key
            )
        lacking = parameters(sentence) - given.keys()
        if lacking:
            raise CatalogueError(
                "reports.parameter_missing",
                f"{key} wants {', '.join(sorted(lacking))}.",
                key=key,
            )
        # Plain replacement: a value that itself holds braces must print as it is.
        parts = []
        for text, name, _, _ in string.Formatter().parse(sentence):
            parts.append(text)
            if name:
                parts.append(str(given[name]))
        return "".join(parts)

    def count(self, key: str, n: int) -> str:
        """Return `key.one` for exactly 1 and `key.other` for every other number."""
        return self.say(f"{key}.one" if n == 1 else f"{key}.other", n=n)
