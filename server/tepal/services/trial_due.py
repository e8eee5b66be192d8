"""The work of running trials by day. Twin of web/app/state/trial-due.js, for the day's paper."""

from __future__ import annotations

from datetime import date, timedelta
from typing import TYPE_CHECKING, Any, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from tepal.sync.merge import RecordState


class Work(NamedTuple):
    """An assessment or daily round: whose, when (YYYY-MM-DD), and how it stands on a day.

    `state`: planned, due, begun (it has an entry), or overdue (its days are over without one).
    """

    trial: str
    code: str
    name: str
    first: str
    last: str
    state: str


def trial_work(
    trials: Sequence[RecordState], assessments: Iterable[RecordState], today: str
) -> list[Work]:
    """Return the work of trials under way as it stands on a day, earliest end first."""
    begun = {(one.fields.get("trial"), one.fields.get("code")) for one in assessments}
    found: list[Work] = []
    for trial in trials:
        if trial.fields.get("phase") != "running":
            continue
        for planned in trial.fields.get("assessments") or []:
            days = _days(trial.fields.get("day_zero_on"), planned)
            if days is None:
                continue
            first, last = days
            is_round = planned.get("sort") == "daily_round"
            if is_round and today > last:  # a round left out yesterday can't be made up for
                continue
            code = str(planned.get("code") or "")
            key = f"{code}.{today}" if is_round else code
            state = (
                "begun" if (trial.id, key) in begun
                else "overdue" if today > last
                else "planned" if today < first
                else "due"
            )  # fmt: skip
            name = str(planned.get("name") or code)
            found.append(Work(trial.id, code, name, first, last, state))
    codes = {trial.id: str(trial.fields.get("code") or "") for trial in trials}
    return sorted(found, key=lambda one: (one.last, codes[one.trial]))


def _days(zero: Any, planned: Mapping[str, Any]) -> tuple[str, str] | None:
    """Return the first and the last day of an assessment; None before the day of treatment."""
    day = planned.get("day")
    if not zero or day is None:
        return None
    on = date.fromisoformat(str(zero)) + timedelta(days=int(day))
    if planned.get("sort") == "daily_round":
        until = planned.get("until_day")
        last = on if until is None else on + timedelta(days=int(until) - int(day))
        return on.isoformat(), last.isoformat()
    window = timedelta(days=int(planned.get("window") or 0))
    return (on - window).isoformat(), (on + window).isoformat()
