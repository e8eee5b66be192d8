"""The engine errs as often as it says: seeds 1 to 1,000 here, 1 to 10,000 with `slow`."""

import json

import pytest
from coverage_trials import MEASURES, TABLE, bounds, error_counts, missing_plots


def outside(setting, n):
    """Return the measures whose error rate is outside its bounds."""
    counts = error_counts(setting, n)
    assert set(counts) == set(MEASURES[setting])
    found = {}
    for name, measure in MEASURES[setting].items():
        low, high = bounds(measure, n)
        if not low <= counts[name] / n <= high:
            found[name] = (counts[name] / n, low, high)
    return found


@pytest.mark.full
@pytest.mark.parametrize("setting", MEASURES)
def test_error_rates_hold_over_1000_trials(setting):
    assert outside(setting, 1_000) == {}


@pytest.mark.slow
@pytest.mark.full
@pytest.mark.timeout(1_800)
@pytest.mark.parametrize("setting", MEASURES)
def test_error_rates_hold_over_10000_trials(setting):
    assert outside(setting, 10_000) == {}


@pytest.mark.parametrize("setting", MEASURES)
def test_committed_figures_hold(setting):
    """The table in the repository is of these settings, and within its own bounds."""
    table = json.loads(TABLE.read_text())

    assert table["n_trials"] == 10_000
    rows = table["settings"][setting]
    assert set(rows) == set(MEASURES[setting])
    for name, measure in MEASURES[setting].items():
        low, high = bounds(measure, 10_000)
        assert low <= rows[name]["errors"] / 10_000 <= high, name


def test_missing_plots_come_in_20_fixed_patterns():
    patterns = {tuple(missing_plots(seed)) for seed in range(1, 1_001)}

    assert len(patterns) == 20
    assert all(len(set(p)) == 2 for p in patterns)
