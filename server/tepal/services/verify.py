"""Is the book what its journal says? Chain, tables, numbers, photos, anchors. Reads only."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from sqlalchemy import select

from tepal.domain.errors import NotFoundError
from tepal.services.kind_rules import VALIDATOR
from tepal.services.redaction import seal
from tepal.store.journal import hash_at, journal_rows, read_head
from tepal.store.models import DeviceTally, RecordHead
from tepal.store.photo_rows import stored_files
from tepal.store.records import load_every
from tepal.sync.entry import identify, parse
from tepal.sync.ports import Numbers
from tepal.sync.replay import AnchorWord, Fault, compare, judge_anchor, replay

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    from sqlalchemy.orm import Session as DbSession

    from tepal.photos.storage import PhotoStorage
    from tepal.sync.merge import RecordState
    from tepal.sync.ports import JournalRow, Key


@dataclass(frozen=True, slots=True)
class JudgedAnchor:
    """A seq and hash that a phone or a paper witnessed, and what the journal says to it today."""

    seq: int
    hash: str
    word: AnchorWord


@dataclass(frozen=True, slots=True)
class VerifyResult:
    """What was found. `lost` are stretches (after, up to) that restores gave up.

    `n_redacted` texts no longer are what was hashed: a redaction that the journal tells of took a
    name out of them.
    """

    seq: int
    hash: str
    n_records: int
    n_photos: int
    faults: tuple[Fault, ...]
    anchors: tuple[JudgedAnchor, ...]
    lost: tuple[tuple[int, int], ...]
    n_redacted: int = 0

    @property
    def is_good(self) -> bool:
        """No fault, and every anchor holds or lies in a stretch that a restore entry names."""
        return not self.faults and all(a.word in ("ok", "lost_in_restore") for a in self.anchors)


def verify(
    db: DbSession,
    establishment: str,
    storage: PhotoStorage | None,
    anchors: Iterable[tuple[int, str]] = (),
) -> VerifyResult:
    """Replay the journal of an establishment and compare everything with it.

    Parameters
    ----------
    db : a session on the readers' engine: all is read from one snapshot.
    storage : where photo files are; None leaves them out.
    anchors : (seq, at least 16 hex characters of the hash) as printed or shown.
    """
    seen = _Seen()
    head = read_head(db, establishment)
    found = replay(establishment, seen.watch(journal_rows(db, establishment)), VALIDATOR)
    actual = _tables(db, establishment)
    faults = [*found.faults, *compare(found.records, actual)]
    if (head.seq, head.hash) != (found.seq, found.hash):
        faults.append(Fault("head_differs", head.seq))
    faults += _index_faults(db, establishment, actual)
    faults += _number_faults(db, establishment, seen)
    if seen.redacted and seal(seen.redacted) != seen.sealed:
        faults += [Fault("redaction_differs", row.seq) for row in seen.redacted]
    n_photos = 0
    if storage is not None:
        files = stored_files(db, establishment)
        n_photos = len(files)
        faults += [
            fault
            for sha256, media_type in sorted(files.items())
            if (fault := _photo_fault(storage, establishment, sha256, media_type))
        ]
    judged = tuple(
        JudgedAnchor(seq, text, judge_anchor(seq, text, hash_at(db, establishment, seq), seen.lost))
        for seq, text in anchors
    )
    return VerifyResult(
        found.seq, found.hash, len(actual), n_photos, tuple(faults), judged, tuple(seen.lost),
        len(seen.redacted),
    )  # fmt: skip


class _Seen:
    """What the rows tell besides the records, noted while the replay reads them."""

    def __init__(self) -> None:
        self.lost: list[tuple[int, int]] = []
        self.numbered: dict[str, set[int]] = {}  # by the number column
        self.claimed: dict[str, set[int]] = {}  # by the text, also where it came in a file
        self.redacted: list[JournalRow] = []
        self.sealed: dict[str, Any] = {}  # what the newest redaction said of all redacted texts

    def watch(self, rows: Iterable[JournalRow]) -> Iterator[JournalRow]:
        for row in rows:
            if row.device is not None and row.number is not None:
                self.numbered.setdefault(row.device, set()).add(row.number)
            _, device, number = identify(row.text)
            if device is not None and number is not None:
                self.claimed.setdefault(device, set()).add(number)
            if row.action == "restore" and row.outcome == "accepted":
                self._note_told(row)
            if row.redacted:
                self.redacted.append(row)
            yield row

    def _note_told(self, row: JournalRow) -> None:
        """A restore or a redaction: entries that tell of the journal itself."""
        changes = parse(row.text).changes
        if "redacted" in changes:
            told = changes["redacted"].to
            self.sealed = {name: told[name] for name in ("n_texts", "sha256")}
            return
        told = changes["restored"].to
        if told["was"] is not None and told["was"]["seq"] > told["to"]["seq"]:
            self.lost.append((told["to"]["seq"], told["was"]["seq"]))


def _tables(db: DbSession, establishment: str) -> dict[Key, RecordState]:
    return {(record.kind, record.id): record for record in load_every(db, establishment)}


def _index_faults(
    db: DbSession, establishment: str, actual: Mapping[Key, RecordState]
) -> list[Fault]:
    """`record_head` must name every record's revision: a pull that skips one loses it silently."""
    query = select(RecordHead.kind, RecordHead.id, RecordHead.seq).where(
        RecordHead.establishment == establishment
    )
    heads = {(row[0], row[1]): row[2] for row in db.execute(query)}
    want = {key: record.revision for key, record in actual.items()}
    return [
        Fault("index_differs", want.get(key), *key)
        for key in sorted(heads.keys() | want.keys())
        if heads.get(key) != want.get(key)
    ]


def _number_faults(db: DbSession, establishment: str, seen: _Seen) -> list[Fault]:
    """A device's acknowledged numbers must be those that rows hold, else an entry is lost."""
    query = select(DeviceTally.device, DeviceTally.ack, DeviceTally.beyond).where(
        DeviceTally.establishment == establishment
    )
    tallies = {device: Numbers.stored(ack, beyond) for device, ack, beyond in db.execute(query)}
    faults = []
    for device in sorted(tallies.keys() | seen.numbered.keys()):
        numbers = tallies.get(device, Numbers(0))
        held = seen.numbered.get(device, set())
        claimed = seen.claimed.get(device, set()) | held
        told = {number for number in claimed if numbers.holds(number)}
        n_told = numbers.ack + sum(last - first + 1 for first, last in numbers.beyond)
        if len(told) != n_told or not held <= told:
            faults.append(Fault("numbers_differ", None, "device", device))
    return faults


def _photo_fault(
    storage: PhotoStorage, establishment: str, sha256: str, media_type: str
) -> Fault | None:
    try:
        content = storage.read(establishment, sha256, media_type)
    except NotFoundError:
        return Fault("photo_lost", None, "photo", sha256)
    if hashlib.sha256(content).hexdigest() != sha256:
        return Fault("photo_changed", None, "photo", sha256)
    return None
