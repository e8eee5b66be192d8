"""What the labels say about an application: crop, site, method, mix, ceilings, season, interval.

Twin: web/app/core/label_checks.js. Hard stops are the label's ceilings, a crop, site or country not
on it, its minimum interval and what it forbids to mix; a trial authority on file that names the
product turns them into cautions. What a label does not say is "not on file: read the label". The
label is the law; a limit never comes from here.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from tepal.domain.applied import AppliedDose, applied_doses
from tepal.domain.errors import Finding, text_of
from tepal.domain.label_teller import (
    LabelTeller,
    ais_of,
    compare,
    is_permit_valid,
    labelled,
    values_of,
)
from tepal.domain.label_uses import Fit, fit_of, limit_of
from tepal.domain.season_checks import history_findings

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

__all__ = ["label_findings", "permit_findings"]

_FIELDS = (
    ("max_concentration", "per_l", "checks.concentration_above_label"),
    ("max_dose_area", "per_m2", "checks.dose_above_label"),
    ("max_dose_container", "per_container", "checks.dose_above_label"),
)


def permit_findings(situation: Mapping[str, Any]) -> tuple[Finding, ...]:
    """Return what is to be said about the trial authority that the application names."""
    permit = situation.get("permit")
    if permit is None:
        return ()
    context = {"permit": text_of(permit.get("number"))}
    source = "permit on file"
    if not is_permit_valid(permit, situation):
        return (
            Finding(
                "checks.permit_not_valid",
                "caution",
                "The permit is not valid today: it opens nothing.",
                "permit",
                source,
                context,
            ),
        )
    return (
        Finding(
            "checks.permit_crop_fate",
            "caution",
            "Under a permit: what becomes of the crop is laid down.",
            "permit",
            source,
            {**context, "crop_fate": text_of(permit.get("crop_fate"))},
        ),
    )


def label_findings(situation: Mapping[str, Any]) -> tuple[Finding, ...]:
    """Return what the labels of an application's products say; `situation` as in `checks`."""
    application = situation.get("application") or {}
    doses = applied_doses(application)
    findings: list[Finding] = [*permit_findings(situation)]
    pairs = labelled(situation)
    products = [product for product, _ in pairs]
    for number, (product, label) in enumerate(pairs):
        if product["kind"] not in ("product", "adjuvant"):
            continue
        teller = LabelTeller(product, label, situation)
        if not label:
            teller.say(
                "checks.label_not_on_file",
                "note",
                "its label is not on file: read the label.",
                "products",
            )
        else:
            _country(teller, situation)
            _mixing(teller, number, products)
            if product["kind"] == "product":
                _plain(teller)
                for line_number, line in enumerate(application.get("lines") or []):
                    _line(teller, situation, line_number, line, doses)
        findings += teller.findings
    return tuple(findings)


def _country(teller: LabelTeller, situation: Mapping[str, Any]) -> None:
    establishment = situation.get("establishment") or {}
    for field in ("country", "region"):
        label = text_of(teller.label.get(field)).strip().upper()
        here = text_of(establishment.get(field)).strip().upper()
        if label == "":
            if field == "country":
                teller.say(
                    "checks.country_not_on_file",
                    "note",
                    "the country of its label is not on file: read the label.",
                    "products",
                )
        elif here and label.removeprefix("US-") != here.removeprefix("US-"):
            # free text, such as a country's name in full, is for a person to compare
            is_code = field == "country" and len(label) == 2 and len(here) == 2
            teller.say(
                "checks.other_country",
                "stop" if is_code else "caution",
                f"its label is for {label}, not for {here}.",
                "products",
                label=label,
                here=here,
            )


def _mixing(teller: LabelTeller, number: int, products: Sequence[Mapping[str, Any]]) -> None:
    """Compare the partners in the tank with what the label says about mixing and adjuvants."""
    others = [one for i, one in enumerate(products) if i != number]
    partners = [one for one in others if one["kind"] == "product"]
    adjuvants = [one for one in others if one.get("kind") == "adjuvant"]
    rule = teller.label.get("tank_mixing")
    if partners and teller.product["kind"] == "product":
        if rule == "forbidden":
            teller.say("checks.mix_forbidden", "stop", "its label forbids tank mixes.", "products")
        elif rule is None:
            teller.say(
                "checks.mix_not_on_file",
                "note",
                "whether it may be mixed is not on file: read the label.",
                "products",
            )
        elif rule == "listed_only":
            listed = text_of(teller.label.get("tank_mix_partners")).lower()
            for one in partners:
                name = text_of(one.get("name")).strip().lower()
                if not any(word in listed for word in [name, *sorted(ais_of(one))] if word):
                    teller.say(
                        "checks.mix_not_listed",
                        "caution",
                        f"{name} is not among the partners on file.",
                        "products",
                        place=text_of(one.get("name")),
                    )
    if teller.product["kind"] != "product":
        return
    rule = teller.label.get("adjuvants")
    if adjuvants and rule == "forbidden":
        teller.say("checks.adjuvant_forbidden", "stop", "its label forbids adjuvants.", "products")
    elif adjuvants and rule is None:
        teller.say(
            "checks.adjuvant_not_on_file",
            "note",
            "whether an adjuvant may be added is not on file: read the label.",
            "products",
        )
    elif not adjuvants and rule == "required":
        teller.say(
            "checks.adjuvant_required", "caution", "its label asks for an adjuvant.", "products"
        )


