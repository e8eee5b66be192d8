"""What each treatment of a trial received: active ingredients with their rates, method, volumes.

Pure: records in, rows out. Of an own trial they follow from its applications, mixes and labels; a
trial that came in a file carries them, as `received` and `crops` of its record.
"""

from __future__ import annotations

import json
from collections import defaultdict
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from tepal.domain.components import rates_of
from tepal.domain.errors import TepalError, text_of
from tepal.domain.lines import Line
from tepal.domain.rounding import decimal_text, significant_decimals
from tepal.domain.units import quantity_value

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from tepal.sync.merge import RecordState


@dataclass(frozen=True, slots=True)
class Dose:
    """What one tank held and how it was put on; `ais` are (a.i., mg per litre), in their order.

    `others` are partners without an a.i. (adjuvant, formulation blank). `ml_per_container` and
    `ml_per_m2` are None where not on file. `n_applications` is None where nobody recorded any.
    """

    ais: tuple[tuple[str, float], ...]
    method: str
    ml_per_container: float | None = None
    ml_per_m2: float | None = None
    n_applications: int | None = None
    products: str = ""
    others: str = ""


@dataclass(frozen=True, slots=True)
class Crop:
    """A crop as a lot names it."""

    crop: str
    eppo: str = ""
    cultivar: str = ""
    container: str = ""


@dataclass(frozen=True, slots=True)
class Registers:
    """The records that say what a mix holds, by id."""

    mixes: Mapping[str, RecordState]
    products: Mapping[str, RecordState]
    lots: Mapping[str, RecordState]


def dose_of_mix(mix: Mapping[str, Any], products: Mapping[str, RecordState]) -> Dose | None:
    """Return what a tank mix of the register holds; None where label or target do not say."""
    per_item, per_area = mix.get("volume_per_container"), mix.get("volume_per_area")
    components, names, others = [], [], []
    for number, row in enumerate(mix.get("components") or (), start=1):
        product = products.get(str(row.get("product")))
        if product is None:
            return None
        found = {k: v for k, v in row.items() if k not in ("matches", "product")}
        if row.get("matches"):
            found["matches"] = str(row["matches"])
        fields = {"id": product.id, **product.fields}
        components.append({**found, "id": str(number), "product": fields})
    try:
        ml = None if not per_item else quantity_value(per_item, "volume_per_item", "volume")
        ml_m2 = None if not per_area else quantity_value(per_area, "volume_per_area", "volume")
        rates = rates_of(components, (Line("mix", None, None, 1.0, None, ml_m2, None, ml, None),))
    except TepalError:
        return None
    ais: dict[str, float] = {}
    for rate in rates:
        names.append(rate.product_name)
        # a label that states salt and acid equivalent says one substance twice: the larger counts
        largest: dict[str, float] = {}
        for one in rate.ais:
            largest[one.ai] = max(largest.get(one.ai, 0.0), one.mg_per_l)
        for ai, mg_per_l in largest.items():
            key = _plain(ai)
            ais[key] = ais.get(key, 0.0) + mg_per_l
        if not rate.ais and rate.kind != "water_conditioner":
            others.append(rate.product_name)
    return Dose(
        tuple(sorted(ais.items())), text_of(mix.get("method")), ml, ml_m2, None,
        ", ".join(names), ", ".join(sorted(others)),
    )  # fmt: skip


def received_of(
    trial: Mapping[str, Any], applications: Iterable[RecordState], registers: Registers
) -> dict[int, Dose]:
    """Return treatment number -> what it received; a treatment without an answer is not in it.

    A treatment that got two different tanks, or one nobody can read, has no answer.
    """
    if trial.get("elsewhere"):
        found = _received_elsewhere(trial.get("received") or ())
        told = {
            int(row["treatment"]) for row in trial.get("received") or () if row.get("treatment")
        }
        # what the file did not say, the office looked up and named a mix of this register for
        linked = {
            int(row["number"]): dose
            for row in trial.get("treatments") or ()
            if row.get("number") and int(row["number"]) not in told
            and (mix := registers.mixes.get(text_of(row.get("tank_mix")))) is not None
            and (dose := dose_of_mix(mix.fields, registers.products)) is not None
        }  # fmt: skip
        return found | linked
    tanks: dict[int, list[tuple[str, str]]] = defaultdict(list)
    for one in applications:
        tank = text_of(one.fields.get("tank_mix")), text_of(one.fields.get("method"))
        rows = one.fields.get("plots") or ()
        got = {row.get("actual") or row.get("planned") for row in rows}
        for number in {int(n) for n in got if n}:
            tanks[number].append(tank)
    found = {}
    for row in trial.get("treatments") or ():
        number = row.get("number")
        put_on = tanks.get(number, [])
        different = set(put_on) or {(text_of(row.get("tank_mix")), "")}
        mix_id, method = next(iter(different))
        mix = registers.mixes.get(mix_id)
        dose = None if mix is None else dose_of_mix(mix.fields, registers.products)
        if number is None or len(different) > 1 or dose is None:
            continue
        found[number] = replace(
            dose, method=method or dose.method, n_applications=len(put_on) or None
        )
    return found


