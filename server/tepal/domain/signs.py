"""Notice of an application: post a sign, tell people, or both; when, and how large the sign is.

Twin: web/app/core/signs.js. 40 CFR 170.409. Read: post at an REI above 4 h in an enclosed space and
above 48 h outdoors (University of Wisconsin category note), standard size and placement (Washington
state copy), small signs (superseded text of the same rule). From memory: post OR tell below that,
both where the label asks, up at most 24 h before, down or covered within 3 days after.
"""

from __future__ import annotations

from dataclasses import dataclass

from tepal.domain.errors import Finding
from tepal.domain.ranges import not_negative

__all__ = [
    "Notice",
    "SignDates",
    "SignSize",
    "notice_of",
    "sign_dates",
    "sign_size",
]

_HOUR_MS = 3_600_000
_POST_ABOVE_ENCLOSED_H = 4
_POST_ABOVE_OUTDOOR_H = 48
_MM_PER_IN = 25.4
# A print is measured with a ruler: a hundredth of a millimetre is no fault.
_SLACK_MM = 0.01

_READ = "40 CFR 170.409(a)(1); University of Wisconsin category training note"
_MEMORY = "40 CFR 170.409(a)(1), from memory"
_SIZES = "40 CFR 170.409(b)(3); Washington state copies WAC 16-233-121 and WAC 296-307-12025"


@dataclass(frozen=True, slots=True)
class Notice:
    """What 170.409 asks for: `must_post` and `must_tell`; where neither must, one of both does."""

    must_post: bool
    must_tell: bool
    is_either: bool
    source: str
    findings: tuple[Finding, ...]


@dataclass(frozen=True, slots=True)
class SignDates:
    """Earliest instant to put the sign up, and by when it must be down or covered; ms."""

    up_from_ms: float | None
    down_from_ms: float | None
    down_by_ms: float | None


@dataclass(frozen=True, slots=True)
class SignSize:
    """standard, small_a, small_b or too_small, and how far apart such signs may stand."""

    size: str
    most_apart_ft: float | None
    findings: tuple[Finding, ...]


def notice_of(
    rei_h: float | None, is_double_notice: bool | None, is_enclosed: bool = True
) -> Notice:
    """Return the notice that an application needs.

    Parameters
    ----------
    rei_h : h, >= 0, or None    The longest of the mix; None is unknown and is posted.
    is_double_notice : bool or None   The label asks for oral AND posted notice; None: not on file.
    is_enclosed : bool          A greenhouse, also a hoop house; else the outdoor limit of 48 h.
    """
    findings: list[Finding] = []
    if is_double_notice is None:
        findings.append(
            Finding(
                "signs.double_notice_not_on_file",
                "note",
                "Whether the label asks for oral and posted notice is not on file: read the label.",
                "double_notice",
                _MEMORY,
            )
        )
    if rei_h is None:
        findings.append(
            Finding(
                "signs.rei_unknown",
                "caution",
                "The REI is not on file: post a sign.",
                "rei",
                "40 CFR 170.407(c)",
            )
        )
        return Notice(True, is_double_notice is True, False, _MEMORY, tuple(findings))
    above = _POST_ABOVE_ENCLOSED_H if is_enclosed else _POST_ABOVE_OUTDOOR_H
    must_post = not_negative(rei_h, "rei_h") > above
    if is_double_notice is True:
        return Notice(True, True, False, "40 CFR 170.409(a)(1)(i), from memory", tuple(findings))
    return Notice(must_post, False, not must_post, _READ if must_post else _MEMORY, tuple(findings))


def sign_dates(
    planned_start_ms: float | None, ended_ms: float | None, rei_h: float | None
) -> SignDates:
    """Return when a sign may go up (24 h before) and when it must be down (3 days after).

    From memory, 40 CFR 170.409(b)(1): removed or covered within 3 days after the end of the
    application or of the REI, whichever is later, and not before. None where a date is not known.
    """
    up = None if planned_start_ms is None else planned_start_ms - 24 * _HOUR_MS
    if ended_ms is None or rei_h is None:
        return SignDates(up, None, None)
    over = ended_ms + not_negative(rei_h, "rei_h") * _HOUR_MS
    return SignDates(up, over, over + 72 * _HOUR_MS)


def sign_size(
    width_mm: float, height_mm: float, heading_mm: float, letters_mm: float, circle_mm: float
) -> SignSize:
    """Return which size a printed sign has.

    Parameters
    ----------
    width_mm, height_mm : mm     Of the sheet, either way round.
    heading_mm : mm              Letters of DANGER and PELIGRO.
    letters_mm : mm              The smallest other letters.
    circle_mm : mm               Across the circle with hand and face.

    Standard: 14 x 16 in, letters 1 in or more. Small signs: 7/8 and 1/2 in, circle 3 in, at most
    50 ft apart; or 7/16 and 1/4 in, circle 1.5 in, at most 25 ft apart. Anything smaller fails.
    """
    short = not_negative(min(height_mm, width_mm), "width_mm")
    long = not_negative(max(width_mm, height_mm), "height_mm")
    heading = not_negative(heading_mm, "heading_mm") + _SLACK_MM
    letters = not_negative(letters_mm, "letters_mm") + _SLACK_MM
    circle = not_negative(circle_mm, "circle_mm") + _SLACK_MM
    is_sheet = short + _SLACK_MM >= 14 * _MM_PER_IN and long + _SLACK_MM >= 16 * _MM_PER_IN
    if is_sheet and heading >= _MM_PER_IN and letters >= _MM_PER_IN:
        return SignSize("standard", None, ())
    if heading >= _MM_PER_IN * 7 / 8 and letters >= _MM_PER_IN / 2 and circle >= _MM_PER_IN * 3:
        return SignSize("small_a", 50, ())
    if heading >= _MM_PER_IN * 7 / 16 and letters >= _MM_PER_IN / 4 and circle >= _MM_PER_IN * 1.5:
        return SignSize("small_b", 25, ())
    finding = Finding(
        "signs.too_small",
        "stop",
        "The sign is too small to count: letters of 1/4 in (6.35 mm) are the least.",
        "letters_mm",
        _SIZES,
        {
            "letters_mm": letters_mm,
            "heading_mm": heading_mm,
            "circle_mm": circle_mm,
            "least_letters_mm": _MM_PER_IN / 4,
            "least_heading_mm": _MM_PER_IN * 7 / 16,
            "least_circle_mm": _MM_PER_IN * 1.5,
        },
    )
    return SignSize("too_small", None, (finding,))
