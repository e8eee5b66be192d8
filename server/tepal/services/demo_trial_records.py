"""From a simulated trial to the records a crew would have made: plan, mixes, day of treatment."""

from __future__ import annotations

import dataclasses
from datetime import date, timedelta
from typing import TYPE_CHECKING, Any, Final

from tepal.domain.rounding import decimal_text
from tepal.services.server_acts import Act
from tepal.services.trials import plot_rows
from tepal.sync.ids import shared_id

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping

    from tepal.designs.layouts import Layout
    from tepal.designs.simulator import Simulation

_ZONE: Final = {"offset_min": -240, "zone": "America/New_York"}
OPERATOR: Final = "Rosa Lind"
# what the demo's mixes hold: name and registration number, as the demo's registers have them
PRODUCTS: Final = {
    "rootpost": ("Rootpost SC", "99001-44"),
    "stemwright": ("Stemwright SL", "99001-12"),
    "halfpace": ("Halfpace SG", "99001-31"),
    "tallcheck": ("Tallcheck SL", "99001-58"),
    "tallcheck_blank": ("Tallcheck SL without a.i.", ""),
    "spreader": ("Wetleaf 90", ""),
}


@dataclasses.dataclass(frozen=True, slots=True)
class DemoTrial:
    """A trial with its layout and what was seen.

    `mixes` holds (product, target) pairs by treatment number; `done_until` (day, plot): on that day
    only plots up to this one were measured, and nothing afterwards.
    """

    layout: Layout
    found: Simulation
    fields: dict[str, Any]
    day_zero: date
    method: str
    bench: str
    lot: str
    mixes: dict[int, list[tuple[str, dict[str, str]]]]
    lost: dict[int, int] = dataclasses.field(default_factory=dict)
    lost_why: str = ""
    excluded: tuple[int, int, str] | None = None
    done_until: tuple[int, int] | None = None


@dataclasses.dataclass(frozen=True, slots=True)
class DemoAct:
    """An act, and the day on which somebody did it."""

    on: date
    act: Act


def quantity(value: str, unit: str) -> dict[str, str]:
    """Return a stored quantity."""
    return {"value": value, "unit": unit}


def decimal(value: float, n_decimals: int) -> str:
    """Return a measured value as it travels."""
    return decimal_text(value, n_decimals)


def measurement(
    code: str,
    name: str,
    definition: str,
    unit: str,
    type_: str,
    bounds: tuple[str, str],
    decimals: int,
    wanted: str,
) -> dict[str, Any]:
    """Return a measurement of the trial record, per plant."""
    return {
        "code": code, "name": name, "definition": definition, "unit": unit or None, "type": type_,
        "per": "plant", "least": bounds[0], "most": bounds[1], "decimals": decimals,
        "wanted": wanted,
    }  # fmt: skip


def assessment(
    code: str,
    name: str,
    day: int,
    codes: tuple[str, ...],
    window: int | None = None,
    until: int | None = None,
) -> dict[str, Any]:
    """Return a planned assessment of the trial record; one with `until` is a daily round."""
    row: dict[str, Any] = {
        "code": code, "name": name, "sort": "assessment" if until is None else "daily_round",
        "day": day, "measurements": list(codes),
    }  # fmt: skip
    if window is not None:
        row["window"] = window
    if until is not None:
        row["until_day"] = until
    return row


def contrast(name: str, weights: Mapping[int, str]) -> dict[str, Any]:
    """Return a planned contrast of the trial record: weights by treatment, zero in sum."""
    return {
        "name": name,
        "weights": [{"treatment": n, "weight": weight} for n, weight in weights.items()],
    }


