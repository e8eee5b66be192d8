"""A filled nursery for the register pages: places with positions, stock, uses, what is restricted.

Invented throughout, on top of the demo; entered by the manager over HTTP, as an office would.
"""

from __future__ import annotations

import uuid
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from support.http_desk import HttpDesk


def q(value: str, unit: str) -> dict[str, str]:
    """Return a stored quantity."""
    return {"value": value, "unit": unit}


def moment(at: datetime) -> dict[str, Any]:
    """Return a record's moment, as a clock on the wall in UTC shows it."""
    return {"local": f"{at:%Y-%m-%dT%H:%M:%S}", "offset_min": 0, "zone": "Etc/UTC"}


def create(desk: HttpDesk, kind: str, fields: dict[str, Any], record: str | None = None) -> str:
    """Send one creation; return the record's id."""
    made = record or str(uuid.uuid4())
    changes = {name: (None, value) for name, value in fields.items()}
    outcome = desk.send(kind, "create", changes, record=made)
    assert outcome == "accepted", (kind, outcome)
    return made


def change(desk: HttpDesk, kind: str, record: str, fields: dict[str, Any]) -> None:
    """Send one change of a record as it stands."""
    before = desk.record(kind, record)["fields"]
    outcome = desk.send(
        kind,
        "change",
        {name: (before.get(name), value) for name, value in fields.items()},
        record=record,
    )
    assert outcome == "accepted", (kind, outcome)


def by_name(desk: HttpDesk, kind: str, name: str) -> str:
    """Return the id of the record whose name or code this is."""
    named = (
        str(one["id"])
        for one in desk.records[kind]
        if name in (one["fields"].get("name"), one["fields"].get("code"))
    )
    return next(named)


def application(desk: HttpDesk, started: datetime, ended: datetime | None, **more: Any) -> str:
    """Log an application of the first product on the first bench."""
    product = by_name(desk, "product", more.pop("product", "Stemwright SL"))
    fields = next(one["fields"] for one in desk.records["product"] if one["id"] == product)
    bench, lot = by_name(desk, "bench", "Bench 1"), by_name(desk, "lot", more.pop("lot", "1·07"))
    names = ("name", "registration_number", "ingredients", "rei", "label_on", "kind")
    applied = {
        "product": product,
        "amount": more.pop("amount", q("60", "mL")),
        "target": q("900", "mg/L"),
        **{name: fields[name] for name in names if name in fields},
        **({"batch": more.pop("batch")} if "batch" in more else {}),
    }
    lines = [
        {
            "bench": bench, "lot": lot, "house": by_name(desk, "house", "House 1"),
            "place": "House 1, Bench 1", "lot_code": "1·07", "crop": "Lantana ‘Copperline’",
            "area": q("39.6", "m2"), "volume": q("7.92", "L"),
        }
    ]  # fmt: skip
    return create(
        desk,
        "application",
        {
            "lines": lines, "products": [applied], "mix_name": "Height, bedding", "method": "spray",
            "volume": q("7.92", "L"), "area": q("39.6", "m2"), "operator": desk.member,
            "operator_name": desk.name, "started_at": moment(started),
            **({"ended_at": moment(ended)} if ended else {}),
            **({"signature": {"member": desk.member, "name": desk.name, "method": "password",
                "at": moment(ended)}} if ended else {}),
            **more,
        },
    )  # fmt: skip


