"""Applications of a period as data for other programs: JSON and CSV, with a published schema.

The document follows period.schema.json beside this module, published by the server at
`/api/v1/schemas/applications.json`. It holds what Reg. (EC) 1107/2009 Art. 67 and Reg. (EU)
2023/564 ask for (type of use, authorisation number, quantity, location, size, crop with EPPO code,
BBCH) and the fields of the US rules. Reads only.
"""

from __future__ import annotations

import csv
import io
import json
from importlib import resources
from typing import TYPE_CHECKING, Any, Final

from sqlalchemy import select

from tepal import __version__
from tepal.domain.errors import OutOfRangeError
from tepal.domain.moments import day_number
from tepal.domain.standards import completeness, product_rei_h, standards_for
from tepal.services.month import houses_of
from tepal.services.office import amended_among
from tepal.store import records as record_rows
from tepal.store.journal import read_head

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from sqlalchemy.orm import Session as DbSession

    from tepal.sync.merge import RecordState

SCHEMA_ID: Final = "tepal-applications/1"
# site -> type of use of the Annex of Reg. (EU) 2023/564: closed spaces, surfaces
_USE: Final = {
    "greenhouse": "closed_space", "hoop_house": "closed_space", "shade_house": "surface",
    "outdoor": "surface",
}  # fmt: skip
_PRODUCT: Final = (
    "name", "registration_number", "kind", "ingredients", "formulation_type", "target", "amount",
    "batch_code", "restricted_use",
)  # fmt: skip
_MOST_DAYS: Final = 1100  # three years and some days: the longest keeping time but one


def period_schema() -> dict[str, Any]:
    """Return the JSON Schema (draft 2020-12) of the document."""
    text = resources.files("tepal.services").joinpath("period.schema.json").read_text("utf-8")
    found: dict[str, Any] = json.loads(text)
    return found


def period_document(
    db: DbSession, establishment: str, first: str, last: str, *, now: str,
    house: str | None = None, only_of: str | None = None,
) -> dict[str, Any]:  # fmt: skip
    """Return the applications whose start falls on days `first` to `last`, by local date.

    Raises
    ------
    MomentError       `moment.not_a_day`.
    OutOfRangeError   `papers.period`: it ends before it begins, or is longer than 1,100 days.
    """
    days = day_number(last) - day_number(first)
    if not 0 <= days <= _MOST_DAYS:
        raise OutOfRangeError("papers.period", f"{first} to {last} is no period", most=_MOST_DAYS)
    own = record_rows.load(db, establishment, [("establishment", establishment)])
    fields = own["establishment", establishment].fields
    found = [
        one
        for one in _of_period(db, establishment, first, last)
        if (house is None or house in houses_of(one))
        and (only_of is None or only_of in (one.author, one.fields.get("operator")))
    ]
    amended = amended_among(db, establishment, [one.id for one in found])
    head = read_head(db, establishment)
    return {
        "schema": SCHEMA_ID,
        "software": f"Tepal {__version__}",
        "generated_at": now,
        "journal": {"seq": head.seq, "hash": head.hash},
        "establishment": {
            name: fields.get(name) for name in ("name", "address", "country", "region", "zone")
        },
        "period": {"first": first, "last": last},
        "applications": [_application(one, fields, is_amended=one.id in amended) for one in found],
    }


def _of_period(db: DbSession, establishment: str, first: str, last: str) -> list[RecordState]:
    table = record_rows.table_of("application")
    names = record_rows.field_columns("application")
    query = (
        select(table)
        .where(
            table.c.establishment == establishment, table.c.started_on >= first,
            table.c.started_on <= last,
        )
        .order_by(table.c.started_on, table.c.created_seq)
    )  # fmt: skip
    return [record_rows.state_of("application", row, names) for row in db.execute(query)]


def _application(
    record: RecordState, establishment: Mapping[str, Any], *, is_amended: bool
) -> dict[str, Any]:
    fields = record.fields
    started = fields.get("started_at")
    return {
        "id": record.id,
        "revision": record.revision,
        "state": record.state,
        "amended": is_amended,
        "type_of_use": _USE.get(str(fields.get("site"))),
        "date": str(started["local"])[:10] if started else None,
        "started_at": _iso(started),
        "ended_at": _iso(fields.get("ended_at")),
        "rei_h": product_rei_h(fields),
        "method": fields.get("method"),
        "purpose": fields.get("purpose"),
        "products": [
            {name: product.get(name) for name in _PRODUCT}
            for product in fields.get("products") or []
        ],
        "volume": fields.get("volume"),
        "size": fields.get("area"),
        "locations": [
            {
                "house": line.get("house"), "place": line.get("place"), "lot": line.get("lot_code"),
                "crop": line.get("crop"), "crop_eppo": line.get("crop_eppo"),
                "bbch": line.get("bbch"), "stage": line.get("stage"), "size": line.get("area"),
                "n_containers": line.get("n_containers"), "volume": line.get("volume"),
            }
            for line in fields.get("lines") or []
        ],
        "operator": fields.get("operator_name"),
        "certified_applicator": fields.get("certified_applicator_name"),
        "certified_applicator_number": fields.get("certified_applicator_number"),
        "customer": fields.get("customer"),
        "signed": fields.get("signature") is not None,
        "note": fields.get("note"),
        "standards": list(_standards(record, establishment)),
    }  # fmt: skip


