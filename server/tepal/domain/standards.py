"""Whether a record has what a standard asks for: WPS, restricted-use, EU; requirements as data.

Twin: web/app/core/standards.js, the same table in the same order. Each row names its citation and
its basis: read in a published text, or from memory (to be checked against the official text).

  requirements(standard) -> rows
  standards_for(application, establishment) -> the standards that apply
  completeness(standard, application, establishment, entered_ms) -> Completeness
Fields of an application that only an import of foreign records carries: `applied_on` (a day without
clock time) and `spot` (flagged as a spot treatment).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from tepal.domain.errors import Finding, TepalError, text_of
from tepal.domain.moments import add_days, add_years, moment_ms
from tepal.domain.requirements import (
    COUNTRIES,
    EU_COUNTRIES,
    REGIONS,
    STANDARDS,
    Requirement,
    lacking,
    region_of,
    requirements,
)
from tepal.domain.restriction import application_dates, longest_rei_h
from tepal.domain.units import quantity_value

if TYPE_CHECKING:
    from collections.abc import Mapping

__all__ = [
    "Completeness",
    "StandardError",
    "completeness",
    "product_rei_h",
    "standards_for",
]

_HOUR_MS = 3_600_000
# 7 CFR part 110 was rescinded whole: reported by two sources (90 FR, FR Doc. 2025-08220), the
# original notice was not read.
_RESCINDED_ON = "2025-07-11"


class StandardError(TepalError, ValueError):
    """A standard is not known."""


@dataclass(frozen=True, slots=True)
class Completeness:
    """What a record lacks for one standard, and its dates; None: not asked for, or not known.

    `missing`: Findings `standards.missing_<field>` (caution: required; note: asked for only under a
    condition of which nothing is on file). Context: `about` (product or place), `need`, `basis`.
    `keep_until` None: nothing may be let go.
    """

    standard: str
    missing: tuple[Finding, ...]
    findings: tuple[Finding, ...]
    display_by_ms: float | None
    display_until_ms: float | None
    record_by: str | None
    convert_by: str | None
    keep_until: str | None


def product_rei_h(application: Mapping[str, Any]) -> float | None:
    """Return the interval of a mix in hours from its products; adjuvants have none of their own."""
    intervals: list[float | None] = []
    for product in application.get("products") or []:
        if (product.get("kind") or "product") != "product":
            continue
        stated = product.get("rei")
        intervals.append(None if stated is None else quantity_value(stated, "time", "rei") / 3600)
    return longest_rei_h(intervals)


def standards_for(
    application: Mapping[str, Any], establishment: Mapping[str, Any]
) -> tuple[str, ...]:
    """Return the standards that apply: those that the establishment chose, else by its country.

    The restricted-use ones apply to applications of restricted-use products: for a customer the
    commercial one; else, until 11 July 2025, the private one.
    """
    country = text_of(establishment.get("country")).upper()
    chosen = establishment.get("standards")
    if chosen is None:
        chosen = STANDARDS if country == "US" else ("eu",) if country in EU_COUNTRIES else ()
    is_restricted = any(
        product.get("restricted_use") is True for product in application.get("products") or []
    )
    is_commercial = application.get("customer") is not None
    found: list[str] = []
    for standard in STANDARDS:
        if standard not in chosen or (standard == "eu" and country == "US"):
            continue
        if standard == "commercial_restricted_use" and not (is_restricted and is_commercial):
            continue
        if standard == "private_restricted_use":
            day = _day(application)
            is_past = day is not None and day < _RESCINDED_ON
            if not (is_restricted and is_past) or is_commercial:
                continue
        found.append(standard)
    return tuple(found)


def _day(application: Mapping[str, Any]) -> str | None:
    """Return the local day of the application."""
    for name in ("started_at", "ended_at"):
        moment = application.get(name)
        if moment is not None:
            return text_of(moment.get("local"))[:10]
    return application.get("applied_on")


def completeness(
    standard: str,
    application: Mapping[str, Any],
    establishment: Mapping[str, Any],
    entered_ms: float | None = None,
) -> Completeness:
    """Return what an application lacks for a standard, and by when and how long.

    Parameters
    ----------
    standard : one of requirements.STANDARDS
    application, establishment : mapping   Fields of the records.
    entered_ms : ms or None                When the record was entered, to tell a late display.

    Raises
    ------
    StandardError   `standard.unknown`
    """
    if standard not in STANDARDS:
        raise StandardError(
            "standard.unknown", f"{standard!r} is no standard.", standard=text_of(standard)
        )
    region = region_of(establishment)
    missing: list[Finding] = []
    for row in requirements(standard, region):
        missing += _missing(row, application, establishment)
    findings = _findings(standard, application, region, entered_ms)
    display_by = None
    display_until = None
    rei_end_day: str | None = None
    ended = application.get("ended_at")
    if standard == "wps" and ended is not None:
        dates = application_dates(moment_ms(ended), product_rei_h(application), ended["offset_min"])
        display_by = dates.display_by_ms
        display_until = dates.display_until_ms
        rei_end_day = dates.keep_until
    day = _day(application)
    return Completeness(
        standard,
        tuple(missing),
        findings,
        display_by,
        display_until,
        _record_by(standard, day, region),
        _convert_by(standard, day, establishment),
        _keep_until(standard, day, rei_end_day, establishment, region),
    )


def _missing(
    row: Requirement, application: Mapping[str, Any], establishment: Mapping[str, Any]
) -> list[Finding]:
    if row.need == "optional":
        return []
    asked = _is_asked(row, application, establishment)
    if asked is False:
        return []
    return [
        Finding(
            f"standards.missing_{row.field}" if asked else f"standards.unknown_{row.field}",
            "caution" if asked else "note",
            f"{row.field} is missing.",
            row.field,
            row.citation if row.basis == "read" else f"{row.citation}, from memory",
            {"about": about, "need": row.need, "basis": row.basis},
        )
        for about in lacking(row.field, application, establishment)
    ]


def _is_asked(
    row: Requirement, application: Mapping[str, Any], establishment: Mapping[str, Any]
) -> bool | None:
    """Return whether a row's condition holds; None where nothing is on file about it."""
    if row.condition is None:
        return True
    if row.condition == "not_certified":
        return application.get("operator") != application.get("certified_applicator")
    if row.condition == "germany":
        return text_of(establishment.get("country")).upper() == "DE"
    flags = [
        product.get(row.condition)
        for product in application.get("products") or []
        if (product.get("kind") or "product") == "product"
    ]
    if any(flag is True for flag in flags):
        return True
    return None if any(flag is None for flag in flags) else False


