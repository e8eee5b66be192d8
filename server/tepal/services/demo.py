"""The demo: an invented nursery with invented products of real active ingredients.

Everything here is made up; strengths and re-entry intervals are plausible, not a label's. A demo
interval is never shorter than the usual one for its active ingredient. Commits.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from tepal.services import access
from tepal.services.demo_trials import demo_trials
from tepal.services.enrolment import set_pin
from tepal.services.server_acts import Act, Chance, act, server_device

if TYPE_CHECKING:
    from sqlalchemy.orm import Session as DbSession

PASSWORD: Final = "demo demo demo"  # noqa: S105 -- printed on the console; the demo binds to loopback
PIN: Final = "2580"  # of the grower and the operator, for a shared phone
MANAGER: Final = "Ines Prado"
PEOPLE: Final = ((MANAGER, "manager"), ("Dinh Thorne", "grower"), ("Rosa Lind", "operator"))


def fill(db: DbSession, chance: Chance) -> str:
    """Set the demo up: houses, benches, lots, products, mixes, measures, people, trials."""
    establishment, manager = access.set_up(
        db, chance, name="Quillhaven Nursery", zone="America/New_York", country="US",
        number_format="1234.5", unit_system="metric", member_name=MANAGER, password=PASSWORD,
        language="en",
    )  # fmt: skip
    ids = {name: chance.uuid7() for name in _IDS}
    acts = [
        Act(kind, ids[name], "create", manager, _resolved(fields, ids))
        for kind, name, fields in _RECORDS
    ]
    acts += [one.act for one in demo_trials(ids, chance.uuid7, chance.now().date(), manager)]
    server = server_device(db, establishment)
    db.rollback()
    act(db, establishment, server, acts, chance)
    for name, _ in PEOPLE[1:]:
        access.set_password(db, establishment, ids[name], PASSWORD, chance)
        set_pin(db, establishment, ids[name], PIN, chance)
    return establishment


def _resolved(value: Any, ids: dict[str, str]) -> Any:
    """Return the value with every `@name` replaced by that record's id."""
    if isinstance(value, str):
        return ids[value[1:]] if value.startswith("@") else value
    if isinstance(value, dict):
        return {key: _resolved(inner, ids) for key, inner in value.items()}
    if isinstance(value, list):
        return [_resolved(inner, ids) for inner in value]
    return value


def _quantity(value: str, unit: str) -> dict[str, str]:
    return {"value": value, "unit": unit}


_PPE = "long sleeves, long trousers, shoes and socks, waterproof gloves"

