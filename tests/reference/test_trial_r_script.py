"""The exported R script of a trial gives the report's figures: run with R from Debian."""

from __future__ import annotations

import csv
import shutil
import subprocess
from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

from support.demo_trials import demo_trial_data
from support.trial_sample import factorial, small
from tepal.designs.trial import Contrast
from tepal.services.trial_analysis import analyse_trial
from tepal.services.trial_exports import file_name, r_script, r_table

if TYPE_CHECKING:
    from pathlib import Path

    from tepal.designs.trial import TrialData

pytestmark = pytest.mark.r

Answers = dict[tuple[str, str, str], dict[str, str]]


def answers_of(data: TrialData, folder: Path) -> Answers:
    name = file_name(data)
    (folder / f"{name}.R").write_text(r_script(data), encoding="utf-8")
    (folder / f"{name}-plots.csv").write_text(r_table(data), encoding="utf-8")
    done = subprocess.run(
        [shutil.which("Rscript") or "Rscript", f"{name}.R"],
        cwd=folder, capture_output=True, text=True, timeout=120, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    with (folder / f"{name}-answers.csv").open() as file:
        return {(r["cell"], r["quantity"], r["label"]): r for r in csv.DictReader(file)}


def near(text: str, value: float | None, rel: float = 1e-6) -> None:
    assert value is not None
    assert float(text) == pytest.approx(value, rel=rel, abs=1e-9)


def compared(data: TrialData, found: Answers) -> int:
    """Hold every figure of the report that R gives against R's; return how many."""
    n = 0
    for cell in analyse_trial(data):
        result = cell.result
        if not cell.assessment or result.means is None:
            continue
        key = f"{cell.measurement} {cell.assessment}"
        if result.model is not None:
            line = next(t for t in result.model.terms if t.term == "treatment")
            r = found[key, "F", "treatment"]
            near(r["estimate"], line.f)
            assert float(r["df"]) == line.df
            near(r["p"], line.p)
            assert float(found[key, "error", "df"]["estimate"]) == result.model.df_error
            near(found[key, "error", "dispersion"]["estimate"], result.model.dispersion)
        elif cell.strata is not None:
            for line in (t for t in cell.strata.terms if t.term != "block"):
                r = found[key, "F", line.term]
                near(r["estimate"], line.f)
                assert float(r["df"]) == line.df
                near(found[key, "error df of F", line.term]["estimate"], line.df_error)
                near(r["p"], line.p)
                n += 3
        for mean in result.means.means:
            near(found[key, "mean", mean.label]["estimate"], mean.value)
            near(found[key, "mean", mean.label]["se"], mean.se)
        for e in result.comparison.comparisons if result.comparison else ():
            r = found[key, "against the control", e.label]
            near(r["estimate"], e.value)
            near(r["se"], e.se)
            near(r["p"], e.p)
            if abs(e.df - round(e.df)) > 1e-6:
                continue  # mvtnorm knows no multivariate t with broken degrees of freedom
            family = found[key, "against the control (family)", e.label]
            assert float(family["p"]) == pytest.approx(e.p_adjusted, abs=1e-3)
            n += 4
        for e in cell.contrasts.comparisons if cell.contrasts else ():
            r = found[key, "contrast", e.label]
            near(r["estimate"], e.value)
            near(r["se"], e.se)
            near(r["p"], e.p)
            n += 3
        # before treatment there is no departure to speak of
        for p, i in zip(data.partners, cell.interactions, strict=False):
            label = f"{p.both} over {p.first} and {p.second}"
            r = found[key, "departure from the expectation", label]
            near(r["estimate"], i.departure.value)
            near(r["se"], i.departure.se)
            near(r["p"], i.departure.p)
            n += 3
    return n


def with_contrasts(data: TrialData) -> TrialData:
    """Return the trial with two contrasts of its own: weights as a person types them."""
    first, second, third = (t.number for t in data.treatments[:3])
    planned = (
        Contrast("first against two", ((first, 2.0), (second, -1.0), (third, -1.0))),
        Contrast('"second" & third', ((second, 1.0), (third, -1.0))),
    )
    return replace(data, plan=replace(data.plan, contrasts=planned))


DEMO = demo_trial_data()
# name -> (trial, figures at least); each demo trial, and what the demo lacks
TRIALS: dict[str, tuple[TrialData, int]] = {
    # those from elsewhere compare two treatments only
    **{code: (data, 8 if code in ("R03", "S11") else 10) for code, data in DEMO.items()},
    "absolute": (factorial(scale="absolute"), 20),
    "latin_square": (small("latin_square", 3, 1), 16),
    "latin_squares": (with_contrasts(small("latin_square", 3, 2)), 30),
    "split_plot": (with_contrasts(small("split_plot", 7, 4)), 30),
    "split_plot_without_blocks": (small("split_plot_completely_randomised", 5, 4), 20),
}


@pytest.mark.parametrize("name", TRIALS)
def test_r_script_matches_the_report(name: str, tmp_path: Path) -> None:
    data, least = TRIALS[name]

    n = compared(data, answers_of(data, tmp_path))

    assert n >= least
