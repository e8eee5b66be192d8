"""What can be said of a text before the lock: parsed, validated, hashed, or why it must be held.

No I/O; never raises for bad content.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from tepal.sync.entry import Entry, EntryError, digest_of, parse, storable
from tepal.sync.ports import CONFLICT, HELD, KindRules, new_values

if TYPE_CHECKING:
    from collections.abc import Iterable

    from tepal.sync.ports import Validator

OWN_KINDS: Final = {CONFLICT: KindRules(1), HELD: KindRules(1)}


@dataclass(frozen=True, slots=True)
class Prepared:
    """A text after the checks that need no lock; `problem` is set where it must be quarantined."""

    text: str
    digest: str
    entry: Entry | None
    problem: str | None = None


def prepare(texts: Iterable[str], validator: Validator) -> list[Prepared]:
    """Parse, validate and hash texts. No lock, no I/O; never raises for bad content."""
    return [_prepare(text, validator) for text in texts]


def _prepare(text: str, validator: Validator) -> Prepared:
    wrapped = storable(text)
    if wrapped is not None:
        return Prepared(wrapped, digest_of(wrapped), None, "not_text")
    try:
        entry = parse(text)
    except EntryError as error:
        return Prepared(text, digest_of(text), None, error.code.removeprefix("sync."))
    rules = OWN_KINDS.get(entry.kind) or validator.rules(entry.kind)
    problem = None
    if rules is None:
        problem = "kind_unknown"
    elif entry.form_version > rules.form_version:
        problem = "form_newer_than_server"
    elif (entry.action == "decide") != (entry.kind in OWN_KINDS):
        problem = "action_not_for_kind"
    elif _bad_fields(entry, validator):
        problem = "invalid_fields"
    return Prepared(text, entry.digest, entry, problem)


def _bad_fields(entry: Entry, validator: Validator) -> bool:
    if entry.action == "restore":  # it tells of the journal, not of a record's fields
        return False
    if entry.kind in OWN_KINDS:
        return _bad_decision(entry)
    return bool(validator.problems(entry.kind, new_values(entry.changes)))


def _bad_decision(entry: Entry) -> bool:
    """A decision is {"value", "over"} on a conflict, "accept" or "refuse" on a held entry."""
    if set(entry.changes) != {"decision"}:
        return True
    to = entry.changes["decision"].to
    if entry.kind == HELD:
        return to not in ("accept", "refuse")
    return not (isinstance(to, dict) and set(to) == {"value", "over"})
