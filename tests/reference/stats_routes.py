"""How each reference case is reached through the public interface of `tepal.stats`.

A route takes a case and returns {dotted path in `expected`: what we got}. NOT_REPRODUCED names
every path of a case that no route reaches, with the reason. Nothing here computes an expected value.
"""

from __future__ import annotations

import json
import math
from decimal import Decimal
from pathlib import Path

import numpy as np

from tepal import stats
from tepal.stats import distributions as dist
from tepal.stats import mvt, ranges
from tepal.stats.nonlinear import fit_curve

FILE = Path(__file__).with_name("stats_cases.json")
CASES = {c["id"]: c for c in json.loads(FILE.read_text("utf-8"))["cases"]}
ROUTES = {}

NOT_REPRODUCED = {
    "subsample_unbalanced": {
        "kenward_roger": "Kenward-Roger is not attempted: Satterthwaite is offered instead",
    },
    "subsample_kiwishade": {
        "lmer_random_block.vc": "lme4's optimiser stops 6e-5 short; the exact components are checked",
        "lmer_random_block.se": "follows from lme4's components",
        "lmer_random_block.F_satterthwaite": "follows from lme4's components (exact: F_correct)",
        "lmer_random_block.dendf_satt": "follows from lme4's components (exact: 6)",
        "lmer_random_block.p_satt": "follows from lme4's components",
        "lmer_random_block.p_kr": "Kenward-Roger is not attempted",
        "lmer_random_block.dendf_kr": "Kenward-Roger is not attempted",
    },
    "ordinal_wine": {
        "with_random_judge_clmm_laplace": "no random effects in the ordinal model; judges as fixed",
    },
    "dose_lettuce_hormesis": {
        "drc": "another optimum within rounding (drc stops early); nls values are checked",
    },
    "dunnett_critical_values": {
        "printed_1955_two_sided_inexact": "approximations of 1955, replaced by Dunnett 1964",
    },
    "rcbd_gomez_log": {"published.table": "the number of a table, not a result"},
    "growth_chick1": {
        "published.Asym": "printed by an iteration that stops early: its residual sum of squares"
        " (76.66235626025) is above ours (76.66235625619), asymptote 937.0205",
    },
}
# facts about a case, not results
WORDS = {
    "comparison",
    "pairs",
    "contrast_names",
    "contrast_coefficients",
    "order",
    "lsmeans_order",
    "coef_order",
    "missing",
    "model",
    "EMS_rule",
    "printed_tolerance",
    "note",
    "source",
    "table_no",
}


def route(function):
    ROUTES[function.__name__] = function
    return function


def inline(name):
    return CASES[name]["data"]["inline"]


def text(values):
    return [str(v) for v in values]


def _oneway(y, g, name="g"):
    return stats.fit_linear(y, {name: text(g)}, name="y")


def _oneway_anova(y, g):
    fit = _oneway(y, g)
    line = fit.term("g")
    return {
        "df_between": line.df,
        "df_within": fit.df_error,
        "SS_between": line.ss,
        "SS_within": float(fit.residuals @ fit.residuals),
        "MS_between": line.ms,
        "MS_within": fit.dispersion,
        "F": line.f,
        "R2": fit.summary().r2,
        "residual_SD": math.sqrt(fit.dispersion),
    }


@route
def nist_sirstv(c):
    x = inline("nist_sirstv")
    return _oneway_anova(x["resistance"], x["instrument"])


@route
def nist_atmwtag(c):
    x = inline("nist_atmwtag")
    return _oneway_anova(x["AgWt"], x["instrument"])


def _smls(c):
    offsets = [0.4, 0.3, 0.5, 0.3, 0.5, 0.3, 0.5, 0.3, 0.5]
    base, r = Decimal(c["data"]["base"]), c["data"]["r"]
    y, g = [], []
    for i, o in enumerate(offsets):
        for j in range(r):
            e = Decimal(0) if j == 0 else Decimal("-0.1") if j % 2 else Decimal("0.1")
            y.append(float(base + Decimal(str(o)) + e))
            g.append(str(i))
    return _oneway_anova(y, g)


@route
def nist_smls01(c):
    return _smls(c)


@route
def nist_smls07(c):
    return _smls(c)


@route
def anova_plantgrowth(c):
    x = inline("anova_plantgrowth")
    fit = _oneway(x["weight"], x["group"])
    t = fit.term("g")
    within = float(fit.residuals @ fit.residuals)
    return {
        "F": t.f,
        "p": t.p,
        "df1": t.df,
        "df2": fit.df_error,
        "SS_between": t.ss,
        "SS_within": within,
        "R2": fit.summary().r2,
        "eta2": t.ss / (t.ss + within),
        "omega2": (t.ss - t.df * fit.dispersion) / (t.ss + within + fit.dispersion),
    }


def mixture():
    x = inline("mixture_oneway")
    fit = _oneway(x["weight"], x["treat"], "treat")
    return fit, stats.lsmeans(fit, "treat")


@route
def mixture_oneway(c):
    fit, means = mixture()
    e = c["expected"]
    order = e["contrast_coefficients"]["order"]
    wanted = {
        n: dict(zip(order, row, strict=True))
        for n, row in zip(e["contrast_names"], e["contrast_coefficients"]["L"], strict=True)
    }
    k = stats.contrasts(means, wanted).comparisons
    t = fit.term("treat")
    got = {
        "F": t.f,
        "p": t.p,
        "MSE": fit.dispersion,
        "df": fit.df_error,
        "sem": means.means[0].se,
        "cv_percent": fit.summary().cv_percent,
        "lsd05": stats.lsd(means).critical * stats.lsd(means).comparisons[0].se,
        "hsd05": stats.tukey(means).critical * stats.tukey(means).comparisons[0].se,
        "contrast_estimate": [x.value for x in k],
        "contrast_se": [x.se for x in k],
        "contrast_p": [x.p for x in k],
        "p_unadjusted": [x.p for x in stats.lsd(means).comparisons],
        "p_tukey": [x.p_adjusted for x in stats.tukey(means).comparisons],
        "letters_lsd": shared(stats.letters(stats.lsd(means))),
        "letters_tukey": shared(stats.letters(stats.tukey(means))),
    }
    for method in ("sidak", "bonferroni", "holm", "scheffe"):
        got[f"p_{method}"] = [x.p_adjusted for x in stats.lsd(means, adjust=method).comparisons]
    for key in ("F", "p", "contrast_estimate", "contrast_se", "p_tukey", "p_sidak"):
        got[f"published.{key}"] = got[key]
    return got


class Shared(dict):
    """Letters as a relation: the names of the letters do not matter."""


def shared(result):
    return Shared(result.letters)


@route
def padjust_bh1995(c):
    p = inline("padjust_bh1995")["p"]
    return {m: stats.adjust_p(p, m.lower()) for m in ("bonferroni", "holm", "hochberg", "BH")}


@route
def ttest_toothgrowth(c):
    x = inline("ttest_toothgrowth")
    w = stats.games_howell(x["len"], x["supp"]).comparisons[0]  # two groups: Welch's t
    e = stats.lsd(stats.lsmeans(_oneway(x["len"], x["supp"]), "g")).comparisons[0]
    got = {}
    for key, r in (("welch", w), ("pooled", e)):
        got |= {
            f"{key}.t": r.statistic,
            f"{key}.df": r.df,
            f"{key}.p": r.p_adjusted,
            f"{key}.lower": r.lower,
            f"{key}.upper": r.upper,
        }
    return got


