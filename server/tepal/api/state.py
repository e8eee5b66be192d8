"""What the app holds besides settings: the photo storage and the limiter of tries."""

from __future__ import annotations

import threading
from collections import OrderedDict
from typing import TYPE_CHECKING

from flask import current_app

if TYPE_CHECKING:
    from tepal.photos.storage import PhotoStorage


def photo_storage() -> PhotoStorage:
    """Return the photo storage."""
    found: PhotoStorage = current_app.extensions["tepal_photos"]
    return found


def limiter() -> TryLimiter:
    """Return the limiter of sign-in and set-up tries."""
    found: TryLimiter = current_app.extensions["tepal_limiter"]
    return found


class TryLimiter:
    """Counts failures per name: five are free, then each doubles the wait, up to 15 minutes.

    In memory of this process: a restart forgets, which costs an attacker more than it gives.
    """

    FREE = 5
    MOST_S = 900
    KEPT = 10_000

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._failures: OrderedDict[str, tuple[int, float]] = OrderedDict()

    def wait_s(self, name: str, now_s: float) -> float:
        """Return how long `name` has to wait still, in seconds; 0 when it may try."""
        with self._lock:
            count, last = self._failures.get(name, (0, 0.0))
        if count < self.FREE:
            return 0.0
        wait = min(float(2 ** (count - self.FREE)), float(self.MOST_S))
        return max(0.0, last + wait - now_s)

    def failed(self, name: str, now_s: float) -> None:
        """Count a failure."""
        with self._lock:
            count, _ = self._failures.pop(name, (0, 0.0))
            self._failures[name] = (count + 1, now_s)
            if len(self._failures) > self.KEPT:
                self._failures.popitem(last=False)

    def succeeded(self, name: str) -> None:
        """Forget the failures of `name`."""
        with self._lock:
            self._failures.pop(name, None)
