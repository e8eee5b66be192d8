"""The view of one question across trials: sentences, the table of trials, the chart beside it."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from tepal.reports.chart_marks import drawing_data
from tepal.reports.charts import Chart, IntervalChart, IntervalRow, drawing_of
from tepal.reports.trial_view import TableView
from tepal.services.across_questions import plain
from tepal.services.across_words import AcrossWords

if TYPE_CHECKING:
    from tepal.services.across_questions import Found
    from tepal.stats.results import Estimate

_REFERENCE = {"ratio": 100.0, "days": 0.0, "odds": 1.0}
_SCREEN_WIDTH = 250.0
# Beyond this the axis would hide every other trial: the row is cut there, and the table has it all.
_AXIS_MOST = {"ratio": 300.0, "days": 1e6, "odds": 30.0}


class AcrossView(AcrossWords):
    """Makes table, chart and the whole view of one question."""

    def summary(self) -> dict[str, Any]:
        """Return the question as the list shows it."""
        q = self.question
        e = q.first.effect
        return {
            "key": q.key,
            "crop": q.crop_names[0] if q.crop_names else q.crop_key,
            "crop_key": q.crop_key,
            "crop_names": [plain(name) for name in q.crop_names],
            "dose": self.dose(),
            "facts": self.facts(),
            "measurement": e.measurement_name,
            "comparator": self.comparator,
            "is_primary": any(one.effect.is_primary for one in q.all),
            "is_untreated": e.comparator == "untreated",
            "state": self.state(),
            "short": self.short(),
            "n": len(q.counted),
            "n_elsewhere": sum(1 for one in q.counted if one.elsewhere),
        }

    def view(self) -> dict[str, Any]:
        """Return the question whole: sentences, table, chart, notes, caution."""
        q = self.question
        chart = self.chart()
        return {
            **self.summary(),
            "sentences": [said.text for said in self.sentences()],
            "table": asdict(self.table()),
            "chart": {
                "name": chart.name, "title": chart.title, "alt": chart.alt, "note": chart.note,
                "drawing": drawing_data(drawing_of(chart, _SCREEN_WIDTH)),
            },
            "notes": list(self.notes()),
            "caution": self.caution(),
            "trials": [
                {"id": t.trial, "code": t.code, "title": t.title, "elsewhere": t.elsewhere}
                for t in {one.trial: one for one in q.all}.values()
            ],
        }  # fmt: skip

    def title(self) -> str:
        """Return "Height against untreated: paclobutrazol 2 mg/L, drench"."""
        name = self.question.first.effect.measurement_name
        return self.say("question", measurement=name, comparator=self.comparator, dose=self.dose())

    def table(self) -> TableView:
        """Return a row for each trial, counted or not, and the combined effect last."""
        q = self.question
        weights = dict(
            zip((o.trial for o in q.counted), q.pooled.weights if q.pooled else (), strict=False)
        )
        rows = [self._row(one, weights.get(one.trial, "–")) for one in q.counted]
        rows += [self._row(one, self.say("not_counted")) for one, _ in q.left_out]
        if q.pooled is not None:
            e = q.pooled.estimate
            total = str(sum(o.effect.n_plots for o in q.counted))
            rows.append(
                (self.say("row.together"), self.figure(e.value or 0.0), self.span(e), "100",
                 "", "", "", total)
            )  # fmt: skip
        names = ("treatment", "cultivar", "day", "plots")
        heads = (
            self.say("column.trial"),
            self.say(f"column.{self.scale}", comparator=self.comparator),
            self.say("column.interval", level=self.level), self.say("column.weight"),
            *(self.say(f"column.{name}") for name in names),
        )  # fmt: skip
        return TableView(
            "across", self.title(), heads, tuple(rows), (28, 20, 26, 14, 24, 24, 12, 12),
            (1, 3, 6, 7),
        )  # fmt: skip

    def _row(self, one: Found, weight: str | float) -> tuple[str, ...]:
        e, own = one.effect, self.interval(one)
        crop = ", ".join(
            dict.fromkeys(f"{c.cultivar} {c.container}".strip() for c in one.crops) or ("",)
        )
        shown = weight if isinstance(weight, str) else self.fixed(100 * weight, 0)
        return (
            self.trial(one), "–" if own is None or own.value is None else self.figure(own.value),
            "–" if own is None else self.span(own), shown,
            f"{e.treatment_name}\u00a0({e.treatment})", crop or "–",
            "–" if e.day is None else str(e.day), str(e.n_plots),
        )  # fmt: skip

    def chart(self) -> Chart:
        """Return the interval of every counted trial, and the combined one as a diamond."""
        q = self.question
        rows = []
        for one in q.counted:
            own = self.interval(one)
            if own is not None:
                rows.append(self._interval_row(self.trial(one), own, "dot"))
        if q.pooled is not None:
            rows.append(self._interval_row(self.say("row.together"), q.pooled.estimate, "diamond"))
        title = self.say("chart.title", title=self.title(), level=self.level)
        reference = _REFERENCE[self.scale]
        axis = self.say(f"column.{self.scale}", comparator=self.comparator)
        said = [title + "."]
        for row, e in zip(rows, [*map(self.interval, q.counted), self.answer()], strict=False):
            if e is not None and e.value is not None:
                lower, upper = (self.figure(x or 0.0) for x in (e.lower, e.upper))
                text = self.words.text(
                    "trial_report.alt.row", label=row.label, value=self.figure(e.value),
                    lower=lower, upper=upper,
                )  # fmt: skip
                said.append(text)
        note = self.words.text("trial_report.filled", reference=self.number(reference, trim=True))
        if any(row.text for row in rows):
            most = self.number(_AXIS_MOST[self.scale], trim=True)
            note = f"{note} {self.say('chart.cut', most=most)}"
        chart = IntervalChart(tuple(rows), axis, self.number_format["decimal"], reference)
        return Chart("across", title, " ".join(said), note, intervals=chart)

    def _interval_row(self, label: str, e: Estimate, glyph: str) -> IntervalRow:
        most = _AXIS_MOST[self.scale]
        known = [None if x is None else self.read(x) for x in (e.value, e.lower, e.upper)]
        value, lower, upper = (None if x is None else min(x, most) for x in known)
        is_cut = any(x is not None and x > most for x in known)
        is_filled = self.verdict(e) != "not_shown"
        return IntervalRow(label, value, lower, upper, "→" if is_cut else "", is_filled, glyph)