def gomez(log=True, missing=()):
    x = inline("rcbd_gomez_log")
    y = [
        None if [t, r] in missing else (math.log10(v + 1) if log else v)
        for v, t, r in zip(x["larvae"], x["trt"], x["rep"], strict=True)
    ]
    return stats.fit_linear(y, {"rep": x["rep"], "trt": x["trt"]}, name="y")


@route
def rcbd_gomez_log(c):
    fit = gomez()
    m = stats.lsmeans(fit, "trt")
    t, r = fit.term("trt"), fit.term("rep")
    lsd = stats.lsd(m)
    mse = fit.dispersion
    return {
        "trt.df": t.df,
        "trt.SS": t.ss,
        "trt.F": t.f,
        "trt.p": t.p,
        "rep.df": r.df,
        "rep.SS": r.ss,
        "rep.F": r.f,
        "rep.p": r.p,
        "MSE": mse,
        "df_error": fit.df_error,
        "cv_percent": fit.summary().cv_percent,
        "sed": lsd.comparisons[0].se,
        "lsd05": lsd.critical * lsd.comparisons[0].se,
        "relative_efficiency_vs_crd": (3 * r.ms + 4 * 8 * mse) / (35 * mse),
        "published.trt_F": t.f,
        "published.trt_p": t.p,
        "published.rep_F": r.f,
        "published.MSE": mse,
    }


@route
def missing_plot_3x3(c):
    x = inline("missing_plot_3x3")
    factors = {"block": x["block"], "trt": x["trt"]}
    fit = stats.fit_linear(x["y"], factors)
    m = stats.lsmeans(fit, "trt")
    cell = float(fit.design.row({"block": "III", "trt": "D"}, {}) @ fit.coef)
    filled = stats.fit_linear([cell if v is None else v for v in x["y"]], factors)
    t = fit.term("trt")
    total = sum(v.ss for v in filled.anova) + float(filled.residuals @ filled.residuals)
    got = {
        "estimated_missing": cell,
        "yates_formula": cell,
        "SS_trt_biased": filled.term("trt").ss,
        "SS_trt_unbiased": t.ss,
        "bias_correction": filled.term("trt").ss - t.ss,
        "SS_block_filled": filled.term("block").ss,
        "SS_error": float(fit.residuals @ fit.residuals),
        "SS_total_filled": total,
        "df_error": fit.df_error,
        "F": t.f,
        "p": t.p,
        "lsmeans": [v.value for v in m.means],
        "lsmeans_se": [v.se for v in m.means],
    }
    for key, ours in (
        ("estimate", "estimated_missing"),
        ("SS_blocks", "SS_block_filled"),
        ("SS_trt", "SS_trt_biased"),
        ("SS_error", "SS_error"),
        ("SS_total", "SS_total_filled"),
        ("bias", "bias_correction"),
    ):
        got[f"published.{key}"] = got[ours]
    return got


@route
def missing_plots_yates1933(c):
    x = inline("missing_plots_yates1933")
    fit = stats.fit_linear(x["y"], {"block": x["block"], "trt": x["trt"]})
    m = {v.label: v for v in stats.lsmeans(fit, "trt").means}
    order = c["expected"]["lsmeans_order"]
    t = fit.term("trt")
    return {
        "estimates": [
            float(fit.design.row({"trt": a, "block": b}, {}) @ fit.coef)
            for a, b in c["expected"]["missing"]
        ],
        "F_trt": t.f,
        "p_trt": t.p,
        "df_error": fit.df_error,
        "MSE": fit.dispersion,
        "lsmeans": [m[k].value for k in order],
        "lsmeans_se": [m[k].se for k in order],
    }


@route
def latin_goulden(c):
    x = inline("latin_goulden")
    fit = stats.fit_linear(
        x["yield"], {"row": text(x["row"]), "col": text(x["col"]), "trt": x["trt"]}
    )
    got = {"MSE": fit.dispersion, "df_error": fit.df_error, "trt.p": fit.term("trt").p}
    for name in ("trt", "row", "col"):
        got |= {f"{name}.F": fit.term(name).f, f"{name}.SS": fit.term(name).ss}
    return got


@route
def factorial_npk(c):
    x = inline("factorial_npk")
    f = {k: text(x[k]) for k in ("block", "N", "P", "K")}
    fit = stats.fit_linear(x["yield"], f, terms=("block", "N", "P", "K", "N:P", "N:K", "P:K"))
    effects = {e.label: e for e in stats.factorial_effects(fit).comparisons}
    small = stats.fit_linear(x["yield"], f, terms=("block", "N", "P", "N:P", "K"))
    np_ = stats.interaction_contrast(small, "N", "P")
    got = {
        "block_F": fit.term("block").f,
        "df_error": fit.df_error,
        "MSE": fit.dispersion,
        "effect_N": effects["N"].value,
        "effect_N_se": effects["N"].se,
        "effect_P": effects["P"].value,
        "effect_K": effects["K"].value,
        "N.SS": fit.term("N").ss,
    }
    for key, term in (
        ("N", "N"),
        ("P", "P"),
        ("K", "K"),
        ("NP", "N:P"),
        ("NK", "N:K"),
        ("PK", "P:K"),
    ):
        got[f"{key}.F"] = fit.term(term).f
        if key in ("N", "P", "K", "NP"):
            got[f"{key}.p"] = fit.term(term).p
    got |= _estimate("NP_contrast", np_)
    for k in ("N", "K"):
        got |= {f"published.{k}_F": fit.term(k).f, f"published.{k}_p": fit.term(k).p}
    return got


def _estimate(path, e):
    return {
        f"{path}.estimate": e.value,
        f"{path}.SE": e.se,
        f"{path}.df": e.df,
        f"{path}.lower": e.lower,
        f"{path}.upper": e.upper,
        f"{path}.p": e.p,
    }


@route
def factorial_toothgrowth(c):
    x = inline("factorial_toothgrowth")
    fit = stats.fit_linear(
        x["len"], {"supp": x["supp"], "dose": text(x["dose"])}, terms=("supp", "dose", "supp:dose")
    )
    simple = stats.simple_effects(fit, "supp", "dose")
    rows = [
        simple[str(d)].comparisons[0] for d in c["expected"]["simple_effect_OJ_minus_VC"]["dose"]
    ]
    p = "simple_effect_OJ_minus_VC"
    got = {
        "MSE": fit.dispersion,
        f"{p}.dose": [0.5, 1, 2],
        f"{p}.SE": rows[0].se,
        f"{p}.estimate": [r.value for r in rows],
        f"{p}.lower": [r.lower for r in rows],
        f"{p}.upper": [r.upper for r in rows],
        f"{p}.p": [r.p for r in rows],
    }
    for key, term in (("supp", "supp"), ("dose", "dose"), ("interaction", "supp:dose")):
        got |= {f"{key}.F": fit.term(term).f, f"{key}.p": fit.term(term).p}
    return got


@route
def factorial_warpbreaks(c):
    x = inline("factorial_warpbreaks")
    f = {"wool": x["wool"], "tension": x["tension"]}
    fit = stats.fit_linear(x["breaks"], f, terms=("wool", "tension", "wool:tension"))
    additive = stats.fit_linear(x["breaks"], f)
    got = _pairs(
        "tukey_tension_additive.",
        stats.tukey(stats.lsmeans(additive, "tension")),
        c["expected"]["tukey_tension_additive"]["pairs"],
        "-",
    )
    for key, term in (("wool", "wool"), ("tension", "tension"), ("interaction", "wool:tension")):
        got |= {f"{key}.F": fit.term(term).f, f"{key}.p": fit.term(term).p}
    return got


