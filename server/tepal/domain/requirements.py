"""The table of what each record standard asks for, and whether a record has it.

Twin: web/app/core/requirements.js, the same rows in the same order. Sources are in each row; 'read'
and 'memory' say whether the number was read in a published text. For the worker protection standard
most paragraphs are from memory: they are guidance to check, with the section number.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from tepal.domain.errors import text_of

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

__all__ = [
    "COUNTRIES",
    "EU_COUNTRIES",
    "REGIONS",
    "REQUIREMENTS",
    "STANDARDS",
    "CountryRule",
    "RegionRule",
    "Requirement",
    "lacking",
    "region_of",
    "requirements",
]

STANDARDS: Final = ("wps", "commercial_restricted_use", "eu", "private_restricted_use")
EU_COUNTRIES: Final = (
    "AT", "BE", "BG", "CY", "CZ", "DE", "DK", "EE", "ES", "FI", "FR", "GR", "HR", "HU", "IE", "IT",
    "LT", "LU", "LV", "MT", "NL", "PL", "PT", "RO", "SE", "SI", "SK",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Requirement:
    """One row: `need` required, conditional or optional; `condition` what a conditional one asks.

    Conditions: hours_limited and stage_limited (of a product's label), not_certified (the operator
    is not the certified applicator), germany.
    """

    standard: str
    field: str
    need: str
    condition: str | None
    citation: str
    basis: str


@dataclass(frozen=True, slots=True)
class RegionRule:
    """What a US state adds: years of keeping, days to record, further fields; with its source."""

    keep_years: int
    record_within_days: int | None
    fields: tuple[str, ...]
    citation: str


@dataclass(frozen=True, slots=True)
class CountryRule:
    """What an EU state does otherwise: start of electronic conversion, keeping by whole years."""

    conversion_from: str
    by_year: bool
    citation: str


_WPS = "40 CFR 170.311(b)(1)"
_COM = "40 CFR 171.303(b)(7)"
_RUP = "7 CFR 110.3(a) (rescinded 2025)"
_EU = "Reg. (EU) 2023/564, Annex"

_ROWS: tuple[tuple[str, str, str, str | None, str, str], ...] = (
    ("wps", "sds", "required", None, f"{_WPS}(i)", "read"),
    ("wps", "product_name", "required", None, f"{_WPS}(ii)", "memory"),
    ("wps", "registration_number", "required", None, f"{_WPS}(ii)", "memory"),
    ("wps", "active_ingredients", "required", None, f"{_WPS}(ii)", "memory"),
    ("wps", "crop", "required", None, f"{_WPS}(iii)", "memory"),
    ("wps", "location", "required", None, f"{_WPS}(iii)", "memory"),
    ("wps", "description", "required", None, f"{_WPS}(iii)", "memory"),
    ("wps", "start", "required", None, f"{_WPS}(iv)", "memory"),
    ("wps", "end", "required", None, f"{_WPS}(iv)", "memory"),
    ("wps", "rei", "required", None, f"{_WPS}(v)", "memory"),
    ("wps", "double_notice", "optional", None, "40 CFR 170.409", "memory"),
    ("wps", "method_class", "optional", None, "40 CFR 170.405", "memory"),
    ("wps", "amount", "optional", None, "not asked by 40 CFR 170.311(b)", "memory"),
    ("wps", "rate", "optional", None, "not asked by 40 CFR 170.311(b)", "memory"),
    ("wps", "size", "optional", None, "not asked by 40 CFR 170.311(b)", "memory"),
    ("wps", "operator", "optional", None, "not asked by 40 CFR 170.311(b)", "memory"),
    ("commercial_restricted_use", "customer_name", "required", None, _COM, "read"),
    ("commercial_restricted_use", "customer_address", "required", None, _COM, "read"),
    ("commercial_restricted_use", "location", "required", None, _COM, "read"),
    ("commercial_restricted_use", "size", "required", None, _COM, "read"),
    ("commercial_restricted_use", "crop", "required", None, _COM, "read"),
    ("commercial_restricted_use", "start", "required", None, _COM, "read"),
    ("commercial_restricted_use", "product_name", "required", None, _COM, "read"),
    ("commercial_restricted_use", "registration_number", "required", None, _COM, "read"),
    ("commercial_restricted_use", "amount", "required", None, _COM, "read"),
    ("commercial_restricted_use", "certified_applicator", "required", None, _COM, "read"),
    ("commercial_restricted_use", "certificate_number", "required", None, _COM, "read"),
    ("commercial_restricted_use", "operator", "conditional", "not_certified", _COM, "read"),
    ("eu", "type_of_use", "required", None, _EU, "read"),
    ("eu", "product_name", "required", None, _EU, "read"),
    ("eu", "authorisation_number", "required", None, _EU, "read"),
    ("eu", "date", "required", None, _EU, "read"),
    ("eu", "start", "conditional", "hours_limited", _EU, "read"),
    ("eu", "quantity", "required", None, f"{_EU}; Reg. (EC) 1107/2009 Art. 67(1)", "read"),
    ("eu", "rate", "optional", None, f"{_EU} (amount per unit)", "memory"),
    ("eu", "location", "required", None, f"{_EU}; Art. 1(2)", "read"),
    ("eu", "size", "required", None, _EU, "read"),
    ("eu", "crop", "required", None, f"{_EU}; Art. 1(3)", "read"),
    ("eu", "crop_eppo", "required", None, f"{_EU}; Art. 1(3)", "read"),
    ("eu", "bbch", "conditional", "stage_limited", f"{_EU}; Art. 1(3)", "read"),
    ("eu", "operator", "conditional", "germany", "PflSchG s. 11; Art. 1(4)", "read"),
    ("private_restricted_use", "product_name", "required", None, f"{_RUP}(1)", "read"),
    ("private_restricted_use", "registration_number", "required", None, f"{_RUP}(1)", "read"),
    ("private_restricted_use", "amount", "required", None, f"{_RUP}(2)", "read"),
    ("private_restricted_use", "location", "required", None, f"{_RUP}(3)", "read"),
    ("private_restricted_use", "size", "required", None, f"{_RUP}(3)", "read"),
    ("private_restricted_use", "crop", "required", None, f"{_RUP}(3)", "read"),
    ("private_restricted_use", "date", "required", None, f"{_RUP}(4)", "read"),
    ("private_restricted_use", "certified_applicator", "required", None, f"{_RUP}(5)", "read"),
    ("private_restricted_use", "certificate_number", "optional", None, f"{_RUP}(5)", "read"),
)  # fmt: skip

REQUIREMENTS: Final[tuple[Requirement, ...]] = tuple(Requirement(*row) for row in _ROWS)

REGIONS: Final[dict[str, RegionRule]] = {
    "PA": RegionRule(3, 1, ("end",), "7 Pa. Code 128.35; Penn State Extension"),
    "WA": RegionRule(7, None, (), "Washington State Department of Agriculture, record page"),
    "NC": RegionRule(3, None, (), "North Carolina record summary table"),
    "TX": RegionRule(2, None, ("start", "purpose", "rate", "equipment"), "4 TAC 7.31"),
}
_REGION_NAMES = {
    "PENNSYLVANIA": "PA",
    "WASHINGTON": "WA",
    "NORTH CAROLINA": "NC",
    "TEXAS": "TX",
}

COUNTRIES: Final[dict[str, CountryRule]] = {
    "DE": CountryRule("2027-01-01", True, "reported use of Reg. (EU) 2025/2203, news item"),
    "ES": CountryRule("2027-01-01", False, "reported use of Reg. (EU) 2025/2203, news item"),
}


def region_of(establishment: Mapping[str, Any]) -> str:
    """Return the two letters of a US state that a rule is known for, or ''."""
    if text_of(establishment.get("country")).upper() not in ("US", ""):
        return ""
    region = text_of(establishment.get("region")).strip().upper().removeprefix("US-")
    name = _REGION_NAMES.get(region, region)
    return name if name in REGIONS else ""


def requirements(standard: str, region: str = "") -> tuple[Requirement, ...]:
    """Return the rows of a standard; a US state's additions are required on top."""
    rows = [row for row in REQUIREMENTS if row.standard == standard]
    state = REGIONS.get(region)
    if state is None or standard == "eu":
        return tuple(rows)
    held = [row.field for row in rows if row.need == "required"]
    rows += [
        Requirement(standard, field, "required", None, state.citation, "read")
        for field in state.fields
        if field not in held
    ]
    return tuple(rows)


