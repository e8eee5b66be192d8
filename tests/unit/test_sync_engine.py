"""The push over the journal in memory: every entry counts once, nothing is dropped."""

from __future__ import annotations

import json
from contextlib import contextmanager
from typing import TYPE_CHECKING

import pytest

from support.pushing import ESTABLISHMENT, OTHER_DEVICE, SIGNATURE, Pusher, uuid
from tepal.services.kind_rules import VALIDATOR
from tepal.sync.entry import parse
from tepal.sync.ids import effect_id
from tepal.sync.memory import MemoryJournal
from tepal.sync.ports import StoreRefusedError
from tepal.sync.replay import compare, replay

if TYPE_CHECKING:
    from collections.abc import Iterator


def held_id(text: str) -> str:
    return effect_id(parse(text).digest, "held")


def conflict_id(text: str, field: str) -> str:
    return effect_id(parse(text).digest, field)


def outcome(result: object) -> tuple[str, str | None]:
    return result.outcome, result.reason  # type: ignore[attr-defined]


@pytest.fixture
def phone() -> Iterator[Pusher]:
    """A manager's phone with a grower's password session; the journal must replay at the end."""
    made = Pusher(signed_in="grower")
    yield made
    journal = made.journal
    again = replay(ESTABLISHMENT, journal.rows, VALIDATOR)
    assert again.faults == ()
    assert compare(again.records, journal.table) == ()
    assert (again.seq, again.hash) == (journal.head.seq, journal.head.hash)


def twin(phone: Pusher, **more: object) -> Pusher:
    """A second device on the same journal."""
    return Pusher(phone.journal, device=OTHER_DEVICE, first_id=0x2000, **more)


def test_same_entry_again_counts_once(phone: Pusher) -> None:
    text = phone.entry(fields={"note": "a"})
    first = phone.one(text)

    again = phone.push(text, text)

    assert [(r.seq, r.outcome, r.repeated) for r in again.results] == [
        (first.seq, "accepted", True)
    ] * 2
    assert phone.journal.head.seq == 1


def test_same_entry_twice_in_one_push_counts_once(phone: Pusher) -> None:
    text = phone.entry(fields={"note": "a"})

    phone.push(text, text)

    assert phone.journal.head.seq == 1


def test_same_id_with_other_bytes_is_quarantined(phone: Pusher) -> None:
    phone.do(fields={"note": "a"})
    other = phone.entry("change", fields={"note": ("a", "b")}, id=uuid(0x1001))

    assert outcome(phone.one(other)) == ("quarantined", "id_with_other_content")
    assert phone.fields() == {"note": "a"}
    assert phone.fields("held", held_id(other))["text"] == other


def test_number_used_twice_is_quarantined_and_whole(phone: Pusher) -> None:
    phone.do(fields={"note": "a"})
    phone.number = 0
    text = phone.entry("change", fields={"note": ("a", "b")})

    assert outcome(phone.one(text)) == ("quarantined", "number_used_twice")
    assert phone.journal.numbers(phone.session.device).ack == 1


def test_hole_is_named_and_filled_later(phone: Pusher) -> None:
    one, two, three = (phone.entry(fields={"note": "a"}, record=uuid(n)) for n in (1, 2, 3))
    assert phone.push(one, three).numbers == (phone.journal.numbers(phone.session.device))
    assert (phone.journal.tally[phone.session.device].ack) == 1
    assert phone.journal.tally[phone.session.device].beyond == ((3, 3),)

    assert phone.push(two).numbers.ack == 3


