"""Exchanges of a phone while the office prints a large month, against exchanges while it does not.

    PYTHONPATH=server:tests python tests/bench/bench_while_printing.py [300 3000]

A real server process over HTTP with so many applications in the month. A phone sends an entry and
pulls every 50 ms, first on an idle server, then until the month's PDF has arrived. Prints p50, p95
and max of both, their ratio, and how long the month took; no bar, but the promise that a print
holds no phone up.
"""

from __future__ import annotations

import statistics
import sys
import threading
import time
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from support.http_desk import HttpDesk
from support.live_server import LiveServer
from support.server_hand import ServerHand
from tepal.services.demo import MANAGER
from tepal.services.server_acts import Act

MONTH, IDLE_S, PAUSE_S = "2026-01", 8.0, 0.05


def applied(n: int, operator: str) -> dict[str, Any]:
    """Return the fields of application `n`: two products on three benches, signed."""
    at = {"offset_min": -300, "zone": "America/New_York"}
    day = f"{MONTH}-{n % 28 + 1:02}"
    end = {**at, "local": f"{day}T08:10:00"}
    product = {
        "rei": {"value": "12", "unit": "h"}, "amount": {"value": "60.4", "unit": "mL"},
        "ingredients": [{"ai": "chlormequat chloride", "strength": {"value": "118", "unit": "g/L"}}],
        "physical_form": "liquid",
    }  # fmt: skip
    return {
        "method": "spray", "mix_name": "Height", "purpose": "shorter internodes",
        "started_at": {**at, "local": f"{day}T07:00:00"}, "ended_at": end,
        "operator": operator, "operator_name": "Rosa Lind",
        "volume": {"value": "7.92", "unit": "L"}, "area": {"value": "39.6", "unit": "m2"},
        "lines": [{"place": f"House 1, Bench {i}", "crop": "Lantana"} for i in range(3)],
        "products": [
            {**product, "name": name, "registration_number": f"99001-{number}"}
            for number, name in enumerate(("Product A", "Product B"))
        ],
        "signature": {"name": "Rosa Lind", "method": "pin", "at": end},
    }  # fmt: skip


def fill(server: LiveServer, n: int) -> None:
    """Put `n` applications on record through the server's own acts."""
    hand = ServerHand(server)
    operator = hand.member("operator")
    hand.save(
        [
            Act("application", hand.new_id(), "create", operator, applied(i, operator))
            for i in range(n)
        ]
    )


def exchanges(phone: HttpDesk, is_over: threading.Event) -> list[float]:
    """Send an entry and pull what is new until it is over; return the seconds each one took."""
    took = []
    while not is_over.is_set():
        start = time.monotonic()
        phone.send("house", "create", {"name": (None, f"House {len(took)}")})
        took.append(time.monotonic() - start)
        time.sleep(PAUSE_S)
    return took


def line(name: str, took: list[float]) -> float:
    """Print one line; return p95 in seconds."""
    p95 = statistics.quantiles(took, n=20)[-1]
    print(
        f"  {name}: {len(took)} exchanges, p50 {statistics.median(took) * 1000:.0f} ms, "
        f"p95 {p95 * 1000:.0f} ms, max {max(took) * 1000:.0f} ms", flush=True,
    )  # fmt: skip
    return p95


def run(n: int) -> None:
    """Measure one size."""
    with TemporaryDirectory(prefix="tepal-print-") as name:
        server = LiveServer(Path(name))
        fill(server, n)
        server.start()
        try:
            office, phone = (HttpDesk(server.address, MANAGER) for _ in range(2))
            over = threading.Event()
            threading.Timer(IDLE_S, over.set).start()
            idle = exchanges(phone, over)
            over = threading.Event()

            def print_month() -> None:
                start = time.monotonic()
                pdf = office.fetch("GET", f"/api/v1/reports/month?month={MONTH}", timeout_s=600)
                took = time.monotonic() - start
                print(f"{n} applications: month in {took:.1f} s ({len(pdf) >> 10} kB)")
                over.set()

            printing = threading.Thread(target=print_month)
            printing.start()
            while_printing = exchanges(phone, over)
            printing.join()
        finally:
            server.stop()
    ratio = line("while it is printed", while_printing) / line("before", idle)
    print(f"  p95 while printing {ratio:.2f} times p95 before", flush=True)


if __name__ == "__main__":
    for size in [int(size) for size in sys.argv[1:]] or [300, 3000]:
        run(size)
