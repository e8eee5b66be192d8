"""Order of mixing, partners that must not meet, water and time: what a mix asks for.

Twin: web/app/core/mixing_order.js. The order goes by formulation type (two-letter codes of the
international coding system, CropLife Technical Monograph 2). Source of the order: Country Guide
(Canada), up to emulsifiable concentrates; solutions, surfactants and conditioners from memory.
The label wins even where it contradicts this order (Ontario outreach article on tank mixing).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from tepal.domain.errors import Finding, text_of
from tepal.domain.ranges import positive, within
from tepal.domain.units import decimal_value, quantity_value

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from tepal.domain.components import Rate

__all__ = ["MAX_PARTNERS", "MixingStep", "mix_findings", "mixing_steps", "use_within_h"]

# 'not more than three partners': Ontario outreach article on tank mixing order and jar test.
MAX_PARTNERS = 3

_GUIDE = "Country Guide (Canada), tank mixing order"
_MEMORY = "from memory"
_NO_TYPE = "formulation type not on file: the label decides"

# formulation type -> (rank, source of its place)
_RANKS: dict[str, tuple[int, str]] = {
    "WP": (2, _GUIDE),
    "WG": (2, _GUIDE),
    "DF": (2, _GUIDE),
    "SP": (2, _MEMORY),
    "SG": (2, _MEMORY),
    "ST": (2, _MEMORY),
    "WT": (2, _MEMORY),
    "SC": (3, _GUIDE),
    "CS": (3, _MEMORY),
    "SE": (3, _MEMORY),
    "OD": (3, _MEMORY),
    "EW": (4, _MEMORY),
    "ME": (4, _MEMORY),
    "EC": (4, _GUIDE),
    "DC": (4, _MEMORY),
    "SL": (5, _MEMORY),
}
_CONDITIONER_RANK = (1, _MEMORY)
_ADJUVANT_RANK = (7, _MEMORY)
_UNKNOWN_RANK = (6, _NO_TYPE)


@dataclass(frozen=True, slots=True)
class MixingStep:
    """One partner's place after half the water is in and moving; `source` of that place."""

    component_id: str
    rank: int
    source: str


def _rank(rate: Rate) -> tuple[int, str]:
    if rate.kind == "water_conditioner":
        return _CONDITIONER_RANK
    if rate.kind == "adjuvant":
        return _ADJUVANT_RANK
    return _RANKS.get(rate.formulation_type or "", _UNKNOWN_RANK)


def mixing_steps(rates: Sequence[Rate]) -> tuple[MixingStep, ...]:
    """Return the partners in mixing order; equal ranks keep the order of their ids."""
    steps = []
    for rate in rates:
        rank, source = _rank(rate)
        steps.append(MixingStep(rate.id, rank, source))
    steps.sort(key=lambda step: (step.rank, step.component_id))
    return tuple(steps)


def _names(rate: Rate) -> set[str]:
    """Return what a register may call a partner: its product's id or name, or an a.i. in it."""
    names = {ai.ai for ai in rate.ais}
    names.add(rate.product_name)
    if rate.product_id is not None:
        names.add(rate.product_id)
    return names


def _pair_findings(first: Rate, second: Rate, request: Mapping[str, Any]) -> list[Finding]:
    findings: list[Finding] = []
    ones = _names(first)
    others = _names(second)
    both = " + ".join(sorted([first.product_name, second.product_name]))
    for pair in request.get("incompatible_pairs") or []:
        a = pair.get("a")
        b = pair.get("b")
        if (a in ones and b in others) or (b in ones and a in others):
            findings.append(
                Finding(
                    "mix.incompatible_pair",
                    "stop",
                    f"{both} are on file as not to be mixed.",
                    "components",
                    pair.get("source"),
                    {"pair": both, "reason": pair.get("reason")},
                )
            )
    results = [
        test.get("result")
        for test in request.get("jar_tests") or []
        if any(name in ones for name in test.get("products") or [])
        and any(name in others for name in test.get("products") or [])
    ]
    if "incompatible" in results:
        findings.append(
            Finding(
                "mix.jar_test_failed",
                "stop",
                f"A jar test of {both} failed.",
                "components",
                "jar test on file",
                {"pair": both},
            )
        )
    elif "compatible" not in results:
        findings.append(
            Finding(
                "mix.jar_test_missing",
                "note",
                f"No jar test of {both} is on file.",
                "components",
                "Purdue University PPP-122",
                {"pair": both},
            )
        )
    return findings


def _bound(product: Mapping[str, Any], name: str) -> float | None:
    value = product.get(name)
    return None if value is None else within(decimal_value(value, name), name, 0, 14)


