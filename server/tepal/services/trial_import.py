"""Values of a trial from a sheet: a dry run, then all of it in one transaction or nothing. Commits.

What is read of the sheet, and what stands against it: trial_import_rows.py.
"""

from __future__ import annotations

import dataclasses
from typing import TYPE_CHECKING

from tepal.domain.number_format import number_format_of
from tepal.services.import_sheets import read_sheets
from tepal.services.server_acts import act_within, server_device
from tepal.services.trial_book import of_trial
from tepal.services.trial_import_rows import OnFile, SheetReader, TrialImport
from tepal.services.trials import TrialError, load_trial, measured_plots
from tepal.store import records as record_rows

if TYPE_CHECKING:
    from sqlalchemy.orm import Session as DbSession

    from tepal.services.server_acts import Chance


def plan_values(
    db: DbSession,
    establishment: str,
    trial_id: str,
    name: str,
    content: bytes,
    assessment: str | None,
    member: str,
) -> TrialImport:
    """Return what importing the file would do. Reads only.

    Parameters
    ----------
    assessment : code, where the sheet has no such column

    Raises
    ------
    NotFoundError     `trials.no_such_trial`.
    TrialError        `trials.no_layout`.
    ImportFileError   `import.*`: no table.
    """
    trial = load_trial(db, establishment, trial_id)
    if not measured_plots(trial.fields):
        raise TrialError("trials.no_layout", "This trial has no layout yet; draw one first.")
    own = record_rows.load(db, establishment, [("establishment", establishment)])
    decimal_format = own["establishment", establishment].fields.get("number_format")
    on_file = OnFile(
        trial,
        {one.id: one for one in of_trial(db, establishment, "observation", trial_id)},
        {one.id for one in of_trial(db, establishment, "assessment", trial_id)},
        number_format_of(decimal_format),
    )
    reader = SheetReader(on_file, assessment, member)
    for sheet in read_sheets(name, content):
        reader.read(sheet)
    return reader.close()


def import_values(
    db: DbSession,
    establishment: str,
    trial_id: str,
    name: str,
    content: bytes,
    assessment: str | None,
    member: str,
    chance: Chance,
    *,
    is_looked_at: bool = False,
) -> TrialImport:
    """Import the file: everything, or, with a single problem, nothing. Commits.

    Parameters
    ----------
    is_looked_at : somebody looked at the unusual values and keeps them

    Raises
    ------
    TrialError   `trials.import_problems`, `trials.import_unusual`; others as `plan_values`.
    """
    with db.begin():
        plan = plan_values(db, establishment, trial_id, name, content, assessment, member)
        if plan.problems:
            raise TrialError(
                "trials.import_problems", "The sheet has problems; nothing was imported.",
                n=len(plan.problems),
            )  # fmt: skip
        if plan.unusual and not is_looked_at:
            raise TrialError(
                "trials.import_unusual", "Values lie outside the plan's bounds; look first.",
                n=len(plan.unusual),
            )  # fmt: skip
        if plan.acts:
            group = chance.uuid7()
            acts = [dataclasses.replace(one, group=group) for one in plan.acts]
            act_within(db, establishment, server_device(db, establishment), acts, chance)
    return plan
