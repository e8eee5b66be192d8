"""When an enclosed space has been ventilated enough after an application: 40 CFR 170.405(b)(3).

Twin: web/app/core/ventilation.js. Ventilate until the label's inhalation level is met; where the
label gives none, any ONE of: 10 air exchanges; 2 h mechanical; 4 h passive; 11 h closed and then
1 h mechanical or 2 h passive; 24 h closed. Options i to iii and the 11 h were read in the
compliance guide, the hours after the 11 h and the 24 h are from memory for the federal text.
California (3 CCR 6769, read) knows no 11 h options, and lets parts of its options add up to 100 %.

A spell is a record `{"sort": "mechanical" | "passive" | "closed", "began_at": moment, "ended_at":
moment or null, "air_exchanges": "3.5" or null}`. A spell without an end ends where the next one
begins; the last one runs on. Hours of one option count in one unbroken stretch (own, stricter
reading).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, NamedTuple

from tepal.domain.errors import TepalError, text_of
from tepal.domain.moments import moment_ms
from tepal.domain.ranges import not_negative
from tepal.domain.units import decimal_value

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

__all__ = ["VENTILATION_RULES", "Ventilation", "VentilationError", "ventilation"]

VENTILATION_RULES = ("federal", "california")

_HOUR_MS = 3_600_000
# option -> whole duration in ms of the sort of spell that it counts
_WHOLE_MS = {"mechanical": 2 * _HOUR_MS, "passive": 4 * _HOUR_MS, "closed": 24 * _HOUR_MS}
_SINGLE = {"mechanical": "mechanical_2_h", "passive": "passive_4_h", "closed": "closed_24_h"}
_AFTER_CLOSED_MS = {"mechanical": 1 * _HOUR_MS, "passive": 2 * _HOUR_MS}
_AFTER_CLOSED = {"mechanical": "closed_11_h_mechanical_1_h", "passive": "closed_11_h_passive_2_h"}
_CLOSED_FIRST_MS = 11 * _HOUR_MS
_AIR_EXCHANGES = 10


class VentilationError(TepalError, ValueError):
    """A spell of ventilation is of an unknown sort, or ends before it starts."""


@dataclass(frozen=True, slots=True)
class Ventilation:
    """Whether the criteria are met; `expected_ms`: when, if the running spell goes on.

    `option`: label_level, air_exchanges_10, mechanical_2_h, passive_4_h, closed_24_h,
    closed_11_h_mechanical_1_h, closed_11_h_passive_2_h, mixed_parts; None: nothing leads there.
    """

    is_met: bool
    met_ms: float | None
    expected_ms: float | None
    option: str | None


class _Spell(NamedTuple):
    """A spell as it counts, in ms."""

    sort: str
    start: float
    end: float
    exchanges: float


def _read(records: Sequence[Mapping[str, Any]], ended_ms: float) -> list[_Spell]:
    """Return the spells by start; what lies before the end of the application does not count."""
    read: list[tuple[float, float | None, str, float]] = []
    for record in records:
        sort = text_of(record.get("sort"))
        if sort not in _WHOLE_MS:
            raise VentilationError(
                "ventilation.sort_unknown", f"{sort!r} is no sort of ventilation.", sort=sort
            )
        start = moment_ms(record.get("began_at"))
        stop = record.get("ended_at")
        end = None if stop is None else moment_ms(stop)
        if end is not None and end < start:
            raise VentilationError(
                "ventilation.ends_before_start", "A spell of ventilation ends before it starts."
            )
        stated = record.get("air_exchanges")
        exchanges = (
            0.0
            if stated is None
            else not_negative(decimal_value(stated, "air_exchanges"), "air_exchanges")
        )
        read.append((start, end, sort, exchanges))
    read.sort(key=lambda one: one[0])
    spells: list[_Spell] = []
    for i, (start_ms, end_ms, sort, exchanges) in enumerate(read):
        following = [later[0] for later in read[i + 1 :] if later[0] > start_ms]
        stop_ms = end_ms if end_ms is not None else following[0] if following else math.inf
        from_ms = max(ended_ms, start_ms)
        if stop_ms > from_ms:
            # exchanges counted from before the end of the application are of no use
            spells.append(
                _Spell(sort, from_ms, stop_ms, exchanges if start_ms >= ended_ms else 0.0)
            )
    return spells


def _stretches(spells: Sequence[_Spell], sort: str) -> list[_Spell]:
    """Return the unbroken stretches of a sort; a space that is ventilated is not closed."""
    stretches: list[_Spell] = []
    for spell in spells:
        if spell.sort != sort:
            continue
        last = stretches[-1] if stretches else None
        if last is not None and spell.start <= last.end:
            end = max(last.end, spell.end)
            stretches[-1] = _Spell(sort, last.start, end, 0.0)
        else:
            stretches.append(_Spell(sort, spell.start, spell.end, 0.0))
    if sort != "closed":
        return stretches
    for other in spells:
        if other.sort == "closed":
            continue
        cut: list[_Spell] = []
        for one in stretches:
            before = min(one.end, other.start)
            after = max(one.start, other.end)
            if before > one.start:
                cut.append(_Spell("closed", one.start, before, 0.0))
            if one.end > after:
                cut.append(_Spell("closed", after, one.end, 0.0))
        stretches = cut
    return stretches


def _exchanges_ms(spells: Sequence[_Spell]) -> float | None:
    """Return when ten air exchanges were counted; a running spell has none counted yet."""
    total = 0.0
    for spell in sorted(spells, key=lambda one: one.end):
        if spell.end == math.inf:
            break
        total += spell.exchanges
        if total >= _AIR_EXCHANGES:
            return spell.end
    return None


def _mixed_ms(spells: Sequence[_Spell]) -> float | None:
    """Return when parts of the options add up to a whole (California only).

    At every instant the quickest of the running sorts counts; a spell whose counted exchanges make
    the larger part counts by them, at its end.
    """
    parts: list[_Spell] = []
    counted_parts: list[tuple[float, float]] = []
    for sort in ("mechanical", "passive"):
        parts += [one for one in spells if one.sort == sort]
    parts += _stretches(spells, "closed")
    timed: list[_Spell] = []
    for one in parts:
        share = one.exchanges / _AIR_EXCHANGES
        if one.end != math.inf and share > (one.end - one.start) / _WHOLE_MS[one.sort]:
            counted_parts.append((one.end, share))
        else:
            timed.append(one)
    cuts = sorted(
        {*(p.start for p in timed), *(p.end for p in timed), *(c[0] for c in counted_parts)}
    )
    total = 0.0
    for i, cut in enumerate(cuts):
        for at, share in counted_parts:
            if at == cut:
                total += share
        if total >= 1:
            return cut
        if i + 1 == len(cuts):
            return None
        whole: float | None = None
        for one in timed:
            if one.start <= cut < one.end and (whole is None or _WHOLE_MS[one.sort] < whole):
                whole = _WHOLE_MS[one.sort]
        if whole is None:
            continue
        needed = (1 - total) * whole
        # a millisecond of slack for the rounding of the shares
        if needed <= cuts[i + 1] - cut + 1:
            return math.floor(cut + needed + 0.5)
        total += (cuts[i + 1] - cut) / whole
    return None


def _candidates(spells: Sequence[_Spell], rule: str) -> list[tuple[float, str]]:
    found: list[tuple[float, str]] = []
    exchanged = _exchanges_ms(spells)
    if exchanged is not None:
        found.append((exchanged, "air_exchanges_10"))
    closed = _stretches(spells, "closed")
    for sort in ("mechanical", "passive"):
        for one in _stretches(spells, sort):
            if one.end - one.start >= _WHOLE_MS[sort]:
                found.append((one.start + _WHOLE_MS[sort], _SINGLE[sort]))
            if rule == "federal" and one.end - one.start >= _AFTER_CLOSED_MS[sort]:
                found += [
                    (one.start + _AFTER_CLOSED_MS[sort], _AFTER_CLOSED[sort])
                    for first in closed
                    if first.end == one.start and first.end - first.start >= _CLOSED_FIRST_MS
                ]
    found += [
        (one.start + _WHOLE_MS["closed"], _SINGLE["closed"])
        for one in closed
        if one.end - one.start >= _WHOLE_MS["closed"]
    ]
    if rule == "california":
        mixed = _mixed_ms(spells)
        if mixed is not None:
            found.append((mixed, "mixed_parts"))
    return found


def ventilation(
    ended_ms: float,
    spells: Sequence[Mapping[str, Any]],
    now_ms: float,
    rule: str = "federal",
    is_level_on_label: bool | None = None,
    level_met_ms: float | None = None,
) -> Ventilation:
    """Return whether the ventilation criteria are met at an instant.

    Parameters
    ----------
    ended_ms, now_ms : ms since 1970         End of the application; the instant asked about.
    spells : sequence of spells, see above   In any order.
    rule : 'federal' or 'california'
    is_level_on_label : bool or None         The label gives an inhalation level: only that counts.
    level_met_ms : ms since 1970 or None     When the level was measured as met.

    Raises
    ------
    VentilationError   `ventilation.sort_unknown`, `ventilation.ends_before_start`,
                       `ventilation.rule_unknown`
    """
    if rule not in VENTILATION_RULES:
        raise VentilationError(
            "ventilation.rule_unknown", f"{rule!r} is no rule of ventilation.", rule=text_of(rule)
        )
    if is_level_on_label is True:
        if level_met_ms is None or level_met_ms < ended_ms:
            return Ventilation(False, None, None, None)
        return _answer(level_met_ms, "label_level", now_ms)
    best: tuple[float, str] | None = None
    for one in _candidates(_read(spells, ended_ms), rule):
        if best is None or one[0] < best[0]:
            best = one
    if best is None:
        return Ventilation(False, None, None, None)
    return _answer(best[0], best[1], now_ms)


def _answer(at_ms: float, option: str, now_ms: float) -> Ventilation:
    is_met = at_ms <= now_ms
    return Ventilation(is_met, at_ms if is_met else None, at_ms, option)
