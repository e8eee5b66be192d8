"""One spawned worker process for what takes long: analyses and large papers never hold a phone up.

Python threads share one interpreter; a second of arithmetic in a request would be a second in
which no exchange moves. What is run here is a pure function of arguments that can be pickled.
"""

from __future__ import annotations

import multiprocessing
import threading
from concurrent.futures import ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from typing import TYPE_CHECKING, ParamSpec, TypeVar

if TYPE_CHECKING:
    from collections.abc import Callable

P = ParamSpec("P")
T = TypeVar("T")


class Worker:
    """Runs functions one after the other in a process that is started with the first of them."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._pool: ProcessPoolExecutor | None = None

    def run(self, work: Callable[P, T], *args: P.args, **kwargs: P.kwargs) -> T:
        """Return `work(...)`, computed in the worker; what it raises is raised here.

        A worker that died (killed, out of memory) is replaced once; dying twice is a bug and flies.
        """
        try:
            return self._running().submit(work, *args, **kwargs).result()
        except BrokenProcessPool:
            self.close()
            return self._running().submit(work, *args, **kwargs).result()

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
                spawn = multiprocessing.get_context("spawn")
                self._pool = ProcessPoolExecutor(1, mp_context=spawn)
            return self._pool
