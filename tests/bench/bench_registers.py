"""How long registers keep the page busy: 5,000 lots, 400 products, 200 benches.

`python tests/bench/bench_registers.py` prints a table. A figure is the main thread's own time for
opening a list or for one search, times 4 for a slow phone: what other programs do on the machine
hardly shows in it. The goal is 100 ms each; the baseline of the same run is an empty page.
"""

from __future__ import annotations

import statistics
import sys
from typing import TYPE_CHECKING, Any

from support.http_desk import HttpDesk
from support.live_server import live_server
from support.pictures import PHONE, chromium, context_for, sign_in

if TYPE_CHECKING:
    from collections.abc import Callable

    from playwright.sync_api import Page

N_LOTS, N_PRODUCTS, N_BENCHES = 5_000, 400, 200
GOAL_MS, SLOWER, REPEATS = 100, 4, 5
CROPS = ("Lantana", "Salvia", "Petunia", "Begonia", "Verbena", "Calibrachoa")
BASE = "/help/nothing-here"  # the page for an unknown address: a frame and a sentence

_COUNT = """async () => {
  const db = await new Promise((good, bad) => {
    const ask = indexedDB.open('tepal');
    ask.onsuccess = () => good(ask.result);
    ask.onerror = () => bad(ask.error);
  });
  const n = await new Promise((good) => {
    const ask = db.transaction('records').objectStore('records').count();
    ask.onsuccess = () => good(ask.result);
  });
  db.close();
  return n;
}"""
_CLICK = """(path) => {
  const link = document.createElement('a');
  link.href = path; document.body.append(link); link.click(); link.remove();
}"""
_TYPE = """(text) => {
  const box = document.querySelector('input[type=search]');
  box.value = text;
  box.dispatchEvent(new Event('input', {bubbles: true}));
}"""
_TAP = "() => document.querySelector('input[type=search]').focus()"
# Two frames after nothing in the document has changed for 100 ms.
_REST = """() => new Promise((good) => {
  let timer;
  const watch = new MutationObserver(wait);
  function wait() {
    clearTimeout(timer);
    timer = setTimeout(() => { watch.disconnect();
      requestAnimationFrame(() => requestAnimationFrame(good)); }, 100);
  }
  watch.observe(document.body, {childList: true, subtree: true, characterData: true});
  wait();
})"""


def fill(desk: HttpDesk) -> None:
    """Enter the registers, 200 entries a call."""
    house = desk.records["house"][0]["id"]
    entries: list[tuple[str, dict[str, Any]]] = [
        ("bench", {"name": f"Row {n}", "code": f"R{n}", "house": house}) for n in range(N_BENCHES)
    ]
    entries += [
        ("product", {"name": f"Invented {n} SL", "registration_number": f"99002-{n}"})
        for n in range(N_PRODUCTS)
    ]
    entries += [
        ("lot", {"code": f"{n // 100}·{n % 100:02}", "crop": CROPS[n % 6], "n_containers": n % 900,
                 "container": "10 cm pot", "stage": "visible buds", "phase": "growing"})
        for n in range(N_LOTS)
    ]  # fmt: skip
    for start in range(0, len(entries), 200):
        texts = [
            desk.entry(kind, "create", {name: (None, value) for name, value in fields.items()})
            for kind, fields in entries[start : start + 200]
        ]
        reply = desk.exchange(*texts)
        assert all(one["outcome"] == "accepted" for one in reply["results"])


class Busy:
    """The main thread's own time, as the browser counts it."""

    def __init__(self, page: Page) -> None:
        self._page = page
        self._session = page.context.new_cdp_session(page)
        self._session.send("Performance.enable", {"timeDomain": "threadTicks"})

    def _seconds(self) -> float:
        metrics = self._session.send("Performance.getMetrics")["metrics"]
        return float(next(one["value"] for one in metrics if one["name"] == "TaskDuration"))

    def ms(self, act: Callable[[], Any]) -> float:
        """Return what an act costs until the page rests, on the slow phone."""
        before = self._seconds()
        act()
        self._page.evaluate(_REST)
        return (self._seconds() - before) * 1000 * SLOWER


def measured(page: Page) -> dict[str, float]:
    """Return the figures, and the base last."""
    busy = Busy(page)

    def opened(path: str, wanted: str) -> float:
        def act() -> None:
            page.evaluate(_CLICK, path)
            page.wait_for_selector(wanted)

        return busy.ms(act)

    figures: dict[str, float] = {}
    base = []
    for name, path, text in (
        ("lots", "/lots", "calibrachoa 49"),
        ("products", "/products", "invented 399"),
        ("benches", "/houses", ""),
    ):
        wanted = "main .list-row, main .places .card"
        base.append(opened(BASE, "main h1"))
        figures[f"{name}: first open"] = opened(path, wanted)
        again = []
        for _ in range(REPEATS):
            base.append(opened(BASE, "main h1"))
            again.append(opened(path, wanted))
        figures[f"{name}: open again"] = statistics.median(again)
        if text:
            # the keyboard comes up: in slices, so that no frame waits for the whole of it
            figures[f"{name}: search tapped"] = busy.ms(lambda: page.evaluate(_TAP))
            typed = [text[:length] for length in range(len(text) - 3, len(text) + 1)]
            costs = [busy.ms(lambda one=one: page.evaluate(_TYPE, one)) for one in typed]
            figures[f"{name}: first letter"] = costs[0]
            figures[f"{name}: next letter"] = statistics.median(costs[1:])
    return figures | {"base: empty page": statistics.median(base)}


def main() -> int:
    """Print the figures."""
    with live_server() as server, chromium() as browser:
        fill(HttpDesk(server.address, "Ines Prado"))
        sys.stdout.write("filled\n")
        sys.stdout.flush()
        with context_for(browser, PHONE) as context:
            page = context.new_page()
            page.set_default_timeout(60_000)
            sign_in(page, server.address, "Ines Prado")
            for _ in range(120):  # the pages of the first snapshot
                if page.evaluate(_COUNT) > N_LOTS + N_PRODUCTS + N_BENCHES:
                    break
                page.wait_for_timeout(500)
            page.evaluate(_REST)
            figures = measured(page)
            base = figures["base: empty page"]
            for name, ms in figures.items():
                word = "" if ms <= GOAL_MS else "  over the goal"
                sys.stdout.write(f"{name:<22} {ms:8.0f} ms  {ms / base:5.1f} x base{word}\n")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