@pytest.mark.parametrize(
    ("change", "reason"),
    [
        ({"kind": "teapot"}, "kind_unknown"),
        ({"form_version": 99}, "form_newer_than_server"),
        ({"action": "decide"}, "action_not_for_kind"),
        ({"kind": "conflict"}, "action_not_for_kind"),
        ({"changes": {"note": {"was": None, "to": 5}}}, "invalid_fields"),
        ({"changes": {"teapot": {"was": None, "to": "x"}}}, "invalid_fields"),
        ({"changes": {"note": {"was": None, "to": "a\x00"}}}, "invalid_fields"),
        (
            {"changes": {"volume": {"was": None, "to": {"value": "١٢", "unit": "L"}}}},
            "invalid_fields",
        ),
        ({"number": 0}, "malformed"),
        ({"member": uuid(0xFF)}, "member_unknown"),
        ({"device": OTHER_DEVICE}, "device_not_of_session"),
        ({"action": "restore", "kind": "establishment"}, "not_permitted"),
    ],
)
def test_bad_entry_is_quarantined_whole_and_blocks_nobody(
    phone: Pusher, change: dict, reason: str
) -> None:
    bad = json.dumps(json.loads(phone.entry(fields={"note": "a"})) | change)
    good = phone.entry(fields={"note": "b"}, record=uuid(2))

    results = phone.push(bad, good).results

    assert outcome(results[0]) == ("quarantined", reason)
    assert outcome(results[1]) == ("accepted", None)
    held = phone.fields("held", effect_id(phone.journal.rows[0].digest, "held"))
    assert (held["text"], held["reason"], held["outcome"]) == (bad, reason, "quarantined")


@pytest.mark.parametrize("bad", ["\x00", "nonsense", "{", '{"number": 1}', "\ud800", "[" * 99_999])
def test_text_that_is_no_entry_is_kept(phone: Pusher, bad: str) -> None:
    assert phone.one(bad).outcome == "quarantined"
    assert phone.one(bad).repeated


def test_broken_entry_still_fills_its_number(phone: Pusher) -> None:
    text = json.dumps(json.loads(phone.entry()) | {"changes": 5})

    assert phone.push(text).numbers.ack == 1


def test_forged_device_takes_no_number_of_it(phone: Pusher) -> None:
    other = twin(phone)
    phone.push(other.entry(fields={"note": "forged"}))

    assert other.push(other.entry(fields={"note": "real"})).numbers.beyond == ((2, 2),)


def test_entry_that_came_in_a_file_is_acknowledged_to_its_own_device(phone: Pusher) -> None:
    other = twin(phone)
    text = other.entry(fields={"note": "a"})
    phone.push(text, quarantine_all="from_file")

    result = other.push(text)

    assert result.results[0].repeated
    assert result.numbers.ack == 1


def test_revoked_device_is_quarantined_and_acknowledged(phone: Pusher) -> None:
    result = phone.push(phone.entry(fields={"note": "a"}), quarantine_all="device_revoked")

    assert outcome(result.results[0]) == ("quarantined", "device_revoked")
    assert result.numbers.ack == 1


class PoisonJournal(MemoryJournal):
    """A store that refuses one record, as a database does with a row it cannot take."""

    def store(self, records) -> None:
        if any(record.fields.get("note") == "poison" for record in records):
            raise StoreRefusedError("sync.store_refused", "refused")
        super().store(records)

    @contextmanager
    def savepoint(self) -> Iterator[None]:
        rows, table, waiting = list(self.rows), dict(self.table), dict(self._waiting)
        try:
            yield
        except StoreRefusedError:
            self.rows, self.table, self._waiting = rows, table, waiting
            raise


def test_row_that_the_store_refuses_blocks_nobody() -> None:
    phone = Pusher(PoisonJournal(ESTABLISHMENT))
    texts = [
        phone.entry(fields={"note": "poison" if n == 50 else "fine"}, record=uuid(n))
        for n in range(1, 101)
    ]

    result = phone.push(*texts)

    assert [r.number for r in result.results if r.outcome == "quarantined"] == [50]
    assert result.results[49].reason == "store_refused"
    assert result.numbers.ack == 100
    assert replay(ESTABLISHMENT, phone.journal.rows, VALIDATOR).faults == ()