def trial_acts(
    demo: DemoTrial, ids: Mapping[str, str], new_id: Callable[[], str], manager: str
) -> list[DemoAct]:
    """Return the acts that make one trial with mixes, applications, assessments, observations."""
    trial = new_id()
    zero = demo.day_zero
    mixes = {n: new_id() for n in demo.mixes}
    acts = [
        DemoAct(zero - timedelta(days=4), _mix(demo, n, mix, ids, manager))
        for n, mix in mixes.items()
    ]
    fields = _trial_fields(demo, mixes, ids)
    acts.append(DemoAct(zero - timedelta(days=3), Act("trial", trial, "create", manager, fields)))
    acts += [
        DemoAct(zero, _application(demo, trial, n, mixes[n], ids, new_id(), manager))
        for n in demo.mixes
    ]
    acts += _assessments(demo, trial, manager)
    for row in observations(demo):
        on = zero + timedelta(days=_day_of(demo, row))
        record = shared_id(trial, row["assessment"], row["plot"], row["plant"])
        fields = {"trial": trial, **row}
        acts.append(DemoAct(on, Act("observation", record, "create", ids[OPERATOR], fields)))
    if demo.excluded:
        plot, plant, reason = demo.excluded
        left_out = {"trial": trial, "plot": plot, "plant": plant, "reason": reason}
        on = zero + timedelta(days=46)
        acts.append(DemoAct(on, Act("exclusion", new_id(), "create", manager, left_out)))
    return acts


def _trial_fields(
    demo: DemoTrial, mixes: Mapping[int, str], ids: Mapping[str, str]
) -> dict[str, Any]:
    layout = demo.layout
    place = {"lot": ids[demo.lot], "bench": ids[demo.bench]}
    return {
        **{name: _named(value, ids) for name, value in demo.fields.items()},
        "lots": [ids[demo.lot]],
        "house": ids["house1"],
        "treatments": [
            {**row, **({"tank_mix": mixes[row["number"]]} if row["number"] in mixes else {})}
            for row in demo.fields["treatments"]
        ],
        "rows": layout.bench.n_rows,
        "columns": layout.bench.n_columns,
        "seed": str(layout.seed),
        "algorithm": layout.algorithm,
        "plots": [{**row, **place} for row in plot_rows(layout)],
        "randomised_at": moment(demo.day_zero - timedelta(days=3), "15:10"),
        "day_zero_on": demo.day_zero.isoformat(),
        "started_on": demo.day_zero.isoformat(),
    }


def _day_of(demo: DemoTrial, row: Mapping[str, Any]) -> int:
    """Return the day of an observation: of its assessment, or the one on which a plant opened."""
    planned = next(a for a in demo.fields["assessments"] if a["code"] == row["assessment"])
    opened = [v for v in row.values() if isinstance(v, str) and _is_day(v)]
    if opened:
        return (date.fromisoformat(opened[0]) - demo.day_zero).days
    return int(planned["day"])


def _is_day(text: str) -> bool:
    return len(text) == len("2026-01-01") and text[4] == "-" and text[7] == "-"


def _named(value: Any, ids: Mapping[str, str]) -> Any:
    return ids[value[1:]] if isinstance(value, str) and value.startswith("@") else value


def moment(day: date, time: str) -> dict[str, Any]:
    """Return a stored moment at the demo's nursery."""
    return {"local": f"{day.isoformat()}T{time}:00", **_ZONE}


def _mix(demo: DemoTrial, n: int, mix: str, ids: Mapping[str, str], manager: str) -> Act:
    name = next(row["name"] for row in demo.fields["treatments"] if row["number"] == n)
    per = (
        {"volume_per_container": quantity("60", "mL/{pot}")}
        if demo.method == "drench"
        else {"volume_per_area": quantity("200", "mL/m2")}
    )
    fields = {
        "name": f"{demo.fields['code']} treatment {n}: {name}", "method": demo.method,
        "purpose": "trial", **per,
        "components": [{"product": ids[p], "target": target} for p, target in demo.mixes[n]],
    }  # fmt: skip
    return Act("tank_mix", mix, "create", manager, fields)


