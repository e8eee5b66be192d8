"""The core gives in a real browser what it gives in Python: the same 10,000 seeded inputs."""

from __future__ import annotations

import json

import pytest

from support.core_page import core_page
from support.twin import differences, run_py
from support.twin_cases import has_exp, twin_cases

pytestmark = pytest.mark.browser

SEED = 20261125
N_CASES = 10_000


def test_random_inputs_give_equal_numbers_in_chromium() -> None:
    cases = twin_cases(SEED, N_CASES)
    with core_page() as page:
        js = page.evaluate("(cases) => JSON.stringify(window.core.run(cases))", cases)

    unequal = [
        (case, found)
        for case, one, other in zip(cases, run_py(cases), json.loads(js), strict=True)
        if (found := differences(one, other, 1e-12 if has_exp(case) else 0.0))
    ]
    assert unequal == []
