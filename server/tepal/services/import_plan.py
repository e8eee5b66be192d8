"""A table and a mapping of its columns -> records to create, or what stands against each cell.

Reads only: a dry run and the import itself make the same plan, and the import writes only a plan
without problems (services/imports.py).
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Final

from tepal.domain.errors import TepalError
from tepal.forms.fields import Group, Measured, Moment, Rows, WireField
from tepal.forms.kinds import KINDS
from tepal.services.import_values import CellError, Ways, unit_of_header, value_of
from tepal.store import records as record_rows

if TYPE_CHECKING:
    from collections.abc import Mapping

    from sqlalchemy.orm import Session as DbSession

    from tepal.services.import_sheets import Cell, Sheet

# kind -> the fields that say which record it is; a row whose record is here already is left out
IDENTITY: Final[dict[str, tuple[str, ...]]] = {
    "product": ("name", "registration_number"),
    "lot": ("code",),
    "house": ("name",),
    "bay": ("name", "house"),
    "bench": ("name", "house"),
}
# what must stand in a row: without it nobody could find the record again
NEEDED: Final = {
    "product": ("name",), "lot": ("code", "crop"), "house": ("name",), "bay": ("name", "house"),
    "bench": ("name", "house"),
}  # fmt: skip
MOST_INGREDIENTS: Final = 4
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
        "pot size": "container",
    },
    "house": {"house": "name", "greenhouse": "name"},
    "bay": {"bay": "name", "greenhouse": "house"},
    "bench": {"bench": "name", "greenhouse": "house"},
}  # fmt: skip
MOST_PROBLEMS: Final = 500


class ImportPlanError(TepalError, ValueError):
    """An import that cannot be planned: unknown kind, sheet or field."""


@dataclass(frozen=True, slots=True)
class Column:
    """One column: its header, the field it fills (None: left out) and its unit (UCUM)."""

    header: str
    field: str | None
    unit: str | None


@dataclass(frozen=True, slots=True)
class Problem:
    """A cell that cannot be taken: where it stands, what it says, and a code naming the cure."""

    sheet: str
    row: int
    column: str
    value: str
    code: str
    params: dict[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Plan:
    """What an import would do: the columns, a record a row, and what stands against it."""

    kind: str
    sheet: str
    columns: tuple[Column, ...]
    records: tuple[tuple[int, dict[str, Any]], ...]
    problems: tuple[Problem, ...]
    n_rows: int
    n_known: int


def importable(kind: str) -> dict[str, WireField]:
    """Return {name: field} of what a table can fill, ingredients as `ingredients.<n>.<field>`.

    Raises
    ------
    ImportPlanError   `import.kind`: tables bring products, lots and places.
    """
    if kind not in IDENTITY:
        raise ImportPlanError("import.kind", f"{kind!r} is not imported", kinds=", ".join(IDENTITY))
    found: dict[str, WireField] = {}
    for name, one in KINDS[kind].schema.fields.items():
        if isinstance(one, Rows) and name == "ingredients":
            for place in range(1, MOST_INGREDIENTS + 1):
                for inner, sub in one.schema.fields.items():
                    if isinstance(sub, WireField):
                        found[f"ingredients.{place}.{inner}"] = sub
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
    found = _SYNONYMS[kind].get(bare)
    if found is None and (match := re.fullmatch(r"(ai|strength|basis) ?([1-4])", bare)):
        found = f"ingredients.{match[2]}.{match[1]}"
    return found


def plan_of(
    db: DbSession,
    establishment: str,
    sheet: Sheet,
    kind: str,
    mapping: Mapping[str, str | None],
    units: Mapping[str, str],
    ways: Ways,
) -> Plan:
    """Return what importing a sheet would do.

    Parameters
    ----------
    mapping : {header: field or None}   A header that is not named is matched by its words.
    units : {header: UCUM code}         Over the unit that the header names.

    Raises
    ------
    ImportPlanError   `import.kind`, `import.unknown_field`, `import.field_twice`.
    """
    fields = importable(kind)
    columns = _columns(kind, sheet, mapping, units, fields)
    names = _Names(db, establishment)
    here = _identities(db, establishment, kind)
    problems: list[Problem] = []
    records: list[tuple[int, dict[str, Any]]] = []
    n_known = 0
    for number, cells in sheet.rows:
        before = len(problems)
        values = _row_values(sheet.name, number, cells, columns, fields, ways, names, problems)
        for name in NEEDED[kind]:
            if name not in values and not _is_in_trouble(problems[before:], columns, name):
                problems.append(Problem(sheet.name, number, name, "", "import.needed"))
        if len(problems) > before:
            continue
        identity = _identity(kind, values)
        if identity in here:
            same_file = here[identity]
            if same_file is not None:
                problems.append(
                    Problem(
                        sheet.name, number, columns[0].header, " · ".join(filter(None, identity)),
                        "import.row_twice", {"row": same_file},
                    )
                )  # fmt: skip
            else:
                n_known += 1
            continue
        here[identity] = number
        records.append((number, values))
    return Plan(
        kind, sheet.name, columns, tuple(records), tuple(problems[:MOST_PROBLEMS]),
        len(sheet.rows), n_known,
    )  # fmt: skip


def _columns(
    kind: str,
    sheet: Sheet,
    mapping: Mapping[str, str | None],
    units: Mapping[str, str],
    fields: Mapping[str, WireField],
) -> tuple[Column, ...]:
    columns: list[Column] = []
    taken: set[str] = set()
    for header in sheet.header:
        is_chosen = header in mapping
        name = mapping[header] if is_chosen else suggested(kind, header)
        if name is not None and name not in fields:
            raise ImportPlanError(
                "import.unknown_field", f"no field {name!r}", field=name, kind=kind
            )
        if name in taken:
            if is_chosen:
                raise ImportPlanError("import.field_twice", f"{name!r} is filled twice", field=name)
            name = None
        if name is not None:
            taken.add(name)
        columns.append(Column(header, name, units.get(header) or unit_of_header(header)))
    return tuple(columns)


def _row_values(
    sheet: str,
    number: int,
    cells: tuple[Cell, ...],
    columns: tuple[Column, ...],
    fields: Mapping[str, WireField],
    ways: Ways,
    names: _Names,
    problems: list[Problem],
) -> dict[str, Any]:
    values: dict[str, Any] = {}
    ingredients: dict[int, dict[str, Any]] = {}
    # a bench is named within its house: the house is read first
    ordered = sorted(zip(columns, cells, strict=False), key=lambda pair: pair[0].field != "house")
    for column, cell in ordered:
        if column.field is None:
            continue
        try:
            value = value_of(fields[column.field], cell, ways, column.unit, names.find)
        except CellError as error:
            problems.append(
                Problem(sheet, number, column.header, cell.text[:200], error.code, error.params)
            )
            continue
        if value is None:
            continue
        if column.field.startswith("ingredients."):
            _, place, inner = column.field.split(".")
            ingredients.setdefault(int(place), {})[inner] = value
        else:
            values[column.field] = value
    if ingredients:
        values["ingredients"] = [ingredients[place] for place in sorted(ingredients)]
    return values


def _is_in_trouble(problems: list[Problem], columns: tuple[Column, ...], name: str) -> bool:
    headers = {column.header for column in columns if column.field == name}
    return any(problem.column in headers for problem in problems)


def _identity(kind: str, values: Mapping[str, Any]) -> tuple[str, ...]:
    return tuple(str(values.get(name) or "").strip().lower() for name in IDENTITY[kind])


def _identities(db: DbSession, establishment: str, kind: str) -> dict[tuple[str, ...], int | None]:
    """Return the records that are here: identity -> None; rows of the file add their number."""
    return {
        _identity(kind, record.fields): None
        for record in record_rows.load_all(db, establishment, kind)
        if record.state != "void"
    }


class _Names:
    """Finds records by the name or code that people write; each kind is read once."""

    def __init__(self, db: DbSession, establishment: str) -> None:
        self._db = db
        self._establishment = establishment
        self._by_kind: dict[str, dict[str, list[str]]] = {}

    def find(self, kind: str, name: str) -> list[str]:
        """Return the ids of the records with this name, code, or "house / bench"."""
        if kind not in self._by_kind:
            self._by_kind[kind] = self._read(kind)
        return self._by_kind[kind].get(_plain(name), [])

    def _read(self, kind: str) -> dict[str, list[str]]:
        found: dict[str, list[str]] = {}
        houses = {}
        if "house" in KINDS[kind].schema.fields:
            rows = record_rows.load_all(self._db, self._establishment, "house")
            houses = {row.id: str(row.fields.get("name", "")) for row in rows}
        for record in record_rows.load_all(self._db, self._establishment, kind):
            if record.state == "void" or record.fields.get("retired") is True:
                continue
            own = {
                _plain(str(record.fields[key])) for key in ("name", "code") if key in record.fields
            }
            house = houses.get(record.fields.get("house", ""))
            own |= {_plain(f"{house} / {one}") for one in own} if house else set()
            for one in own:
                found.setdefault(one, []).append(record.id)
        return found


def _plain(name: str) -> str:
    return re.sub(r"\s*/\s*", "/", re.sub(r"\s+", " ", name)).strip().lower()
