"""Partners of a tank mix: each one's own target turned into product per litre of final solution.

Twin: web/app/core/components.js. A component is a record
`{id, product, target {value, unit}, target_of, target_ai, target_expressed_as, matches}`; see
`rate_of` for what each target means. Nothing is guessed: a target that can mean two things raises.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from tepal.domain.dilution import product_g, product_ml
from tepal.domain.errors import NotFoundError, TepalError, text_of
from tepal.domain.lines import shared_ml_per_container, shared_ml_per_m2
from tepal.domain.ranges import positive
from tepal.domain.strength import Strength, StrengthError, density_g_per_ml, strengths_of
from tepal.domain.units import quantity_value, unit_of

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from tepal.domain.lines import Line

__all__ = [
    "KINDS",
    "AiRate",
    "ComponentError",
    "Rate",
    "rate_of",
    "rates_of",
]

KINDS = ("product", "adjuvant", "formulation_blank", "water_conditioner")


class ComponentError(TepalError, ValueError):
    """A partner of the mix does not say what it aims at, or says what its product cannot do."""


@dataclass(frozen=True, slots=True)
class AiRate:
    """One active ingredient of a partner in the final solution."""

    ai: str
    expressed_as: str
    mg_per_l: float


@dataclass(frozen=True, slots=True)
class Rate:
    """One partner per litre of final solution: mL of a liquid or g of a dry one, and its a.i."""

    id: str
    product_id: str | None
    product_name: str
    kind: str
    physical_form: str
    formulation_type: str | None
    unit: str
    amount_per_l: float
    ais: tuple[AiRate, ...]


def _aimed_strength(
    component: Mapping[str, Any], strengths: Sequence[Strength], name: str
) -> Strength:
    if not strengths:
        raise ComponentError(
            "component.no_active_ingredient",
            f"{name} has no active ingredient; its target is an amount of product.",
            component=name,
        )
    ais = {strength.ai for strength in strengths}
    wanted = component.get("target_ai")
    if wanted is None and len(ais) > 1:
        raise ComponentError(
            "component.target_ai_missing",
            f"{name} has several active ingredients; say which one the target counts.",
            component=name,
            ais=sorted(ais),
        )
    fitting = [strength for strength in strengths if wanted is None or wanted == strength.ai]
    if not fitting:
        raise NotFoundError(
            "component.target_ai_unknown",
            f"{name} does not contain {wanted}.",
            component=name,
            ai=text_of(wanted),
        )
    if len(fitting) == 1:
        return fitting[0]
    counted_as = component.get("target_expressed_as")
    chosen = [strength for strength in fitting if strength.expressed_as == counted_as]
    if len(chosen) != 1:
        raise ComponentError(
            "component.salt_or_acid_equivalent",
            f"{name}: the label states {fitting[0].ai} as {fitting[0].expressed_as} and as "
            f"{fitting[1].expressed_as}; say which one the target counts.",
            component=name,
            ai=fitting[0].ai,
            choices=[strength.expressed_as for strength in fitting],
        )
    return chosen[0]


def _product_per_l_from_ai(mg_per_l: float, strength: Strength, is_dry: bool) -> float:
    if is_dry:
        return product_g(mg_per_l, 1, strength.mg_per_measure)
    return product_ml(mg_per_l, 1, strength.mg_per_measure)


def _ai_mg_per_l(
    component: Mapping[str, Any], dimension: str, lines: Sequence[Line], name: str
) -> float:
    target = component.get("target")
    if dimension == "mass_concentration":
        return positive(quantity_value(target, dimension, "target"), "target")
    if dimension == "mass_per_item":
        mg = positive(quantity_value(target, dimension, "target"), "target")
        return mg * 1000 / shared_ml_per_container(lines)
    if dimension == "mass_per_area":
        mg = positive(quantity_value(target, dimension, "target"), "target")
        return mg * 1000 / shared_ml_per_m2(lines)
    raise ComponentError(
        "component.target_unit",
        f"{name}: a target of {dimension} says nothing about the active ingredient; give mg/L, mg "
        "per container or mg per area, or say that it counts product.",
        component=name,
        dimension=dimension,
    )


def _product_per_l(
    component: Mapping[str, Any], dimension: str, is_dry: bool, lines: Sequence[Line], name: str
) -> float:
    if dimension in {"volume_ratio", "fraction", "volume_per_area"} and is_dry:
        raise ComponentError(
            "component.volume_for_dry_product",
            f"{name} is dry; it is weighed, a volume cannot be measured.",
            component=name,
        )
    if dimension not in {
        "volume_ratio",
        "fraction",
        "volume_per_area",
        "mass_concentration",
        "mass_per_area",
    }:
        raise ComponentError(
            "component.target_unit",
            f"{name}: a target of {dimension} is no rate of product.",
            component=name,
            dimension=dimension,
        )
    amount = positive(quantity_value(component.get("target"), dimension, "target"), "target")
    if dimension in {"volume_per_area", "mass_per_area"}:
        amount = amount * 1000 / shared_ml_per_m2(lines)
    if dimension == "fraction":
        amount = amount * 10
    if dimension in {"mass_concentration", "mass_per_area"}:
        amount = amount / 1000
        if not is_dry:
            density = density_g_per_ml(component["product"])
            if density is None:
                raise StrengthError(
                    "strength.density_missing",
                    f"{name} is a liquid with a rate by weight; its density is needed.",
                    ai=name,
                )
            amount = amount / density
    if amount > 1000:
        raise ComponentError(
            "component.more_than_the_tank",
            f"{name}: {amount!r} mL or g of product do not go into a litre.",
            component=name,
            amount_per_l=amount,
        )
    return amount


def rate_of(component: Mapping[str, Any], lines: Sequence[Line]) -> Rate:
    """Return one partner's product and active ingredients per litre of final solution.

    Parameters
    ----------
    component : mapping
        `product` (see `strength.strengths_of`; `kind` one of KINDS, default 'product') and a
        `target` {value, unit}. `target_of` says what the target counts: 'ai' (default for a product
        with active ingredients) as mg/L, mg per container or mg per area; 'product' (default
        otherwise) as mL/L, % by volume, mass per volume, or an amount of product per area.
    lines : sequence of Line   Asked for their volume only by a dose per container or area.
        salt and an acid equivalent.
    doses : Doses   Volumes behind a dose per container or area.

    Raises
    ------
    ComponentError, StrengthError, TargetAboveStrengthError, NotFoundError, OutOfRangeError,
    UnitError
    """
    product = component.get("product")
    if not isinstance(product, dict):
        raise ComponentError(
            "component.product_missing",
            "A partner of the mix names no product.",
            component=component.get("id"),
        )
    name = text_of(product.get("name")) or text_of(component.get("id"))
    kind = product.get("kind")
    if kind is None or kind == "":
        kind = "product"
    if kind not in KINDS:
        raise ComponentError(
            "component.kind_unknown",
            f"{name}: {kind!r} is no kind of product.",
            component=name,
            kind=text_of(kind),
        )
    strengths = strengths_of(product)
    if kind == "product" and not strengths:
        raise ComponentError(
            "component.ingredients_missing",
            f"{name} has no active ingredient on file; copy it from the label.",
            component=name,
        )
    if kind == "formulation_blank" and strengths:
        raise ComponentError(
            "component.blank_with_ingredient",
            f"{name} is a formulation blank, so it has no active ingredient.",
            component=name,
        )
    is_dry = product["physical_form"] == "dry"
    target = component.get("target")
    dimension = unit_of(target.get("unit") if isinstance(target, dict) else None).dimension
    counts = component.get("target_of") or ("ai" if strengths else "product")
    if counts == "ai":
        aimed = _aimed_strength(component, strengths, name)
        mg_per_l = _ai_mg_per_l(component, dimension, lines, name)
        per_l = _product_per_l_from_ai(mg_per_l, aimed, is_dry)
    elif counts == "product":
        per_l = _product_per_l(component, dimension, is_dry, lines, name)
    else:
        raise ComponentError(
            "component.target_of_unknown",
            f"{name}: a target counts 'ai' or 'product'.",
            component=name,
        )
    return Rate(
        component["id"],
        text_of(product.get("id")) or None,
        name,
        kind,
        product["physical_form"],
        text_of(product.get("formulation_type")) or None,
        "g" if is_dry else "mL",
        per_l,
        tuple(
            AiRate(strength.ai, strength.expressed_as, per_l * strength.mg_per_measure)
            for strength in strengths
        ),
    )


def _blank_rate(component: Mapping[str, Any], matched: Rate, lines: Sequence[Line]) -> Rate:
    """Return a formulation blank at the amount of the product whose formulation it shares."""
    # Any amount does: only the blank's own form and name are read from this rate.
    product = component.get("product")
    is_dry = isinstance(product, dict) and product.get("physical_form") == "dry"
    target = {"value": "1", "unit": "g/L" if is_dry else "mL/L"}
    blank = rate_of({**component, "target": target, "target_of": "product"}, lines)
    if blank.unit != matched.unit:
        raise ComponentError(
            "component.blank_of_other_form",
            f"{blank.product_name} and {matched.product_name} must both be liquid or both dry.",
            component=blank.product_name,
            matched=matched.product_name,
        )
    return Rate(
        blank.id,
        blank.product_id,
        blank.product_name,
        blank.kind,
        blank.physical_form,
        blank.formulation_type,
        blank.unit,
        matched.amount_per_l,
        (),
    )


def rates_of(components: Sequence[Mapping[str, Any]], lines: Sequence[Line]) -> tuple[Rate, ...]:
    """Return every partner's rate, in the order of the records.

    A component with `matches` (a formulation blank, the formulation without its a.i.) takes the
    amount of the component of that id; that one need not be in the tank if it is marked
    `is_reference`, so that a trial's blank can be mixed alone at its product's amount.

    Raises
    ------
    ComponentError   `component.none`, `component.id_missing`, `component.id_twice`,
                     `component.blank_of_other_form` and those of `rate_of`.
    NotFoundError    `component.match_unknown`
    """
    if all(component.get("is_reference") for component in components):
        raise ComponentError("component.none", "The mix has no product.")
    found: dict[str, Rate] = {}
    seen: set[str] = set()
    for component in components:
        key = component.get("id")
        if not isinstance(key, str) or key == "":
            raise ComponentError("component.id_missing", "A partner of the mix has no id.")
        if key in seen:
            raise ComponentError("component.id_twice", f"Two partners are called {key}.", id=key)
        seen.add(key)
        if component.get("matches") is None:
            found[key] = rate_of(component, lines)
    for component in components:
        if component.get("matches") is None:
            continue
        matched = found.get(text_of(component["matches"]))
        if matched is None:
            raise NotFoundError(
                "component.match_unknown",
                f"There is no partner {component['matches']} to match.",
                id=text_of(component["matches"]),
            )
        found[component["id"]] = _blank_rate(component, matched, lines)
    return tuple(
        found[component["id"]] for component in components if not component.get("is_reference")
    )
