"""Taking a person's name out of the book without breaking the chain. Commits.

The chain covers the digest of each text, not the text: names go out of texts and records, digests
stay. Each redaction is an entry of the server that names how many texts are redacted in all and
the SHA-256 over what they now say, so that nobody changes a text under the name of a redaction. A
new epoch makes every phone read the records again.
"""

from __future__ import annotations

import hashlib
import json
import re
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from sqlalchemy import select, update

from tepal.domain.errors import NotFoundError, TepalError
from tepal.services.papers import view_hash
from tepal.services.retention import kept_for
from tepal.services.server_acts import Act, act_within, server_device
from tepal.store import records as record_rows
from tepal.store.journal import SqlJournal, journal_rows
from tepal.store.kind_models import RECORD_MODELS
from tepal.store.models import DeviceHeard, Journal, JournalHead, Paper
from tepal.sync.entry import digest_of

if TYPE_CHECKING:
    from collections.abc import Iterable

    from sqlalchemy.orm import Session as DbSession

    from tepal.services.server_acts import Chance
    from tepal.sync.ports import JournalRow

NAMING_FIELDS = ("name", "applicator_number")  # of a member: what tells who it is


class RedactionError(TepalError, ValueError):
    """A name that may not go yet."""


@dataclass(frozen=True, slots=True)
class RedactionResult:
    """How many texts and records were changed, and the word that stands for the name now."""

    n_texts: int
    n_records: int
    placeholder: str


def redact(
    db: DbSession, establishment: str, member: str, by: str, chance: Chance
) -> RedactionResult:
    """Take a member's names out of texts, records and papers. Commits.

    Raises
    ------
    NotFoundError    `members.no_such_member`.
    RedactionError   `redact.still_active`: the person works here; `redact.kept` with `until`, or
                     `redact.keep_unknown`: a record must be kept, whole, for longer.
    """
    with db.begin():
        journal = SqlJournal(db, establishment)
        head = journal.lock()
        _check(db, establishment, member, chance.instant()[:10])
        rows = list(journal_rows(db, establishment))
        names = _names(rows, member)
        placeholder = f"redacted {member[-4:]}"
        swap = _Swap(names, placeholder)
        changed = [
            replace(row, text=text, redacted=True)
            for row in rows
            if (text := swap.text(row.text)) != row.text
        ]
        for row in changed:
            db.execute(
                update(Journal)
                .where(Journal.establishment == establishment, Journal.seq == row.seq)
                .values(text=row.text, redacted=True)
            )
        n_records = _records(db, establishment, journal, swap)
        _papers(db, establishment, swap)
        newest = {row.seq: row for row in rows} | {row.seq: row for row in changed}
        told = seal([row for row in newest.values() if row.redacted]) | {"member": member}
        _new_epoch(db, establishment, head.epoch, chance)
        entry = Act("member", member, "restore", by, {"redacted": (None, told)})
        act_within(db, establishment, server_device(db, establishment), [entry], chance)
    return RedactionResult(len(changed), n_records, placeholder)


def seal(rows: Iterable[JournalRow]) -> dict[str, Any]:
    """Return {"n_texts", "sha256"}: how many redacted texts there are, and the hash over them."""
    lines = sorted((row.seq, digest_of(row.text)) for row in rows)
    text = "".join(f"{seq}:{digest}\n" for seq, digest in lines)
    return {"n_texts": len(lines), "sha256": hashlib.sha256(text.encode()).hexdigest()}


def _check(db: DbSession, establishment: str, member: str, today: str) -> None:
    found = record_rows.load(db, establishment, [("member", member)]).get(("member", member))
    if found is None:
        raise NotFoundError(
            "members.no_such_member", "no person of this id; ids: `member` in an export"
        )
    if found.fields.get("active") is True and found.state != "void":
        raise RedactionError(
            "redact.still_active", "this person works here; set the person inactive first"
        )
    kept = kept_for(db, establishment, member)
    if kept.n_unknown:
        raise RedactionError(
            "redact.keep_unknown",
            f"{kept.n_unknown} applications name this person and nothing says how long they are "
            "kept; set the standards or the years of keeping of the nursery",
            n=kept.n_unknown,
        )
    if kept.until is not None and kept.until >= today:
        raise RedactionError(
            "redact.kept", f"{kept.n_records} applications name this person; the last is kept until"
            f" {kept.until}", until=kept.until, n=kept.n_records,
        )  # fmt: skip


def _names(rows: Iterable[JournalRow], member: str) -> list[str]:
    """Return every name that the member ever had, the longest first."""
    found: set[str] = set()
    for row in rows:
        if row.kind == "member" and row.record == member:
            changes = json.loads(row.text).get("changes", {})
            for name in NAMING_FIELDS:
                values = (changes.get(name) or {}).values()
                found |= {one.strip() for one in values if isinstance(one, str) and one.strip()}
    return sorted(found, key=len, reverse=True)


class _Swap:
    """Puts the placeholder where a name stands as whole words; the same everywhere."""

    def __init__(self, names: list[str], placeholder: str) -> None:
        self._placeholder = placeholder
        words = "|".join(re.escape(name) for name in names)
        self._pattern = re.compile(rf"(?<!\w)(?:{words})(?!\w)") if names else None

    def value(self, value: Any) -> Any:
        """Return a JSON value with the names out of its strings, keys left alone."""
        if isinstance(value, str):
            return value if self._pattern is None else self._pattern.sub(self._placeholder, value)
        if isinstance(value, list):
            return [self.value(one) for one in value]
        if isinstance(value, dict):
            return {name: self.value(one) for name, one in value.items()}
        return value

    def text(self, text: str) -> str:
        """Return an entry's text with the names out; a text that is none is treated as words."""
        try:
            found = json.loads(text)
        except (ValueError, RecursionError):
            return str(self.value(text))
        new = self.value(found)
        if new == found:
            return text  # byte for byte
        return json.dumps(new, ensure_ascii=False, separators=(",", ":"))


def _records(db: DbSession, establishment: str, journal: SqlJournal, swap: _Swap) -> int:
    n_changed = 0
    for kind in RECORD_MODELS:
        changed = []
        for record in record_rows.load_all(db, establishment, kind):
            fields = {
                name: swap.text(value) if (kind, name) == ("held", "text") else swap.value(value)
                for name, value in record.fields.items()
            }
            if fields != record.fields:
                changed.append(replace(record, fields=fields))
        journal.records([(kind, record.id) for record in changed])  # they exist: update, not insert
        journal.store(changed)
        n_changed += len(changed)
    return n_changed


def _papers(db: DbSession, establishment: str, swap: _Swap) -> None:
    """What was printed is kept as long as its applications, and no longer under the name."""
    for paper in db.execute(select(Paper).where(Paper.establishment == establishment)).scalars():
        view = swap.value(paper.view)
        if view != paper.view:
            paper.view, paper.view_hash = view, view_hash(view)
    for heard in db.execute(
        select(DeviceHeard).where(DeviceHeard.establishment == establishment)
    ).scalars():
        heard.status = swap.value(heard.status)


def _new_epoch(db: DbSession, establishment: str, old: str, chance: Chance) -> None:
    fresh = old
    while fresh == old:
        fresh = chance.random_bytes(4).hex()
    db.execute(
        update(JournalHead).where(JournalHead.establishment == establishment).values(epoch=fresh)
    )
