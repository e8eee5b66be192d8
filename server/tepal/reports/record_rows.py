"""Turns one application record into rows on the page: head, lines, facts, changes, notes."""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import zip_longest
from typing import TYPE_CHECKING

from reportlab.lib.units import mm
from reportlab.platypus import Flowable, Spacer

from tepal.reports import theme
from tepal.reports.flowables import (
    Column,
    Node,
    Record,
    Row,
    Stack,
    columns,
    joined,
)
from tepal.reports.lines import Span, TextBlock
from tepal.reports.shapes import Stake
from tepal.reports.values import Marks, ValueSetter

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from tepal.reports.gate import Gate
    from tepal.reports.record import ApplicationRecord, PlaceLine, ProductLine, State, Value
    from tepal.reports.words import Words

_ORDER: tuple[State, ...] = (
    "void",
    "running",
    "undecided",
    "missing",
    "unsigned",
    "amended",
    "complete",
)
_STATE_INK = {
    "void": theme.INK,
    "running": theme.AMBER,
    "undecided": theme.AMBER,
    "missing": theme.AMBER,
    "unsigned": theme.AMBER,
    "amended": theme.SLATE,
    "complete": theme.LEAF,
}
# when | place, lots | area, volume | mix, products | REI, rate | operator | record
_SHARES = (31.3, 53.0, 29.7, 56.0, 38.0, 35.5, 20.5)


def grid(width: float) -> tuple[Column, ...]:
    """Return the seven columns of the record for the width right of the stem, pt."""
    return columns(width, _SHARES, gutter=theme.GUTTER_MM * mm)


