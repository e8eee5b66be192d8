"""Nothing is lost, doubled or overwritten: random lives of three phones and a server.

The phones are the shipped web/app/sync modules in Node; the server is the real app. Every failing
run prints its steps; keep a failing one as a named test beside tests/integration/test_exchange.py.
"""

from __future__ import annotations

import json
import sys
from typing import TYPE_CHECKING, Any

import pytest
from hypothesis import HealthCheck, Phase, settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    initialize,
    invariant,
    rule,
    run_state_machine_as_test,
)

from support.devices import DeviceKilledError
from support.simulation import Line, World
from tepal.services import exchange as exchange_service
from tepal.sync.ports import Numbers
from tepal.sync.replay import judge_anchor

if TYPE_CHECKING:
    from collections.abc import Iterator

    from support.simulation import Phone

pytestmark = [pytest.mark.node, pytest.mark.timeout(1800)]

FAULTS = (
    "none", "none", "request_lost", "reply_lost", "twice", "late_first", "not_our_server",
    "old_reply",
)  # fmt: skip
REASONS = {
    "asked_for", "proposed", "needs_grower", "needs_password", "record_missing", "record_void",
    "reason_owed", "not_permitted",
}  # fmt: skip
FIELDS = {
    "application": {
        "note": ("dry spots", "second pass", "nozzle changed", None),
        "volume": ({"value": "12", "unit": "L"}, {"value": "12.5", "unit": "L"}, None),
        "stopped_early": (True, False, None),
    },
    "house": {"name": ("North", "South", "East"), "note": ("vent stuck", "repaired", None)},
}
MOST_RECORDS = 5  # few, so that phones meet on the same field
MOST_VOIDS = 2  # few, since nothing more happens to a void record
KINDS = st.sampled_from(sorted(FIELDS))
PHONE = st.integers(0, 2)
PICK = st.integers(0, 999)