def _findings(
    standard: str, application: Mapping[str, Any], region: str, entered_ms: float | None
) -> tuple[Finding, ...]:
    findings: list[Finding] = []
    ended = application.get("ended_at")
    if standard == "wps" and ended is not None and entered_ms is not None:
        late_ms = entered_ms - (moment_ms(ended) + 24 * _HOUR_MS)
        if late_ms > 0:
            findings.append(
                Finding(
                    "standards.display_late",
                    "caution",
                    "The record came after the 24 h in which it must be displayed.",
                    "ended_at",
                    "40 CFR 170.311(b)(5)",
                    {"hours": late_ms / _HOUR_MS},
                )
            )
    if standard == "private_restricted_use":
        if application.get("spot") is True:
            findings.append(
                Finding(
                    "standards.spot_in_greenhouse",
                    "stop",
                    "Greenhouse and nursery use is never a spot treatment: all fields are needed.",
                    "spot",
                    "7 CFR 110.3(b), read at the Minnesota Department of Agriculture",
                )
            )
        day = _day(application)
        if day is not None and day >= _RESCINDED_ON:
            findings.append(
                Finding(
                    "standards.not_in_force",
                    "note",
                    "7 CFR part 110 is reported as rescinded from 11 July 2025.",
                    None,
                    "90 FR, FR Doc. 2025-08220, as reported",
                )
            )
    products = application.get("products") or []
    if standard == "wps" and region == "WA" and len(products) > 1:
        findings.append(
            Finding(
                "standards.ppe_for_all_products",
                "note",
                "PPE must protect against all products of the mix combined.",
                "ppe_applying_worn",
                "WAC 16-233-116(4)",
            )
        )
    return tuple(findings)


def _record_by(standard: str, day: str | None, region: str) -> str | None:
    """Return by which day the record must be made; a state's 24 h count as the next day."""
    if day is None or standard == "eu":
        return None
    state = REGIONS.get(region)
    if state is not None and state.record_within_days is not None:
        return add_days(day, state.record_within_days)
    # 7 CFR 110.3: within 14 days (University of Florida EDIS PI280; Colorado State note), read
    return add_days(day, 14) if standard == "private_restricted_use" else None


def _convert_by(standard: str, day: str | None, establishment: Mapping[str, Any]) -> str | None:
    """Return by when a record that is not electronic must be: 30 days after use, 2023/564 Art. 3.

    Applies from 2026; 2025/2203 lets a state move it to 2027. A state may shorten the 30 days, or
    allow longer until 2030: neither is known here.
    """
    if standard != "eu" or day is None:
        return None
    country = COUNTRIES.get(text_of(establishment.get("country")).upper())
    starts = "2026-01-01" if country is None else country.conversion_from
    return add_days(day, 30) if day >= starts else None


def _keep_until(
    standard: str,
    day: str | None,
    rei_end_day: str | None,
    establishment: Mapping[str, Any],
    region: str,
) -> str | None:
    """Return the day until which the record is kept at least; the longest of all rules."""
    kept: list[str] = []
    if standard == "wps":
        if rei_end_day is None:
            return None
        kept.append(rei_end_day)
    if day is None:
        return None
    if standard == "eu":
        country = COUNTRIES.get(text_of(establishment.get("country")).upper())
        until = add_years(day, 3)
        # Germany counts the three years from the 1st of January after the use
        kept.append(f"{until[:4]}-12-31" if country is not None and country.by_year else until)
    elif standard != "wps":
        kept.append(add_years(day, 2))
    state = REGIONS.get(region)
    if state is not None and standard != "eu":
        kept.append(add_years(day, state.keep_years))
    house = establishment.get("keep_years")
    if house is not None:
        kept.append(add_years(day, house))
    longest = kept[0]
    for one in kept:
        longest = max(longest, one)
    return longest
