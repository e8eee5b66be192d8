"""What the phone's browser takes for a save, a first pull and a start, against the barest way.

    PYTHONPATH=server:tests python tests/bench/bench_browser.py

All sides run in one page of Chromium, in turn, medians of 5:

* save: `sync/outbox.save` of one application through the shipped store, against one strict Dexie
  `put` of the same bytes as a single row. Bar: 2 times.
* first pull: `sync/exchange.exchangeRound` from the real server until nothing is left, about 10,000
  records, against a bare `fetch` of the same reply bodies as files plus a bare strict Dexie
  `bulkPut` of the same rows, a batch a reply. Bar: 1.5 times.
* warm start without a server, at a quarter of the processor, until the first heading stands; beside
  it the same at full speed. A figure, no bar.

The 10,000 records are lots that the server itself puts on record, as its demo and imports do.
"""

from __future__ import annotations

import json
import shutil
import statistics
import sys
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING, Any

from support.http_desk import HttpDesk
from support.live_server import LiveServer, live_server
from support.phone import sign_in
from support.pictures import PHONE, chromium, context_for
from support.server_hand import ServerHand
from tepal.api.web import WEB_APP
from tepal.api.web_assets import WebAssets
from tepal.services.demo import MANAGER, PASSWORD
from tepal.services.server_acts import Act

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

REPEATS = 5
N_RECORDS = 10_000
N_SAVES = 100
SAVE_BAR, PULL_BAR = 2.0, 1.5
THROTTLE = 4

_COMMON = """
  const [{ openStore }, { save }, { exchangeRound }, { writeMeta }, { transport }, { default: Dexie }] =
    await Promise.all([...addresses.map((one) => import(one)), import('dexie')]);
  const clock = {
    nowMs: () => Date.now(),
    randomBytes: (n) => crypto.getRandomValues(new Uint8Array(n)),
    wall: () => ({ local: '2026-05-12T10:00:00', offset_min: -240, zone: 'America/New_York' }),
  };
  const bare = (name, schema) => {
    const db = new Dexie(name, { chromeTransactionDurability: 'strict' });
    db.version(1).stores(schema);
    return db;
  };
"""
SAVE = (
    """async ([addresses, device, n, fields]) => {"""
    + _COMMON
    + """
  const store = openStore({ name: 'bench-save' });
  await store.write(['meta'], (tx) => writeMeta(tx, 'device', { id: device, label: 'bench' }));
  const db = bare('bench-put', { rows: 'number' });
  const changes = Object.fromEntries(Object.entries(fields).map(([k, to]) => [k, { was: null, to }]));
  const actOf = () => ({ kind: 'application', record: crypto.randomUUID(), action: 'create',
    member: device, form_version: 1, changes });
  const [first] = await save(store, clock, [actOf()]);
  const [record] = await store.read(['records'], (tx) => tx.ofKind('application'));
  await db.table('rows').put({ number: 0, entry: first, record });
  const ours = [], theirs = [];
  for (let i = 1; i <= n; i += 1) {
    let at = performance.now();
    await save(store, clock, [actOf()]);
    ours.push(performance.now() - at);
    at = performance.now();
    await db.table('rows').put({ number: i, entry: first, record });
    theirs.push(performance.now() - at);
  }
  store.close();
  db.close();
  await Dexie.delete('bench-save');
  await Dexie.delete('bench-put');
  return [ours, theirs];
}"""
)
PULL = (
    """async ([addresses, device, files]) => {"""
    + _COMMON
    + """
  const store = openStore({ name: 'bench-pull' });
  await store.write(['meta'], (tx) => writeMeta(tx, 'device', { id: device, label: 'bench' }));
  // how long the network had the word: the shipped round waits for it, the bare side has files
  let waited = 0;
  const timed = { ...transport, exchange: async (body) => {
    const from = performance.now();
    const got = await transport.exchange(body);
    waited += performance.now() - from;
    return got;
  } };
  let at = performance.now();
  let result = { ahead: null };
  do {
    const parts = { store, transport: timed, clock, signedField: () => null };
    result = await exchangeRound(parts, result.ahead);
    if (!result.ok) throw new Error(result.code);
  } while (result.more);
  const ours = performance.now() - at;
  const n = await store.read(['records'], (tx) => tx.count('records'));
  store.close();

  const db = bare('bench-bulk', { records: 'key, kind' });
  await db.open();
  let fetched = 0, put = 0;
  for (const file of files) {
    at = performance.now();
    const { records } = await (await fetch(file, { cache: 'no-store' })).json();
    fetched += performance.now() - at;
    const rows = records.map((r) => {
      const confirmed = { revision: r.revision, state: r.state, form_version: r.form_version,
        author: r.author, fields: r.fields };
      return { key: `${r.kind}/${r.id}`, kind: r.kind, id: r.id, shown: confirmed, confirmed,
        pending: [], generation: 1 };
    });
    at = performance.now();
    await db.table('records').bulkPut(rows);
    put += performance.now() - at;
  }
  db.close();
  await Dexie.delete('bench-pull');
  await Dexie.delete('bench-bulk');
  return { ours, waited, fetched, put, n };
}"""
)
HEADING = """(() => {
  new MutationObserver((_, observer) => {
    if (!document.querySelector('h1')) return;
    window.headingAt = performance.now();
    observer.disconnect();
  }).observe(document, { childList: true, subtree: true });
})()"""
FIELDS = {
    "method": "spray",
    "volume": {"value": "7.92", "unit": "L"},
    "area": {"value": "39.6", "unit": "m2"},
    "purpose": "shorter internodes",
    "lines": [{"place": f"House 1, Bench {n}", "crop": "Lantana"} for n in range(3)],
    "products": [
        {"name": name, "registration_number": "99001-12", "amount": {"value": "60.4", "unit": "mL"}}
        for name in ("Product A", "Product B")
    ],
    "started_at": {"local": "2026-05-12T07:00:00", "offset_min": -240, "zone": "America/New_York"},
}


