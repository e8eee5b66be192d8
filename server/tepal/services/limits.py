"""Limits that hold over all processes of a server: wrong tries slow down, a device's appetite ends.

What was used up stands in one table (`limit_tally`), so that more processes, or a restart, give
nobody more tries. `SqlTally` commits, each step in a short transaction of its own; it must not be
asked inside another one.
"""

from __future__ import annotations

import hashlib
import threading
from collections import OrderedDict
from typing import TYPE_CHECKING, Final, Protocol, cast

from sqlalchemy import ColumnElement, Table, delete, func, select, text, update

from tepal.store.database import read_session, write_session
from tepal.store.models import LimitTally

if TYPE_CHECKING:
    from collections.abc import Callable

    from sqlalchemy.orm import Session as DbSession

_TALLY = cast("Table", LimitTally.__table__)
_KEPT_S: Final = 2 * 86_400  # by then every wait is over and every allowance is back
_MOST_ROWS: Final = 10_000
Amount = tuple[float, float]  # how much, and when that was so, in seconds


class Tally(Protocol):
    """Amounts by sort and key, changed one at a time."""

    def read(self, sort: str, key: str) -> Amount | None:
        """Return the amount, or None where there is none."""

    def change(self, sort: str, key: str, step: Callable[[Amount | None], Amount]) -> None:
        """Replace an amount by what `step` makes of it; nobody else changes it meanwhile."""

    def drop(self, sort: str, key: str) -> None:
        """Forget an amount."""


class MemoryTally:
    """Amounts of this process alone."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._amounts: OrderedDict[tuple[str, str], Amount] = OrderedDict()

    def read(self, sort: str, key: str) -> Amount | None:
        """Return the amount."""
        with self._lock:
            return self._amounts.get((sort, key))

    def change(self, sort: str, key: str, step: Callable[[Amount | None], Amount]) -> None:
        """Replace an amount."""
        with self._lock:
            self._amounts[sort, key] = step(self._amounts.pop((sort, key), None))
            if len(self._amounts) > _MOST_ROWS:
                self._amounts.popitem(last=False)

    def drop(self, sort: str, key: str) -> None:
        """Forget an amount."""
        with self._lock:
            self._amounts.pop((sort, key), None)


class SqlTally:
    """Amounts in the database, shared by all processes. Needs the app's context."""

    def read(self, sort: str, key: str) -> Amount | None:
        """Return the amount."""
        with read_session() as db:
            row = db.execute(
                select(_TALLY.c.amount, _TALLY.c.at_s).where(*_is(sort, key))
            ).one_or_none()
        return None if row is None else (row[0], row[1])

    def change(self, sort: str, key: str, step: Callable[[Amount | None], Amount]) -> None:
        """Replace an amount. Commits."""
        with write_session() as db, db.begin():
            # SQLite is locked by BEGIN IMMEDIATE; PostgreSQL locks the row, which must be there:
            # a row of at_s < 0 is one that nobody has filled yet
            made = db.execute(
                text(
                    "INSERT INTO limit_tally (sort, key, amount, at_s) VALUES (:sort, :key, 0, -1)"
                    " ON CONFLICT DO NOTHING"
                ),
                {"sort": sort, "key": _digest(key)},
            )
            row = db.execute(
                select(_TALLY.c.amount, _TALLY.c.at_s).where(*_is(sort, key)).with_for_update()
            ).one()
            amount, at_s = step(None if row[1] < 0 else (row[0], row[1]))
            db.execute(update(_TALLY).where(*_is(sort, key)).values(amount=amount, at_s=at_s))
            if getattr(made, "rowcount", 0) == 1:
                self._prune(db, at_s)

    def _prune(self, db: DbSession, now_s: float) -> None:
        """Keep the table small: whoever tries ever new names must not fill the disk."""
        db.execute(delete(_TALLY).where(_TALLY.c.at_s < now_s - _KEPT_S))
        n_rows = db.execute(select(func.count()).select_from(_TALLY)).scalar_one()
        if n_rows > _MOST_ROWS:
            oldest = select(_TALLY.c.at_s).order_by(_TALLY.c.at_s).offset(n_rows - _MOST_ROWS)
            border = db.execute(oldest.limit(1)).scalar_one()
            db.execute(delete(_TALLY).where(_TALLY.c.at_s < border))

    def drop(self, sort: str, key: str) -> None:
        """Forget an amount. Commits."""
        if self.read(sort, key) is None:  # nearly always: no write for it
            return
        with write_session() as db, db.begin():
            db.execute(delete(_TALLY).where(*_is(sort, key)))