class SyncMachine(RuleBasedStateMachine):
    """One life of the book. The world is shared; each run starts from its first state."""

    world: World
    n_runs = 0
    n_steps = 0

    def __init__(self) -> None:
        super().__init__()
        self.shown: list[dict[str, str]] = [{}, {}, {}]  # entry id -> text, ever told as saved
        self.sent: list[list[dict[str, Any]]] = [[], [], []]
        self.replies: list[list[dict[str, Any]]] = [[], [], []]
        self.stale = [False, False, False]  # not exchanged since a restore
        self.anchors: dict[int, set[str]] = {}
        self.backups: list[Any] = []
        self.n_restores = 0
        self.n_records = self.n_voids = 0
        self.dumps: list[dict[str, list[dict[str, Any]]]] = []

    @initialize()
    def start(self) -> None:
        self.world.reset()
        self.dumps = [self.dump(n) for n in range(3)]
        self.create(1, "application", 0)
        self.create(1, "house", 1)
        for n in (1, 0, 2):
            self.exchange_until_quiet(n)
        self.backup()

    # -- what the phones know

    def phone(self, n: int) -> Phone:
        return self.world.phones[n]

    def dump(self, n: int) -> dict[str, list[dict[str, Any]]]:
        return self.world.devices.do("dump", self.phone(n).name)

    def rows(self, n: int, kind: str) -> list[dict[str, Any]]:
        found = [row for row in self.dumps[n]["records"] if row["kind"] == kind and row["shown"]]
        return sorted(found, key=lambda row: row["id"])

    def choose(self, n: int, kind: str, pick: int) -> dict[str, Any] | None:
        rows = self.rows(n, kind)
        return rows[pick % len(rows)] if rows else None

    def new_id(self) -> str:
        self.n_records += 1
        return f"{self.n_records:08x}-0000-7000-8000-{self.n_records:012x}"

    # -- acts

    def save(self, n: int, *acts: dict[str, Any], pick: int = 0) -> None:
        members = self.phone(n).members
        whole = [
            {"member": members[pick % len(members)], "form_version": 1, "reason": None, **one}
            for one in acts
        ]
        for entry in self.world.devices.do("save", self.phone(n).name, acts=whole):
            self.shown[n][entry["id"]] = entry["text"]
        self.dumps[n] = self.dump(n)
        SyncMachine.n_steps += 1

    def edit_of(self, row: dict[str, Any], pick: int, reason: str | None) -> dict[str, Any]:
        names = sorted(FIELDS[row["kind"]])
        name = names[pick % len(names)]
        was = row["shown"]["fields"].get(name)
        values = [value for value in FIELDS[row["kind"]][name] if value != was]
        to = values[pick // 7 % len(values)]
        return {
            "kind": row["kind"], "record": row["id"], "action": "amend" if reason else "change",
            "reason": reason, "changes": {name: {"was": was, "to": to}},
        }  # fmt: skip

    @rule(n=PHONE, kind=KINDS, pick=PICK)
    def create(self, n: int, kind: str, pick: int) -> None:
        if self.n_records >= MOST_RECORDS:
            row = self.choose(n, kind, pick)
            if row is not None:
                self.save(n, self.edit_of(row, pick, None), pick=pick)
            return
        fields = {name: values[pick % len(values)] for name, values in FIELDS[kind].items()}
        changes = {k: {"was": None, "to": v} for k, v in fields.items() if v is not None}
        action = "propose" if kind == "house" and pick % 3 == 0 else "create"
        self.save(
            n, {"kind": kind, "record": self.new_id(), "action": action, "changes": changes},
            pick=pick,
        )  # fmt: skip

    @rule(n=PHONE, kind=KINDS, pick=PICK, twice=st.booleans())
    def edit(self, n: int, kind: str, pick: int, twice: bool) -> None:
        row = self.choose(n, kind, pick)
        if row is None:
            return self.create(n, kind, pick)
        self.save(n, self.edit_of(row, pick, None), pick=pick)
        if twice:  # before the first is acknowledged
            row = next(r for r in self.dumps[n]["records"] if r["key"] == row["key"])
            self.save(n, self.edit_of(row, pick + 7, None), pick=pick)
        return None

    @rule(n=PHONE, pick=PICK)
    def sign(self, n: int, pick: int) -> None:
        row = self.choose(n, "application", pick)
        if row is None:
            return self.create(n, "application", pick)
        at = {"local": "2026-05-12T10:00:00", "offset_min": -240, "zone": "Etc/UTC"}
        signature = {"member": self.phone(n).members[0], "name": "Olek", "method": "pin", "at": at}
        was = row["shown"]["fields"].get("signature")
        changes = {"signature": {"was": was, "to": signature}}
        act = {"kind": "application", "record": row["id"], "action": "change", "changes": changes}
        return self.save(n, act)

    @rule(n=PHONE, kind=KINDS, pick=PICK)
    def amend(self, n: int, kind: str, pick: int) -> None:
        row = self.choose(n, kind, pick)
        if row is not None:
            self.save(n, self.edit_of(row, pick, "misread the flask"), pick=pick)

    @rule(n=PHONE, kind=KINDS, pick=PICK)
    def void(self, n: int, kind: str, pick: int) -> None:
        row = self.choose(n, kind, pick)
        if row is not None and self.n_voids < MOST_VOIDS:
            self.n_voids += 1
            reason = None if pick % 5 == 0 else "entered twice"
            act = {
                "kind": kind,
                "record": row["id"],
                "action": "void",
                "changes": {},
                "reason": reason,
            }
            self.save(n, act, pick=pick)

    @rule(n=PHONE, kind=KINDS, pick=PICK)
    def ask(self, n: int, kind: str, pick: int) -> None:
        row = self.choose(n, kind, pick)
        if row is not None:
            edit = self.edit_of(row, pick, "please")
            if pick % 4 == 0:
                edit["changes"] = {}
            self.save(n, {**edit, "action": "request"}, pick=pick)

    @rule(pick=PICK)
    def decide(self, pick: int) -> None:
        open_cases = self.open_cases()
        if open_cases:
            self.decide_case(open_cases[pick % len(open_cases)], pick)

    def open_cases(self) -> list[dict[str, Any]]:
        rows = self.rows(1, "conflict") + self.rows(1, "held")
        return [row for row in rows if row["shown"]["fields"].get("decision") is None]

    def decide_case(self, row: dict[str, Any], pick: int) -> None:
        case = row["shown"]["fields"]
        if row["kind"] == "held":
            to: Any = "accept" if pick % 2 else "refuse"
        else:
            key = f"{case['of_kind']}/{case['of_id']}"
            seen = next((r for r in self.dumps[1]["records"] if r["key"] == key), None)
            over = seen["shown"]["fields"].get(case["field"]) if seen and seen["shown"] else None
            to = {"value": case.get("other") if pick % 2 else case.get("current"), "over": over}
        changes = {"decision": {"was": None, "to": to}}
        act = {"kind": row["kind"], "record": row["id"], "action": "decide", "changes": changes}
        self.save(1, {**act, "reason": "looked at both" if pick % 3 else None})

    # -- the network

    def round(self, n: int, fault: str, pick: int = 0) -> dict[str, Any] | None:
        """Run one round of the shipped exchange; None when the device died in it."""
        line = Line(self.world, self.phone(n), fault, self.sent[n], self.replies[n], pick)
        SyncMachine.n_steps += 1
        try:
            result = self.world.devices.do("exchange", self.phone(n).name, transport=line)
        except DeviceKilledError:
            return None
        finally:
            self.dumps[n] = self.dump(n)
            for reply in self.replies[n][-1:]:
                self.anchors.setdefault(reply["head"]["seq"], set()).add(reply["head"]["hash"])
        if result["ok"]:
            self.stale[n] = False
        return result

    @rule(n=PHONE, fault=st.sampled_from(FAULTS), pick=PICK)
    def exchange(self, n: int, fault: str, pick: int) -> None:
        is_answer = fault in ("none", "twice", "late_first")
        is_answer = is_answer or (fault == "old_reply" and not self.replies[n])
        before = self.dumps[n]
        result = self.round(n, fault, pick)
        assert result is not None
        assert result["ok"] is is_answer, result
        if not is_answer:
            assert self.dumps[n] == before

    @rule(n=PHONE, strokes=st.integers(0, 25))
    def exchange_and_die(self, n: int, strokes: int) -> None:
        """The device dies between the reply and the end of the transaction that stores it."""
        before = self.dumps[n]
        self.world.devices.do("die_after", self.phone(n).name, strokes=strokes)
        result = self.round(n, "none")
        self.world.devices.do("die_after", self.phone(n).name, strokes=None)
        assert result is None or result["ok"]
        if result is None:
            assert self.dumps[n] == before

    @rule(n=PHONE, pick=PICK)
    def exchange_while_saving(self, n: int, pick: int) -> None:
        """A person saves while the round runs: the new entry was not in the request."""
        line = Line(self.world, self.phone(n), "none", self.sent[n], self.replies[n], pick)

        def saving(device: str, body: dict[str, Any]) -> dict[str, Any]:
            answer = line(device, body)
            self.edit(n, "application", pick, twice=True)
            return answer

        result = self.world.devices.do("exchange", self.phone(n).name, transport=saving)
        self.dumps[n] = self.dump(n)
        assert result["ok"], result
        self.stale[n] = False

    @rule(n=PHONE)
    def exchange_until_quiet(self, n: int) -> None:
        for _ in range(12):
            result = self.round(n, "none")
            assert result is not None
            assert result["ok"], result
            if not result["more"] and result["left"] == 0 and result["resent"] == 0:
                return self.check_same(n)
        raise AssertionError("the phone does not come to rest")

    @rule(n=PHONE, pick=PICK)
    def deliver_late(self, n: int, pick: int) -> None:
        """An earlier request arrives once more, long after; its reply reaches nobody."""
        if not self.sent[n]:
            return
        body = self.sent[n][pick % len(self.sent[n])]
        before = self.world.view()
        known = {row.text for row in before.rows}
        self.world.post(self.phone(n), body)
        if known.issuperset(body["entries"]):
            assert self.world.view().head == before.head

    # -- disasters

    @rule()
    def backup(self) -> None:
        self.backups.append(self.world.dump())

    @rule(pick=PICK, told=st.booleans())
    def restore(self, pick: int, told: bool) -> None:
        """The server is put back to a backup; whoever does it tells the journal, or forgets to."""
        if not self.backups:
            return
        lost = self.world.view().head
        self.world.put_back(self.backups[pick % len(self.backups)])
        if told:
            self.world.mark_restored(lost)
        self.n_restores += 1 if told else 99
        self.stale = [True, True, True]

    @rule(n=PHONE, by_ms=st.sampled_from((-86_400_000, -3_600_000, 5_000, 86_400_000 * 400)))
    def clock_jumps(self, n: int, by_ms: int) -> None:
        self.world.devices.do("clock", self.phone(n).name, by_ms=by_ms)

    # -- what must always be true

    def check_same(self, n: int) -> None:
        """A quiet phone shows what the server has: no pull skipped a record."""
        shown = {
            row["key"]: {**row["shown"], "kind": row["kind"], "id": row["id"]}
            for row in self.dumps[n]["records"]
        }
        assert shown == self.world.view().records
        assert all(row["shown"] == row["confirmed"] for row in self.dumps[n]["records"])

    @invariant()
    def saved_entries_are_somewhere(self) -> None:
        if not self.dumps:
            return
        journal = {row.text for row in self.world.view().rows}
        for n, told in enumerate(self.shown):
            outbox = {entry["text"] for entry in self.dumps[n]["outbox"]}
            sent = {entry["text"] for entry in self.dumps[n]["sent"]}
            assert not outbox & sent
            # a phone that has not heard of a restore still trusts its copies of what was sent
            safe = outbox | journal | (sent if self.stale[n] else set())
            assert safe.issuperset(told.values())
            assert (outbox | sent).issuperset(told.values())

    @invariant()
    def each_entry_counts_once(self) -> None:
        rows = self.world.view().rows if self.dumps else ()
        ids = [row.entry_id for row in rows if row.entry_id is not None]
        assert len(ids) == len(set(ids))
        assert len({row.digest for row in rows}) == len(rows)

    @invariant()
    def numbers_have_no_hole_below_the_ack(self) -> None:
        if not self.dumps:
            return
        view = self.world.view()
        for phone in self.world.phones:
            numbers = view.tallies.get(phone.device, Numbers(0))
            held = {row.number for row in view.rows if row.device == phone.device}
            ranges = ((1, numbers.ack), *numbers.beyond)
            assert held - {None} == {n for a, b in ranges for n in range(a, b + 1)}

    @invariant()
    def the_journal_explains_every_table(self) -> None:
        if self.dumps:
            assert self.world.view().verified.faults == ()

    @invariant()
    def whatever_is_held_says_why(self) -> None:
        for record in self.world.view().records.values() if self.dumps else ():
            if record["kind"] == "held":
                assert record["fields"]["reason"] in REASONS
                assert json.loads(record["fields"]["text"])["id"] == record["fields"]["entry"]

    # -- the end: everybody comes home

    def teardown(self) -> None:
        if sys.exc_info()[0] is not None or not self.dumps:
            return
        for _ in range(12):
            for n in (0, 2, 1):
                self.exchange_until_quiet(n)
            cases = self.open_cases()
            if not cases:
                break
            for place, case in enumerate(cases):
                # what cannot be accepted waits on, and is refused the second time
                tried = case["shown"]["fields"].get("action") == "decide" or _ > 2
                self.decide_case(case, 1 + place % 2 + 6 * place if not tried else 4)
        assert self.open_cases() == []
        for n in (0, 2, 1):
            self.exchange_until_quiet(n)
        self.check_invariants_once_more()
        self.no_value_vanished()
        self.replay_every_request()
        if self.n_restores <= 1:
            self.judge_every_anchor()
        SyncMachine.n_runs += 1

    def check_invariants_once_more(self) -> None:
        self.saved_entries_are_somewhere()
        self.each_entry_counts_once()
        self.numbers_have_no_hole_below_the_ack()
        self.the_journal_explains_every_table()
        self.whatever_is_held_says_why()
        for n in range(3):
            self.check_same(n)
            assert self.dumps[n]["outbox"] == []

    def no_value_vanished(self) -> None:
        """A value that took effect is gone only where somebody saw it, or both are on record."""
        view = self.world.view()
        wrote: list[tuple[str, str, Any]] = []
        seen: list[tuple[str, str, Any]] = []
        for row in view.rows:
            if row.outcome not in ("accepted", "merged", "conflicted"):
                continue
            for name, change in json.loads(row.text)["changes"].items():
                if row.action in ("create", "change", "amend"):
                    wrote.append((f"{row.kind}/{row.record}", name, change["to"]))
                seen.append((f"{row.kind}/{row.record}", name, change["was"]))
        for record in view.records.values():
            case = record["fields"]
            if record["kind"] == "conflict":
                of = f"{case['of_kind']}/{case['of_id']}", case["field"]
                seen += [(*of, case.get("current")), (*of, case.get("other"))]
                seen.append((*of, (case.get("decision") or {}).get("over")))
            elif record["kind"] == "held" and case.get("action") != "decide":
                for name, change in json.loads(case["text"])["changes"].items():
                    seen.append((f"{case['of_kind']}/{case['of_id']}", name, change["was"]))
        for key, name, value in wrote:
            if key in view.records and view.records[key]["fields"].get(name) != value:
                assert (key, name, value) in seen

    def replay_every_request(self) -> None:
        before = self.world.dump()
        for n in range(3):
            # of the rounds that brought nothing the last will do: each of them only reads
            for body in [one for one in self.sent[n] if one["entries"]] + self.sent[n][-1:]:
                assert self.world.post(self.phone(n), body)["ok"]
        assert self.world.dump() == before

    def judge_every_anchor(self) -> None:
        """What the phones witnessed is still in the chain, or was told to be lost."""
        view = self.world.view()
        hashes = {row.seq: row.hash for row in view.rows}
        for seq, seen in self.anchors.items():
            for text in seen:
                word = judge_anchor(seq, text, hashes.get(seq), view.verified.lost)
                assert word in ("ok", "lost_in_restore"), (seq, word)


def run(world: World, *, n_runs: int, n_steps: int) -> None:
    """Run the machine and fail when fewer lives were lived than promised."""
    SyncMachine.world = world
    SyncMachine.n_runs = SyncMachine.n_steps = 0
    promised = settings(
        max_examples=n_runs,
        stateful_step_count=n_steps,
        derandomize=True,
        database=None,
        deadline=None,
        print_blob=True,
        report_multiple_bugs=False,
        phases=(Phase.generate, Phase.shrink),
        suppress_health_check=list(HealthCheck),
    )
    run_state_machine_as_test(SyncMachine, settings=promised)
    assert SyncMachine.n_runs >= n_runs
    assert SyncMachine.n_steps >= n_runs * n_steps // 2, "most steps did nothing"


@pytest.fixture
def world(
    tmp_path_factory: pytest.TempPathFactory, database_url: str, monkeypatch: pytest.MonkeyPatch
) -> Iterator[World]:
    # pages of 7 records, so that a pull takes several rounds; no setting exists for it
    monkeypatch.setattr(exchange_service, "MAX_RECORDS", 7)
    made = World(tmp_path_factory.mktemp("world"), database_url)
    yield made
    made.close()


@pytest.mark.full
def test_phones_and_server_agree_in_the_end(world: World) -> None:
    run(world, n_runs=100, n_steps=50)
