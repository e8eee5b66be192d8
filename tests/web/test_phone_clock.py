"""A phone's clock as the office sees it: flagged from 5 minutes on, both ways; unknown is no flag."""

from __future__ import annotations

from support.node_calls import call_js

HEARD = "2026-05-12T14:00:00.000Z"


def test_clock_is_flagged_over_five_minutes_either_way() -> None:
    cases = {
        "2026-05-12T14:05:00.000Z": None,
        "2026-05-12T13:55:00.000Z": None,
        "2026-05-12T14:05:31.000Z": 6,
        "2026-05-12T13:40:00.000Z": -20,
        "2028-05-12T14:00:00.000Z": 731 * 24 * 60,  # 2028 has a 29 February
        "never": None,
    }
    statuses = [[{"device_utc": said, "said_at": HEARD}] for said in cases]
    found = call_js("core/phone-clock.js", "minutesOff", [*statuses, [None], [{}]])

    assert [one["value"] for one in found] == [*cases.values(), None, None]
