"""The mixing sheet's view model: a tank mix over chosen places, computed from the office's records.

Reads only; `services/papers.py` stores and prints it. Amounts come from `tank_plan`; a finding that
says stop keeps them off the paper.
"""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Final

from tepal.domain.amounts import amount_text
from tepal.domain.errors import Finding, NotFoundError
from tepal.domain.restriction import longest_rei_h
from tepal.domain.rounding import format_context, format_number, format_quantity
from tepal.domain.tank import tank_plan
from tepal.domain.units import quantity_value
from tepal.reports.mixing_view import MixingSheetView, MixStep, TankLoad
from tepal.reports.print_facts import Caution
from tepal.reports.record import NOTHING, PlaceLine, Value
from tepal.services.mixing import MixJob, TreatedPlace, is_overdue, newest_calibration
from tepal.store import records as record_rows

if TYPE_CHECKING:
    from collections.abc import Iterable

    from sqlalchemy.orm import Session as DbSession

    from tepal.domain.loads import Load, LoadAmount
    from tepal.domain.tank import ComponentPlan, TankPlan
    from tepal.domain.words import Words
    from tepal.services.book_text import TextMaker
    from tepal.services.mixing import Quantity
    from tepal.services.print_base import Book
    from tepal.sync.merge import RecordState

_UNTESTED = "mix.jar_test_missing"


@dataclass(frozen=True, slots=True)
class AskedPlace:
    """A place as it was asked for: ids, and what of it is treated (None: as on file)."""

    bench: str
    lot: str | None
    area: Quantity | None
    n_containers: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class AskedSheet:
    """Which mix over which places, from which tank; `extra` counts before the mix's own."""

    tank_mix: str
    places: tuple[AskedPlace, ...]
    tank: Quantity
    sprayer: str | None = None
    water_ph: str | None = None
    extra: Quantity | None = None
    notes: tuple[tuple[str, dict[str, Any]], ...] = ()

    @property
    def digest(self) -> str:
        """Return 8 hexadecimal digits that are the same for the same order."""
        told = [
            self.tank_mix,
            [[one.bench, one.lot, one.area, one.n_containers] for one in self.places],
            self.tank,
            self.sprayer,
            self.water_ph,
            *([self.extra] if self.extra else []),
        ]
        return hashlib.sha256(json.dumps(told, sort_keys=True).encode()).hexdigest()[:8]


def mixing_sheet_view(book: Book, asked: AskedSheet) -> MixingSheetView:
    """Return the mixing sheet as final text.

    Raises
    ------
    NotFoundError   `mixing.no_such_record`: the office has no such mix, bench, lot or sprayer.
    TepalError      What `tank_plan` raises for a mix that cannot be computed.
    """
    text, words = book.text, book.words
    rows = _Rows(book.db, book.id)
    mix = rows.one("tank_mix", asked.tank_mix)
    sprayer = rows.one("sprayer", asked.sprayer) if asked.sprayer else None
    newest = newest_calibration(rows.all("calibration"), sprayer.id) if sprayer else None
    job = MixJob(
        mix=mix,
        products={row.id: row for row in rows.all("product")},
        places=[rows.place(one) for one in asked.places],
        instruments=rows.all("instrument"),
        tank=asked.tank,
        number_format=text.number_format,
        calibrated=newest.calibrated if newest else None,
        pairs=rows.all("incompatible_pair"),
        jar_tests=rows.all("jar_test"),
        water_ph=asked.water_ph,
        extra=asked.extra,
    )
    plan = tank_plan(job.request())
    teller = _Teller(text, job, plan)
    sprayer_words = _sprayer_words(sprayer, newest.measured_on if newest else "", text, book.now)
    return MixingSheetView(
        **book.facts(),
        cautions=(Caution(words.text("book.caution.label_again")),),
        order=f"M-{asked.digest}",
        planned=NOTHING,
        place=Value(teller.places_text(), required=True),
        mix=Value(str(mix.fields.get("name") or ""), required=True),
        method=Value(words.text(f"choice.tank_mix.method.{plan.method}")),
        volume=Value(plan.volume_text.metric, plan.volume_text.us),
        area=teller.area(),
        rei=Value(teller.rei(), required=True),
        operator=NOTHING,
        sprayer=Value(sprayer_words[0]),
        places=tuple(teller.place_lines()),
        loads=tuple(teller.load(load) for load in plan.loads),
        ppe_mixing=teller.ppe("ppe_mixing"),
        ppe_applying=teller.ppe("ppe_applying"),
        stops=teller.stops(),
        raised=(*teller.asked_notes(asked), *teller.cautions(), *sprayer_words[1]),
        leftovers=teller.leftovers(),
    )


