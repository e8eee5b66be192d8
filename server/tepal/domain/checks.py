"""Checks before mixing and on arrival: the same situation gives the same findings on both sides.

Twin: web/app/core/checks.js.

  check_findings(situation) -> tuple[Finding, ...]
  about_of(finding) -> what it is about, as a row of the application's `checks` names it
  stops(findings) -> those that block starting; never the record
  known_later(before, now) -> what the server knows that was not known when it was done

`situation` is one plain record; every part may be absent. Fields are those of the record kinds:
  today, now_ms        local day "2026-05-04"; server time. heard_ms, skew_ms as in `restriction`
  step                 mixing (default), spraying or done: which PPE must be ticked by now
  application          as planned or done: lines, products with amounts, method, site, started_at
  products             {id: product fields}, the labels that count
  lots                 {id: lot fields}, with the lots that they were made from
  applications         fields of earlier applications of these lots; not void, not this one
  supplier_treatments  fields
  restrictions         fields of the restrictions on the places of this application; not void
  operator             member fields; certificates: fields, of this person
  permit               fields of the trial authority that the order or application names, or null
  sprayer, calibrations   fields; calibrations of this sprayer
  batches              {id: fields}; stock: {product id: quantity on hand}, or null: not kept
  water_due_at         moment of the next overhead watering, or null
  incompatible_pairs   fields
  establishment        fields: country, region, air window, ventilation_parts_add
Where a conflict on a record is open, the caller hands over `stricter.stricter_fields`.
Severity: stop (label ceiling, crop, site or country, minimum interval, forbidden mix, worker in a
restricted area), caution (house rules, answered with a reason), note ("not on file").
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from tepal.domain.errors import Finding, TepalError
from tepal.domain.house_checks import house_findings
from tepal.domain.label_checks import label_findings
from tepal.domain.stock_checks import stock_findings

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

__all__ = ["about_of", "check_findings", "known_later", "stops"]

_ORDER = ("stop", "caution", "note")


def check_findings(situation: Mapping[str, Any]) -> tuple[Finding, ...]:
    """Return all findings, stops first; within a severity in the order of the checks.

    A number on record that cannot be read makes its whole check a caution, never a crash: a person
    stands with the sprayer in hand.
    """
    found: list[Finding] = []
    for part in (label_findings, house_findings, stock_findings):
        try:
            found += part(situation)
        except TepalError as error:
            found.append(
                Finding(
                    "checks.not_readable",
                    "caution",
                    f"A record cannot be read: {error.message}",
                    None,
                    None,
                    {"problem": error.code},
                )
            )
    return tuple(one for severity in _ORDER for one in found if one.severity == severity)


def stops(findings: Sequence[Finding]) -> tuple[Finding, ...]:
    """Return the findings that block starting."""
    return tuple(one for one in findings if one.severity == "stop")


def known_later(before: Sequence[Mapping[str, Any]], now: Sequence[Finding]) -> tuple[Finding, ...]:
    """Return the stops and cautions of `now` that were not there when the operator answered.

    Parameters
    ----------
    before : rows of the application's `checks`: `code` and `about` (product, place or '')
    now : findings of the same checks with what is known now
    """
    told = {(one.get("code"), one.get("about") or "") for one in before}
    return tuple(
        one for one in now if one.severity != "note" and (one.code, about_of(one)) not in told
    )


def about_of(finding: Finding) -> str:
    """Return what a finding is about, as a `checks` row names it."""
    for name in ("product", "place", "sprayer"):
        value = finding.context.get(name)
        if isinstance(value, str) and value != "":
            return value
    return ""
