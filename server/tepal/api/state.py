"""What the app holds besides settings: storage, worker and its prints, what was sent, limits."""

from __future__ import annotations

from typing import TYPE_CHECKING

from flask import current_app

from tepal.services.access import AccessError
from tepal.services.limits import Allowance, TryLimiter

if TYPE_CHECKING:
    from tepal.photos.storage import PhotoStorage
    from tepal.services.limits import Tally
    from tepal.services.prints_now import PrintsNow
    from tepal.services.wire import WireTexts
    from tepal.services.worker import Worker


def photo_storage() -> PhotoStorage:
    """Return the photo storage."""
    found: PhotoStorage = current_app.extensions["tepal_photos"]
    return found


def wire_texts() -> WireTexts:
    """Return the records that were sent last, as they travel."""
    found: WireTexts = current_app.extensions["tepal_wire"]
    return found


def worker() -> Worker:
    """Return the process in which what takes long is computed."""
    found: Worker = current_app.extensions["tepal_worker"]
    return found


def prints_now() -> PrintsNow:
    """Return the long prints under way."""
    found: PrintsNow = current_app.extensions["tepal_prints"]
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


def allowances(tally: Tally | None = None) -> dict[str, Allowance]:
    """Return allowances: rounds of exchange, and bytes of photos and files.

    A round every 10 s is what an office asks; a first sync of 100,000 records takes 100 at once.
    """
    day = 1_000_000_000  # bytes a device may hand in a day
    return {
        "rounds": Allowance(600, 600 / 60, sort="rounds", share=30, tally=tally),
        "upload_bytes": Allowance(
            day, day / 86_400, sort="upload_bytes", share=20_000_000, tally=tally
        ),
    }


def limiter() -> TryLimiter:
    """Return the limiter of sign-in, set-up and enrolment tries."""
    found: TryLimiter = current_app.extensions["tepal_limiter"]
    return found