# (kind, name for references, fields). Invented throughout.
_RECORDS: Final[list[tuple[str, str, dict[str, Any]]]] = [
    (
        "member", "Dinh Thorne",
        {"name": "Dinh Thorne", "role": "grower", "language": "en", "active": True},
    ),
    (
        "member", "Rosa Lind",
        {"name": "Rosa Lind", "role": "operator", "language": "es", "active": True},
    ),
    # trained handlers: a restricted area is a caution to them, it bars workers
    *(
        (
            "certificate", f"training of {name}",
            {"member": f"@{name}", "sort": "handler_training", "issued_on": "2026-01-20"},
        )
        for name in ("Dinh Thorne", "Rosa Lind")
    ),
    ("house", "house1", {"name": "House 1", "code": "1", "area": _quantity("480", "m2")}),
    *(
        (
            "bench", f"bench{n}",
            {
                "name": f"Bench {n}", "code": str(n), "house": "@house1",
                "length": _quantity("22", "m"), "width": _quantity("1.8", "m"),
                "area": _quantity("39.6", "m2"),
            },
        )
        for n in (1, 2, 3)
    ),
    (
        "lot", "lot1",
        {
            "code": "1·07", "crop": "Lantana", "cultivar": "Copperline", "n_containers": 1840,
            "container": "10 cm pot", "stage": "three weeks after transplant",
            "benches": ["@bench1", "@bench2"],
        },
    ),
    (
        "lot", "lot2",
        {
            "code": "1·09", "crop": "Salvia", "cultivar": "Morning Tin", "n_containers": 900,
            "container": "10 cm pot", "stage": "visible buds", "benches": ["@bench3"],
        },
    ),
    (
        "instrument", "cylinder250",
        {
            "name": "250 mL cylinder", "sort": "cylinder", "resolution": _quantity("2", "mL"),
            "capacity": _quantity("250", "mL"),
        },
    ),
    (
        "instrument", "syringe10",
        {
            "name": "10 mL syringe", "sort": "syringe", "resolution": _quantity("0.2", "mL"),
            "capacity": _quantity("10", "mL"),
        },
    ),
    (
        "instrument", "balance",
        {
            "name": "Kitchen balance", "sort": "balance", "resolution": _quantity("0.1", "g"),
            "capacity": _quantity("500", "g"),
        },
    ),
    (
        "sprayer", "sprayer1",
        {
            "name": "Cart sprayer 1", "sort": "wheelbarrow", "capacity": _quantity("40", "L"),
            "droplet": "medium", "calibrate_every": _quantity("60", "d"),
        },
    ),
    (
        "product", "stemwright",
        {
            "name": "Stemwright SL", "registration_number": "99001-12", "country": "US",
            "kind": "product", "physical_form": "liquid", "formulation_type": "SL",
            "ingredients": [
                {"ai": "chlormequat chloride", "strength": _quantity("118", "g/L")}
            ],
            "rei": _quantity("12", "h"), "signal_word": "warning", "ppe_mixing": _PPE,
            "ppe_applying": _PPE, "label_on": "2026-01-15",
            "first_aid": "If on skin: rinse at once with plenty of water for 15 to 20 minutes.",
        },
    ),
    (
        "product", "halfpace",
        {
            "name": "Halfpace SG", "registration_number": "99001-31", "country": "US",
            "kind": "product", "physical_form": "dry", "formulation_type": "SG",
            "ingredients": [
                {"ai": "daminozide", "strength": _quantity("85", "%"), "basis": "w_w"}
            ],
            "rei": _quantity("24", "h"), "signal_word": "caution", "ppe_mixing": _PPE,
            "ppe_applying": _PPE, "label_on": "2026-01-15",
            "first_aid": "If in eyes: hold the eye open and rinse slowly for 15 to 20 minutes.",
        },
    ),
    (
        "product", "rootpost",
        {
            "name": "Rootpost SC", "registration_number": "99001-44", "country": "US",
            "kind": "product", "physical_form": "liquid", "formulation_type": "SC",
            "density": _quantity("1.02", "g/mL"),
            "ingredients": [
                {"ai": "paclobutrazol", "strength": _quantity("0.4", "%"), "basis": "w_w"}
            ],
            "rei": _quantity("12", "h"), "signal_word": "caution", "ppe_mixing": _PPE,
            "ppe_applying": _PPE, "label_on": "2026-01-15", "use_within": _quantity("24", "h"),
            "first_aid": "If in eyes: hold the eye open and rinse slowly for 15 to 20 minutes.",
        },
    ),
    (
        "calibration", "calibration1",
        {
            "sprayer": "@sprayer1", "method": "boom", "measured_on": "2026-09-30",
            "catches": [
                {"amount": _quantity(ml, "mL")} for ml in ("402", "395", "398", "410")
            ],
            "catch_time": _quantity("30", "s"), "spacing": _quantity("50", "cm"),
            "course": _quantity("20", "m"), "course_time": _quantity("143", "s"),
        },
    ),
    (
        "incompatible_pair", "pair1",
        {
            "a": "daminozide", "b": "copper hydroxide", "reason": "leaf burn",
            "source": "invented label text",
        },
    ),
    (
        "jar_test", "jar1",
        {
            "products": ["@stemwright", "@halfpace"], "result": "compatible",
            "tested_on": "2026-03-02",
        },
    ),
    (
        "tank_mix", "mix2",
        {
            "name": "Drench, one dose per pot", "method": "drench",
            "volume_per_container": _quantity("60", "mL/{pot}"), "purpose": "compact habit",
            "extra": _quantity("2", "L"),
            "components": [{"product": "@rootpost", "target": _quantity("0.25", "mg/{pot}")}],
        },
    ),
    (
        "tank_mix", "mix1",
        {
            "name": "Height, bedding, second week", "method": "spray",
            "volume_per_area": _quantity("200", "mL/m2"), "purpose": "shorter internodes",
            "components": [
                {"product": "@stemwright", "target": _quantity("900", "mg/L")},
                {"product": "@halfpace", "target": _quantity("1250", "mg/L")},
            ],
        },
    ),
]  # fmt: skip
_IDS: Final = [name for _, name, _ in _RECORDS]