def _application(
    demo: DemoTrial,
    trial: str,
    n: int,
    mix: str,
    ids: Mapping[str, str],
    record: str,
    manager: str,
) -> Act:
    plots = [p for p in demo.layout.plots if p.treatment == n]
    n_pots = len(plots) * demo.layout.spec.plants_per_plot
    at = [moment(demo.day_zero, f"{7 + n // 4:02d}:{(n % 4) * 15:02d}"),
          moment(demo.day_zero, f"{7 + n // 4:02d}:{(n % 4) * 15 + 11:02d}")]  # fmt: skip
    litres = decimal(n_pots * 0.06 if demo.method == "drench" else n_pots * 0.01, 2)
    fields = {
        "trial": trial, "tank_mix": mix, "method": demo.method, "purpose": "trial",
        "mix_name": f"{demo.fields['code']} treatment {n}",
        "lines": [
            {
                "bench": ids[demo.bench], "lot": ids[demo.lot], "house": ids["house1"],
                "place": f"House 1, bench {demo.bench[-1]}", "n_containers": n_pots,
                "volume": quantity(litres, "L"), "area": quantity("2", "m2"),
            }
        ],
        "products": [
            {
                "product": ids[p], "name": PRODUCTS[p][0],
                **({"registration_number": PRODUCTS[p][1]} if PRODUCTS[p][1] else {}),
                "target": target,
            }
            for p, target in demo.mixes[n]
        ],
        "volume": quantity(litres, "L"), "area": quantity("2", "m2"),
        "operator": ids[OPERATOR], "operator_name": OPERATOR, "started_at": at[0],
        "ended_at": at[1], "tank_cleaned": True,
        "air_temperature": quantity("22.5", "Cel"), "air_humidity": quantity("58", "%"),
        "plots": [{"plot": p.number, "planned": n, "actual": n} for p in plots],
        "signature": {
            "member": ids[OPERATOR], "name": OPERATOR, "method": "password", "at": at[1],
        },
    }  # fmt: skip
    return Act("application", record, "create", manager, fields)


def _assessments(demo: DemoTrial, trial: str, manager: str) -> Iterator[DemoAct]:
    for row in demo.fields["assessments"]:
        codes = [(row["code"], row["day"])]
        if row["sort"] == "daily_round":
            codes += [
                (round_code(row["code"], demo.day_zero + timedelta(days=day)), day)
                for day in range(row["day"], row["until_day"] + 1)
            ]
        for code, day in codes:
            if demo.done_until is not None and day > demo.done_until[0]:
                continue
            on = demo.day_zero + timedelta(days=day)
            fields: dict[str, Any] = {
                "trial": trial, "code": code, "started_at": moment(on, "10:00"),
            }  # fmt: skip
            if demo.done_until is None or day < demo.done_until[0]:
                fields["finished_at"] = moment(on, "11:20")
            made = Act("assessment", shared_id(trial, code), "create", manager, fields)
            yield DemoAct(on, made)


def round_code(code: str, on: date) -> str:
    """Return the code of one day's look of a daily round; the phone composes the same."""
    return f"{code}.{on.isoformat()}"


def observations(demo: DemoTrial) -> list[dict[str, Any]]:
    """Return the fields of the observations, the trial left out, in the order they were made."""
    decimals = {m["code"]: m["decimals"] for m in demo.fields["measurements"]}
    codes = {a["day"]: a for a in demo.fields["assessments"] if a["sort"] == "assessment"}
    rows: dict[tuple[str, int, int], dict[str, Any]] = {}

    def row(code: str, plot: int, plant: int) -> dict[str, Any]:
        start = {"assessment": code, "plot": plot, "plant": plant}
        return rows.setdefault((code, plot, plant), start)

    for v in demo.found.values:
        if _is_done(demo, v.day, v.plot):
            at = row(codes[v.day]["code"], v.plot, v.plant)
            at[f"m_{v.key}"] = decimal(v.value, decimals[v.key])
    rounds = [a["code"] for a in demo.fields["assessments"] if a["sort"] == "daily_round"]
    for opening in demo.found.openings:
        if opening.first_open is not None:
            on = demo.day_zero + timedelta(days=opening.first_open)
            row(rounds[0], opening.plot, opening.plant)[f"m_{opening.key}"] = on.isoformat()
    for plot, day in demo.lost.items():
        gone = [(a["code"], a["measurements"]) for d, a in codes.items() if d >= day]
        gone += [(code, ["flower"]) for code in rounds]
        for code, measured in gone:
            for plant in range(1, demo.layout.spec.plants_per_plot + 1):
                row(code, plot, plant).update(
                    condition="discarded", condition_why=demo.lost_why,
                    **{f"m_{m}": {"missing": "lost", "note": demo.lost_why} for m in measured},
                )  # fmt: skip
    return list(rows.values())


def _is_done(demo: DemoTrial, day: int, plot: int) -> bool:
    return demo.done_until is None or (day, plot) <= demo.done_until