def _is(sort: str, key: str) -> tuple[ColumnElement[bool], ColumnElement[bool]]:
    return (_TALLY.c.sort == sort, _TALLY.c.key == _digest(key))


def _digest(key: str) -> str:
    return hashlib.sha256(key.encode()).hexdigest()


class TryLimiter:
    """Counts failures per name: five are free, then each doubles the wait, up to 15 minutes."""

    FREE: Final = 5
    MOST_S: Final = 900
    SORT: Final = "tries"

    def __init__(self, tally: Tally | None = None) -> None:
        self._tally = tally or MemoryTally()

    def take(self, name: str, now_s: float) -> float:
        """Count a try as failed and return 0, or, where it may not yet be, the wait in seconds."""
        wait = 0.0

        def step(one: Amount | None) -> Amount:
            nonlocal wait
            count, last = one or (0.0, now_s)
            if count >= self.FREE:
                pause = min(2.0 ** min(count - self.FREE, 20), float(self.MOST_S))
                wait = max(0.0, last + pause - now_s)
            # of two at the same moment the later one may be counted first: time never goes back
            return (count, last) if wait > 0 else (count + 1, max(last, now_s))

        self._tally.change(self.SORT, name, step)
        return wait

    def succeeded(self, name: str) -> None:
        """Forget the failures of `name`."""
        self._tally.drop(self.SORT, name)


class Allowance:
    """What each key may use up at once, and how fast it comes back.

    A process takes a share at a time out of the tally and spends it from memory, so that not every
    round writes; what it holds of it is at most one share a key over the limit.
    """

    KEPT: Final = 10_000

    def __init__(
        self,
        most: float,
        per_s: float,
        *,
        sort: str = "",
        share: float = 0,
        tally: Tally | None = None,
    ) -> None:
        self.most = most
        self.per_s = per_s
        self._sort = sort
        self._share = share
        self._tally = tally or MemoryTally()
        self._lock = threading.Lock()
        self._held: OrderedDict[str, float] = OrderedDict()

    def take(self, key: str, amount: float, now_s: float) -> float:
        """Take an amount; return 0, or how many seconds until there is enough (none is taken)."""
        with self._lock:
            held = self._held.pop(key, 0.0)
            wait = 0.0
            if held < amount:
                got, wait = self._fetch(key, amount - held, now_s)
                held += got
            if wait == 0:
                held -= amount
            if held > 0:
                self._held[key] = held
            if len(self._held) > self.KEPT:
                self._held.popitem(last=False)
        return wait

    def _fetch(self, key: str, needed: float, now_s: float) -> tuple[float, float]:
        """Take `needed` or a share, if that is more; return (taken, seconds to wait)."""
        found = (0.0, 0.0)

        def step(one: Amount | None) -> Amount:
            nonlocal found
            left, last = one or (self.most, now_s)
            left = min(self.most, left + max(0.0, now_s - last) * self.per_s)
            if left < needed:
                found = (0.0, (needed - left) / self.per_s)
            else:
                taken = max(needed, min(self._share, left))
                found, left = (taken, 0.0), left - taken
            return left, now_s

        self._tally.change(self._sort, key, step)
        return found
