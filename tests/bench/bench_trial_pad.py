"""What the phone's main thread does while a large trial is opened, walked and exchanged.

    PYTHONPATH=server:tests python tests/bench/bench_trial_pad.py [--small] [--profile]

A trial of 400 plots x 4 plants x 8 measurements x 6 assessments (12 plots with --small) is put on
record by the server's own acts: five assessments whole, the sixth open. Chromium at 390 x 844 and a
quarter of the processor then does, in turn:

* pull: the first exchange after signing in, all observations of the trial;
* open trial: from the list to the trial's page, with its progress counted;
* open map: the bench map of the trial, which a large trial draws on demand;
* open pad: to the sixth assessment, until the first digit can be typed;
* walk: 8 values on each of 10 plants, a digit a tap, each tap a task of its own;
* send: what was entered goes to the office;
* hear: another phone's values of 100 plants arrive while the pad stands open.

Each phase prints its longest tasks by the processor time of the page's main thread (from a trace,
throttled like the page), which other programs on the machine don't lengthen, beside the wall time of
the browser's own long-task observer; what ran in those over the bar; and with --profile the
functions that took most of the phase. Bars: none over 50 ms in the walk (so none between a last
digit and the next plant), none over 100 ms in any other phase.
"""

from __future__ import annotations

import json
import sys
import time
from collections import Counter
from contextlib import contextmanager
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from support.live_server import LiveServer, live_server
from support.phone import wait_for_promise, words
from support.pictures import PHONE, chromium, context_for
from support.server_hand import ServerHand
from tepal.services.demo import MANAGER, PASSWORD
from tepal.services.server_acts import Act
from tepal.sync.ids import shared_id

if TYPE_CHECKING:
    from collections.abc import Iterator

    from playwright.sync_api import CDPSession, Page

THROTTLE = 4
N_TREATMENTS, N_PLANTS, N_MEASURED, N_LOOKS = 10, 4, 8, 6
N_WALKED = 10
N_PROFILED = 24  # tasks, and functions of each, that a profile speaks of
WALK_BAR_MS, OTHER_BAR_MS = 50, 100
TRIAL = "01970000-0000-7000-8000-000000000400"
CODES = tuple(f"height_{n}" for n in range(1, N_MEASURED + 1))
LAST = f"a{N_LOOKS}"

_OBSERVER = """(() => {
  window.longTasks = [];
  new PerformanceObserver((list) => {
    for (const one of list.getEntries()) window.longTasks.push(one.duration);
  }).observe({ type: 'longtask', buffered: true });
})()"""
# each digit and each Next is a task of its own, with a rest as a thumb gives it
_WALK = """async (values) => {
  const rest = () => new Promise((done) => setTimeout(done, 60));
  for (const value of values) {
    for (const key of value) {
      [...document.querySelectorAll('.pad-key')].find((one) => one.textContent.trim() === key).click();
      await rest();
    }
    document.querySelector('.pad-next').click();
    await rest();
  }
}"""
# a locator by role would compute the name of everything on the page, in a task of its own
_TAP = """(pattern) => [...document.querySelectorAll('button')]
  .find((one) => new RegExp(pattern).test(one.textContent)).click()"""
_TRACED = ["-*", "toplevel", "devtools.timeline", "disabled-by-default-devtools.timeline"]
_CALLS = {
    "FunctionCall", "FireAnimationFrame", "TimerFire", "RunMicrotasks", "EventDispatch", "Layout",
    "UpdateLayoutTree", "MajorGC", "MinorGC", "V8.GC_MARK_COMPACTOR", "ParseHTML", "XHRLoad",
}  # fmt: skip
_WAITING = """(store) => new Promise((good) => {
  const ask = indexedDB.open('tepal');
  ask.onsuccess = () => {
    const found = ask.result.transaction(store).objectStore(store).count();
    found.onsuccess = () => { good(found.result); ask.result.close(); };
  };
})"""


