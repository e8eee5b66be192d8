"""Simulated trials with known truth: how often the engine errs, and how often its intervals hold.

    python tests/reference/coverage_trials.py 10000       (about 5 minutes of one core)

writes coverage_10000.json beside this file. Trial number s of a setting is drawn from the seed
(setting, s), s = 1 to n; every trial goes through the engine's public functions.

A measure is exact where theory gives its rate (3 standard errors around nominal are allowed) and
approximate where it does not (at most nominal + 3 percentage points).
"""

import json
import math
import sys
from collections import Counter
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from tepal import stats

ALPHA = 0.05
TABLE = Path(__file__).with_name("coverage_10000.json")


@dataclass(frozen=True)
class Measure:
    """What is counted: errors, with their nominal rate; `why` says why it is (not) exact."""

    nominal: float
    exact: bool
    why: str


NORMAL = "normal errors of one variance, linear model: exact in theory"
KRAMER = "Tukey-Kramer with unequal errors is conservative (Hayter 1984)"
DELTA = "delta method: large samples"
QUASI = "quasi-likelihood: large samples"
NOT_MORE = "also needs the other scale to agree: at most nominal"
LINEAR = {
    "Dunnett, any false difference": Measure(0.05, True, NORMAL),
    "Tukey, any false difference": Measure(0.05, True, NORMAL),
    "F test, false effect": Measure(0.05, True, NORMAL),
    "mean, interval misses": Measure(0.05, True, NORMAL),
    "difference, interval misses": Measure(0.05, True, NORMAL),
    "per cent of control (Fieller), interval misses": Measure(0.05, True, NORMAL),
    "per cent of control (delta), interval misses": Measure(0.05, False, DELTA),
}
PARTNERS = {
    "additive truth, absolute scale, expectation excluded": Measure(0.05, True, NORMAL),
    "additive truth, absolute scale, false synergistic": Measure(0.025, False, NOT_MORE),
    "Bliss truth, multiplicative scale, expectation excluded": Measure(0.05, False, DELTA),
    "Bliss truth, multiplicative scale, false synergistic": Measure(0.025, False, NOT_MORE),
}
MEASURES = {
    "completely randomised, 6 treatments x 5": LINEAR,
    "blocks, 6 treatments x 5": LINEAR,
    "blocks, 8 treatments x 8, 2 of 64 plots missing": LINEAR
    | {"Tukey, any false difference": Measure(0.05, False, KRAMER)},
    "partners in blocks, 4 treatments x 6": PARTNERS,
    "counts in blocks, 6 treatments x 6, overdispersed": {
        "Dunnett, any false difference": Measure(0.05, False, QUASI),
        "Tukey, any false difference": Measure(0.05, False, QUASI),
        "F test, false effect": Measure(0.05, False, QUASI),
        "ratio to control, interval misses": Measure(0.05, False, QUASI),
    },
}


def crossed(n_treatments, n_replicates):
    """Return block and treatment labels, block after block."""
    blocks = [f"b{i}" for i in range(n_replicates) for _ in range(n_treatments)]
    treatments = [f"t{j}" for _ in range(n_replicates) for j in range(n_treatments)]
    return blocks, treatments


def any_false(comparison):
    """Whether any difference is claimed; p and simultaneous limits must claim the same ones."""
    claimed = False
    for c in comparison.comparisons:
        by_limits = c.lower > 0 or c.upper < 0
        # within 2e-4 of alpha the two integrals may fall on different sides
        if by_limits != (c.p_adjusted < ALPHA) and abs(c.p_adjusted - ALPHA) > 2e-4:
            raise AssertionError(f"{c.label}: p {c.p_adjusted}, limits {c.lower} to {c.upper}")
        claimed |= by_limits
    return claimed


def misses(estimate, truth):
    return not estimate.lower <= truth <= estimate.upper


def linear_trial(rng, n_treatments, n_replicates, *, in_blocks, missing=()):
    """Return what went wrong in a trial whose treatments are alike, and in one where they differ."""
    blocks, treatments = crossed(n_treatments, n_replicates)
    factors = ({"block": blocks} if in_blocks else {}) | {"treatment": treatments}
    block_effects = rng.normal(0, 5, n_replicates) if in_blocks else np.zeros(n_replicates)
    noise = np.repeat(block_effects, n_treatments) + rng.normal(0, 4, len(blocks))
    noise[list(missing)] = np.nan

    fit = stats.fit_linear(list(40 + noise), factors)
    means = stats.lsmeans(fit, "treatment")
    wrong = {
        "Dunnett, any false difference": any_false(stats.dunnett(means, "t0")),
        "Tukey, any false difference": any_false(stats.tukey(means)),
        "F test, false effect": fit.term("treatment").p < ALPHA,
    }

    true = 40.0 - 3.0 * np.arange(n_treatments)
    y = noise + np.tile(true, n_replicates)
    means = stats.lsmeans(stats.fit_linear(list(y), factors), "treatment")
    difference = stats.contrasts(means, {"d": {"t2": 1, "t0": -1}}).comparisons[0]
    wrong["difference, interval misses"] = misses(difference, true[2] - true[0])
    # blocks are fixed: means are those of the blocks that the trial had
    here = float(block_effects.mean())
    wrong["mean, interval misses"] = misses(means.means[2], true[2] + here)
    ratio = 100 * (true[2] + here) / (true[0] + here)
    for method, name in (("fieller", "Fieller"), ("delta", "delta")):
        found = stats.percent_of_control(means, "t0", method=method).comparisons[1]
        wrong[f"per cent of control ({name}), interval misses"] = misses(found, ratio)
    return wrong


