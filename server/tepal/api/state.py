"""What the app holds besides settings: the photo storage and the limiter of tries."""

from __future__ import annotations

import threading
from collections import OrderedDict
from typing import TYPE_CHECKING

from flask import current_app

from tepal.services.access import AccessError

if TYPE_CHECKING:
    from tepal.photos.storage import PhotoStorage
    from tepal.services.wire import WireTexts


def photo_storage() -> PhotoStorage:
    """Return the photo storage."""
    found: PhotoStorage = current_app.extensions["tepal_photos"]
    return found


def wire_texts() -> WireTexts:
    """Return the records that were sent last, as they travel."""
    found: WireTexts = current_app.extensions["tepal_wire"]
    return found


def spare(sort: str, key: str, amount: float, now_s: float) -> None:
    """Take `amount` from what a device may still do of a sort.

    Raises
    ------
    AccessError   `access.too_much` with `wait_s`: the device comes again later, nothing is lost.
    """
    wait = _allowances()[sort].take(key, amount, now_s)
    if wait > 0:
        raise AccessError(
            "access.too_much", "this device asks for too much at once", wait_s=int(wait) + 1
        )


def _allowances() -> dict[str, Allowance]:
    found: dict[str, Allowance] = current_app.extensions["tepal_allowances"]
    return found


def allowances() -> dict[str, Allowance]:
    """Return fresh allowances: rounds of exchange, and bytes of photos and files.

    A round every 10 s is what an office asks; a first sync of 100,000 records takes 100 at once.
    """
    return {
        "rounds": Allowance(600, 600 / 60),
        "upload_bytes": Allowance(1_000_000_000, 1_000_000_000 / 86_400),  # a day's worth
    }


def limiter() -> TryLimiter:
    """Return the limiter of sign-in, set-up and enrolment tries."""
    found: TryLimiter = current_app.extensions["tepal_limiter"]
    return found


class Allowance:
    """What each key may use up at once, and how fast it comes back.

    In memory of this process, like the limiter of tries.
    """

    KEPT = 10_000

    def __init__(self, most: float, per_s: float) -> None:
        self.most = most
        self.per_s = per_s
        self._lock = threading.Lock()
        self._left: OrderedDict[str, tuple[float, float]] = OrderedDict()

    def take(self, key: str, amount: float, now_s: float) -> float:
        """Take an amount; return 0, or how many seconds until there is enough (none is taken)."""
        with self._lock:
            left, last = self._left.pop(key, (self.most, now_s))
            left = min(self.most, left + max(0.0, now_s - last) * self.per_s)
            wait = (amount - left) / self.per_s
            if wait <= 0:
                left, wait = left - amount, 0.0
            self._left[key] = (left, now_s)
            if len(self._left) > self.KEPT:
                self._left.popitem(last=False)
            return wait


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

    def take(self, name: str, now_s: float) -> float:
        """Count a try as failed and return 0, or, where it may not yet be, the wait in seconds."""
        with self._lock:
            count, last = self._failures.pop(name, (0, now_s))
            is_free = count < self.FREE
            pause = 0.0 if is_free else min(float(2 ** (count - self.FREE)), float(self.MOST_S))
            wait = max(0.0, last + pause - now_s)
            self._failures[name] = (count, last) if wait > 0 else (count + 1, now_s)
            if len(self._failures) > self.KEPT:
                self._failures.popitem(last=False)
            return wait

    def succeeded(self, name: str) -> None:
        """Forget the failures of `name`."""
        with self._lock:
            self._failures.pop(name, None)
