"""Taking back a file that a phone saved: entries and photos that could not be sent. Commits.

Every entry goes into quarantine, whole, until a grower or manager accepts it. Photos, sounds and
papers are stored at once, by content, and are seen once the entry that names them is accepted. The
same file twice, or a phone that sends after all, does no harm: everything counts once.
"""

from __future__ import annotations

import base64
import binascii
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from tepal.domain.errors import TepalError
from tepal.photos.intake import PhotoError
from tepal.services.authority import Session
from tepal.services.exchange import MAX_ENTRIES, push
from tepal.services.photos import take_whole
from tepal.services.server_acts import server_device
from tepal.sync.entry import read_json

if TYPE_CHECKING:
    from sqlalchemy.orm import Session as DbSession

    from tepal.photos.storage import PhotoStorage

FORMAT: Final = "tepal-unsent"
MOST_ENTRIES: Final = 20_000
FROM_FILE: Final = "from_file"


class UnsentFileError(TepalError, ValueError):
    """A file that is none of ours, or cannot be read."""


@dataclass(frozen=True, slots=True)
class UnsentResult:
    """How many entries and photos the file held, and what became of them."""

    n_entries: int
    n_quarantined: int
    n_known: int
    device_label: str
    saved_at: str
    n_photos: int
    n_photos_known: int
    n_photos_refused: int


def read_unsent(content: bytes) -> dict[str, Any]:
    """Return the file's object.

    It has format, version, device, saved_at, entries (texts) and photos (objects of sha256 and
    content in base64; none in an older file).

    Raises
    ------
    UnsentFileError   `unsent.not_our_file`, `unsent.newer_file`, `unsent.too_many`.
    """
    try:
        found = read_json(content.decode("utf-8-sig"))
    except (ValueError, RecursionError) as error:
        raise UnsentFileError(
            "unsent.not_our_file", "this is no file of unsent entries: it is not JSON"
        ) from error
    entries = found.get("entries") if isinstance(found, dict) else None
    photos = found.setdefault("photos", []) if isinstance(found, dict) else None
    if (
        not isinstance(found, dict)
        or found.get("format") != FORMAT
        or not isinstance(entries, list)
        or not all(isinstance(one, str) for one in entries)
        or not isinstance(photos, list)
        or not all(isinstance(one, dict) for one in photos)
    ):
        raise UnsentFileError(
            "unsent.not_our_file",
            "this is no file of unsent entries; a phone's sync page saves them",
        )
    if found.get("version") != 1:
        raise UnsentFileError(
            "unsent.newer_file", "this file is newer than the server; upgrade the server first"
        )
    if len(entries) > MOST_ENTRIES:
        raise UnsentFileError(
            "unsent.too_many", f"at most {MOST_ENTRIES} entries at once", most=MOST_ENTRIES
        )
    return found


def take_unsent(
    db: DbSession, storage: PhotoStorage, establishment: str, content: bytes, received_at: str
) -> UnsentResult:
    """Take the entries of a file into quarantine and store its photos.

    Commits, up to 200 entries or one photo at a time. A photo that is damaged is counted as
    refused; the others go in.

    Raises
    ------
    UnsentFileError   See `read_unsent`; nothing is taken then.
    """
    found = read_unsent(content)
    with db.begin():
        server = server_device(db, establishment)
    session = Session(server, "manager", is_server=True)
    entries: list[str] = found["entries"]
    n_known = 0
    for start in range(0, len(entries), MAX_ENTRIES):
        pushed = push(
            db, establishment, session, entries[start : start + MAX_ENTRIES], received_at,
            quarantine_all=FROM_FILE, is_own=False,
        )  # fmt: skip
        n_known += sum(one.repeated for one in pushed.results)
    photos: list[dict[str, Any]] = found["photos"]
    told = [_take_photo(db, storage, establishment, one, received_at) for one in photos]
    device = found.get("device")
    label = device.get("label") if isinstance(device, dict) else None
    return UnsentResult(
        len(entries), len(entries) - n_known, n_known, str(label or "")[:80],
        str(found.get("saved_at") or "")[:40],
        len(photos), told.count("known"), told.count("refused"),
    )  # fmt: skip


def _take_photo(
    db: DbSession, storage: PhotoStorage, establishment: str, photo: dict[str, Any], now: str
) -> str:
    """Return "new", "known" or "refused"."""
    try:
        content = base64.b64decode(str(photo.get("content")), validate=True)
        is_new = take_whole(db, storage, establishment, str(photo.get("sha256")), content, now)
    except (PhotoError, binascii.Error, ValueError):
        return "refused"
    return "new" if is_new else "known"
