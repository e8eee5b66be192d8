"""The long prints of this process: which wait, which are drawn, which are ready.

Only months that are drawn in the worker stand here. Kept in memory: a print is over with the
request that asked for it, and a server that starts anew prints nothing.
"""

from __future__ import annotations

import threading
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING, Any, Final

from tepal.services.server_acts import instant_text

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from tepal.services.worker import Worker

# how long somebody who comes back to the page is told that the paper is ready
_TOLD_FOR: Final = timedelta(minutes=10)


@dataclass(slots=True)
class _Print:
    establishment: str
    member: str
    about: dict[str, Any]
    number: int
    ended: datetime | None = None
    is_good: bool = False


class PrintsNow:
    """What is printed in the worker, by who asked for it. Safe to use from several threads."""

    def __init__(self, worker: Worker, now: Callable[[], datetime]) -> None:
        self._worker, self._now = worker, now
        self._lock = threading.Lock()
        self._prints: list[_Print] = []

    @contextmanager
    def printing(self, establishment: str, member: str, about: dict[str, Any]) -> Iterator[int]:
        """Keep a print on the list while it is made; yields its number for `Worker.run_as`."""
        one = _Print(establishment, member, about, self._worker.number())
        with self._lock:
            self._prints.append(one)
        try:
            yield one.number
            one.is_good = True
        finally:
            one.ended = self._now()

    def of(self, establishment: str, member: str) -> list[dict[str, Any]]:
        """Return a member's prints, the newest first.

        Each is what `about` said with "state" (waiting, drawn, ready, failed), "since" (UTC; None
        while it waits) and, while it is drawn, how many applications of how many are: "done",
        "total" (0: not counted yet).
        """
        at = self._worker.progress()
        with self._lock:
            forgotten = self._now() - _TOLD_FOR
            self._prints = [p for p in self._prints if p.ended is None or p.ended > forgotten]
            own = [
                p for p in self._prints if (p.establishment, p.member) == (establishment, member)
            ]
        found = []
        for one in reversed(own):
            told: dict[str, Any] = {**one.about, "since": None, "done": 0, "total": 0}
            if one.ended is not None:
                told |= {"state": "ready" if one.is_good else "failed"}
                told["since"] = instant_text(one.ended)
            elif one.number == at.number:
                since = instant_text(datetime.fromtimestamp(at.since, UTC))
                told |= {"state": "drawn", "since": since, "done": at.done, "total": at.total}
            else:
                told["state"] = "waiting"
            found.append(told)
        return found
