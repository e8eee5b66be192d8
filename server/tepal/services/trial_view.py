"""Views of one cell, final: sentences, tables, charts, trust notes; all kinds here, over 400 lines.

Office pages and the report show the same view, so they can never say different things.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from tepal.reports.trial_view import CellView, TableView
from tepal.services.trial_analysis import cell_hash
from tepal.services.trial_charts import TrialCharts, subject_of
from tepal.services.trial_table import cell_rows, horizon_of

if TYPE_CHECKING:
    from tepal.designs.trial import TrialMeasurement
    from tepal.reports.trial_view import Style
    from tepal.services.trial_analysis import CellAnalysis
    from tepal.services.trial_words import Said
    from tepal.stats.results import ComparisonResult, Estimate

_APPENDIX_COLUMNS = 6
_STARS = ((0.001, "***"), (0.01, "**"), (0.05, "*"))


class CellViews(TrialCharts):
    """Makes the views of the cells of one trial, in one language and one style."""

    style: Style = "grower"

    def view(self, c: CellAnalysis) -> CellView:
        """Return a cell as final text."""
        m = self.measurement(c)
        when = self.when(c.assessment) if c.assessment else ""
        said = self.cell(c)
        return CellView(
            measurement=c.measurement,
            assessment=c.assessment,
            title=subject_of(m, when),
            when=when,
            label=self._label(c),
            state=self._state(c, said),
            sentences=tuple(s.text for s in said),
            tables=tuple(self._tables(c, m, when)),
            charts=tuple(self.charts(c, m, when)),
            trust=tuple(self._trust(c, m)),
            input_hash=cell_hash(self.data, c.measurement, c.assessment),
        )

    def measurement_title(self, measurement: str, assessment: str) -> str:
        """Return the name of a cell before it is computed."""
        m = self.data.measurement(measurement)
        when = self.when(assessment) if assessment else self.report("over_time")
        return f"{m.name}, {when}"

    def _label(self, c: CellAnalysis) -> str:
        if c.assessment and self.data.assessment(c.assessment).day <= 0:
            return self.say("before_treatment")
        return self.say("primary" if c.is_primary and c.assessment else "exploratory")

    def _state(self, c: CellAnalysis, said: tuple[Said, ...]) -> str:
        if c.assessment and self.data.assessment(c.assessment).day <= 0:
            return "before"
        kinds = {claim.kind for s in said for claim in s.claims}
        if kinds & {"lower", "higher", "near_zero", "pairs_some", "ratings_shown"}:
            return "shown"
        return "refused" if c.result.means is None and c.result.ranks is None else "not_shown"

    # --- tables ----------------------------------------------------------------------------

    def _tables(self, c: CellAnalysis, m: TrialMeasurement, when: str) -> list[TableView]:
        found = []
        if c.result.means is not None:
            found.append(self._means(c, m, when))
        if c.result.means is None or self.style == "journal":
            found.append(self._observed(c, m, when))
        if c.result.ranks is not None and c.result.ranks.comparisons:
            found.append(self._ranks_table(c, m, when))
        if c.contrasts is not None:
            found.append(self._contrast_table(c.contrasts, m, when))
        factors = c.factorial or c.strata
        model = factors or c.result.model
        if model is not None and (self.style == "journal" or factors is not None):
            found.append(self._terms(c, m, when))
        return found

    def _means(self, c: CellAnalysis, m: TrialMeasurement, when: str) -> TableView:
        result = c.result
        means = result.means
        shown = {e.label: e for e in (means.back or means.means)} if means else {}
        letters = dict(c.letters.letters) if c.letters else {}
        compared = {e.pair[0]: e for e in result.comparison.comparisons if e.pair} if (
            result.comparison is not None and result.comparison.control is not None
        ) else {}  # fmt: skip
        percent = {
            e.pair[0]: e
            for e in (result.percent_of_control.comparisons if result.percent_of_control else ())
            if e.pair
        }
        is_share = m.type == "proportion"
        rows = []
        for t in self.data.treatments:
            key = str(t.number)
            e = shown.get(key)
            n = next((o.n_plots for o in result.observed if o.treatment == key), 0)
            rows.append(
                (
                    self.treatment(t.number),
                    str(n),
                    self._mean(e, m, share=is_share),
                    "–" if e is None or e.se is None else self._figure(e.se, m, share=is_share),
                    self._limits(e, m, share=is_share),
                    letters.get(key, "–"),
                    self._change(key, percent.get(key), compared.get(key), m, bool(percent)),
                    self._p_cell(compared.get(key)),
                )
            )
        unit = "%" if is_share else m.unit
        with_unit = f", {unit}" if unit else ""
        kind = "column.change" if percent or not compared else "column.difference"
        if is_share and compared:
            kind = "column.ratio"
        elif m.type == "days" and compared:
            kind = "column.difference"
        heads = (
            self.report("column.treatment"), self.report("column.plots"),
            self.report("column.mean") + with_unit, self.report("column.se"),
            self.report("column.interval", level=self.level), self.report("column.letters"),
            self.report(kind), self.report("column.p"),
        )  # fmt: skip
        shares = (44, 15, 18, 13, 31, 14, 32, 17)
        # nothing against a control; per cents of it without a comparison have no p
        n = len(heads) - (0 if compared else 1 if percent else 2)
        right = tuple(i for i in (1, 2, 3, 7) if i < n)
        return TableView(
            "means", self.report("table.means", subject=subject_of(m, when)), heads[:n],
            tuple(row[:n] for row in rows), shares[:n], right, tuple(self._table_notes(c)),
        )  # fmt: skip

    def _mean(self, e: Estimate | None, m: TrialMeasurement, *, share: bool) -> str:
        if e is None or e.value is None:
            return "–"
        return self._figure(e.value, m, share=share)

    def _figure(self, value: float, m: TrialMeasurement, *, share: bool) -> str:
        return self.fixed(100 * value, 1) if share else self.fixed(value, m.n_decimals + 1)

    def _limits(self, e: Estimate | None, m: TrialMeasurement, *, share: bool) -> str:
        if e is None or e.value is None or (e.lower is None and e.upper is None):
            return "–"
        scale, places = (100.0, 1) if share else (1.0, m.n_decimals + 1)
        low, high = (None if x is None else x * scale for x in (e.lower, e.upper))
        return self.plain_span(low, high, places)

    def _change(
        self,
        key: str,
        ratio: Estimate | None,
        e: Estimate | None,
        m: TrialMeasurement,
        is_percent: bool,
    ) -> str:
        if self.data.plan.control is not None and key == str(self.data.plan.control):
            return "100" if is_percent and m.type not in ("proportion", "days") else "–"
        if m.type == "days" and e is not None and e.value is not None:
            limits = self.plain_span(e.lower, e.upper, 1)
            return f"{self.signed(e.value, 1)} ({limits})"
        if ratio is not None and ratio.value is not None:
            limits = self.plain_span(ratio.lower, ratio.upper, 0)
            return f"{self.fixed(ratio.value, 0)} ({limits})"
        if e is None or e.value is None:
            return "–"
        if e.scale == "logit":
            low, high = (None if x is None else math.exp(min(x, 600.0)) for x in (e.lower, e.upper))
            return f"{self.number(math.exp(min(e.value, 600.0)))} ({self.plain_span(low, high)})"
        limits = self.plain_span(e.lower, e.upper, m.n_decimals + 1)
        return f"{self.signed(e.value, m.n_decimals + 1)} ({limits})"

    def signed(self, value: float, n_decimals: int) -> str:
        """Return a number with its sign, plus included."""
        return f"+{self.fixed(value, n_decimals)}" if value > 0 else self.fixed(value, n_decimals)

    def _p_cell(self, e: Estimate | None) -> str:
        if e is None:
            return "–"
        if self.style == "journal":
            return self.stars(e.p_adjusted)
        return self.p(e.p_adjusted).removeprefix("=\u00a0")

    def stars(self, p: float | None) -> str:
        """Return NS, *, ** or *** as journals print them."""
        if p is None:
            return "–"
        return next((mark for limit, mark in _STARS if p <= limit), "NS")

    def _table_notes(self, c: CellAnalysis) -> list[str]:
        notes = []
        comparison, alpha = c.result.comparison, self.number(self.alpha, trim=True)
        if c.letters is not None:
            code = "journal.letters" if self.style == "journal" else "letters"
            notes.append(
                self.report(code, procedure=self.procedure(c.letters.procedure), alpha=alpha)
            )
        if comparison is not None and comparison.control is not None:
            if self.style == "journal":
                notes.append(
                    self.report("journal.stars", procedure=self.procedure(comparison.procedure))
                )
            else:
                one = comparison.alternative != "two-sided"
                notes.append(
                    self.report(
                        "compared", procedure=self.procedure(comparison.procedure), alpha=alpha,
                        sides=self.say("methods.one_sided" if one else "methods.two_sided"),
                    )
                )  # fmt: skip
        if self.style == "journal":
            notes.append(self.report("journal.n", n=c.result.about.n))
        notes.append(f"{self.report('se')} {self.report('pointwise')}")
        return notes

    def _observed(self, c: CellAnalysis, m: TrialMeasurement, when: str) -> TableView:
        share = m.type == "proportion"
        rows = tuple(
            (
                self.treatment(o.treatment), str(o.n_plots), str(o.n_plants), str(o.n_missing),
                "–" if o.mean is None else self._figure(o.mean, m, share=share),
                "–" if o.sd is None else self._figure(o.sd, m, share=share),
                "–" if o.minimum is None or o.maximum is None else (
                    f"{self._figure(o.minimum, m, share=share)} – "
                    f"{self._figure(o.maximum, m, share=share)}"
                ),
            )
            for o in c.result.observed
        )  # fmt: skip
        names = ("treatment", "plots", "plants", "missing", "mean", "sd", "range")
        unit = "%" if share else m.unit
        with_unit = {"mean": f", {unit}"} if unit else {}
        return TableView(
            "observed", self.report("table.observed", subject=subject_of(m, when)),
            tuple(self.report(f"column.{name}") + with_unit.get(name, "") for name in names), rows,
            (50, 14, 14, 14, 20, 20, 34), (1, 2, 3, 4, 5),
        )  # fmt: skip

    def _ranks_table(self, c: CellAnalysis, m: TrialMeasurement, when: str) -> TableView:
        comparisons = c.result.ranks.comparisons if c.result.ranks else ()
        rows = tuple(
            (
                " − ".join(self.treatment(n) for n in e.pair) if e.pair else e.label,
                "–" if e.value is None else self.number(e.value),
                self.p(e.p_adjusted if e.p_adjusted is not None else e.p).removeprefix("=\u00a0"),
            )
            for e in comparisons
        )
        heads = tuple(self.report(f"column.{x}") for x in ("comparison", "difference", "p"))
        title = self.report("table.ranks", subject=subject_of(m, when))
        return TableView("ranks", title, heads, rows, (90, 30, 30), (1, 2))

    def _contrast_table(
        self, family: ComparisonResult, m: TrialMeasurement, when: str
    ) -> TableView:
        weights = {c.name: c.coefficients for c in self.data.plan.contrasts}
        rows = []
        for e in family.comparisons:
            _, value, interval = self.contrast_figure(e, m)
            p = self.stars(e.p) if self.style == "journal" else self.p(e.p).removeprefix("=\u00a0")
            rows.append((e.label, value, interval, self.weights_text(weights.get(e.label, ())), p))
        heads = (
            self.report("column.contrast"), self.report("column.figure"),
            self.report("column.interval", level=self.level), self.report("column.weights"),
            self.report("column.p"),
        )  # fmt: skip
        scale = family.comparisons[0].scale
        note = {"log": "contrasts.note_ratio", "logit": "contrasts.note_odds"}.get(
            scale, "contrasts.note"
        )
        return TableView(
            "contrasts", self.report("table.contrasts", subject=subject_of(m, when)), heads,
            tuple(rows), (60, 26, 36, 44, 18), (4,), (self.report(note),),
        )  # fmt: skip

    def weights_text(self, coefficients: tuple[tuple[int, float], ...]) -> str:
        """Return "+1 (2), −0.5 (3), −0.5 (4)"."""
        return ", ".join(
            f"{'+' if w > 0 else ''}{self.number(w, 6, trim=True)}\u00a0({n})"
            for n, w in coefficients
            if w
        )

    def plan_changes(self) -> list[str]:
        """Return a sentence per change of the plan once there were values."""
        return [
            self.report(
                "plan_change", on=change.on or "–", by=change.by or self.report("unknown"),
                what=self.report(f"plan.{change.name}"),
                before=self._planned(change.name, change.before),
                after=self._planned(change.name, change.after),
                reason=change.reason or self.report("plan_change.no_reason"),
            )
            for change in self.data.plan_changes
        ]  # fmt: skip

    def _planned(self, name: str, value: str) -> str:
        """Return a value of the plan in words."""
        if value == "":
            return self.report("plan_change.nothing")
        if name in ("primary_response", "covariate"):
            return next((m.name for m in self.data.measurements if m.code == value), value)
        if name == "control" and any(str(t.number) == value for t in self.data.treatments):
            return self.treatment(value)
        if name == "two_sided":
            return self.say("methods.one_sided" if value == "False" else "methods.two_sided")
        if name == "interaction_scale":
            return self.say(f"scale.{value}")
        if name == "comparison":
            return self.words.text(f"choice.comparison.{value}")
        return value

    def _terms(self, c: CellAnalysis, m: TrialMeasurement, when: str) -> TableView:
        model = c.factorial or c.strata or c.result.model
        rows = tuple(
            (
                self.term(t.term), str(t.df),
                "–" if t.df_error is None else self.number(t.df_error, trim=True),
                "–" if t.f is None else self.number(t.f),
                self.stars(t.p) if self.style == "journal" else self.p(t.p).removeprefix("=\u00a0"),
            )
            for t in (model.terms if model else ())
        )  # fmt: skip
        heads = (
            self.report("column.term"), self.report("column.df"), self.report("column.df_error"),
            self.report("column.f"), self.report("column.p"),
        )  # fmt: skip
        title = self.report("table.terms", subject=subject_of(m, when))
        return TableView("terms", title, heads, rows, (60, 20, 20, 25, 25), (1, 2, 3, 4))

    # --- trust -----------------------------------------------------------------------------

    def _trust(self, c: CellAnalysis, m: TrialMeasurement) -> list[str]:
        data, notes = self.data, []
        n_plots = sum(1 for p in c.plots if p.value is not None)
        plants = sum(p.n_plants for p in c.plots)
        if c.plots:
            single = data.plants_per_plot == 1 or m.per == "plot"
            code = "trust.unit.single" if single else "trust.unit"
            notes.append(self.say(code, n=n_plots, all=len(c.plots), plants=plants))
            empty = [str(p.plot) for p in c.plots if p.value is None]
            if empty:
                notes.append(self.say("trust.missing", n=len(empty), plots=", ".join(empty)))
        for e in data.exclusions:
            if e.measurement in ("", c.measurement) and e.assessment in ("", c.assessment):
                code = "trust.excluded" if e.by else "trust.excluded.nobody"
                plant = self.report("excluded.plant", plant=e.plant) if e.plant else ""
                notes.append(self.say(code, plot=e.plot, plant=plant, by=e.by, reason=e.reason))
        if c.covariate:
            notes.append(self.say("trust.covariate", measurement=m.name))
        if m.type == "days" and c.assessment:
            horizon = horizon_of(data, m, c.assessment)
            if horizon is not None:
                notes.append(self.say("trust.horizon", day=self.number(horizon, trim=True)))
        notes += self._checks(c)
        parts = c.result.variances.components if c.result.variances else ()
        if parts and (parts[0].value or 0.0) <= 0:
            notes.append(self.say("trust.whole_zero"))
        if data.is_shared_pass:
            notes.append(self.say("trust.shared_pass", unit=self.say(f"unit.{data.unit}")))
        plan = data.plan
        if plan.difference_pct is not None and plan.power is not None and plan.cv_pct is not None:
            notes.append(
                self.say(
                    "trust.planned", difference=self.number(plan.difference_pct, trim=True),
                    power=self.number(100 * plan.power, trim=True),
                    cv=self.number(plan.cv_pct, trim=True),
                )
            )  # fmt: skip
        return notes

    def _checks(self, c: CellAnalysis) -> list[str]:
        trust = c.result.trust
        if trust is None:
            return []
        notes = []
        for check in trust.checks:
            if check.finding is not None:
                short = check.finding.code.removeprefix("stats.")
                notes.append(self.say(f"check.{short}", p=self.p(check.p)))
        for finding in c.result.findings:
            short = finding.code.removeprefix("stats.")
            if short in ("interaction", "not_normal", "unequal_variances"):
                continue
            model = c.result.model
            dispersion = "–" if model is None else self.number(model.dispersion)
            if f"trial_words.check.{short}" in self.words:
                notes.append(self.say(f"check.{short}", dispersion=dispersion))
            else:
                notes.append(self.say("check.other", code=finding.code))
        if not notes:
            notes.append(self.say("trust.even"))
        notes = list(dict.fromkeys(notes))  # one finding per treatment, said once
        notes += [
            self.say("trust.suspect", plot=s.label, residual=self.number(s.standardised, 2))
            for s in trust.suspects
        ]
        return notes

    def appendix(self, cells: tuple[CellAnalysis, ...]) -> list[TableView]:
        """Return the plot values as analysed: a row per plot, a column per cell, eight a table."""
        found = []
        for start in range(0, len(cells), _APPENDIX_COLUMNS):
            part = cells[start : start + _APPENDIX_COLUMNS]
            found.append(self._plot_values(part))
        return found

    def _plot_values(self, cells: tuple[CellAnalysis, ...]) -> TableView:
        columns = [self._plot_column(c) for c in cells]
        heads = [self.report(f"column.{x}") for x in ("plot", "block")]
        heads.append(self.report("column.number"))
        heads += [
            subject_of(self.data.measurement(c.measurement), self.when(c.assessment)) for c in cells
        ]
        rows = tuple(
            (
                str(p.number), "–" if p.block is None else str(p.block), str(p.treatment),
                *(column.get(p.number, "–") for column in columns),
            )
            for p in self.data.plots
        )  # fmt: skip
        shares = (14, 14, 14, *(max(18, 120 // len(cells)) for _ in cells))
        return TableView(
            "plots", "", tuple(heads), rows, shares, tuple(range(len(heads))),
        )  # fmt: skip

    def _plot_column(self, c: CellAnalysis) -> dict[int, str]:
        m = self.data.measurement(c.measurement)
        share = m.type == "proportion"
        why = {
            r.plot: r.why
            for r in cell_rows(self.data, m, c.assessment, None)
            if not r.value and r.why
        }
        return {
            f.plot: self._figure(f.value, m, share=share)
            if f.value is not None
            else self.say(f"why.{why.get(f.plot, 'not_recorded')}")
            for f in c.plots
        }
