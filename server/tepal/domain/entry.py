"""Who may enter a restricted area: workers, handlers, early entry; what a contractor must tell.

Twin: web/app/core/entry.js. 40 CFR 170.405, 170.407, 170.505, 170.603, 170.605 and 170.313. A
restriction bars workers; for a trained handler it is a caution to be answered with the label's PPE.

Signatures:
  entry_findings(state, person) -> findings          may this person go in now?
  early_entry_findings(task) -> findings             170.603; empty: allowed under its conditions
  minutes_before(entries, who, at_ms, minutes)       of the same person, in the fullest 24 h
  contractor_notice(planned_end_ms, ended_ms) -> ContractorNotice
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from tepal.domain.errors import Finding, TepalError, text_of
from tepal.domain.moments import moment_ms
from tepal.domain.ranges import finite, not_negative

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

__all__ = [
    "EARLY_ENTRY",
    "ContractorNotice",
    "EntryError",
    "contractor_notice",
    "early_entry_findings",
    "entry_findings",
    "minutes_before",
]

_HOUR_MS = 3_600_000
_DAY_MS = 24 * _HOUR_MS
EARLY_ENTRY = ("no_contact", "short_task", "declared_emergency", "limited_contact")
_WAIT_MS = 4 * _HOUR_MS
# sort -> (most minutes in any 24 h, citation with its basis)
_MOST_MIN: dict[str, tuple[int, str]] = {
    "short_task": (60, "40 CFR 170.603(b); the hour read at EPA, the wait in the superseded text"),
    "limited_contact": (480, "40 CFR 170.603(d), read at EPA"),
    "declared_emergency": (240, "40 CFR 170.603(c), the 4 h from memory"),
}
_NO_CONTACT = "40 CFR 170.603(a), read at EPA"
_LEAST_AGE = 18


class EntryError(TepalError, ValueError):
    """An early entry is of no known sort."""


@dataclass(frozen=True, slots=True)
class ContractorNotice:
    """Whether the grower must be told of a changed end, and by when (ms)."""

    is_needed: bool
    by_ms: float | None


def entry_findings(state: Mapping[str, Any], person: Mapping[str, Any]) -> tuple[Finding, ...]:
    """Return what stands against a person's entry now.

    Parameters
    ----------
    state : mapping     `code` of a RestrictionState.
    person : mapping    `is_handler` trained and equipped as a handler; `is_adult` or None.
    """
    code = text_of(state.get("code"))
    if code == "no_restriction_on_file":
        return ()
    if code == "unknown":
        return (
            Finding(
                "entry.not_known",
                "caution",
                "What this device knows is old: the sign on the door decides.",
                None,
                "house rule (no source)",
            ),
        )
    if person.get("is_handler") is not True:
        return (
            Finding(
                "entry.worker_barred",
                "stop",
                "Workers stay out until the area is reopened.",
                "operator",
                "40 CFR 170.405(b), 170.407(b)",
            ),
        )
    findings = [
        Finding(
            "entry.handler_in_ppe",
            "caution",
            "Only with the PPE of what was applied there.",
            "operator",
            "40 CFR 170.405(b), 170.505",
        )
    ]
    findings += _age_findings(person.get("is_adult"))
    return tuple(findings)


def _age_findings(is_adult: Any) -> list[Finding]:
    if is_adult is not False:
        return []
    return [
        Finding(
            "entry.under_age",
            "stop",
            "Handlers and early-entry workers are at least 18 years old.",
            "operator",
            "40 CFR 170.309(c), 170.605(a)",
            {"least": _LEAST_AGE},
        )
    ]


def _stop(code: str, message: str, source: str, **context: Any) -> Finding:
    return Finding(code, "stop", message, None, source, context)


def early_entry_findings(task: Mapping[str, Any]) -> tuple[Finding, ...]:
    """Return what stands against an entry during the REI; none: allowed under its conditions.

    Parameters
    ----------
    task : mapping
        `sort` no_contact, short_task, declared_emergency or limited_contact; `ended_ms` end of the
        application (None: still going on); `at_ms` when it begins; `minutes` planned;
        `minutes_before` of this person in the 24 h before; `is_hand_labour`; `is_double_notice`
        of the label (None: not on file, counts as yes); `is_ventilation_met` (inhalation level or
        criteria); `has_ppe`; `is_unforeseen` (limited contact: unforeseen, and delay would be a
        major loss); `is_adult` or None.
    """
    sort = task.get("sort")
    if sort not in EARLY_ENTRY:
        raise EntryError("entry.sort_unknown", f"{sort!r} is no early entry.", sort=text_of(sort))
    findings: list[Finding] = []
    source = _NO_CONTACT if sort == "no_contact" else _MOST_MIN[sort][1]
    ended = task.get("ended_ms")
    if ended is None:
        findings.append(_stop("entry.still_spraying", "It is still being sprayed.", source))
    if task.get("is_ventilation_met") is not True:
        findings.append(
            _stop("entry.not_ventilated", "The ventilation criteria are not met.", source)
        )
    if sort == "no_contact":
        return tuple(findings)
    findings += _age_findings(task.get("is_adult"))
    is_waiting = sort != "declared_emergency"
    if is_waiting and ended is not None and finite(task.get("at_ms"), "at_ms") < ended + _WAIT_MS:
        findings.append(
            _stop(
                "entry.first_4_h",
                "No early entry in the first 4 h after the application.",
                source,
                from_ms=ended + _WAIT_MS,
            )
        )
    if sort != "declared_emergency" and task.get("is_hand_labour") is not False:
        findings.append(
            _stop("entry.hand_labour", "Hand labour is no reason for an early entry.", source)
        )
    is_double = task.get("is_double_notice") is not False
    if sort == "limited_contact" and is_double:
        findings.append(
            _stop(
                "entry.double_notice",
                "Not where the label asks for oral and posted notice.",
                source,
            )
        )
    if sort == "limited_contact" and task.get("is_unforeseen") is not True:
        findings.append(_stop("entry.foreseen", "Only for what could not be foreseen.", source))
    if task.get("has_ppe") is not True:
        findings.append(_stop("entry.no_ppe", "The label's early-entry PPE is needed.", source))
    if sort != "declared_emergency" or is_double:
        most = _MOST_MIN[sort][0]
        before = task.get("minutes_before")
        minutes = not_negative(task.get("minutes"), "minutes")
        minutes += not_negative(0 if before is None else before, "minutes_before")
        if minutes > most:
            findings.append(
                _stop(
                    "entry.too_long",
                    f"{minutes!r} min in 24 h are more than the {most} allowed.",
                    source,
                    minutes=minutes,
                    most=most,
                )
            )
    return tuple(findings)


def _names(who: Any) -> list[str]:
    """The people that a log line names: several stand apart by comma, semicolon, slash or &."""
    text = text_of(who).lower()
    for mark in (";", "/", "&", "\n"):
        text = text.replace(mark, ",")
    words = (" ".join(part.split()) for part in text.split(","))
    return [name for name in words if name != ""]


def _inside(spells: Sequence[tuple[float, float]], start: float, end: float) -> float:
    """The time of spells that lies in a window, ms."""
    total = 0.0
    for began, ended in spells:
        stretch = min(ended, end) - max(began, start)
        total += stretch if stretch > 0 else 0.0
    return total


def minutes_before(
    entries: Sequence[Mapping[str, Any]], who: str, at_ms: float, minutes: float
) -> float:
    """Return how long a person was in restricted areas besides this entry, min, in the worst 24 h.

    40 CFR 170.603 limits the minutes of a worker in ANY 24 h, wherever they were spent: of all 24 h
    that hold this entry whole, the fullest counts. Entries without contact have no limit and count
    for none.

    Parameters
    ----------
    entries : fields of the other early entries on file: `who`, `task`, `began_at`, `ended_at`
    who : name, as typed; of several names the one with the most minutes counts
    at_ms : ms      When this entry begins.
    minutes : min   How long it lasts.
    """
    last = at_ms + not_negative(minutes, "minutes") * 60_000
    most = 0.0
    for name in _names(who):
        spells: list[tuple[float, float]] = []
        for one in entries:
            began, ended = one.get("began_at"), one.get("ended_at")
            if one.get("task") == "no_contact" or began is None or ended is None:
                continue
            if name in _names(one.get("who")):
                spells.append((moment_ms(began), moment_ms(ended)))
        starts = [last - _DAY_MS, at_ms]
        starts += [began for began, _ in spells]
        starts += [ended - _DAY_MS for _, ended in spells]
        for start in starts:
            if last - _DAY_MS <= start <= at_ms:
                spent = _inside(spells, start, start + _DAY_MS)
                most = max(most, spent)
    return most / 60_000


def contractor_notice(planned_end_ms: float, ended_ms: float) -> ContractorNotice:
    """Return whether a commercial handler must tell the grower that the end moved.

    40 CFR 170.313, read in the compliance guide: within 2 h after the end; no notice if the end
    moves by under 1 h.
    """
    moved = ended_ms - planned_end_ms
    if moved < 0:
        moved = -moved
    if moved < _HOUR_MS:
        return ContractorNotice(False, None)
    return ContractorNotice(True, ended_ms + 2 * _HOUR_MS)