def _plain(teller: LabelTeller) -> None:
    """What concerns the product wherever it goes."""
    if teller.label.get("rei") is None:
        teller.say(
            "checks.rei_not_on_file",
            "caution",
            "its REI is not on file: nobody can be told when to enter.",
            "products",
        )
    if teller.label.get("hours_limited") is True:
        teller.say(
            "checks.hours_limited",
            "caution",
            "its label limits the hours of use: read the label.",
            "started_at",
        )


def _line(
    teller: LabelTeller,
    situation: Mapping[str, Any],
    number: int,
    line: Mapping[str, Any],
    doses: Sequence[AppliedDose],
) -> None:
    application = situation["application"]
    place = text_of(line.get("place"))
    lot = (situation.get("lots") or {}).get(line.get("lot") or "") or {}
    crop = {
        "crop": text_of(lot.get("crop")) or text_of(line.get("crop")),
        "crop_eppo": text_of(line.get("crop_eppo")) or text_of(lot.get("crop_eppo")),
    }
    fit = fit_of(teller.label, crop, application.get("site"), application.get("method"))
    _fit(teller, fit, crop, application)
    if not fit.uses:
        return
    mine = [
        dose
        for dose in doses
        if dose.line == number
        and (dose.product, dose.name) == (teller.product.get("product"), teller.name)
    ]
    _ceilings(teller, fit, mine, place)
    if line.get("lot") is not None:
        history_findings(teller, fit, mine, situation, line)
    _stage(teller, fit, line, lot)


def _fit(
    teller: LabelTeller, fit: Fit, crop: Mapping[str, Any], application: Mapping[str, Any]
) -> None:
    name = text_of(crop.get("crop"))
    if fit.without == "uses_not_on_file":
        teller.say(
            "checks.uses_not_on_file",
            "note",
            "no crop, site or ceiling is on file: read the label.",
            "products",
        )
    elif fit.without == "crop":
        teller.say(
            "checks.crop_not_on_label",
            "stop",
            f"{name} is not among the crops on file.",
            "lines",
            place=name,
        )
    elif fit.without == "site":
        site = text_of(application.get("site"))
        teller.say(
            "checks.site_not_on_label",
            "stop",
            f"{site} is not among the sites on file.",
            "site",
            site=site,
        )
    elif fit.without == "method":
        teller.say(
            "checks.method_not_on_label",
            "caution",
            "the method is not among those on file.",
            "method",
            method=text_of(application.get("method")),
        )
    for field in fit.unknown:
        if field == "crop":
            teller.say(
                "checks.crop_not_on_file",
                "note",
                "the crops of this use are not on file: read the label.",
                "lines",
            )
        elif field == "site":
            teller.say(
                "checks.site_not_on_file",
                "note",
                "the sites of this use are not on file: read the label.",
                "site",
            )
        else:
            teller.say(
                "checks.method_not_on_file",
                "note",
                "the methods of this use are not on file: read the label.",
                "method",
            )


def _ceilings(teller: LabelTeller, fit: Fit, doses: Sequence[AppliedDose], place: str) -> None:
    n_on_file = 0
    for field, per, code in _FIELDS:
        limit = limit_of(fit.uses, field, per)
        if limit is None:
            continue
        n_on_file += 1
        compare(teller, limit, code, values_of(limit, doses), place)
    if n_on_file == 0:
        teller.say(
            "checks.ceiling_not_on_file",
            "note",
            "no ceiling is on file: read the label.",
            "products",
        )


def _stage(teller: LabelTeller, fit: Fit, line: Mapping[str, Any], lot: Mapping[str, Any]) -> None:
    place = text_of(line.get("place"))
    ranges = [
        (use.get("bbch_from"), use.get("bbch_to"))
        for use in fit.uses
        if use.get("bbch_from") is not None or use.get("bbch_to") is not None
    ]
    words = next((text_of(use.get("stage")) for use in fit.uses if use.get("stage")), "")
    if not ranges:
        if teller.label.get("stage_limited") is False:
            return
        if words or teller.label.get("stage_limited") is True:
            teller.say(
                "checks.stage_to_compare",
                "caution",
                "its label limits the use to growth stages: compare.",
                "lines",
                stage=words,
            )
        else:
            teller.say(
                "checks.stage_not_on_file",
                "note",
                "whether its label limits the growth stage is not on file: read the label.",
                "lines",
            )
        return
    bbch = line.get("bbch")
    if bbch is None:
        bbch = lot.get("bbch")
    low = min((0 if first is None else first) for first, _ in ranges)
    high = max((99 if last is None else last) for _, last in ranges)
    if bbch is None:
        teller.say(
            "checks.stage_unknown",
            "caution",
            f"its label allows BBCH {low} to {high}; the lot's stage is not on record.",
            "lines",
            place=place,
            low=low,
            high=high,
        )
    elif not any(
        (first is None or bbch >= first) and (last is None or bbch <= last)
        for first, last in ranges
    ):
        teller.say(
            "checks.stage_outside_label",
            "caution",
            f"BBCH {bbch} is outside the label's {low} to {high}.",
            "lines",
            place=place,
            bbch=bbch,
            low=low,
            high=high,
        )
