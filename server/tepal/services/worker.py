"""One spawned worker process for what takes long: analyses and large papers never hold a phone up.

Python threads share one interpreter; a second of arithmetic in a request would be a second in
which no exchange moves. What is run here is a pure function of arguments that can be pickled. How
far it is stands in memory that both processes share.
"""

from __future__ import annotations

import itertools
import multiprocessing
import threading
import time
from concurrent.futures import ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from functools import partial
from typing import TYPE_CHECKING, Any, Final, NamedTuple, ParamSpec, TypeVar

if TYPE_CHECKING:
    from collections.abc import Callable

P = ParamSpec("P")
T = TypeVar("T")

_SPAWN: Final = multiprocessing.get_context("spawn")
# the memory shared with the server, in the worker process alone
_told: Any = None


class Progress(NamedTuple):
    """Of the work that runs: its number, since when (s, UNIX time), and how much of how much."""

    number: int
    since: float
    done: int
    total: int


class Worker:
    """Runs functions one after the other in a process that is started with the first of them."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._pool: ProcessPoolExecutor | None = None
        self._numbers = itertools.count(1)
        # without a lock: a worker that is killed while it holds one would hold the server up
        self._shared: Any = _SPAWN.RawArray("d", 4)

    def run(self, work: Callable[P, T], *args: P.args, **kwargs: P.kwargs) -> T:
        """Return `work(...)`, computed in the worker; what it raises is raised here.

        A worker that died (killed, out of memory) is replaced once; dying twice is a bug and flies.
        """
        return self.run_as(self.number(), work, *args, **kwargs)

    def number(self) -> int:
        """Return a number for work that somebody will ask about."""
        return next(self._numbers)

    def run_as(self, number: int, work: Callable[P, T], *args: P.args, **kwargs: P.kwargs) -> T:
        """Do as `run` does; the work has this number in `progress`."""
        job = partial(work, *args, **kwargs)
        try:
            return self._running().submit(_numbered, number, job).result()
        except BrokenProcessPool:
            self.close()
            return self._running().submit(_numbered, number, job).result()

    def progress(self) -> Progress:
        """Return how far the work is that began last; number 0 before the first."""
        number, since, done, total = self._shared[:]
        return Progress(int(number), since, int(done), int(total))

    def close(self) -> None:
        """Let the process go; the next `run` starts another."""
        with self._lock:
            pool, self._pool = self._pool, None
        if pool is not None:
            pool.shutdown(wait=False, cancel_futures=True)

    def _running(self) -> ProcessPoolExecutor:
        with self._lock:
            if self._pool is None:
                # spawned, not forked: a fork would copy the server's threads' locks as they are
                self._pool = ProcessPoolExecutor(
                    1, mp_context=_SPAWN, initializer=_share, initargs=(self._shared,)
                )
            return self._pool


def tell(done: int, total: int) -> None:
    """Say how far the work of this worker process is; in any other process nothing happens."""
    if _told is not None:
        _told[2:4] = (done, total)


def _share(shared: Any) -> None:
    global _told  # noqa: PLW0603 -- a process has one initializer, and its work no other way to it
    _told = shared


def _numbered(number: int, job: Callable[[], T]) -> T:
    if _told is not None:
        _told[:] = (number, time.time(), 0, 0)
    return job()
