"""Bringing products, lots and places in from a table: a dry run, then one transaction. Commits.

The records are created as entries of the server's own device, in one group; a plan with a problem
is not carried out at all, so that an aborted import leaves nothing.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Final

from tepal.services.import_fields import LABEL_USE, ImportPlanError, importable
from tepal.services.import_plan import Column, Plan, Reading, plan_of
from tepal.services.import_sheets import Sheet, read_sheets
from tepal.services.import_values import Ways
from tepal.services.server_acts import Act, act_within, server_device

if TYPE_CHECKING:
    from sqlalchemy.orm import Session as DbSession

    from tepal.services.server_acts import Chance


# What people call a second sheet with the uses of the labels; compared without case and marks.
_USES_NAMES: Final = frozenset(
    {"label uses", "uses", "label use", "usos", "usos de la etiqueta", "usos de etiqueta"}
)


@dataclass(frozen=True, slots=True)
class AskedUses:
    """The sheet of label uses beside a sheet of products; `sheet` None: it is not read."""

    sheet: str | None
    mapping: dict[str, str | None] = field(default_factory=dict)
    units: dict[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class AskedImport:
    """A table file and how it is to be read; `sheet` None: the first that holds anything.

    `uses` None: a sheet that is called "label uses" is read with the products.
    """

    name: str
    content: bytes
    kind: str
    sheet: str | None = None
    mapping: dict[str, str | None] = field(default_factory=dict)
    units: dict[str, str] = field(default_factory=dict)
    ways: Ways = field(default_factory=Ways)
    uses: AskedUses | None = None


@dataclass(frozen=True, slots=True)
class ImportResult:
    """What was written: how many records and label uses, in which group of entries."""

    n_created: int
    n_known: int
    group: str
    n_uses: int = 0


def sheets_of(asked: AskedImport) -> tuple[list[Sheet], Sheet]:
    """Return all sheets of the file, and the one asked for.

    Raises
    ------
    ImportFileError   See `read_sheets`.
    ImportPlanError   `import.no_such_sheet`.
    """
    sheets = read_sheets(asked.name, asked.content)
    chosen = [one for one in sheets if one.name == asked.sheet] if asked.sheet else sheets
    if not chosen:
        raise ImportPlanError(
            "import.no_such_sheet", f"no sheet {asked.sheet!r}; the file has: {_names(sheets)}",
            sheets=_names(sheets),
        )  # fmt: skip
    return sheets, chosen[0]


def _names(sheets: list[Sheet]) -> str:
    return ", ".join(one.name for one in sheets)


def dry_run(db: DbSession, establishment: str, asked: AskedImport) -> Plan:
    """Return what the import would do. Reads only."""
    sheets, sheet = sheets_of(asked)
    reading = Reading(sheet, asked.mapping, asked.units)
    uses = _uses_reading(asked, sheets, sheet)
    return plan_of(db, establishment, asked.kind, reading, asked.ways, uses)


def _uses_reading(asked: AskedImport, sheets: list[Sheet], sheet: Sheet) -> Reading | None:
    """Return how the second sheet is read: the one asked for, else one of a telling name."""
    if asked.kind != "product":
        return None
    others = [one for one in sheets if one is not sheet]
    if asked.uses is None:
        named = [one for one in others if _plain(one.name) in _USES_NAMES]
        return Reading(named[0]) if named else None
    if asked.uses.sheet is None:
        return None
    for one in others:
        if one.name == asked.uses.sheet:
            return Reading(one, asked.uses.mapping, asked.uses.units)
    raise ImportPlanError(
        "import.no_such_sheet", f"no sheet {asked.uses.sheet!r}; others: {_names(others)}",
        sheets=_names(others),
    )  # fmt: skip


def _plain(name: str) -> str:
    return re.sub(r"[^\w]+", " ", name.replace("_", " ")).strip().lower()


def carry_out(
    db: DbSession, establishment: str, asked: AskedImport, member: str, chance: Chance
) -> ImportResult:
    """Import a table. Commits everything, or nothing.

    Raises
    ------
    ImportPlanError   `import.has_problems`: a dry run names them; nothing was written.
    """
    with db.begin():  # the plan is made again where it is written: records may have come since
        plan = dry_run(db, establishment, asked)
        if problems := plan.all_problems():
            raise ImportPlanError(
                "import.has_problems", "the table has problems; nothing was imported",
                n=len(problems),
            )  # fmt: skip
        group = chance.uuid7()
        acts = [
            Act(asked.kind, chance.uuid7(), "create", member, values, group=group)
            for _, values in plan.records
        ]
        n_created = len(acts)
        acts += [
            Act("product", product, "change", member, dict(changed), group=group)
            for product, changed in plan.changes
        ]
        if acts:
            act_within(db, establishment, server_device(db, establishment), acts, chance)
    n_uses = plan.n_uses + (plan.uses.n_uses if plan.uses else 0)
    return ImportResult(n_created, plan.n_known, group, n_uses)


def plan_view(asked: AskedImport, plan: Plan) -> dict[str, Any]:
    """Return a dry run as the office page shows it."""
    sheets, sheet = sheets_of(asked)
    fields = importable(asked.kind)
    second = plan.uses
    return {
        "kind": plan.kind,
        "sheet": plan.sheet,
        "sheets": [one.name for one in sheets],
        "fields": list(fields),
        "columns": _columns_view(plan.columns, plan.kind),
        "uses_sheets": [one.name for one in sheets if one is not sheet and plan.kind == "product"],
        "uses": None
        if second is None
        else {
            "kind": LABEL_USE,
            "sheet": second.sheet,
            "fields": list(importable(LABEL_USE)),
            "columns": _columns_view(second.columns, LABEL_USE),
            "n_rows": second.n_rows,
        },
        "n_uses": plan.n_uses + (second.n_uses if second else 0),
        "n_rows": plan.n_rows,
        "n_new": len(plan.records),
        "n_known": plan.n_known,
        "rows": [{"row": number, "values": values} for number, values in plan.records[:20]],
        "problems": [
            {
                "sheet": one.sheet, "row": one.row, "column": one.column, "value": one.value,
                "code": one.code, "params": one.params,
            }
            for one in plan.all_problems()
        ],
    }  # fmt: skip


def _columns_view(columns: tuple[Column, ...], kind: str) -> list[dict[str, Any]]:
    fields = importable(kind)
    return [
        {
            "header": one.header, "field": one.field, "unit": one.unit,
            "units": list(getattr(fields.get(one.field or ""), "units", ())),
        }
        for one in columns
    ]  # fmt: skip
