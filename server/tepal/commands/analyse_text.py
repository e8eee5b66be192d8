"""The text that `tepal analyse` prints: results to lines, nothing computed."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Sequence

    from tepal.domain.errors import Finding
    from tepal.stats import AnalysisSpec
    from tepal.stats.results import (
        AnalysisResult,
        ComparisonResult,
        Estimate,
        MeansResult,
        ModelResult,
        RankResult,
        RepeatedResult,
        TrustResult,
        VarianceResult,
    )


def text_of(result: AnalysisResult, spec: AnalysisSpec) -> str:
    """Return one analysis as text for a terminal."""
    title = f"{result.response} ({result.type})"
    if result.assessment is not None:
        title += f", assessment {result.assessment}"
    lines = [title, "=" * len(title), "", "Observed, from plot values"]
    lines += _table(
        ["treatment", "plots", "missing", "plants", "mean", "SD", "SE", "min", "max"],
        [
            [
                o.treatment,
                o.n_plots,
                o.n_missing,
                o.n_plants,
                o.mean,
                o.sd,
                o.se,
                o.minimum,
                o.maximum,
            ]
            for o in result.observed
        ],
    )
    lines += _model(result.model) + _variances(result.variances)
    if result.means is not None:
        lines += _means(result, result.means, spec)
    lines += _comparison(result.comparison) + _comparison(result.percent_of_control)
    lines += _near_zero(result.near_zero) + _ranks(result.ranks)
    if result.ordinal is not None:
        lines += ["", f"Ordinal model: {result.ordinal.about.formula}"]
        lines += [
            f"  {c.name}: {_n(c.statistic)} on {c.df[0]:g} df, p {_p(c.p)}"
            for c in result.ordinal.terms
        ]
    lines += _repeated(result.repeated) + _trust(result.trust)
    lines += _words(result.findings)
    if result.statements:
        lines += ["", "No figure", *(f"  {s.message}" for s in result.statements)]
    versions = ", ".join(f"{name} {version}" for name, version in result.about.versions)
    seed = result.comparison.about.seed if result.comparison else None
    end = f"Unit of analysis: {result.about.unit_of_analysis}; n = {result.about.n}. {versions}"
    lines += ["", end + (f"; seed {seed}" if seed is not None else "")]
    return "\n".join(lines)


def _model(m: ModelResult | None) -> list[str]:
    if m is None:
        return []
    lines = ["", f"Model: {m.about.formula}", f"  {m.about.method}"]
    lines += _table(["term", "df", "F", "p"], [[t.term, t.df, t.f, _p(t.p)] for t in m.terms])
    if m.kind == "linear":
        cv = f", CV {_n(m.cv_percent)} %" if m.cv_percent else ""
        fit = f"error mean square {_n(m.dispersion)}{cv}"
    else:
        fit = f"dispersion {_n(m.dispersion)}"
    return [*lines, f"  error df {m.df_error:g}, {fit}", *(f"  {n}" for n in m.about.notes)]


def _variances(v: VarianceResult | None) -> list[str]:
    if v is None:
        return []
    return [
        "",
        f"Model: {v.about.formula}",
        f"  {v.about.method}",
        *_table(
            ["term", "df", "error df", "F", "p"],
            [[t.term, t.df, t.df_error, t.f, _p(t.p)] for t in v.terms],
        ),
        *(f"  variance, {c.label}: {_n(c.value)}" for c in v.components),
    ]


def _means(result: AnalysisResult, means: MeansResult, spec: AnalysisSpec) -> list[str]:
    shown = means.back or means.means
    given = dict(result.letters.letters) if result.letters else {}
    lines = ["", f"Least-squares means ({100 * (1 - spec.alpha):g} % limits)"]
    lines += _table(
        ["treatment", "mean", "SE", "lower", "upper", ""],
        [[e.label, e.value, e.se, e.lower, e.upper, given.get(e.label, "")] for e in shown],
    )
    lines += [f"  {e.label}: {e.reason}" for e in shown if e.reason]
    if result.letters:
        lines.append(
            "  Means with a letter in common were not found to differ"
            f" ({result.letters.procedure}, alpha = {result.letters.alpha:g})."
        )
    return lines


def _near_zero(rows: Sequence[Estimate]) -> list[str]:
    if not rows:
        return []
    return [
        "",
        "Near zero: deviance test and profile limits (log or logit scale)",
        *_table(
            ["comparison", "estimate", "lower", "upper", "p", "p x family"],
            [[e.label, e.value, e.lower, e.upper, _p(e.p), _p(e.p_adjusted)] for e in rows],
        ),
        *(f"  {e.label}: {e.reason}" for e in rows if e.reason),
    ]


def _ranks(ranks: RankResult | None) -> list[str]:
    if ranks is None:
        return []
    t = ranks.test
    lines = ["", f"{t.name}: {_n(t.statistic)} on {t.df[0]:g} df, p {_p(t.p)}"]
    if ranks.comparisons:
        lines += _table(
            ["pair", "z", "p", "adjusted p"],
            [[e.label, e.statistic, _p(e.p), _p(e.p_adjusted)] for e in ranks.comparisons],
        )
    return lines


def _repeated(r: RepeatedResult | None) -> list[str]:
    if r is None:
        return []
    corrected = {c.term: c.p for c in r.corrected}
    return [
        "",
        f"Over time: {r.about.method}",
        *_table(
            ["term", "df", "error df", "F", "p", "corrected p"],
            [[t.term, t.df, t.df_error, t.f, _p(t.p), _p(corrected.get(t.term))] for t in r.terms],
        ),
        f"  Greenhouse-Geisser epsilon {_n(r.epsilon_gg)}",
    ]


def _trust(trust: TrustResult | None) -> list[str]:
    if trust is None:
        return []
    lines = ["", "Can it be trusted"]
    for check in trust.checks:
        lines.append(
            f"  {check.name}: not done, {check.reason}"
            if check.p is None
            else f"  {check.name}: p {_p(check.p)}"
        )
        if check.finding:
            lines.append(f"    {check.finding.message}")
    return lines + [
        f"  Plot {s.label} ({_n(s.value)}, fitted {_n(s.fitted)}): {s.message}"
        for s in trust.suspects
    ]


def _comparison(result: ComparisonResult | None) -> list[str]:
    if result is None:
        return []
    scale = result.comparisons[0].scale
    unit = {"log": "log scale", "logit": "logit scale", "percent": "% of control"}.get(scale, "")
    title = result.about.method + (f" ({unit})" if unit else "")
    lines = [
        "",
        title[0].upper() + title[1:],
        *_table(
            ["comparison", "estimate", "SE", "lower", "upper", "p", "adjusted p"],
            [
                [c.label, c.value, c.se, c.lower, c.upper, _p(c.p), _p(c.p_adjusted)]
                for c in result.comparisons
            ],
        ),
    ]
    seen: dict[str, list[Estimate]] = {}
    for c in result.comparisons:
        if c.reason:
            seen.setdefault(c.reason, []).append(c)
    lines += [f"  {', '.join(c.label for c in cs)}: {why}" for why, cs in seen.items()]
    if result.critical is not None:
        lines.append(f"  critical value {_n(result.critical)}, alpha {result.alpha:g}")
    return lines


def _words(findings: Sequence[Finding]) -> list[str]:
    return ["", *(f"Note: {f.message}" for f in findings)] if findings else []


def _n(x: float | None) -> str:
    if x is None:
        return "-"
    return f"{x:.4g}" if abs(x) < 1e5 else f"{x:.6g}"


def _p(p: float | None) -> str:
    if p is None:
        return "-"
    return "< 0.001" if p < 0.001 else f"{p:.3f}"


def _table(head: list[str], rows: list[list[Any]]) -> list[str]:
    body = [
        [x if isinstance(x, str) else str(x) if isinstance(x, int) else _n(x) for x in r]
        for r in rows
    ]
    widths = [max(len(head[i]), *(len(r[i]) for r in body)) for i in range(len(head))]

    def line(cells: list[str]) -> str:
        first = cells[0].ljust(widths[0])
        return (
            "  "
            + "  ".join([first, *(c.rjust(w) for c, w in zip(cells[1:], widths[1:], strict=True))])
        ).rstrip()

    return [line(head), *(line(r) for r in body)]
