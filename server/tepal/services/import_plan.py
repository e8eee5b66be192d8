"""A table and a mapping of its columns -> records to create, or what stands against each cell.

Reads only: a dry run and the import itself make the same plan, and the import writes only a plan
without problems (services/imports.py).
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Final

from tepal.services.import_fields import LABEL_USE, ImportPlanError, importable, suggested
from tepal.services.import_names import Names
from tepal.services.import_uses import ProductUses
from tepal.services.import_values import CellError, Ways, unit_of_header, value_of
from tepal.store import records as record_rows

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from sqlalchemy.orm import Session as DbSession

    from tepal.forms.fields import WireField
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
MOST_PROBLEMS: Final = 500


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
    """What an import would do: the columns, a record a row, and what stands against it.

    `changes`: records that are here already and get more uses, (id, {field: (was, to)}).
    `uses`: what a second sheet brings, planned with it.
    """

    kind: str
    sheet: str
    columns: tuple[Column, ...]
    records: tuple[tuple[int, dict[str, Any]], ...]
    problems: tuple[Problem, ...]
    n_rows: int
    n_known: int
    changes: tuple[tuple[str, dict[str, tuple[Any, Any]]], ...] = ()
    n_uses: int = 0
    uses: Plan | None = None

    def all_problems(self) -> tuple[Problem, ...]:
        """Return the problems of both sheets."""
        return self.problems + (self.uses.problems if self.uses else ())


@dataclass(frozen=True, slots=True)
class Reading:
    """How one sheet is to be read.

    `mapping`: {header: field or None}; a header that is not named is matched by its words.
    `units`: {header: UCUM code}, over the unit that the header names.
    """

    sheet: Sheet
    mapping: Mapping[str, str | None] = field(default_factory=dict)
    units: Mapping[str, str] = field(default_factory=dict)


def plan_of(
    db: DbSession,
    establishment: str,
    kind: str,
    reading: Reading,
    ways: Ways,
    uses: Reading | None = None,
) -> Plan:
    """Return what importing a sheet would do; for products, with a second sheet of label uses.

    Raises
    ------
    ImportPlanError   `import.kind`, `import.unknown_field`, `import.field_twice`.
    """
    rows = _Rows(db, establishment, kind, reading, ways)
    products = ProductUses(
        record_rows.load_all(db, establishment, "product") if kind in ("product", LABEL_USE) else ()
    )
    if kind == LABEL_USE:
        return _uses_plan(rows, products)
    here = _identities(db, establishment, kind)
    records: dict[int, dict[str, Any]] = {}
    for number, values in rows.read():
        own_uses = values.pop("uses", []) if kind == "product" else []
        identity = _identity(kind, values)
        if identity not in here:
            here[identity] = number
            records[number] = values
            products.add_of_file(number, values)
        elif (first := here[identity]) is None:
            rows.n_known += 1
        elif not own_uses or _disagrees(records[first], values):
            rows.problem(
                number, None, " · ".join(filter(None, identity)), "row_twice", {"row": first}
            )
            continue
        for use in own_uses:
            rows.use(products, number, here[identity] or values, use)
    second = None
    if uses is not None:
        second = _uses_plan(_Rows(db, establishment, LABEL_USE, uses, ways), products)
    for number, values in records.items():
        if found := products.of_file(number):
            values["uses"] = found
    return rows.plan(tuple(records.items()), products, second)


def _uses_plan(rows: _Rows, products: ProductUses) -> Plan:
    """Return the plan of a sheet of label uses: each row adds one to the product it names."""
    for number, values in rows.read():
        name, registration = values.pop("product", ""), values.pop("registration_number", "")
        column = "registration_number" if registration else "product"
        if not name and not registration:
            rows.problem(number, column, "", "needed")
            continue
        try:
            product = products.find(name, registration)
        except CellError as error:
            rows.problem(
                number, column, registration or name, error.code.removeprefix("import."),
                error.params,
            )  # fmt: skip
            continue
        if not values:
            rows.problem(number, "crop", "", "use_empty")
            continue
        rows.use(products, number, product, values)
    return rows.plan((), products, None)


def _disagrees(first: Mapping[str, Any], again: Mapping[str, Any]) -> bool:
    """Whether a product's further row says anything else than its first: that is no use's row."""
    return any(first.get(name) != value for name, value in again.items())


class _Rows:
    """The rows of one sheet as values of a kind, and the problems met on the way."""

    def __init__(
        self, db: DbSession, establishment: str, kind: str, reading: Reading, ways: Ways
    ) -> None:
        self.kind = kind
        self.sheet = reading.sheet
        self.fields = importable(kind)
        self.columns = _columns(kind, self.sheet, reading.mapping, reading.units, self.fields)
        self.problems: list[Problem] = []
        self.n_known = 0
        self.n_uses = 0
        self._names = Names(db, establishment)
        self._ways = ways

    def read(self) -> Iterator[tuple[int, dict[str, Any]]]:
        """Yield (row number, values) of the rows whose every cell can be taken."""
        for number, cells in self.sheet.rows:
            before = len(self.problems)
            values = _row_values(
                self.sheet.name, number, cells, self.columns, self.fields, self._ways,
                self._names, self.problems,
            )  # fmt: skip
            for name in NEEDED.get(self.kind, ()):
                in_trouble = _is_in_trouble(self.problems[before:], self.columns, name)
                if name not in values and not in_trouble:
                    self.problem(number, name, "", "needed")
            if len(self.problems) == before:
                yield number, values

    def problem(
        self,
        row: int,
        name: str | None,
        value: str,
        code: str,
        params: dict[str, Any] | None = None,
    ) -> None:
        """Note a problem at the column of a field; of no field: at the first column."""
        header = next((one.header for one in self.columns if one.field == name), name)
        if header is None:
            header = self.columns[0].header
        self.problems.append(
            Problem(self.sheet.name, row, header, value[:200], f"import.{code}", params or {})
        )

    def use(
        self,
        products: ProductUses,
        row: int,
        product: int | str | dict[str, Any],
        use: dict[str, Any],
    ) -> None:
        """Add one use of a label, once: to a row's product, or one here by id or by its values."""
        try:
            if isinstance(product, dict):
                product = products.here(product)
            if products.add(product, use):
                self.n_uses += 1
            elif self.kind == LABEL_USE:
                self.n_known += 1
        except CellError as error:
            self.problem(row, None, "", error.code.removeprefix("import."), error.params)

    def plan(
        self,
        records: tuple[tuple[int, dict[str, Any]], ...],
        products: ProductUses,
        second: Plan | None,
    ) -> Plan:
        """Return the plan of the sheet."""
        return Plan(
            self.kind, self.sheet.name, self.columns, records,
            tuple(self.problems[:MOST_PROBLEMS]), len(self.sheet.rows), self.n_known,
            products.changes(), self.n_uses, second,
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
                "import.unknown_field",
                f"no field {name!r}; a {kind} has: {', '.join(fields)}",
                field=name,
                kind=kind,
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
    names: Names,
    problems: list[Problem],
) -> dict[str, Any]:
    values: dict[str, Any] = {}
    lists: dict[str, dict[int, dict[str, Any]]] = {}
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
        if "." in column.field:
            name, place, inner = column.field.split(".")
            lists.setdefault(name, {}).setdefault(int(place), {})[inner] = value
        else:
            values[column.field] = value
    for name, rows in lists.items():
        values[name] = [rows[place] for place in sorted(rows)]
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
