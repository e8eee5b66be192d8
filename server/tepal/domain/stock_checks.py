"""Overhead water, stock, batches and partners that must not meet, before a treatment.

Twin: web/app/core/stock_checks.js. House rules but for the pair on file: cautions that are answered
with a reason. How long overhead water must wait is the label's, as copied.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from tepal.domain.errors import Finding, text_of
from tepal.domain.label_teller import labelled, shown
from tepal.domain.moments import moment_ms
from tepal.domain.units import quantity_value, unit_of

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

__all__ = ["stock_findings"]

_HOUSE = "house rule (no source)"
_LABEL = "label as copied by the user"
_OVERHEAD = ("spray", "sprench")


def _caution(code: str, message: str, source: str, **context: Any) -> Finding:
    return Finding(code, "caution", message, "products", source, context)


def _note(code: str, message: str, source: str, **context: Any) -> Finding:
    return Finding(code, "note", message, "products", source, context)


def stock_findings(situation: Mapping[str, Any]) -> tuple[Finding, ...]:
    """Return what water, stock, batches and pairs say; `situation` as in `checks`."""
    return (
        *_water_findings(situation),
        *_stock_findings(situation),
        *_pair_findings(situation),
    )


def _water_findings(situation: Mapping[str, Any]) -> list[Finding]:
    """Compare the next overhead watering with the wait that the labels ask for."""
    application = situation.get("application") or {}
    due = situation.get("water_due_at")
    if application.get("method") not in _OVERHEAD:
        return []
    findings: list[Finding] = []
    for product, label in labelled(situation):
        if (product.get("kind") or "product") != "product":
            continue
        name = text_of(product.get("name"))
        wait = label.get("water_wait")
        if wait is None:
            findings.append(
                _note(
                    "checks.water_wait_not_on_file",
                    f"{name}: how long to wait with overhead water is not on file: read the label.",
                    _LABEL,
                    product=name,
                )
            )
            continue
        if due is None:
            continue
        ended = application.get("ended_at")
        start_ms = situation.get("now_ms") if ended is None else moment_ms(ended)
        hours = quantity_value(wait, "time", "water_wait") / 3600
        if start_ms is not None and moment_ms(due) - start_ms < hours * 3_600_000:
            findings.append(
                _caution(
                    "checks.water_due",
                    f"{name}: overhead water is due before the {hours!r} h are over.",
                    _LABEL,
                    product=name,
                    hours=hours,
                    due=text_of(due.get("local"))[11:16],
                )
            )
    return findings


def _stock_findings(situation: Mapping[str, Any]) -> list[Finding]:
    """What is in store, and whether the batch is out of date."""
    stock = situation.get("stock")
    batches = situation.get("batches") or {}
    today = text_of(situation.get("today"))
    findings: list[Finding] = []
    for product, _ in labelled(situation):
        name = text_of(product.get("name"))
        batch = batches.get(product.get("batch") or "")
        until = None if batch is None else batch.get("expires_on")
        if until is not None and until < today:
            findings.append(
                _caution(
                    "checks.batch_out_of_date",
                    f"{name}: the batch is out of date since {until}.",
                    "batch on file",
                    product=name,
                    batch=text_of((batch or {}).get("code")),
                    until=until,
                )
            )
        amount = product.get("amount")
        if stock is None or amount is None:
            continue
        on_hand = stock.get(product.get("product") or "")
        if on_hand is None:
            findings.append(
                _note(
                    "checks.stock_not_on_file",
                    f"{name}: no stock is on file.",
                    _HOUSE,
                    product=name,
                )
            )
            continue
        dimension = unit_of(amount.get("unit")).dimension
        if unit_of(on_hand.get("unit")).dimension != dimension:
            continue
        if quantity_value(amount, dimension, "amount") > quantity_value(
            on_hand, dimension, "stock"
        ):
            findings.append(
                _caution(
                    "checks.stock_short",
                    f"{name}: there is less in store than is needed.",
                    _HOUSE,
                    product=name,
                    on_hand=shown(on_hand),
                    needed=shown(amount),
                )
            )
    return findings


def _partner_names(product: Mapping[str, Any]) -> list[str]:
    names = [text_of(one.get("ai")) for one in product.get("ingredients") or []]
    return [*names, text_of(product.get("name")), text_of(product.get("product"))]


def _pair_findings(situation: Mapping[str, Any]) -> list[Finding]:
    """Partners that are on file as not to be mixed; the same rule as in the mix core."""
    products = [product for product, _ in labelled(situation)]
    pairs: Sequence[Mapping[str, Any]] = situation.get("incompatible_pairs") or []
    findings: list[Finding] = []
    for i, first in enumerate(products):
        for second in products[i + 1 :]:
            ones = _partner_names(first)
            others = _partner_names(second)
            for pair in pairs:
                a = text_of(pair.get("a"))
                b = text_of(pair.get("b"))
                if not a or not b:
                    continue
                if (a in ones and b in others) or (b in ones and a in others):
                    both = " + ".join(
                        sorted([text_of(first.get("name")), text_of(second.get("name"))])
                    )
                    findings.append(
                        Finding(
                            "mix.incompatible_pair",
                            "stop",
                            f"{both} are on file as not to be mixed.",
                            "products",
                            pair.get("source"),
                            {"pair": both, "reason": pair.get("reason")},
                        )
                    )
    return findings