def trial_fields(n_blocks: int) -> dict[str, Any]:
    """Return the fields of the trial."""
    plots = [
        {
            "plot": (block - 1) * N_TREATMENTS + n,
            "code": f"{block}{n:02d}", "block": block, "row": block, "column": n,
            "treatment": 1 + (n * 7 + block * 3) % N_TREATMENTS,
        }
        for block in range(1, n_blocks + 1)
        for n in range(1, N_TREATMENTS + 1)
    ]  # fmt: skip
    return {
        "code": "T400", "title": "Many plots", "phase": "running", "day_zero_on": "2026-05-01",
        "design": "rcbd", "n_blocks": n_blocks, "plants_per_plot": N_PLANTS, "plots": plots,
        "rows": n_blocks, "columns": N_TREATMENTS, "control": 1,
        "treatments": [{"number": n, "name": f"rate {n}"} for n in range(1, N_TREATMENTS + 1)],
        "measurements": [
            {"code": code, "name": code, "type": "continuous", "unit": "cm", "per": "plant",
             "decimals": 1, "least": "0", "most": "99"}
            for code in CODES
        ],
        "assessments": [
            {"code": f"a{n}", "name": f"Look {n}", "sort": "assessment", "day": 7 * n,
             "measurements": list(CODES)}
            for n in range(1, N_LOOKS + 1)
        ],
    }  # fmt: skip


def observations(looks: range, plots: range, member: str) -> list[Act]:
    """Return an entry per plant with all its values."""
    return [
        Act(
            "observation", shared_id(TRIAL, f"a{look}", plot, plant), "create", member,
            {
                "trial": TRIAL, "assessment": f"a{look}", "plot": plot, "plant": plant,
                **{f"m_{c}": f"{10 + 2 * look + i + plant / 10:.1f}" for i, c in enumerate(CODES)},
            },
        )
        for look in looks
        for plot in plots
        for plant in range(1, N_PLANTS + 1)
    ]  # fmt: skip


class Watch:
    """Long tasks of a page's main thread, by phase; with a sampling profile where asked."""

    def __init__(self, page: Page, chrome: CDPSession, *, profiles: bool) -> None:
        self.page, self.chrome, self.profiles = page, chrome, profiles
        self.phases: dict[str, Phase] = {}
        if profiles:
            chrome.send("Profiler.enable")
            chrome.send("Profiler.setSamplingInterval", {"interval": 1000})

    @contextmanager
    def phase(self, name: str) -> Iterator[None]:
        """Watch what happens inside."""
        browser = self.page.context.browser
        assert browser is not None
        browser.start_tracing(page=self.page, categories=_TRACED)
        self.page.evaluate("() => { window.longTasks = []; }")
        if self.profiles:
            self.chrome.send("Profiler.start")
        at = time.monotonic()
        yield
        took = time.monotonic() - at
        self.page.wait_for_timeout(300)  # the observer hears of a task after it
        seen = self.page.evaluate("() => window.longTasks")
        profile = self.chrome.send("Profiler.stop")["profile"] if self.profiles else None
        events = json.loads(browser.stop_tracing())["traceEvents"]
        tasks = thread_tasks(events, profile)
        top = self_times(profile) if profile else []
        self.phases[name] = Phase(took, sorted(seen, reverse=True), tasks, top)

    def report(self) -> bool:
        """Print the phases; return whether the bars are kept, by thread time."""
        kept = True
        for name, phase in self.phases.items():
            bar = WALK_BAR_MS if name == "walk" else OTHER_BAR_MS
            over = [task for task in phase.tasks if task[0] > bar]
            kept &= not over
            print(
                f"{name}: {phase.took_s:.1f} s; thread time: longest"
                f" {', '.join(f'{ms:.0f}' for ms, _ in phase.tasks[:6])} ms, bar {bar} ms:"
                f" {'kept' if not over else f'MISSED by {len(over)}'}; wall: {len(phase.seen)} over"
                f" 50 ms, longest {', '.join(f'{ms:.0f}' for ms in phase.seen[:4]) or '-'} ms"
            )
            for ms, what in over[:6]:
                print(f"    {ms:7.0f} ms  {what}")
            for what, ms in phase.top:
                print(f"    {ms:7.0f} ms in all  {what}")
        return kept


