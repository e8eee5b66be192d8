"""Until when an area is kept out of, and whether it may be reopened.

Twin: web/app/core/restriction.js. 40 CFR 170.407, read in the state copy WAC 16-233-116: two or
more products on one area at the same time, the longest interval counts; workers stay out until it
is over AND all signs are down. Elapsed hours: a change of the clock shortens nothing.

Signatures that pages and services use:
  areas.method_class(facts) -> MethodClass           class 1 to 5 from method, droplet, label
  areas.keep_out(number, is_whole_house) -> KeepOut  areas during and after, for a class
  application_dates(ended_ms, rei_h, offset_min)     display by / until, sign down by, keep until
  restriction_state(restriction, now_ms, heard_ms, skew_ms, parts_add) -> RestrictionState
  place_state(restrictions, now_ms, heard_ms, skew_ms, parts_add) -> RestrictionState  strictest
All instants are ms since 1970 on SERVER time. A `restriction` is a record's fields, see
`restriction_state`; void ones are left out by the caller. Ventilation: `ventilation`; notice:
`signs`; who may enter: `entry`; open conflicts: `stricter`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from tepal.domain.areas import keep_out
from tepal.domain.errors import Finding, text_of
from tepal.domain.moments import add_years, day_of_ms, moment_ms
from tepal.domain.ranges import not_negative
from tepal.domain.signs import notice_of
from tepal.domain.units import quantity_value
from tepal.domain.ventilation import Ventilation, ventilation

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

__all__ = [
    "MAX_SKEW_MS",
    "STALE_MS",
    "ApplicationDates",
    "RestrictionState",
    "application_dates",
    "longest_rei_h",
    "place_state",
    "rei_end_ms",
    "restriction_state",
]

# Own bounds, no source: heard over 30 minutes ago is stale; a clock 5 minutes off is not trusted.
STALE_MS = 1_800_000
MAX_SKEW_MS = 300_000

_HOUR_MS = 3_600_000
_DAY_MS = 86_400_000


@dataclass(frozen=True, slots=True)
class ApplicationDates:
    """Dates that 170.311(b) and 170.409(b) count from one application; None: REI unknown."""

    rei_end_ms: float | None
    display_by_ms: float
    display_until_ms: float | None
    sign_down_by_ms: float | None
    keep_until: str | None


@dataclass(frozen=True, slots=True)
class RestrictionState:
    """What is known of an area at an instant.

    `code`: no_restriction_on_file, being_sprayed, restricted, unknown. `until_ms`: end of the REI;
    None while spraying and where the REI is not on file. `unmet`: what still stands against
    reopening, each a Finding; `may_reopen` is true where nothing does. `is_stale`: heard over 30
    minutes ago, never, or by a clock that is off; the sign on the door decides.
    """

    code: str
    until_ms: float | None
    is_rei_unknown: bool
    ventilation: Ventilation | None
    heard_ms: float | None
    is_stale: bool
    may_reopen: bool
    unmet: tuple[Finding, ...]


def longest_rei_h(intervals_h: Sequence[float | None]) -> float | None:
    """Return the longest interval of a mix in hours, or None where one is not on file.

    Unknown is never treated as zero: with one unknown interval no end can be stated.

    Parameters
    ----------
    intervals_h : h, >= 0 or None   One per product; an empty list has no interval on file.
    """
    longest: float | None = None
    for interval in intervals_h:
        if interval is None:
            return None
        hours = not_negative(interval, "rei_h")
        longest = hours if longest is None or hours > longest else longest
    return longest


def rei_end_ms(ended_ms: float, rei_h: float | None) -> float | None:
    """Return when the interval ends, ms since 1970, or None where the interval is not on file."""
    if rei_h is None:
        return None
    return ended_ms + not_negative(rei_h, "rei_h") * _HOUR_MS


def application_dates(ended_ms: float, rei_h: float | None, offset_min: int) -> ApplicationDates:
    """Return what must be shown and kept until when, from the end of an application.

    40 CFR 170.311(b)(5), (6), read in the compliance guide but for the start of the two years:
    displayed within 24 h of the end, until 30 days after the last REI (after the end where it is
    0 h), kept 2 calendar years from the end of the REI (on the day at `offset_min`); sign down
    within 3 days (170.409(b)(1), from memory).
    """
    by = ended_ms + 24 * _HOUR_MS
    over = rei_end_ms(ended_ms, rei_h)
    if over is None:
        return ApplicationDates(None, by, None, None, None)
    kept = add_years(day_of_ms(over, offset_min), 2)
    return ApplicationDates(over, by, over + 30 * _DAY_MS, over + 3 * _DAY_MS, kept)


def _ms(record: Mapping[str, Any], name: str) -> float | None:
    moment = record.get(name)
    return None if moment is None else moment_ms(moment)


def restriction_state(
    restriction: Mapping[str, Any] | None,
    now_ms: float,
    heard_ms: float | None,
    skew_ms: float | None,
    parts_add: bool = False,
) -> RestrictionState:
    """Return what is known of one restriction at an instant.

    Parameters
    ----------
    restriction : mapping or None
        Fields of the record; None: there is none. `started_at`, `ended_at` (moments of the
        application; no end: being sprayed), `rei` {value, unit} or None (unknown, stay out),
        `rei_unknown`, `method_class` 1 to 5 and `ventilation_owed` (neither on file: owed),
        `double_notice`, `signs_up_at`, `signs_down_at`, `ventilation` (spells),
        `inhalation_level` (the label gives one; then only it counts, met at `measured_at`),
        `reopened_at`.
    now_ms : ms     Server time.
    heard_ms : ms or None   When this device last heard the server; the server passes now.
    skew_ms : ms or None    Measured offset of the device's clock; None: never measured.
    parts_add : bool        Establishment's `ventilation_parts_add`: California's rule.
    """
    is_stale = (
        heard_ms is None
        or now_ms - heard_ms > STALE_MS
        or skew_ms is None
        or abs(skew_ms) > MAX_SKEW_MS
    )
    if restriction is None or restriction.get("reopened_at") is not None:
        code = "unknown" if is_stale else "no_restriction_on_file"
        return RestrictionState(code, None, False, None, heard_ms, is_stale, False, ())
    ended = _ms(restriction, "ended_at")
    if ended is None:
        finding = Finding(
            "restriction.still_spraying",
            "stop",
            "It is still being sprayed.",
            "ended_at",
            "40 CFR 170.405(b)",
        )
        return RestrictionState(
            "being_sprayed", None, False, None, heard_ms, is_stale, False, (finding,)
        )
    stated = restriction.get("rei")
    is_known = stated is not None and restriction.get("rei_unknown") is not True
    rei_h = quantity_value(stated, "time", "rei") / 3600 if is_known else None
    until = rei_end_ms(ended, rei_h)
    unmet = [*_rei_unmet(until, now_ms)]
    aired = None
    if _is_ventilation_owed(restriction):
        aired = ventilation(
            ended,
            restriction.get("ventilation") or [],
            now_ms,
            "california" if parts_add else "federal",
            text_of(restriction.get("inhalation_level")) != "",
            _ms(restriction, "measured_at"),
        )
        if not aired.is_met:
            unmet.append(
                Finding(
                    "restriction.not_ventilated",
                    "stop",
                    "The ventilation criteria are not met.",
                    "ventilation",
                    "40 CFR 170.405(b)(3)",
                    {"expected_ms": aired.expected_ms},
                )
            )
    unmet += _sign_unmet(restriction, rei_h)
    if is_stale:
        unmet.append(
            Finding(
                "restriction.not_heard",
                "stop",
                "The server was not heard in the last 30 minutes, or the clock is off.",
                None,
                "house rule (no source)",
            )
        )
    return RestrictionState(
        "restricted", until, rei_h is None, aired, heard_ms, is_stale, unmet == [], tuple(unmet)
    )


def _is_ventilation_owed(restriction: Mapping[str, Any]) -> bool:
    owed = restriction.get("ventilation_owed")
    if owed is not None:
        return bool(owed)
    number = restriction.get("method_class")
    return keep_out(2 if number is None else number).until == "ventilation"


def _rei_unmet(until: float | None, now_ms: float) -> tuple[Finding, ...]:
    if until is None:
        return (
            Finding(
                "restriction.rei_unknown",
                "stop",
                "The REI is not on file: stay out, and copy it from the label.",
                "rei",
                "40 CFR 170.407(c)",
            ),
        )
    if now_ms >= until:
        return ()
    return (
        Finding(
            "restriction.rei_running",
            "stop",
            "The REI is not over.",
            "rei",
            "40 CFR 170.407(b)",
            {"until_ms": until},
        ),
    )


def _sign_unmet(restriction: Mapping[str, Any], rei_h: float | None) -> tuple[Finding, ...]:
    """A sign that hangs, or had to be hung, must be said to be down or covered."""
    if restriction.get("signs_down_at") is not None:
        return ()
    notice = notice_of(rei_h, restriction.get("double_notice"))
    if restriction.get("signs_up_at") is None and not notice.must_post:
        return ()
    return (
        Finding(
            "restriction.signs_up",
            "stop",
            "The signs are not removed or covered.",
            "signs_down_at",
            "40 CFR 170.407(b)",
        ),
    )


_ORDER = ("no_restriction_on_file", "unknown", "restricted", "being_sprayed")


def _is_stricter(one: RestrictionState, other: RestrictionState) -> bool:
    if one.code != other.code:
        return _ORDER.index(one.code) > _ORDER.index(other.code)
    if other.until_ms is None or one.code != "restricted":
        return False
    return one.until_ms is None or one.until_ms > other.until_ms


def place_state(
    restrictions: Sequence[Mapping[str, Any]],
    now_ms: float,
    heard_ms: float | None,
    skew_ms: float | None,
    parts_add: bool = False,
) -> RestrictionState:
    """Return the strictest state of all restrictions on a place, with every unmet condition."""
    strictest = restriction_state(None, now_ms, heard_ms, skew_ms)
    unmet: list[Finding] = []
    may_reopen = True
    for restriction in restrictions:
        state = restriction_state(restriction, now_ms, heard_ms, skew_ms, parts_add)
        if state.code in ("restricted", "being_sprayed"):
            unmet += state.unmet
            may_reopen = may_reopen and state.may_reopen
        if _is_stricter(state, strictest):
            strictest = state
    is_open = strictest.code in ("no_restriction_on_file", "unknown")
    return RestrictionState(
        strictest.code,
        strictest.until_ms,
        strictest.is_rei_unknown,
        strictest.ventilation,
        strictest.heard_ms,
        strictest.is_stale,
        may_reopen and not is_open,
        tuple(unmet),
    )
