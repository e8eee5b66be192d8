"""What of a trial's plan was changed once there were values: read off the journal, never forgotten.

Reads only. Who changes primary response, comparison or contrasts after seeing data is asked for a
reason; what was changed without one is told all the same.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from tepal.designs.trial import PlanChange
from tepal.services.record_story import stories

if TYPE_CHECKING:
    from collections.abc import Mapping

    from sqlalchemy.orm import Session as DbSession

#: What decides which questions are asked and how they are judged.
PLAN_FIELDS: Final = (
    "primary_response", "comparison", "control", "two_sided", "alpha", "interaction_scale",
    "covariate", "contrasts",
)  # fmt: skip


def plan_changes(
    db: DbSession,
    establishment: str,
    trial_id: str,
    first_value_seq: int | None,
    people: Mapping[str, str],
) -> tuple[PlanChange, ...]:
    """Return the changes of the plan after the journal's entry `first_value_seq`, oldest first.

    Without a first value there are none: until then a plan is free.
    """
    if first_value_seq is None:
        return ()
    found = []
    for step in stories(db, establishment, "trial", [trial_id])[trial_id]:
        if step.before is None or step.row.seq <= first_value_seq:
            continue
        old, new = step.before.fields, step.after.fields
        found += [
            PlanChange(
                name,
                _text(old.get(name)),
                _text(new.get(name)),
                people.get(str(step.entry.get("member") or ""), ""),
                str(step.made_at.get("local") or "")[:10],
                step.reason,
            )
            for name in PLAN_FIELDS
            if old.get(name) != new.get(name)
        ]
    return tuple(found)


def _text(value: Any) -> str:
    """Return a field's value as text: of contrasts their names with the weights, "; " between."""
    if isinstance(value, list):
        return "; ".join(_contrast(row) for row in value if isinstance(row, dict))
    return "" if value is None else str(value)


def _contrast(row: Mapping[str, Any]) -> str:
    weights = ", ".join(
        f"{w.get('treatment')}: {w.get('weight')}" for w in row.get("weights") or ()
    )
    return f"{row.get('name') or ''} ({weights})"
