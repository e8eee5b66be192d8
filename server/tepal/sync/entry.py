"""One entry: the smallest saved change, kept as the exact text that was hashed.

`parse` checks the shape only; what the fields mean is a validator's business (a port).
"""

from __future__ import annotations

import hashlib
import json
import math
import re
from dataclasses import dataclass
from typing import Any, Final, NamedTuple

from tepal.domain.errors import TepalError

# The sets that the hash chain covers. They are closed: a new member would need a new chain.
ACTIONS: Final = (
    "create",
    "change",
    "amend",
    "void",
    "request",
    "propose",
    "decide",
    "restore",
)
OUTCOMES: Final = ("accepted", "merged", "conflicted", "waiting", "quarantined")

MAX_TEXT_BYTES: Final = 256 * 1024
_UUID = re.compile(r"[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}")
_NAME = re.compile(r"[a-z][a-z0-9_]{0,62}")
# What no database column of ours takes: NUL, and halves of a surrogate pair.
_UNSTORABLE = re.compile("[\x00\ud800-\udfff]")


class EntryError(TepalError, ValueError):
    """A text that is not an entry; `code` is the reason it is quarantined for."""


class Change(NamedTuple):  # a batch holds thousands: made in a third of a dataclass's time
    """One field: the value the person saw, and the value the person wants."""

    was: Any
    to: Any


@dataclass(frozen=True, slots=True)
class Entry:
    """A parsed entry. `text` is what travelled; `digest` is its SHA-256 in hex."""

    id: str
    device: str
    number: int
    member: str
    kind: str
    record: str
    action: str
    changes: dict[str, Change]
    reason: str | None
    made_at: dict[str, Any]
    form_version: int
    group: str | None
    text: str
    digest: str


def digest_of(text: str) -> str:
    """Return the SHA-256 of the text's UTF-8 bytes, 64 hex characters."""
    return hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()


def storable(text: str) -> str | None:
    """Return None where the text can be kept as it is, else a text that holds it whole.

    Our own phones never send NUL or half surrogates; what does is kept all the same, as one JSON
    string, so that it can be quarantined and does not come back for ever.
    """
    return json.dumps(text) if _UNSTORABLE.search(text) else None


def parse(text: str) -> Entry:
    """Read one entry from its text.

    Raises
    ------
    EntryError   `sync.too_large`, `sync.not_json` or `sync.malformed` (with `field`).
    """
    if len(text.encode("utf-8", "surrogatepass")) > MAX_TEXT_BYTES:
        raise EntryError("sync.too_large", "entry text exceeds 256 kB", max_kb=256)
    try:
        raw = read_json(text)
    except (ValueError, RecursionError) as error:
        raise EntryError("sync.not_json", f"entry text is not JSON: {error}") from error
    if not isinstance(raw, dict):
        raise EntryError("sync.malformed", "entry is not an object", field="entry")
    action = _one_of(raw, "action", ACTIONS)
    return Entry(
        id=_uuid(raw, "id"),
        device=_uuid(raw, "device"),
        number=_whole(raw, "number", 1),
        member=_uuid(raw, "member"),
        kind=_name(raw.get("kind"), "kind"),
        record=_uuid(raw, "record"),
        action=action,
        changes=_changes(raw.get("changes")),
        reason=_reason(raw.get("reason")),
        made_at=_made_at(raw.get("made_at")),
        form_version=_whole(raw, "form_version", 1),
        group=None if raw.get("group") is None else _uuid(raw, "group"),
        text=text,
        digest=digest_of(text),
    )


def identify(text: str) -> tuple[str | None, str | None, int | None]:
    """Return (id, device, number) of a text that is no valid entry, each None where unreadable.

    A quarantined text still fills its place in the device's numbering, so that no hole shows.
    """
    try:
        raw = json.loads(text)
    except (ValueError, RecursionError):
        return None, None, None
    if isinstance(raw, str):  # a text that could not be stored as it was, see `storable`
        return identify(raw)
    if not isinstance(raw, dict):
        return None, None, None
    number = raw.get("number")
    plain = isinstance(number, int) and not isinstance(number, bool) and 0 < number < 2**53
    return _uuid_or_none(raw.get("id")), _uuid_or_none(raw.get("device")), number if plain else None


def _uuid_or_none(value: Any) -> str | None:
    return value if isinstance(value, str) and _UUID.fullmatch(value) else None


def _no_constants(name: str) -> Any:
    raise ValueError(f"{name} is not JSON")


def _finite(digits: str) -> float:
    value = float(digits)
    if not math.isfinite(value):  # Python would write it back as Infinity, which no phone reads
        raise ValueError(f"{digits[:20]} is beyond a number's range")
    return value


def _each_once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) != len(pairs):  # two readers could see two different entries
        raise ValueError("a member is named twice")
    return found


_STRICT = json.JSONDecoder(
    parse_constant=_no_constants, parse_float=_finite, object_pairs_hook=_each_once
)


def read_json(text: str) -> Any:
    """Read JSON strictly: no NaN, nothing that overflows, no member named twice.

    Raises
    ------
    ValueError, RecursionError
    """
    return _STRICT.decode(text)


def _fail(field: str) -> EntryError:
    return EntryError("sync.malformed", f"entry field {field!r} is malformed", field=field)


def _uuid(raw: dict[str, Any], field: str) -> str:
    value = _uuid_or_none(raw.get(field))
    if value is None:
        raise _fail(field)
    return value


def _whole(raw: dict[str, Any], field: str, least: int) -> int:
    value = raw.get(field)
    if not isinstance(value, int) or isinstance(value, bool) or not least <= value < 2**53:
        raise _fail(field)
    return value


def _name(value: Any, field: str) -> str:
    if not isinstance(value, str) or not _NAME.fullmatch(value):
        raise _fail(field)
    return value


def _one_of(raw: dict[str, Any], field: str, allowed: tuple[str, ...]) -> str:
    value = raw.get(field)
    if value not in allowed:
        raise _fail(field)
    return str(value)


def _reason(value: Any) -> str | None:
    if value is None:
        return None
    if not isinstance(value, str) or len(value) > 4000 or _UNSTORABLE.search(value):
        raise _fail("reason")
    return value.strip() or None


def _changes(value: Any) -> dict[str, Change]:
    if not isinstance(value, dict):
        raise _fail("changes")
    changes = {}
    for name, pair in value.items():
        if not isinstance(pair, dict) or set(pair) - {"was", "to"} or "to" not in pair:
            raise _fail(f"changes.{name}"[:80])
        changes[_name(name, "changes")] = Change(pair.get("was"), pair["to"])
    return changes


def _made_at(value: Any) -> dict[str, Any]:
    """Local wall time, offset, zone, device UTC, last measured server offset: kept, never used.

    Order and acceptance never depend on a device clock, so only the shape is checked.
    """
    if not isinstance(value, dict) or not isinstance(value.get("local"), str):
        raise _fail("made_at")
    return value
