"""Merge one entry into one record: pure, per field, with no look-up of old revisions.

For each changed field: the current value is what the person saw -> take the new one; it already is
the new one -> nothing to do; else both are kept and a person decides. Nested lists are one field.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Literal

if TYPE_CHECKING:
    from collections.abc import Mapping

    from tepal.sync.entry import Change

State = Literal["open", "signed", "void"]


@dataclass(frozen=True, slots=True)
class RecordState:
    """What the engine knows of a record: its fields in wire form and whether it is signed."""

    kind: str
    id: str
    fields: dict[str, Any]
    state: State
    revision: int
    form_version: int
    author: str
    created_seq: int


@dataclass(frozen=True, slots=True)
class FieldConflict:
    """Two different new values of one field: the current one stays, the other waits here."""

    field: str
    current: Any
    other: Any
    was: Any


@dataclass(frozen=True, slots=True)
class MergeResult:
    """The record after the entry, what clashed, and the outcome's name.

    `waits_for` is None, or why the entry could not take effect yet (`reason_owed`,
    `record_missing`, `record_void`); then `record` is unchanged.
    """

    record: RecordState | None
    outcome: Literal["accepted", "merged", "conflicted", "waiting"]
    conflicts: tuple[FieldConflict, ...] = ()
    waits_for: str | None = None


def same(left: Any, right: Any) -> bool:
    """Whether two JSON values are equal; unlike Python's `==`, true is not 1."""
    if isinstance(left, bool) or isinstance(right, bool):
        return left is right
    if isinstance(left, dict) and isinstance(right, dict):
        return left.keys() == right.keys() and all(same(left[k], right[k]) for k in left)
    if isinstance(left, list) and isinstance(right, list):
        return len(left) == len(right) and all(map(same, left, right))
    return bool(left == right)


def merge_fields(
    current: Mapping[str, Any], changes: Mapping[str, Change]
) -> tuple[dict[str, Any], tuple[FieldConflict, ...], bool]:
    """Return (fields after, conflicts, whether any field already held its new value)."""
    fields = dict(current)
    conflicts = []
    already = False
    for name, change in changes.items():
        have = current.get(name)
        if same(have, change.to):
            already = True
        elif same(have, change.was):
            fields[name] = change.to
        else:
            conflicts.append(FieldConflict(name, have, change.to, change.was))
    return fields, tuple(conflicts), already


def merge(
    current: RecordState | None,
    *,
    action: str,
    changes: Mapping[str, Change],
    reason: str | None,
    new: RecordState,
    signed_field: str | None,
) -> MergeResult:
    """Merge a create, change, amend or void.

    Parameters
    ----------
    current : RecordState or None   The record as it stands; None when nothing was heard of it.
    new : RecordState               An empty record for a create (kind, id, author, versions).
    signed_field : str or None      The field whose presence makes the record signed.
    """
    if action in ("amend", "void") and reason is None:
        return MergeResult(current, "waiting", waits_for="reason_owed")
    if current is None:
        if action != "create":
            return MergeResult(None, "waiting", waits_for="record_missing")
        fields = {name: change.to for name, change in changes.items() if change.to is not None}
        return MergeResult(_with(new, fields, signed_field), "accepted")
    if action == "void":
        if current.state == "void":
            return MergeResult(current, "merged")
        return MergeResult(replace(current, state="void"), "accepted")
    fields, conflicts, already = merge_fields(current.fields, changes)
    if not conflicts and fields == current.fields:
        return MergeResult(current, "merged")
    if current.state == "void":
        return MergeResult(current, "waiting", waits_for="record_void")
    if current.state == "signed" and action != "amend":
        return MergeResult(current, "waiting", waits_for="reason_owed")
    outcome: Literal["accepted", "merged", "conflicted"] = "accepted"
    if conflicts:
        outcome = "conflicted"
    elif already or action == "create":
        outcome = "merged"
    return MergeResult(_with(current, fields, signed_field), outcome, conflicts)


def _with(record: RecordState, fields: dict[str, Any], signed_field: str | None) -> RecordState:
    signed = signed_field is not None and fields.get(signed_field) is not None
    state: State = "void" if record.state == "void" else ("signed" if signed else "open")
    return replace(record, fields=fields, state=state)
