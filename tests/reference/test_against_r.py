"""The engine against R (base, multcomp, emmeans) on simulated trials of every design.

One Rscript process answers for all tables (against_r.R). Estimates, SE, F, df and unadjusted p agree
to 1e-6; single-step p, a randomised integral in R, to 1e-3. R 4.2.2, multcomp 1.4-22, emmeans 1.8.4.
"""

import csv
import shutil
import subprocess
from pathlib import Path

import pytest
from against_r_tables import tables

from tepal import stats

pytestmark = [pytest.mark.r, pytest.mark.full]
HERE = Path(__file__).parent
DESIGNS = list(tables())
SINGLE_STEP = "p single-step"


@pytest.fixture(scope="module")
def answers(tmp_path_factory):
    """Return R's answers: design -> {(quantity, label): value}."""
    if shutil.which("Rscript") is None:
        pytest.fail("Rscript is not installed: apt-get install r-base-core r-cran-multcomp ...")
    folder = tmp_path_factory.mktemp("against_r")
    for name, table in tables().items():
        with (folder / f"{name}.csv").open("w", newline="") as file:
            out = csv.writer(file)
            out.writerow(table)
            out.writerows(
                [x if isinstance(x, str) else repr(float(x)) for x in row]
                for row in zip(*table.values(), strict=True)
            )
    run = subprocess.run(
        ["Rscript", str(HERE / "against_r.R"), str(folder)],
        capture_output=True,
        text=True,
        check=False,
        timeout=280,
    )
    assert run.returncode == 0, run.stderr
    found = {}
    with (folder / "answers.csv").open(newline="") as file:
        for row in csv.DictReader(file):
            found.setdefault(row["design"], {})[row["quantity"], row["label"]] = float(row["value"])
    return found


def terms(out, lines, suffix=""):
    for line in lines:
        out["F" + suffix, line.term] = line.f
        out["p(F)" + suffix, line.term] = line.p
        if not suffix:
            out["df", line.term] = line.df


def means_of(out, means):
    for m in means.means:
        out["mean", m.label] = m.value
        out["se mean", m.label] = m.se


def family(out, result, single_step=True):
    for c in result.comparisons:
        out["difference", c.label] = c.value
        out["se", c.label] = c.se
        out["t", c.label] = c.statistic
        out["p", c.label] = c.p
        if single_step:
            out[SINGLE_STEP, c.label] = c.p_adjusted


def linear(table, terms_, covariates=(), tukey=False, alternative="two-sided", drop=True):
    factors = {k: table[k] for k in ("block", "row", "column", "treatment") if k in table}
    fit = stats.fit_linear(
        list(table["y"]),
        factors,
        {c: list(table[c]) for c in covariates},
        (*terms_, *covariates),
    )
    means = stats.lsmeans(fit, "treatment")
    out = {("error df", ""): fit.df_error, ("MSE", ""): fit.dispersion}
    if drop:
        terms(out, fit.anova)
    means_of(out, means)
    family(out, stats.dunnett(means, "t1", alternative))
    if tukey:
        pairs = stats.tukey(means)
        out["critical Tukey", ""] = pairs.critical
        for c in pairs.comparisons:
            out["p Tukey", c.label] = c.p_adjusted
    return out, fit, means


def crd(table):
    return linear(table, ["treatment"], tukey=True)[0]


def rcbd(table):
    return linear(table, ["block", "treatment"], tukey=True)[0]


def latin(table):
    return linear(table, ["row", "column", "treatment"])[0]


def split_plot(table):
    result = stats.split_plot(list(table["y"]), table["block"], table["whole"], table["sub"])
    out = {("MS", "whole"): result.ms_whole, ("MS", "sub"): result.ms_sub}
    terms(out, result.terms[:3])
    return out


def factorial(table):
    names = {k: table[k] for k in ("block", "a", "b")}
    fit = stats.fit_linear(list(table["y"]), names, terms=("block", "a", "b", "a:b"), ss_type=3)
    out = {}
    terms(out, fit.anova)
    means_of(out, stats.lsmeans(fit, "a:b"))
    return out


def factorial_unbalanced(table):
    names = {k: table[k] for k in ("block", "a", "b")}
    every = ("block", "a", "b", "a:b")
    out = {}
    terms(out, stats.fit_linear(list(table["y"]), names, terms=every, ss_type=2).anova)
    terms(out, stats.fit_linear(list(table["y"]), names, terms=every, ss_type=3).anova, " III")
    return out


def covariate(table):
    out, fit, _ = linear(table, ["block", "treatment"], ["height0"])
    out["slope", "height0"] = float(fit.coef[fit.design.columns["height0"]][0])
    return out


def trend(table):
    names = {k: table[k] for k in ("block", "treatment")}
    means = stats.lsmeans(stats.fit_linear(list(table["y"]), names), "treatment")
    rates = dict(zip(table["treatment"], table["rate"].tolist(), strict=True))
    result, lack = stats.trend(means, rates, degree=2)
    out = {("F", "lack of fit"): lack.statistic, ("p(F)", "lack of fit"): lack.p}
    for degree, c in enumerate(result.comparisons, start=1):
        out["difference", str(degree)] = c.value
        out["t", str(degree)] = c.statistic
        out["p", str(degree)] = c.p
    return out