def fill(desk: HttpDesk) -> dict[str, str]:
    """Fill the registers; return the ids that tests and pictures ask for."""
    now = datetime.now(UTC)
    establishment = desk.records["establishment"][0]["id"]
    change(
        desk,
        "establishment",
        establishment,
        {
            "medical_facility": {
                "name": "Harlow County Clinic", "address": "12 Mill Road, Harlow",
                "phone": "+1 555 0100",
            },
            "pesticide_agency": {
                "name": "State Department of Agriculture", "address": "1 Capitol Square",
                "phone": "+1 555 0140",
            },
            "eyewash": "House 1, right of the door; mixing room, beside the sink",
            "spill": "Keep people away, cover with absorbent, sweep into the marked drum.",
            "currency": "USD", "standards": ["wps"],
        },
    )  # fmt: skip
    house = by_name(desk, "house", "House 1")
    change(desk, "house", house, {"length": q("24", "m"), "width": q("9.6", "m")})
    for number, x in ((1, "0.6"), (2, "3.0"), (3, "5.4")):
        bench = by_name(desk, "bench", f"Bench {number}")
        change(desk, "bench", bench, {"x": q(x, "m"), "y": q("1", "m")})
    create(
        desk, "bay",
        {
            "name": "North bay", "house": house, "x": q("0", "m"), "y": q("12", "m"),
            "length": q("12", "m"), "width": q("9.6", "m"),
        },
    )  # fmt: skip
    loose = create(desk, "house", {"name": "House 2", "code": "2"})
    for number in range(1, 6):
        create(
            desk, "bench",
            {
                "name": f"Table {number}", "code": f"T{number}", "house": loose,
                **({"length": q("8", "m"), "width": q("1.6", "m")} if number < 5 else {}),
            },
        )  # fmt: skip
    create(desk, "house", {"name": "Old frame", "retired": True})
    product = by_name(desk, "product", "Stemwright SL")
    change(
        desk, "product", product,
        {
            "uses": [
                {
                    "crop": "Bedding plants", "sites": ["greenhouse"], "methods": ["spray"],
                    "max_concentration": q("1500", "mg/L"), "max_of": "ai",
                    "min_interval": q("7", "d"),
                },
                {"crop": "Poinsettia", "sites": ["greenhouse"], "methods": ["drench", "spray"]},
            ],
            "low_stock": q("2", "L"), "maker_phone": "+1 555 0199", "tank_mixing": "listed_only",
        },
    )  # fmt: skip
    batch = create(
        desk, "batch",
        {
            "product": product, "code": "K-2291", "amount": q("1", "L"), "cost": "48.00",
            "received_on": f"{now - timedelta(days=200):%Y-%m-%d}",
            "expires_on": f"{now + timedelta(days=20):%Y-%m-%d}", "storage": "Cabinet A",
        },
    )  # fmt: skip
    create(
        desk, "stock_count",
        {
            "batch": batch, "counted_at": moment(now - timedelta(days=60)),
            "amount": q("700", "mL"), "reason": "spilled a little in March",
        },
    )  # fmt: skip
    create(
        desk, "permit",
        {
            "number": "EXP-26-114", "sort": "permit", "products": [product], "crops": "Lantana",
            "valid_to": f"{now + timedelta(days=90):%Y-%m-%d}", "crop_fate": "destroy",
        },
    )  # fmt: skip
    rosa = by_name(desk, "member", "Rosa Lind")
    create(
        desk, "certificate",
        {
            "member": rosa, "sort": "handler_training", "number": "H-4471",
            "expires_on": f"{now - timedelta(days=3):%Y-%m-%d}",
        },
    )  # fmt: skip
    lot = by_name(desk, "lot", "1·07")
    create(
        desk, "supplier_treatment",
        {
            "lot": lot, "product_name": "Halfpace SG", "method": "spray",
            "applied_on": f"{now - timedelta(days=40):%Y-%m-%d}", "target": q("2500", "mg/L"),
            "source": "delivery note 8812",
        },
    )  # fmt: skip
    create(
        desk, "lot_event",
        {
            "lot": lot, "what": "pinch", "at": moment(now - timedelta(days=21)),
            "note": "above the fourth leaf pair",
        },
    )  # fmt: skip
    old = application(
        desk, now - timedelta(days=5, hours=1), now - timedelta(days=5), batch=batch,
    )  # fmt: skip
    running = application(
        desk, now - timedelta(hours=2), now - timedelta(hours=1), batch=batch,
        product="Stemwright SL", amount=q("45", "mL"),
    )  # fmt: skip
    gone = application(desk, now - timedelta(days=45, hours=1), now - timedelta(days=45))
    return {
        "house": house, "loose": loose, "lot": lot, "product": product, "batch": batch,
        "establishment": establishment, "old": old, "running": running, "gone": gone, "rosa": rosa,
    }  # fmt: skip
