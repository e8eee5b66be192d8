"""One exchange over HTTP: pages, cursors, acknowledgements; by hand where the machine is random."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest

from support.book import Desk
from tepal.services import exchange as exchange_service
from tepal.sync.cursor import read_cursor

if TYPE_CHECKING:
    from support.book import Book


SET_UP = 4  # records of a fresh book: the server's device, the nursery, its manager, the browser


def lots(desk: Desk, n: int) -> list[str]:
    return [
        desk.entry("lot", "create", fields={"code": f"L{i}", "crop": "Petunia"}) for i in range(n)
    ]


def pull_all(desk: Desk) -> list[dict[str, Any]]:
    """Pull until there is no more; return every page."""
    pages = [desk.exchange()]
    while pages[-1]["more"]:
        pages.append(desk.exchange())
    return pages


def test_snapshot_comes_in_pages_and_can_be_resumed(
    book_on_each: Book, monkeypatch: pytest.MonkeyPatch
) -> None:
    desk = book_on_each.manager
    desk.exchange(*lots(desk, 20))
    # no setting exists for the size of a page; 1,000 records would make this test slow
    monkeypatch.setattr(exchange_service, "MAX_RECORDS", 7)
    desk.cursor = None

    pages = pull_all(desk)

    assert [page["reset"] for page in pages] == [True] + [False] * (len(pages) - 1)
    ids = [record["id"] for page in pages for record in page["records"]]
    assert len(ids) == len(set(ids)) == 20 + SET_UP
    revisions = [record["revision"] for page in pages for record in page["records"]]
    assert revisions == sorted(revisions)
    assert [page["upto"] for page in pages] == [page["records"][-1]["revision"] for page in pages]


def test_page_never_ends_inside_the_records_of_one_entry(
    book: Book, monkeypatch: pytest.MonkeyPatch
) -> None:
    desk, record = book.manager, book.uuid()
    fields = {
        name: {"was": None, "to": "a"} for name in ("note", "purpose", "mix_name", "operator_name")
    }
    desk.exchange(desk.entry("application", "create", record=record, changes=fields))
    clash = {name: {"was": "x", "to": "b"} for name in fields}
    desk.exchange(desk.entry("application", "change", record=record, changes=clash))
    monkeypatch.setattr(exchange_service, "MAX_RECORDS", 2)
    desk.cursor = None

    pages = pull_all(desk)

    together = [p for p in pages if any(r["kind"] == "conflict" for r in p["records"])]
    assert [len(page["records"]) for page in together] == [5]


def test_nothing_new_is_an_empty_page(book: Book) -> None:
    desk = book.manager
    first = pull_all(desk)[-1]

    again = desk.exchange()

    assert (again["records"], again["more"], again["reset"]) == ([], False, False)
    assert again["cursor"] == first["cursor"]


@pytest.mark.parametrize("cursor", ["", "nonsense", "x" * 5000])
def test_unreadable_cursor_starts_again_without_a_resend(book: Book, cursor: str) -> None:
    reply = book.manager.exchange(cursor=cursor)

    assert (reply["reset"], reply["resend"]) == (True, False)


@pytest.mark.parametrize("part", ["epoch", "scope", "seq", "hash"])
def test_cursor_of_another_book_starts_again_and_asks_for_everything(book: Book, part: str) -> None:
    desk = book.manager
    cursor = read_cursor(pull_all(desk)[-1]["cursor"])
    assert cursor is not None
    pieces = {
        "epoch": cursor.epoch, "scope": cursor.scope, "seq": str(cursor.seq), "hash": cursor.hash,
    }  # fmt: skip
    pieces[part] = {"epoch": "0badcafe", "scope": "other", "seq": "99", "hash": "0" * 16}[part]

    reply = desk.exchange(cursor=".".join(pieces.values()))

    assert (reply["reset"], reply["resend"]) == (True, True)
    assert len(reply["records"]) == SET_UP


def test_hole_in_the_numbers_is_named_in_the_reply(book: Book) -> None:
    desk = book.manager
    one, two, three, four = lots(desk, 4)

    reply = desk.exchange(one, four)
    assert (reply["ack"], reply["seen"], reply["missing"]) == (1, 4, [[2, 3]])
    reply = desk.exchange(two)
    assert (reply["ack"], reply["seen"], reply["missing"]) == (2, 4, [[3, 3]])
    reply = desk.exchange(three)
    assert (reply["ack"], reply["seen"], reply["missing"]) == (4, 4, [])


def test_repeated_request_gives_the_same_results(book_on_each: Book) -> None:
    desk = book_on_each.manager
    texts = lots(desk, 3)
    first = desk.exchange(*texts, cursor=None)

    again = desk.exchange(*texts, cursor=None)

    assert {k: v for k, v in again.items() if k != "now"} == {
        k: v for k, v in first.items() if k != "now"
    }


def test_two_phones_see_each_others_records(book_on_each: Book) -> None:
    one, two = book_on_each.manager, Desk(book_on_each, "Ines Prado")
    pull_all(two)
    one.exchange(*lots(one, 2))

    assert [r["fields"]["code"] for r in two.exchange()["records"]] == ["L0", "L1"]
    assert two.exchange()["records"] == []


def test_author_stays_the_one_who_wrote_it(book: Book) -> None:
    """The next person on a phone never sends it as theirs."""
    grower = book.manager.add_member("Gia Moreau", "grower")
    desk = book.manager

    reply = desk.exchange(desk.entry("application", "create", member=grower, fields={"note": "a"}))

    assert reply["records"][-1]["author"] == grower


def test_status_with_nothing_to_send_is_noted(book_on_each: Book) -> None:
    desk = book_on_each.manager
    desk.exchange(status={"outbox": 0, "oldest": "2026-05-12"})

    phones = desk.get("/api/v1/phones").json["phones"]

    mine = next(phone for phone in phones if phone["id"] == desk.device)
    said = {"outbox": 0, "oldest": "2026-05-12", "said_at": mine["heard_at"]}
    assert mine["status"] == said
    desk.exchange()  # says nothing of itself: what it said stays, with its own time
    phones = desk.get("/api/v1/phones").json["phones"]
    assert next(phone for phone in phones if phone["id"] == desk.device)["status"] == said


def test_status_that_is_none_of_our_apps_is_not_kept_and_holds_nothing_up(book: Book) -> None:
    desk = book.manager
    desk.exchange(status={"unsent": 3})

    reply = desk.exchange(*lots(desk, 1), status={"unsent": 4, "more": "x" * 5000})

    assert [one["outcome"] for one in reply["results"]] == ["accepted"]
    [own] = [one for one in desk.get("/api/v1/phones").json["phones"] if one["id"] == desk.device]
    assert own["status"]["unsent"] == 3