@dataclass(frozen=True, slots=True)
class _Rows:
    db: DbSession
    establishment: str

    def all(self, kind: str) -> list[RecordState]:
        return record_rows.load_all(self.db, self.establishment, kind)

    def one(self, kind: str, record_id: str) -> RecordState:
        found = record_rows.load(self.db, self.establishment, [(kind, record_id)])
        row = found.get((kind, record_id))
        if row is None or row.state == "void":
            raise NotFoundError(
                "mixing.no_such_record", f"the office has no {kind} {record_id}", kind=kind
            )
        return row

    def place(self, asked: AskedPlace) -> TreatedPlace:
        bench = self.one("bench", asked.bench)
        lot = self.one("lot", asked.lot) if asked.lot else None
        house_id = bench.fields.get("house")
        houses = record_rows.load(self.db, self.establishment, [("house", str(house_id))])
        house = houses.get(("house", str(house_id)))
        return TreatedPlace(bench, lot, house, asked.area, asked.n_containers)


def _sprayer_words(
    sprayer: RecordState | None, measured_on: str, text: TextMaker, now: str
) -> tuple[str, list[str]]:
    """Return the sprayer as it is printed, and what is doubtful about it."""
    if sprayer is None:
        return "", []
    name, words = str(sprayer.fields.get("name") or ""), text.words
    if not measured_on:
        return name, [words.text("papers.mixing.never_calibrated", sprayer=name)]
    day = text.day({"local": f"{measured_on}T00:00:00"})
    shown = words.text("papers.mixing.calibrated_on", sprayer=name, day=day)
    if is_overdue(sprayer, measured_on, now[:10]):
        return shown, [words.text("papers.mixing.calibration_overdue", sprayer=name, day=day)]
    return shown, []