def _pairs(prefix, result, names, separator, limits=True):
    """Return our comparisons in the order and direction of the reference."""
    found = {}
    for e in result.comparisons:
        a, b = e.pair
        found[a, b] = (e.value, e.lower, e.upper, e.p_adjusted)
        found[b, a] = (-e.value, -e.upper, -e.lower, e.p_adjusted)
    rows = [found[tuple(n.split(separator))] for n in names]
    got = {f"{prefix}diff": [r[0] for r in rows], f"{prefix}p": [r[3] for r in rows]}
    if limits:
        got |= {f"{prefix}lower": [r[1] for r in rows], f"{prefix}upper": [r[2] for r in rows]}
    return got


@route
def factorial2x2_mixture(c):
    x = inline("mixture_oneway")
    f = {
        "A": text(int(t in ("Metribuzin", "Mixture")) for t in x["treat"]),
        "B": text(int(t in ("Rimsulfuron", "Mixture")) for t in x["treat"]),
    }
    fit = stats.fit_linear(x["weight"], f, terms=("A", "B", "A:B"))
    e = stats.interaction_contrast(fit, "A", "B")
    half = {v.label: v for v in stats.factorial_effects(fit).comparisons}["A:B"]
    return {
        "A_F": fit.term("A").f,
        "B_F": fit.term("B").f,
        "AB_F": fit.term("A:B").f,
        **_estimate("interaction", e),
        "interaction.t": e.statistic,
        "half_convention": half.value,
    }


@route
def factorial_2to4_cochran(c):
    x = inline("factorial_2to4_cochran")
    names = ("d", "n", "p", "k")
    f = {"block": [a + b for a, b in zip(x["rep"], x["block"], strict=True)]}
    f |= {k: text(x[k]) for k in names}
    two = [f"{a}:{b}" for i, a in enumerate(names) for b in names[i + 1 :]]
    three = ["d:n:p", "d:n:k", "d:p:k", "n:p:k"]
    fit = stats.fit_linear(x["yield"], f, terms=("block", *names, *two, *three))
    e = {v.label: v for v in stats.factorial_effects(fit).comparisons}
    return {
        **{f"effects.{k}": e[k].value for k in names},
        **{f"interactions2.{k}": e[k].value for k in two},
        "SE_effect": e["d"].se,
        "MSE": fit.dispersion,
        "df_error": fit.df_error,
        "n_F": fit.term("n").f,
        "n_p": fit.term("n").p,
        "dp_F": fit.term("d:p").f,
        "dp_p": fit.term("d:p").p,
    }


@route
def unbalanced_moore(c):
    x = inline("unbalanced_moore")
    f = {"partner": x["partner"], "fcategory": x["fcategory"]}
    terms = ("fcategory", "partner", "fcategory:partner")
    got = {}
    for kind in (1, 2, 3):
        fit = stats.fit_linear(x["conformity"], f, terms=terms, ss_type=kind)
        for t in terms:
            line = fit.term(t)
            got |= {
                f"type{kind}.{t}.SS": line.ss,
                f"type{kind}.{t}.F": line.f,
                f"type{kind}.{t}.p": line.p,
            }
    table = "partner,y\n" + "\n".join(
        f"{a},{b}" for a, b in zip(x["partner"], x["conformity"], strict=True)
    )
    spec = stats.AnalysisSpec((("y", "continuous"),), treatment="partner")
    (result,) = stats.analyse(stats.read_table(table), spec)
    for m in stats.lsmeans(fit, "partner").means:
        got |= {f"lsmeans_partner.{m.label}": m.value, f"lsmeans_partner_se.{m.label}": m.se}
    return got | {f"raw_means_partner.{o.treatment}": o.mean for o in result.observed}


def _dunnett(c, means, control):
    names = [x.split(" - ")[0] for x in c["expected"]["comparison"]]
    got = {}
    for side in ("two_sided", "greater", "less"):
        if side not in c["expected"]:
            continue
        r = stats.dunnett(means, control, side.replace("_", "-"))
        e = {v.pair[0]: v for v in r.comparisons}
        got |= {f"{side}.p": [e[n].p_adjusted for n in names], f"{side}.critical": r.critical}
        if side != "less":
            got[f"{side}.lower"] = [e[n].lower for n in names]
        if side != "greater":
            got[f"{side}.upper"] = [e[n].upper for n in names]
        got |= {
            "estimate": [e[n].value for n in names],
            "SE": [e[n].se for n in names],
            "t": [e[n].statistic for n in names],
            "df": means.df_error,
        }
    return got


@route
def dunnett_blood1955(c):
    x = inline("dunnett_blood1955")
    return _dunnett(c, stats.lsmeans(_oneway(x["y"], x["g"]), "g"), "ctrl")


@route
def dunnett_fabric1955(c):
    x = inline("dunnett_fabric1955")
    return _dunnett(c, stats.lsmeans(_oneway(x["y"], x["g"]), "g"), "ctrl")


@route
def dunnett_mixture(c):
    return _dunnett(c, mixture()[1], "Unweeded")


@route
def dunnett_rcbd_gomez(c):
    got = _dunnett(c, stats.lsmeans(gomez(), "trt"), "T9")
    x = inline("rcbd_gomez_log")
    naive = stats.lsmeans(_oneway(np.log10(np.array(x["larvae"]) + 1.0), x["trt"]), "g")
    got["naive_one_way_two_sided_p_WRONG"] = [
        e.p_adjusted for e in stats.dunnett(naive, "T9").comparisons
    ]
    return got


@route
def dunnett_rcbd_missing_nonproduct(c):
    m = stats.lsmeans(gomez(missing=c["data"]["set_missing"]), "trt")
    got = _dunnett(c, m, "T9")
    V = np.array(m.covariance)
    K = np.hstack([np.eye(8), -np.ones((8, 1))])
    C = K @ V @ K.T
    R = C / np.sqrt(np.outer(np.diag(C), np.diag(C)))
    return got | {
        "correlation_T1_T2": R[0, 1],
        "correlation_T1_T3": R[0, 2],
        "correlation_T3_T4": R[2, 3],
    }


def log_mixture():
    x = inline("mixture_oneway")
    fit = stats.fit_linear(x["weight"], {"treat": x["treat"]}, transform="ln")
    return stats.lsmeans(fit, "treat")


@route
def dunnett_log_ratio_mixture(c):
    m = log_mixture()
    got = _dunnett(c, m, "Unweeded")
    r = stats.exponentiated(stats.dunnett(m, "Unweeded")).comparisons
    return got | {
        "ratio": [e.value for e in r],
        "ratio_lower": [e.lower for e in r],
        "ratio_upper": [e.upper for e in r],
    }


@route
def dunnett_critical_values(c):
    def critical(k, df, alpha, side):
        R = np.full((k, k), 0.5)
        np.fill_diagonal(R, 1.0)
        return mvt.critical_value(R, df, alpha, side)

    got = {
        "table": [
            {
                "k": r["k"],
                "df": r["df"],
                "one05": critical(r["k"], r["df"], 0.05, "greater"),
                "two05": critical(r["k"], r["df"], 0.05, "two-sided"),
                "one01": critical(r["k"], r["df"], 0.01, "greater"),
                "two01": critical(r["k"], r["df"], 0.01, "two-sided"),
            }
            for r in c["expected"]["table"]
        ]
    }
    for name, alpha in (("printed_1955_one_sided_05", 0.05), ("printed_1955_one_sided_01", 0.01)):
        for key in c["expected"][name]:
            k, df = (int(part.split("=")[1]) for part in key.split(","))
            got[f"{name}.{key}"] = critical(k, df, alpha, "greater")
    return got


