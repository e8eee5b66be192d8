"""Bringing products, lots and places in from a table: a dry run, then one transaction. Commits.

The records are created as entries of the server's own device, in one group; a plan with a problem
is not carried out at all, so that an aborted import leaves nothing.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from tepal.services.import_plan import ImportPlanError, Plan, importable, plan_of
from tepal.services.import_sheets import Sheet, read_sheets
from tepal.services.import_values import Ways
from tepal.services.server_acts import Act, act_within, server_device

if TYPE_CHECKING:
    from sqlalchemy.orm import Session as DbSession

    from tepal.services.server_acts import Chance


@dataclass(frozen=True, slots=True)
class AskedImport:
    """A table file and how it is to be read; `sheet` None: the first that holds anything."""

    name: str
    content: bytes
    kind: str
    sheet: str | None = None
    mapping: dict[str, str | None] = field(default_factory=dict)
    units: dict[str, str] = field(default_factory=dict)
    ways: Ways = field(default_factory=Ways)


@dataclass(frozen=True, slots=True)
class ImportResult:
    """What was written: how many records, in which group of entries."""

    n_created: int
    n_known: int
    group: str


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
            "import.no_such_sheet", f"no sheet {asked.sheet!r}",
            sheets=", ".join(one.name for one in sheets),
        )  # fmt: skip
    return sheets, chosen[0]


def dry_run(db: DbSession, establishment: str, asked: AskedImport) -> Plan:
    """Return what the import would do. Reads only."""
    _, sheet = sheets_of(asked)
    return plan_of(db, establishment, sheet, asked.kind, asked.mapping, asked.units, asked.ways)


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
        if plan.problems:
            raise ImportPlanError(
                "import.has_problems", "the table has problems; nothing was imported",
                n=len(plan.problems),
            )  # fmt: skip
        group = chance.uuid7()
        acts = [
            Act(asked.kind, chance.uuid7(), "create", member, values, group=group)
            for _, values in plan.records
        ]
        if acts:
            act_within(db, establishment, server_device(db, establishment), acts, chance)
    return ImportResult(len(acts), plan.n_known, group)


def plan_view(asked: AskedImport, plan: Plan) -> dict[str, Any]:
    """Return a dry run as the office page shows it."""
    sheets, _ = sheets_of(asked)
    fields = importable(asked.kind)
    return {
        "kind": plan.kind,
        "sheet": plan.sheet,
        "sheets": [one.name for one in sheets],
        "fields": list(fields),
        "columns": [
            {
                "header": one.header, "field": one.field, "unit": one.unit,
                "units": list(getattr(fields.get(one.field or ""), "units", ())),
            }
            for one in plan.columns
        ],
        "n_rows": plan.n_rows,
        "n_new": len(plan.records),
        "n_known": plan.n_known,
        "rows": [{"row": number, "values": values} for number, values in plan.records[:20]],
        "problems": [
            {
                "sheet": one.sheet, "row": one.row, "column": one.column, "value": one.value,
                "code": one.code, "params": one.params,
            }
            for one in plan.problems
        ],
    }  # fmt: skip
