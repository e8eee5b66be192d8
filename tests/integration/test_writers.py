"""Sixteen phones push at once while a poller reads: nothing unseen, nothing lost, no error."""

from __future__ import annotations

import threading
from concurrent.futures import ThreadPoolExecutor
from typing import TYPE_CHECKING, Any

import pytest

from support.book import SAME_ORIGIN
from tepal.services.access import issue_token
from tepal.services.server_acts import Act, Chance, act, server_device
from tepal.services.verify import verify
from tepal.store.database import read_session, write_session

if TYPE_CHECKING:
    from support.book import Book

pytestmark = pytest.mark.timeout(240)

WRITERS, PUSHES, PER_PUSH = 16, 6, 5


class Writer:
    """One phone with its own cookie, cursor and numbers."""

    def __init__(self, book: Book, device: str, token: str) -> None:
        self.book = book
        self.device = device
        self.client = book.app.test_client()
        self.client.set_cookie(
            "__Host-device", token, domain="localhost", secure=True, httponly=True
        )
        self.cursor: str | None = None
        self.seen: dict[tuple[str, str], int] = {}
        self.number = 0

    def exchange(self, texts: list[str]) -> dict[str, Any]:
        body = {"device": self.device, "cursor": self.cursor, "entries": texts}
        reply = self.client.post(
            "/api/v1/exchange", json=body, headers=SAME_ORIGIN, base_url="https://localhost"
        )
        assert reply.status_code == 200, reply.text
        for record in reply.json["records"]:
            key = record["kind"], record["id"]
            assert record["revision"] >= self.seen.get(key, 0), "a pull went back in time"
            self.seen[key] = record["revision"]
        self.cursor = reply.json["cursor"]
        found: dict[str, Any] = reply.json
        return found


def writers_of(book: Book) -> list[Writer]:
    chance = Chance(book.clock.now, book.random.randbytes)
    devices = [book.uuid() for _ in range(WRITERS + 1)]
    acts = [
        Act("device", d, "create", book.manager.member, {"label": "phone", "ceiling": "manager"})
        for d in devices
    ]
    with book.app.app_context(), write_session() as session:
        server = server_device(session, book.establishment)
        session.rollback()
        act(session, book.establishment, server, acts, chance)
        tokens = [
            issue_token(
                session, chance, sort="device", establishment=book.establishment, device=device,
                member=None,
            )
            for device in devices
        ]  # fmt: skip
    return [Writer(book, d, t) for d, t in zip(devices, tokens, strict=True)]


@pytest.mark.full
def test_sixteen_writers_and_a_poller_lose_nothing(book_on_each: Book) -> None:
    book = book_on_each
    *writers, poller = writers_of(book)
    shared = book.uuid()  # one record that everybody changes, besides their own
    book.manager.exchange(
        book.manager.entry("lot", "create", record=shared, fields={"code": "L1", "crop": "Petunia"})
    )
    stop = threading.Event()
    lock = threading.Lock()

    def entry(writer: Writer, place: int) -> str:
        writer.number += 1
        with lock:  # the book's random source is not made for threads
            fields: dict[str, Any] = {"note": f"{writer.number}"}
            if place == 0:
                change = {"stage": {"was": None, "to": f"stage {writer.number}"}}
                return book.manager.entry(
                    "lot", "change", record=shared, device=writer.device, number=writer.number,
                    changes=change,
                )  # fmt: skip
            return book.manager.entry(
                "application", "create", device=writer.device, number=writer.number, fields=fields
            )

    def write(writer: Writer) -> int:
        done = 0
        for _ in range(PUSHES):
            texts = [entry(writer, place) for place in range(PER_PUSH)]
            reply = writer.exchange(texts)
            assert len(reply["results"]) == PER_PUSH
            assert reply["ack"] == writer.number
            done += len(texts)
        return done

    def poll() -> int:
        n = 0
        while not stop.is_set():
            poller.exchange([])
            n += 1
        return n

    with ThreadPoolExecutor(WRITERS + 1) as pool:
        polling = pool.submit(poll)
        try:
            done = sum(pool.map(write, writers, timeout=200))
        finally:
            stop.set()
        n_polls = polling.result(timeout=60)

    assert done == WRITERS * PUSHES * PER_PUSH
    assert n_polls > 1
    while poller.exchange([])["more"]:
        pass
    with book.app.app_context(), read_session() as session:
        found = verify(session, book.establishment, None)
    assert found.faults == ()
    fresh = writers[0]
    fresh.cursor, fresh.seen = None, {}
    while fresh.exchange([])["more"]:
        pass
    assert poller.seen == fresh.seen
    applications = [key for key in poller.seen if key[0] == "application"]
    assert len(applications) == WRITERS * PUSHES * (PER_PUSH - 1)
