"""Two trials of the demo that came in as files from other establishments. Invented throughout.

They ask what the demo's own drench series asks, so that three trials stand together. A file brings
no applications and no lots: nothing of it counts for a season or a restriction here.
"""

from __future__ import annotations

from datetime import date, timedelta
from typing import TYPE_CHECKING, Any, Final

from tepal.designs.layouts import lay_out
from tepal.designs.simulator import TrueMeasurement, simulate
from tepal.designs.specs import DesignSpec, Treatment
from tepal.services.demo_trial_records import (
    DemoAct,
    DemoTrial,
    assessment,
    measurement,
    moment,
    observations,
    quantity,
)
from tepal.services.server_acts import Act
from tepal.services.trials import plot_rows
from tepal.sync.ids import shared_id

if TYPE_CHECKING:
    from collections.abc import Callable

HEIGHT_WORDS: Final = "From the pot rim to the highest leaf."
_HEIGHT = measurement("height", "Height", HEIGHT_WORDS, "cm", "continuous", ("2", "60"), 1, "lower")
_RATES: Final = ("", "1", "2")
# code, where, title, cultivar, mL a pot, day of assessment, days ago, untreated, effects, seed
_ELSEWHERE: Final = (
    ("R03", "Sallowmere Nursery", "Salvia drench, spring", "Bright Ferrule", "55", 40, 233,
     29.0, (-4.5, -7.7), 71),
    ("S11", "Quellmoor Gardens", "Drench on salvia, 11 cm pots", "Morning Tin", "65", 46, 410,
     33.5, (-5.2, -8.9), 72),
)  # fmt: skip


def trials_elsewhere(new_id: Callable[[], str], today: date, manager: str) -> list[DemoAct]:
    """Return the acts that make both trials as an import would; made by the manager, today - 30."""
    acts: list[DemoAct] = []
    for code, place, title, cultivar, ml, day, ago, untreated, effects, seed in _ELSEWHERE:
        zero = today - timedelta(days=ago)
        height = TrueMeasurement(
            "height", "continuous", ((day, untreated),),
            tuple((t, ((day, e),)) for t, e in enumerate(effects, start=2)),
            block_sd=0.8, plot_sd=0.9, plant_sd=1.2,
        )  # fmt: skip
        names = ("untreated", "1 mg/L", "2 mg/L")
        treatments = tuple(Treatment(n, name) for n, name in enumerate(names, start=1))
        layout = lay_out(DesignSpec("randomised_complete_block", treatments, 4, 2), seed)
        fields: dict[str, Any] = {
            "code": code, "title": title, "elsewhere": place,
            "crops": [
                {"crop": "Salvia", "crop_eppo": "SALSP", "cultivar": cultivar,
                 "container": "11 cm pot"}
            ],
            "received": [
                {
                    "treatment": n, "ai": "paclobutrazol", "rate": quantity(rate, "mg/L"),
                    "method": "drench", "volume_per_container": quantity(ml, "mL/{pot}"),
                    "applications": 1, "products": "Rootpost SC",
                }
                for n, rate in enumerate(_RATES, start=1)
                if rate
            ],
            "treatments": [
                {
                    "number": n, "name": name, "role": "rate" if rate else "untreated",
                    **({"rate": rate, "rate_unit": "mg/L"} if rate else {}),
                }
                for n, (name, rate) in enumerate(zip(names, _RATES, strict=True), start=1)
            ],
            "control": 1, "unit": "pot", "treated_how": "each_unit_alone", "design": "rcbd",
            "n_blocks": 4, "plants_per_plot": 2, "primary_response": "height",
            "measurements": [_HEIGHT],
            "assessments": [assessment("last", f"Day {day}", day, ("height",))],
            "comparison": "dunnett", "two_sided": True, "alpha": "0.05", "phase": "finished",
            "rows": layout.bench.n_rows, "columns": layout.bench.n_columns,
            "seed": str(layout.seed), "algorithm": layout.algorithm, "plots": plot_rows(layout),
            "randomised_at": moment(zero - timedelta(days=3), "09:00"),
            "day_zero_on": zero.isoformat(), "started_on": zero.isoformat(),
            "finished_on": (zero + timedelta(days=day)).isoformat(),
            "demo_notes": (
                f"Invented. True height on day {day}, untreated {untreated} cm: 1 mg/L "
                f"{effects[0]}, 2 mg/L {effects[1]} cm. Seed {seed}."
            ),
        }  # fmt: skip
        simulation = simulate(layout.plots, 2, (height,), seed)
        demo = DemoTrial(layout, simulation, fields, zero, "drench", "", "", {})
        acts += _acts(demo, new_id(), manager, today - timedelta(days=30))
    return acts


def _acts(demo: DemoTrial, trial: str, manager: str, on: date) -> list[DemoAct]:
    looks = [row["code"] for row in demo.fields["assessments"]]
    rows = [
        ("trial", trial, demo.fields),
        *(("assessment", shared_id(trial, c), {"trial": trial, "code": c}) for c in looks),
        *(
            (
                "observation",
                shared_id(trial, row["assessment"], row["plot"], row["plant"]),
                {"trial": trial, **row},
            )
            for row in observations(demo)
        ),
    ]
    return [DemoAct(on, Act(kind, record, "create", manager, f)) for kind, record, f in rows]
