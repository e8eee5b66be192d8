"""What should have been left of the products at the start of an application, by the whole book.

Twin: web/app/state/stock.js, which a phone asks with what it has heard. Reads nothing: records in.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from tepal.domain.errors import TepalError
from tepal.domain.moments import moment_ms
from tepal.domain.rounding import decimal_text
from tepal.domain.stock import StockMove, batch_left
from tepal.domain.units import to_base, unit_of

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from tepal.sync.merge import RecordState

_MEASURES = ("volume", "mass")


def on_hand(
    batches: Sequence[RecordState],
    counts: Sequence[Mapping[str, Any]],
    applications: Sequence[Mapping[str, Any]],
    products: Mapping[str, Mapping[str, Any]],
    at: Mapping[str, Any],
) -> dict[str, dict[str, str]] | None:
    """Return {product: quantity in mL or g} just before a moment; None: no stock is kept here.

    A product whose batches can't be reckoned is left out: then nothing is said of it.

    Parameters
    ----------
    batches : records; one received after that day was not there
    counts, applications : fields; only what was before the moment counts
    products : {id: fields}, for the density
    at : moment of the start
    """
    if not batches:
        return None
    until, day = moment_ms(at), str(at["local"])[:10]
    left: dict[str, list[tuple[str, float] | None]] = {}
    for batch in batches:
        if str(batch.fields.get("received_on") or "") > day:
            continue
        product = str(batch.fields.get("product") or "")
        one = _left(batch, counts, applications, products.get(product) or {}, until)
        left.setdefault(product, []).append(one)
    found = {}
    for product, ones in left.items():
        known = [one for one in ones if one is not None]
        measures = {measure for measure, _ in known}
        if len(known) == len(ones) and len(measures) == 1:
            total = sum(max(amount, 0.0) for _, amount in known)
            unit = "g" if measures == {"mass"} else "mL"
            found[product] = {"value": decimal_text(total, 3).rstrip("0").rstrip("."), "unit": unit}
    return found


def _left(
    batch: RecordState,
    counts: Sequence[Mapping[str, Any]],
    applications: Sequence[Mapping[str, Any]],
    product: Mapping[str, Any],
    until: float,
) -> tuple[str, float] | None:
    """Return (measure, mL or g) of one batch, or None where it can't be reckoned."""
    amount = batch.fields.get("amount")
    if not amount or unit_of(amount["unit"]).dimension not in _MEASURES:
        return None
    measure = unit_of(amount["unit"]).dimension
    used: list[StockMove] = []
    for application in applications:
        for line in application.get("products") or []:
            density = line.get("density") or product.get("density")
            if line.get("batch") == batch.id:
                used += _move(application.get("started_at"), line.get("amount"), measure, density)
    counted: list[StockMove] = []
    for count in counts:
        if count.get("batch") == batch.id:
            move = _move(
                count.get("counted_at"), count.get("amount"), measure, product.get("density")
            )
            if not move:
                return None
            counted += [one for one in move if one.at_ms <= until]
    before = [one for one in used if one.at_ms < until]
    return measure, batch_left(to_base(float(amount["value"]), amount["unit"]), before, counted)


def _move(at: Any, amount: Any, measure: str, density: Any) -> list[StockMove]:
    """Return the move, or nothing where time or amount can't be read in the batch's measure."""
    if at is None or not amount:
        return []
    try:
        own = unit_of(amount["unit"]).dimension
        base = to_base(float(amount["value"]), amount["unit"])
        if own != measure:
            if own not in _MEASURES or not density:
                return []
            g_per_ml = float(density["value"])  # the only unit a density is entered in
            base = base * g_per_ml if measure == "mass" else base / g_per_ml
        return [StockMove(moment_ms(at), base)]
    except TepalError:
        return []
