"""Instants are shown by the nursery's clock, whatever zone the device is set to."""

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