@route
def tukey_plantgrowth(c):
    x = inline("anova_plantgrowth")
    r = stats.tukey(stats.lsmeans(_oneway(x["weight"], x["group"]), "g"))
    return _pairs("", r, c["expected"]["pairs"], "-")


@route
def tukey_kramer_chickwts(c):
    x = inline("tukey_kramer_chickwts")
    r = stats.tukey(stats.lsmeans(_oneway(x["weight"], x["feed"]), "g"))
    return _pairs("", r, c["expected"]["pairs"], "-") | {"letters": shared(stats.letters(r))}


@route
def tukey_insectsprays_sqrt(c):
    x = inline("tukey_insectsprays_sqrt")
    r = stats.tukey(stats.lsmeans(_oneway(np.sqrt(x["count"]), x["spray"]), "g"))
    got = _pairs("", r, c["expected"]["pairs"], "-", limits=False)
    return got | {"letters": shared(stats.letters(r))}


@route
def letters_rcbd_gomez(c):
    m = stats.lsmeans(gomez(), "trt")
    t, l = stats.tukey(m), stats.lsd(m)
    names = c["expected"]["pairs"]
    return {
        "p_tukey": _pairs("", t, names, " - ")["p"],
        "p_lsd": _pairs("", l, names, " - ")["p"],
        "letters_tukey": shared(stats.letters(t)),
        "letters_lsd": shared(stats.letters(l)),
    }


@route
def studentized_range_table(c):
    q = ranges.studentized_range_quantile
    return {
        "table": [
            {
                "k": r["k"],
                "df": r["df"],
                "q05": q(0.95, r["k"], r["df"]),
                "q01": q(0.99, r["k"], r["df"]),
            }
            for r in c["expected"]["table"]
        ]
    }


@route
def letters_matrices(c):
    got = {}
    for name, pattern in c["data"]["inline"].items():
        levels = [chr(65 + i) for i in range(pattern["n"])]
        same = {frozenset(p) for p in pattern["nonsignificant_pairs"]}
        pairs = [(a, b) for i, a in enumerate(levels) for b in levels[i + 1 :]]
        r = stats.letters_of_pairs(levels, [p for p in pairs if frozenset(p) not in same])
        got[f"{name}.valid"] = all(
            bool(set(r[a]) & set(r[b])) == (frozenset((a, b)) in same) for a, b in pairs
        )
        n = len(set("".join(r.values())))
        allowed = c["expected"][name].get("n_letters_allowed")
        if allowed is None:
            got[f"{name}.n_letters"] = n
        else:
            got[f"{name}.n_letters_allowed"] = allowed if n in allowed else n
    return got


@route
def letters_noninterval_unbalanced(c):
    x = inline("letters_noninterval_unbalanced")
    r = stats.tukey(stats.lsmeans(_oneway(x["y"], x["trt"]), "g"))
    got = _pairs("", r, c["expected"]["pairs"], "-", limits=False)
    return got | {"letters": shared(stats.letters(r))}


def raw_sets():
    p, s = inline("anova_plantgrowth"), inline("tukey_insectsprays_sqrt")
    return {"PlantGrowth": (p["weight"], p["group"]), "InsectSprays": (s["count"], s["spray"])}


@route
def levene_bartlett(c):
    got = {}
    for name, (y, g) in raw_sets().items():
        for centre in ("median", "mean"):
            r = stats.brown_forsythe(y, g, centre)
            got |= {f"{name}_{centre}.F": r.statistic, f"{name}_{centre}.p": r.p}
        b = stats.bartlett(y, g)
        got |= {f"bartlett_{name}.K2": b.statistic, f"bartlett_{name}.p": b.p}
    return got


@route
def shapiro_residuals(c):
    w = inline("factorial_warpbreaks")
    warp = stats.fit_linear(
        w["breaks"],
        {"wool": w["wool"], "tension": w["tension"]},
        terms=("wool", "tension", "wool:tension"),
    )
    sets = raw_sets()
    fits = {
        "PlantGrowth": _oneway(*sets["PlantGrowth"]),
        "warpbreaks": warp,
        "gomez_raw": gomez(log=False),
        "gomez_log": gomez(),
        "mixture": mixture()[0],
        "InsectSprays": _oneway(*sets["InsectSprays"]),
    }
    got = {}
    for name, fit in fits.items():
        r = stats.shapiro_wilk(fit.residuals)
        got |= {f"{name}.W": r.statistic, f"{name}.p": r.p}
    return got


@route
def welch_anova(c):
    got = {}
    for name, (y, g) in raw_sets().items():
        r = stats.welch_anova(y, g)
        got |= {
            f"{name}.F": r.statistic,
            f"{name}.df1": r.df[0],
            f"{name}.df2": r.df[1],
            f"{name}.p": r.p,
        }
    return got


@route
def nonadditivity_gomez(c):
    got = {}
    for name, log in (("raw", False), ("log10p1", True)):
        r = stats.additivity(gomez(log))
        got |= {f"{name}.F": r.statistic, f"{name}.p": r.p}
    return got


@route
def boxcox_gomez(c):
    x = inline("rcbd_gomez_log")
    e = stats.box_cox(x["larvae"], {"rep": x["rep"], "trt": x["trt"]}, shift=1.0)
    return {"lambda_hat": e.value, "ci_lower": e.lower, "ci_upper": e.upper}


@route
def kruskal(c):
    got = {}
    for name, (y, g) in raw_sets().items():
        r = stats.kruskal_wallis(y, g).test
        got |= {f"{name}.H": r.statistic, f"{name}.df": r.df[0], f"{name}.p": r.p}
    return got


@route
def dunn(c):
    got = {}
    for name, (y, g) in raw_sets().items():
        found = {e.pair: e for e in stats.kruskal_wallis(y, g).comparisons}
        rows = [found[b, a] for a, b in c["expected"][f"{name}_holm"]["pairs"]]
        got |= {
            f"{name}_holm.z": [e.statistic for e in rows],
            f"{name}_holm.p": [e.p for e in rows],
            f"{name}_holm.p_adj": [e.p_adjusted for e in rows],
        }
    return got


@route
def steel_blood(c):
    x = inline("dunnett_blood1955")
    r = stats.steel(x["y"], x["g"], "ctrl").comparisons
    return {
        "W": [e.value for e in r],
        "max_abs_z": max(abs(e.statistic) for e in r),
        "overall_p_asymptotic": min(e.p_adjusted for e in r),
    }


@route
def friedman_rounding(c):
    rows = inline("friedman_rounding")["rows_are_blocks"]
    y = [v for row in rows for v in row]
    r = stats.friedman(
        y, ["1", "2", "3"] * len(rows), [str(i) for i in range(len(rows)) for _ in "123"]
    )
    return {"chisq": r.test.statistic, "p": r.test.p}


@route
def mannwhitney_blood(c):
    x = inline("dunnett_blood1955")
    part = {g: [v for v, h in zip(x["y"], x["g"], strict=True) if h == g] for g in set(x["g"])}
    b = next(g for g in part if len(part[g]) == 5)
    r = stats.mann_whitney(part[b], part["ctrl"])
    return {"W": r.statistic, "p": r.p}


