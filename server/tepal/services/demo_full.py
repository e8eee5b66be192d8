"""The whole demo: an invented nursery with two months of work behind it.

Start here: `fill_nursery`. demo_nursery.py holds the registers, demo_products.py the products,
demo_days.py the applications, demo_plans.py the orders, demo_trials.py the trials. demo.py is the
small demo that tests use. Commits.
"""

from __future__ import annotations

import random
from datetime import date, timedelta
from typing import TYPE_CHECKING, Any, Final

from tepal.photos.drawn import HEIGHT, WIDTH, drawn_bench
from tepal.photos.intake import PIECE_BYTES
from tepal.reports.drawn_label import drawn_label
from tepal.services import access
from tepal.services.demo import MANAGER, PASSWORD, PIN
from tepal.services.demo_book import ZONE, DemoBook, Hand, digest, moment
from tepal.services.demo_days import fill_days
from tepal.services.demo_nursery import STAFF, fill_registers
from tepal.services.demo_plans import fill_plans
from tepal.services.demo_products import PRODUCTS
from tepal.services.demo_trials import demo_trials
from tepal.services.enrolment import set_pin
from tepal.services.exchange import read_numbers
from tepal.services.photos import put_piece
from tepal.services.server_acts import Chance, server_device
from tepal.store.models import MemberSecret

if TYPE_CHECKING:
    from sqlalchemy.orm import Session as DbSession

    from tepal.photos.storage import PhotoStorage
    from tepal.services.demo_days import Job

# name of the hand -> (person, what the device is called, its ceiling, password session)
_DEVICES: Final = {
    "office": ("Dinh Thorne", "Office browser", "manager", True),
    "manager office": (MANAGER, "Manager's browser", "manager", True),
    "phone1": ("Rosa Lind", "Phone 1", "operator", False),
    "phone2": ("Jovan Ashby", "Phone 2", "operator", False),
    "phone3": ("Jovan Ashby", "Phone 3 (lost)", "operator", False),
    "grower phone": ("Dinh Thorne", "Grower's phone", "grower", False),
    "tablet": ("Tess Varga", "Trial tablet", "technician", False),
    "wall": (MANAGER, "Wall tablet, packing shed", "display", False),
}
_FLOWERS: Final = ((196, 60, 60), (220, 180, 40), (150, 80, 170), (240, 240, 235))
_N_PHOTOS: Final = 8
# what demo_trials.py calls them -> what they are called here
_TRIALS_NAMES: Final = {
    "house1": "h1", "bench1": "h1b1", "bench2": "h1b2", "bench3": "h1b3", "lot1": "1·07",
    "lot2": "1·09",
}  # fmt: skip


def fill_nursery(db: DbSession, chance: Chance, storage: PhotoStorage, seed: int = 1) -> str:
    """Set the demo up; return the establishment. The same seed and day give the same nursery.

    `chance` gives the day and what must differ between two demos: ids of the establishment and its
    manager, and the salts.
    """
    now = chance.now()
    began = Chance(lambda: now - timedelta(days=76), chance.random_bytes)
    establishment, manager = access.set_up(
        db, began, name="Quillhaven Nursery", zone=ZONE, country="US", number_format="1234.5",
        unit_system="metric", member_name=MANAGER, password=PASSWORD, language="en",
    )  # fmt: skip
    server = server_device(db, establishment)
    n_written = read_numbers(db, establishment, server).ack
    db.rollback()
    book = DemoBook(
        establishment, now, random.Random(seed),  # noqa: S311 -- a demo that can be repeated
        Hand(server, manager, MANAGER, "server", is_server=True),
    )  # fmt: skip
    book.continue_from(server, n_written)
    book.ids |= {"establishment": establishment, MANAGER: manager}
    book.kinds |= {"establishment": "establishment", MANAGER: "member"}
    book.fields |= {"establishment": {"name": "Quillhaven Nursery"}, MANAGER: {}}
    hands = _hands(book)
    fill_registers(book, hands)
    jobs = fill_days(book, hands)
    fill_plans(book, hands)
    pictures = _photos(book, jobs)
    labels = _labels(book, hands["office"])
    _trials(book, hands)
    book.write(db)
    _secrets(db, book)
    _bytes(db, book, storage, pictures, labels)
    _heard(db, book, hands)
    return establishment


def _hands(book: DemoBook) -> dict[str, Hand]:
    at = book.at(-75, "07:30")
    for name, role, language, _ in STAFF:
        book.add(book.server, at, "member", name, name=name, role=role, language=language,
                 active=True)  # fmt: skip
    hands = {"server": book.server}
    for key, (person, label, ceiling, password) in _DEVICES.items():
        device = book.add(book.server, at, "device", f"{key} device", label=label, ceiling=ceiling)
        hands[key] = Hand(device, book.ids[person], person, label, password)
    return hands


