"""The demo's working days: two months of applications, their restrictions, orders, what went wrong.

Volumes and amounts are computed by the domain from lots, benches and the invented labels.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta
from typing import TYPE_CHECKING, Any, Final

from tepal.domain.rounding import decimal_text, significant_decimals
from tepal.domain.strength import strengths_of
from tepal.services.demo_book import moment
from tepal.services.demo_book import quantity as q
from tepal.services.demo_nursery import HOUSES, LOTS
from tepal.services.demo_products import MIXES, PRODUCTS

if TYPE_CHECKING:
    from datetime import datetime

    from tepal.services.demo_book import DemoBook, Hand
    from tepal.services.demo_nursery import Lot
    from tepal.services.demo_products import Mix

DAYS: Final = 61
_A_DAY: Final = (2, 1, 2, 1, 2, 1, 0)  # applications from Monday to Sunday
_SPRAYER: Final = {"drench": "lance", "liner_dip": None, "bulb_dip": None}
# What goes on right now: name, mix, lot, hours ago, minutes it took (0: goes on).
_NOW: Final = (
    ("now reopen", "finished", "4·04", 14.0, 40), ("now restricted", "botrytis", "5·01", 3.5, 50),
    ("now drench", "mix2", "3·01", 1.5, 45), ("now spraying", "mix1", "1·11", 0.35, 0),
)  # fmt: skip
_CLOCKS: Final = ("06:20", "07:05", "16:40")


@dataclass(frozen=True, slots=True)
class Job:
    """One application before it is written: which mix on which lots, when, by whom."""

    key: str
    at: datetime
    mix: Mix
    mix_key: str
    lots: tuple[Lot, ...]
    hand: Hand


def fill_days(book: DemoBook, hands: dict[str, Hand]) -> list[Job]:
    """Write the applications with their restrictions; return the jobs, oldest first."""
    jobs = list(_schedule(book, hands))
    for job in jobs:
        _write(book, job, hands)
    _running(book, hands)
    _odd_ones(book, hands, jobs)
    return jobs


def _schedule(book: DemoBook, hands: dict[str, Hand]) -> list[Job]:
    """Return the past jobs: each mix where its crops stand, rarely the same lot in a row."""
    jobs: list[Job] = []
    had: dict[tuple[str, str], list[int]] = {}  # (lot, product) -> days
    for _, key, code, *_ in _NOW:  # what goes on today, and what was typed later, has its place
        _note(had, MIXES[key], code, 0)
    _note(had, MIXES["botrytis"], "5·02", -11)
    _note(had, MIXES["branching"], "6·01", -27)
    keys = list(MIXES)
    turn = 0
    for day in range(-DAYS, 0):
        weekday = book.at(day, "12:00").weekday()
        for nth in range(_A_DAY[weekday]):
            key = keys[turn % len(keys)]
            mix = MIXES[key]
            crop = mix.crops[(turn // len(keys)) % len(mix.crops)]
            lots = [
                lot for lot in LOTS if lot.crop == crop and -lot.days < day and lot.code != "1·03"
            ]
            turn += 1
            if not lots:
                continue
            house = lots[0].house
            lots = [lot for lot in lots if lot.house == house]
            if not _keeps_label(had, mix, lots, day):
                continue
            clock = _CLOCKS[2] if key == "aphids" else _CLOCKS[nth]
            who = "phone2" if turn % 4 == 0 else "phone1"
            if mix.components[0][0] in ("budwait", "wingfall"):
                who = "grower phone"
            jobs.append(
                Job(
                    f"app{turn}", book.at(day, clock), mix, key,
                    tuple(lots), hands[who],
                )
            )  # fmt: skip
    return jobs


def _keeps_label(
    had: dict[tuple[str, str], list[int]], mix: Mix, lots: list[Lot], day: int
) -> bool:
    """Return whether the invented labels allow this mix here today, and remember it if so."""
    for key, _, _ in mix.components:
        for lot in lots:
            days = had.get((lot.code, key), [])
            for use in PRODUCTS[key].get("uses", []):
                if use["crop"] != lot.crop or mix.method not in use["methods"]:
                    continue
                most = use.get("max_applications", len(days) + 1)
                wait = float(use["min_interval"]["value"]) if "min_interval" in use else 0
                if len(days) >= most or any(abs(day - one) < wait for one in days):
                    return False
    for lot in lots:
        _note(had, mix, lot.code, day)
    return True


def _note(had: dict[tuple[str, str], list[int]], mix: Mix, lot: str, day: int) -> None:
    for key, _, _ in mix.components:
        had.setdefault((lot, key), []).append(day)


def applied(book: DemoBook, job: Job) -> dict[str, Any]:
    """Return what an application of a job holds at its start: places, products, amounts."""
    lines = [line for lot in job.lots for line in _lines(book, lot, job.mix)]
    litres = sum(float(line["volume"]["value"]) for line in lines)
    area = sum(float(line["area"]["value"]) for line in lines)
    n_pots = sum(line["n_containers"] for line in lines)
    sprayer = _SPRAYER.get(job.mix.method, "boom" if job.lots[0].house == "h3" else "sprayer1")
    found = {
        "lines": lines, "tank_mix": book.ids[job.mix_key], "mix_name": job.mix.name,
        "method": job.mix.method, "purpose": job.mix.purpose,
        "products": [
            _used(book, key, value, unit, litres, n_pots)
            for key, value, unit in job.mix.components
        ],
        "volume": q(_digits(litres), "L"), "area": q(_digits(area), "m2"),
        "operator": job.hand.member, "operator_name": job.hand.name,
        "site": next(h.site for h in HOUSES if h.key == job.lots[0].house),
        "ppe_mixing_worn": True, "ppe_applying_worn": True,
        "certified_applicator": book.ids["Dinh Thorne"],
        "certified_applicator_name": "Dinh Thorne", "certified_applicator_number": "PA-110410",
        "customer": {"name": "Quillhaven Nursery", "address": "14 Quillhaven Lane, Farrow Mills"},
        "method_class": 5 if job.mix.ml_per_pot else 4,
    }  # fmt: skip
    if sprayer:
        fields = book.fields[sprayer]
        found |= {"sprayer": book.ids[sprayer], "tank_capacity": fields["capacity"],
                  "droplet": fields["droplet"]}  # fmt: skip
    return found


def _lines(book: DemoBook, lot: Lot, mix: Mix) -> list[dict[str, Any]]:
    house = next(h for h in HOUSES if h.key == lot.house)
    lines = []
    for n in lot.benches:
        bench = book.fields[f"{lot.house}b{n}"]
        pots = lot.n_pots // len(lot.benches)
        area = float(bench["area"]["value"])
        litres = (
            pots * float(mix.ml_per_pot) / 1000
            if mix.ml_per_pot
            else area * float(mix.ml_per_m2 or 0) / 1000
        )
        lines.append(
            {
                "bench": book.ids[f"{lot.house}b{n}"], "lot": book.ids[lot.code],
                "house": book.ids[lot.house], "place": f"{house.name}, Bench {n}",
                "lot_code": lot.code, "crop": f"{lot.crop} ‘{lot.cultivar}’",
                **({"crop_eppo": e} if (e := book.fields[lot.code].get("crop_eppo")) else {}),
                "area": bench["area"], "n_containers": pots, "volume": q(_digits(litres), "L"),
                "stage": lot.stage,
            }
        )  # fmt: skip
    return lines


def _used(
    book: DemoBook, key: str, value: str, unit: str, litres: float, n_pots: int
) -> dict[str, Any]:
    """Return a product as it went into the tank, with what its label says."""
    product = PRODUCTS[key]
    kept = (
        "name", "registration_number", "country", "kind", "ingredients", "density",
        "formulation_type", "physical_form", "rei", "label_on", "ppe_mixing", "ppe_applying",
        "double_notice", "respirator", "restricted_use", "hours_limited", "stage_limited",
    )  # fmt: skip
    found = {name: product[name] for name in kept if name in product}
    batch = next((n for n in book.ids if n.startswith(f"batch {key} ")), None)
    if batch:
        found |= {"batch": book.ids[batch], "batch_code": book.fields[batch]["code"]}
    if unit == "mL/L":
        amount = q(_digits(float(value) * litres), "mL")
    else:
        mg = float(value) * (n_pots if unit == "mg/{pot}" else litres)
        measure = "g" if product["physical_form"] == "dry" else "mL"
        amount = q(_digits(mg / strengths_of(product)[0].mg_per_measure), measure)
    return {"product": book.ids[key], **found, "target": q(value, unit), "amount": amount,
            "sds_on": "2026-01-12"}  # fmt: skip


def _digits(value: float) -> str:
    return decimal_text(value, significant_decimals(value, 3))


def rei_h(mix: Mix) -> float:
    """Return the longest REI of a mix, h."""
    return max(float(PRODUCTS[k]["rei"]["value"]) for k, _, _ in mix.components
               if "rei" in PRODUCTS[k])  # fmt: skip


def _write(book: DemoBook, job: Job, hands: dict[str, Hand]) -> None:
    """Write one finished application and the restriction that it caused, until it was reopened."""
    minutes = 25 + book.random.randrange(50)
    end = job.at + timedelta(minutes=minutes)
    late = 4.0 if job.key.endswith("5") else 0.0  # no signal in the house until the break
    start = applied(book, job) | {
        "started_at": moment(job.at),
        "air_temperature": q(f"{16 + book.random.randrange(8)}", "Cel"),
        "air_humidity": q(f"{55 + book.random.randrange(30)}", "%"),
    }
    book.add(job.hand, job.at, "application", job.key, **start)
    restrict(book, job, job.at)
    book.change(job.hand, end, job.key, ended_at=moment(end), stopped_early=False,
                sent_late_h=late)  # fmt: skip
    book.change(job.hand, end, f"{job.key} area", ended_at=moment(end), sent_late_h=late)
    if job.key not in ("app31", "app67"):  # two that nobody has signed
        sign(book, job, end + timedelta(minutes=3), late)
    over = end + timedelta(hours=rei_h(job.mix) + 1.2)
    if over < book.now - timedelta(hours=1):
        opener = hands["phone1"]
        opened = over + timedelta(minutes=20)
        book.change(opener, opened, f"{job.key} area", signs_down_at=moment(opened),
                    signs_down_by=opener.member)  # fmt: skip
        book.change(opener, opened + timedelta(minutes=1), f"{job.key} area",
                    reopened_at=moment(opened), reopened_by=opener.member,
                    reopened_name=opener.name)  # fmt: skip


def restrict(book: DemoBook, job: Job, at: datetime) -> None:
    """Write the restriction of an application: signs went up before the start."""
    number = 5 if job.mix.ml_per_pot else 4
    lot = job.lots[0]
    benches = [book.ids[f"{one.house}b{n}"] for one in job.lots for n in one.benches]
    house = next(h for h in HOUSES if h.key == lot.house)
    double = any(PRODUCTS[k].get("double_notice") for k, _, _ in job.mix.components)
    up = at - timedelta(minutes=12)
    notices = [{"told": "all in the house", "at": moment(up), "by": job.hand.member,
                "words": "Stay out until the signs are down."}]  # fmt: skip
    book.add(
        job.hand, at, "restriction", f"{job.key} area", application=book.ids[job.key],
        house=book.ids[lot.house], benches=list(dict.fromkeys(benches)), area="treated_area",
        area_during="treated_area_25_ft" if number == 4 else "treated_area", method_class=number,
        place=f"{house.name}, " + ", ".join(
            f"Bench {n}" for n in dict.fromkeys(n for one in job.lots for n in one.benches)
        ),
        product_names=", ".join(PRODUCTS[k]["name"] for k, _, _ in job.mix.components),
        started_at=moment(at), rei=q(f"{rei_h(job.mix):g}", "h"), rei_unknown=False,
        double_notice=double, ventilation_owed=False, signs_up_at=moment(up),
        signs_up_by=job.hand.member, oral_notices=notices if double else None,
    )  # fmt: skip


def sign(book: DemoBook, job: Job, at: datetime, late: float = 0) -> None:
    """Sign an application with the PIN of the one who did it."""
    book.change(
        job.hand, at, job.key, sent_late_h=late,
        signature={"member": job.hand.member, "name": job.hand.name, "method": "pin",
                   "device": job.hand.label, "at": moment(at)},
    )  # fmt: skip


def _running(book: DemoBook, hands: dict[str, Hand]) -> None:
    """Write what goes on right now: one house being sprayed, two restricted, one to be reopened."""
    for key, mix_key, code, hours, minutes in _NOW:
        lot = next(one for one in LOTS if one.code == code)
        at = book.now - timedelta(hours=hours)
        job = Job(key, at, MIXES[mix_key], mix_key, (lot,), hands["phone1"])
        book.add(job.hand, at, "application", key, **applied(book, job), started_at=moment(at),
                 air_temperature=q(19, "Cel"), air_humidity=q(64, "%"))  # fmt: skip
        restrict(book, job, at)
        if minutes:
            end = at + timedelta(minutes=minutes)
            book.change(job.hand, end, key, ended_at=moment(end), stopped_early=False)
            book.change(job.hand, end, f"{key} area", ended_at=moment(end))
            sign(book, job, end + timedelta(minutes=2))


def _odd_ones(book: DemoBook, hands: dict[str, Hand], jobs: list[Job]) -> None:
    """Write what every record book has: amendments, voids, gaps, two values, requests."""
    done = [job for job in jobs if job.key not in ("app31", "app67")]
    office, manager = hands["office"], hands["manager office"]
    for nth, reason in (
        (-6, "Misread the measuring cylinder."), (-14, "Refilled once more; first noted too low."),
        (-23, "Wrote the plan, not what was used."), (-40, "Typing mistake."),
    ):  # fmt: skip
        job = done[nth]
        was = float(book.fields[job.key]["volume"]["value"])
        later = min(job.at + timedelta(days=1, hours=3), book.now - timedelta(hours=2))
        book.change(office, later, job.key, action="amend", reason=reason,
                    volume=q(_digits(was * 1.12), "L"))  # fmt: skip
    for nth, reason in (
        (-18, "Logged twice: the same spraying stands a line above."),
        (-33, "Started on the wrong bench, stopped before any plant was wet."),
    ):
        job = done[nth]
        book.change(office, job.at + timedelta(hours=9), job.key, action="void", reason=reason)
    # two people corrected the same value without seeing each other: a person decides
    job = done[-9]
    when = book.now - timedelta(hours=30)
    was = book.fields[job.key]["volume"]["value"]
    book.change(office, when, job.key, action="amend", reason="Counted the refills again.",
                volume=q(_digits(float(was) * 0.9), "L"), unseen=True)  # fmt: skip
    book.change(manager, when + timedelta(hours=2), job.key, action="amend",
                reason="From the stock count.",
                volume=q(_digits(float(was) * 1.1), "L"))  # fmt: skip
    # an operator asks: it waits for the grower
    job = next(one for one in reversed(done) if one.hand is hands["phone1"])
    book.change(hands["phone1"], book.now - timedelta(hours=20), job.key, action="request",
                reason="I finished later than I wrote.",
                ended_at=moment(job.at + timedelta(minutes=95)), unseen=True)  # fmt: skip
    _incomplete(book, hands)
    # a phone that was lost and revoked sent once more: kept whole, and held back
    book.change(hands["server"], book.at(-8, "12:00"), "phone3 device", revoked=True)
    lost = hands["phone3"]
    book.add(lost, book.at(-8, "13:00"), "application", "held1", mix_name="Leaf spots",
             method="spray", started_at=moment(book.at(-8, "06:50")))  # fmt: skip


def _incomplete(book: DemoBook, hands: dict[str, Hand]) -> None:
    """Write two applications with gaps: an old can without number or REI, and one typed later."""
    lot = next(one for one in LOTS if one.code == "6·01")
    at = book.at(-27, "10:30")
    job = Job("gaps", at, MIXES["branching"], "branching", (lot,), hands["phone2"])
    fields = applied(book, job)
    product = {k: v for k, v in fields["products"][0].items()
               if k in ("name", "kind", "amount", "target")}  # fmt: skip
    gone = ("certified_applicator", "certified_applicator_name", "certified_applicator_number",
            "customer", "method_class")  # fmt: skip
    fields = {k: v for k, v in fields.items() if k not in gone}
    fields["products"] = [{**product, "name": "old can, label torn"}]
    book.add(job.hand, at, "application", job.key, **fields, started_at=moment(at))
    book.change(job.hand, at + timedelta(minutes=30), job.key, note="Label not readable.")
    sign(book, job, at + timedelta(minutes=31))
    lot = next(one for one in LOTS if one.code == "5·02")
    at = book.at(-11, "06:30")
    typed = at + timedelta(hours=37)  # 36 h after its end: the display came late (records.md 25)
    job = Job("typed later", at, MIXES["botrytis"], "botrytis", (lot,), hands["phone2"])
    book.add(job.hand, typed, "application", job.key, **applied(book, job), started_at=moment(at),
             ended_at=moment(at + timedelta(minutes=50)), entered_later=True,
             stopped_early=True,
             stopped_note="Ran out; the last third of the bench is dry.")  # fmt: skip
    sign(book, job, typed + timedelta(minutes=4))
