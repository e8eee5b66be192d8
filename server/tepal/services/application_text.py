"""One application as a paper shows it, each field with what it was before: one teller, 400+ lines.

Struck values are those that changed after the record was signed. Nothing is computed here but the
end of the restricted-entry interval, by the domain's rule.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

from tepal.domain.restriction import longest_rei_h, rei_end_ms
from tepal.domain.units import quantity_value
from tepal.forms.fields import WireField
from tepal.forms.kinds import KINDS
from tepal.reports.record import (
    ApplicationRecord,
    Change,
    Fact,
    PlaceLine,
    ProductLine,
    Rival,
    Value,
    VoidMark,
)
from tepal.services.book_text import TextMaker, utc_of

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping, Sequence

    from tepal.reports.record import StandardLine, State
    from tepal.services.record_story import Step
    from tepal.services.standards_text import StandardsText
    from tepal.sync.merge import RecordState

    Reader = Callable[[Mapping[str, Any]], Any]

_SCHEMA = KINDS["application"].schema
REQUIRED = frozenset(
    name
    for name, one in _SCHEMA.fields.items()
    if isinstance(one, WireField) and one.required_on_paper
)


@dataclass(frozen=True, slots=True)
class ApplicationText:
    """Makes `ApplicationRecord`s; names are those of people and devices by id."""

    text: TextMaker
    people: Mapping[str, str]
    devices: Mapping[str, str]
    standards: StandardsText | None = None
    areas: Mapping[str, Mapping[str, Any]] = field(default_factory=dict)

    def record(
        self,
        record: RecordState,
        story: Sequence[Step],
        conflicts: Sequence[RecordState],
        n_photos: int,
    ) -> ApplicationRecord:
        """Return the application with its struck values, rivals and states.

        `areas` holds the restriction of an application by the application's id.
        """
        fields = record.fields
        late = [step for step in story if step.before is not None and step.before.state == "signed"]
        tell = _Teller(self, fields, late, [c for c in conflicts if "decision" not in c.fields])
        quantity = self.text.quantity
        rei_h = rei_of(fields)
        end = fields.get("ended_at")
        ends = rei_end_ms(utc_of(end).timestamp() * 1000, rei_h) if end else None
        values = {
            "date": tell.value("started_at", self.text.day, is_shared=True),
            "start": tell.value("started_at", self.text.clock),
            "end": tell.value("ended_at", self.text.clock),
            "place": Value(places_text(fields), required=True),
            "description": Value(self._crops(fields), required=True),
            "area": tell.value("area", quantity, self.text.other_system),
            "volume": tell.value("volume", quantity, self.text.other_system),
            "mix": tell.value("mix_name", str),
            "method": tell.value("method", self._method),
            "rei": Value(self._hours(rei_h), required=True),
            "rei_end": Value(
                "" if ends is None else self.text.local_instant(
                    datetime.fromtimestamp(ends / 1000, tz=UTC)
                ),
                required=True,
            ),
            "operator": tell.value("operator_name", str, required="operator"),
            "certificate": Value(self._certificate(fields)),
            "signature": tell.value("signature", self._signature),
            "places": tuple(self._place(tell, i) for i in range(len(fields.get("lines") or []))),
            "products": tuple(
                self._product(tell, i) for i in range(len(fields.get("products") or []))
            ),
            "facts": (*self._facts(tell), *self._more_facts(fields, self.areas.get(record.id))),
        }  # fmt: skip
        made = story[0] if story else None
        draft = ApplicationRecord(
            number=number_of(record, len(story)),
            states=("complete",) if record.state != "void" else ("void",),
            entered=self._entered(made),
            n_photos=n_photos,
            notes=tuple(self._notes(fields)),
            void=self._void(story) if record.state == "void" else None,
            **_without_rules(values),
        )  # fmt: skip
        standards: tuple[StandardLine, ...] = ()
        if self.standards is not None and record.state != "void":
            standards = self.standards.lines(fields, made.made_at if made else None)
        return _finished(draft, values, self._states(record, tell), self.text, standards)

    def _method(self, value: Any) -> str:
        return self.text.words.text(f"choice.tank_mix.method.{value}") if value else ""

    def _hours(self, hours: float | None) -> str:
        return "" if hours is None else self.text.quantity({"value": f"{hours:g}", "unit": "h"})

    def _signature(self, value: Any) -> str:
        if not isinstance(value, dict):
            return ""
        how = value.get("method") or "phone"
        return self.text.words.text(
            f"book.signed.{how}",
            name=str(value.get("name") or ""),
            device=str(value.get("device") or ""),
            time=f"{self.text.day(value.get('at'))} {self.text.clock(value.get('at'))}",
        )

    def _crops(self, fields: Mapping[str, Any]) -> str:
        crops = [str(line.get("crop") or "") for line in fields.get("lines") or []]
        return "; ".join(dict.fromkeys(crop for crop in crops if crop))

    def _place(self, tell: _Teller, i: int) -> PlaceLine:
        line = tell.fields["lines"][i]
        quantity, other = self.text.quantity, self.text.other_system
        return PlaceLine(
            bench=tell.inner("lines", i, "place", str, required=True),
            lot_code=str(line.get("lot_code") or ""),
            crop=tell.inner("lines", i, "crop", str, required=bool(line.get("lot"))),
            stage=tell.inner("lines", i, "stage", str),
            plants=tell.inner("lines", i, "n_containers", self._containers),
            area=tell.inner("lines", i, "area", quantity, other),
            volume=tell.inner("lines", i, "volume", quantity, other),
        )

    def _product(self, tell: _Teller, i: int) -> ProductLine:
        quantity, other = self.text.quantity, self.text.other_system
        is_pesticide = (tell.fields["products"][i].get("kind") or "product") == "product"
        return ProductLine(
            name=tell.inner("products", i, "name", str, required=True),
            registration=tell.inner(
                "products", i, "registration_number", str, required=is_pesticide
            ),
            active_ingredients=tell.inner(
                "products", i, "ingredients", self._ingredients, required=is_pesticide
            ),
            rate=tell.inner("products", i, "target", quantity),
            amount=tell.inner("products", i, "amount", quantity, other, required=True),
            rei=tell.inner("products", i, "rei", quantity, required=is_pesticide),
            batch=tell.inner("products", i, "batch_code", str),
        )

    def _containers(self, value: Any) -> str:
        return self.text.words.text("book.containers", n=int(value))

    def _certificate(self, fields: Mapping[str, Any]) -> str:
        names = ("certified_applicator_name", "certified_applicator_number")
        return " ".join(str(fields[name]) for name in names if fields.get(name))

    def _more_facts(
        self, fields: Mapping[str, Any], area: Mapping[str, Any] | None
    ) -> Iterator[Fact]:
        """Return what stands beside the record: safety data sheets, signs, reopening."""
        say = self.text.words.text
        sheets = [
            f"{product.get('name')} {product['sds_on']}"
            for product in fields.get("products") or []
            if product.get("sds_on")
        ]
        if sheets:
            yield Fact(say("book.fact.sds"), Value("; ".join(sheets)))
        if fields.get("site"):
            yield Fact(say("book.fact.site"), Value(say(f"choice.site.{fields['site']}")))
        if area is None:
            return
        for name in ("signs_up_at", "signs_down_at", "reopened_at"):
            moment = area.get(name)
            by = self.people.get(str(area.get(name.replace("_at", "_by"))), "")
            if moment:
                yield Fact(
                    say(f"book.fact.{name}"), Value(f"{self.moment_text(moment)} {by}".strip())
                )
        for spell in area.get("ventilation") or []:
            sort = say(f"choice.restriction.ventilation.sort.{spell.get('sort')}")
            times = "–".join(
                self.text.clock(spell.get(end)) or "…" for end in ("began_at", "ended_at")
            )
            yield Fact(say("book.fact.ventilation"), Value(f"{sort}, {times}"))

    def _ingredients(self, value: Any) -> str:
        parts = []
        for one in value or []:
            strength = self.text.quantity(one.get("strength"))
            basis = one.get("basis")
            words = self.text.words.text(f"book.basis.{basis}") if basis else ""
            parts.append(" ".join(p for p in (one.get("ai") or "", strength, words) if p))
        return "; ".join(parts)

    def _facts(self, tell: _Teller) -> list[Fact]:
        quantity = self.text.quantity
        readers: list[tuple[str, Callable[[Any], str]]] = [
            ("purpose", str),
            ("air_temperature", quantity),
            ("air_humidity", quantity),
            ("tank_capacity", quantity),
            ("volume_left", quantity),
        ]
        return [
            Fact(self.text.words.text(f"field.application.{name}"), tell.value(name, reader))
            for name, reader in readers
            if tell.fields.get(name) is not None or tell.changes(name, reader)
        ]

    def _notes(self, fields: Mapping[str, Any]) -> list[str]:
        notes = []
        if fields.get("stopped_early"):
            note = str(fields.get("stopped_note") or "")
            notes.append(self.text.words.text("book.stopped_early", note=note))
        if fields.get("entered_later"):
            notes.append(self.text.words.text("book.entered_later"))
        if fields.get("note"):
            notes.append(str(fields["note"]))
        return notes

    def _entered(self, made: Step | None) -> str:
        if made is None:
            return ""
        return self.text.words.text(
            "book.entered",
            name=self.people.get(made.row.member or "", ""),
            device=self.devices.get(made.row.device or "", ""),
            time=self.moment_text(made.made_at),
            received=self.text.instant(made.row.received_at),
        )

    def plain(self, name: str, value: Any) -> str:
        """Return any value of an application as a line of text; lists are counted."""
        if value is None:
            return ""
        if isinstance(value, dict):
            if "unit" in value:
                return self.text.quantity(value)
            return self.moment_text(value) if "local" in value else self._signature(value)
        if isinstance(value, bool):
            return self.text.words.text(f"book.flag.{'yes' if value else 'no'}")
        if isinstance(value, list):
            return self.text.words.text("book.rows", n=len(value))
        if name == "method":
            return self._method(value)
        return str(value)

    def moment_text(self, made_at: Mapping[str, Any]) -> str:
        """Return when an entry was made, by its author's clock."""
        return f"{self.text.day(made_at)} {self.text.clock(made_at)}" if made_at else ""

    def _void(self, story: Sequence[Step]) -> VoidMark:
        last = next(step for step in reversed(story) if step.after.state == "void")
        return VoidMark(
            by=self.people.get(last.row.member or "", ""),
            at=self.moment_text(last.made_at),
            reason=last.reason,
        )

    def _states(self, record: RecordState, tell: _Teller) -> list[State]:
        states: list[State] = []
        if record.state == "void":
            return ["void"]
        if "ended_at" not in record.fields:
            states.append("running")
        if "signature" not in record.fields:
            states.append("unsigned")
        if tell.late:
            states.append("amended")
        return states


