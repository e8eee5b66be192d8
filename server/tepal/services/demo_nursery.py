"""The demo's registers: people, houses with benches, lots and their lives, stock, sprayers.

Everything is invented: the nursery, its people, cultivars, suppliers and addresses.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from tepal.domain.rounding import round_half_up
from tepal.services.demo_book import moment
from tepal.services.demo_book import quantity as q
from tepal.services.demo_products import EPPO, MIXES, PRODUCTS

if TYPE_CHECKING:
    from tepal.services.demo_book import DemoBook, Hand

# name, role, language, certificate: (sort, days until it expires)
STAFF: Final[tuple[tuple[str, str, str, tuple[tuple[str, int], ...]], ...]] = (
    ("Dinh Thorne", "grower", "en", (("certified_applicator", 410), ("handler_training", 120))),
    ("Rosa Lind", "operator", "es", (("handler_training", 150),)),
    ("Jovan Ashby", "operator", "en", (("noncertified_applicator", 21),)),
    ("Tess Varga", "technician", "en", (("worker_training", 200),)),
    ("Edda Quill", "inspector", "en", ()),
)


@dataclass(frozen=True, slots=True)
class House:
    """A house of the demo: benches stand in two bays, left and right of a middle aisle."""

    key: str
    name: str
    code: str
    site: str
    length_m: float
    width_m: float
    ventilation: str
    benches_a_side: int


HOUSES: Final = (
    House("h1", "House 1", "1", "greenhouse", 40, 12, "mechanical", 3),
    House("h2", "House 2, propagation", "2", "greenhouse", 30, 9, "mechanical", 2),
    House("h3", "House 3", "3", "greenhouse", 48, 12, "mechanical", 3),
    House("h4", "House 4", "4", "greenhouse", 40, 12, "passive", 2),
    House("h5", "Hoop house 5", "5", "hoop_house", 30, 7.5, "passive", 2),
    House("h6", "House 6, cold", "6", "greenhouse", 36, 9.6, "passive", 2),
)
_AISLE_M: Final = 1.2
_GAP_M: Final = 0.8


@dataclass(frozen=True, slots=True)
class Lot:
    """A lot: its code, crop, benches, pots, stage in words, and how long ago it was started."""

    code: str
    crop: str
    cultivar: str
    house: str
    benches: tuple[int, ...]
    n_pots: int
    container: str
    stage: str
    days: int
    supplier: str | None = None
    events: tuple[tuple[str, int], ...] = ()


# Three benches of a house may share a lot; a bench may hold two.
LOTS: Final = (
    Lot("1·07", "Lantana", "Copperline", "h1", (1, 2), 1840, "10 cm pot",
        "three weeks after transplant", 58, "Young Plants Oriel", (("transplant", -21),)),
    Lot("1·09", "Salvia", "Morning Tin", "h1", (3,), 900, "10 cm pot", "visible buds", 66,
        "Young Plants Oriel", (("transplant", -30), ("pinch", -20))),
    Lot("1·11", "Petunia", "Dusk Ferry", "h1", (4, 5), 2100, "10 cm pot", "before flower buds",
        50, None, (("stick", -50), ("off_mist", -38), ("transplant", -18))),
    Lot("1·12", "Angelonia", "Pale Oar", "h1", (6,), 760, "11 cm pot", "vegetative", 45,
        "Young Plants Oriel", (("transplant", -14),)),
    Lot("2·01", "Calibrachoa", "Rust Lane", "h2", (1,), 4200, "128 plug tray", "rooted liners",
        30, None, (("stick", -30), ("off_mist", -18))),
    Lot("2·02", "Pentas", "Low Ember", "h2", (1, 2), 3100, "128 plug tray", "rooted liners", 28,
        None, (("stick", -28), ("off_mist", -16))),
    Lot("2·04", "Geranium", "Brick Kiln", "h2", (3,), 2600, "105 plug tray", "unrooted cuttings",
        12, None, (("stick", -12),)),
    Lot("2·05", "Coreopsis", "Thin Yellow", "h2", (4,), 1900, "128 plug tray",
        "two true leaves", 24),
    Lot("3·01", "Poinsettia", "Vesper Red", "h3", (1, 2), 1450, "15 cm pot",
        "bracts half coloured", 112, "Kettle Hollow Liners",
        (("transplant", -100), ("pinch", -84))),
    Lot("3·02", "Poinsettia", "Vesper White", "h3", (3,), 620, "15 cm pot",
        "bracts half coloured", 112, "Kettle Hollow Liners",
        (("transplant", -100), ("pinch", -84))),
    Lot("3·03", "Poinsettia", "Small Lantern", "h3", (4,), 880, "11 cm pot",
        "first colour", 96, "Kettle Hollow Liners", (("transplant", -90), ("pinch", -75))),
    Lot("3·04", "Pot chrysanthemum", "Chalk Mark", "h3", (5,), 700, "14 cm pot",
        "buds show colour", 77, None, (("stick", -77), ("pinch", -60))),
    Lot("3·05", "Pot chrysanthemum", "Amber Rule", "h3", (6,), 700, "14 cm pot",
        "disbudding", 70, None, (("stick", -70), ("pinch", -54))),
    Lot("4·01", "Kalanchoe", "Red Thread", "h4", (1,), 1100, "10 cm pot", "buds visible", 84),
    Lot("4·02", "Kalanchoe", "Salt White", "h4", (2,), 1100, "10 cm pot", "buds visible", 84),
    Lot("4·03", "Cyclamen", "Plum Stair", "h4", (3,), 820, "12 cm pot", "first flowers", 150),
    Lot("4·04", "Geranium", "Brick Kiln", "h4", (4,), 940, "13 cm pot", "finished, in bud", 88,
        None, (("transplant", -62), ("pinch", -50))),
    Lot("5·01", "Pansy", "Slate Blue", "h5", (1, 2), 2400, "6-cell pack", "first flowers", 70,
        None, (("transplant", -40),)),
    Lot("5·02", "Pansy", "Buttermilk", "h5", (3,), 1200, "6-cell pack", "first flowers", 70),
    Lot("5·03", "Coreopsis", "Thin Yellow", "h5", (4,), 600, "17 cm pot", "rosettes", 120),
    Lot("6·01", "Hydrangea", "Grey Harbor", "h6", (1,), 420, "19 cm pot",
        "flower buds set, cooling", 210, "Brackwater Stock"),
    Lot("6·02", "Hydrangea", "Paper Pink", "h6", (2,), 380, "19 cm pot",
        "flower buds set, cooling", 210, "Brackwater Stock"),
    Lot("6·03", "Tulip", "Tin Whistle", "h6", (3,), 1500, "13 cm pot", "rooting, cold", 40),
    Lot("6·04", "Easter lily", "Long Bell", "h6", (4,), 960, "15 cm pot", "potted, cooling", 32),
    Lot("1·03", "Lantana", "Copperline", "h1", (1,), 600, "10 cm pot", "sold", 120, None,
        (("transplant", -95), ("shipped", -9))),
)  # fmt: skip


def fill_registers(book: DemoBook, hands: dict[str, Hand]) -> None:
    """Write the registers; every later act of the demo refers to their names."""
    _establishment(book, hands["server"])
    office = hands["office"]
    at = book.at(-74, "09:00")
    for house in HOUSES:
        _house(book, office, house)
    for key, fields in PRODUCTS.items():
        book.add(office, at, "product", key, **fields)
    _stock(book, office)
    _sprayers(book, office, hands["phone1"])
    for key, mix in MIXES.items():
        book.add(office, at, "tank_mix", key, **mix.fields(book.ids))
    for name, a, b, why in (
        ("pair1", "daminozide", "copper hydroxide", "leaf burn"),
        ("pair2", "ethephon", "Filmlay", "spots on open flowers"),
    ):
        book.add(office, at, "incompatible_pair", name, a=a, b=b, reason=why,
                 source="invented label text")  # fmt: skip
    book.add(office, at, "jar_test", "jar1", result="compatible", tested_on=book.day(-80),
             products=[book.ids["stemwright"], book.ids["halfpace"]])  # fmt: skip
    for lot in LOTS:
        _lot(book, office, lot)
    _supplier(book, office)
    _people(book, hands["server"], office)
    book.add(office, book.at(-20, "10:00"), "permit", "permit1", number="EXP-4471 (invented)",
             sort="permit", products=[book.ids["tallcheck"]], crops="Calibrachoa",
             valid_from=book.day(-20), valid_to=book.day(160),
             responsible=book.ids["Dinh Thorne"], crop_fate="destroy", rei=q(12, "h"),
             rei_source="permit text (invented)")  # fmt: skip


def _establishment(book: DemoBook, server: Hand) -> None:
    book.change(
        server, book.at(-75, "08:00"), "establishment",
        address="14 Quillhaven Lane\nFarrow Mills, PA 19999", region="PA", currency="USD",
        standards=["wps", "commercial_restricted_use"], whole_house=False,
        ventilation_parts_add=False, keep_years=4, poison_line="1-800-222-1222",
        eyewash="Potting shed, left of the sink; second one in House 3",
        spill="Keep people away. Absorb with the grey granules by the store, sweep, bag, label.",
        medical_facility={"name": "Farrow Mills Clinic (invented)",
                          "address": "2 Mill Road, Farrow Mills, PA 19999",
                          "phone": "1-555-0110"},
        pesticide_agency={"name": "State pesticide agency (invented entry)",
                          "address": "1 Capitol Way, PA 19998", "phone": "1-555-0120"},
        air_temperature_min=q(10, "Cel"), air_temperature_max=q(29, "Cel"),
        air_humidity_min=q(40, "%"),
    )  # fmt: skip


def _house(book: DemoBook, hand: Hand, house: House) -> None:
    at = book.at(-75, "10:00")
    book.add(hand, at, "house", house.key, name=house.name, code=house.code, site=house.site,
             length=q(house.length_m, "m"), width=q(house.width_m, "m"),
             area=q(f"{house.length_m * house.width_m:g}", "m2"),
             ventilation=house.ventilation)  # fmt: skip
    wide = round_half_up((house.width_m - _AISLE_M) / 2 - _GAP_M, 1)
    long = round_half_up((house.length_m - _GAP_M) / house.benches_a_side - _GAP_M, 1)
    number = 0
    for side, bay in enumerate(("left", "right")):
        x = _GAP_M / 2 if side == 0 else house.width_m / 2 + _AISLE_M / 2 + _GAP_M / 2
        book.add(hand, at, "bay", f"{house.key}{bay}", name=f"Bay {bay}", code=bay[0].upper(),
                 house=book.ids[house.key], x=q(f"{x:g}", "m"), y=q("0", "m"),
                 length=q(house.length_m, "m"), width=q(wide, "m"))  # fmt: skip
        for place in range(house.benches_a_side):
            number += 1
            y = _GAP_M + place * (long + _GAP_M)
            book.add(hand, at, "bench", f"{house.key}b{number}", name=f"Bench {number}",
                     code=str(number), house=book.ids[house.key],
                     bay=book.ids[f"{house.key}{bay}"], x=q(f"{x:g}", "m"), y=q(f"{y:g}", "m"),
                     length=q(long, "m"), width=q(wide, "m"),
                     area=q(f"{round_half_up(long * wide, 1):g}", "m2"))  # fmt: skip


def _lot(book: DemoBook, hand: Hand, lot: Lot) -> None:
    started = max(-lot.days, -73)
    at = book.at(started, "11:00")
    benches = [book.ids[f"{lot.house}b{n}"] for n in lot.benches]
    heights: dict[str, Any] = {}
    if lot.crop == "Poinsettia":
        heights = {
            "growth_start_on": book.day(-84), "start_height": q(9, "cm"),
            "finish_on": book.day(16), "finish_height": q(34, "cm"),
            "height_tolerance": q(10, "%"),
        }  # fmt: skip
    book.add(hand, at, "lot", lot.code, code=lot.code, crop=lot.crop, cultivar=lot.cultivar,
             crop_eppo=EPPO.get(lot.crop), benches=benches, n_containers=lot.n_pots,
             container=lot.container, stage=lot.stage, started_on=book.day(-lot.days),
             supplier=lot.supplier, phase="growing", **heights)  # fmt: skip
    for number, (what, days) in enumerate(lot.events):
        event_at = book.at(days, "13:30")
        more: dict[str, Any] = {"n_containers": lot.n_pots} if what != "pinch" else {}
        if what == "shipped":
            more |= {"customer": "Hollow Road Garden Centre (invented)"}
        if what == "transplant":
            more |= {"container": lot.container, "benches": benches}
        wrote_at = event_at if days >= -73 else at
        book.add(hand, wrote_at, "lot_event", f"{lot.code} {number}", lot=book.ids[lot.code],
                 what=what, at=moment(event_at), **more)  # fmt: skip
        if what == "shipped":
            book.change(hand, wrote_at, lot.code, phase="shipped", benches=[])
    if lot.code == "1·11":  # moved last week: the bench it left stands empty
        moved = book.at(-6, "08:20")
        book.add(hand, moved, "lot_event", "1·11 moved", lot=book.ids[lot.code], what="moved",
                 at=moment(moved), benches=benches,
                 note="Bench 3 to benches 4 and 5, spaced")  # fmt: skip


def _supplier(book: DemoBook, hand: Hand) -> None:
    chlormequat = [{"ai": "chlormequat chloride", "strength": q("118", "g/L")}]
    uniconazole = [{"ai": "uniconazole", "strength": q("0.05", "%"), "basis": "w_v"}]
    rows = (
        ("1·07", "Stemwright SL", chlormequat, "spray", -64, q("750", "mg/L"), None),
        ("1·09", "Tallcheck SL", uniconazole, "liner_dip", -68, q("1", "mg/L"), None),
        ("3·01", "Stemwright SL", chlormequat, "spray", -110, q("1000", "mg/L"), None),
        ("3·03", "product not named", [{"ai": "paclobutrazol"}], "drench", -98, None,
         q("0.05", "mg/{pot}")),
    )  # fmt: skip
    for number, (lot, name, ingredients, method, days, target, dose) in enumerate(rows):
        book.add(hand, book.at(-72, "15:00"), "supplier_treatment", f"supplied{number}",
                 lot=book.ids[lot], product_name=name, ingredients=ingredients, method=method,
                 applied_on=book.day(days), target=target, dose=dose,
                 source="delivery note (invented)")  # fmt: skip


def _stock(book: DemoBook, hand: Hand) -> None:
    for number, (key, amount, unit, days, expires) in enumerate((
        ("stemwright", "10", "L", -70, 500), ("stemwright", "5", "L", -20, 690),
        ("halfpace", "2000", "g", -70, 600), ("rootpost", "4", "L", -66, 420),
        ("tallcheck", "10", "L", -66, 300), ("budwait", "5", "L", -60, 220),
        ("shortleaf", "4", "L", -60, 12), ("longstep", "100", "g", -60, 380),
        ("branchlight", "2.5", "L", -60, 310), ("evenrow", "2", "L", -60, 500),
        ("forkwise", "3.8", "L", -60, 505), ("mothgate", "1", "L", -55, -4),
        ("wingfall", "1", "L", -55, 400), ("leafwarden", "5", "kg", -55, 640),
        ("stillgrey", "1", "kg", -55, 700), ("filmlay", "5", "L", -55, 900),
    )):  # fmt: skip
        book.add(hand, book.at(days, "16:00"), "batch", f"batch {key} {number}",
                 product=book.ids[key], code=f"Q{4100 + 37 * number}", received_on=book.day(days),
                 expires_on=book.day(expires), amount=q(amount, unit),
                 supplier="Orchard Row Supply",
                 storage="Store, lower shelf" if number % 2 else "Store, locked cabinet",
                 cost=str(40 + 13 * number))  # fmt: skip
    book.add(hand, book.at(-12, "16:30"), "stock_count", "count1",
             batch=book.ids["batch halfpace 2"], counted_at=moment(book.at(-12, "16:30")),
             amount=q("1180", "g"), reason="month-end count")  # fmt: skip


def _sprayers(book: DemoBook, hand: Hand, phone: Hand) -> None:
    at = book.at(-74, "09:30")
    for key, name, sort, litres, droplet in (
        ("sprayer1", "Cart sprayer 1", "wheelbarrow", "40", "medium"),
        ("sprayer2", "Knapsack 2", "knapsack", "15", "medium"),
        ("boom", "Boom, House 3", "boom", "120", "coarse"),
        ("lance", "Drench lance", "drench_lance", "200", "ultra_coarse"),
        ("fogger", "Cold fogger", "fogger", "10", "very_fine"),
    ):
        book.add(hand, at, "sprayer", key, name=name, sort=sort, capacity=q(litres, "L"),
                 droplet=droplet, nozzle="flat fan 110-03" if sort == "boom" else None,
                 calibrate_every=q("60", "d"))  # fmt: skip
    catches = [{"amount": q(ml, "mL")} for ml in ("402", "395", "398", "410")]
    for sprayer, days in (("sprayer1", -71), ("sprayer1", -13), ("boom", -40), ("sprayer2", -66)):
        book.add(phone, book.at(days, "14:00"), "calibration", f"cal {sprayer} {days}",
                 sprayer=book.ids[sprayer], method="boom", measured_on=book.day(days),
                 catches=catches, catch_time=q("30", "s"), spacing=q("50", "cm"),
                 course=q("20", "m"), course_time=q("143", "s"))  # fmt: skip
    for key, name, sort, resolution, capacity in (
        ("cylinder250", "250 mL cylinder", "cylinder", q("2", "mL"), q("250", "mL")),
        ("cylinder1000", "1 L cylinder", "cylinder", q("10", "mL"), q("1000", "mL")),
        ("syringe10", "10 mL syringe", "syringe", q("0.2", "mL"), q("10", "mL")),
        ("balance", "Kitchen balance", "balance", q("0.1", "g"), q("500", "g")),
    ):
        book.add(hand, at, "instrument", key, name=name, sort=sort, resolution=resolution,
                 capacity=capacity)  # fmt: skip


def _people(book: DemoBook, server: Hand, office: Hand) -> None:
    for name, _, _, certificates in STAFF:
        for sort, days in certificates:
            book.add(office, book.at(-74, "12:00"), "certificate", f"{name} {sort}",
                     member=book.ids[name], sort=sort,
                     number=f"PA-{len(name)}{days:04d} (invented)",
                     issued_by="state agency (invented)", issued_on=book.day(days - 1095),
                     expires_on=book.day(days))  # fmt: skip
    book.change(server, book.at(-74, "12:10"), "Dinh Thorne", applicator_number="PA-110410",
                is_adult=True)  # fmt: skip
    book.change(server, book.at(-74, "12:10"), "Rosa Lind", is_adult=True)
