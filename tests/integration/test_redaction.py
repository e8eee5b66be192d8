"""A person's name leaves the book; the chain holds, and nobody hides behind a redaction."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest
from sqlalchemy import text as sql

from support.book import Book, Desk
from tepal.services.redaction import RedactionError, redact
from tepal.services.retention import kept_until
from tepal.services.server_acts import Chance
from tepal.services.verify import verify
from tepal.store.database import read_session, write_session

if TYPE_CHECKING:
    from collections.abc import Iterator

NAME = "Rosa Lind"
PRODUCTS = [{"name": "Stemhold 250", "rei": {"value": "12", "unit": "h"}}]


def at(day: str) -> dict[str, Any]:
    return {"local": f"{day}T08:00:00", "offset_min": -240, "zone": "America/New_York"}


class Story:
    """An operator who signed, clashed, asked and left, years ago by now."""

    def __init__(self, book: Book) -> None:
        self.book, manager = book, book.manager
        self.member = manager.add_member(NAME, "operator")
        phone = Desk(book, NAME)
        record = book.uuid()
        signature = {"member": self.member, "name": NAME, "method": "pin", "at": at("2026-05-12")}
        phone.exchange(
            phone.entry(
                "application", "create", record=record,
                fields={
                    "operator": self.member, "operator_name": NAME, "started_at": at("2026-05-12"),
                    "ended_at": at("2026-05-12"), "signature": signature, "note": f"by {NAME}.",
                    "products": PRODUCTS,
                },
            ),
            phone.entry("house", "propose", fields={"name": f"House of {NAME}"}),
            phone.entry("sprayer", "propose", fields={"name": f"{NAME}'s sprayer"}),
        )  # fmt: skip
        lot = book.uuid()
        manager.exchange(
            manager.entry("lot", "create", record=lot, fields={"code": "L1", "crop": "Petunia"}),
            manager.entry(
                "lot", "change", record=lot,
                fields={"supplier": {"was": "x", "to": NAME}, "crop": {"was": "Rose", "to": NAME}},
            ),
        )  # fmt: skip
        held = [r for r in manager.exchange(cursor=None)["records"] if r["kind"] == "held"]
        self.held = {r["fields"]["of_kind"]: r["id"] for r in held}
        self.accept("house")

    def accept(self, kind: str) -> None:
        manager = self.book.manager
        decision = manager.entry(
            "held", "decide", record=self.held[kind], fields={"decision": "accept"}
        )
        assert manager.exchange(decision)["results"][0]["outcome"] == "accepted"

    def leave(self) -> None:
        manager = self.book.manager
        fields = {"active": {"was": True, "to": False}}
        manager.exchange(manager.entry("member", "change", record=self.member, fields=fields))

    def redact(self) -> Any:
        chance = Chance(self.book.clock.now, self.book.random.randbytes)
        with self.book.app.app_context(), write_session() as db:
            return redact(
                db, self.book.establishment, self.member, self.book.manager.member, chance
            )

    def verify(self) -> Any:
        with self.book.app.app_context(), read_session() as db:
            return verify(db, self.book.establishment, None)

    def run(self, statement: str, **values: Any) -> list[Any]:
        with self.book.app.app_context(), write_session() as db, db.begin():
            found = db.execute(sql(statement), values)
            return list(found) if found.returns_rows else []


@pytest.fixture
def story(tmp_path: Any) -> Iterator[Story]:
    book = Book(tmp_path)
    yield Story(book)
    book.close()


def test_name_goes_and_the_chain_holds(story: Story) -> None:
    with pytest.raises(RedactionError) as active:
        story.redact()
    assert active.value.code == "redact.still_active"
    story.leave()
    with pytest.raises(RedactionError) as kept:
        story.redact()
    # 40 CFR 170.311(b)(6): two years from the end of the restricted-entry interval
    assert (kept.value.code, kept.value.context["until"]) == ("redact.kept", "2028-05-12")
    cursor = story.book.manager.cursor
    story.book.clock.time = story.book.clock.time.replace(year=2028, month=6)

    found = story.redact()

    everything = str(story.run("SELECT * FROM journal"))
    for table in ("member", "application", "house", "held", "conflict", "lot", "device"):
        everything += str(story.run(f"SELECT * FROM {table}"))
    assert NAME not in everything
    assert found.n_texts >= 5
    assert found.placeholder in everything
    result = story.verify()
    assert result.faults == ()
    assert result.n_redacted == found.n_texts
    story.book.manager.cursor = cursor
    device = {"id": story.book.manager.device, "label": "x"}
    body = {"name": "Ines Prado", "password": "correct horse staple", "device": device}
    assert story.book.manager.post("/api/v1/sign-in", body).status_code == 200
    assert story.book.manager.exchange()["reset"] is True  # phones read the records again


def test_what_waited_takes_effect_after_a_redaction(story: Story) -> None:
    story.leave()
    story.book.clock.time = story.book.clock.time.replace(year=2028, month=6)
    story.redact()
    device = {"id": story.book.manager.device, "label": "x"}
    body = {"name": "Ines Prado", "password": "correct horse staple", "device": device}
    story.book.manager.post("/api/v1/sign-in", body)

    story.accept("sprayer")

    assert "redacted" in str(story.run("SELECT name FROM sprayer"))
    assert story.verify().faults == ()


def test_nobody_hides_a_change_behind_a_redaction(story: Story) -> None:
    story.leave()
    story.book.clock.time = story.book.clock.time.replace(year=2028, month=6)
    story.redact()

    row = story.run("SELECT seq, text FROM journal WHERE redacted AND kind = 'application'")[0]
    story.run(
        "UPDATE journal SET text = :t WHERE seq = :s", t=row[1].replace("by ", "By "), s=row[0]
    )

    assert "redaction_differs" in {fault.code for fault in story.verify().faults}
    other = story.run("SELECT seq FROM journal WHERE NOT redacted AND kind = 'lot'")[0][0]
    story.run("UPDATE journal SET redacted = true WHERE seq = :s", s=other)
    assert story.verify().n_redacted >= 6
    assert not story.verify().is_good


@pytest.mark.parametrize(
    ("establishment", "until"),
    [
        ({"country": "US"}, "2028-05-12"),
        ({"country": "US", "keep_years": 7}, "2033-05-12"),
        ({"country": "ES"}, "2029-05-12"),  # Reg. (EC) 1107/2009 art. 67(1): three years
        ({"country": "MX"}, None),  # no standard on file: nothing may go
        ({"country": "MX", "keep_years": 1}, "2027-05-12"),
    ],
)
def test_application_is_kept_until_the_latest_day_any_rule_names(
    establishment: dict[str, Any], until: str | None
) -> None:
    application = {
        "started_at": at("2026-05-12"),
        "ended_at": at("2026-05-12"),
        "products": PRODUCTS,
    }

    assert kept_until(application, establishment) == until
