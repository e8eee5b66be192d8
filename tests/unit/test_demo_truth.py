"""The demo's trials: what the analysis says of them holds the true effects they were made from."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest

from support.demo_trials import demo_trial_data
from tepal.services.demo_trials import FACTORIAL_TRUTH, RUNNING_TRUTH, drench_truth
from tepal.services.trial_analysis import analyse_cell

if TYPE_CHECKING:
    from tepal.designs.trial import TrialData

DRENCH, _, FLOWERS = drench_truth()
CASES = {
    "T07 height a22": {t: DRENCH.effect(t, 22) for t in range(2, 7)},
    "T07 height a44": {t: DRENCH.effect(t, 44) for t in range(2, 7)},
    "T07 flower round": {t: FLOWERS.delay(t) for t in range(2, 7)},
    "T08 height a28": FACTORIAL_TRUTH,
    "T08 width a28": {t: 0.3 * effect for t, effect in FACTORIAL_TRUTH.items()},
    "T09 height a14": RUNNING_TRUTH,
}


@pytest.fixture(scope="module")
def trials() -> dict[str, TrialData]:
    return demo_trial_data()


@pytest.mark.parametrize("case", CASES)
def test_every_interval_of_the_demo_holds_the_effect_behind_it(
    trials: dict[str, TrialData], case: str
) -> None:
    code, measurement, assessment = case.split()
    truth = {1: 0.0, **CASES[case]}

    cell = analyse_cell(trials[code], measurement, assessment)

    assert cell.result.comparison is not None
    told = list(_intervals(cell, truth))
    assert len(told) >= len(truth) - 1
    assert [one for one in told if not one[1] <= one[3] <= one[2]] == []


def _intervals(cell: Any, truth: dict[int, float]) -> Any:
    """Label, ends and true value of the comparisons with the control and of blanks."""
    for e in cell.result.comparison.comparisons:
        first, second = (int(n) for n in e.pair)
        yield e.label, e.lower, e.upper, truth[first] - truth[second]
    for family in cell.formulations:
        for e in family.comparisons:
            first, second = (int(n) for n in e.label.split(" - "))
            yield e.label, e.lower, e.upper, truth[first] - truth[second]