def _has(value: Any) -> bool:
    return value is not None and value not in ("", [])


def _registered(product: Mapping[str, Any], country: str) -> bool:
    """A number of another country's register is no number here."""
    origin = text_of(product.get("country")).upper()
    return _has(product.get("registration_number")) and origin in ("", country)


def _of_product(field: str, product: Mapping[str, Any], country: str) -> bool:
    if field == "product_name":
        return _has(product.get("name"))
    if field == "registration_number":
        return _registered(product, "US")
    if field == "authorisation_number":
        return _registered(product, country)
    if field == "active_ingredients":
        ingredients = product.get("ingredients") or []
        return ingredients != [] and all(_has(one.get("ai")) for one in ingredients)
    if field == "sds":
        return _has(product.get("sds_on"))
    if field == "quantity":
        return _has(product.get("amount")) or _has(product.get("target"))
    if field == "rate":
        return _has(product.get("target"))
    return _has(product.get(field))


def _of_line(field: str, line: Mapping[str, Any], application: Mapping[str, Any]) -> bool:
    if field == "crop":
        return _has(line.get("crop")) or _has(application.get("site"))
    if field == "location":
        return _has(line.get("place")) or _has(line.get("house"))
    if field == "description":
        return _has(line.get("bench")) or _has(application.get("area_described"))
    return _has(line.get(field))


