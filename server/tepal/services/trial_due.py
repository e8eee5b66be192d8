"""The work of running trials by day. Twin of web/app/state/trial-due.js, for the day's paper."""

from __future__ import annotations

from datetime import date, timedelta
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, NamedTuple

from tepal.services.trial_harvests import plants_of
from tepal.services.trials import measured_plots

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from tepal.sync.merge import RecordState


class Work(NamedTuple):
    """An assessment or daily round: whose, when (YYYY-MM-DD), and how it stands on a day.

    `state`: planned, due, begun (it has an entry), done (it is whole), unfinished (begun, not
    whole, and its days are over), or overdue (its days are over without an entry).
    """

    trial: str
    code: str
    name: str
    first: str
    last: str
    state: str


def trial_work(
    trials: Sequence[RecordState],
    assessments: Iterable[RecordState],
    today: str,
    whole: Mapping[tuple[str, str], bool] = MappingProxyType({}),
) -> list[Work]:
    """Return the work of trials under way as it stands on a day, earliest end first.

    `whole`: by trial and code, whether a begun assessment lacks nothing; not named: not known.
    """
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
            is_whole = None if is_round else whole.get((trial.id, code))
            if (trial.id, key) in begun:
                is_late = is_whole is False and today > last
                state = "done" if is_whole else "unfinished" if is_late else "begun"
            else:
                state = "overdue" if today > last else "planned" if today < first else "due"
            name = str(planned.get("name") or code)
            found.append(Work(trial.id, code, name, first, last, state))
    codes = {trial.id: str(trial.fields.get("code") or "") for trial in trials}
    return sorted(found, key=lambda one: (one.last, codes[one.trial]))


def is_whole(
    fields: Mapping[str, Any], code: str, observations: Iterable[Mapping[str, Any]]
) -> bool:
    """Tell whether each plant and plot has a value, or a reason for none, for all it is asked.

    Parameters
    ----------
    fields : of the trial.
    observations : fields of those of this assessment.
    """
    planned: Mapping[str, Any] = next(
        (a for a in fields.get("assessments") or () if a.get("code") == code), {}
    )
    asked = [m for m in fields.get("measurements") or ()
             if m.get("code") in (planned.get("measurements") or ())]  # fmt: skip
    of_plot = {f"m_{m['code']}" for m in asked if m.get("per") == "plot"}
    of_plant = {f"m_{m['code']}" for m in asked} - of_plot
    seen = {
        (int(one.get("plot") or 0), int(one.get("plant") or 0)): {
            name for name, value in one.items() if value is not None
        }
        for one in observations
    }
    for plot in measured_plots(fields):
        number = int(plot["plot"])
        plants = plants_of(fields, number, code)
        if plants and not of_plot <= seen.get((number, 0), set()):
            return False
        if any(not of_plant <= seen.get((number, plant), set()) for plant in plants):
            return False
    return True


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