@dataclass(frozen=True)
class Phase:
    """What a phase took; tasks as (thread ms, what ran longest in it), longest first."""

    took_s: float
    seen: list[float]
    tasks: list[tuple[float, str]]
    top: list[tuple[str, float]]


def thread_tasks(
    events: list[dict[str, Any]], profile: dict[str, Any] | None
) -> list[tuple[float, str]]:
    """Return the tasks of the page's main thread by the processor time they had.

    Other programs that share the processor lengthen a task's wall time, never this one. With a
    profile, what ran in a task is said by its functions; starting the profile is a task as well.
    """
    mains = {
        (e["pid"], e["tid"])
        for e in events
        if e["name"] == "thread_name" and e["args"]["name"] == "CrRendererMain"
    }
    tasks = [
        e for e in events
        if e["name"].endswith("RunTask") and "tdur" in e and (e["pid"], e["tid"]) in mains
    ]  # fmt: skip
    calls = [e for e in events if e["name"] in _CALLS and "tdur" in e]
    found, seen = [], set[tuple[int, int]]()
    for task in sorted(tasks, key=lambda e: -e["dur"])[:200]:
        end = task["ts"] + task["dur"]
        if any(at <= task["ts"] and end <= to for at, to in seen):
            continue  # a task is traced twice, by who runs it and by who queued it
        seen.add((task["ts"], end))
        inside = [
            e for e in calls
            if e["pid"] == task["pid"] and e["tid"] == task["tid"] and task["ts"] <= e["ts"] < end
        ]  # fmt: skip
        longest = sorted(inside, key=lambda e: -e["tdur"])[:3]
        what = "; ".join(said(e) for e in longest)
        if profile and len(found) < N_PROFILED:
            what += "\n" + "\n".join(within(profile, task["ts"], end))
        found.append((task["tdur"] / 1000, what))
    return sorted(found, reverse=True)[:40]


def said(event: dict[str, Any]) -> str:
    """Return an event of the timeline in a few words."""
    about = event["args"].get("data") or {}
    place = f"{about.get('functionName', '')} {str(about.get('url', '')).rsplit('/', 1)[-1]}"
    return f"{event['name']} {place}:{about.get('lineNumber', '')} {event['tdur'] / 1000:.0f} ms"


def within(profile: dict[str, Any], start_us: int, end_us: int) -> list[str]:
    """Return the functions that ran longest in a span of the profile, with all they called."""
    nodes = {node["id"]: node for node in profile["nodes"]}
    callers = {c: node["id"] for node in profile["nodes"] for c in node.get("children", ())}
    spent: Counter[str] = Counter()
    at = profile["startTime"]
    for node, delta in zip(profile["samples"], profile["timeDeltas"], strict=True):
        at += delta
        if not start_us <= at < end_us:
            continue
        names, one = set[str](), node
        while one is not None:
            names.add(named(nodes[one]))
            one = callers.get(one)
        for name in names:
            spent[name] += delta / 1000
    return [f"{'':20}{ms:5.0f} ms  {name}" for name, ms in spent.most_common(N_PROFILED)]


def named(node: dict[str, Any]) -> str:
    """Return a function of a profile as it is found in the sources."""
    call = node["callFrame"]
    file = call["url"].rsplit("/", 1)[-1].split("?")[0]
    return f"{call['functionName'] or '(anonymous)'} {file}:{call['lineNumber'] + 1}"


def self_times(profile: dict[str, Any]) -> list[tuple[str, float]]:
    """Return the functions that ran longest by themselves, ms."""
    names = {node["id"]: named(node) for node in profile["nodes"]}
    spent: Counter[str] = Counter()
    for node, delta in zip(profile["samples"], profile["timeDeltas"], strict=True):
        spent[names[node]] += delta / 1000
    idle = ("(idle)", "(program)", "(root)")
    return [(n, ms) for n, ms in spent.most_common(16) if not n.startswith(idle)]


