"""Which fields a table can fill, kind by kind, and which of them a header's words name."""

from __future__ import annotations

import re
from typing import Final

from tepal.domain.errors import TepalError
from tepal.forms.fields import Group, Measured, Moment, Rows, Text, WireField
from tepal.forms.kinds import KINDS
from tepal.forms.registers import LabelUse

LABEL_USE: Final = "label_use"  # a row of a product's list of uses: no record of its own
# lists inside a record that columns can fill, `<list>.<n>.<field>`: ingredients side by side, and
# one use of the label a row; a product with several uses stands in several rows
LISTS: Final = {"product": {"ingredients": 4, "uses": 1}}
_PLACE: Final = {
    "nombre": "name", "código": "code", "largo": "length", "longitud": "length",
    "ancho": "width", "superficie": "area", "área": "area",
}  # fmt: skip
# header words that name a field besides its own; compared without case, marks and units
_SYNONYMS: Final = {
    "product": {
        "product": "name", "epa reg no": "registration_number", "reg no": "registration_number",
        "registration": "registration_number", "active ingredient": "ingredients.1.ai",
        "ai": "ingredients.1.ai", "strength": "ingredients.1.strength",
        "concentration": "ingredients.1.strength", "restricted entry interval": "rei",
        "formulation": "formulation_type",
    },
    "lot": {
        "lot": "code", "lot number": "code", "species": "crop", "variety": "cultivar",
        "bench": "benches", "benches": "benches", "pots": "n_containers", "count": "n_containers",
        "pot size": "container", "lot code": "code", "number of containers": "n_containers",
        "growth stage": "stage",
    },
    "house": {"house": "name", "greenhouse": "name"},
    "bay": {"bay": "name", "greenhouse": "house"},
    "bench": {"bench": "name", "greenhouse": "house"},
    LABEL_USE: {
        "name": "product", "epa reg no": "registration_number", "reg no": "registration_number",
        "registration": "registration_number", "crops": "crop", "site": "sites",
        "method": "methods", "maximum concentration": "max_concentration",
        "max rate": "max_concentration",
        "max per season": "max_season", "season total": "max_season",
        "interval": "min_interval", "minimum interval": "min_interval",
        "applications": "max_applications", "max dose per area": "max_dose_area",
        "max dose per pot": "max_dose_container", "max dose per container": "max_dose_container",
        "highest concentration": "max_concentration", "shortest interval": "min_interval",
        "growth stage": "stage", "remarks": "note",
    },
}  # fmt: skip
# the same of tables that are kept in Spanish
_SPANISH: Final = {
    "product": {
        "nombre": "name", "producto": "name", "número de registro": "registration_number",
        "registro": "registration_number", "formulación": "formulation_type",
        "tipo de formulación": "formulation_type",
        "ingrediente activo": "ingredients.1.ai", "concentración": "ingredients.1.strength",
        "intervalo de entrada restringida": "rei", "epp al mezclar": "ppe_mixing",
        "equipo de protección para mezclar": "ppe_mixing",
        "equipo de protección para aplicar": "ppe_applying",
        "epp al aplicar": "ppe_applying",
    },
    "lot": {
        "lote": "code", "código": "code", "código del lote": "code", "cultivo": "crop",
        "especie": "crop", "variedad": "cultivar", "cultivar": "cultivar",
        "número de recipientes": "n_containers",
        "macetas": "n_containers", "recipiente": "container", "mesa": "benches",
        "mesas": "benches", "estado de crecimiento": "stage", "etapa de crecimiento": "stage",
    },
    "house": _PLACE | {"invernadero": "name"},
    "bay": _PLACE | {"nave": "name", "invernadero": "house"},
    "bench": _PLACE | {"mesa": "name", "invernadero": "house", "nave": "bay"},
    LABEL_USE: {
        "producto": "product", "nombre": "product", "número de registro": "registration_number",
        "registro": "registration_number", "cultivo": "crop",
        "concentración máxima": "max_concentration", "aplicaciones": "max_applications",
        "máximo de aplicaciones": "max_applications", "nota": "note",
        "intervalo mínimo": "min_interval", "observaciones": "note",
    },
}  # fmt: skip


class ImportPlanError(TepalError, ValueError):
    """An import that cannot be planned: unknown kind, sheet or field."""


def importable(kind: str) -> dict[str, WireField]:
    """Return {name: field} of what a table can fill, lists as `ingredients.<n>.<field>`.

    Raises
    ------
    ImportPlanError   `import.kind`: tables bring products, label uses, lots and places.
    """
    if kind == LABEL_USE:
        own = {"product": Text(120), "registration_number": Text(60)}
        return own | {n: f for n, f in LabelUse().fields.items() if isinstance(f, WireField)}
    if kind not in _SYNONYMS:
        kinds = ", ".join(_SYNONYMS)
        raise ImportPlanError("import.kind", f"{kind!r} is not imported", kinds=kinds)
    found: dict[str, WireField] = {}
    for name, one in KINDS[kind].schema.fields.items():
        if isinstance(one, Rows) and name in LISTS.get(kind, {}):
            for place in range(1, LISTS[kind][name] + 1):
                for inner, sub in one.schema.fields.items():
                    if isinstance(sub, WireField):
                        found[f"{name}.{place}.{inner}"] = sub
        elif isinstance(one, WireField) and not isinstance(one, Group | Moment | Measured):
            found[name] = one
    return found


def suggested(kind: str, header: str) -> str | None:
    """Return the field that a header names, or None."""
    bare = re.sub(r"[(\[].*?[)\]]", "", header).lower().replace("_", " ")
    bare = re.sub(r"[^\w%. ]+", " ", bare).strip()
    bare = re.sub(r"\s+", " ", bare)
    fields = importable(kind)
    named = bare.replace(" ", "_")
    if named in fields:
        return named
    found = _SYNONYMS[kind].get(bare) or _SPANISH[kind].get(bare)
    if found is None and (match := re.fullmatch(r"(ai|strength|basis) ?([1-4])", bare)):
        found = f"ingredients.{match[2]}.{match[1]}"
    if found is None and kind == "product" and (of_use := suggested(LABEL_USE, header)):
        found = f"uses.1.{of_use}"
    return found if found in fields else None