def test_change_before_its_create_is_released_later(phone: Pusher) -> None:
    late = phone.entry("change", fields={"note": ("a", "b")})
    later = phone.entry("change", fields={"note": ("b", "c")})
    assert outcome(phone.one(late)) == ("waiting", "record_missing")
    assert outcome(phone.one(later)) == ("waiting", "record_missing")

    phone.do(fields={"note": "a"})

    assert phone.fields() == {"note": "c"}
    assert phone.fields("held", held_id(late))["decision"] == "released"
    assert phone.fields("held", held_id(later))["decision"] == "released"


def test_change_before_its_create_in_one_push_is_released(phone: Pusher) -> None:
    phone.push(
        phone.entry("change", fields={"note": ("a", "b")}), phone.entry(fields={"note": "a"})
    )

    assert phone.fields() == {"note": "b"}


def test_released_change_can_clash(phone: Pusher) -> None:
    late = phone.entry("change", fields={"note": ("x", "b")})
    phone.one(late)

    phone.do(fields={"note": "a"})

    assert phone.fields() == {"note": "a"}
    assert phone.fields("conflict", conflict_id(late, "note"))["other"] == "b"


def test_late_change_of_a_signed_record_owes_its_reason(phone: Pusher) -> None:
    phone.do(fields={"note": "a", "signature": SIGNATURE})
    late = phone.entry("change", fields={"note": ("a", "b")})
    assert outcome(phone.one(late)) == ("waiting", "reason_owed")
    assert phone.fields()["note"] == "a"

    decided = phone.do(
        "decide", "held", record=held_id(late), fields={"decision": "accept"}, reason="misread"
    )

    assert outcome(decided) == ("accepted", None)
    assert phone.fields()["note"] == "b"
    assert phone.state() == "signed"


def test_accept_without_the_owed_reason_waits(phone: Pusher) -> None:
    phone.do(fields={"note": "a", "signature": SIGNATURE})
    late = phone.entry("change", fields={"note": ("a", "b")})
    phone.one(late)

    decided = phone.do("decide", "held", record=held_id(late), fields={"decision": "accept"})

    assert outcome(decided) == ("waiting", "reason_owed")
    assert "decision" not in phone.fields("held", held_id(late))


def test_void_stays_void(phone: Pusher) -> None:
    phone.do(fields={"note": "a"})
    phone.do("void", reason="entered twice")

    assert outcome(phone.do("change", fields={"note": ("a", "b")})) == ("waiting", "record_void")
    assert outcome(phone.do("create", fields={"note": "z"})) == ("waiting", "record_void")
    assert phone.state() == "void"
    assert phone.fields() == {"note": "a"}


@pytest.mark.parametrize(
    ("action", "kind", "fields", "reason"),
    [
        ("request", "application", {"note": ("a", "b")}, "asked_for"),
        ("propose", "house", {"name": "North"}, "proposed"),
        ("create", "house", {"name": "North"}, "needs_grower"),
        ("amend", "application", {"note": ("a", "b")}, "needs_grower"),
    ],
)
def test_what_an_operator_asks_waits(
    phone: Pusher, action: str, kind: str, fields: dict, reason: str
) -> None:
    phone.do(fields={"note": "a", "signature": SIGNATURE}, role="operator")

    text = phone.entry(action, kind, fields=fields, role="operator", reason="please")

    assert outcome(phone.one(text)) == ("waiting", reason)


def test_accepted_request_to_void_voids(phone: Pusher) -> None:
    phone.do(fields={"note": "a", "signature": SIGNATURE}, role="operator")
    text = phone.entry("request", role="operator", reason="entered twice")
    phone.one(text)

    phone.do("decide", "held", record=held_id(text), fields={"decision": "accept"})

    assert phone.state() == "void"


def test_accepted_proposal_to_change_an_open_record_owes_no_reason(phone: Pusher) -> None:
    phone.do("create", "house", fields={"name": "North"})
    text = phone.entry("propose", "house", fields={"name": ("North", "N 1")}, role="operator")
    phone.one(text)

    decided = phone.do("decide", "held", record=held_id(text), fields={"decision": "accept"})

    assert outcome(decided) == ("accepted", None)
    assert phone.fields("house") == {"name": "N 1"}


