"""Monthly record and application sheet over a real app: filter, standards, what a reprint tells.

WPS fields and dates: 40 CFR 170.311(b) as compiled in the rows of domain/requirements.py; the
cases are those of the public rules' table (numbers in the names), 16 and 25 from memory.
"""

from __future__ import annotations

import pickle
import threading
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pypdfium2
import pytest

from support.book import Book, Desk
from support.paper_reading import whole_text
from tepal.services import month_paper
from tepal.services.papers import Printing, keep_drawn
from tepal.store.database import read_session, write_session
from tepal.store.journal import SqlJournal

if TYPE_CHECKING:
    from collections.abc import Callable

    from tepal.services.print_base import Book as PaperBook

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


def restricted(desk: Desk, **more: Any) -> str:
    fields = {
        "place": "North, Bench 2", "product_names": "Stemwright SL", "started_at": START,
        "ended_at": END, "rei": {"value": "12", "unit": "h"},
    } | more  # fmt: skip
    return add(desk, "restriction", **{k: v for k, v in fields.items() if v is not None})


def test_door_notice_says_what_the_sheet_is_not_and_measures_as_it_says(book: Book) -> None:
    # small sign: heading 7/8 in, other letters 1/2 in (WAC 296-307-12025, superseded 170.120)
    asked = f"/api/v1/papers/door-notice?restriction={restricted(book.manager)}"
    reply = book.manager.get(asked)
    text = " ".join(whole_text(reply.data).split())

    assert "A4 is not a standard-size sign (14 x 16 in" in text
    assert "signs at most 50 ft apart" in text
    assert "REI 12 h, ends Mon 4 May 2026, 22:30" in text
    heights = sign_letters_in(reply.data)
    assert min(heights["DANGERPELIGRO"]) >= 7 / 8
    assert min(heights["PESTICIDESPESTICIDASKEEPOUTNOENTRE"]) >= 1 / 2


def sign_letters_in(pdf: bytes, page: int = 0) -> dict[str, list[float]]:
    """Return the heights in inches of the sign's letters, by the words they stand in."""
    document = pypdfium2.PdfDocument(pdf)
    textpage = document[page].get_textpage()
    found: dict[str, list[float]] = {}
    text = textpage.get_text_range()
    for words in ("DANGER\nPELIGRO", "PESTICIDES\nPESTICIDAS\nKEEP OUT\nNO ENTRE"):
        start = text.replace("\r\n", "\n").index(words)
        key = "".join(words.split())
        boxes = [
            textpage.get_charbox(n)
            for n, sign in enumerate(text)
            if sign.isalpha() and start <= n - text[:n].count("\r") < start + len(words)
        ]
        found[key] = [(top - bottom) / 72 for _, bottom, _, top in boxes]
    document.close()
    return found


def test_tiled_door_notice_has_the_standard_size_and_letters_of_an_inch(book: Book) -> None:
    # at least 14 x 16 in, letters at least 1 in: 40 CFR 170.409(b)(3), WAC 16-233-121
    asked = f"/api/v1/papers/door-notice?form=tiled&restriction={restricted(book.manager)}"
    pdf = book.manager.get(asked).data

    heights = sign_letters_in(pdf)
    assert min(min(one) for one in heights.values()) >= 1
    assert "Part 1 of 4" in whole_text(pdf)


def test_door_notice_of_an_unknown_interval_says_stay_out(book: Book) -> None:
    area = restricted(book.manager, rei=None, rei_unknown=True)

    text = paper(book.manager, f"papers/door-notice?language=es&restriction={area}")

    assert "REI no archivado: no entre" in text


def test_entry_log_holds_notices_and_entries_and_room_to_write(book: Book) -> None:
    notice = {"told": "crew of four", "at": START, "by": book.manager.member, "words": "stay out"}
    area = restricted(book.manager, oral_notices=[notice])
    add(
        book.manager, "early_entry", restriction=area, who="Rosa Lind", task="short_task",
        began_at=END, ppe="coveralls", reason="leaking pipe",
    )  # fmt: skip

    again = restricted(book.manager)  # in another house: the hour in 24 h is the person's
    for minutes in ("25", "40"):
        ended = {**END, "local": f"{END['local'][:14]}{minutes}:00"}
        began = {**END, "local": f"{END['local'][:14]}00:00"}
        add(
            book.manager, "early_entry", restriction=area if minutes == "25" else again,
            who="Ola Brandt", task="short_task", began_at=began, ended_at=ended,
        )  # fmt: skip

    text = paper(book.manager, f"papers/entry-log?restriction={area}")

    assert "(25 min; 65 min in 24 h)" in " ".join(text.split())
    for said in ("crew of four", "stay out", "Rosa Lind", "leaking pipe", "coveralls", "1 h in 24"):
        assert said in text


def test_lot_history_tells_supplier_and_own_treatments_of_its_parents_too(book: Book) -> None:
    desk = book.manager
    parent = add(desk, "lot", code="1·01", crop="Lantana")
    lot = add(desk, "lot", code="1·02", crop="Lantana", from_lots=[parent])
    house = add(desk, "house", name="North")
    applied(desk, house, lines=[{"lot": parent, "house": house, "place": "North"}])
    add(
        desk, "supplier_treatment", lot=lot, product_name="Tallcheck SL", applied_on="2026-03-02",
        ingredients=[{"ai": "uniconazole"}], method="drench",
    )  # fmt: skip
    applied(desk, house, products=[{**PRODUCT, "name": "Somewhere else"}])

    text = paper(desk, f"papers/lot-history?lot={lot}")

    assert "Tallcheck SL" in text
    assert "Stemwright SL" in text
    assert "as lot 1·01" in text
    assert "Somewhere else" not in text


