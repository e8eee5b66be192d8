"""A small trial's layout is drawn on the phone: the same seed gives what the server would draw."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest

from support.node_calls import APP, call_js
from tepal.designs.layouts import ALGORITHM, lay_out
from tepal.designs.sizes import SizeQuestion, detectable_difference_pct
from tepal.designs.specs import DesignSpec, listed_treatments
from tepal.services.trials import plot_rows

pytestmark = pytest.mark.node

VECTORS = json.loads(
    (Path(__file__).resolve().parents[1] / "vectors" / "small_layout" / "layouts.json").read_text()
)
SEEDS = (0, 1, 7, 2**31, 2**32 - 1, 2**32, 2**52 + 12345, 2**53 - 1)


def by_server(n_treatments: int, n_replicates: int, seed: int) -> dict[str, Any]:
    treatments = listed_treatments([str(n) for n in range(1, n_treatments + 1)])
    layout = lay_out(DesignSpec("completely_randomised", treatments, n_replicates), seed)
    return {
        "design": "crd",
        "n_blocks": n_replicates,
        "plants_per_plot": 1,
        "rows": layout.bench.n_rows,
        "columns": layout.bench.n_columns,
        "seed": str(seed),
        "algorithm": ALGORITHM,
        "plots": plot_rows(layout),
    }


def test_phone_draws_the_server_layout() -> None:
    asked = [[t, r, seed] for t in (2, 3) for r in (3, 4, 5, 6, 8) for seed in SEEDS]

    drawn = call_js("core/small_layout.js", "smallLayout", asked)  # type: ignore[arg-type]

    assert [one["value"] for one in drawn] == [by_server(*args) for args in asked]


def test_phone_and_server_draw_the_stored_layouts() -> None:
    """Stored layouts never change: a seed on a paper gives the same plots in twenty years."""
    cases = VECTORS["cases"]

    drawn = call_js("core/small_layout.js", "smallLayout", [list(c["args"]) for c in cases])

    for case, one in zip(cases, drawn, strict=True):
        plots = [p["treatment"] for p in one["value"]["plots"]]
        assert plots == case["treatments"]
        assert [p["treatment"] for p in by_server(*case["args"])["plots"]] == case["treatments"]


def test_seed_out_of_range_is_refused_by_name() -> None:
    found = call_js("core/small_layout.js", "smallLayout", [[2, 3, -1], [2, 3, 1.5], [2, 3, 2**53]])

    assert found == [{"error": "designs.seed_out_of_range"}] * 3


def test_seven_bytes_give_a_seed_below_two_to_the_53() -> None:
    raw = [[[255] * 7], [[0] * 7], [[1, 2, 3, 4, 5, 6, 7]]]

    found = call_js("core/chance.js", "seedOf", raw)

    assert [one["value"] for one in found] == [
        int.from_bytes(bytes(row[0]), "big") % 2**53 for row in raw
    ]


@pytest.mark.parametrize("n", [3, 4, 5, 6, 8])
def test_phone_says_what_the_office_would_say_it_finds(n: int) -> None:
    question = SizeQuestion("control", 2, 10, 10, kind="completely_randomised")
    source = (APP / "core" / "small_layout.js").read_text()
    found = re.search(rf"FOUND_SPREADS = .*\b{n}: ([0-9.]+)", source)

    assert found is not None
    assert float(found[1]) == pytest.approx(detectable_difference_pct(question, n) / 10, abs=5e-5)
