"""Whatever stands in a table, the analysis ends in numbers, statements or a named error."""

from __future__ import annotations

import json

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tepal.stats import AnalysisSpec, StatsError, analyse, read_table, to_json

VALUES = st.sampled_from(["", "0", "0", "1", "1", "2", "3", "5", "8", "13", "1e9", "0.001"])
TYPES = st.sampled_from(["continuous", "count", "proportion", "days", "rating"])


@st.composite
def trials(draw):
    """Return a small table, often unbalanced, degenerate or with holes, and a question."""
    treatments = draw(st.integers(1, 4))
    blocks = draw(st.integers(1, 3))
    plants = draw(st.integers(1, 2))
    lines = ["t,b,p,x,y,z"]
    for b in range(blocks):
        for t in range(treatments):
            if draw(st.integers(0, 9)) == 0:
                continue
            for _ in range(plants):
                x = draw(st.integers(0, 5))
                lines.append(f"T{t},B{b},{b}-{t},{x},{draw(VALUES)},{draw(VALUES)}")
    kind = draw(TYPES)
    spec = AnalysisSpec(
        (("y", kind), ("z", kind)),
        treatment="t",
        block=draw(st.sampled_from([None, "b"])),
        plot=draw(st.sampled_from([None, "p"])),
        covariate=draw(st.sampled_from([None, None, "x"])),
        control=draw(st.sampled_from([None, "T0"])),
        compare=draw(st.sampled_from([None, "tukey", "lsd", "games-howell", "none"])),
        alternative=draw(st.sampled_from(["two-sided", "greater", "less"])),
    )
    return "\n".join(lines), spec


@pytest.mark.full
@given(trials())
@settings(max_examples=80, deadline=None, suppress_health_check=[HealthCheck.too_slow])
def test_any_table_gives_finite_numbers_statements_or_a_named_error(trial):
    text, spec = trial

    try:
        results = analyse(read_table(text), spec)
    except StatsError as error:
        said = error.message
        results = ()
        assert len(said) > 20

    for result in results:
        json.dumps(to_json(result), allow_nan=False)
        assert result.model or result.ranks or result.statements