@route
def glm_insectsprays(c):
    x = inline("glm_insectsprays")
    fit = stats.fit_count(x["count"], {"spray": x["spray"]})
    m = stats.lsmeans(fit, "spray")
    names = ["A", "B", "D", "E", "F"]
    r = stats.exponentiated(stats.contrasts(m, {n: {n: 1, "C": -1} for n in names})).comparisons
    log = stats.contrasts(m, {n: {n: 1, "C": -1} for n in names}).comparisons
    t = fit.term("spray")
    got = {
        "null_deviance": fit.null_deviance,
        "deviance": fit.deviance,
        "df_resid": fit.df_error,
        "pearson_dispersion": fit.dispersion,
        "LR_chisq": t.ss,
        "quasi_F": t.f,
        "quasi_p": t.p,
    }
    for n, e, g in zip(names, r, log, strict=True):
        got |= {
            f"ratio.{n}": e.value,
            f"ratio_lower.{n}": e.lower,
            f"ratio_upper.{n}": e.upper,
            f"log_se_quasi.{n}": g.se,
            f"log_se_poisson.{n}": g.se / math.sqrt(fit.dispersion),
        }
    return got


@route
def glm_gomez_rcbd(c):
    import statsmodels.api as sm

    x = inline("rcbd_gomez_log")
    fit = stats.fit_count(x["larvae"], {"rep": x["rep"], "trt": x["trt"]})
    m = stats.lsmeans(fit, "trt")
    names = c["expected"]["order"]
    r = stats.exponentiated(stats.contrasts(m, {n: {n: 1, "T9": -1} for n in names})).comparisons
    d = {e.pair[0]: e for e in stats.dunnett(m, "T9").comparisons}
    t = fit.term("trt")
    # negative binomial: not part of the application, checked as a library call only
    X = np.column_stack(
        [np.ones(36)]
        + [[float(v == k) for v in x["rep"]] for k in ("R2", "R3", "R4")]
        + [[float(v == n) for v in x["trt"]] for n in names]
    )
    nb = sm.NegativeBinomial(np.array(x["larvae"]), X).fit(disp=False, maxiter=500, method="bfgs")
    alpha = float(nb.params[-1])
    fixed = sm.GLM(np.array(x["larvae"]), X, family=sm.families.NegativeBinomial(alpha=alpha)).fit()
    return {
        "deviance": fit.deviance,
        "dispersion": fit.dispersion,
        "quasi_F_trt": t.f,
        "quasi_p_trt": t.p,
        "ratio_to_T9": [e.value for e in r],
        "ratio_lower": [e.lower for e in r],
        "ratio_upper": [e.upper for e in r],
        "dunnett_p_t24": [d[n].p_adjusted for n in names],
        "negbin_theta": 1 / alpha,
        "negbin_2loglik": 2 * float(nb.llf),
        "negbin_coef": list(nb.params[4:12]),
        "negbin_se_r_theta_fixed": list(fixed.bse[4:12]),
    }


@route
def binomial_orobanche(c):
    x = inline("binomial_orobanche")
    f = {"seed": x["seed"], "root": x["root"]}
    fit = stats.fit_proportion(x["y"], x["n"], f, terms=("seed", "root", "seed:root"))
    cells = stats.lsmeans(fit, "seed:root")
    w = stats.contrasts(
        cells,
        {
            "Intercept": {"O73:BEAN": 1},
            "O75": {"O75:BEAN": 1, "O73:BEAN": -1},
            "cucumber": {"O73:CUCUMBER": 1, "O73:BEAN": -1},
            "O75:cucumber": {"O75:CUCUMBER": 1, "O73:CUCUMBER": -1, "O75:BEAN": -1, "O73:BEAN": 1},
        },
    ).comparisons
    t = fit.term("seed:root")
    return {
        "deviance": fit.deviance,
        "null_deviance": fit.null_deviance,
        "coef": [e.value for e in w],
        "se": [e.se / math.sqrt(fit.dispersion) for e in w],
        "dispersion": fit.dispersion,
        "interaction_LR": t.ss,
        "interaction_p_chisq": dist.chi2_upper(t.ss, 1),
        "interaction_quasi_F": t.f,
        "interaction_quasi_p": t.p,
    }


def kiwishade(drop=()):
    x = inline("subsample_kiwishade")
    plots = [f"{b}:{s}" for b, s in zip(x["block"], x["shade"], strict=True)]
    y = [None if i + 1 in drop else v for i, v in enumerate(x["yield"])]
    return y, plots, {"block": x["block"], "shade": x["shade"]}


@route
def subsample_kiwishade(c):
    y, plots, f = kiwishade()
    r = stats.nested_anova(y, plots, f)
    t = {v.term: v for v in r.terms}
    naive = stats.fit_linear(y, f)
    p = stats.plot_values(y, plots, f)
    fit = stats.fit_linear(p.mean, p.factors)
    d = {e.pair[0]: e for e in stats.dunnett(stats.lsmeans(fit, "shade"), "none").comparisons}
    names = ["Aug2Dec", "Dec2Feb", "Feb2May"]
    mixed = stats.fit_mixed(y, {**f, "plot": plots}, ["plot", "block"], terms=("shade",))
    means = {m.label: m.value for m in mixed.means("shade").means}
    got = {
        "MS_block": t["block"].ms,
        "MS_shade": t["shade"].ms,
        "MS_plot_error": t["plots"].ms,
        "MS_vines": t["plants"].ms,
        "F_correct": t["shade"].f,
        "p_correct": t["shade"].p,
        "df_correct": [t["shade"].df, t["shade"].df_error],
        "F_naive": naive.term("shade").f,
        "p_naive": naive.term("shade").p,
        "df_naive": naive.df_error,
        "F_plot_means": fit.term("shade").f,
        "p_plot_means": fit.term("shade").p,
        "MSE_plot_means": fit.dispersion,
        "var_plot": r.var_plot.value,
        "var_vine": r.var_plant.value,
        "dunnett_diff": [d[n].value for n in names],
        "dunnett_se": [d[n].se for n in names],
        "dunnett_p": [d[n].p_adjusted for n in names],
        "lmer_random_block.REMLcrit": mixed.reml_deviance,
        "lmer_random_block.fixef.(Intercept)": means["none"],
        "published.F": t["shade"].f,
        "published.p": t["shade"].p,
        "published.MS_plot": t["plots"].ms,
        "published.MS_vine": t["plants"].ms,
    }
    for n in names:
        got[f"lmer_random_block.fixef.shade{n}"] = mixed.compare("shade", n, "none").value
    return got


@route
def subsample_grover(c):
    x = inline("subsample_grover")
    y, plots, b_, t_ = [], [], [], []
    for i, block in enumerate(x["blocks"]):
        for j, trt in enumerate(x["trts"]):
            for v in x["tiller"][i][j]:
                y.append(v)
                plots.append(f"{block}:{trt}")
                b_.append(block)
                t_.append(trt)
    r = stats.nested_anova(y, plots, {"block": b_, "trt": t_})
    t = {v.term: v for v in r.terms}
    wrong = t["trt"].ms / t["plants"].ms
    return {
        "block_MS": t["block"].ms,
        "trt_MS": t["trt"].ms,
        "exp_error_MS": t["plots"].ms,
        "sampling_MS": t["plants"].ms,
        "F_wrong": wrong,
        "p_wrong": dist.f_upper(wrong, 8, 108),
        "F_correct": t["trt"].f,
        "p_correct": t["trt"].p,
        "F_exp_vs_sampling": t["plots"].f,
        "p_exp_vs_sampling": t["plots"].p,
        "var_plot": r.var_plot.value,
        "se_trt_mean": r.se_treatment_mean,
        "df.block": t["block"].df,
        "df.trt": t["trt"].df,
        "df.exp": t["plots"].df,
        "df.sampling": t["plants"].df,
        "published.block_MS": t["block"].ms,
        "published.trt_MS": t["trt"].ms,
        "published.exp_error_MS": t["plots"].ms,
        "published.sampling_MS": t["plants"].ms,
    }