def until_records(page: Page, n: int) -> None:
    """Wait until the phone has at least so many records."""
    wait_for_promise(page, f"async () => (await ({_WAITING})('records')) >= {n}", 400)


def until_sent(page: Page) -> None:
    """Wait until nothing waits on the phone."""
    wait_for_promise(page, f"async () => (await ({_WAITING})('outbox')) === 0", 240)


def run(server: LiveServer, n_blocks: int, *, profiles: bool) -> bool:
    """Do all phases and print them."""
    server.stop()
    hand = ServerHand(server)
    member = hand.members[0].id
    plots = range(1, n_blocks * N_TREATMENTS + 1)
    hand.save([Act("trial", TRIAL, "create", member, trial_fields(n_blocks))])
    rows = observations(range(1, N_LOOKS), plots, member)
    hand.save(rows)
    server.start()
    print(f"{len(plots)} plots, {len(rows)} observations on record, processor / {THROTTLE}")
    with chromium() as browser:
        context = context_for(browser, PHONE, with_worker=True)
        context.set_default_timeout(300_000)
        context.add_init_script(_OBSERVER)
        page = context.new_page()
        page.goto(f"{server.address}/sign-in")
        chrome = context.new_cdp_session(page)
        chrome.send("Emulation.setCPUThrottlingRate", {"rate": THROTTLE})
        watch = Watch(page, chrome, profiles=profiles)
        page.locator("input[autocomplete=username]").fill(MANAGER)
        page.locator("input[type=password]").fill(PASSWORD)
        page.wait_for_timeout(1000)
        with watch.phase("pull"):
            page.evaluate("() => document.querySelector('form .btn-go').click()")
            until_records(page, len(rows))
        with watch.phase("open trial"):
            go(page, f"/trials/{TRIAL}")
            page.wait_for_selector(f'a[href="/trials/{TRIAL}/values"]')
            page.wait_for_function(
                f"() => document.querySelectorAll('.list-row .chip, .list-row .state').length"
                f" >= {N_LOOKS}", polling=500, timeout=240_000,
            )  # fmt: skip
        if (
            page.locator(".bench-map").count() == 0
        ):  # a large map is drawn when somebody asks for it
            with watch.phase("open map"):
                page.evaluate(_TAP, words("trial.map_show").pattern)
                page.wait_for_selector(f".bench-map tr:nth-child({n_blocks})")
        with watch.phase("open pad"):
            go(page, f"/trials/{TRIAL}/measure/{LAST}")
            page.wait_for_selector(".pad-next", timeout=120_000)
        values = [f"{22 + i}.{plant % 10}" for plant in range(N_WALKED) for i in range(N_MEASURED)]
        with watch.phase("walk"):
            page.evaluate(_WALK, values)
        with watch.phase("send"):
            until_sent(page)
        with watch.phase("hear"):
            heard = plots[N_WALKED:][-25:]  # none of those that were walked
            hand.save(observations(range(N_LOOKS, N_LOOKS + 1), heard, member))
            page.evaluate("() => document.dispatchEvent(new Event('visibilitychange'))")
            until_records(page, len(rows) + N_WALKED + N_PLANTS * len(heard))
            page.wait_for_timeout(3000)  # the pad looks at news when the thumb rests
        context.close()
    return watch.report()


def go(page: Page, path: str) -> None:
    """Follow an address inside the app, as its links do."""
    page.evaluate(
        """(path) => { const a = document.createElement('a'); a.href = path;
        document.querySelector('main, body').append(a); a.click(); a.remove(); }""",
        path,
    )


def main() -> int:
    """Run all and return 1 where a bar is missed."""
    is_small = "--small" in sys.argv
    with live_server() as server:
        kept = run(server, 2 if is_small else 40, profiles="--profile" in sys.argv)
    return 0 if kept else 1


if __name__ == "__main__":
    sys.exit(main())
