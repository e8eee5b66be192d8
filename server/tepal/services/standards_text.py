"""What each record standard finds of an application, as text for paper: gaps, dates, notes.

Nothing is decided here: `domain.standards` does, with a citation and a basis for each row. What was
not checked against the official text carries that mark onto the paper.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

from tepal.domain.errors import TepalError
from tepal.domain.moments import moment_ms
from tepal.domain.requirements import REGIONS, region_of
from tepal.domain.rounding import format_context
from tepal.domain.standards import completeness, standards_for
from tepal.reports.record import Lack, StandardLine

if TYPE_CHECKING:
    from collections.abc import Mapping

    from tepal.domain.errors import Finding
    from tepal.domain.standards import Completeness
    from tepal.services.book_text import TextMaker


@dataclass(frozen=True, slots=True)
class StandardsText:
    """Tells the standards' findings of applications of one establishment."""

    text: TextMaker
    establishment: Mapping[str, Any]

    def rule_set(self, applications: list[Mapping[str, Any]]) -> str:
        """Return the standards that the applications fall under, as printed on the front."""
        found: dict[str, None] = {}
        for fields in applications or [{}]:
            found |= dict.fromkeys(standards_for(fields, self.establishment))
        names = [self.text.words.text(f"choice.standards.{one}") for one in found]
        region = region_of(self.establishment)
        if region in REGIONS and names:
            names.append(self.text.words.text("book.standard.region", region=region))
        return "; ".join(names) or self.text.words.text("book.rules.own")

    def lines(
        self, fields: Mapping[str, Any], entered_at: Mapping[str, Any] | None
    ) -> tuple[StandardLine, ...]:
        """Return one line for each standard that the application falls under."""
        return tuple(
            self._line(standard, fields, entered_at)
            for standard in standards_for(fields, self.establishment)
        )

    def _line(
        self, standard: str, fields: Mapping[str, Any], entered_at: Mapping[str, Any] | None
    ) -> StandardLine:
        try:
            entered = moment_ms(entered_at) if entered_at else None
        except TepalError:  # an entry's clock is kept as it came: it may be no moment at all
            entered = None
        found = completeness(standard, fields, self.establishment, entered)
        return StandardLine(
            name=self.text.words.text(f"choice.standards.{standard}"),
            lacks=tuple(self._lack(one) for one in found.missing),
            notes=tuple(f"{self._said(one)} ({one.source})" for one in found.findings),
            dates="; ".join(self._dates(found)),
        )

    def _lack(self, finding: Finding) -> Lack:
        about = str(finding.context.get("about") or "")
        said = self._said(finding).removesuffix(".")
        return Lack(
            text=f"{said} ({about})" if about else said,
            citation=(finding.source or "").removesuffix(", from memory"),
            is_required=finding.severity != "note",
            from_memory=finding.context.get("basis") == "memory",
        )

    def _said(self, finding: Finding) -> str:
        params = format_context(finding.context, self.text.number_format)
        return self.text.words.text(f"finding.{finding.code}", **params)

    def _dates(self, found: Completeness) -> list[str]:
        say = self.text.words.text
        told = []
        if found.display_by_ms is not None:
            by = self._instant(found.display_by_ms)
            if found.display_until_ms is None:
                told.append(say("book.standard.display_by", by=by))
            else:
                until = self._instant(found.display_until_ms)
                told.append(say("book.standard.display", by=by, until=until))
        if found.record_by is not None:
            told.append(say("book.standard.record_by", day=self._day(found.record_by)))
        if found.convert_by is not None:
            told.append(say("book.standard.convert_by", day=self._day(found.convert_by)))
        if found.keep_until is None:
            told.append(say("book.standard.keep_all"))
        else:
            told.append(say("book.standard.keep", day=self._day(found.keep_until)))
        return told

    def _instant(self, ms: float) -> str:
        return self.text.local_instant(datetime.fromtimestamp(ms / 1000, tz=UTC))

    def _day(self, day: str) -> str:
        return self.text.day({"local": f"{day}T00:00:00"})
