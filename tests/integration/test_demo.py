"""The whole demo: written by entries only, the same for the same seed and day, safe in its numbers.

Usual restricted-entry intervals, h: chlormequat chloride 12 (Michigan State University PGR guide,
read), ethephon 48 (Greenhouse Grower article, read), all others from memory.
"""

from __future__ import annotations

import random
from datetime import UTC, datetime
from typing import TYPE_CHECKING

from tepal.app import create_app
from tepal.config import Config
from tepal.domain.checks import check_findings
from tepal.forms.validator import problems
from tepal.services import office
from tepal.services.demo_book import DemoBook, Hand
from tepal.services.demo_days import fill_days
from tepal.services.demo_full import _hands, fill_nursery
from tepal.services.demo_nursery import fill_registers
from tepal.services.demo_plans import fill_plans
from tepal.services.demo_products import MIXES, PRODUCTS
from tepal.services.later_checks import Book, situation_of
from tepal.services.server_acts import Chance
from tepal.services.verify import verify
from tepal.store import records as record_rows
from tepal.store.database import db, read_session, write_session

if TYPE_CHECKING:
    from pathlib import Path

NOW = datetime(2026, 11, 25, 13, 30, tzinfo=UTC)
USUAL_REI_H = {
    "chlormequat chloride": 12, "ethephon": 48, "daminozide": 24, "paclobutrazol": 12,
    "uniconazole": 12, "ancymidol": 12, "gibberellic acid": 4, "benzyladenine": 12,
    "flurprimidol": 12, "dikegulac sodium": 12, "pyrethrins": 12, "bifenthrin": 12,
    "mancozeb": 24, "fenhexamid": 12,
}  # fmt: skip


def drawn_up(seed: int) -> DemoBook:
    book = DemoBook("e", NOW, random.Random(seed), Hand("d", "m", "Ines Prado", "server"))
    book.ids |= {"establishment": "e", "Ines Prado": "m"}
    book.kinds |= {"establishment": "establishment"}
    book.fields |= {"establishment": {}}
    hands = _hands(book)
    fill_registers(book, hands)
    fill_days(book, hands)
    fill_plans(book, hands)
    return book


def test_no_demo_interval_is_shorter_than_the_usual_one() -> None:
    for fields in PRODUCTS.values():
        for one in fields.get("ingredients") or []:
            assert float(fields["rei"]["value"]) >= USUAL_REI_H[one["ai"]], fields["name"]


def test_mixes_stay_below_the_ceilings_that_the_demo_invented() -> None:
    for mix in MIXES.values():
        for key, value, unit in mix.components:
            uses = [
                use for use in PRODUCTS[key].get("uses", [])
                if mix.method in use["methods"] and use["crop"] in mix.crops
            ]  # fmt: skip
            assert unit == "mL/L" or {use["crop"] for use in uses} == set(mix.crops), mix.name
            field = "max_dose_container" if unit == "mg/{pot}" else "max_concentration"
            assert all(float(value) <= float(use[field]["value"]) for use in uses), mix.name


def test_same_seed_and_day_write_the_same_acts_and_another_seed_others() -> None:
    one, same, other = drawn_up(1), drawn_up(1), drawn_up(2)

    assert one._queue == same._queue
    assert one._queue != other._queue


def test_every_act_of_the_demo_fits_its_schema() -> None:
    for written in drawn_up(1)._queue:
        values = {name: pair["to"] for name, pair in written.body["changes"].items()}
        wrong = problems(written.body["kind"], values)
        references = {"establishment": "e", "member": "m"}
        assert not {k: v for k, v in wrong.items() if values[k] not in references.values()}, written


def test_filled_demo_is_two_months_of_work_that_verifies(tmp_path: Path) -> None:
    config = Config(f"sqlite:///{tmp_path / 'demo.db'}", str(tmp_path / "photos"))
    rng = random.Random(7)
    app = create_app(config, Chance(lambda: NOW, rng.randbytes))
    with app.app_context():
        with write_session() as session:
            establishment = fill_nursery(
                session, app.extensions["tepal_chance"], app.extensions["tepal_photos"]
            )
        with read_session() as session:
            found = verify(session, establishment, app.extensions["tepal_photos"], [])
            applications = record_rows.load_all(session, establishment, "application")
            months = office.months_with_applications(session, establishment)
            areas = record_rows.load_all(session, establishment, "restriction")
            held = record_rows.load_all(session, establishment, "held")
            cases = record_rows.load_all(session, establishment, "conflict")
            book = Book(session, establishment)
        for engine in db.engines.values():
            engine.dispose()

    assert found.is_good, found.faults
    assert 70 <= len(applications) <= 100
    assert len(months) == 3  # 61 days end in three calendar months
    states = [one.state for one in applications]
    assert (states.count("void"), states.count("open")) == (2, 3)
    assert sum("reopened_at" not in one.fields for one in areas) >= 4
    assert {one.fields["outcome"] for one in held} == {"waiting", "quarantined"}
    assert len(cases) == 1
    # voided, amended, incomplete and disputed ones are meant; a breach of a label is not
    assert breaches(book) == []


def breaches(book: Book) -> list[tuple[str, str]]:
    situations = [(row.id, situation_of(book, row)) for row in book.rows["application"]]
    return [
        (record, one.code)
        for record, situation in situations
        if situation is not None
        for one in check_findings(situation)
        if one.severity == "stop"
    ]
