"""The report's view of a trial: facts of the book and the analysis, as sections of final strings.

Pure; who reads the book (trial_book.py) hands over `ReportFacts`.
"""

from __future__ import annotations

from dataclasses import dataclass, field, fields
from typing import TYPE_CHECKING

from tepal.reports.print_facts import PrintFacts
from tepal.reports.trial_view import (
    Fact,
    ReportPhoto,
    ReportSection,
    Style,
    TableView,
    TrialReportView,
)
from tepal.services.trial_analysis import cell_hash, cell_keys
from tepal.services.trial_charts import subject_of
from tepal.services.trial_exports import file_name
from tepal.services.trial_potting import potting_methods
from tepal.services.trial_tradeoff import trade_offs
from tepal.services.trial_view import CellViews

if TYPE_CHECKING:
    from tepal.designs.trial import TrialData
    from tepal.domain.rounding import NumberFormat
    from tepal.domain.words import Words
    from tepal.services.trial_analysis import CellAnalysis


@dataclass(frozen=True, slots=True, kw_only=True)
class ReportFacts(PrintFacts):
    """What the book knows of a trial beside its data, and who prints; all final strings."""

    phase: str = ""
    facts: tuple[Fact, ...] = ()
    applications: tuple[tuple[str, ...], ...] = ()
    deviations: tuple[str, ...] = ()
    potted_on: str = ""
    harvests: tuple[tuple[str, ...], ...] = ()
    own_words: str = ""
    photos: tuple[ReportPhoto, ...] = field(default=())