@dataclass(slots=True)
class RecordRows:
    """Builds the rows of one record; collects the changes that are told below it."""

    gate: Gate
    words: Words
    marks: Marks
    record: ApplicationRecord
    full_height: float
    width: float
    _values: ValueSetter = field(init=False)

    def __post_init__(self) -> None:
        """Start the account of this record's changes."""
        self._values = ValueSetter(self.words, self.marks, struck=self.record.void is not None)

    def flowable(self) -> Record:
        """Return the record as one flowable."""
        rows: list[Flowable] = []
        if self.record.void is not None:
            rows.append(self._void_row())
        rows.append(self._head())
        rows.extend(self._lines())
        rows.extend(self._below())
        _finished(rows)
        again = self.words.say("papers.record.continued", number=self.record.number)
        return Record(
            rows,
            node=self._node(),
            full_height=self.full_height,
            again=self._wide([Span(again, theme.SMALL_STRONG)]),
            outline=self.gate.printable(f"{self.record.date.text}, {self.record.place.text}"),
        )

    def _node(self) -> Node:
        if self.record.void is not None:
            return "void"
        settled = {"complete", "amended"}
        return "done" if settled.issuperset(self.record.states) else "open"

    # --- spans -----------------------------------------------------------------------------

    def _block(self, *lines: Sequence[Span]) -> Flowable:
        blocks = [TextBlock(self.gate, line) for line in lines if line]
        return blocks[0] if len(blocks) == 1 else Stack(blocks)

    def _say(self, key: str) -> str:
        return self.words.say(key)

    # --- rows ------------------------------------------------------------------------------

    def _void_row(self) -> Row:
        mark = self.record.void
        if mark is None:
            raise AssertionError
        void = Span(self._say("papers.state.void").upper(), theme.STRONG, frame=True)
        told = self.words.say("papers.change", by=mark.by, at=mark.at, reason=mark.reason)
        return self._wide([void, Span(f"  {told}", theme.BODY)])

    def _head(self) -> Row:
        r, say, c = self.record, self._say, grid(self.width)
        clock = self._values.value(r.start, say("papers.field.start"), theme.CLOCK)
        clock.append(Span("–", theme.CLOCK))
        clock += self._values.value(r.end, say("papers.field.end"), theme.CLOCK)
        when = self._block(
            self._values.value(r.date, say("papers.field.date"), theme.STRONG),
            clock,
            [Span(r.number, theme.SMALL)],
        )
        where = self._block(
            self._values.value(r.place, say("papers.field.place"), theme.STRONG),
            self._values.value(
                r.description, say("papers.field.description"), theme.SMALL.but(ink=theme.INK)
            ),
        )
        return Row(
            [
                (c[0], when),
                (c[1], where),
                (c[2], self._quantities(r.area, r.volume)),
                (
                    c[3],
                    self._block(
                        self._values.value(r.mix, say("papers.field.mix"), theme.STRONG),
                        self._values.value(r.method, say("papers.field.method")),
                    ),
                ),
                (c[4], self._restriction()),
                (
                    c[5],
                    self._block(
                        self._values.value(r.operator, say("papers.field.operator"), theme.STRONG),
                        self._values.captioned("papers.field.certificate", r.certificate),
                        self._values.captioned("papers.field.signature", r.signature),
                    ),
                ),
                (c[6], self._state()),
            ],
            pad=2.6,
        )

    def _quantities(self, area: Value, volume: Value) -> Flowable:
        return self._block(
            self._values.value(area, self._say("papers.field.area"), theme.FIGURE),
            self._values.value(volume, self._say("papers.field.volume"), theme.FIGURE),
        )

    def _restriction(self) -> Flowable:
        r = self.record
        until = self._values.value(r.rei_end, self._say("papers.field.rei_end"), theme.STRONG)
        if until:
            until.insert(0, Span(self._say("papers.until") + " ", theme.BODY))
        return self._block(
            self._values.value(r.rei, self._say("papers.field.rei"), theme.FIGURE),
            until,
        )

    def _state(self) -> Flowable:
        lines = [
            [
                Span(
                    self._say(f"papers.state.{state}"),
                    theme.SMALL_STRONG.but(ink=_STATE_INK[state]),
                )
            ]
            for state in _ORDER
            if state in self.record.states
        ]
        if self.record.n_photos:
            lines.append(
                [Span(self.words.count("papers.photos", self.record.n_photos), theme.SMALL)]
            )
        return self._block(*lines)

    def _lines(self) -> Iterable[Row]:
        c = grid(self.width)
        for place, product in zip_longest(self.record.places, self.record.products):
            cells: list[tuple[Column, Flowable]] = []
            if place is not None:
                cells += self._place(place, c)
            if product is not None:
                cells += self._product(product, c)
            # The second hairline starts where lines are printed, so that a lone product line
            # does not look like a line of the places.
            start = 0.0 if place is not None else c[3].x
            yield Row(cells, rule=theme.RULE, rule_from=start, pad=2.0)

    def _place(self, line: PlaceLine, c: tuple[Column, ...]) -> list[tuple[Column, Flowable]]:
        say, struck = self._say, self.record.void is not None
        name = self._values.value(line.crop, say("papers.field.crop"), theme.BODY)
        before = "\n"
        for value, key in ((line.stage, "stage"), (line.plants, "plants")):
            if not value.is_blank:
                name.append(Span(before, theme.SMALL))
                name += self._values.value(value, say(f"papers.field.{key}"), theme.SMALL)
                before = " · "
        return [
            (c[0], self._block(self._values.value(line.bench, say("papers.field.bench")))),
            (c[1], Stake(self.gate, line.lot_code, name, struck=struck)),
            (c[2], self._quantities(line.area, line.volume)),
        ]

    def _product(self, line: ProductLine, c: tuple[Column, ...]) -> list[tuple[Column, Flowable]]:
        say = self._say
        ids = self._values.captioned("papers.field.registration", line.registration)
        batch = self._values.captioned("papers.field.batch", line.batch)
        if ids and batch:
            ids.append(Span(" · ", theme.SMALL))
        product = self._block(
            self._values.value(line.name, say("papers.field.product"), theme.STRONG),
            [*ids, *batch],
            self._values.captioned("papers.field.active_ingredients", line.active_ingredients),
        )
        rate = self._block(
            self._values.value(line.rate, say("papers.field.rate"), theme.FIGURE.but(size=8.4)),
            self._values.captioned("papers.field.label_rei", line.rei),
        )
        amount = self._values.value(line.amount, say("papers.field.amount"), theme.FIGURE)
        return [(c[3], product), (c[4], rate), (joined(c[5], c[6]), self._block(amount))]

    def _wide(self, spans: Sequence[Span]) -> Row:
        return Row([(Column(0.0, self.width), TextBlock(self.gate, spans))], pad=1.4)

    def _below(self) -> Iterable[Row]:
        r, ink = self.record, theme.SMALL.but(ink=theme.INK)
        if r.missing:
            named = ", ".join(r.missing)
            yield self._wide(
                [
                    Span(
                        self._say("papers.record.missing") + " ",
                        theme.SMALL_STRONG.but(ink=theme.STOP),
                    ),
                    Span(named, ink),
                ]
            )
        for line in r.standards:
            yield self._wide(self._values.standard(line))
        spans: list[Span] = []
        for fact in r.facts:
            spans += [
                Span(f"{fact.label} ", theme.SMALL),
                *self._values.value(fact.value, fact.label, ink),
                Span("  ·  ", theme.SMALL),
            ]
        yield self._wide([*spans, Span(r.entered, theme.SMALL)])
        for note in r.notes:
            yield self._wide(
                [
                    Span(self._say("papers.field.note") + " ", theme.SMALL),
                    Span(note, ink, strike=r.void is not None),
                ]
            )
        for told in self._values.told:
            yield self._wide(told)


def _finished(rows: list[Flowable]) -> None:
    """Give a record its strong rule above and air below."""
    if isinstance(rows[0], Row):
        rows[0].rule = theme.RULE_STRONG
    rows.append(Spacer(1, 4))
