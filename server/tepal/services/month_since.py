"""What a reprint says that the print before it did not: record by record, value by value.

Compares the stored view of the last print with the new one: both are final text. Reads nothing.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from tepal.reports.record import Value

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from tepal.domain.words import Words
    from tepal.reports.record import ApplicationRecord

_VALUES = (
    "date", "start", "end", "place", "description", "area", "volume", "mix", "method", "rei",
    "operator", "certificate", "signature",
)  # fmt: skip
_CAPTION = {"certificate": "certificate_full"}
_MOST_LINES = 60  # more would be a paper of their own: the rest is counted


@dataclass(frozen=True, slots=True)
class Earlier:
    """The print before: its number (0 = first), when, and its applications as stored."""

    number: int
    printed_at: str
    applications: Sequence[Mapping[str, Any]]


def changed_since(
    earlier: Earlier, records: Sequence[ApplicationRecord], words: Words
) -> tuple[str, ...]:
    """Return a line for each application that is new, gone or different."""
    before = {_id(str(one["number"])): one for one in earlier.applications}
    now = {_id(record.number): record for record in records}
    told = [(record, before.get(key)) for key, record in now.items()]
    lines = [line for record, old in told if (line := _line(old, record, words))]
    lines += [
        words.text("book.since.gone", number=str(one["number"]))
        for key, one in before.items()
        if key not in now
    ]
    if len(lines) > _MOST_LINES:
        rest = len(lines) - _MOST_LINES
        return (*lines[:_MOST_LINES], words.text("book.since.more", n=rest))
    return tuple(lines)


def _line(old: Mapping[str, Any] | None, record: ApplicationRecord, words: Words) -> str:
    if old is None:
        return words.text("book.since.added", number=record.number)
    what = "; ".join(_differences(old, record, words))
    return words.text("book.since.changed", number=record.number, what=what) if what else ""


def _id(number: str) -> str:
    """Return a record's number without its day and version, which both may change."""
    return number.split(",", maxsplit=1)[0].rsplit(" ", maxsplit=1)[-1]


def _differences(old: Mapping[str, Any], record: ApplicationRecord, words: Words) -> list[str]:
    found = []
    if (old.get("void") is None) != (record.void is None):
        found.append(words.text("papers.state.void"))
    for name in _VALUES:
        was = str((old.get(name) or {}).get("text", ""))
        value = getattr(record, name)
        if was != value.text:
            empty = words.text("papers.value.empty")
            caption = words.text(f"papers.field.{_CAPTION.get(name, name)}")
            found.append(
                words.text(
                    "book.since.value", field=caption, old=was or empty, new=value.text or empty
                )
            )
    found += [
        words.text(f"book.since.{name}")
        for name in ("places", "products")
        if _texts(old.get(name) or ()) != _texts(getattr(record, name))
    ]
    if bool(old.get("signature", {}).get("rivals")) != bool(record.signature.rivals):
        found.append(words.text("papers.state.undecided"))
    return found


def _texts(rows: Sequence[Any]) -> list[tuple[str, ...]]:
    """Return the texts of lines, whether stored or new."""
    found = []
    for row in rows:
        names = sorted(row if isinstance(row, dict) else row.__dataclass_fields__)
        values = [row[n] if isinstance(row, dict) else getattr(row, n) for n in names]
        found.append(tuple(map(_text, values)))
    return found


def _text(value: Any) -> str:
    if isinstance(value, Value):
        return value.text
    return str(value["text"] if isinstance(value, dict) else value)
