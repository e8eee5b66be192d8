"""Instants are shown and stamped by the nursery's clock, whatever zone the device is set to."""

from __future__ import annotations

import json
import os
import subprocess
from pathlib import Path

import pytest

from support.node_calls import node_path

pytestmark = pytest.mark.node

WHEN = Path(__file__).resolve().parents[2] / "web" / "app" / "ui" / "when.js"
SCRIPT = """
const { setZone, clockTime, dayAt, midnightBefore } = await import(process.argv[1]);
const ms = Date.parse(process.argv[2]);
setZone(process.argv[3]);
console.log(JSON.stringify([clockTime(ms), dayAt(ms), new Date(midnightBefore(ms)).toISOString()]));
"""


@pytest.mark.parametrize("device_zone", ["Etc/UTC", "Asia/Tokyo"])
@pytest.mark.parametrize(
    ("instant", "zone", "shown"),
    [
        # offsets from the IANA database: New York is UTC-5 in winter, UTC-4 from 8 March 2026
        (
            "2026-11-25T03:10:00Z",
            "America/New_York",
            ["22:10", "2026-11-24", "2026-11-24T05:00:00.000Z"],
        ),
        (
            "2026-03-08T16:00:00Z",
            "America/New_York",
            ["12:00", "2026-03-08", "2026-03-08T04:00:00.000Z"],
        ),
        (
            "2026-07-01T23:30:00Z",
            "Europe/Madrid",
            ["01:30", "2026-07-02", "2026-07-01T22:00:00.000Z"],
        ),
    ],
)
def test_an_instant_shows_the_hour_on_the_nurserys_wall(
    device_zone: str, instant: str, zone: str, shown: list[str]
) -> None:
    done = subprocess.run(
        [node_path(), "--input-type=module", "-e", SCRIPT, WHEN.as_uri(), instant, zone],
        capture_output=True, text=True, check=True, timeout=60, env={**os.environ, "TZ": device_zone},
    )  # fmt: skip

    assert json.loads(done.stdout) == shown


def test_a_zone_that_the_browser_does_not_know_leaves_the_devices_own() -> None:
    done = subprocess.run(
        [
            node_path(), "--input-type=module", "-e", SCRIPT,
            WHEN.as_uri(), "2026-11-25T03:10:00Z", "Nowhere/Land",
        ],
        capture_output=True, text=True, check=True, timeout=60, env={**os.environ, "TZ": "Etc/UTC"},
    )  # fmt: skip

    assert json.loads(done.stdout)[:2] == ["03:10", "2026-11-25"]


MOMENTS = WHEN.parents[1] / "state" / "moments.js"
STAMP = """
const { wallAt, momentAt, msOf } = await import(process.argv[1]);
console.log(JSON.stringify(JSON.parse(process.argv[2]).map(([at, zone]) => {
  const moment = at.endsWith("Z") ? wallAt(Date.parse(at), zone) : momentAt(at, zone);
  return moment && { ...moment, instant: new Date(msOf(moment)).toISOString().slice(0, 19) };
})));
"""
NEW_YORK, MADRID, KOLKATA = "America/New_York", "Europe/Madrid", "Asia/Kolkata"
# IANA database: New York changes on 8 March and 1 November 2026 at 02:00, Madrid on 25 October.
# What was stamped or typed, where, what stands on the wall, minutes east, the instant.
STAMPS = [
    ("2026-11-25T03:10:07.900Z", NEW_YORK, "2026-11-24T22:10:07", -300, "2026-11-25T03:10:07"),
    ("2026-03-08T06:59:59.000Z", NEW_YORK, "2026-03-08T01:59:59", -300, "2026-03-08T06:59:59"),
    ("2026-03-08T07:00:00.000Z", NEW_YORK, "2026-03-08T03:00:00", -240, "2026-03-08T07:00:00"),
    ("2026-11-01T05:30:00.000Z", NEW_YORK, "2026-11-01T01:30:00", -240, "2026-11-01T05:30:00"),
    ("2026-11-01T06:30:00.000Z", NEW_YORK, "2026-11-01T01:30:00", -300, "2026-11-01T06:30:00"),
    ("2026-10-25T01:00:00.000Z", MADRID, "2026-10-25T02:00:00", 60, "2026-10-25T01:00:00"),
    ("2026-06-01T00:00:00.000Z", KOLKATA, "2026-06-01T05:30:00", 330, "2026-06-01T00:00:00"),
    ("2026-05-04T10:30", NEW_YORK, "2026-05-04T10:30:00", -240, "2026-05-04T14:30:00"),
    ("2026-12-04T10:30", NEW_YORK, "2026-12-04T10:30:00", -300, "2026-12-04T15:30:00"),
    ("2026-03-08T01:59", NEW_YORK, "2026-03-08T01:59:00", -300, "2026-03-08T06:59:00"),
    # the first never comes, the one after next comes twice: the first of the two
    ("2026-03-08T02:30", NEW_YORK, "2026-03-08T02:30:00", -300, "2026-03-08T07:30:00"),
    ("2026-03-08T03:00", NEW_YORK, "2026-03-08T03:00:00", -240, "2026-03-08T07:00:00"),
    ("2026-11-01T01:30", NEW_YORK, "2026-11-01T01:30:00", -240, "2026-11-01T05:30:00"),
    ("2026-11-01T02:00", NEW_YORK, "2026-11-01T02:00:00", -300, "2026-11-01T07:00:00"),
    ("2026-10-25T03:00", MADRID, "2026-10-25T03:00:00", 60, "2026-10-25T02:00:00"),
    ("2026-06-01T23:30", KOLKATA, "2026-06-01T23:30:00", 330, "2026-06-01T18:00:00"),
]
NO_TIMES = ("", "noon", "2026-13-04T10:30", "2026-05-04 10:30")


@pytest.mark.parametrize("device_zone", ["Etc/UTC", "Asia/Tokyo", "America/New_York"])
def test_stamps_and_typed_times_are_the_nurserys_and_not_the_devices(device_zone: str) -> None:
    asked = [[at, zone] for at, zone, *_ in STAMPS] + [[text, NEW_YORK] for text in NO_TIMES]
    done = subprocess.run(
        [
            node_path(), "--input-type=module", "-e", STAMP, MOMENTS.as_uri(), json.dumps(asked),
        ],
        capture_output=True, text=True, check=True, timeout=60, env={**os.environ, "TZ": device_zone},
    )  # fmt: skip

    found = json.loads(done.stdout)

    for (at, zone, local, offset_min, instant), moment in zip(STAMPS, found, strict=False):
        expected = {"local": local, "offset_min": offset_min, "zone": zone, "instant": instant}
        assert moment == expected, at
    assert found[len(STAMPS) :] == [None] * len(NO_TIMES)
