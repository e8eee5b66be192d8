"""Which charts a cell has, and what they say in words: numbers become `Chart` descriptions here."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from tepal.reports.charts import (
    BenchCell,
    BenchChart,
    Chart,
    CurveChart,
    IntervalChart,
    IntervalRow,
    RuleLine,
    Series,
)
from tepal.services.trial_words import TrialWords, verdict_of

if TYPE_CHECKING:
    from tepal.designs.trial import TrialMeasurement, TrialPotting
    from tepal.services.trial_analysis import CellAnalysis
    from tepal.stats.results import DoseResult, Estimate, InteractionResult

_CURVE_POINTS = 60
_SHADES = 5


class TrialCharts(TrialWords):
    """Describes the charts of one trial."""

    def report(self, code: str, /, **params: str | int) -> str:
        """Return a word of the report."""
        return self.words.text(f"trial_report.{code}", **params)

    def charts(self, c: CellAnalysis, m: TrialMeasurement, when: str) -> list[Chart]:
        """Return the charts of a cell, the most telling first."""
        found = []
        if c.result.means is not None:
            found.append(self._means_chart(c, m, when))
        if c.result.percent_of_control is not None and m.type != "days":
            found.append(self._percent_chart(c, m, when))
        elif c.result.comparison is not None and c.result.comparison.control is not None:
            found.append(self._difference_chart(c, m, when))
        found += [
            self._partners_chart(i, c) for i in c.interactions if i.observed.value is not None
        ]
        if c.dose is not None:
            found.append(self._dose_chart(c.dose, c, m, when))
        if c.curves:
            found.append(self._opening_chart(c, m))
        if any(p.residual is not None for p in c.plots):
            found.append(self._residual_chart(c, m, when))
        if c.plots:
            found.append(self.bench_chart(c, m, when))
        return found

    def _alt_rows(self, title: str, rows: tuple[IntervalRow, ...], places: int) -> str:
        said = [title + "."]
        for row in rows:
            if row.value is None:
                continue
            label = f"{row.label} {row.text}".strip()
            value = self.fixed(row.value, places)
            if row.lower is None or row.upper is None:
                said.append(self.report("alt.value", label=label, value=value))
            else:
                said.append(
                    self.report(
                        "alt.row", label=label, value=value, lower=self.fixed(row.lower, places),
                        upper=self.fixed(row.upper, places),
                    )
                )  # fmt: skip
        return " ".join(said)

    def _means_chart(self, c: CellAnalysis, m: TrialMeasurement, when: str) -> Chart:
        means = c.result.means
        shown = (means.back or means.means) if means else ()
        letters = dict(c.letters.letters) if c.letters else {}
        scale = 100.0 if m.type == "proportion" else 1.0
        rows = tuple(
            IntervalRow(
                self.treatment(e.label), _times(e.value, scale), _times(e.lower, scale),
                _times(e.upper, scale), letters.get(e.label, ""),
            )
            for e in sorted(shown, key=lambda e: int(e.label))
        )  # fmt: skip
        title = self.report("chart.means", subject=subject_of(m, when), level=self.level)
        unit = "%" if m.type == "proportion" else m.unit
        axis = f"{m.name}, {unit}" if unit else m.name
        chart = IntervalChart(rows, axis, self.number_format["decimal"])
        alt = self._alt_rows(title, rows, m.n_decimals + 1)
        return Chart("means", title, alt, intervals=chart)

    def _percent_chart(self, c: CellAnalysis, m: TrialMeasurement, when: str) -> Chart:
        family = c.result.percent_of_control
        rows = tuple(
            IntervalRow(
                self.treatment(e.pair[0]), e.value, e.lower, e.upper,
                is_filled=verdict_of(e, 100.0) in ("lower", "higher"),
            )
            for e in (family.comparisons if family else ())
            if e.pair is not None
        )  # fmt: skip
        control = self.treatment(family.control) if family and family.control else ""
        title = self.report(
            "chart.percent", subject=subject_of(m, when), control=control, level=self.level
        )
        axis = self.report("chart.of_control")
        chart = IntervalChart(rows, axis, self.number_format["decimal"], 100.0)
        alt = self._alt_rows(title, rows, 0)
        note = self.report("filled", reference="100")
        return Chart("percent", title, alt, note, intervals=chart)

    def _difference_chart(self, c: CellAnalysis, m: TrialMeasurement, when: str) -> Chart:
        family = c.result.comparison
        comparisons = family.comparisons if family else ()
        rows = tuple(
            IntervalRow(
                self.treatment(e.pair[0]), e.value, e.lower, e.upper,
                is_filled=verdict_of(e) in ("lower", "higher") and not e.reason,
            )
            for e in comparisons
            if e.pair is not None
        )  # fmt: skip
        on_odds = any(e.scale == "logit" for e in comparisons)
        title = self.report(
            "chart.odds" if on_odds else "chart.difference", subject=subject_of(m, when),
            control=self.treatment(family.control) if family and family.control else "",
            level=self.level,
        )  # fmt: skip
        axis = self.report("axis.odds") if on_odds else f"{m.name}, {m.unit}".rstrip(", ")
        chart = IntervalChart(rows, axis, self.number_format["decimal"], 0.0)
        alt = self._alt_rows(title, rows, 2 if on_odds else m.n_decimals + 1)
        return Chart("difference", title, alt, self.report("filled", reference="0"), chart)

    def _partners_chart(self, i: InteractionResult, c: CellAnalysis) -> Chart:
        pair = self.data.partners[c.interactions.index(i)]
        percent = {
            e.pair[0]: e
            for e in (
                c.result.percent_of_control.comparisons if c.result.percent_of_control else ()
            )
            if e.pair
        }
        rows = [
            IntervalRow(self.treatment(n), e.value, e.lower, e.upper)
            for n in (pair.first, pair.second)
            if (e := percent.get(str(n))) is not None
        ]
        both = self.treatment(pair.both)
        excluded = i.verdict in ("more_than_expected", "less_than_expected")
        rows += [
            _row(f"{both}: {self.report('chart.observed')}", i.observed, "dot", filled=excluded),
            _row(f"{both}: {self.report('chart.expected')}", i.expected, "diamond", filled=False),
        ]
        title = self.report(
            "chart.partners", first=self.treatment(pair.first), second=self.treatment(pair.second)
        )
        axis = f"{self.report('chart.of_control')} ({self.say(f'scale.{i.scale}')})"
        chart = IntervalChart(tuple(rows), axis, self.number_format["decimal"], 100.0)
        return Chart("partners", title, self._alt_rows(title, tuple(rows), 0), intervals=chart)

    def _dose_chart(
        self, dose: DoseResult, c: CellAnalysis, m: TrialMeasurement, when: str
    ) -> Chart:
        top = max(p.rate for p in c.dose_points)
        xs = tuple(top * i / _CURVE_POINTS for i in range(_CURVE_POINTS + 1))
        fitted = Series(
            f"{self.report('chart.fitted')} ({dose.curve})", xs,
            tuple(curve_at(dose, x) for x in xs), "line",
        )  # fmt: skip
        points = Series(
            m.name, tuple(p.rate for p in c.dose_points), tuple(p.value for p in c.dose_points)
        )
        rules: tuple[RuleLine, ...] = ()
        wanted = self.data.plan.wanted_value
        if wanted is not None and self.is_last_primary(c):
            said = f"{self.report('chart.wanted')}: {self.in_unit(wanted, m, 0)}"
            rules = (RuleLine("y", wanted, said),)
        unit = next((t.rate_unit for t in self.data.treatments if t.role == "rate"), "")
        title = self.report("chart.dose", subject=subject_of(m, when))
        chart = CurveChart(
            (points, fitted), self.report("chart.rate", unit=unit),
            f"{m.name}, {m.unit}" if m.unit else m.name, self.number_format["decimal"], rules,
        )  # fmt: skip
        ends = "; ".join(
            f"{self.number(x, trim=True)} {unit}: {self.fixed(curve_at(dose, x), m.n_decimals + 1)}"
            for x in sorted({p.rate for p in c.dose_points})
        )
        alt = f"{title}. " + self.report("alt.series", label=fitted.label, values=ends)
        effects = self.dose_effects()
        note = self.report("chart.dose.blocks", effects=effects) if effects else ""
        return Chart("dose", title, alt, note=note, curves=chart)

    def dose_effects(self) -> str:
        """Return what was fitted beside a curve: "block effects"; "" in a design without blocks."""
        code = self.design_terms()
        return (
            ""
            if code in ("treatment", "split", "split_only")
            else self.say(f"methods.effects.{code}")
        )

    def _opening_chart(self, c: CellAnalysis, m: TrialMeasurement) -> Chart:
        series, said = [], []
        a = self.data.assessment(c.assessment)
        until = float(a.until_day or a.day)
        for curve in c.curves:
            label = self.treatment(curve.group)
            times = (float(min(a.day, *curve.time)) if curve.time else float(a.day), *curve.time)
            shares = (100.0, *(100.0 * s for s in curve.survival))
            if times[-1] < until:
                times, shares = (*times, until), (*shares, shares[-1])
            series.append(Series(label, times, shares, "step"))
            median = curve.median.value
            said.append(
                self.report(
                    "alt.value", label=label,
                    value="–" if median is None else self.number(median, trim=True),
                )
            )  # fmt: skip
        title = self.report("chart.opening", measurement=m.name)
        chart = CurveChart(
            tuple(series), self.report("chart.days"), self.report("chart.open"),
            self.number_format["decimal"], y_from=0.0, y_to=100.0,
        )  # fmt: skip
        return Chart("opening", title, f"{title}. " + " ".join(said), curves=chart)

    def _residual_chart(self, c: CellAnalysis, m: TrialMeasurement, when: str) -> Chart:
        known = [p for p in c.plots if p.residual is not None and p.fitted is not None]
        quiet = [p for p in known if not p.is_suspect]
        loud = [p for p in known if p.is_suspect]
        series = [
            Series(
                name, tuple(p.fitted or 0.0 for p in part), tuple(p.residual or 0.0 for p in part)
            )
            for name, part in (("", quiet), (", ".join(str(p.plot) for p in loud), loud))
            if part
        ]
        title = self.report("chart.residuals", subject=subject_of(m, when))
        chart = CurveChart(
            tuple(series), f"{self.report('chart.fitted')}, {m.unit}".rstrip(", "),
            self.report("chart.residual"), self.number_format["decimal"],
            (RuleLine("y", 0.0, ""),), y_from=-2.0, y_to=2.0,
        )  # fmt: skip
        largest = sorted(known, key=lambda p: -abs(p.residual or 0.0))[:3]
        values = "; ".join(f"{p.plot}: {self.fixed(p.residual or 0.0, 1)}" for p in largest)
        alt = f"{title}. " + self.report(
            "alt.series", label=self.report("column.plot"), values=values
        )
        return Chart("residuals", title, alt, curves=chart)

    def _potted_chart(self, potting: TrialPotting) -> Chart:
        """Return the bench after potting on: each pot with the plot and plant it was."""
        treatment = {p.number: p.treatment for p in self.data.plots}
        cells = tuple(
            BenchCell(x.row, x.column, str(treatment[x.plot]), f"{x.plot}.{x.plant}", None)
            for x in potting.moves
        )
        title = self.report("chart.potted")
        said = "; ".join(f"{cell.row}/{cell.column} {cell.text}" for cell in cells)
        chart = BenchChart(
            max(x.row for x in potting.moves), max(x.column for x in potting.moves), cells
        )
        return Chart("layout", title, f"{title}: {said}.", bench=chart)

    def bench_chart(self, c: CellAnalysis | None, m: TrialMeasurement | None, when: str) -> Chart:
        """Return the bench: treatments only without a cell, else the plot values, shaded."""
        values = {p.plot: p.value for p in c.plots} if c is not None else {}
        known = sorted(v for v in values.values() if v is not None)
        low, high = (known[0], known[-1]) if known else (0.0, 0.0)
        cells = []
        if c is None and self.data.potting:
            return self._potted_chart(self.data.potting)
        for p in self.data.plots:
            value = values.get(p.number)
            shade = None
            text = str(p.treatment) if c is None else ""
            if value is not None and m is not None:
                shade = (
                    0 if high == low
                    else min(_SHADES - 1, int(_SHADES * (value - low) / (high - low)))
                )  # fmt: skip
                places = m.n_decimals if m.type != "proportion" else 0
                text = self.fixed(100 * value if m.type == "proportion" else value, max(places, 1))
            below = (
                str(p.treatment) if c is not None else f"{self.report('column.plot')} {p.number}"
            )
            cells.append(BenchCell(p.row, p.column, text, below, shade))
        chart = BenchChart(
            max(p.row for p in self.data.plots),
            max(p.column for p in self.data.plots),
            tuple(cells),
        )
        if c is None or m is None:
            title = self.report("chart.layout")
        else:
            title = self.report("chart.bench", subject=subject_of(m, when))
        said = "; ".join(f"{cell.row}/{cell.column} {cell.text}" for cell in cells if cell.text)
        return Chart("bench" if c else "layout", title, f"{title}: {said}.", bench=chart)

    def growth_chart(self, cells: list[CellAnalysis], m: TrialMeasurement) -> Chart:
        """Return the means of a measurement over its assessments, one line per treatment."""
        series, said = [], []
        for t in self.data.treatments:
            points: list[tuple[float, float, float]] = []
            for c in cells:
                means = c.result.means
                for e in () if means is None else (means.back or means.means):
                    if e.label == str(t.number) and e.value is not None:
                        half = 0.0 if e.upper is None else e.upper - e.value
                        points.append(
                            (float(self.data.assessment(c.assessment).day), e.value, half)
                        )
            if points:
                points.sort()
                label = self.treatment(t.number)
                series.append(
                    Series(
                        label, tuple(p[0] for p in points), tuple(p[1] for p in points), "line",
                        tuple(p[2] for p in points) if len(self.data.treatments) <= 4 else (),
                    )
                )  # fmt: skip
                values = "; ".join(
                    f"{self.number(x, trim=True)}: {self.fixed(y, m.n_decimals + 1)}"
                    for x, y, _ in points
                )
                said.append(self.report("alt.series", label=label, values=values))
        title = self.report("chart.growth", measurement=m.name)
        chart = CurveChart(
            tuple(series), self.report("chart.days"), f"{m.name}, {m.unit}".rstrip(", "),
            self.number_format["decimal"],
        )  # fmt: skip
        return Chart("growth", title, f"{title}. " + " ".join(said), curves=chart)


def subject_of(m: TrialMeasurement, when: str) -> str:
    """Return "Height, 44 days after treatment", or the name alone for a course over time."""
    return f"{m.name}, {when}" if when else m.name


def _times(value: float | None, scale: float) -> float | None:
    return None if value is None else value * scale


def _row(label: str, e: Estimate, glyph: str, *, filled: bool) -> IntervalRow:
    return IntervalRow(label, e.value, e.lower, e.upper, is_filled=filled, glyph=glyph)


def curve_at(dose: DoseResult, rate: float) -> float:
    """Return the fitted curve at a rate, from the parameters b, c, d, e of the result."""
    at = {p.label: p.value or 0.0 for p in dose.parameters}
    b, d, e = at["b"], at["d"], at["e"]
    c = at.get("c", 0.0)
    if rate <= 0:
        return d if b > 0 else c
    power = b * (math.log(rate) - math.log(e))
    return c + (d - c) / (1 + math.exp(min(power, 600.0)))
