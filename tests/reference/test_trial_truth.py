"""What is said of simulated trials is held against the truth they were made from.

Intervals of a family cover all true effects as often as they promise, within 3 standard errors of
that share; a sentence never claims the direction opposite to a true effect.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

from support.random_trials import speaker
from support.trial_sample import drench, factorial
from tepal.services.demo_trials import drench_truth
from tepal.services.trial_analysis import analyse_cell

if TYPE_CHECKING:
    from collections.abc import Callable

    from tepal.designs.trial import TrialData

DEMO_SEED = 20  # the first one committed, and the seed of the demo's drench trial
HEIGHT, BRANCHES, FLOWERS = drench_truth()
CELLS = (("height", "a44"), ("branches", "a44"), ("flower", "round"))
OPPOSITE = {("lower", 1), ("higher", -1)}


def plain(data: TrialData) -> TrialData:
    """Return the trial as a plain list of treatments: no dose curve is asked for."""
    return replace(data, treatments=tuple(replace(t, role="other") for t in data.treatments))


def true_effect(measurement: str, treatment: int) -> float:
    """Return the true difference from untreated on the model's scale."""
    if measurement == "height":
        return HEIGHT.effect(treatment, 44)
    if measurement == "branches":
        return math.log(BRANCHES.effect(treatment, 44))
    return FLOWERS.delay(treatment)


def within(hits: int, n: int, nominal: float) -> bool:
    """Whether a share of hits lies within 3 standard errors of its nominal value, or above it."""
    return hits / n >= nominal - 3 * math.sqrt(nominal * (1 - nominal) / n)


def drench_run(seeds: list[int]) -> None:
    covered = dict.fromkeys(CELLS, 0)
    false_claims = 0
    for seed in seeds:
        data = plain(drench(seed))
        words = speaker(data)
        for key in CELLS:
            cell = analyse_cell(data, *key)
            family = cell.result.comparison
            assert family is not None
            covered[key] += all(
                e.lower <= true_effect(key[0], int(e.pair[0])) <= e.upper  # type: ignore[index,operator]
                for e in family.comparisons
            )
            for claim in (c for s in words.cell(cell) for c in s.claims if c.against):
                effect = true_effect(key[0], int(claim.about))
                sign = (effect > 0) - (effect < 0)
                assert (claim.kind, sign) not in OPPOSITE, (seed, key, claim)
                false_claims += sign == 0 and claim.kind in ("lower", "higher")
    n = len(seeds)
    for key, hits in covered.items():
        assert within(hits, n, 0.95), (key, hits, n)
    # families err at most 5 times in 100, and untreated-like treatments are only part of them
    assert within(len(CELLS) * n - false_claims, len(CELLS) * n, 0.95)


# True heights on day 28, untreated 30 cm: 2 -4, 3 -8, both -14 cm: more than either expectation.
SYNERGY = math.log(16 * 30 / (26 * 22))


def factorial_run(seeds: list[int]) -> None:
    covered = 0
    for seed in seeds:
        data = factorial(seed)
        cell = analyse_cell(data, "height", "a28")
        departure = cell.interactions[0].departure
        covered += departure.lower <= SYNERGY <= departure.upper  # type: ignore[operator]
        kinds = {c.kind for s in speaker(data).cell(cell) for c in s.claims}
        assert not kinds & {"partners_antagonistic", "partners_higher"}, seed
        assert "blank_higher" not in kinds, seed
    assert within(covered, len(seeds), 0.95), covered


RUNS: dict[str, Callable[[list[int]], None]] = {"drench": drench_run, "factorial": factorial_run}


@pytest.mark.parametrize("name", RUNS)
def test_what_is_said_is_true_of_a_dozen_seeds(name: str) -> None:
    RUNS[name]([DEMO_SEED, *range(101, 112)])


@pytest.mark.slow
@pytest.mark.parametrize("name", RUNS)
def test_what_is_said_is_true_of_two_hundred_seeds(name: str) -> None:
    RUNS[name]([DEMO_SEED, *range(101, 300)])
