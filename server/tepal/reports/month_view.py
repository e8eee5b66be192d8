"""What the monthly application record prints: one frozen view model of final text and numbers."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from tepal.reports import theme

# `frozen.from_json` reads the types of the fields at run time, so they are imported for real.
from tepal.reports.record import ApplicationRecord, ContradictionError

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


@dataclass(frozen=True, slots=True)
class Total:
    """The sum of a product (with registration number) or active ingredient over the month."""

    name: str
    registration: str
    amount: str
    also: str
    n_applications: int


@dataclass(frozen=True, slots=True)
class MonthView:
    """Everything on the paper, final.

    Attributes
    ----------
    paper : "a4" or "letter"
    language : str            BCP 47 tag, such as "en" or "es".
    month, filter, rule_set : str   As printed: "May 2026", "all houses, all products", ...
    generated_at, printed_by, software : str   Local time with offset; a person; name and version.
    reprint_number : int, >= 0   0 = first print.
    head_seq, head_hash       Number and hash (64 hexadecimal digits) of the journal's last entry.
    cautions : printed on the front, beside the fixed ones of the catalogue.
    applications : in the order of their start.
    product_totals, active_totals : void applications are not in them.
    total_notes : what is not in the totals, in words.
    """

    paper: theme.PaperSize
    language: str
    establishment: Establishment
    month: str
    filter: str
    rule_set: str
    generated_at: str
    printed_by: str
    software: str
    reprint_number: int
    head_seq: int
    head_hash: str
    complete_as_of: CompleteAsOf
    applications: tuple[ApplicationRecord, ...]
    product_totals: tuple[Total, ...]
    active_totals: tuple[Total, ...]
    total_notes: tuple[str, ...] = ()
    cautions: tuple[Caution, ...] = ()

    def __post_init__(self) -> None:
        """Refuse a view that contradicts itself (`reports.contradiction`)."""
        if self.paper not in theme.PAPER_MM:
            raise _contradiction(f"paper must be one of {', '.join(theme.PAPER_MM)}")
        if self.reprint_number < 0:
            raise _contradiction(f"reprint number {self.reprint_number} is below 0")
        if len(self.head_hash) != 64 or set(self.head_hash) - set("0123456789abcdef"):
            raise _contradiction("the journal hash must be 64 lower-case hexadecimal digits")
        counted = sum(1 for application in self.applications if application.void is None)
        for total in (*self.product_totals, *self.active_totals):
            if total.n_applications > counted:
                raise _contradiction(
                    f"the total of {total.name} counts {total.n_applications} applications, "
                    f"the month has {counted} that are not void"
                )


def _contradiction(what: str) -> ContradictionError:
    return ContradictionError("reports.contradiction", f"Monthly record: {what}.")