def _standards(record: RecordState, establishment: Mapping[str, Any]) -> Iterator[dict[str, Any]]:
    if record.state == "void":
        return
    for name in standards_for(record.fields, establishment):
        found = completeness(name, record.fields, establishment)
        yield {
            "standard": name,
            "missing": [
                {
                    "field": one.field, "about": one.context.get("about") or None,
                    "required": one.severity != "note", "citation": one.source,
                    "basis": one.context.get("basis"),
                }
                for one in found.missing
            ],
            "convert_by": found.convert_by,
            "record_by": found.record_by,
            "keep_until": found.keep_until,
        }  # fmt: skip


def _iso(moment: Any) -> str | None:
    """Return a moment as ISO 8601 with its offset: "2026-05-04T10:30:00-04:00"; None for none."""
    if not isinstance(moment, dict):
        return None
    offset = int(moment["offset_min"])
    sign, size = ("-", -offset) if offset < 0 else ("+", offset)
    return f"{moment['local']}{sign}{size // 60:02d}:{size % 60:02d}"


CSV_COLUMNS: Final = (
    "id", "state", "amended", "type_of_use", "date", "started_at", "ended_at", "rei_h", "method",
    "product", "registration_number", "active_ingredients", "rate", "rate_unit", "amount",
    "amount_unit", "size", "size_unit", "location", "crop", "crop_eppo", "bbch", "lot",
    "operator", "certified_applicator", "certified_applicator_number", "customer", "signed",
    "missing", "keep_until",
)  # fmt: skip


def period_csv(document: Mapping[str, Any]) -> str:
    """Return the document as CSV (RFC 4180): a row for each product of each application."""
    out = io.StringIO()
    writer = csv.DictWriter(out, CSV_COLUMNS, lineterminator="\r\n")
    writer.writeheader()
    for one in document["applications"]:
        for product in one["products"] or [{}]:
            writer.writerow({k: _cell(v) for k, v in _row(one, product).items()})
    return out.getvalue()


def _row(one: Mapping[str, Any], product: Mapping[str, Any]) -> dict[str, Any]:
    plain = {name: one[name] for name in CSV_COLUMNS if name in one and name != "size"}
    actives = "; ".join(
        " ".join(
            str(part)
            for part in (row.get("ai"), *((row.get("strength") or {}).values()), row.get("basis"))
            if part
        )
        for row in product.get("ingredients") or []
    )
    rate, amount = product.get("target") or {}, product.get("amount") or {}
    size = one["size"] or {}
    gaps = [gap["field"] for standard in one["standards"] for gap in standard["missing"]]
    kept = [s["keep_until"] for s in one["standards"]]
    return plain | {
        "product": product.get("name"),
        "registration_number": product.get("registration_number"),
        "active_ingredients": actives,
        "rate": rate.get("value"), "rate_unit": rate.get("unit"),
        "amount": amount.get("value"), "amount_unit": amount.get("unit"),
        "size": size.get("value"), "size_unit": size.get("unit"),
        "location": _each(one, "place"), "crop": _each(one, "crop"),
        "crop_eppo": _each(one, "crop_eppo"), "bbch": _each(one, "bbch"),
        "lot": _each(one, "lot"), "customer": (one["customer"] or {}).get("name"),
        "missing": "; ".join(dict.fromkeys(gaps)),
        "keep_until": "" if not kept or None in kept else max(kept),
    }  # fmt: skip


def _each(one: Mapping[str, Any], name: str) -> str:
    values = [str(line[name]) for line in one["locations"] if line.get(name) is not None]
    return "; ".join(dict.fromkeys(values))


def _cell(value: Any) -> Any:
    """Return a cell; a text that a spreadsheet would run as a formula gets an apostrophe."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, str) and value[:1] in ("=", "+", "-", "@", "\t", "\r"):
        return f"'{value}"
    return "" if value is None else value
