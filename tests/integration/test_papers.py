"""Monthly record and application sheet over a real app: filter, standards, what a reprint tells.

WPS fields and dates: 40 CFR 170.311(b) as compiled in the rows of domain/requirements.py; the
cases are those of the public rules' table (numbers in the names), 16 and 25 from memory.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from support.book import Book, Desk
from support.paper_reading import whole_text

WEB = Path(__file__).parents[2] / "web" / "app"
START = {"local": "2026-05-04T09:30:00", "offset_min": -240, "zone": "America/New_York"}
END = {**START, "local": "2026-05-04T10:30:00"}
PRODUCT = {
    "name": "Stemwright SL", "registration_number": "99001-12", "rei": {"value": "12", "unit": "h"},
    "ingredients": [{"ai": "chlormequat chloride", "strength": {"value": "118", "unit": "g/L"}}],
    "amount": {"value": "60", "unit": "mL"}, "physical_form": "liquid", "sds_on": "2026-01-12",
}  # fmt: skip


@pytest.fixture
def book(tmp_path: Path) -> Book:
    return Book(tmp_path, web_root=WEB)


def add(desk: Desk, kind: str, made_at: dict[str, Any] | None = None, **fields: Any) -> str:
    record = desk.book.uuid()
    more = {"made_at": made_at} if made_at else {}
    text = desk.entry(kind, "create", record=record, fields=fields, **more)
    assert desk.exchange(text)["results"][0]["outcome"] == "accepted"
    return record


def applied(desk: Desk, house: str, made_at: dict[str, Any] | None = None, **more: Any) -> str:
    fields = {
        "lines": [{"house": house, "place": f"bench of {house[:4]}", "crop": "Lantana"}],
        "products": [PRODUCT], "method": "spray", "mix_name": "Height", "started_at": START,
        "ended_at": END, "volume": {"value": "10", "unit": "L"},
        "area": {"value": "50", "unit": "m2"}, "operator_name": "Rosa Lind",
        "operator": desk.member, "signature": {"name": "Rosa Lind", "method": "pin", "at": END},
    } | more  # fmt: skip
    return add(desk, "application", made_at, **{k: v for k, v in fields.items() if v is not None})


def paper(desk: Desk, path: str) -> str:
    reply = desk.get(f"/api/v1/{path}")
    assert reply.status_code == 200, reply.text
    return " ".join(whole_text(reply.data).split())


def month(desk: Desk, **query: str) -> str:
    asked = "&".join(f"{k}={v}" for k, v in {"month": "2026-05", **query}.items())
    return paper(desk, f"reports/month?{asked}")


def test_month_of_one_house_holds_only_its_applications(book: Book) -> None:
    one, other = (add(book.manager, "house", name=name) for name in ("North", "South"))
    applied(book.manager, one)
    applied(book.manager, other, mix_name="Elsewhere")

    text = month(book.manager, house=one)

    assert "North only" in text
    assert "1 application" in text
    assert "Elsewhere" not in text


def test_unknown_house_is_told_and_nothing_is_stored(book: Book) -> None:
    reply = book.manager.get(f"/api/v1/reports/month?month=2026-05&house={book.uuid()}")

    assert (reply.status_code, reply.json["code"]) == (404, "papers.no_such_house")
    assert "Print number first" in month(book.manager)


def test_reprint_is_numbered_and_names_what_changed(book: Book) -> None:
    desk = book.manager
    house = add(desk, "house", name="North")
    record = applied(desk, house)
    assert "What changed since" not in month(desk)
    assert "Nothing: the same applications" in month(desk)
    litres = {"was": {"value": "10", "unit": "L"}, "to": {"value": "12", "unit": "L"}}
    text = desk.entry(
        "application", "amend", record=record, fields={"volume": litres}, reason="misread"
    )
    desk.exchange(text)
    applied(desk, house, mix_name="Second")

    text = month(desk)

    assert "reprint 2" in text
    assert "What changed since print 1" in text
    assert "volume: 10 L → 12 L" in text
    assert "new on this paper" in text


def test_case_2_wps_dates_of_a_foliar_spray(book: Book) -> None:
    # ends 2026-05-04 10:30 -04:00, REI 12 h: display by 05-05 10:30, to 06-03 22:30, keep 2 years
    applied(book.manager, add(book.manager, "house", name="North"))

    text = month(book.manager)

    assert "display by Tue 5 May 2026, 10:30, until Wed 3 Jun 2026, 22:30" in text
    assert "keep until Thu 4 May 2028 at least" in text


def test_case_16_gaps_are_named_with_citation_and_marked_from_memory(book: Book) -> None:
    bare = {k: PRODUCT[k] for k in ("name", "registration_number", "rei")}
    applied(book.manager, add(book.manager, "house", name="North"), products=[bare], ended_at=None)

    text = month(book.manager)

    assert "lacks:" in text
    for said in ("The end time is missing", "The active ingredients are missing", "safety data"):
        assert said in text
    assert "[40 CFR 170.311(b)(1)(iv)†]" in text
    assert "† from memory: not checked against the official text" in text


def test_case_25_record_typed_36_h_after_the_end_is_late_by_12_h(book: Book) -> None:
    typed = {**START, "local": "2026-05-05T22:30:00"}
    applied(book.manager, add(book.manager, "house", name="North"), typed, entered_later=True)

    assert "came 12 hours after the 24 hours" in month(book.manager)


def test_sheet_of_one_application_tells_its_whole_history(book: Book) -> None:
    desk = book.manager
    record = applied(desk, add(desk, "house", name="North"))
    litres = {"was": {"value": "10", "unit": "L"}, "to": {"value": "12", "unit": "L"}}
    desk.exchange(
        desk.entry("application", "amend", record=record, fields={"volume": litres}, reason="why")
    )

    text = paper(desk, f"papers/application?application={record}")

    assert "Volume applied: 10 L → 12 L" in text
    assert "Reason: why" in text
    assert "Record standards" in text


def test_sheet_of_an_unknown_application_is_told(book: Book) -> None:
    reply = book.manager.get(f"/api/v1/papers/application?application={book.uuid()}")

    assert (reply.status_code, reply.json["code"]) == (404, "papers.no_such_application")
