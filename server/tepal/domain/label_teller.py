"""One product's label, ready to speak about it: findings said once, stops opened by a permit.

Twin: web/app/core/label_teller.js. What `label_checks` and `season_checks` share.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from tepal.domain.errors import Finding, Severity, text_of
from tepal.domain.units import unit_of

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from tepal.domain.applied import AppliedDose
    from tepal.domain.label_uses import LabelLimit

# Amounts on record carry four significant digits: two of them are off by one part in 1000 at most.
CEILING_SLACK = 1.001

_PERS = {"per_l": "L", "per_m2": "m²", "per_container": "pot"}


def _source(product: Mapping[str, Any]) -> str:
    day = text_of(product.get("label_on"))
    return f"label of {day}, as copied" if day else "label as copied by the user"


def ais_of(product: Mapping[str, Any]) -> set[str]:
    """Return the names of a product's active ingredients, for comparison."""
    named = {text_of(one.get("ai")).strip().lower() for one in product.get("ingredients") or []}
    named.discard("")
    return named


def is_permit_valid(permit: Mapping[str, Any], situation: Mapping[str, Any]) -> bool:
    """Return whether a trial authority is valid today; without a last day it is not."""
    today = text_of(situation.get("today"))
    first = permit.get("valid_from")
    last = permit.get("valid_to")
    return last is not None and today <= last and (first is None or today >= first)


class LabelTeller:
    """The label of one product of the application, ready to speak about it."""

    def __init__(
        self, product: Mapping[str, Any], label: Mapping[str, Any], situation: Mapping[str, Any]
    ) -> None:
        self.name = text_of(product.get("name"))
        self.product = product
        self.label = label
        self.source = _source(label)
        permit: Mapping[str, Any] = situation.get("permit") or {}
        is_named = product.get("product") in (permit.get("products") or [])
        is_open = is_named and is_permit_valid(permit, situation)
        self.permit = text_of(permit.get("number")) if is_open else ""
        self.findings: list[Finding] = []
        self.seen: set[str] = set()

    def say(self, code: str, severity: Severity, message: str, field: str, **context: Any) -> None:
        """Add a finding once per product and place; a permit turns a stop into a caution."""
        key = f"{code}\n{context.get('place', '')}\n{context.get('ai', '')}"
        if key in self.seen:
            return
        self.seen.add(key)
        by_permit = severity == "stop" and self.permit != ""
        self.findings.append(
            Finding(
                code,
                "caution" if by_permit else severity,
                f"{self.name}: {message}",
                field,
                self.source,
                {"product": self.name, **context, **({"permit": self.permit} if by_permit else {})},
            )
        )


def values_of(limit: LabelLimit, doses: Sequence[AppliedDose]) -> list[tuple[str, float | None]]:
    """Return (a.i. or '', value) of what a limit counts; None where it is not known."""
    found: list[tuple[str, float | None]] = []
    for dose in doses:
        if limit.is_ai == (dose.ai != ""):
            fits = dose.unit == limit.unit
            by = {
                "per_l": dose.per_l,
                "per_m2": dose.per_m2,
                "per_container": dose.per_container,
            }
            found.append((dose.ai, by[limit.per] if fits else None))
    return found


def compare(
    teller: LabelTeller,
    limit: LabelLimit,
    code: str,
    values: Sequence[tuple[str, float | None]],
    place: str,
) -> None:
    """Say which of the values are above a limit, or not known."""
    stated = unit_of(limit.stated["unit"]).symbol
    shown = {"limit_stated": f"{limit.stated['value']} {stated}", "place": place}
    if not limit.is_readable:
        teller.say(
            "checks.ceiling_not_comparable",
            "caution",
            f"the ceiling of {shown['limit_stated']} cannot be compared: compare it by hand.",
            "products",
            **shown,
        )
        return
    unit = f"{limit.unit}/{_PERS[limit.per]}"
    if not values:
        values = [("", None)]
    for ai, value in values:
        if value is None:
            teller.say(
                "checks.dose_not_known",
                "caution",
                f"the dose is not known, so the ceiling of {shown['limit_stated']} is unchecked.",
                "products",
                **shown,
            )
        elif value > limit.value * CEILING_SLACK:
            teller.say(
                code,
                "stop",
                f"{value!r} {unit} are above the label's {limit.value!r} {unit}.",
                "products",
                **shown,
                ai=ai,
                value=value,
                limit=limit.value,
                unit=unit,
            )


def labelled(situation: Mapping[str, Any]) -> list[tuple[Mapping[str, Any], Mapping[str, Any]]]:
    """Return each product of the application with its label; {} where that is not on file.

    Where a record does not say what kind of product it was, the label does.
    """
    application = situation.get("application") or {}
    labels = situation.get("products") or {}
    found: list[tuple[Mapping[str, Any], Mapping[str, Any]]] = []
    for product in application.get("products") or []:
        label = labels.get(product.get("product") or "") or {}
        kind = product.get("kind") or label.get("kind") or "product"
        found.append(({**product, "kind": kind}, label))
    return found


def shown(quantity: Any) -> str:
    """Return a typed quantity with its symbol; '–' where there is none."""
    if quantity is None:
        return "–"
    return f"{text_of(quantity.get('value'))} {unit_of(quantity.get('unit')).symbol}"
