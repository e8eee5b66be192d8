"""Taking back a file that a phone saved: entries that could not be sent. Commits.

Every entry goes into quarantine, whole, until a grower or manager accepts it. The same file twice,
or a phone that sends its entries after all, does no harm: an entry counts once.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from tepal.domain.errors import TepalError
from tepal.services.authority import Session
from tepal.services.exchange import MAX_ENTRIES, push
from tepal.services.server_acts import server_device
from tepal.sync.entry import read_json

if TYPE_CHECKING:
    from sqlalchemy.orm import Session as DbSession

FORMAT: Final = "tepal-unsent"
MOST_ENTRIES: Final = 20_000
FROM_FILE: Final = "from_file"


class UnsentFileError(TepalError, ValueError):
    """A file that is none of ours, or cannot be read."""


@dataclass(frozen=True, slots=True)
class UnsentResult:
    """How many entries the file held, and what became of them."""

    n_entries: int
    n_quarantined: int
    n_known: int
    device_label: str
    saved_at: str


def read_unsent(content: bytes) -> dict[str, Any]:
    """Return the file's object: format, version, device, saved_at, entries (texts).

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
    if (
        not isinstance(found, dict)
        or found.get("format") != FORMAT
        or not isinstance(entries, list)
        or not all(isinstance(one, str) for one in entries)
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
    db: DbSession, establishment: str, content: bytes, received_at: str
) -> UnsentResult:
    """Take the entries of a file into quarantine. Commits, up to 200 entries at a time.

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
    device = found.get("device")
    label = device.get("label") if isinstance(device, dict) else None
    return UnsentResult(
        len(entries), len(entries) - n_known, n_known, str(label or "")[:80],
        str(found.get("saved_at") or "")[:40],
    )  # fmt: skip
