"""What the analysis of a trial shows, on paper and in the office: frozen views of final strings."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

# `frozen.from_json` reads the types of the fields at run time, so these imports are real ones.
from tepal.reports.charts import Chart  # noqa: TC001
from tepal.reports.print_facts import PrintFacts, contradiction

Style = Literal["grower", "journal"]


@dataclass(frozen=True, slots=True)
class TableView:
    """A table of final text; `right` are the columns set flush right, by their place.

    `shares` are the columns' shares of the width; `marks` the names of the rows' treatments, for
    the stake in front ("" for none).
    """

    name: str
    title: str
    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    shares: tuple[int, ...]
    right: tuple[int, ...] = ()
    notes: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        """Refuse rows or shares that do not fit the heads (`reports.contradiction`)."""
        n = len(self.heads)
        if len(self.shares) != n or any(len(row) != n for row in self.rows):
            raise contradiction(f"table {self.name} has rows that do not fit its {n} columns")


@dataclass(frozen=True, slots=True)
class CellView:
    """One measurement at one assessment (or its course): sentences, tables, charts, trust.

    `state` is one word for the matrix of cells: shown, not_shown, refused, before.
    """

    measurement: str
    assessment: str
    title: str
    when: str
    label: str
    state: str
    sentences: tuple[str, ...]
    tables: tuple[TableView, ...]
    charts: tuple[Chart, ...]
    trust: tuple[str, ...]
    input_hash: str


@dataclass(frozen=True, slots=True)
class ReportSection:
    """A part of the report: heading, sentences, tables, charts and small notes, in that order."""

    name: str
    title: str
    sentences: tuple[str, ...] = ()
    tables: tuple[TableView, ...] = ()
    charts: tuple[Chart, ...] = ()
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class ReportPhoto:
    """A photo of the line-up: digest of the stored file, and its caption."""

    sha256: str
    caption: str


@dataclass(frozen=True, slots=True)
class Fact:
    """A caption and a value of the report's front."""

    caption: str
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class TrialReportView(PrintFacts):
    """Everything on the report of a trial, final; the sections in reading order."""

    code: str
    title: str
    question: str
    facts: tuple[Fact, ...]
    conclusion: tuple[str, ...]
    sections: tuple[ReportSection, ...]
    style: Style
    caution: str
    photos: tuple[ReportPhoto, ...] = ()
    photos_title: str = ""
