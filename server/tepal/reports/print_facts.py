"""What every paper says about itself: whose it is, who printed it when, and what it can know."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from tepal.reports import theme
from tepal.reports.record import ContradictionError

Heard = Literal["heard", "silent", "never"]


@dataclass(frozen=True, slots=True)
class Establishment:
    """Name, address lines and registration ids of the business, as they are to be printed."""

    name: str
    address: tuple[str, ...]
    ids: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class DeviceHeard:
    """When a phone was last heard (local text; "" if never), and how many entries it still owes.

    `owes` is a sentence in the paper's language, such as a gap in its numbered entries; "" = none.
    """

    name: str
    heard_at: str
    state: Heard
    owes: str = ""


@dataclass(frozen=True, slots=True)
class CompleteAsOf:
    """Up to when the paper can be complete: the statement, and the phones behind it."""

    at: str
    devices: tuple[DeviceHeard, ...]
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Caution:
    """A sentence to be heeded; `from_memory` where the rule was not checked."""

    text: str
    from_memory: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class PrintFacts:
    """The fields that all view models share.

    Attributes
    ----------
    paper : "a4" or "letter"
    language : str            BCP 47 tag, such as "en" or "es".
    generated_at, printed_by, software : str   Local time with offset; a person; name and version.
    reprint_number : int, >= 0   0 = first print.
    head_seq, head_hash       Number and hash (64 hexadecimal digits) of the journal's last entry.
    cautions : printed beside the fixed ones of the catalogue.
    """

    paper: theme.PaperSize
    language: str
    establishment: Establishment
    generated_at: str
    printed_by: str
    software: str
    reprint_number: int
    head_seq: int
    head_hash: str
    complete_as_of: CompleteAsOf
    cautions: tuple[Caution, ...] = ()

    def __post_init__(self) -> None:
        """Refuse print facts that cannot be true (`reports.contradiction`)."""
        if self.paper not in theme.PAPER_MM:
            raise contradiction(f"paper must be one of {', '.join(theme.PAPER_MM)}")
        if self.reprint_number < 0:
            raise contradiction(f"reprint number {self.reprint_number} is below 0")
        if len(self.head_hash) != 64 or set(self.head_hash) - set("0123456789abcdef"):
            raise contradiction("the journal hash must be 64 lower-case hexadecimal digits")


def contradiction(what: str) -> ContradictionError:
    """Return the error for a view model that cannot be true."""
    return ContradictionError("reports.contradiction", f"View model: {what}.")