class _Teller:
    """Reads one application's fields with their struck values and undecided rivals."""

    def __init__(
        self,
        owner: ApplicationText,
        fields: Mapping[str, Any],
        late: Sequence[Step],
        conflicts: Sequence[RecordState],
    ) -> None:
        self.owner = owner
        self.fields = fields
        self.late = late
        self.conflicts = conflicts

    def value(
        self,
        name: str,
        reader: Callable[[Any], str],
        also: Callable[[Any], str] | None = None,
        *,
        required: str | None = None,
        is_shared: bool = False,
    ) -> Value:
        """Return a field; `is_shared`: another column of the same field shows its changes."""
        now = self.fields.get(name)
        changes = self.changes(name, reader)
        if is_shared:
            changes = tuple(c for c in changes if c.old and c.old != reader(now))
        return Value(
            text="" if now is None else reader(now),
            also="" if also is None or now is None else also(now),
            required=(required or name) in REQUIRED,
            changes=changes,
            rivals=self._rivals(name, reader),
        )

    def inner(
        self,
        name: str,
        i: int,
        inner: str,
        reader: Callable[[Any], str],
        also: Callable[[Any], str] | None = None,
        *,
        required: bool = False,
    ) -> Value:
        """Return a field of a row of a list field; its changes are those of the same row."""
        now = self.fields[name][i].get(inner)

        def old_reader(rows: Any) -> str:
            row = rows[i] if isinstance(rows, list) and len(rows) > i else {}
            return "" if row.get(inner) is None else reader(row[inner])

        current = "" if now is None else reader(now)
        changes = [c for c in self.changes(name, old_reader) if c.old != current]
        rivals = [r for r in self._rivals(name, old_reader) if r.text != current]
        return Value(
            text=current,
            also="" if also is None or now is None else also(now),
            required=required,
            changes=tuple(changes),
            rivals=tuple(rivals),
        )

    def changes(self, name: str, reader: Callable[[Any], str]) -> tuple[Change, ...]:
        """Return what a field was before each amendment of it."""
        found = []
        for step in self.late:
            before = step.before.fields.get(name) if step.before else None
            if before != step.after.fields.get(name):
                found.append(
                    Change(
                        old="" if before is None else reader(before),
                        by=self.owner.people.get(step.row.member or "", ""),
                        at=self.owner.moment_text(step.made_at),
                        reason=step.reason,
                    )
                )
        return tuple(found)

    def _rivals(self, name: str, reader: Callable[[Any], str]) -> tuple[Rival, ...]:
        return tuple(
            Rival(
                text=reader(case.fields.get("other")) if case.fields.get("other") else "",
                by=self.owner.people.get(str(case.fields.get("member")), ""),
                at=self.owner.moment_text(case.fields.get("made_at") or {}),
            )
            for case in self.conflicts
            if case.fields.get("field") == name
        )


