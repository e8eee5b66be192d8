"""What a phone offers is what the server lets: may.js against the access table of authority.py."""

from __future__ import annotations

import itertools

from support.node_calls import call_js
from tepal.services import authority
from tepal.services.authority import ASK, NO, PASSWORD, TABLE, YES

# The acts that the pages ask about; the others are judged by the server alone.
ACTS = ("amend_own", "amend_other", "registers", "reopen", "decide", "admin")
ROLES = ("operator", "technician", "grower", "manager", "inspector", "display", "", None)


def test_every_act_role_and_ceiling_has_the_servers_word() -> None:
    cases = list(itertools.product(ACTS, ROLES, ROLES))
    sessions = [
        [{"member": role and {"role": role}, "device": ceiling and {"ceiling": ceiling}}, act]
        for act, role, ceiling in cases
    ]

    said = call_js("pages/may.js", "may", sessions)

    wanted = [
        authority.lower(authority.word_of(act, role or ""), authority.word_of(act, ceiling or ""))
        for act, role, ceiling in cases
    ]
    differing = [
        (case, word["value"], right)
        for case, word, right in zip(cases, said, wanted, strict=True)
        if word["value"] != right
    ]
    assert differing == []


def test_every_act_with_a_word_a_phone_can_show_is_in_its_table_or_named_here() -> None:
    server_only = {
        "create_field",  # every role that captures may: nothing to ask
        "trial_authority", "read", "central", "papers",
    }  # fmt: skip
    assert set(ACTS) | server_only == set(TABLE)
    for act in ACTS:
        assert set(TABLE[act].values()) <= {YES, PASSWORD, ASK, NO}