def crops_of(trial: Mapping[str, Any], lots: Mapping[str, RecordState]) -> tuple[Crop, ...]:
    """Return the crops of a trial, one for each lot; () where none is on file."""
    if trial.get("elsewhere"):
        rows: Sequence[Mapping[str, Any]] = trial.get("crops") or ()
    else:
        rows = [lots[lot].fields for lot in trial.get("lots") or () if lot in lots]
    return tuple(
        Crop(
            text_of(row.get("crop")), text_of(row.get("crop_eppo")).strip().upper(),
            text_of(row.get("cultivar")), text_of(row.get("container")),
        )
        for row in rows
    )  # fmt: skip


def received_rows(found: Mapping[int, Dose]) -> list[dict[str, Any]]:
    """Return doses as rows of the record's `received`, one for each a.i. of a treatment."""
    rows = []
    for number, dose in sorted(found.items()):
        shared: dict[str, Any] = {"treatment": number, "method": dose.method or None}
        if dose.ml_per_container is not None:
            shared["volume_per_container"] = _quantity(dose.ml_per_container, "mL/{pot}")
        if dose.ml_per_m2 is not None:
            shared["volume_per_area"] = _quantity(dose.ml_per_m2, "mL/m2")
        shared |= {
            "applications": dose.n_applications, "products": dose.products[:400] or None,
            "others": dose.others[:400] or None,
        }  # fmt: skip
        for ai, mg_per_l in dose.ais or (("", None),):
            own = {"ai": ai, "rate": _quantity(mg_per_l, "mg/L")} if mg_per_l is not None else {}
            rows.append({k: v for k, v in {**shared, **own}.items() if v is not None})
    return rows


def _received_elsewhere(rows: Sequence[Mapping[str, Any]]) -> dict[int, Dose]:
    of: dict[int, list[Mapping[str, Any]]] = defaultdict(list)
    for row in rows:
        if row.get("treatment"):
            of[int(row["treatment"])].append(row)
    found = {}
    for number, own in of.items():
        shared = [
            json.dumps({k: v for k, v in r.items() if k not in ("ai", "rate")}, sort_keys=True)
            for r in own
        ]
        if len(set(shared)) > 1 or any(bool(r.get("ai")) != bool(r.get("rate")) for r in own):
            continue  # two different tanks, or an a.i. without its rate
        first = own[0]
        per_item, per_area = first.get("volume_per_container"), first.get("volume_per_area")
        ais = {
            _plain(text_of(r["ai"])): quantity_value(r["rate"], "mass_concentration", "rate")
            for r in own
            if r.get("ai")
        }
        found[number] = Dose(
            tuple(sorted(ais.items())),
            text_of(first.get("method")),
            quantity_value(per_item, "volume_per_item", "volume") if per_item else None,
            quantity_value(per_area, "volume_per_area", "volume") if per_area else None,
            first.get("applications"),
            text_of(first.get("products")),
            text_of(first.get("others")),
        )
    return found


def _plain(ai: str) -> str:
    return " ".join(ai.lower().split())


def _quantity(value: float, unit: str) -> dict[str, str]:
    text = decimal_text(value, min(9, significant_decimals(value, 6)))
    # six digits are what the reckoning gives; zeros behind the point would claim a reading
    return {"value": text.rstrip("0").rstrip(".") if "." in text else text, "unit": unit}
