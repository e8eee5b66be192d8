"""From results to sentences; one voice for all of them, hence over 400 lines.

What was found, in words that never claim more than the interval.

Rules only, no judgement of its own: a verdict is read off the interval that is printed beside it,
and where two intervals of the same comparison disagree the sentence says so and claims nothing.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

from tepal.domain.rounding import significant_decimals
from tepal.services.number_words import NumberWords

if TYPE_CHECKING:
    from collections.abc import Callable

    from tepal.designs.trial import TrialData, TrialMeasurement
    from tepal.domain.rounding import NumberFormat
    from tepal.domain.words import Words
    from tepal.services.trial_analysis import CellAnalysis, Refusal
    from tepal.stats.results import ComparisonResult, DoseResult, Estimate, InteractionResult

Verdict = Literal[
    "lower", "higher", "not_excluded", "scales_disagree", "underdispersed", "no_figure", "near_zero"
]


@dataclass(frozen=True, slots=True)
class Claim:
    """What a sentence says in a form a test can hold against the truth.

    `about` is the treatment (of a comparison with `against`), "both" of partners, or "" otherwise.
    """

    kind: str
    about: str = ""
    against: str = ""


@dataclass(frozen=True, slots=True)
class Said:
    """One sentence, with the claim it makes; `also` are those of the treatments it sums up."""

    text: str
    claim: Claim
    also: tuple[Claim, ...] = ()

    @property
    def claims(self) -> tuple[Claim, ...]:
        """Every claim of the sentence."""
        return self.also or (self.claim,)


class TrialWords(NumberWords):
    """Speaks about the results of one trial in one language and number format."""

    def __init__(self, data: TrialData, words: Words, number_format: NumberFormat) -> None:
        super().__init__(words, number_format, data.plan.alpha)
        self.data = data

    # --- numbers ---------------------------------------------------------------------------

    def say(self, code: str, /, **params: str | int) -> str:
        """Return a sentence of the part `trial_words`."""
        return self.words.text(f"trial_words.{code}", **params)

    def in_unit(self, value: float, m: TrialMeasurement, extra: int = 1) -> str:
        """Return a value of a measurement with its unit, one decimal more than it is read to."""
        text = self.fixed(value, m.n_decimals + extra)
        return f"{text}\u00a0{m.unit}" if m.unit else text

    def treatment(self, number: str | int) -> str:
        """Return "1 mg/L (4)": the label with the treatment's number."""
        t = self.data.treatment(int(number))
        return f"{t.label}\u00a0({t.number})"

    def procedure(self, name: str) -> str:
        """Return a procedure in this language; most are called after their authors in all."""
        key = f"procedure.{name.replace(' ', '_')}"
        return self.say(key) if f"trial_words.{key}" in self.words else name

    def when(self, assessment: str) -> str:
        """Return the name of an assessment."""
        return self.data.assessment(assessment).name

    # --- one cell --------------------------------------------------------------------------

    def cell(self, c: CellAnalysis) -> tuple[Said, ...]:
        """Return every sentence about a cell, the most general first."""
        m = self.measurement(c)
        found: list[Said] = []
        if c.dose is not None or c.trend is not None:
            found += self._rates(c, m)
        for interaction in c.interactions:
            found.append(self._partners(interaction, c))
        for family in c.formulations:
            found += self._blank(family, m)
        if c.result.comparison is not None and c.result.comparison.control is not None:
            found += self.against_control(c, m)
        elif c.pairs is not None or c.result.comparison is not None:
            found.append(self._pairs(c, m))
        if c.result.ranks is not None:
            found.append(self._ranks(c, m))
        found += self._factors(c)
        if c.contrasts is not None:
            found += self._contrasts(c.contrasts, m)
        if c.result.repeated is not None:
            found += self._course(c, m)
        found += [Said(text, Claim("refused")) for text in self.refusals(c)]
        return tuple(found)

    def measurement(self, c: CellAnalysis) -> TrialMeasurement:
        """Return the measurement of a cell; of a course over time, with its own name and unit."""
        m = self.data.measurement(c.measurement)
        if c.assessment:
            return m
        kind = "area" if (c.result.assessment or "").startswith("area") else "slope"
        unit = self.say(f"unit.{kind}", unit=m.unit or "1")
        places = max(0, m.n_decimals - 1) if kind == "area" else m.n_decimals + 1
        return replace(
            m, name=f"{m.name}, {self.say(f'course.{kind}')}", unit=unit, n_decimals=places
        )

    def against_control(self, c: CellAnalysis, m: TrialMeasurement) -> list[Said]:
        """Return a sentence per treatment that differs, and one for all that were not shown to."""
        comparison = c.result.comparison
        if comparison is None or comparison.control is None:
            return []
        percent = {e.pair: e for e in (c.result.percent_of_control or comparison).comparisons}
        near = {e.pair: e for e in c.result.near_zero}
        spread = _dispersion(c)
        found: list[Said] = []
        quiet: list[tuple[Said, str]] = []
        for e in comparison.comparisons:
            if e.pair is None:
                continue
            if (
                e.pair not in near
                and self._verdict(e, percent.get(e.pair), m, spread) == "not_excluded"
            ):
                said = self._one(e, percent.get(e.pair), comparison, m, spread)
                item = self.say(
                    "not_excluded.item", treatment=self.treatment(e.pair[0]),
                    p=self.p(e.p_adjusted), interval=self._interval_of(e, percent.get(e.pair), m),
                )  # fmt: skip
                quiet.append((said, item))
            elif e.pair in near:
                found.append(self._near_zero(near[e.pair], m))
            else:
                found.append(self._one(e, percent.get(e.pair), comparison, m, spread))
        seen = {e.pair for e in comparison.comparisons}
        found += [self._near_zero(e, m) for pair, e in near.items() if pair not in seen]
        if len(quiet) == 1:
            found.append(quiet[0][0])
        elif quiet:
            text = self.say(
                "not_excluded.many", measurement=m.name, level=self.level,
                control=self.treatment(comparison.control or ""),
                treatments="; ".join(item for _, item in quiet),
                procedure=self.procedure(comparison.procedure),
            )  # fmt: skip
            claims = tuple(said.claim for said, _ in quiet)
            found.append(Said(text, claims[0], claims))
        return found

    def _is_ratio(self, ratio: Estimate | None, m: TrialMeasurement) -> bool:
        return (
            m.type != "days"
            and ratio is not None
            and ratio.scale == "percent"
            and ratio.value is not None
        )

    def _verdict(
        self, e: Estimate, ratio: Estimate | None, m: TrialMeasurement, dispersion: float | None
    ) -> Verdict:
        """Return what may be said: nothing where difference and ratio disagree about it."""
        if e.value is None or e.reason:
            return "no_figure"
        verdict = verdict_of(e)
        if ratio is not None and self._is_ratio(ratio, m) and verdict_of(ratio, 100.0) != verdict:
            return "scales_disagree"
        if verdict != "not_excluded" and dispersion is not None and dispersion < 1:
            # a dispersion that is low by chance makes intervals of counts too short
            stretch = 1 / math.sqrt(dispersion)
            limit = e.upper if verdict == "lower" else e.lower
            if limit is not None and (e.value + (limit - e.value) * stretch) * e.value <= 0:
                return "underdispersed"
        return verdict

    def _interval_of(self, e: Estimate, ratio: Estimate | None, m: TrialMeasurement) -> str:
        if e.scale == "logit":
            limits = [None if x is None else math.exp(min(x, 600.0)) for x in (e.lower, e.upper)]
            return self.say("odds.item", interval=self.plain_span(limits[0], limits[1]))
        if ratio is not None and self._is_ratio(ratio, m):
            return self.span_pct(ratio)
        return self._absolute(e, m)[1]

    def _one(
        self,
        e: Estimate,
        ratio: Estimate | None,
        family: ComparisonResult,
        m: TrialMeasurement,
        dispersion: float | None,
    ) -> Said:
        treatment, control = e.pair or ("", "")
        said = {
            "measurement": m.name,
            "treatment": self.treatment(treatment),
            "control": self.treatment(control),
            "level": self.level,
            "procedure": self.procedure(family.procedure),
            "p": self.p(e.p_adjusted),
        }
        verdict = self._verdict(e, ratio, m, dispersion)
        if verdict == "underdispersed":
            text = self.say(
                "underdispersed", **said, dispersion=self.number(dispersion or 0.0, 2),
                interval=self._interval_of(e, ratio, m),
            )  # fmt: skip
            return Said(text, Claim(verdict, treatment, control))
        if verdict == "no_figure":
            text = self.say("no_figure", **said, reason=e.reason or "")
            return Said(text, Claim("no_figure", treatment, control))
        if e.scale == "logit":
            return self._odds(e, verdict, said)
        if ratio is None or ratio.value is None or not self._is_ratio(ratio, m):
            change, interval = self._absolute(e, m)
            days = {"lower": "earlier", "higher": "later"} if m.type == "days" else {}
            text = self.say(days.get(verdict, verdict), **said, change=change, interval=interval)
            return Said(text, Claim(verdict, treatment, control))
        change = self.pct(abs(ratio.value - 100))
        interval = self.span_pct(ratio)
        text = self.say(verdict, **said, change=change, interval=interval)
        return Said(text, Claim(verdict, treatment, control))

    def _odds(self, e: Estimate, verdict: Verdict, said: dict[str, str]) -> Said:
        limits = [None if x is None else math.exp(min(x, 600.0)) for x in (e.lower, e.upper)]
        interval = self.plain_span(limits[0], limits[1])
        ratio = self.number(math.exp(min(e.value or 0.0, 600.0)))
        text = self.say(f"odds.{verdict}", **said, ratio=ratio, interval=interval)
        pair = e.pair or ("", "")
        return Said(text, Claim(verdict, *pair))

    def _near_zero(self, e: Estimate, m: TrialMeasurement) -> Said:
        treatment, control = e.pair or ("", "")
        limit = ""
        if e.scale == "log" and e.upper is not None:
            most = self.number(math.exp(min(e.upper, 600.0)), 2)
            limit = self.say("near_zero.limit", most=most, control=self.treatment(control))
        text = self.say(
            "near_zero", measurement=m.name, treatment=self.treatment(treatment),
            control=self.treatment(control), p=self.p(e.p_adjusted or e.p), limit=limit,
        )  # fmt: skip
        return Said(text, Claim("near_zero", treatment, control))

    # --- spans -----------------------------------------------------------------------------

    def span_pct(self, ratio: Estimate) -> str:
        """Return the interval of a per cent of control as changes: "9 to 22 % lower"."""
        low = None if ratio.lower is None else ratio.lower - 100
        high = None if ratio.upper is None else ratio.upper - 100
        return self._span(low, high, self.pct, "")

    def _absolute(self, e: Estimate, m: TrialMeasurement) -> tuple[str, str]:
        def shown(x: float) -> str:
            return self.in_unit(x, m)

        days = "_days" if m.type == "days" else ""
        return shown(abs(e.value or 0.0)), self._span(e.lower, e.upper, shown, days)

    def _span(
        self, low: float | None, high: float | None, text: Callable[[float], str], days: str
    ) -> str:
        if low is None or high is None:
            return self._open_span(low, high, text)
        if low > 0 or high < 0:
            code = ("later" if low > 0 else "earlier") if days else "higher" if low > 0 else "lower"
            least, most = sorted((abs(low), abs(high)))
            return self.say(f"span.{code}", least=text(least), most=text(most))
        return self.say(f"span.across{days}", below=text(abs(low)), above=text(high))

    def _open_span(
        self, low: float | None, high: float | None, shown: Callable[[float], str]
    ) -> str:
        if high is not None:
            return self.say("span.at_most", most=shown(high))
        if low is not None:
            return self.say("span.at_least", least=shown(low))
        return self.say("span.none")

    def plain_span(
        self, low: float | None, high: float | None, n_decimals: int | None = None
    ) -> str:
        """Return "1.1 to 1.8", or the one limit there is."""

        def shown(x: float) -> str:
            return self.number(x) if n_decimals is None else self.fixed(x, n_decimals)

        if low is None or high is None:
            return self._open_span(low, high, shown)
        return self.say("span.plain", least=shown(low), most=shown(high))

    # --- rates, partners, blanks -----------------------------------------------------------

    def _rates(self, c: CellAnalysis, m: TrialMeasurement) -> list[Said]:
        found = []
        unit = next((t.rate_unit for t in self.data.treatments if t.role == "rate"), "")
        if c.trend is not None:
            linear, *more = c.trend.comparisons
            verdict = verdict_of(linear)
            code = {"lower": "down", "higher": "up"}.get(verdict, "none")
            if m.type == "days":
                code = {"down": "earlier", "up": "later"}.get(code, code)
            on_log = c.result.model is not None and c.result.model.link == "log"
            if on_log:  # a slope of logs is a factor per unit of rate
                slope = f"× {self.number(math.exp(linear.value or 0.0))}"
                factors = [None if x is None else math.exp(x) for x in (linear.lower, linear.upper)]
                interval = self.plain_span(factors[0], factors[1])
            else:
                # per mg/L a slope can be 0.0005 cm: two digits that say something
                places = max(m.n_decimals + 1, 2, _slope_decimals(linear))
                slope = f"{self.fixed(linear.value or 0.0, places)} {m.unit}".strip()
                interval = self.plain_span(linear.lower, linear.upper, places)
            text = self.say(
                f"trend.{code}", measurement=m.name, slope=slope, rate_unit=unit,
                level=self.level, interval=interval,
            )  # fmt: skip
            found.append(Said(text, Claim(f"trend_{code}")))
            fit = c.trend_fit
            if fit is not None and fit.p is not None and fit.p < self.alpha:
                found.append(Said(self.say("trend.lack", p=self.p(fit.p)), Claim("trend_lack")))
            elif more and (more[0].p or 1.0) < self.alpha:
                found.append(Said(self.say("trend.curved", p=self.p(more[0].p)), Claim("curved")))
        if c.dose is not None:
            found += self._wanted(c.dose, c, m, unit)
        return found

    def _wanted(
        self, dose: DoseResult, c: CellAnalysis, m: TrialMeasurement, unit: str
    ) -> list[Said]:
        if self.data.plan.wanted_value is None or not self.is_last_primary(c):
            return []
        wanted = self.in_unit(self.data.plan.wanted_value, m, 0)
        most = max(p.rate for p in c.dose_points)
        for e in dose.effective_doses:
            if not e.label.startswith("rate for"):
                continue
            if e.value is None or e.value <= 0:
                return [Said(self.say("wanted.outside", wanted=wanted), Claim("wanted_outside"))]
            rate = f"{self.number(e.value)}\u00a0{unit}"
            if e.value > most:
                top = f"{self.number(most, trim=True)}\u00a0{unit}"
                text = self.say("wanted.beyond", wanted=wanted, rate=rate, most=top)
                return [Said(text, Claim("wanted_beyond"))]
            lower = e.lower if e.lower is not None and e.lower > 0 else None  # below 0: no limit
            text = self.say(
                "wanted.reached", wanted=wanted, rate=rate, level=self.level, curve=dose.curve,
                interval=self.plain_span(lower, e.upper),
            )  # fmt: skip
            return [Said(text, Claim("wanted_reached"))]
        return []

    def is_last_primary(self, c: CellAnalysis) -> bool:
        """Whether a cell is the primary response at its last assessment."""
        days = [
            self.data.assessment(v.assessment).day
            for v in self.data.values
            if v.measurement == c.measurement
        ]
        return c.is_primary and self.data.assessment(c.assessment).day == max(days, default=0)

    def _partners(self, i: InteractionResult, c: CellAnalysis) -> Said:
        pair = self.data.partners[c.interactions.index(i)]
        first, second = self.treatment(pair.first), self.treatment(pair.second)
        departure = i.departure
        if i.verdict == "not_estimable" or departure.value is None:
            name = self.measurement(c).name
            text = self.say("partners.not_estimable", measurement=name, first=first, second=second)
            return Said(text, Claim("partners_none", "both"))
        m = self.measurement(c)
        if departure.scale == "log":
            limits = [
                None if x is None else math.exp(x) for x in (departure.lower, departure.upper)
            ]
            interval = self.say("departure.ratio", value=self.plain_span(limits[0], limits[1]))
        else:
            places = m.n_decimals + 1
            interval = (
                f"{self.plain_span(departure.lower, departure.upper, places)} {m.unit}".strip()
            )
        said = {
            "measurement": m.name,
            "first": first,
            "second": second,
            "observed": "–" if i.observed.value is None else self.pct(i.observed.value),
            "expected": "–" if i.expected.value is None else self.pct(i.expected.value),
            "scale": self.say(f"scale.{i.scale}"),
            "level": self.level,
            "interval": interval,
        }
        code = self._partner_case(i, c, pair.control, pair.first, pair.second)
        if code in ("higher", "lower"):
            other = i.other_scale
            agrees = other.value is not None and verdict_of(other) == code
            why = self.say(f"partners.why.{'direction' if agrees else 'scale'}")
            said["why"] = why
        return Said(self.say(f"partners.{code}", **said), Claim(f"partners_{code}", "both"))

    def _partner_case(
        self, i: InteractionResult, c: CellAnalysis, control: int, first: int, second: int
    ) -> str:
        """Return which sentence fits: the engine's word first, then opposite pulls, then sides."""
        if i.may_say is not None:
            return i.may_say
        pulls = [self._shown(c, n, control) for n in (first, second)]
        opposite = sorted(pulls) == ["higher", "lower"]
        if i.verdict == "not_excluded":
            return "opposite.not_excluded" if opposite else "not_excluded"
        if opposite:
            with_first = (i.verdict == "more_than_expected") == (pulls[0] == "higher")
            return "opposite.held" if with_first else "opposite.undone"
        return "higher" if i.verdict == "more_than_expected" else "lower"

    def _shown(self, c: CellAnalysis, treatment: int, control: int) -> str:
        """Return the direction that the comparison with the control shows; "" where it does not.

        Without such a comparison (all pairs asked for) Tukey's intervals decide.
        """
        pair = (str(treatment), str(control))
        for family in (c.result.comparison, c.pairs):
            for e in () if family is None else family.comparisons:
                if e.pair == pair:
                    return verdict_of(e)
                if e.pair == pair[::-1]:
                    turned = {"lower": "higher", "higher": "lower"}
                    return turned.get(verdict_of(e), "")
        return ""

    def _blank(self, family: ComparisonResult, m: TrialMeasurement) -> list[Said]:
        found = []
        for e in family.comparisons:
            product, _, blank = e.label.partition(" - ")
            verdict = verdict_of(e)
            if e.scale == "log" and e.value is not None:
                change = self.pct(abs(100 * (math.exp(e.value) - 1)))
                limits = [
                    None if x is None else 100 * (math.exp(x) - 1) for x in (e.lower, e.upper)
                ]
                interval = self._span(limits[0], limits[1], self.pct, "")
            else:
                change, interval = self._absolute(e, m)
            text = self.say(
                f"blank.{verdict}", measurement=m.name, product=self.treatment(product),
                blank=self.treatment(blank),
                change=change, level=self.level, interval=interval,
            )  # fmt: skip
            found.append(Said(text, Claim(f"blank_{verdict}", product, blank)))
        return found

    def _contrasts(self, family: ComparisonResult, m: TrialMeasurement) -> list[Said]:
        found = []
        for e in family.comparisons:
            if e.value is None:
                continue
            code, value, interval = self.contrast_figure(e, m)
            text = self.say(
                code, name=e.label, value=value, level=self.level, interval=interval, p=self.p(e.p)
            )
            found.append(Said(text, Claim("contrast", e.label)))
        return found

    def contrast_figure(self, e: Estimate, m: TrialMeasurement) -> tuple[str, str, str]:
        """Return the key of a contrast's sentence, figure and interval: logs become ratios."""
        if e.scale in ("log", "logit"):
            limits = [None if x is None else math.exp(min(x, 600.0)) for x in (e.lower, e.upper)]
            value = self.number(math.exp(min(e.value or 0.0, 600.0)))
            code = "contrast.ratio" if e.scale == "log" else "contrast.odds"
            return code, value, self.plain_span(limits[0], limits[1])
        places = m.n_decimals + 1
        return (
            "contrast", self.in_unit(e.value or 0.0, m), self.plain_span(e.lower, e.upper, places)
        )  # fmt: skip

    # --- families of pairs, ranks, factors, time -------------------------------------------

    def _pairs(self, c: CellAnalysis, m: TrialMeasurement) -> Said:
        family = c.result.comparison or c.pairs
        means = c.result.means
        if family is None or means is None:
            return Said(self.say("refused.no_data"), Claim("refused"))
        shown = means.back or means.means
        different = [e for e in family.comparisons if (e.p_adjusted or 1.0) < family.alpha]
        alpha = self.number(family.alpha, trim=True)
        if not different:
            widest = max(family.comparisons, key=lambda e: (e.upper or 0.0) - (e.lower or 0.0))
            _, _, interval = self.contrast_figure(widest, m)
            code = {"log": "none_ratio", "logit": "none_odds"}.get(widest.scale, "none")
            unit = f"\u00a0{m.unit}" if m.unit and code == "none" else ""
            text = self.say(
                f"pairs.{code}", measurement=m.name, alpha=alpha,
                procedure=self.procedure(family.procedure), interval=f"{interval}{unit}",
            )  # fmt: skip
            return Said(text, Claim("pairs_none"))
        known = [e for e in shown if e.value is not None]
        high, low = (f(known, key=lambda e: e.value or 0.0) for f in (max, min))
        text = self.say(
            "pairs.some", measurement=m.name, n=len(different), pairs=len(family.comparisons),
            procedure=self.procedure(family.procedure), alpha=alpha,
            highest=self.treatment(high.label),
            lowest=self.treatment(low.label), high=self.in_unit(high.value or 0.0, m),
            low=self.in_unit(low.value or 0.0, m),
        )  # fmt: skip
        return Said(text, Claim("pairs_some"))

    def _ranks(self, c: CellAnalysis, m: TrialMeasurement) -> Said:
        ranks = c.result.ranks
        test = None if ranks is None else ranks.test
        shown = test is not None and test.p is not None and test.p < self.alpha
        text = self.say(
            "ratings.shown" if shown else "ratings.none", measurement=m.name,
            procedure="–" if test is None else test.name,
            p=self.p(None if test is None else test.p),
        )  # fmt: skip
        return Said(text, Claim("ratings_shown" if shown else "ratings_none"))

    def design_terms(self) -> str:
        """Return which terms the design puts into the models: the end of a key of the words."""
        if self.data.kind.startswith("split_plot"):
            return "split" if self.data.kind == "split_plot" else "split_only"
        n_blocks = len({p.block for p in self.data.plots})
        if self.data.kind == "latin_square":
            return "squares" if n_blocks > 1 else "square"
        has_blocks = any(p.block is not None for p in self.data.plots)
        return "block_treatment" if has_blocks else "treatment"

    def _factors(self, c: CellAnalysis) -> list[Said]:
        found = []
        tables = c.factorial or c.strata
        for line in tables.terms if tables else ():
            if ":" in line.term and line.p is not None and line.p < self.alpha:
                text = self.say(
                    "factorial.interaction", terms=self.term(line.term), p=self.p(line.p)
                )
                found.append(Said(text, Claim("factors_interact")))
        return found

    def term(self, name: str) -> str:
        """Return a term of a model with the trial's own factor names."""
        parts = []
        for part in name.split(":"):
            number = part.removeprefix("factor_")
            known = part.startswith("factor_") and number.isdigit()
            if known:
                parts.append(self.data.factors[int(number) - 1])
                continue
            named = "square" if part == "block" and self.data.kind == "latin_square" else part
            key = f"term.{named}"
            parts.append(self.say(key) if f"trial_words.{key}" in self.words else part)
        return " × ".join(parts)

    def _course(self, c: CellAnalysis, m: TrialMeasurement) -> list[Said]:
        repeated = c.result.repeated
        lines = () if repeated is None else repeated.corrected
        for line in lines:
            if line.term.startswith("time:") and line.p is not None:
                code = "course.shown" if line.p < self.alpha else "course.none"
                text = self.say(code, measurement=m.name, p=self.p(line.p))
                return [Said(text, Claim(code.replace(".", "_")))]
        return []

    # --- refusals --------------------------------------------------------------------------

    def refusals(self, c: CellAnalysis) -> list[str]:
        """Return what could not be answered, each sentence once."""
        found = [self._refused(s.code, s.message) for s in c.result.statements]
        found += [self.refusal(r) for r in c.refusals]
        return list(dict.fromkeys(found))

    def refusal(self, r: Refusal) -> str:
        """Return why one question has no answer."""
        return self._refused(r.code, r.message, r.question.partition(": ")[2])

    def _refused(self, code: str, message: str, name: str = "") -> str:
        short = code.removeprefix("stats.")
        key = f"refused.{short}"
        if f"trial_words.{key}" not in self.words:
            return self.say("refused.other", code=code, message=message)
        if short == "treatment_missing":
            number = message.split(" ", 1)[0]
            return self.say(key, treatment=self.treatment(number))
        return self.say(key, name=name) if name else self.say(key)


def _slope_decimals(e: Estimate) -> int:
    """Return the decimals at which a slope or an end of its interval shows two digits."""
    size = max(abs(x) for x in (e.value or 0.0, e.lower or 0.0, e.upper or 0.0))
    return min(9, significant_decimals(size, 2)) if size else 0


def _dispersion(c: CellAnalysis) -> float | None:
    """Return the dispersion of a generalised model; None for a linear one."""
    model = c.result.model
    return None if model is None or model.link == "identity" else model.dispersion


def verdict_of(e: Estimate, none: float = 0.0) -> Verdict:
    """Return what an estimate's own interval says against `none` (0, or 100 for per cents)."""
    if e.value is None:
        return "no_figure"
    below = e.upper is not None and e.upper < none
    above = e.lower is not None and e.lower > none
    return "lower" if below else "higher" if above else "not_excluded"
