"""The words of a sheet of values: headings, and why a value is missing, in both languages. Pure."""

from __future__ import annotations

import re
import unicodedata
from typing import Final

# column -> its heading in a sample, then what else people write; compared by `plain`
HEADS: Final[dict[str, dict[str, tuple[str, ...]]]] = {
    "plot": {
        "en": ("Plot", "plot code", "plot number", "code", "label"),
        "es": ("Parcela", "código", "código de la parcela", "número de parcela", "etiqueta"),
    },
    "plant": {
        "en": ("Plant", "plant number", "plant no."),
        "es": ("Planta", "número de planta", "planta n.º", "n.º de planta"),
    },
    "assessment": {
        "en": ("Assessment",),
        "es": ("Evaluación", "fecha de evaluación"),
    },
    "note": {
        "en": ("Note", "notes", "remark", "remarks"),
        "es": ("Nota", "notas", "observaciones", "observación"),
    },
}
# columns that an export of a trial has and that say nothing new of its values
_LEFT_ALONE: Final = (
    "treatment", "treatment name", "block", "row", "column", "observer", "trial",
    "tratamiento", "nombre del tratamiento", "bloque", "fila", "columna", "observador", "ensayo",
)  # fmt: skip
_MISSING: Final = {
    "dead": ("dead", "muerta", "muerto"),
    "discarded": ("discarded", "descartada", "descartado", "desechada", "desechado"),
    "lost": ("lost", "perdida", "perdido"),
    "not_measured": (
        "na", "n/a", "n.a.", "-", "–", ".", "nan", "null", "not measured", "not recorded",
        "sin medir", "no medida", "no medido", "sin dato", "s/d", "nd", "n.d.",
    ),
}  # fmt: skip


def plain(text: str) -> str:
    """Return a heading or word as it is compared: without accents, case and double spaces."""
    decomposed = unicodedata.normalize("NFD", text.strip().lower().replace("_", " "))
    return " ".join("".join(c for c in decomposed if not unicodedata.combining(c)).split())


_COLUMN: Final = {
    plain(word): column
    for column, by_language in HEADS.items()
    for words in by_language.values()
    for word in words
}
_WHY: Final = {plain(word): why for why, words in _MISSING.items() for word in words}
_ALONE: Final = frozenset(plain(word) for word in _LEFT_ALONE)


def bare(heading: str) -> str:
    """Return a heading without its unit: "Height, cm", "Height (cm)" and "height" are one."""
    return plain(re.sub(r"[,(\[].*$", "", heading))


def readings(heading: str) -> tuple[str, ...]:
    """Return what a heading can mean: whole, without its last bracket or comma, without any."""
    without_last = re.sub(r"\s*(?:[(\[][^()\[\]]*[)\]]|,[^,]*)\s*$", "", heading)
    return plain(heading), plain(without_last), bare(heading)


def column_of(heading: str) -> str | None:
    """Return "plot", "plant", "assessment" or "note" for a heading, or None."""
    return _COLUMN.get(plain(heading)) or _COLUMN.get(bare(heading))


def is_left_alone(heading: str) -> bool:
    """Whether a column is known and brings no value."""
    return bare(heading) in _ALONE


def why_missing(text: str) -> str | None:
    """Return why there is no value where a cell says so in words, or None."""
    return _WHY.get(plain(text))
