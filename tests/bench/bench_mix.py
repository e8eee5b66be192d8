"""How long a mix takes on a slow phone: five partners over twelve lots at 4x CPU throttle.

    PYTHONPATH=server:tests python tests/bench/bench_mix.py

Named baseline: a JSON round trip of the same request, in the same page of the same run. Goal: 5 ms,
median of 5, in time of the page's own thread: the throttle's burning counts, other work on the
machine does not. Wall time and the first plan of a page (nothing compiled) are printed too.
"""

from __future__ import annotations

from statistics import median
from typing import Any

from support.core_page import core_page
from support.pictures import chromium
from tepal.domain.tank import tank_plan

GOAL_MS = 5.0
SLOWDOWN = 4
N_RUNS = 5
# One plan is shorter than a page's clock is fine (0.1 ms), so a run is the mean of twenty.
N_PLANS = 20

TIME_ROUND_TRIPS = """([request, n]) => {
  let chars = 0;
  for (let i = 0; i < n; i += 1) chars += JSON.stringify(JSON.parse(JSON.stringify(request))).length;
  return chars / n;
}"""
TIME_PLANS = """([request, n]) => {
  const plan = window.core.modules.tank.tankPlan;
  const start = performance.now();
  let volume = 0;
  for (let i = 0; i < n; i += 1) volume += plan(request).volume_l;
  return [(performance.now() - start) / n, volume / n];
}"""


def quantity(value: str, unit: str) -> dict[str, str]:
    return {"value": value, "unit": unit}


def instrument(name: str, resolution: str, capacity: str, unit: str) -> dict[str, Any]:
    return {
        "id": name,
        "name": name,
        "resolution": quantity(resolution, unit),
        "capacity": quantity(capacity, unit),
    }


def request() -> dict[str, Any]:
    """Five partners, twelve lots on twelve benches, six instruments, a register."""
    components = []
    for number, (form, kind) in enumerate(
        [("SG", "dry"), ("SL", "liquid"), ("SC", "liquid"), ("EC", "liquid")]
    ):
        strength = (
            {"strength": quantity("85", "%"), "basis": "w_w"}
            if kind == "dry"
            else {"strength": quantity("119.8", "g/L")}
        )
        components.append(
            {
                "id": f"c{number}",
                "product": {
                    "id": f"p{number}",
                    "name": f"Product {number}",
                    "physical_form": kind,
                    "formulation_type": form,
                    "ingredients": [{"ai": f"ai {number}", **strength}],
                    "water_ph_min": "5",
                    "water_ph_max": "7",
                },
                "target": quantity(str(500 * (number + 1)), "mg/L"),
            }
        )
    components.append(
        {
            "id": "wetter",
            "product": {
                "id": "p9",
                "name": "Wetter",
                "kind": "adjuvant",
                "physical_form": "liquid",
            },
            "target": quantity("0.05", "%"),
        }
    )
    return {
        "method": "spray",
        "number_format": {"decimal": ".", "thousands": ","},
        "components": components,
        "lines": [
            {
                "id": f"l{number}",
                "bench": f"B{number}",
                "lot": f"26-{100 + number}",
                "area": quantity(str(18 + number), "m2"),
                "volume_per_area": quantity("203.7", "mL/m2"),
                "n_containers": 400 + number,
                "n_plants": 1200 + number,
            }
            for number in range(12)
        ],
        "tank": {"capacity": quantity("15", "L")},
        "extra": quantity("5", "%"),
        "instruments": [
            instrument("syringe", "0.2", "5", "mL"),
            instrument("fine syringe", "0.01", "1", "mL"),
            instrument("small cylinder", "0.5", "25", "mL"),
            instrument("cylinder", "1", "100", "mL"),
            instrument("large cylinder", "10", "1000", "mL"),
            instrument("balance", "0.1", "500", "g"),
        ],
        "season": [
            {"lot": f"26-{100 + n}", "ai": "ai 0", "amount": quantity("250", "mg/m2")}
            for n in range(12)
        ],
        "water": {"ph": "6.4"},
        "jar_tests": [{"products": ["p0", "p1"], "result": "compatible"}],
    }


def main() -> None:
    """Print the medians and the ratio to the baseline."""
    mix = request()
    with chromium() as browser, core_page(browser, SLOWDOWN) as page:
        devtools = page.context.new_cdp_session(page)
        devtools.send("Performance.enable", {"timeDomain": "threadTicks"})

        def thread_s() -> float:
            metrics = devtools.send("Performance.getMetrics")["metrics"]
            return next(one["value"] for one in metrics if one["name"] == "TaskDuration")

        def timed(work: str, n: int) -> tuple[float, Any]:
            start = thread_s()
            answer = page.evaluate(work, [mix, n])
            return (thread_s() - start) * 1000 / n, answer

        first_ms, _ = timed(TIME_PLANS, 1)
        plans = [timed(TIME_PLANS, N_PLANS) for _ in range(N_RUNS)]
        trips = [timed(TIME_ROUND_TRIPS, N_PLANS) for _ in range(N_RUNS)]

    plan_ms, trip_ms = (median(ms for ms, _ in runs) for runs in (plans, trips))
    wall_ms = median(answer[0] for _, answer in plans)
    volume_l = plans[0][1][1]
    assert abs(volume_l - tank_plan(mix).volume_l) < 1e-9 * volume_l, "the twins disagree"
    print(
        f"mix plan at {SLOWDOWN}x, median of {N_RUNS}: {plan_ms:.2f} ms of the page's thread"
        f" (goal {GOAL_MS} ms), {wall_ms:.2f} ms wall; first plan {first_ms:.1f} ms;"
        f" JSON round trip of the request {trip_ms:.2f} ms, ratio {plan_ms / trip_ms:.1f}"
    )


if __name__ == "__main__":
    main()
