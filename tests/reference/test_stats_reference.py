"""Every reference case of the statistics, number by number, through the public interface.

Data, expected values, tolerances and sources stand in stats_cases.json; the table of worst errors
is printed by `python tests/reference/stats_routes.py`.
"""

from __future__ import annotations

import pytest
from stats_routes import CASES, NOT_REPRODUCED, ROUTES, compare, covered, leaf_paths


@pytest.mark.parametrize("name", sorted(CASES))
def test_statistics_match_reference(name):
    """Every expected number of the case is compared, or named as not reproduced."""
    case = CASES[name]

    got = ROUTES[name](case)

    failures = [f for path, value in got.items() for f in compare(case, path, value)[2]]
    assert not failures, "\n".join([case["source"], *failures])
    reached = [*got, *NOT_REPRODUCED.get(name, {})]
    assert [p for p in leaf_paths(case["expected"]) if not covered(p, reached)] == []


def test_each_case_has_a_source_and_a_route():
    assert set(CASES) == set(ROUTES)
    assert all(c["source"] and c["obtained"] for c in CASES.values())
