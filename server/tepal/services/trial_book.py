"""A trial out of the book: its records become `TrialData`.

Reads only. What a plot truly received comes from the applications: treated wrongly is analysed as
treated, and said.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import TYPE_CHECKING, Any

from sqlalchemy import select

from tepal.designs.trial import (
    Contrast,
    TrialAssessment,
    TrialData,
    TrialExclusion,
    TrialHarvest,
    TrialMeasurement,
    TrialPlan,
    TrialPlot,
    TrialPrices,
    TrialTreatment,
    TrialValue,
    formulations_of,
    partners_of,
)
from tepal.services.record_story import names_of
from tepal.services.trial_plan_changes import plan_changes
from tepal.services.trial_potting import by_origin, is_potted, origin_of
from tepal.services.trials import KIND_OF, applications_of, load_trial, measured_plots
from tepal.store import records as record_rows

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from sqlalchemy.orm import Session as DbSession

    from tepal.sync.merge import RecordState

_NOT_ALIVE = ("dead", "discarded", "not_measured")


def trial_data(db: DbSession, establishment: str, trial_id: str) -> TrialData:
    """Return a trial with all that was observed.

    Raises
    ------
    NotFoundError   `trials.no_such_trial`.
    """
    trial = load_trial(db, establishment, trial_id)
    people = names_of(db, establishment, "member", "name")
    observations = of_trial(db, establishment, "observation", trial_id)
    found = data_of(
        trial.fields,
        observations,
        of_trial(db, establishment, "assessment", trial_id),
        of_trial(db, establishment, "exclusion", trial_id),
        applications_of(db, establishment, trial_id),
        people,
    )
    first = min((one.created_seq for one in observations), default=None)
    changes = plan_changes(db, establishment, trial_id, first, people)
    data = replace(found, plan_changes=changes)
    if not is_potted(trial.fields):
        return data
    liner, before, since = liners_of(db, establishment, trial.fields)
    return by_origin(data, trial.fields, liner, tuple(_plots(liner, before)), since)


def liners_of(
    db: DbSession, establishment: str, fields: Mapping[str, Any]
) -> tuple[Mapping[str, Any], dict[int, tuple[int, int, str]], dict[tuple[int, int], int]]:
    """Return the trial in which the plants of a potted one were liners, through every move since.

    Returns
    -------
    Its fields, {} where it is not on file; what its plots received instead of what was planned, as
    `actual_treatments`; and (plot, plant) -> treatment of those treated wrongly between two moves.
    """
    since: dict[tuple[int, int], int] = {}
    passed: set[str] = set()
    while True:
        origin = str(fields.get("origin") or "")
        found = record_rows.load(db, establishment, [("trial", origin)]).get(("trial", origin))
        if found is None or origin in passed:
            return {}, {}, since
        passed.add(origin)
        fields = found.fields
        treated = applications_of(db, establishment, origin)
        got = received_instead(fields, (one.fields for one in treated))
        if not is_potted(fields):
            return fields, got, since
        for plot in measured_plots(fields):
            liner = origin_of(plot)
            if liner is not None and int(plot["plot"]) in got:
                since.setdefault(liner, got[int(plot["plot"])][1])


def of_trial(db: DbSession, establishment: str, kind: str, trial_id: str) -> list[RecordState]:
    """Return the records of a kind that belong to a trial, void ones left out."""
    table, names = record_rows.table_of(kind), record_rows.field_columns(kind)
    query = (
        select(table)
        .where(table.c.establishment == establishment, table.c.trial == trial_id)
        .order_by(table.c.created_seq, table.c.id)
    )
    found = [record_rows.state_of(kind, row, names) for row in db.execute(query)]
    return [record for record in found if record.state != "void"]


def data_of(
    fields: Mapping[str, Any],
    observations: Iterable[RecordState],
    assessments: Iterable[RecordState],
    exclusions: Iterable[RecordState],
    applications: Iterable[RecordState],
    people: Mapping[str, str],
) -> TrialData:
    """Return the records of one trial as `TrialData`; what names nothing known is left out."""
    factors = tuple(fields.get("factors") or ())
    treatments = tuple(
        _treatment(row, factors) for row in fields.get("treatments") or () if row.get("number")
    )
    numbers = {t.number for t in treatments}
    actual = received_instead(fields, (one.fields for one in applications))
    plots = tuple(p for p in _plots(fields, actual) if p.treatment in numbers)
    measurements = tuple(
        _measurement(row) for row in fields.get("measurements") or () if row.get("code")
    )
    looks = _assessments(fields, assessments)
    known = {m.code for m in measurements}, {a.code for a in looks}, {p.number for p in plots}
    # who brought a file in is not who measured: names stay where they were made
    observers = {} if fields.get("elsewhere") else people
    values = tuple(_values(observations, known, _day(fields.get("day_zero_on")), observers))
    control = fields.get("control")
    plan = _plan(fields, control if control in numbers else None)
    partners = partners_of(treatments, plan.control)
    left_out = tuple(
        _exclusion(record, people)
        for record in exclusions
        if not record.fields.get("lifted") and record.fields.get("plot") in known[2]
    )
    return TrialData(
        code=str(fields.get("code") or ""),
        title=str(fields.get("title") or ""),
        kind=_kind(fields, plots),
        treatments=treatments,
        plots=plots,
        plants_per_plot=int(fields.get("plants_per_plot") or 1),
        measurements=measurements,
        assessments=looks,
        values=values,
        plan=plan,
        factors=factors,
        unit=str(fields.get("unit") or "pot"),
        is_shared_pass=fields.get("treated_how") == "shared_pass",
        exclusions=left_out,
        partners=tuple(partners),
        formulations=tuple(formulations_of(treatments, partners)),
        prices=_prices(fields.get("prices") or {}),
        seed=str(fields.get("seed") or ""),
        algorithm=str(fields.get("algorithm") or ""),
        question=str(fields.get("question") or ""),
        harvests=tuple(_harvests(fields, {p.number for p in plots}, {a.code for a in looks})),
    )


def _kind(fields: Mapping[str, Any], plots: tuple[TrialPlot, ...]) -> Any:
    kind = KIND_OF.get(str(fields.get("design") or "crd"), "completely_randomised")
    if kind == "split_plot" and all(p.block is None for p in plots):
        return "split_plot_completely_randomised"
    return kind


def _number(text: Any) -> float | None:
    return None if text in (None, "") else float(str(text))


def _day(text: Any) -> date | None:
    return date.fromisoformat(text) if isinstance(text, str) and text else None


def _is_no_day(text: str) -> bool:
    try:
        date.fromisoformat(text)
    except ValueError:
        return True
    return False


def _treatment(row: Mapping[str, Any], factors: tuple[str, ...]) -> TrialTreatment:
    named = {str(x.get("factor")): str(x.get("level")) for x in row.get("levels") or ()}
    return TrialTreatment(
        number=int(row["number"]),
        label=str(row.get("name") or row["number"]),
        role=row.get("role") or "other",
        rate=_number(row.get("rate")),
        rate_unit=str(row.get("rate_unit") or ""),
        levels=tuple(named.get(f, "") for f in factors) if named else (),
        blank_of=row.get("blank_of"),
    )


def _measurement(row: Mapping[str, Any]) -> TrialMeasurement:
    return TrialMeasurement(
        code=str(row["code"]),
        name=str(row.get("name") or row["code"]),
        type=row.get("type") or "continuous",
        unit=str(row.get("unit") or ""),
        definition=str(row.get("definition") or ""),
        n_decimals=int(row.get("decimals") or 0),
        wanted=row.get("wanted") or "none",
        per=row.get("per") or "plant",
    )


def actual_treatments(
    applications: Iterable[Mapping[str, Any]],
) -> dict[int, tuple[int, int, str]]:
    """Return plot -> (planned, received, moment) of plots that did not get what was planned.

    `applications` are the fields of the records.
    """
    found = {}
    for application in applications:
        for row in application.get("plots") or ():
            planned, actual = row.get("planned"), row.get("actual")
            if row.get("plot") and planned and actual and planned != actual:
                moment = application.get("started_at") or {}
                found[int(row["plot"])] = (planned, actual, str(moment.get("local", ""))[:10])
    return found


def received_instead(
    trial: Mapping[str, Any], applications: Iterable[Mapping[str, Any]]
) -> dict[int, tuple[int, int, str]]:
    """Return the same of a trial: what its plots say of themselves, then its applications.

    The moment is "" where only the plot says it: it was recorded in another book.
    """
    told = {
        int(row["plot"]): (row["treatment"], row["received"], "")
        for row in trial.get("plots") or ()
        if row.get("plot") and row.get("treatment") and row.get("received")
        and row["received"] != row["treatment"]
    }  # fmt: skip
    return told | actual_treatments(applications)


def _plots(
    fields: Mapping[str, Any], actual: Mapping[int, tuple[int, int, str]]
) -> Iterable[TrialPlot]:
    rows = measured_plots(fields)
    squares: dict[Any, list[dict[str, Any]]] = {}
    for row in rows:
        squares.setdefault(row.get("block"), []).append(row)
    is_square = fields.get("design") == "latin_square"
    for row in rows:
        of = squares[row.get("block")]
        number = int(row["plot"])
        at = {
            axis: sorted({int(r.get(axis) or 0) for r in of}).index(int(row.get(axis) or 0)) + 1
            for axis in ("row", "column")
        }
        yield TrialPlot(
            number=number,
            treatment=actual[number][1] if number in actual else int(row.get("treatment") or 0),
            row=int(row.get("row") or 1),
            column=int(row.get("column") or number),
            block=row.get("block"),
            whole_plot=row.get("whole_plot"),
            code=str(row.get("code") or number),
            square_row=at["row"] if is_square else None,
            square_column=at["column"] if is_square else None,
        )


def _assessments(
    fields: Mapping[str, Any], done: Iterable[RecordState]
) -> tuple[TrialAssessment, ...]:
    zero = _day(fields.get("day_zero_on"))
    last_look: dict[str, int] = {}
    for record in done:
        code, _, on = str(record.fields.get("code") or "").partition(".")
        day = _day(on) if len(on) == len("2026-01-01") else None
        if day is not None and zero is not None:
            last_look[code] = max(last_look.get(code, 0), (day - zero).days)
    found = []
    for row in fields.get("assessments") or ():
        code = str(row.get("code") or "")
        if not code:
            continue
        is_round = row.get("sort") == "daily_round"
        until = row.get("until_day")
        found.append(
            TrialAssessment(
                code=code,
                name=str(row.get("name") or code),
                day=int(row.get("day") or 0),
                sort=row.get("sort") or "assessment",
                # a round under way reaches to the last day on which somebody looked
                until_day=min(last_look.get(code, until), until) if is_round and until else None,
                measurements=tuple(row.get("measurements") or ()),
            )
        )
    return tuple(found)


def _values(
    observations: Iterable[RecordState],
    known: tuple[set[str], set[str], set[int]],
    zero: date | None,
    people: Mapping[str, str],
) -> Iterable[TrialValue]:
    measurements, assessments, plots = known
    for record in observations:
        fields = record.fields
        assessment, _, on = str(fields.get("assessment") or "").partition(".")
        plot = fields.get("plot")
        # measured once more, without a look at the first value: the office compares the two, and
        # what it then writes into the grid counts
        if fields.get("again") is True or (on and _is_no_day(on)):
            continue
        if assessment not in assessments or plot not in plots:
            continue
        who = people.get(str(fields.get("observer") or record.author or ""), "")
        condition = str(fields.get("condition") or "alive")
        for name, raw in fields.items():
            code = name.removeprefix("m_")
            if not name.startswith("m_") or code not in measurements or raw is None:
                continue
            value, why, note = _measured(raw, zero)
            if value is None and not why:
                continue
            yield TrialValue(
                assessment, int(plot), int(fields.get("plant") or 0), code, value, why, note, who
            )
        if condition in _NOT_ALIVE:
            had = {n.removeprefix("m_") for n in fields if n.startswith("m_") and fields[n]}
            for code in sorted(measurements - had):
                note = str(fields.get("condition_why") or "")
                yield TrialValue(
                    assessment, int(plot), int(fields.get("plant") or 0), code, None, condition,
                    note, who,
                )  # fmt: skip


def _measured(raw: Any, zero: date | None) -> tuple[float | None, str, str]:
    """Return (value, why there is none, note); a calendar day becomes days after treatment."""
    if isinstance(raw, dict):
        return None, str(raw.get("missing") or "not_measured"), str(raw.get("note") or "")
    text = str(raw)
    try:
        return float(text), "", ""
    except ValueError:
        day = _day(text)
        return (None, "", "") if zero is None or day is None else (float((day - zero).days), "", "")


def _plan(fields: Mapping[str, Any], control: int | None) -> TrialPlan:
    percent = {name: _number((fields.get(name) or {}).get("value")) for name in _PERCENTS}
    return TrialPlan(
        primary=str(fields.get("primary_response") or ""),
        comparison=fields.get("comparison") or ("tukey" if control is None else "dunnett"),
        control=control,
        alpha=_number(fields.get("alpha")) or 0.05,
        is_two_sided=fields.get("two_sided") is not False,
        scale=fields.get("interaction_scale") or "multiplicative",
        wanted_value=_number(fields.get("wanted_value")),
        covariate=str(fields.get("covariate") or ""),
        contrasts=tuple(_contrasts(fields.get("contrasts") or ())),
        power=_number(fields.get("power")),
        cv_pct=percent["cv"],
        difference_pct=percent["difference_worth"],
    )


def _contrasts(rows: Iterable[Mapping[str, Any]]) -> Iterable[Contrast]:
    seen: set[str] = set()
    for row in rows:
        weights = tuple(
            (int(w["treatment"]), _number(w.get("weight")) or 0.0)
            for w in row.get("weights") or ()
            if w.get("treatment")
        )
        if row.get("name") and any(w for _, w in weights):
            name, n = str(row["name"]), 2
            while name in seen:
                name, n = f"{row['name']} ({n})", n + 1
            seen.add(name)
            yield Contrast(name, weights)


_PERCENTS = ("cv", "difference_worth")


def _prices(group: Mapping[str, Any]) -> TrialPrices:
    return TrialPrices(
        currency=str(group.get("currency") or ""),
        bench_day=_number(group.get("bench_day")),
        labour_saved=_number(group.get("labour_saved")),
        plant_value=_number(group.get("plant_value")),
        treatment_cost=_number(group.get("treatment_cost")),
    )


def _harvests(
    fields: Mapping[str, Any], plots: set[int], looks: set[str]
) -> Iterable[TrialHarvest]:
    for row in fields.get("harvests") or ():
        code = str(row.get("assessment") or "")
        for taken in row.get("plants") or ():
            if code in looks and taken.get("plot") in plots:
                numbers = str(taken.get("plants") or "").replace(",", " ").split()
                plants = tuple(int(n) for n in numbers if n.isdecimal())
                yield TrialHarvest(code, int(taken["plot"]), plants)


def _exclusion(record: RecordState, people: Mapping[str, str]) -> TrialExclusion:
    fields = record.fields
    return TrialExclusion(
        plot=int(fields["plot"]),
        reason=str(fields.get("reason") or ""),
        plant=int(fields.get("plant") or 0),
        measurement=str(fields.get("measurement") or ""),
        assessment=str(fields.get("assessment") or ""),
        by=people.get(str(record.author or ""), ""),
        id=record.id,
    )
