"""What the sheet of one application prints: the record, its photos and its whole history."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from tepal.reports.print_facts import PrintFacts, contradiction

# `frozen.from_json` reads the types of the fields at run time, so this import is a real one.
from tepal.reports.record import ApplicationRecord, all_values

# The closed set of actions an entry can have.
Action = Literal["create", "change", "amend", "void", "request", "propose", "decide", "restore"]


@dataclass(frozen=True, slots=True)
class HistoryLine:
    """One entry of the journal about this application.

    Attributes
    ----------
    at, by, device : str   Local time, person, phone.
    action : Action
    text : str             What changed, in words: "volume: 28.2 L to 22.8 L"; "" on create.
    reason : str           "" where none was asked for.
    seq : int, > 0         Number of the entry in the journal.
    """

    at: str
    by: str
    device: str
    action: Action
    text: str
    reason: str
    seq: int


@dataclass(frozen=True, slots=True)
class PhotoLine:
    """One photo: what it shows, when it was taken (local text), SHA-256 of the stored picture."""

    caption: str
    taken_at: str
    sha256: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ApplicationSheetView(PrintFacts):
    """Everything on the sheet, final. `history` is in journal order."""

    rule_set: str
    record: ApplicationRecord
    history: tuple[HistoryLine, ...]
    photos: tuple[PhotoLine, ...] = ()

    def __post_init__(self) -> None:
        """Refuse a history that cannot be that of the record (`reports.contradiction`)."""
        PrintFacts.__post_init__(self)
        number = self.record.number
        actions = {line.action for line in self.history}
        if "create" not in actions:
            raise contradiction(f"the history of {number} does not begin with its creation")
        if ("void" in actions) != (self.record.void is not None):
            raise contradiction(f"{number} is void in record or history only")
        changed = any(value.changes for value in all_values(self.record))
        if changed and not actions & {"amend", "decide", "change"}:
            raise contradiction(f"{number} has changed values and no entry that changed them")
        numbers = [line.seq for line in self.history]
        if numbers != sorted(set(numbers)):
            raise contradiction(f"the history of {number} is not in journal order")
        if numbers[-1] > self.head_seq:
            raise contradiction(f"the history of {number} is newer than the journal's head")
        if len(self.photos) != self.record.n_photos:
            raise contradiction(
                f"{number} has {self.record.n_photos} photos, {len(self.photos)} are listed"
            )
