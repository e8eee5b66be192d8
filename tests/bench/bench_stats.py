"""Time `tepal analyse` against Rscript on one table, and the engine's import against scipy.stats.

    python tests/bench/bench_stats.py [RUNS]

Whole processes, medians of RUNS (5). Both sides read the same CSV file, answer the same questions
(head of bench_stats.R) for 60 response x assessment cells and write all results; their estimates
and adjusted p are compared, so that speed is not bought with accuracy. Bars: at least 3 times
faster than R; import at most 1.3 times that of a bare `import scipy.stats`. Exit code 1 if missed.
"""

import csv
import json
import os
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))
from trial_table import CONTINUOUS, CONTROL, COUNTS, write_table

HERE = Path(__file__).parent
SERVER = str(HERE.parents[1] / "server")
ENVIRONMENT = {**os.environ, "PYTHONPATH": SERVER}
BAR, IMPORT_BAR = 3.0, 1.3


def seconds(command, output=None):
    """Return wall and CPU seconds of one whole process."""
    with Path(output or os.devnull).open("w") as file:
        start = time.perf_counter()
        process = subprocess.Popen(command, stdout=file, env=ENVIRONMENT)
        _, status, used = os.wait4(process.pid, 0)
        wall = time.perf_counter() - start
    process.returncode = os.waitstatus_to_exitcode(status)
    if process.returncode != 0:
        raise SystemExit(f"{command[0]} ended with {process.returncode}")
    return wall, used.ru_utime + used.ru_stime


def medians(runs, *commands):
    """Run the commands in turn, so that a busy spell hits all; return (wall, CPU) of each."""
    times = [[] for _ in commands]
    for _ in range(runs):
        for kept, (command, output) in zip(times, commands, strict=True):
            kept.append(seconds(command, output))
    return [tuple(statistics.median(t) for t in zip(*kept, strict=True)) for kept in times]


def largest_differences(result_json, result_csv):
    """Return the largest differences of estimates (relative) and adjusted p (absolute)."""
    with Path(result_csv).open(newline="") as file:
        theirs = {
            (r["week"], r["name"], r["label"]): (float(r["value"]), float(r["p"]))
            for r in csv.DictReader(file)
            if r["question"] == "against control"
        }
    estimate = p = 0.0
    n = 0
    for result in json.loads(Path(result_json).read_text())["results"]:
        for c in result["comparison"]["comparisons"]:
            value, p_theirs = theirs[result["assessment"], result["response"], c["label"]]
            estimate = max(estimate, abs(c["value"] - value) / max(abs(value), 1e-3))
            p = max(p, abs(c["p_adjusted"] - p_theirs))
            n += 1
    return n, estimate, p


def main(runs=5):
    with tempfile.TemporaryDirectory() as folder:
        table, ours, theirs = (str(Path(folder, n)) for n in ("t.csv", "ours.json", "theirs.csv"))
        write_table(table)
        responses = ",".join([*CONTINUOUS, *(f"{c}:count" for c in COUNTS)])
        analyse = [
            *[sys.executable, "-m", "tepal.cli", "analyse", table, "--response", responses],
            *["--treatment", "treatment", "--block", "block", "--assessment", "week"],
            *["--control", CONTROL, "--json"],
        ]
        rscript = ["Rscript", str(HERE / "bench_stats.R"), table, theirs]
        seconds(analyse, ours)  # byte code and page cache
        seconds(
            [
                "Rscript",
                "-e",
                "suppressPackageStartupMessages({library(multcomp); library(emmeans)})",
            ]
        )
        mine, r = medians(runs, (analyse, ours), (rscript, None))
        n, estimate, p = largest_differences(ours, theirs)
    engine, bare = medians(
        2 * runs + 1,
        ([sys.executable, "-c", "import tepal.stats"], None),
        ([sys.executable, "-c", "import scipy.stats"], None),
    )
    ratio, import_ratio = r[0] / mine[0], engine[0] / bare[0]
    print(f"whole analysis, medians of {runs} runs, wall (CPU) seconds:")
    print(f"  tepal analyse      {mine[0]:8.2f} ({mine[1]:.2f})")
    print(f"  Rscript, baseline  {r[0]:8.2f} ({r[1]:.2f})")
    print(f"  {ratio:.1f} times faster by wall, {r[1] / mine[1]:.1f} by CPU (bar {BAR:g})")
    print(
        f"  agreement over {n} comparisons: estimates {estimate:.1e} relative, adjusted p {p:.1e}"
    )
    print(f"import, medians of {2 * runs + 1} runs, wall (CPU) seconds:")
    print(f"  tepal.stats            {engine[0]:.3f} ({engine[1]:.3f})")
    print(f"  scipy.stats, baseline  {bare[0]:.3f} ({bare[1]:.3f})")
    print(
        f"  ratio {import_ratio:.2f} by wall, {engine[1] / bare[1]:.2f} by CPU (bar {IMPORT_BAR:g})"
    )
    return 0 if ratio >= BAR and import_ratio <= IMPORT_BAR else 1


if __name__ == "__main__":
    raise SystemExit(main(*(int(a) for a in sys.argv[1:])))