def _water_findings(product: Mapping[str, Any], water: Mapping[str, Any]) -> list[Finding]:
    """Compare the water with the pH and temperature that the user copied from the label."""
    findings: list[Finding] = []
    name = text_of(product.get("name"))
    low = _bound(product, "water_ph_min")
    high = _bound(product, "water_ph_max")
    context: dict[str, Any] = {"component": name, "low": low, "high": high}
    if low is not None or high is not None:
        ph = _bound(water, "ph")
        source = text_of(product.get("water_source")) or "label as copied by the user"
        if ph is None:
            findings.append(
                Finding(
                    "mix.water_ph_unknown",
                    "caution",
                    f"{name} asks for a water pH; measure it.",
                    "water",
                    source,
                    context,
                )
            )
        elif (low is not None and ph < low) or (high is not None and ph > high):
            findings.append(
                Finding(
                    "mix.water_ph_outside",
                    "caution",
                    f"{name}: the water has pH {ph!r}, outside what the product asks for.",
                    "water",
                    source,
                    {**context, "value": ph},
                )
            )
    coldest = _temperature(product, "water_temperature_min")
    warmest = _temperature(product, "water_temperature_max")
    if coldest is not None or warmest is not None:
        degrees = _temperature(water, "temperature")
        source = text_of(product.get("water_source")) or "label as copied by the user"
        context = {"component": name, "low": coldest, "high": warmest}
        if degrees is None:
            findings.append(
                Finding(
                    "mix.water_temperature_unknown",
                    "caution",
                    f"{name} asks for a water temperature; measure it.",
                    "water",
                    source,
                    context,
                )
            )
        elif (coldest is not None and degrees < coldest) or (
            warmest is not None and degrees > warmest
        ):
            findings.append(
                Finding(
                    "mix.water_temperature_outside",
                    "caution",
                    f"{name}: the water has {degrees!r} degC, outside what the product asks for.",
                    "water",
                    source,
                    {**context, "value": degrees},
                )
            )
    return findings


def _temperature(record: Mapping[str, Any], name: str) -> float | None:
    value = record.get(name)
    if value is None:
        return None
    return within(quantity_value(value, "temperature", name), name, -20, 80)


def use_within_h(products: Sequence[Mapping[str, Any]]) -> float | None:
    """Return the shortest use-within time of the products in hours; None if none is on file."""
    shortest: float | None = None
    for product in products:
        stated = product.get("use_within")
        if stated is None:
            continue
        hours = positive(quantity_value(stated, "time", "use_within") / 3600, "use_within")
        if shortest is None or hours < shortest:
            shortest = hours
    return shortest


def mix_findings(
    rates: Sequence[Rate], components: Sequence[Mapping[str, Any]], request: Mapping[str, Any]
) -> tuple[Finding, ...]:
    """Return what is doubtful about a mix: partners, pairs, jar tests, types, water.

    Parameters
    ----------
    rates : the partners in the tank
    components : their records; a `product` may state what its label asks of the water:
        `water_ph_min`, `water_ph_max` (decimal text), `water_temperature_min`,
        `water_temperature_max`, `water_source`
    request : mapping
        `water` {ph, temperature}, `incompatible_pairs` [{a, b, reason, source}] and `jar_tests`
        [{products, result}]; a, b and products are product ids, product names or active
        ingredients.
    """
    findings: list[Finding] = []
    ordered = sorted(rates, key=lambda rate: rate.id)
    if len(ordered) > MAX_PARTNERS:
        findings.append(
            Finding(
                "mix.many_partners",
                "note",
                f"{len(ordered)} partners are more than the {MAX_PARTNERS} usually advised.",
                "components",
                "Ontario outreach article on tank mixing order and jar test",
                {"n": len(ordered), "highest": MAX_PARTNERS},
            )
        )
    findings.extend(
        Finding(
            "mix.formulation_type_unknown",
            "caution",
            f"{rate.product_name}: its formulation type is not on file, so its place in the mixing "
            "order is not known.",
            "components",
            None,
            {"component": rate.product_name},
        )
        for rate in ordered
        if rate.kind in {"product", "formulation_blank"} and rate.formulation_type not in _RANKS
    )
    for i, first in enumerate(ordered):
        for second in ordered[i + 1 :]:
            findings.extend(_pair_findings(first, second, request))
    products = {component["id"]: component["product"] for component in components}
    for rate in ordered:
        findings.extend(_water_findings(products[rate.id], request.get("water") or {}))
    return tuple(findings)