def fill(server: LiveServer) -> None:
    """Put 10,000 lots on record through the server's own acts."""
    hand = ServerHand(server)
    hand.save(
        [
            Act(
                "lot", hand.new_id(), "create", hand.members[0].id,
                {
                    "code": f"2·{n:05}", "crop": "Petunia", "cultivar": "Slate Morning",
                    "n_containers": 1200, "container": "10 cm pot", "stage": "after transplant",
                },
            )
            for n in range(N_RECORDS)
        ]
    )  # fmt: skip


def replies(server: LiveServer, folder: Path) -> list[str]:
    """Write the bodies of a first pull as files of the app's folder, and return their addresses."""
    office = HttpDesk(server.address, MANAGER)
    (folder / "bench").mkdir()
    cursor, more, names = None, True, []
    while more:
        body = office.call("POST", "/api/v1/exchange", {"device": office.device, "cursor": cursor})
        names.append(f"bench/{len(names)}.json")
        (folder / names[-1]).write_text(json.dumps(body, ensure_ascii=False, separators=(",", ":")))
        cursor, more = body["cursor"], body["more"]
    return names


def signed_in_page(browser: Browser, server: LiveServer) -> tuple[Page, str]:
    """Return a page with cookies of its own device; the app in it stays at its first page."""
    page = context_for(browser, PHONE).new_page()
    page.goto(f"{server.address}/today")
    page.wait_for_selector("h1")
    device: str = page.evaluate(
        """async ([name, password]) => {
          const id = crypto.randomUUID();
          await fetch('/api/v1/sign-in', { method: 'POST',
            headers: { 'Content-Type': 'application/json' },
            body: JSON.stringify({ name, password, device: { id, label: 'bench' } }) });
          return id;
        }""",
        [MANAGER, PASSWORD],
    )
    return page, device


def starts(browser: Browser, server: LiveServer, rate: int) -> float:
    """Return the median ms until the first heading, with the server stopped."""
    context = context_for(browser, PHONE, with_worker=True)
    context.add_init_script(HEADING)
    page = context.new_page()
    page.goto(f"{server.address}/today")
    sign_in(page, MANAGER)
    page.evaluate("() => navigator.serviceWorker.ready.then(() => true)")
    page.wait_for_function("() => navigator.serviceWorker.controller !== null")
    server.stop()
    chrome = context.new_cdp_session(page)
    chrome.send("Emulation.setCPUThrottlingRate", {"rate": rate})
    found = []
    for _ in range(REPEATS + 1):
        page.goto(f"{server.address}/today")
        page.wait_for_selector("h1")
        found.append(page.evaluate("() => window.headingAt"))
    context.close()
    server.start()
    return statistics.median(found[1:])


def report(name: str, ours: float, theirs: float, baseline: str, bar: float | None) -> bool:
    """Print one line; return whether the bar is kept."""
    ratio = ours / theirs
    kept = bar is None or ratio <= bar
    said = "" if bar is None else f", bar {bar} x: {'kept' if kept else 'MISSED'}"
    print(f"{name}: {ours:.2f} ms; {baseline}: {theirs:.2f} ms; ratio {ratio:.2f}{said}")
    return kept


def main() -> int:
    """Run all and return 1 where a bar is missed."""
    with (
        tempfile.TemporaryDirectory() as folder,
        live_server() as server,
        chromium() as browser,
    ):
        fast, slow = starts(browser, server, 1), starts(browser, server, THROTTLE)
        server.stop()
        fill(server)
        server.start()
        root = Path(folder) / "app"
        shutil.copytree(WEB_APP, root)
        names = replies(server, root)
        server.stop()
        server.serve_web_from(root)
        server.start()
        files = WebAssets(root).files
        addresses = [
            files[f"{name}.js"].url
            for name in (
                "store/dexie-store",
                "sync/outbox",
                "sync/exchange",
                "sync/port",
                "net/http",
            )
        ]
        page, device = signed_in_page(browser, server)
        saves = [page.evaluate(SAVE, [addresses, device, N_SAVES, FIELDS]) for _ in range(REPEATS)]
        pulls: list[dict[str, Any]] = [
            page.evaluate(PULL, [addresses, device, [files[name].url for name in names]])
            for _ in range(REPEATS)
        ]
    kept = report(
        "save", statistics.median(statistics.median(ours) for ours, _ in saves),
        statistics.median(statistics.median(theirs) for _, theirs in saves),
        "bare strict Dexie put of the same bytes", SAVE_BAR,
    )  # fmt: skip
    kept &= report(
        f"first pull of {pulls[0]['n']} records", statistics.median(p["ours"] for p in pulls),
        statistics.median(p["fetched"] + p["put"] for p in pulls),
        "bare fetch of the same bytes + bare strict bulkPut", PULL_BAR,
    )  # fmt: skip
    parts = {key: statistics.median(p[key] for p in pulls) for key in ("waited", "fetched", "put")}
    print(
        f"  of the pull {parts['waited']:.0f} ms are the exchange itself, server included;"
        f" bare: fetch {parts['fetched']:.0f} ms, bulkPut {parts['put']:.0f} ms"
    )
    report(
        f"warm start without a server, processor / {THROTTLE}", slow, fast, "at full speed", None
    )
    return 0 if kept else 1


if __name__ == "__main__":
    sys.exit(main())
