"""Upgrade with full outboxes: what a phone of each released version held is read, whole.

`recorded/outbox_N.json` holds entry texts of form version N as a device sent them, and the records
that the server made of them then. They are never remade: a file that this version reads differently
is a broken promise. `python -m pytest` reads every one of them.
"""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tepal.services.authority import RoleAuthority, Session
from tepal.services.kind_rules import VALIDATOR
from tepal.sync.engine import apply
from tepal.sync.memory import MemoryJournal
from tepal.sync.prepared import prepare

RECORDED = sorted((Path(__file__).parent / "recorded").glob("outbox_*.json"))


@pytest.mark.parametrize("path", RECORDED, ids=lambda path: path.stem)
def test_outbox_of_a_released_version_is_taken_whole_and_means_the_same(path: Path) -> None:
    recorded = json.loads(path.read_text(encoding="utf-8"))
    journal = MemoryJournal("e")

    result = apply(
        prepare(recorded["entries"], VALIDATOR), device=recorded["device"], journal=journal,
        authority=RoleAuthority(Session(recorded["device"], "manager", is_server=True), {}),
        validator=VALIDATOR, received_at="2026-11-25T12:00:00.000Z",
    )  # fmt: skip

    assert {one.outcome for one in result.results} <= {"accepted", "merged"}
    assert result.numbers.ack == len(recorded["entries"])
    found = {f"{kind}:{record}": one for (kind, record), one in journal.table.items()}
    for key, was in recorded["records"].items():
        assert (found[key].state, found[key].fields) == (was["state"], was["fields"]), key
    assert len(found) == len(recorded["records"])


def test_there_is_a_recording_of_the_form_version_of_today() -> None:
    assert RECORDED
