"""What the monthly application record prints: one frozen view model of final text and numbers."""

from __future__ import annotations

from dataclasses import dataclass

from tepal.reports.print_facts import PrintFacts, contradiction

# `frozen.from_json` reads the types of the fields at run time, so this import is a real one.
from tepal.reports.record import ApplicationRecord  # noqa: TC001


@dataclass(frozen=True, slots=True)
class Total:
    """The sum of a product (with registration number) or active ingredient over the month."""

    name: str
    registration: str
    amount: str
    also: str
    n_applications: int


@dataclass(frozen=True, slots=True, kw_only=True)
class MonthView(PrintFacts):
    """Everything on the monthly record, final.

    Attributes
    ----------
    month, filter, rule_set : str   As printed: "May 2026", "all houses, all products", ...
    applications : in the order of their start.
    product_totals, active_totals : void applications are not in them.
    total_notes : what is not in the totals, in words.
    since : what changed since the print before, in words; empty = nothing, None = first print.
    since_print : which print that was, as text.
    """

    month: str
    filter: str
    rule_set: str
    applications: tuple[ApplicationRecord, ...]
    product_totals: tuple[Total, ...]
    active_totals: tuple[Total, ...]
    total_notes: tuple[str, ...] = ()
    since: tuple[str, ...] | None = None
    since_print: str = ""

    def __post_init__(self) -> None:
        """Refuse a view that contradicts itself (`reports.contradiction`)."""
        PrintFacts.__post_init__(self)
        if self.since is not None and self.reprint_number == 0:
            raise contradiction("a first print has no print before it")
        counted = sum(1 for application in self.applications if application.void is None)
        for total in (*self.product_totals, *self.active_totals):
            if total.n_applications > counted:
                raise contradiction(
                    f"the total of {total.name} counts {total.n_applications} applications, "
                    f"the month has {counted} that are not void"
                )