@dataclass(frozen=True, slots=True)
class _Teller:
    text: TextMaker
    job: MixJob
    plan: TankPlan

    def _products(self) -> list[RecordState]:
        found = (self.job.products.get(str(one.product_id)) for one in self.plan.components)
        return [row for row in found if row is not None]

    # --- places ------------------------------------------------------------------------------

    def places_text(self) -> str:
        return "; ".join(dict.fromkeys(place.name for place in self.job.places))

    def area(self) -> Value:
        areas = [place.area for place in self.job.places]
        if not areas or any(area is None for area in areas):
            return NOTHING
        m2 = sum(quantity_value(area, "area", "area") for area in areas)
        shown = amount_text(m2, "area", self.text.number_format)
        return Value(shown.metric, shown.us)

    def place_lines(self) -> Iterable[PlaceLine]:
        for place, line in zip(self.job.places, self.plan.lines, strict=True):
            lot = place.lot.fields if place.lot else {}
            cultivar = lot.get("cultivar")
            crop = [lot.get("crop"), f"‘{cultivar}’" if cultivar else None]
            area = place.area
            yield PlaceLine(
                bench=Value(place.name, required=True),
                lot_code=str(lot.get("code") or ""),
                crop=Value(" ".join(str(one) for one in crop if one), required=bool(place.lot)),
                area=Value(self.text.quantity(area), self.text.other_system(area)),
                volume=Value(line.volume_text.metric, line.volume_text.us),
            )

    # --- what stands before mixing -----------------------------------------------------------

    def rei(self) -> str:
        own = [
            row for row in self._products() if (row.fields.get("kind") or "product") == "product"
        ]
        stated = [row.fields.get("rei") for row in own]
        hours = longest_rei_h(
            [quantity_value(one, "time", "rei") / 3600 if one else None for one in stated]
        )
        return "" if hours is None else format_quantity(hours, "h", self.text.number_format)

    def ppe(self, act: str) -> tuple[str, ...]:
        rows = [
            row for row in self._products() if (row.fields.get("kind") or "product") == "product"
        ]
        known = dict.fromkeys(str(row.fields[act]) for row in rows if row.fields.get(act))
        if not known:
            return ()
        unknown = [str(row.fields.get("name")) for row in rows if not row.fields.get(act)]
        words = self.text.words
        return (*known, *(words.text("papers.ppe.unknown_of", product=name) for name in unknown))

    def stops(self) -> tuple[str, ...]:
        return self._told("stop")

    def asked_notes(self, asked: AskedSheet) -> Iterable[str]:
        """Return how what is mixed was reckoned, where the one who asks says so."""
        for code, context in asked.notes:
            shown = {
                name: self.text.quantity(value) if isinstance(value, dict) else value
                for name, value in context.items()
            }
            yield self.text.words.text(code, **shown)

    def cautions(self) -> list[str]:
        found = [*self._told("caution"), *self._told("note")]
        if self.plan.use_within_h is not None:
            time = format_quantity(self.plan.use_within_h, "h", self.text.number_format)
            found.append(self.text.words.text("papers.mixing.use_within", time=time))
        return found

    def _told(self, severity: str) -> tuple[str, ...]:
        found = [one for one in self.plan.findings if one.severity == severity]
        untested = [one for one in found if one.code == _UNTESTED]
        if untested:
            # one sentence for all pairs, where the first of them stands
            pairs = "; ".join(str(one.context["pair"]) for one in untested)
            at = found.index(untested[0])
            found[at] = replace(untested[0], context={"pair": pairs})
        kept = [one for one in found if one not in untested[1:]]
        return tuple(dict.fromkeys(self._finding(one) for one in kept))

    def _finding(self, finding: Finding) -> str:
        names = {place.key: place.name for place in self.job.places}
        context = format_context(finding.context, self.text.number_format)
        if "line" in context:
            context["line"] = names.get(context["line"], context["line"])
        words = self.text.words
        told = words.text(f"finding.{finding.code}", **context)
        if not finding.source:
            return told
        return words.text("papers.mixing.sourced", told=told, source=_source(words, finding.source))

    # --- loads -------------------------------------------------------------------------------

    def load(self, load: Load) -> TankLoad:
        words = self.text.words
        by_id = {one.id: one for one in self.plan.components}
        half, full = load.water_half_text, load.volume_text
        return TankLoad(
            load.numbers,
            full.metric,
            full.us,
            (
                MixStep(
                    "water_first", "", words.text("papers.mixing.detail.half"),
                    _spaced(half.metric), _spaced(half.us),
                ),
                *(
                    step
                    for one in load.amounts
                    for step in self._steps(by_id[one.component_id], one)
                ),
                MixStep(
                    "water_up_to", "", words.text("papers.mixing.detail.full"),
                    _spaced(full.metric), _spaced(full.us),
                ),
            ),
        )  # fmt: skip

    def _steps(self, component: ComponentPlan, amount: LoadAmount) -> Iterable[MixStep]:
        """Return the steps of one partner: two where it is diluted first.

        An amount of the dilution must not be taken for the product's own.
        """
        words, name = self.text.words, component.product_name
        actives = self._actives(component)
        if amount.two_step is not None:
            step = amount.two_step
            error = format_number(step.error_pct, 1, self.text.number_format)
            yield MixStep(
                "product",
                words.text("papers.mixing.dilute", product=name),
                words.text(
                    "papers.mixing.detail.dilute",
                    instrument=step.product.instrument_name,
                    stock=step.stock_text,
                ),
                _spaced(step.product.text),
                "",
            )
            told = words.text(
                "papers.mixing.detail.with", instrument=step.aliquot.instrument_name, error=error
            )
            yield MixStep(
                "product",
                words.text("papers.mixing.of_dilution", product=name),
                "; ".join(one for one in (actives, told) if one),
                _spaced(step.aliquot.text),
                "",
            )
            return
        shown = amount.text.metric if amount.measured is None else amount.measured.text
        detail = "; ".join(one for one in (actives, self._how(amount)) if one)
        yield MixStep("product", name, detail, _spaced(shown), _spaced(amount.text.us))

    def _actives(self, component: ComponentPlan) -> str:
        factor, number_format = self.plan.injector_factor, self.text.number_format
        told = [
            f"{one.ai} {format_quantity(one.mg_per_l * factor, 'mg/L', number_format)}"
            for one in component.ais
        ]
        return ", ".join(told)

    def _how(self, amount: LoadAmount) -> str:
        words = self.text.words
        if amount.measured is None:
            return ""
        error = format_number(amount.measured.error_pct, 1, self.text.number_format)
        code = "papers.mixing.detail.with"
        if amount.measured.n_fills > 1:
            code = "papers.mixing.detail.fills"
        return words.text(
            code,
            instrument=amount.measured.instrument_name,
            n=amount.measured.n_fills,
            error=error,
        )

    # --- afterwards --------------------------------------------------------------------------

    def leftovers(self) -> str:
        words = self.text.words
        told = [
            words.text(
                "papers.mixing.sourced",
                told=words.text(option.code),
                source=_source(words, option.source),
            )
            for option in self.plan.leftover_options
        ]
        if self.plan.extra_l > 0:
            rest = amount_text(self.plan.extra_l * 1000, "volume", self.text.number_format)
            told.insert(0, words.text("papers.mixing.rest", metric=rest.metric, us=rest.us))
        return " ".join(told)


def _spaced(text: str) -> str:
    """Return an amount with a plain space before its unit, as the sheet parts them."""
    return text.replace("\u00a0", " ", 1)


# sources that are words, not citations
_SOURCES: Final = {
    "common practice (no source)": "leftover.source.common_practice",
    "US label texts": "leftover.source.label_texts",
}


def _source(words: Words, source: str) -> str:
    return words.text(_SOURCES[source]) if source in _SOURCES else source