def test_day_plan_shows_orders_of_the_day_and_what_is_restricted(book: Book) -> None:
    desk = book.manager
    house = add(desk, "house", name="North")
    bench = add(desk, "bench", name="Bench 2", house=house)
    add(
        desk, "spray_order", title="Second week", lines=[{"bench": bench}],
        window_from="2026-05-11", window_to="2026-05-12", from_time="06:00",
    )  # fmt: skip
    add(desk, "spray_order", title="Other day", lines=[], window_from="2026-05-14")
    add(
        desk, "trial", code="T07", phase="running", day_zero_on="2026-05-01",
        plots=[{"plot": 1, "code": "101", "bench": bench}],
        assessments=[
            {"code": "w1", "name": "One week", "day": 7},
            {"code": "w2", "name": "Two weeks", "day": 12, "window": 1},
            {"code": "w4", "name": "Four weeks", "day": 28},
        ],
    )  # fmt: skip
    restricted(desk)

    text = paper(desk, "papers/day-plan?day=2026-05-12")

    assert "Second week" in text
    assert "North: Bench 2" in text
    assert "Other day" not in text
    assert "not reopened" in text
    assert "T07: Two weeks" in text
    assert "T07: One week" in text  # its day is over, and nothing was entered
    assert "overdue" in text
    assert "Four weeks" not in text
    # of another day nobody knows what will have been left out
    assert "One week" not in paper(desk, "papers/day-plan?day=2026-05-13")


def test_central_display_on_paper_holds_what_the_wall_holds(book: Book) -> None:
    """Application of public case 2: on display until 3 June, 22:30; REI 12 h, over at 22:30."""
    desk = book.manager
    facility = {"name": "Harlow County Clinic", "address": "12 Mill Road", "phone": "+1 555 0100"}
    text = desk.entry(
        "establishment", "change", record=desk.establishment, fields={"medical_facility": facility}
    )
    desk.exchange(text)
    house = add(desk, "house", name="North")
    applied(desk, house, lines=[{"place": "bench 4", "crop": "Lantana", "lot_code": "1·07"}])
    past = {**START, "local": "2026-04-01T09:30:00"}
    applied(desk, house, started_at=past, ended_at=past, lines=[{"place": "bench 9"}])
    unknown = {k: v for k, v in PRODUCT.items() if k != "rei"}
    applied(desk, house, started_at=past, ended_at=past, products=[unknown],
            lines=[{"place": "bench 7"}])  # fmt: skip

    text = paper(desk, "papers/central-display")

    for said in (
        "Harlow County Clinic, 12 Mill Road, +1 555 0100", "Stemwright SL, 99001-12",
        "chlormequat chloride 118 g/L", "1·07 Lantana", "Mon 4 May 2026 10:30",
        "until Mon 4 May 2026, 22:30", "of Mon 12 Jan 2026", "Wed 3 Jun 2026", "bench 7",
        "not on file: read the label, stay out", "from memory",
    ):  # fmt: skip
        assert said in text.replace("\u00a0", " "), said
    assert "bench 9" not in text


class _Away:
    """A worker that runs what it is given here, and remembers what that was."""

    def __init__(self) -> None:
        self.ran: list[str] = []

    def run(self, work: Callable[..., Any], *given: Any) -> Any:
        self.ran.append(work.__name__)
        return work(*pickle.loads(pickle.dumps(given)))


def test_large_month_is_read_and_drawn_in_the_worker(
    book: Book, monkeypatch: pytest.MonkeyPatch
) -> None:
    away = book.app.extensions["tepal_worker"] = _Away()
    house = add(book.manager, "house", name="North")
    applied(book.manager, house)
    small = month(book.manager)
    assert away.ran == []
    monkeypatch.setattr(month_paper, "LARGE", 1)  # instead of forty applications

    large = month(book.manager)

    assert away.ran == ["drawn_away"]
    assert "Print number first" in small
    assert "Print number reprint 1" in large


def test_same_paper_printed_meanwhile_takes_the_number(book: Book) -> None:
    """Nobody holds the writers' lock while a paper is made, so two can be made at once."""
    numbers = []

    def make(paper: PaperBook) -> tuple[dict[str, Any], int]:
        numbers.append(paper.reprint_number)
        if len(numbers) == 1:
            keep(lambda inner: ({}, inner.reprint_number))
        return {}, paper.reprint_number

    def keep(making: Callable[[PaperBook], tuple[dict[str, Any], int]]) -> int:
        with read_session() as db:
            printing = Printing(
                db, book.establishment, "en", WEB / "locale", book.manager.member,
                book.app.extensions["tepal_chance"],
            )  # fmt: skip
            return keep_drawn(printing, "day_plan", "2026-05-04", making)

    with book.app.app_context():
        kept = keep(make)

    assert (kept, numbers) == (1, [0, 1])


def test_print_waits_for_a_push_under_way(tmp_path: Path, database_url: str) -> None:
    """A paper names the journal's head: records and head are of one moment, and so is its number."""
    book = Book(tmp_path, database_url=database_url, web_root=WEB)
    replies: list[int] = []

    def ask() -> None:
        replies.append(book.manager.get("/api/v1/papers/central-display").status_code)

    asker = threading.Thread(target=ask)
    with book.app.app_context(), write_session() as db, db.begin():
        SqlJournal(db, book.establishment).lock()
        asker.start()
        asker.join(1.5)
        under_way = list(replies)
    asker.join()
    book.close()

    assert (under_way, replies) == ([], [200])
