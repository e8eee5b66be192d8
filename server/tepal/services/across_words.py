"""What several trials say together, in sentences by rules that never claim more than the interval.

A verdict is read off the interval that stands beside it; where trials disagree that is said, and
with one or two trials how little they can tell.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from tepal.services.number_words import NumberWords
from tepal.services.trial_words import Claim, Said
from tepal.stats.distributions import t_quantile
from tepal.stats.pooled import ESTIMATOR
from tepal.stats.results import Estimate

if TYPE_CHECKING:
    from collections.abc import Iterable

    from tepal.domain.rounding import NumberFormat
    from tepal.domain.words import Words
    from tepal.services.across_effects import Scale
    from tepal.services.across_questions import Found, Question

# No digit is lost below this: an interval that is wider is said to be without a bound.
_MOST = 600.0
_FEW = 4
# Own rule, no source: above this share one trial speaks for all.
_HEAVY = 0.75
# Own rule, no source: of fewer trials, or without variation found, the spread ahead is not known.
_ENOUGH_AHEAD = 5
_WIDEST = 9999.5


class AcrossWords(NumberWords):
    """Speaks about one question; numbers are on the scale people read (%, days, times)."""

    def __init__(self, question: Question, words: Words, number_format: NumberFormat) -> None:
        super().__init__(words, number_format, question.alpha)
        self.question = question
        self.scale: Scale = question.first.effect.scale
        e = question.first.effect
        self.comparator = self.say(f"comparator.{e.comparator}")

    def say(self, code: str, /, **params: str | int) -> str:
        """Return a message of the part `across`."""
        return self.words.text(f"across.{code}", **params)

    # --- numbers ---------------------------------------------------------------------------

    def read(self, value: float) -> float:
        """Return an effect as people read it: per cent of the comparator, days, times the odds."""
        if self.scale == "days":
            return value
        return math.exp(min(value, _MOST)) * (100.0 if self.scale == "ratio" else 1.0)

    def figure(self, value: float) -> str:
        """Return an effect in figures, without its unit."""
        x = self.read(value)
        if self.scale == "days":
            return f"+{self.fixed(x, 1)}" if x > 0 else self.fixed(x, 1)
        if self.scale == "odds":
            return self.number(x) if x < _WIDEST else self.say("no_bound")
        if x >= _WIDEST:
            return self.say("no_bound")
        return self.fixed(x, 1 if x < 9.95 else 0)

    def amount(self, value: float) -> str:
        """Return an effect in words: "74 % of untreated"."""
        figure = self.figure(value)
        return self.say(f"amount.{self.scale}", value=figure, comparator=self.comparator)

    def span(self, e: Estimate) -> str:
        """Return the interval of an effect: "70 to 78"."""
        if e.lower is None or e.upper is None:
            return "–"
        return self.say("span", lower=self.figure(e.lower), upper=self.figure(e.upper))

    def interval(self, one: Found) -> Estimate | None:
        """Return one trial's effect with its own interval at the question's level, additive."""
        e = one.effect
        if e.value is None or e.se is None:
            return None
        half = t_quantile(1 - self.alpha / 2, e.df or 1.0) * e.se
        return Estimate(one.code, e.value, e.se, e.df, e.value - half, e.value + half)

    def answer(self) -> Estimate | None:
        """Return the combined effect, or that of the one trial there is; None without any."""
        q = self.question
        if q.pooled is not None:
            return q.pooled.estimate
        return self.interval(q.counted[0]) if q.counted else None

    def verdict(self, e: Estimate) -> str:
        """Return lower, higher or not_shown, read off the interval."""
        if e.lower is None or e.upper is None or e.lower <= 0 <= e.upper:
            return "not_shown"
        return "lower" if e.upper < 0 else "higher"

    # --- what it is about --------------------------------------------------------------------

    def dose(self) -> str:
        """Return "paclobutrazol 2 mg/L + …, drench": what was put on, with the range of rates."""
        doses = [one.dose for one in self.question.all]
        parts = []
        for i, (ai, _) in enumerate(doses[0].ais):
            rates = [dose.ais[i][1] for dose in doses]
            parts.append(f"{ai} {self.range(rates)}\u00a0mg/L")
        if doses[0].others:
            parts.append(doses[0].others)
        method = doses[0].method
        told = [self.words.text(f"choice.tank_mix.method.{method}").lower()] if method else []
        return ", ".join([" + ".join(parts), *told])

    def facts(self) -> str:
        """Return volume, number of applications and days after treatment, where on file."""
        q = self.question
        found = []
        for values, code in (
            ([o.dose.ml_per_container for o in q.all], "per_container"),
            ([o.dose.ml_per_m2 for o in q.all], "per_m2"),
        ):
            known = [x for x in values if x is not None]
            if known:
                found.append(self.say(f"fact.{code}", value=self.range(known)))
        n = q.first.dose.n_applications
        found.append(self.say("fact.applications", n=n) if n else self.say("fact.no_application"))
        days = [float(o.effect.day) for o in q.all if o.effect.day is not None]
        if days:
            found.append(self.say("fact.days", value=self.range(days)))
        return " · ".join(found)

    def range(self, values: Iterable[float]) -> str:
        """Return "2" or "1.9–2.1"."""
        known = list(values)
        texts = [self.number(x, 4, trim=True) for x in (min(known), max(known))]
        return texts[0] if texts[0] == texts[1] else "–".join(texts)

    def short(self) -> str:
        """Return the one line that stands where a mix is chosen."""
        e, q = self.answer(), self.question
        name = q.first.effect.measurement_name
        if e is None or e.value is None:
            return self.say("short.nothing", measurement=name)
        line = self.say(
            "short", measurement=name, amount=self.amount(e.value), span=self.span(e),
            level=self.level, n=len(q.counted),
        )  # fmt: skip
        return f"{line}; {self.say('short.disagree')}" if self.state() == "disagree" else line

    def state(self) -> str:
        """Return one word for the list: lower, higher, not_shown, disagree, nothing."""
        e, q = self.answer(), self.question
        if e is None:
            return "nothing"
        if q.is_opposed or (q.pooled is not None and q.pooled.disagree):
            return "disagree"
        return self.verdict(e)

    # --- sentences -------------------------------------------------------------------------

    def sentences(self) -> tuple[Said, ...]:
        """Return what the trials say, what they cannot say, and how it was reckoned."""
        q, e = self.question, self.answer()
        name = q.first.effect.measurement_name
        if e is None or e.value is None:
            return (Said(self.say("nothing", measurement=name), Claim("refused")),)
        verdict = self.verdict(e)
        said = self.say(
            "one" if q.pooled is None else "together", measurement=name, n=len(q.counted),
            amount=self.amount(e.value), level=self.level, span=self.span(e),
            verdict=self.say(f"verdict.{self.scale}.{verdict}"),
        )  # fmt: skip
        found = [Said(said, Claim(verdict))]
        if q.pooled is None:
            return (*found, Said(self.say("one.limits"), Claim("one")))
        if q.is_opposed:
            found.append(Said(self.say("opposed"), Claim("disagree")))
        elif q.pooled.disagree:
            found.append(Said(self.say("disagree"), Claim("disagree")))
        n = len(q.counted)
        if n == 2:
            found.append(Said(self.say("two"), Claim("few")))
        elif n <= _FEW:
            found.append(Said(self.say("few", n=n), Claim("few")))
        heaviest = max(q.pooled.weights)
        if heaviest >= _HEAVY:
            name = self.trial(q.counted[q.pooled.weights.index(heaviest)])
            text = self.say("heavy", trial=name, weight=math.floor(100 * heaviest))
            found.append(Said(text, Claim("heavy")))
        found.append(Said(self._spread(), Claim("spread")))
        ahead = q.pooled.prediction
        if ahead.value is not None and n >= _ENOUGH_AHEAD and q.pooled.tau > 0:
            text = self.say("next", level=self.level, span=self._with_unit(ahead))
            found.append(Said(text, Claim("next")))
        return tuple(found)

    def _spread(self) -> str:
        pooled = self.question.pooled
        if pooled is None:
            return ""
        q, p = self.number(pooled.q), self.p(pooled.q_p)
        if pooled.tau == 0:
            return self.say("spread.none", q=q, p=p, n=len(self.question.counted))
        if self.scale == "days":
            tau = self.say("tau.days", value=self.number(pooled.tau))
        else:
            tau = self.say(
                f"tau.{self.scale}", value=self.number(pooled.tau),
                factor=self.number(math.exp(min(pooled.tau, _MOST))),
            )  # fmt: skip
        return self.say("spread", tau=tau, i2=self.fixed(pooled.i2_pct, 0), q=q, p=p)

    def _with_unit(self, e: Estimate) -> str:
        span = self.span(e)
        return self.say(f"amount.{self.scale}", value=span, comparator=self.comparator)

    def notes(self) -> tuple[str, ...]:
        """Return how it was reckoned, what was left out, and the caution."""
        q = self.question
        found = []
        if q.pooled is not None:
            found.append(self.say("method", estimator=ESTIMATOR))
        found.append(self.say("same"))
        texts = {" ".join(o.effect.definition.split()): None for o in q.all if o.effect.definition}
        if len(texts) > 1:
            found.append(self.say("definitions", definitions=" / ".join(texts)))
        found += [
            self.say(f"left.{why}", trial=self.trial(one), treatment=one.effect.treatment_name)
            for one, why in q.left_out
        ]
        n = sum(1 for one in q.all if one.elsewhere)
        if n:
            found.append(self.say("note.elsewhere", n=n))
        if any(not one.effect.is_primary for one in q.all):
            found.append(self.say("note.exploratory"))
        return tuple(found)

    def caution(self) -> str:
        """Return that a trial result is no label."""
        return self.words.text("trial_report.caution")

    def trial(self, one: Found) -> str:
        """Return "T07", or "T07 (Fernbank Growers)" for a trial that came in a file."""
        code = one.code or "–"
        return self.say("trial_of", code=code, place=one.elsewhere) if one.elsewhere else code