def test_refused_request_changes_nothing(phone: Pusher) -> None:
    phone.do(fields={"note": "a", "signature": SIGNATURE}, role="operator")
    text = phone.entry("request", fields={"note": ("a", "b")}, role="operator", reason="please")
    phone.one(text)

    phone.do("decide", "held", record=held_id(text), fields={"decision": "refuse"})

    assert phone.fields()["note"] == "a"
    assert phone.fields("held", held_id(text))["decision"] == "refuse"


def _proposed_split(phone: Pusher) -> tuple[str, str]:
    """A technician's split of lot 1: the new lot, and the count that is left."""
    phone.do("create", "lot", record=uuid(1), fields={"code": "P-1", "n_containers": 100})
    together = {"group": uuid(900), "role": "technician"}
    made = phone.entry(
        "propose", "lot", record=uuid(2), fields={"code": "P-2", "n_containers": 40}, **together
    )
    changed = phone.entry(
        "propose", "lot", record=uuid(1), fields={"n_containers": (100, 60)}, **together
    )
    phone.push(made, changed)
    return changed, made


def test_one_answer_accepts_all_entries_of_a_group(phone: Pusher) -> None:
    changed, made = _proposed_split(phone)

    decided = phone.do("decide", "held", record=held_id(made), fields={"decision": "accept"})

    assert outcome(decided) == ("accepted", None)
    assert phone.fields("lot")["n_containers"] == 60
    assert phone.fields("lot", uuid(2))["code"] == "P-2"
    assert [phone.fields("held", held_id(one))["decision"] for one in (changed, made)] == [
        "accept", "accept",
    ]  # fmt: skip


def test_one_answer_refuses_all_entries_of_a_group(phone: Pusher) -> None:
    changed, made = _proposed_split(phone)

    phone.do(
        "decide", "held", record=held_id(changed), fields={"decision": "refuse"}, reason="not yet"
    )

    assert phone.fields("lot")["n_containers"] == 100
    assert ("lot", uuid(2)) not in phone.journal.table
    assert [phone.fields("held", held_id(one))["decision_reason"] for one in (changed, made)] == [
        "not yet", "not yet",
    ]  # fmt: skip


def test_group_of_which_one_entry_cannot_take_effect_stays_whole(phone: Pusher) -> None:
    changed, made = _proposed_split(phone)
    phone.do("void", "lot", record=uuid(1), reason="thrown away")

    decided = phone.do("decide", "held", record=held_id(made), fields={"decision": "accept"})

    assert outcome(decided)[0] == "waiting"
    assert ("lot", uuid(2)) not in phone.journal.table
    assert not any("decision" in phone.fields("held", held_id(one)) for one in (changed, made))


def test_password_act_without_the_session_waits(phone: Pusher) -> None:
    phone.do(fields={"note": "a", "signature": SIGNATURE}, role="operator")
    other = twin(phone)  # nobody has signed in on it
    text = other.entry("amend", fields={"note": ("a", "b")}, reason="misread")
    assert outcome(other.one(text)) == ("waiting", "needs_password")

    phone.do("decide", "held", record=held_id(text), fields={"decision": "accept"})

    assert phone.fields()["note"] == "b"


def test_password_of_another_member_does_not_do(phone: Pusher) -> None:
    phone.do(fields={"note": "a", "signature": SIGNATURE}, role="operator")

    result = phone.do("amend", fields={"note": ("a", "b")}, reason="x", role="manager")

    assert outcome(result) == ("waiting", "needs_password")


def test_low_device_lowers_a_high_member(phone: Pusher) -> None:
    tablet = twin(phone, ceiling="display", signed_in="manager")

    assert outcome(tablet.do(role="manager")) == ("quarantined", "not_permitted")


def two_values(phone: Pusher) -> str:
    """Bring about a conflict between b (stays) and c; return its id."""
    phone.do(fields={"note": "a"})
    phone.do("change", fields={"note": ("a", "b")})
    clash = phone.entry("change", fields={"note": ("a", "c")})
    assert outcome(phone.one(clash)) == ("conflicted", None)
    return conflict_id(clash, "note")


