"""Sample tables for imports: the headings that are understood and one invented row, as XLSX.

The samples go in one after the other as they are: houses, bays, benches, lots; products, uses.
Names, numbers and amounts are invented; they say nothing of any label. Reads nothing, commits
nothing.
"""

from __future__ import annotations

import io
from typing import Final, Literal, NamedTuple

from openpyxl import Workbook

from tepal.services.import_fields import LABEL_USE, ImportPlanError

Language = Literal["en", "es"]


class SampleColumn(NamedTuple):
    """A column: the field, its headings by language, its unit, its value or values by language."""

    field: str
    en: str
    es: str
    value: str | float
    unit: str = ""
    value_es: str = ""


_C = SampleColumn
SAMPLES: Final[dict[str, tuple[SampleColumn, ...]]] = {
    "product": (
        _C("name", "Name", "Nombre", "Sample product 40", value_es="Producto de muestra 40"),
        _C("registration_number", "Registration number", "Número de registro", "00000-1"),
        _C("formulation_type", "Formulation", "Tipo de formulación", "SL"),
        _C("ingredients.1.ai", "Active ingredient", "Ingrediente activo", "paclobutrazol"),
        _C("ingredients.1.strength", "Strength", "Concentración", 4, "g/L"),
        _C("rei", "Restricted-entry interval", "Intervalo de entrada restringida", 12, "h"),
        _C("ppe_mixing", "PPE mixing", "Equipo de protección para mezclar", "gloves",
           value_es="guantes"),
        _C("ppe_applying", "PPE applying", "Equipo de protección para aplicar", "gloves",
           value_es="guantes"),
    ),
    LABEL_USE: (
        _C("product", "Product", "Producto", "Sample product 40",
           value_es="Producto de muestra 40"),
        _C("registration_number", "Registration number", "Número de registro", "00000-1"),
        _C("crop", "Crop", "Cultivo", "Petunia"),
        _C("max_concentration", "Highest concentration", "Concentración máxima", 30, "mg/L"),
        _C("max_applications", "Applications", "Máximo de aplicaciones", 3),
        _C("min_interval", "Shortest interval", "Intervalo mínimo", 7, "d"),
        _C("note", "Remarks", "Nota", "as the label says", value_es="según la etiqueta"),
    ),
    "lot": (
        _C("code", "Lot code", "Código del lote", "S·01"),
        _C("crop", "Crop", "Cultivo", "Petunia"),
        _C("cultivar", "Cultivar", "Cultivar", "Sample", value_es="Muestra"),
        _C("n_containers", "Number of containers", "Número de recipientes", 480),
        _C("container", "Container", "Recipiente", "10 cm pot", value_es="maceta de 10 cm"),
        _C("benches", "Benches", "Mesas", "House S / Bench 1",
           value_es="Invernadero M / Mesa 1"),
        _C("stage", "Growth stage", "Etapa de crecimiento", "rooted", value_es="enraizado"),
    ),
    "house": (
        _C("name", "Name", "Nombre", "House S", value_es="Invernadero M"),
        _C("code", "Code", "Código", "S"),
        _C("length", "Length", "Largo", 30, "m"),
        _C("width", "Width", "Ancho", 10, "m"),
    ),
    "bay": (
        _C("name", "Name", "Nombre", "Bay 1", value_es="Nave 1"),
        _C("house", "House", "Invernadero", "House S", value_es="Invernadero M"),
        _C("length", "Length", "Largo", 15, "m"),
        _C("width", "Width", "Ancho", 10, "m"),
    ),
    "bench": (
        _C("name", "Name", "Nombre", "Bench 1", value_es="Mesa 1"),
        _C("code", "Code", "Código", "S1"),
        _C("house", "House", "Invernadero", "House S", value_es="Invernadero M"),
        _C("length", "Length", "Largo", 12, "m"),
        _C("width", "Width", "Ancho", 1.5, "m"),
    ),
}  # fmt: skip
# as a second sheet of a file of products is found (imports.py)
_USES_SHEET: Final = {"en": "label uses", "es": "usos de la etiqueta"}
_SHEET: Final = {"en": "sample", "es": "muestra"}
_WIDTH: Final = 24  # characters: headings can be read whole


def heading(column: SampleColumn, language: Language) -> str:
    """Return a column's heading: "Strength (g/L)"."""
    words = column.es if language == "es" else column.en
    return f"{words} ({column.unit})" if column.unit else words


def sample_table(kind: str, language: Language) -> bytes:
    """Return an XLSX with the headings of a kind and one invented row; products with their uses.

    Raises
    ------
    ImportPlanError   `import.kind`.
    """
    if kind not in SAMPLES:
        kinds = ", ".join(SAMPLES)
        raise ImportPlanError("import.kind", f"{kind!r} is not imported", kinds=kinds)
    book = Workbook()
    book.remove(book.active)
    sheets = [(kind, _SHEET[language])]
    if kind == "product":
        sheets.append((LABEL_USE, _USES_SHEET[language]))
    for one, title in sheets:
        sheet = book.create_sheet(title)
        sheet.append([heading(column, language) for column in SAMPLES[one]])
        sheet.append(
            [column.value_es if language == "es" and column.value_es else column.value
             for column in SAMPLES[one]]
        )  # fmt: skip
        for at in range(1, len(SAMPLES[one]) + 1):
            sheet.column_dimensions[sheet.cell(1, at).column_letter].width = _WIDTH
    file = io.BytesIO()
    book.save(file)
    return file.getvalue()