class TrialReports(CellViews):
    """Puts the report of one trial together."""

    def __init__(
        self, data: TrialData, words: Words, number_format: NumberFormat, style: Style = "grower"
    ) -> None:
        super().__init__(data, words, number_format)
        self.style = style

    def report_view(self, cells: tuple[CellAnalysis, ...], facts: ReportFacts) -> TrialReportView:
        """Return the whole report, final."""
        sections = [
            self._plan(facts.harvests),
            ReportSection(
                "methods", self.report("methods"), (*self.methods(cells, facts.potted_on),)
            ),
            ReportSection(
                "bench", self.report("bench"), charts=(self.bench_chart(None, None, ""),),
                notes=(self._seed(),),
            ),
            self._applications(facts),
            *self._results(cells),
            *self._trade_off(cells),
            self._deviations(facts),
            *self._appendix(cells),
            self._reproduce(cells),
        ]  # fmt: skip
        data = self.data
        return TrialReportView(
            **{one.name: getattr(facts, one.name) for one in fields(PrintFacts)},
            code=data.code,
            title=data.title or self.report("title", code=data.code),
            question=data.question,
            facts=(*self._front(facts), *facts.facts),
            conclusion=self._conclusion(cells, facts),
            sections=tuple(sections),
            style=self.style,
            caution=self.report("caution"),
            photos=facts.photos,
            photos_title=self.report("photos"),
        )

    def _front(self, facts: ReportFacts) -> list[Fact]:
        primary = next(
            (m.name for m in self.data.measurements if m.code == self.data.plan.primary), ""
        )
        found = [Fact(self.report("primary"), primary or self.report("unknown"))]
        if facts.phase:
            found.append(Fact(self.report("status"), self.report(f"phase.{facts.phase}")))
        return found

    # --- conclusion ------------------------------------------------------------------------

    def conclusion(self, cells: tuple[CellAnalysis, ...]) -> list[str]:
        """Return what a grower can act on: the primary response at its last look, then delays."""
        data = self.data
        if not any(m.code == data.plan.primary for m in data.measurements):
            found = [self.say("conclusion.no_primary")]
        else:
            primary = [c for c in cells if c.is_primary and c.assessment and self._after(c)]
            if not primary:
                return [self.say("conclusion.no_value"), self.say("conclusion.scope")]
            last = max(primary, key=lambda c: data.assessment(c.assessment).day)
            said = self.cell(last)
            found = [s.text for s in said]
            kinds = {claim.kind for s in said for claim in s.claims}
            if kinds <= {"refused"}:
                found.append(self.say("conclusion.refused"))
            elif not kinds & {"lower", "higher", "near_zero", "pairs_some", "ratings_shown"}:
                family = last.result.comparison
                against = family is not None and family.control is not None
                found.append(self.say(f"conclusion.nothing{'' if against else '_pairs'}"))
        for c in cells:
            m = data.measurement(c.measurement)
            if m.type == "days" and c.assessment and not c.is_primary:
                said = tuple(self.against_control(c, m)) or self.cell(c)
                found += [s.text for s in said]
        return [*found, self.say("conclusion.scope")]

    def _conclusion(self, cells: tuple[CellAnalysis, ...], facts: ReportFacts) -> tuple[str, ...]:
        found = self.conclusion(cells)
        if facts.own_words:
            found.insert(len(found) - 1, f"{self.report('conclusion.by')}: {facts.own_words}")
        return tuple(found)

    def _after(self, c: CellAnalysis) -> bool:
        return self.data.assessment(c.assessment).day > 0

    # --- plan, methods ---------------------------------------------------------------------

    def _plan(self, harvests: tuple[tuple[str, ...], ...]) -> ReportSection:
        data = self.data
        has_rate = any(t.rate is not None for t in data.treatments)
        rows = tuple(
            (
                str(t.number),
                t.label,
                self.say(f"role.{t.role}"),
                "–" if t.rate is None else f"{self.number(t.rate, trim=True)} {t.rate_unit}",
            )
            for t in data.treatments
        )
        heads = (
            self.report("column.number"),
            *(self.report(f"column.{x}") for x in ("treatment", "role", "rate")),
        )
        shares = (10, 80, 50, 30)
        treatments = TableView("treatments", "", heads, rows, shares, (0,))
        if not has_rate:
            treatments = TableView(
                "treatments", "", heads[:3], tuple(r[:3] for r in rows), (10, 90, 60), (0,)
            )
        measured = TableView(
            "measurements", self.report("measurements"),
            tuple(self.report(f"column.{x}") for x in ("name", "type", "unit", "definition")),
            tuple(
                (m.name, self.report(f"type.{m.type}"), m.unit or "–", m.definition or "–")
                for m in data.measurements
            ),
            (38, 22, 16, 90),
        )  # fmt: skip
        looks = TableView(
            "assessments", self.report("assessments"),
            (self.report("column.day"), self.report("column.what")),
            tuple(
                (
                    self.report("day", day=a.day) if a.until_day is None
                    else self.report("round", day=a.day, until=a.until_day),
                    a.name,
                )
                for a in data.assessments
            ),
            (40, 120),
        )  # fmt: skip
        tables = [treatments, measured, looks]
        if harvests:
            names = ("when", "part", "taken", "weighed", "by")
            heads = tuple(self.report(f"column.{x}") for x in names)
            wide = (34, 36, 40, 40, 34)
            tables.append(TableView("harvests", self.report("harvests"), heads, harvests, wide))
        return ReportSection("treatments", self.report("treatments"), tables=tuple(tables))

    def methods(self, cells: tuple[CellAnalysis, ...], potted_on: str = "") -> list[str]:
        """Return the methods paragraph a referee asks for, sentence by sentence."""
        data, plan = self.data, self.data.plan
        counts = [sum(1 for p in data.plots if p.treatment == t.number) for t in data.treatments]
        least, most = min(counts), max(counts)
        lines = [
            self.say(
                "methods.design", design=self.say(f"design.{data.kind}"),
                treatments=len(data.treatments), plots=len(data.plots),
                replicates=str(least) if least == most else f"{least}–{most}",
                plants=data.plants_per_plot, unit=self.say(f"unit.{data.unit}"),
            ),
            self._seed(),
            *potting_methods(self, potted_on),
        ]  # fmt: skip
        kinds: dict[str, list[str]] = {}
        for code, _ in cell_keys(data):
            m = data.measurement(code)
            names = kinds.setdefault(m.type, [])
            if m.name not in names:
                names.append(m.name)
        terms = self.say(f"methods.terms.{self.design_terms()}")
        for kind, names in kinds.items():
            if kind == "rating":
                lines.append(self.say("methods.rating", names=", ".join(names)))
            else:
                lines.append(self.say(f"methods.{kind}", names=", ".join(names), terms=terms))
        lines += self._dose_methods(cells)
        compared = next((c.result.comparison for c in cells if c.result.comparison), None)
        if compared is not None:
            sides = "methods.two_sided" if plan.is_two_sided else "methods.one_sided"
            lines.append(
                self.say(
                    "methods.comparison", sides=self.say(sides),
                    procedure=self.procedure(compared.procedure),
                    alpha=self.number(plan.alpha, trim=True),
                )
            )  # fmt: skip
        if data.partners:
            lines.append(self.say("methods.scale", scale=self.say(f"scale.{plan.scale}")))
        if plan.contrasts:
            lines.append(
                self.say(
                    "methods.contrasts", alpha=self.number(plan.alpha, trim=True),
                    names="; ".join(
                        f"{c.name} [{self.weights_text(c.coefficients)}]" for c in plan.contrasts
                    ),
                )
            )  # fmt: skip
        if data.is_shared_pass:
            lines.append(self.say("trust.shared_pass", unit=self.say(f"unit.{data.unit}")))
        if cells:
            versions = ", ".join(f"{name} {v}" for name, v in cells[0].result.about.versions)
            lines.append(self.say("methods.software", versions=versions))
        return lines

    def _dose_methods(self, cells: tuple[CellAnalysis, ...]) -> list[str]:
        names: dict[str, dict[str, None]] = {}
        for c in cells:
            if c.dose is not None:
                names.setdefault(c.dose.curve, {})[self.measurement(c).name] = None
        found = []
        for curve, of in names.items():
            said = {"names": ", ".join(of), "curve": curve}
            effects = self.dose_effects()
            code = "methods.dose.blocks" if effects else "methods.dose"
            found.append(self.say(code, **said, **({"effects": effects} if effects else {})))
        return found

    def _seed(self) -> str:
        if not self.data.seed:
            return self.say("methods.random.none")
        return self.say("methods.random", seed=self.data.seed, algorithm=self.data.algorithm or "–")

    def _applications(self, facts: ReportFacts) -> ReportSection:
        names = ("when", "treatment", "mix", "quantity", "air")
        title = self.report("applications")
        if not facts.applications:
            none = (self.report("none.applications"),)
            return ReportSection("applications", title, none)
        table = TableView(
            "applications", "", tuple(self.report(f"column.{x}") for x in names),
            facts.applications, (34, 36, 56, 34, 36),
        )  # fmt: skip
        return ReportSection("applications", title, tables=(table,))

    # --- results ---------------------------------------------------------------------------

    def _results(self, cells: tuple[CellAnalysis, ...]) -> list[ReportSection]:
        found = []
        title = self.report("results")
        if not cells:
            return [ReportSection("results", title, (self.report("none.cells"),))]
        order = sorted(cells, key=self._rank)
        for c in order:
            view = self.view(c)
            whole = c.is_primary and self._after(c)
            charts = view.charts if whole else view.charts[:1]
            kept = [x for x in view.charts if x.name in ("partners", "opening", "dose")]
            if not whole:
                charts = tuple(dict.fromkeys((*charts, *kept)))
            found.append(
                ReportSection(
                    f"cell-{c.measurement}-{c.assessment}", f"{title}: {view.title}",
                    (view.label, *view.sentences), view.tables, charts,
                    (self.report("trust"), *view.trust),
                )
            )  # fmt: skip
        for m in self.data.measurements:
            of = [c for c in cells if c.measurement == m.code and c.assessment and c.result.means]
            if m.type in ("continuous", "count") and len(of) >= 2:
                chart = self.growth_chart(of, m)
                found.append(
                    ReportSection(
                        "growth", f"{self.report('over_time')}: {m.name}", charts=(chart,)
                    )
                )
        return found

    def _rank(self, c: CellAnalysis) -> tuple[bool, bool, int]:
        """Return what comes first: the primary response, latest look first, courses after looks."""
        day = self.data.assessment(c.assessment).day if c.assessment else 0
        return (not c.is_primary, not c.assessment, -day)

    def _trade_off(self, cells: tuple[CellAnalysis, ...]) -> list[ReportSection]:
        rows = tuple(
            (
                self.treatment(t.treatment),
                f"{self.signed(t.delay_days, 1)} ({self.plain_span(t.lower, t.upper, 1)})",
                self._money(t.bench_cost), self._money(t.labour_saved), self._money(t.plant_value),
                self._money(t.treatment_cost), self._money(t.balance),
                self.plain_span(t.balance_lower, t.balance_upper, 3),
            )
            for t in trade_offs(self.data, cells)
        )  # fmt: skip
        if not rows:
            return []
        names = ("treatment", "delay", "bench", "labour", "worth", "spent", "balance")
        heads = (
            *(self.report(f"column.{x}") for x in names),
            self.report("column.interval", level=self.level),
        )
        table = TableView(
            "tradeoff", "", heads, rows, (36, 36, 20, 22, 22, 22, 20, 36), (2, 3, 4, 5, 6)
        )
        title = self.say("tradeoff.title", currency=self.data.prices.currency or "–")
        note = (self.say("tradeoff.note"),)
        return [ReportSection("tradeoff", title, tables=(table,), notes=note)]

    def _money(self, value: float) -> str:
        return self.fixed(value, 3)

    def _deviations(self, facts: ReportFacts) -> ReportSection:
        lines = self.plan_changes()
        for e in self.data.exclusions:
            m = next((m.name for m in self.data.measurements if m.code == e.measurement), "")
            a = next((a.name for a in self.data.assessments if a.code == e.assessment), "")
            scope = (
                self.report("excluded.scope", measurement=m, assessment=a).strip()
                if m or a
                else self.report("excluded.all")
            )
            plant = self.report("excluded.plant", plant=e.plant) if e.plant else ""
            lines.append(
                self.report(
                    "excluded", plot=e.plot, plant=plant, scope=scope, reason=e.reason,
                    by=e.by or self.report("unknown"),
                )
            )  # fmt: skip
        lost: dict[tuple[int, str, str], None] = {}
        for v in self.data.values:
            if v.value is None and v.why in ("dead", "discarded", "lost"):
                lost[v.plot, v.assessment, v.why] = None
        lines += [
            self.report("lost", plot=plot, when=self.when(a), what=self.say(f"why.{why}"))
            for plot, a, why in lost
        ]
        lines += facts.deviations
        if not lines:
            lines = [self.report("none.deviations")]
        return ReportSection("deviations", self.report("deviations"), tuple(lines))

    def _appendix(self, cells: tuple[CellAnalysis, ...]) -> list[ReportSection]:
        tables = tuple(self.appendix(tuple(c for c in cells if c.assessment)))
        if not tables:
            return []
        return [ReportSection("appendix", self.report("appendix"), tables=tables)]

    def _reproduce(self, cells: tuple[CellAnalysis, ...]) -> ReportSection:
        name = file_name(self.data)
        hashes = [
            subject_of(self.data.measurement(c.measurement), self.when(c.assessment))
            + ": "
            + self.report("inputs", hash=cell_hash(self.data, c.measurement, c.assessment))
            for c in cells
            if c.assessment
        ]
        formulas = sorted({c.result.about.formula for c in cells})
        lines = [self._seed(), self.report("r_script", name=name), *formulas]
        title = self.report("reproduce")
        return ReportSection("reproduce", title, tuple(lines), notes=tuple(hashes))