def partner_trial(rng):
    """Return false claims about two partners that act as expected (6 blocks, CV about 8 %)."""
    blocks, treatments = crossed(4, 6)
    noise = np.repeat(rng.normal(0, 4, 6), 4) + rng.normal(0, 6, 24)
    wrong = {}
    for truth, scale, both in (("additive", "absolute", 50.0), ("Bliss", "multiplicative", 56.0)):
        y = np.tile([100.0, 80.0, 70.0, both], 6) + noise
        means = stats.lsmeans(
            stats.fit_linear(list(y), {"block": blocks, "treatment": treatments}), "treatment"
        )
        found = stats.interaction(means, "t0", "t1", "t2", "t3", scale, "decrease")
        name = f"{truth} truth, {scale} scale"
        wrong[f"{name}, expectation excluded"] = found.verdict != "not_excluded"
        wrong[f"{name}, false synergistic"] = found.may_say == "synergistic"
    return wrong


def count_trial(rng):
    """Return what went wrong with counts of mean 8 and twice the variance of Poisson's."""
    blocks, treatments = crossed(6, 6)
    factors = {"block": blocks, "treatment": treatments}
    block_effects = np.repeat(rng.normal(0, 0.2, 6), 6)

    def drawn(log_ratios):
        mu = 8 * np.exp(block_effects + np.tile(log_ratios, 6))
        return list(rng.negative_binomial(mu, 0.5).astype(float))  # mean mu, variance 2 mu

    fit = stats.fit_count(drawn(np.zeros(6)), factors)
    means = stats.lsmeans(fit, "treatment")
    wrong = {
        "Dunnett, any false difference": any_false(stats.dunnett(means, "t0")),
        "Tukey, any false difference": any_false(stats.tukey(means)),
        "F test, false effect": fit.term("treatment").p < ALPHA,
    }
    means = stats.lsmeans(stats.fit_count(drawn(-0.15 * np.arange(6)), factors), "treatment")
    ratio = stats.contrasts(means, {"r": {"t2": 1, "t0": -1}}).comparisons[0]
    wrong["ratio to control, interval misses"] = misses(ratio, -0.3)
    return wrong


def missing_plots(seed):
    """Return one of 20 fixed pairs of missing plots out of 64."""
    return np.random.default_rng([64, seed % 20]).choice(64, 2, replace=False).tolist()


def trial(setting, seed):
    """Return measure -> whether trial `seed` of the setting went wrong."""
    number = list(MEASURES).index(setting)
    rng = np.random.default_rng([number, seed])
    if number == 0:
        return linear_trial(rng, 6, 5, in_blocks=False)
    if number == 1:
        return linear_trial(rng, 6, 5, in_blocks=True)
    if number == 2:
        return linear_trial(rng, 8, 8, in_blocks=True, missing=missing_plots(seed))
    return partner_trial(rng) if number == 3 else count_trial(rng)


def error_counts(setting, n):
    """Return measure -> number of trials, of seeds 1 to n, that went wrong."""
    counts = Counter(dict.fromkeys(MEASURES[setting], 0))
    for seed in range(1, n + 1):
        counts.update({k: int(v) for k, v in trial(setting, seed).items()})
    return dict(counts)


def bounds(measure, n):
    """Return the least and the most allowed error rate."""
    if not measure.exact:
        return 0.0, measure.nominal + 0.03
    reach = 3 * math.sqrt(measure.nominal * (1 - measure.nominal) / n)
    return measure.nominal - reach, measure.nominal + reach


def main(n):
    command = f"python tests/reference/coverage_trials.py {n}"
    table = {"command": command, "n_trials": n, "settings": {}}
    for setting, measures in MEASURES.items():
        counts = error_counts(setting, n)
        rows = table["settings"][setting] = {}
        for name, measure in measures.items():
            low, high = bounds(measure, n)
            rows[name] = {
                "errors": counts[name],
                "error_rate_pct": 100 * counts[name] / n,
                "nominal_pct": 100 * measure.nominal,
                "exact": measure.exact,
                "why": measure.why,
                "allowed_pct": [round(100 * low, 3), round(100 * high, 3)],
                "holds": bool(low <= counts[name] / n <= high),
            }
            print(f"{setting}; {name}: {100 * counts[name] / n:.2f} %", flush=True)
    TABLE.with_name(f"coverage_{n}.json").write_text(json.dumps(table, indent=1) + "\n")


if __name__ == "__main__":
    main(int(sys.argv[1]))