def test_conflict_keeps_both_values(phone: Pusher) -> None:
    case = phone.fields("conflict", two_values(phone))

    assert (case["current"], case["other"], case["was"]) == ("b", "c", "a")
    assert phone.fields()["note"] == "b"


def test_decided_conflict_takes_the_chosen_value(phone: Pusher) -> None:
    case = two_values(phone)

    phone.do("decide", "conflict", record=case, fields={"decision": {"value": "c", "over": "b"}})

    assert phone.fields()["note"] == "c"
    assert phone.fields("conflict", case)["decision"] == {"value": "c", "over": "b"}


def test_decision_over_a_newer_value_makes_a_new_conflict(phone: Pusher) -> None:
    case = two_values(phone)
    phone.do("change", fields={"note": ("b", "d")})
    decision = phone.entry(
        "decide", "conflict", record=case, fields={"decision": {"value": "c", "over": "b"}}
    )

    phone.one(decision)

    assert phone.fields()["note"] == "d"
    new = phone.fields("conflict", conflict_id(decision, "note"))
    assert (new["current"], new["other"]) == ("d", "c")


def test_second_decision_changes_nothing(phone: Pusher) -> None:
    case = two_values(phone)
    fields = {"decision": {"value": "c", "over": "b"}}
    phone.do("decide", "conflict", record=case, fields=fields)

    result = phone.do(
        "decide", "conflict", record=case, fields={"decision": {"value": "b", "over": "c"}}
    )

    assert outcome(result) == ("merged", None)
    assert phone.fields()["note"] == "c"


@pytest.mark.parametrize("to", ["accept", {"value": "c"}, {"value": 5, "over": "b"}, None])
def test_decision_of_the_wrong_shape_is_quarantined(phone: Pusher, to: object) -> None:
    case = two_values(phone)

    result = phone.do("decide", "conflict", record=case, fields={"decision": to})

    assert outcome(result) == ("quarantined", "invalid_fields")


def test_an_operators_decision_waits_for_a_grower(phone: Pusher) -> None:
    case = two_values(phone)
    fields = {"decision": {"value": "c", "over": "b"}}

    result = phone.do("decide", "conflict", record=case, fields=fields, role="operator")

    assert outcome(result) == ("waiting", "needs_grower")


def test_decision_that_comes_before_its_conflict_takes_effect_later(phone: Pusher) -> None:
    """After a restore the office may send its decision before the phone sends the clash again."""
    clash = phone.entry("change", fields={"note": ("a", "c")})
    fields = {"decision": {"value": "c", "over": "b"}}
    result = phone.do("decide", "conflict", record=conflict_id(clash, "note"), fields=fields)
    assert outcome(result) == ("waiting", "record_missing")

    phone.do(fields={"note": "b"})
    phone.one(clash)

    assert phone.fields()["note"] == "c"
    assert phone.fields("conflict", conflict_id(clash, "note"))["decision"] == fields["decision"]


def test_decision_that_comes_before_its_request_takes_effect_later(phone: Pusher) -> None:
    phone.do(fields={"note": "a", "signature": SIGNATURE}, role="operator")
    text = phone.entry("request", fields={"note": ("a", "b")}, role="operator", reason="please")
    phone.do("decide", "held", record=held_id(text), fields={"decision": "accept"})

    phone.one(text)

    assert phone.fields()["note"] == "b"


def test_two_texts_with_one_id_accepted_keep_both_conflicts(phone: Pusher) -> None:
    phone.do(fields={"note": "a"})
    phone.do("change", fields={"note": ("a", "b")})
    texts = [
        phone.entry("change", fields={"note": ("a", value)}, id=uuid(0x1001)) for value in "cd"
    ]
    for text in texts:
        phone.one(text)
        phone.do("decide", "held", record=held_id(text), fields={"decision": "accept"})

    assert [phone.fields("conflict", conflict_id(t, "note"))["other"] for t in texts] == ["c", "d"]