def rei_of(fields: Mapping[str, Any]) -> float | None:
    """Return the interval that counts for the mix, h; None where one is not on file."""
    products = [
        p for p in fields.get("products") or [] if (p.get("kind") or "product") == "product"
    ]
    return longest_rei_h(
        [quantity_value(p["rei"], "time", "rei") / 3600 if p.get("rei") else None for p in products]
    )


def places_text(fields: Mapping[str, Any]) -> str:
    """Return the places of an application, each once."""
    places = [str(line.get("place") or "") for line in fields.get("lines") or []]
    return "; ".join(dict.fromkeys(place for place in places if place))


def number_of(record: RecordState, version: int) -> str:
    """Return the record's short id: day of the start, end of its id, version."""
    day = str(record.fields.get("started_at", {}).get("local", "")[:10])
    return f"{day} {record.id[-6:]}, v{max(1, version)}".strip()


def _without_rules(values: Mapping[str, Any]) -> dict[str, Any]:
    """The values with nothing required: a first record that contradicts nothing."""
    loose: dict[str, Any] = {}
    for name, value in values.items():
        if isinstance(value, Value):
            loose[name] = replace(value, required=False, changes=(), rivals=())
        else:
            loose[name] = ()
    return loose


def _finished(
    draft: ApplicationRecord,
    values: Mapping[str, Any],
    states: list[State],
    text: TextMaker,
    standards: tuple[StandardLine, ...],
) -> ApplicationRecord:
    """Put the real values in, with the states that follow from them."""
    missing = [
        text.words.text(f"papers.field.{name}")
        for name, value in values.items()
        if isinstance(value, Value) and value.is_missing
    ]
    everything = [v for v in values.values() if isinstance(v, Value)]
    for row in (*values["places"], *values["products"]):
        everything += [v for v in vars_of(row) if isinstance(v, Value)]
    everything += [fact.value for fact in values["facts"]]
    if draft.void is None:
        if any(value.is_missing for value in everything) or not all(
            line.is_complete for line in standards
        ):
            states.append("missing")
        if any(value.rivals for value in everything):
            states.append("undecided")
    return replace(
        draft,
        states=tuple(states) or ("complete",),
        missing=tuple(missing) if draft.void is None else (),
        standards=standards,
        **dict(values),
    )


def vars_of(row: PlaceLine | ProductLine) -> list[Any]:
    """Return the values of a slotted row."""
    return [getattr(row, name) for name in row.__dataclass_fields__]