def _trials(book: DemoBook, hands: dict[str, Hand]) -> None:
    """Write the trials: who made an act makes it on the device that the person uses."""
    named = book.ids | {name: book.ids[own] for name, own in _TRIALS_NAMES.items()}
    today = date.fromisoformat(book.day(0))
    of_member = {hands[key].member: hands[key] for key in ("manager office", "office", "phone1")}
    for one in demo_trials(named, lambda: book.uuid(book.now), today, hands["wall"].member):
        at = book.at((one.on - today).days, "14:20")
        book.put(of_member[one.act.member], at, one.act)


def _photos(book: DemoBook, jobs: list[Job]) -> list[bytes]:
    """Announce drawn photos of the last applications; return their bytes."""
    pictures = []
    for number, job in enumerate(jobs[-_N_PHOTOS:]):
        lot = job.lots[0]
        content = drawn_bench(number, _FLOWERS[number % len(_FLOWERS)],
                              f"lot {lot.code.replace('·', '.')}, {lot.crop}")  # fmt: skip
        at = job.at + timedelta(minutes=22)
        book.add(
            job.hand, at, "photo", f"photo{number}", of_kind="application",
            of_id=book.ids[job.key], sha256=digest(content), original_sha256=digest(content),
            size=len(content), width=WIDTH, height=HEIGHT, media_type="image/jpeg",
            captured_at=moment(at),
        )  # fmt: skip
        pictures.append(content)
    return pictures


def _labels(book: DemoBook, office: Hand) -> list[bytes]:
    """Announce a drawn label and safety data sheet of each product; return their bytes."""
    files = []
    for key, fields in PRODUCTS.items():
        for sort, title in (("label", "Label"), ("sds", "Safety data sheet")):
            content = drawn_label(f"{fields['name']}: {title}", _label_lines(sort, fields))
            book.add(
                office, book.at(-73, "10:00"), "label_file", f"{sort} {key}",
                product=book.ids[key], sort=sort, version_on="2026-01-12",
                file_name=f"{key}-{sort}.pdf", sha256=digest(content), size=len(content),
                media_type="application/pdf", replaced=False,
            )  # fmt: skip
            files.append(content)
    return files


def _label_lines(sort: str, fields: dict[str, Any]) -> list[tuple[str, str]]:
    strengths = "; ".join(
        f"{one['ai']} {one['strength']['value']} {one['strength']['unit']}"
        for one in fields.get("ingredients") or []
    )
    rei = fields.get("rei")
    lines = [
        ("Registration number (invented)", str(fields.get("registration_number") or "none")),
        ("Active ingredient", strengths or "none"),
        ("Signal word", str(fields.get("signal_word"))),
        ("First aid", str(fields.get("first_aid"))),
        ("PPE", str(fields.get("ppe_applying"))),
    ]
    if sort == "label":
        crops = ", ".join(dict.fromkeys(str(use["crop"]) for use in fields.get("uses") or []))
        lines += [
            ("Restricted-entry interval", f"{rei['value']} h" if rei else "none stated"),
            ("Crops (invented)", crops or "none"),
        ]
    return lines


def _secrets(db: DbSession, book: DemoBook) -> None:
    """Give everybody the demo's password and those who share a phone its PIN. Commits.

    Hashing is slow on purpose: the public password and PIN of a demo are hashed once for all.
    """
    chance = book.chance()
    names = [name for name, *_ in STAFF]
    set_pin(db, book.establishment, book.ids[names[0]], PIN, chance)
    hashed = access.hash_password(PASSWORD, chance.random_bytes(16))
    with db.begin():
        first = db.get(MemberSecret, (book.establishment, book.ids[names[0]]))
        for name in names:
            key = (book.establishment, book.ids[name])
            secret = db.get(MemberSecret, key)
            if secret is None:
                secret = MemberSecret(establishment=key[0], member=key[1])
                db.add(secret)
            secret.password_hash = hashed
            if name != "Edda Quill" and first is not None:
                secret.pin_salt, secret.pin_hash = first.pin_salt, first.pin_hash


def _bytes(
    db: DbSession, book: DemoBook, storage: PhotoStorage, pictures: list[bytes],
    labels: list[bytes],
) -> None:  # fmt: skip
    now = book.chance().instant()
    for content in (*pictures, *labels):
        for n in range(-(-len(content) // PIECE_BYTES)):
            piece = content[n * PIECE_BYTES : (n + 1) * PIECE_BYTES]
            put_piece(db, storage, book.establishment, digest(content), n, piece, now)


def _heard(db: DbSession, book: DemoBook, hands: dict[str, Hand]) -> None:
    said = (
        ("phone1", 0.1, 0), ("phone2", 29.0, 3), ("phone3", 190.0, 0), ("grower phone", 2.0, 0),
        ("tablet", 70.0, 0), ("wall", 0.02, 0),
    )  # fmt: skip
    book.heard(
        db,
        [
            (
                hands[key], book.now - timedelta(hours=hours),
                {"unsent": unsent, "photos_waiting": 0, "release": "demo",
                 "stored_bytes": 38_000_000, "quota_bytes": 6_000_000_000},
            )
            for key, hours, unsent in said
        ],
    )  # fmt: skip