@route
def subsample_unbalanced(c):
    y, plots, f = kiwishade(c["data"]["drop_rows_1based"])
    m = stats.fit_mixed(y, {**f, "plot": plots}, ["plot"])
    e = [m.compare("shade", n, "none") for n in c["expected"]["order"]]
    p = stats.plot_values(y, plots, f)
    means = stats.fit_linear(p.mean, p.factors).term("shade")
    t = m.term("shade")
    return {
        "var_plot": m.variances[0],
        "var_resid": m.variances[1],
        "REML_deviance": m.reml_deviance,
        "shade_diff": [v.value for v in e],
        "shade_se": [v.se for v in e],
        "satterthwaite_df": [v.df for v in e],
        "F_satterthwaite": t.f,
        "dendf_satterthwaite": t.df_error,
        "p_satterthwaite": t.p,
        "F_unweighted_plot_means": means.f,
        "p_unweighted_plot_means": means.p,
    }


@route
def varcomp_dyestuff(c):
    x = inline("varcomp_dyestuff")
    m = stats.fit_mixed(x["Yield"], {"batch": x["Batch"]}, ["batch"])
    s = m.summary()
    return {
        "var_batch": s.components[0].value,
        "var_resid": s.components[1].value,
        "intercept": s.coefficients[0].value,
        "se": s.coefficients[0].se,
        "icc": s.intraclass,
    }


@route
def splitplot_oats(c):
    x = inline("splitplot_oats")
    nitro = text(x["nitro"])
    r = stats.split_plot(x["yield"], x["Block"], x["Variety"], nitro)
    t = {v.term: v for v in r.terms}
    comp = [v.value for v in r.components]
    sed = r.sed
    whole = [f"{a}:{b}" for a, b in zip(x["Block"], x["Variety"], strict=True)]
    m = stats.fit_mixed(
        x["yield"],
        {"block": x["Block"], "whole": whole},
        ["block", "whole"],
        covariates={"nitro": x["nitro"]},
        terms=("nitro",),
    )
    slope = m.contrast("slope", np.array([0.0, 1.0]))
    at_zero = m.contrast("intercept", m.design.row({}, {"nitro": 0.0}))
    keys = ("variety_means", "N_means", "N_same_variety", "variety_same_N")
    got = {
        f"SED.{k}": e.se if e.se is not None else e.value for k, e in zip(keys, sed, strict=True)
    }
    for k, e in zip((*keys[:3], "variety_same_N_satterthwaite"), sed, strict=True):
        got[f"df_SED.{k}"] = e.df
    for key, term in (("Variety", "whole"), ("nitro", "sub"), ("interaction", "whole:sub")):
        got |= {f"{key}.F": t[term].f, f"{key}.p": t[term].p}
    sd = np.sqrt(m.variances)
    return got | {
        "varcomp.Block": comp[0],
        "varcomp.WholePlot": comp[1],
        "varcomp.Residual": comp[2],
        "linear_nitro.slope": slope.value,
        "linear_nitro.se_slope": slope.se,
        "linear_nitro.intercept": at_zero.value,
        "linear_nitro.se_intercept": at_zero.se,
        "linear_nitro.sd_Block": sd[0],
        "linear_nitro.sd_Variety": sd[1],
        "linear_nitro.sd_resid": sd[2],
        "linear_nitro.logLik_REML": -m.reml_deviance / 2,
    }


@route
def repeated_orthodont(c):
    x = inline("repeated_orthodont")
    subjects = list(dict.fromkeys(x["Subject"]))
    sex = dict(zip(x["Subject"], x["Sex"], strict=True))
    wide = [
        [d for d, s in zip(x["distance"], x["Subject"], strict=True) if s == k] for k in subjects
    ]
    r = stats.split_plot_in_time(wide, {"Sex": [sex[s] for s in subjects]}, "Sex")
    t = {v.term: v for v in r.terms}
    m = stats.fit_mixed(
        x["distance"],
        {"subject": x["Subject"], "Sex": x["Sex"]},
        ["subject"],
        covariates={"age": x["age"]},
        terms=("Sex", "age", "Sex:age"),
    )

    def slope(level):
        return m.design.row({"Sex": level}, {"age": 1.0}) - m.design.row(
            {"Sex": level}, {"age": 0.0}
        )

    male = m.contrast("age", slope("Male"))
    more = m.contrast("age:Female", slope("Female") - slope("Male"))
    got = {
        "split_plot_in_time.Sex_F": t["Sex"].f,
        "split_plot_in_time.Sex_p": t["Sex"].p,
        "split_plot_in_time.age_F_sequential": t["time"].f,
        "split_plot_in_time.age_F_typeIII": t["time (equal weights)"].f,
        "split_plot_in_time.interaction_F": t["time:Sex"].f,
        "split_plot_in_time.interaction_p": t["time:Sex"].p,
        "epsilon_GG": r.epsilon_gg,
        "epsilon_HF": r.epsilon_hf,
        "p_GG_interaction": {v.term: v for v in r.corrected}["time:Sex"].p,
        "mauchly_W": r.mauchly.statistic,
        "mauchly_p": r.mauchly.p,
        "lme.age": male.value,
        "lme.se_age": male.se,
        "lme.age_x_Female": more.value,
        "lme.se_interaction": more.se,
        "lme.var_subject": m.variances[0],
        "lme.var_resid": m.variances[1],
        "lme.logLik_REML": -m.reml_deviance / 2,
    }
    phi, sigma, loglik = _ar1(wide, [sex[s] for s in subjects])
    return got | {"gls_ar1.phi": phi, "gls_ar1.sigma": sigma, "gls_ar1.logLik_REML": loglik}


def _ar1(wide, sex):
    """Profile REML of AR(1) errors: not part of the application, checked here only."""
    from scipy.optimize import minimize_scalar

    age = np.array([8.0, 10.0, 12.0, 14.0])
    later = [(age == a).astype(float) for a in age[1:]]
    X = np.vstack(
        [
            np.column_stack([np.ones(4), np.full(4, f), *later, *(f * v for v in later)])
            for f in (float(s == "Female") for s in sex)
        ]
    )
    y = np.concatenate([np.asarray(w, float) for w in wide])
    n, p = X.shape
    lag = np.abs(np.subtract.outer(np.arange(4), np.arange(4)))

    def parts(phi):
        V = phi**lag
        inverse = np.kron(np.eye(len(sex)), np.linalg.inv(V))
        A = X.T @ inverse @ X
        b = np.linalg.solve(A, X.T @ inverse @ y)
        e = y - X @ b
        s2 = float(e @ inverse @ e) / (n - p)
        m2 = (n - p) * (math.log(2 * math.pi * s2) + 1) + len(sex) * np.linalg.slogdet(V)[1]
        return m2 + np.linalg.slogdet(A)[1], s2

    phi = float(
        minimize_scalar(
            lambda v: parts(v)[0], bounds=(0, 0.99), method="bounded", options={"xatol": 1e-9}
        ).x
    )
    m2, s2 = parts(phi)
    return phi, math.sqrt(s2), -m2 / 2