def general(fit):
    out = {("dispersion", ""): fit.dispersion, ("deviance", ""): fit.deviance}
    terms(out, fit.anova)
    means = stats.lsmeans(fit, "treatment")
    means_of(out, means)
    family(out, stats.dunnett(means, "t1"))
    return out


def in_blocks(table):
    return {k: table[k] for k in ("block", "treatment")}


def count(table):
    return general(stats.fit_count(list(table["y"]), in_blocks(table)))


def count_plants_missing(table):
    return general(
        stats.fit_count(list(table["y"]), in_blocks(table), n_plants=list(table["plants"]))
    )


def proportion(table):
    return general(stats.fit_proportion(list(table["y"]), list(table["n"]), in_blocks(table)))


def games_howell(table):
    out = {}
    for c in stats.games_howell(list(table["y"]), table["treatment"]).comparisons:
        out["difference", c.label] = c.value
        out["se", c.label] = c.se
        out["df pair", c.label] = c.df
        out["p", c.label] = c.p
        out["p Tukey", c.label] = c.p_adjusted
    welch = stats.welch_anova(list(table["y"]), table["treatment"])
    out |= {("Welch", "F"): welch.statistic, ("Welch", "df"): welch.df[1], ("Welch", "p"): welch.p}
    return out


def planned_contrasts(table):
    out, _, means = linear(table, ["block", "treatment"])
    out = {k: v for k, v in out.items() if k[0] not in ("difference", "se", "t", "p", SINGLE_STEP)}
    wanted = {
        "first against rest": {"t1": 1, "t2": -0.25, "t3": -0.25, "t4": -0.25, "t5": -0.25},
        "t2 and t3 against t4 and t5": {"t2": 0.5, "t3": 0.5, "t4": -0.5, "t5": -0.5},
        "t2 - t3": {"t2": 1, "t3": -1},
    }
    family(out, stats.contrasts(means, wanted, adjust="single-step"))
    return out


def partners_log(table):
    out, _, means = linear(table, ["block", "treatment"], drop=False)
    out = {k: v for k, v in out.items() if k[0] not in ("difference", "se", "t", "p", SINGLE_STEP)}
    # the response is ln(y): what R's contrast 1, -1, -1, 1 says is the absolute scale of the logs
    found = stats.interaction(means, "t1", "t2", "t3", "t12", "absolute", "decrease").departure
    out |= {
        ("difference", "departure"): found.value,
        ("se", "departure"): found.se,
        ("t", "departure"): found.statistic,
        ("p", "departure"): found.p,
    }
    return out


def per_cent(table):
    fit = stats.fit_linear(list(table["y"]), in_blocks(table))
    result = stats.percent_of_control(stats.lsmeans(fit, "treatment"), "t1")
    out = {}
    for c in result.comparisons:
        label = f"{c.pair[0]} - t1" if c.pair else c.label
        out["per cent", label] = c.value
        out["lower", label] = c.lower
        out["upper", label] = c.upper
    return out


def over_time(table):
    values = [[float(table[f"y{j}"][i]) for j in range(1, 5)] for i in range(18)]
    result = stats.split_plot_in_time(values, {"treatment": table["treatment"]})
    lines = {t.term: t for t in result.terms}
    corrected = {t.term: t for t in result.corrected}
    return {
        ("epsilon", ""): result.epsilon_gg,
        ("F", "treatment"): lines["treatment"].f,
        ("p(F)", "treatment"): lines["treatment"].p,
        ("F", "time"): lines["time"].f,
        ("p GG", "time"): corrected["time"].p,
        ("F", "time:treatment"): lines["time:treatment"].f,
        ("p GG", "time:treatment"): corrected["time:treatment"].p,
    }


def one_sided(table):
    return linear(table, ["block", "treatment"], alternative="less", drop=False)[0]


def plants_in_plots(table):
    plots = stats.plot_values(list(table["y"]), table["plot"], {"treatment": table["treatment"]})
    means = {"treatment": plots.factors["treatment"], "y": plots.mean}
    out = linear(means, ["treatment"], drop=False)[0]
    nested = stats.nested_anova(list(table["y"]), table["plot"], {"treatment": table["treatment"]})
    terms(out, [t for t in nested.terms if t.term == "treatment"])
    return out


OURS = {
    "crd": crd,
    "crd_unbalanced": crd,
    "rcbd": rcbd,
    "rcbd_missing": rcbd,
    "rcbd_control_twice": rcbd,
    "latin": latin,
    "latin_missing": latin,
} | {
    f.__name__: f
    for f in (
        split_plot,
        factorial,
        factorial_unbalanced,
        covariate,
        trend,
        count,
        count_plants_missing,
        proportion,
        games_howell,
        planned_contrasts,
        partners_log,
        per_cent,
        over_time,
        one_sided,
        plants_in_plots,
    )
}


def test_every_table_has_its_analysis():
    assert set(OURS) == set(DESIGNS)
    assert len(DESIGNS) >= 20


@pytest.mark.parametrize("design", DESIGNS)
def test_engine_matches_r(design, answers):
    ours = OURS[design](tables()[design])
    theirs = answers[design]

    assert set(ours) == set(theirs)
    wrong = {}
    for key, value in ours.items():
        if key[0] == SINGLE_STEP:
            fits = abs(value - theirs[key]) <= 1e-3
        else:
            fits = value == pytest.approx(theirs[key], rel=1e-6, abs=1e-9)
        if not fits:
            wrong[key] = (value, theirs[key])
    assert not wrong