_PRODUCT_FIELDS = (
    "product_name", "registration_number", "authorisation_number", "active_ingredients", "sds",
    "rei", "double_notice", "amount", "quantity", "rate",
)  # fmt: skip
_LINE_FIELDS = ("crop", "crop_eppo", "location", "description", "bbch")
# field of a standard -> field of the application
_PLAIN_FIELDS: dict[str, str] = {
    "start": "started_at",
    "end": "ended_at",
    "method_class": "method_class",
    "operator": "operator_name",
    "certified_applicator": "certified_applicator_name",
    "certificate_number": "certified_applicator_number",
    "type_of_use": "site",
    "purpose": "purpose",
    "equipment": "sprayer",
}


def lacking(
    field: str, application: Mapping[str, Any], establishment: Mapping[str, Any]
) -> tuple[str, ...]:
    """Return what lacks a field of a standard: names of products or places, '' for the record.

    An empty tuple: nothing lacks it. A record without any product or place lacks their fields.
    """
    if field in _PRODUCT_FIELDS:
        country = text_of(establishment.get("country")).upper()
        products = [
            one
            for one in application.get("products") or []
            if (one.get("kind") or "product") == "product"
        ]
        if not products:
            return ("",)
        return tuple(
            text_of(one.get("name")) for one in products if not _of_product(field, one, country)
        )
    lines: Sequence[Mapping[str, Any]] = application.get("lines") or []
    if field in _LINE_FIELDS:
        if not lines:
            return ("",)
        return tuple(
            text_of(one.get("place")) for one in lines if not _of_line(field, one, application)
        )
    return () if _has_plain(field, application, lines) else ("",)


def _has_plain(
    field: str, application: Mapping[str, Any], lines: Sequence[Mapping[str, Any]]
) -> bool:
    if field == "date":
        return _has(application.get("started_at")) or _has(application.get("applied_on"))
    if field == "size":
        if _has(application.get("area")):
            return True
        return lines != [] and all(
            _has(one.get("area")) or _has(one.get("n_containers")) for one in lines
        )
    if field in ("customer_name", "customer_address"):
        customer = application.get("customer") or {}
        return _has(customer.get(field.removeprefix("customer_")))
    return _has(application.get(_PLAIN_FIELDS[field]))