def _ed(prefix, r):
    return {
        f"{prefix}ED": [
            {
                "level": int(e.label[2:]),
                "est": e.value,
                "se": e.se,
                "lower": e.lower,
                "upper": e.upper,
            }
            for e in r.effective_doses
        ]
    }


@route
def dose_ryegrass(c):
    x = inline("dose_ryegrass")
    got = {}
    for curve, levels in (("LL4", (10, 50, 90)), ("LL3", (10, 50))):
        r = stats.dose_response(x["conc"], x["rootl"], curve, levels)
        h = stats.dose_response(x["conc"], x["rootl"], curve, levels, errors="hessian")
        for e in r.parameters:
            got[f"{curve}.{e.label}"] = e.value
        got |= {
            f"{curve}.se": [e.se for e in r.parameters],
            f"{curve}.RSE": r.rse,
            f"{curve}.df": r.df_error,
            **_ed(f"{curve}.", r),
            f"{curve}.observed_information.se": [e.se for e in h.parameters],
            **_ed(f"{curve}.observed_information.", h),
        }
        if curve == "LL4":
            got |= {
                "LL4.RSS": r.rss,
                "LL4.lack_of_fit_F": r.lack_of_fit.statistic,
                "LL4.lack_of_fit_p": r.lack_of_fit.p,
            }
            got |= {f"published.{e.label}": e.value for e in r.parameters}
    return got


@route
def dose_lettuce_hormesis(c):
    x = inline("dose_lettuce_hormesis")
    r = stats.dose_response(x["conc"], x["weight"], "hormesis")
    p = {e.label: e.value for e in r.parameters}
    top = r.effective_doses[0].value
    return {
        **p,
        "se": [e.se for e in r.parameters],
        "RSE": r.rse,
        "RSS": r.rss,
        "df": r.df_error,
        "dose_of_maximum": top,
        "maximum": (p["d"] + p["f"] * top) / (1 + (top / p["e"]) ** p["b"]),
    }


@route
def nist_rat42_logistic(c):
    x = inline("nist_rat42_logistic")
    f = fit_curve(lambda p, v: p[0] / (1 + np.exp(p[1] - p[2] * v)), x["x"], x["y"], x["start"])
    se = np.sqrt(np.diag(f.covariance))
    return {
        **{f"par.b{i + 1}": f.parameters[i] for i in range(3)},
        **{f"se.b{i + 1}": se[i] for i in range(3)},
        "sigma": math.sqrt(f.rss / f.df),
        "RSS": f.rss,
        "df": f.df,
    }


def _growth(time, size):
    r = stats.growth_curve(time, size)
    names = ("Asym", "xmid", "scal")
    return {
        **{f"par.{n}": e.value for n, e in zip(names, r.parameters, strict=True)},
        **{f"se.{n}": e.se for n, e in zip(names, r.parameters, strict=True)},
        "sigma": r.rse,
        "RSS": r.rss,
        "df": r.df_error,
    }


@route
def growth_orange_tree3(c):
    x = inline("growth_orange_tree3")
    return _growth(x["age"], x["circumference"])


@route
def growth_chick1(c):
    x = inline("growth_chick1")
    got = _growth(x["Time"], x["weight"])
    return got | {f"published.{n}": got[f"par.{n}"] for n in ("xmid", "scal")}


@route
def colby_arithmetic(c):
    e = stats.colby_expected_pct
    keys = ["E_50_60", "E_30_40", "E_20_45", "E_0_70", "E_100_35", "E_neg10_50"]
    got = {k: e(p) for k, p in zip(keys, c["data"]["inline"]["pairs"], strict=True)}
    return got | {
        "E_three_30_40_50": e(c["data"]["inline"]["triple"]),
        "survivors_form_50_60": e([50, 60]),
    }


@route
def synergy_mixture_delta(c):
    _, m = mixture()
    names = ("Unweeded", "Metribuzin", "Rimsulfuron", "Mixture")
    pct = {e.pair[0]: 100 - e.value for e in stats.percent_of_control(m, "Unweeded").comparisons}
    r = stats.interaction(m, *names, scale="multiplicative", wanted="decrease")
    d = stats.percent_departure(m, *names)
    return {
        **{f"control_percent.{n.lower()}": pct[n] for n in names[1:]},
        "expected_colby": 100 - r.expected.value,
        "observed_minus_expected": d.value,
        "delta_SE": d.se,
        "ci": [d.lower, d.upper],
        "log_ratio": r.departure.value,
        "log_ratio_SE": r.departure.se,
        "log_ratio_ci": [r.departure.lower, r.departure.upper],
        "p_log_ratio": r.departure.p,
    }


@route
def synergy_log_interaction(c):
    r = stats.interaction(
        log_mixture(),
        "Unweeded",
        "Metribuzin",
        "Rimsulfuron",
        "Mixture",
        scale="multiplicative",
        wanted="decrease",
    ).departure
    return {
        "estimate": r.value,
        "SE": r.se,
        "df": r.df,
        "lower": r.lower,
        "upper": r.upper,
        "p": r.p,
        "ratio": math.exp(r.value),
        "ratio_lower": math.exp(r.lower),
        "ratio_upper": math.exp(r.upper),
    }


@route
def backtransform_mixture(c):
    b = {e.label: e for e in log_mixture().back}
    raw = {e.label: e.value for e in mixture()[1].means}
    order = c["expected"]["order"]
    return {
        "median": [b[k].value for k in order],
        "lower": [b[k].lower for k in order],
        "upper": [b[k].upper for k in order],
        "arith_mean": [raw[k] for k in order],
    }


@route
def percent_change(c):
    x = inline("anova_plantgrowth")
    sets = {
        "mixture": (mixture()[1], "Unweeded"),
        "PlantGrowth": (stats.lsmeans(_oneway(x["weight"], x["group"]), "g"), "ctrl"),
    }
    got = {}
    for name, (m, control) in sets.items():
        d = stats.percent_of_control(m, control, "delta").comparisons
        f = stats.percent_of_control(m, control, "fieller").comparisons
        got[name] = [
            {
                "trt": a.pair[0],
                "ratio": a.value / 100,
                "percent_change": a.value - 100,
                "fieller": [b.lower - 100, b.upper - 100],
                "delta_log": [a.lower - 100, a.upper - 100],
                "se_log": a.se / a.value,
            }
            for a, b in zip(d, f, strict=True)
        ]
    return got


@route
def ratio_paired_published(c):
    got = {}
    for name, x in c["data"]["inline"].items():
        e = stats.ratio_of_paired_means(x["y1"], x["y2"])
        got[name] = [e.value, e.lower, e.upper]
    return got


@route
def randomisation_test_darwin(c):
    """Enumerated here: an exact test of pairs is not part of the application."""
    d = np.array(c["data"]["inline"]["differences"], dtype=float)
    n = len(d)
    signs = 1 - 2 * ((np.arange(2**n)[:, None] >> np.arange(n)) & 1)
    sums = signs @ d
    total = float(d.sum())
    fit = stats.fit_linear(
        [*(d / 2), *(-d / 2)], {"pair": text(range(n)) * 2, "side": ["c"] * n + ["s"] * n}
    )
    e = stats.lsd(stats.lsmeans(fit, "side")).comparisons[0]
    return {
        "sum": total,
        "n_ge": int((sums >= total).sum()),
        "n_total": 2**n,
        "p_one": float((sums >= total).mean()),
        "p_two": float((np.abs(sums) >= abs(total)).mean()),
        "t": e.statistic,
        "t_p": e.p,
    }


