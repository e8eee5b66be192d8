"""What a paper knows of one application: frozen values of final text, checked for contradiction.

Services fill these; the renderers print them. Quantities arrive as text in the establishment's
number format with their unit, times as local text; nothing here is converted or computed.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import Literal

from tepal.domain.errors import TepalError

State = Literal["complete", "missing", "amended", "unsigned", "undecided", "running", "void"]


class ContradictionError(TepalError, ValueError):
    """A view model says two things that cannot both be true; nothing is printed from it."""


@dataclass(frozen=True, slots=True)
class Change:
    """A value that was replaced: `old` ("" = it was empty), who, local time, and why."""

    old: str
    by: str
    at: str
    reason: str


@dataclass(frozen=True, slots=True)
class Rival:
    """Another value for the same field that nobody has decided on yet: who gave it, and when."""

    text: str
    by: str
    at: str


@dataclass(frozen=True, slots=True)
class Value:
    """One field of a record.

    Attributes
    ----------
    text : str              Final text with unit; "" where nothing is on file.
    also : str              The same in the other unit system; "" where there is none.
    required : bool         The chosen rule set asks for it: empty prints as "missing".
    changes : tuple of Change   Oldest first; printed struck through.
    rivals : tuple of Rival     Undecided other values; all are printed.
    from_memory : bool      The fact was not checked against the official text.
    """

    text: str = ""
    also: str = ""
    required: bool = False
    changes: tuple[Change, ...] = ()
    rivals: tuple[Rival, ...] = ()
    from_memory: bool = False

    @property
    def is_missing(self) -> bool:
        """Required, and nothing is on file."""
        return self.required and not self.text.strip()

    @property
    def is_blank(self) -> bool:
        """Nothing to print at all: no text, not missing, never changed, nobody disagrees."""
        return not (self.text or self.is_missing or self.changes or self.rivals)


NOTHING = Value()


@dataclass(frozen=True, slots=True)
class PlaceLine:
    """One bench with one crop lot of an application."""

    bench: Value
    lot_code: str
    crop: Value
    stage: Value = NOTHING
    plants: Value = NOTHING
    area: Value = NOTHING
    volume: Value = NOTHING


@dataclass(frozen=True, slots=True)
class ProductLine:
    """One product of the tank mix.

    `rate` is the concentration or dose asked for, `amount` the total used in this application,
    `rei` the label's restricted-entry interval for this product.
    """

    name: Value
    registration: Value
    active_ingredients: Value
    rate: Value = NOTHING
    amount: Value = NOTHING
    rei: Value = NOTHING
    batch: Value = NOTHING


@dataclass(frozen=True, slots=True)
class Fact:
    """A further field, its label already in the paper's language."""

    label: str
    value: Value


@dataclass(frozen=True, slots=True)
class Lack:
    """What a standard asks for and the record has not: in words, with its citation.

    `is_required` False: asked for only under a condition of which nothing is on file.
    """

    text: str
    citation: str
    is_required: bool = True
    from_memory: bool = False


@dataclass(frozen=True, slots=True)
class StandardLine:
    """One standard's view of the record: what it lacks, its dates, and notes such as "late"."""

    name: str
    lacks: tuple[Lack, ...]
    dates: str
    notes: tuple[str, ...] = ()

    @property
    def is_complete(self) -> bool:
        """Nothing that the standard requires is missing."""
        return not any(lack.is_required for lack in self.lacks)


@dataclass(frozen=True, slots=True)
class VoidMark:
    """Who voided a record, local time, and why."""

    by: str
    at: str
    reason: str


@dataclass(frozen=True, slots=True)
class ApplicationRecord:
    """One application as it stands on file.

    Attributes
    ----------
    number : str            The record's short id, version included.
    states : tuple of State At least one; "void" stands when `void` is given.
    missing : tuple of str  Localised names of the required fields that are not on file.
    n_photos : int          Photos on file.
    facts : tuple of Fact   Further fields the rule set asks for (safety data sheet, signs, ...).
    entered : str           Who typed it, where and when, as text.
    standards : tuple of StandardLine   What the chosen standards find.
    """

    number: str
    states: tuple[State, ...]
    date: Value
    start: Value
    end: Value
    place: Value
    description: Value
    area: Value
    volume: Value
    mix: Value
    method: Value
    rei: Value
    rei_end: Value
    operator: Value
    certificate: Value
    signature: Value
    places: tuple[PlaceLine, ...]
    products: tuple[ProductLine, ...]
    entered: str
    facts: tuple[Fact, ...] = ()
    missing: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    n_photos: int = 0
    void: VoidMark | None = None
    standards: tuple[StandardLine, ...] = ()

    def __post_init__(self) -> None:
        """Refuse a record whose state contradicts its fields (`reports.contradiction`)."""
        if not self.states:
            raise _contradiction(self, "has no state")
        if (self.void is not None) != ("void" in self.states):
            raise _contradiction(self, "is void in one place and not in the other")
        lacks = bool(self.missing) or any(value.is_missing for value in all_values(self))
        lacks = lacks or not all(line.is_complete for line in self.standards)
        if lacks and "complete" in self.states:
            raise _contradiction(self, "is called complete and lacks a required field")
        if lacks and not self.void and "missing" not in self.states:
            raise _contradiction(self, "lacks a required field and does not say so")
        changed = any(value.changes for value in all_values(self))
        if changed and not self.void and "amended" not in self.states:
            raise _contradiction(self, "has changed values and is not called amended")
        rivals = any(value.rivals for value in all_values(self))
        if rivals and "undecided" not in self.states:
            raise _contradiction(self, "has two values for one field and is not called undecided")


def all_values(record: ApplicationRecord) -> tuple[Value, ...]:
    """Return every field value of a record, its lines included."""
    owners: list[ApplicationRecord | PlaceLine | ProductLine | Fact] = [record]
    owners += record.places
    owners += record.products
    owners += record.facts
    found = (getattr(owner, field.name) for owner in owners for field in fields(owner))
    return tuple(value for value in found if isinstance(value, Value))


def _contradiction(record: ApplicationRecord, what: str) -> ContradictionError:
    return ContradictionError(
        "reports.contradiction",
        f"Record {record.number} {what}; correct the view model.",
        record=record.number,
    )
