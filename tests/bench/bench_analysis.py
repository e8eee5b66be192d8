"""Report of a large trial against the engine alone, and exchanges while cells are computed.

    python tests/bench/bench_analysis.py

Prints seconds and ratios of one run on one machine; the baseline of each ratio stands beside it.
"""

from __future__ import annotations

import threading
import time
from dataclasses import replace

from support.http_desk import HttpDesk
from support.live_server import live_server
from support.random_trials import report_of
from support.registers_sample import by_name, create
from support.trial_sample import BRANCHES, HEIGHT, data_of
from tepal.designs.layouts import lay_out
from tepal.designs.simulator import TrueMeasurement, simulate
from tepal.designs.specs import DesignSpec, Treatment
from tepal.designs.trial import TrialData, TrialPlan, TrialTreatment
from tepal.services.trial_analysis import analyse_trial, cell_keys, spec_of
from tepal.services.trial_table import cell_rows, table_of
from tepal.stats import analyse

DAYS = (0, 7, 14, 21, 28, 35)
N_EXCHANGES = 150


def large() -> TrialData:
    """Return 12 treatments x 8 blocks x 10 measurements x 6 assessments, 2 plants a plot."""
    designed = tuple(Treatment(i, f"treatment {i}") for i in range(1, 13))
    layout = lay_out(DesignSpec("randomised_complete_block", designed, 8, 2), 1)
    measures, truths = [], []
    for i in range(10):
        base = HEIGHT if i < 7 else BRANCHES
        code = f"m{i}"
        measures.append(replace(base, code=code, name=f"Measurement {i}"))
        course = tuple((d, 10.0 + d / 2 if i < 7 else 5.0) for d in DAYS)
        kind = "continuous" if i < 7 else "count"
        truths.append(TrueMeasurement(code, kind, course, (), 0.1, 0.1, 0.1, 0.2))  # type: ignore[arg-type]
    found = simulate(layout.plots, 2, truths, 1)
    treatments = [TrialTreatment(t.number, t.label) for t in designed]
    return data_of(layout, found, treatments, measures, TrialPlan("m0"))


def engine_alone(data: TrialData) -> None:
    """Do the engine's part of every cell and nothing else."""
    for code, assessment in cell_keys(data):
        m = data.measurement(code)
        table = table_of(data, m, cell_rows(data, m, assessment, None), None)
        analyse(table, spec_of(data, m, assessment, with_covariate=False))


def seconds(work: object, *args: object) -> tuple[float, object]:
    """Return how long a call took, and what it returned."""
    start = time.perf_counter()
    found = work(*args)  # type: ignore[operator]
    return time.perf_counter() - start, found


def p95(client: HttpDesk) -> float:
    """Return the 95th percentile of exchanges that bring nothing new, in milliseconds."""
    cursor = None
    took = []
    for _ in range(N_EXCHANGES):
        start = time.perf_counter()
        cursor = client.call(
            "POST", "/api/v1/exchange", {"device": client.device, "cursor": cursor}
        )["cursor"]
        took.append(1000 * (time.perf_counter() - start))
    return sorted(took)[int(0.95 * len(took))]


def exchanges() -> None:
    """Print the first cell's time, and p95 of exchanges with and without an analysis running."""
    with live_server() as server:
        office = HttpDesk(server.address, "Ines Prado")
        trial = by_name(office, "trial", "T07")
        cell = f"/api/v1/trials/{trial}/analysis/cell?measurement=height&assessment=a44"
        quiet = p95(office)
        first, _ = seconds(office.fetch, "GET", cell)
        other = HttpDesk(server.address, "Dinh Thorne")
        done = threading.Event()

        def work() -> None:
            n = 0
            while not done.is_set():  # an excluded plant makes every cell stale: computed anew
                n += 1
                fields = {"trial": trial, "plot": n, "plant": 1, "reason": "bench"}
                create(other, "exclusion", fields)
                other.fetch("GET", cell)

        thread = threading.Thread(target=work)
        thread.start()
        busy = p95(office)
        done.set()
        thread.join()
    print(f"first cell, worker started with it: {first:.2f} s")
    print(
        f"exchange p95: {quiet:.0f} ms alone, {busy:.0f} ms during analyses: {busy / quiet:.2f} x"
    )


if __name__ == "__main__":
    trial_data = large()
    alone, _ = seconds(engine_alone, trial_data)
    cells_s, cells = seconds(analyse_trial, trial_data)
    print_s, printed = seconds(report_of, trial_data, "en", cells)
    size = len(printed[1])  # type: ignore[index]
    print(f"engine alone {alone:.1f} s; all questions {cells_s:.1f} s; report {print_s:.1f} s")
    print(
        f"analysis and report {(cells_s + print_s) / alone:.2f} x the engine; {size / 1e6:.2f} MB"
    )
    exchanges()