@route
def survival_aml(c):
    from statsmodels.duration.hazard_regression import PHReg

    x = inline("survival_aml")
    got = {}
    for g in ("Maintained", "Nonmaintained"):
        rows = [i for i, v in enumerate(x["x"]) if v == g]
        args = [x["time"][i] for i in rows], [bool(x["status"][i]) for i in rows]
        a, b = stats.kaplan_meier(*args), stats.kaplan_meier(*args, transform="log-log")
        got |= {
            f"km.{g}.time": list(a.time),
            f"km.{g}.surv": list(a.survival),
            f"km.{g}.se": list(a.se),
            f"km.{g}.lower_log": list(a.lower),
            f"km.{g}.lower_loglog": list(b.lower),
            f"km.{g}.median": a.median.value,
        }
    r = stats.log_rank(x["time"], x["status"], x["x"])
    got |= {
        "logrank.chisq": r.statistic,
        "logrank.p": r.p,
        "published.logrank_chisq": r.statistic,
        "published.logrank_p": r.p,
    }
    # Cox regression: not part of the application, a library call
    z = np.array([[float(v == "Nonmaintained")] for v in x["x"]])
    for ties in ("efron", "breslow"):
        fit = PHReg(np.array(x["time"], float), z, status=np.array(x["status"]), ties=ties).fit()
        got |= {f"cox_{ties}.coef": float(fit.params[0]), f"cox_{ties}.se": float(fit.bse[0])}
    return got | {
        "published.cox_efron_coef": got["cox_efron.coef"],
        "published.cox_efron_se": got["cox_efron.se"],
    }


@route
def pooled_bcg(c):
    x = c["data"]["inline"]
    rows = zip(
        x["treated_cases"], x["treated_rest"], x["control_cases"], x["control_rest"], strict=True
    )
    effects = [
        (
            math.log(a / (a + b) / (c / (c + d))),
            math.sqrt(1 / a - 1 / (a + b) + 1 / c - 1 / (c + d)),
        )
        for a, b, c, d in rows
    ]
    got = {}
    for name, places in x["subsets"].items():
        r = stats.pool([effects[i][0] for i in places], [effects[i][1] for i in places])
        e = r.estimate
        found = {
            "tau2": r.tau**2, "I2": r.i2_pct, "Q": r.q, "Qp": r.q_p, "estimate": e.value,
            "SE": e.se, "p": e.p, "lower": e.lower, "upper": e.upper,
        }  # fmt: skip
        if r.prediction.value is not None:
            found |= {"pi_lower": r.prediction.lower, "pi_upper": r.prediction.upper}
        got |= {f"{name}.{key}": value for key, value in found.items()}
    return got


@route
def ordinal_wine(c):
    x = inline("ordinal_wine")
    f = {"temp": x["temp"], "contact": x["contact"]}
    r = stats.fit_ordinal(x["rating"], f)
    crossed = stats.fit_ordinal(x["rating"], f, terms=("temp", "contact", "temp:contact"))
    a, b = r.coefficients
    return {
        "tempwarm": a.value,
        "contactyes": b.value,
        "se_temp": a.se,
        "se_contact": b.se,
        "thresholds": [e.value for e in r.thresholds],
        "logLik": r.log_likelihood,
        "LR_temp": r.terms[0].statistic,
        "LR_interaction": crossed.terms[2].statistic,
    }


# --- comparing ---------------------------------------------------------------------------------


def expected_at(case, path):
    """Return the value at a dotted path; keys themselves may hold dots."""
    node, rest = case["expected"], path
    while rest:
        if isinstance(node, dict) and rest in node:
            return node[rest]
        key = max((k for k in node if rest.startswith(f"{k}.")), key=len)
        node, rest = node[key], rest[len(key) + 1 :]
    return node


def leaf_paths(node, prefix=""):
    """Return the dotted paths of all results in `expected`."""
    out = []
    for key, value in node.items():
        path = f"{prefix}{key}"
        if key in WORDS:
            continue
        out += leaf_paths(value, f"{path}.") if isinstance(value, dict) else [path]
    return out


def compare(case, path, got):
    """Return (numbers compared, worst relative error, failures, worst share of the tolerance)."""
    want = expected_at(case, path)
    tolerance = case["tolerance"]
    printed = path.startswith(("published", "printed"))
    failures = []
    state = {"n": 0, "worst": 0.0, "share": 0.0}

    def number(g, w, where):
        state["n"] += 1
        if isinstance(w, bool) or isinstance(g, bool):
            if g is not w:
                failures.append(f"{where}: got {g}, expected {w}")
            return
        if g is None or w is None:
            if not (g is None and w is None):
                failures.append(f"{where}: got {g}, expected {w}")
            return
        error = abs(float(g) - w)
        if printed:
            # Dunnett's printed table is quoted with its own tolerance; else half the last digit
            allowed = case["expected"].get("printed_tolerance")
            if not isinstance(allowed, float):
                exponent = Decimal(repr(w)).as_tuple().exponent
                allowed = 0.5 * 10.0**exponent * (1 + 1e-6)
        else:
            allowed = tolerance["abs"] + tolerance["rel"] * abs(w)
            state["worst"] = max(state["worst"], error / max(abs(w), tolerance["abs"], 1e-300))
            state["share"] = max(state["share"], error / allowed if allowed else 0.0)
        if not error <= allowed:
            failures.append(f"{where}: got {g!r}, expected {w!r}, allowed {allowed:.3g}")

    def walk(g, w, where):
        if isinstance(g, Shared):
            for a in w:
                for b in w:
                    same = bool(set(w[a]) & set(w[b]))
                    number(bool(set(g[a]) & set(g[b])), same, f"{where} {a}/{b}")
        elif isinstance(w, dict):
            for key in w:
                walk(g[key], w[key], f"{where}.{key}")
        elif isinstance(w, list):
            assert len(g) == len(w), f"{where}: {len(g)} values, expected {len(w)}"
            for i, (a, b) in enumerate(zip(g, w, strict=True)):
                walk(a, b, f"{where}[{i}]")
        elif isinstance(w, str):
            if g != w:
                failures.append(f"{where}: got {g!r}, expected {w!r}")
        else:
            number(g, w, where)

    walk(got, want, path)
    return state["n"], state["worst"], failures, state["share"]


def covered(path, got):
    """Whether a leaf path of `expected` was reached by a route (itself or a parent)."""
    return any(path == g or path.startswith(f"{g}.") for g in got)


def source_of(case):
    return f"{case['source']} ({case['obtained']})"


def table():
    """Return rows (case, source, numbers, worst relative error, share of tolerance, left out)."""
    rows = []
    for name, function in ROUTES.items():
        case = CASES[name]
        parts = [compare(case, path, value) for path, value in function(case).items()]
        failures = [f for p in parts for f in p[2]]
        rows.append(
            (
                name,
                case["source"],
                sum(p[0] for p in parts),
                max(p[1] for p in parts),
                max(p[3] for p in parts),
                len(failures),
                list(NOT_REPRODUCED.get(name, {})),
            )
        )
    return rows


if __name__ == "__main__":
    print("| case | source | numbers | worst relative error | of its tolerance |")
    print("| --- | --- | --- | --- | --- |")
    for name_, source, n_, worst_, share_, failed, left in table():
        more = f"; not reproduced: {', '.join(left)}" if left else ""
        bad = f"; FAILED {failed}" if failed else ""
        print(f"| {name_} | {source} | {n_} | {worst_:.1e} | {share_:.1%}{more}{bad} |")
