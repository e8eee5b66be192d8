"""The one catalogue of words: what screens say, the server says too, on paper.

The files are web/app/locale/<part>.<language>.json; all parts of a language are one mapping.
"""

from __future__ import annotations

import functools
import json
from typing import TYPE_CHECKING, Final

from tepal.domain.words import Words

if TYPE_CHECKING:
    from pathlib import Path

LANGUAGES: Final = ("en", "es")


@functools.cache
def catalogue(folder: Path, language: str) -> dict[str, str]:
    """Return code -> message of a language, all parts together."""
    merged: dict[str, str] = {}
    for path in sorted(folder.glob(f"*.{language}.json")):
        merged.update(json.loads(path.read_text(encoding="utf-8")))
    return merged


def words_for(folder: Path, language: str) -> Words:
    """Return the words of a language, ready to speak."""
    return Words(language, catalogue(folder, language))
