"""Every route x who asks, and every kind x action x role, against the product's access table.

`ACCESS` is a copy of access.md, written by hand: it imports nothing from the code it judges. A
route or a kind that is not in the copies fails the first two tests until somebody says who may.
"""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any, Final

import pytest

from support.book import PASSWORD, SAME_ORIGIN, Book, Desk
from tepal.forms.kinds import KINDS
from tepal.sync.entry import digest_of
from tepal.sync.ids import effect_id

if TYPE_CHECKING:
    from collections.abc import Iterator

ROLES: Final = ("operator", "technician", "grower", "manager", "inspector", "display")

# access.md, line by line; "own" and "trials" are parts of a reading
ACCESS: Final[dict[str, dict[str, str]]] = {
    row: dict(zip(ROLES, words.split(), strict=True))
    for row, words in {
        #               operator technician grower manager inspector display
        "read":          "yes yes yes yes yes no",
        "central":       "yes yes yes yes yes yes",
        "create":        "yes yes yes yes no no",
        "amend own":     "ask ask yes yes no no",
        "amend other":   "ask ask password password no no",
        "decide":        "ask ask password password no no",
        "registers":     "ask ask yes yes no no",
        # "on file and named by a grower in a password session"
        "trial authority": "ask ask password password no no",
        "reopen":        "yes no yes yes no no",
        "admin":         "no no no password no no",
        "papers":        "own trials yes yes yes no",
    }.items()
}  # fmt: skip

# kind -> the row for its create and change; what is signed has the amend rows besides
KIND_ROWS: Final = {
    "establishment": "admin", "member": "admin", "device": "admin",
    "house": "registers", "bay": "registers", "bench": "registers", "lot": "registers",
    "lot_event": "registers", "supplier_treatment": "registers", "certificate": "registers",
    "product": "registers", "label_file": "registers", "permit": "trial authority",
    "batch": "registers", "stock_count": "registers", "tank_mix": "registers",
    "incompatible_pair": "registers", "jar_test": "registers", "instrument": "registers",
    "sprayer": "registers", "program": "registers", "spray_order": "registers",
    "trial": "registers", "exclusion": "registers",
    "calibration": "create", "order_outcome": "create", "application": "create",
    "early_entry": "create", "photo": "create", "voice_note": "create", "assessment": "create",
    "observation": "create", "restriction": "restriction",
}  # fmt: skip

# Who asks, besides the five roles in a password session on a device of their own ceiling:
# "display": a wall tablet. "tablet+manager": a manager's password session on a wall tablet.
# "pin": a shared phone without a password session. access.md gives a device with nobody signed in
# what the tablet has; whether somebody picked a name there by PIN only the phone knows, so here
# the phone's ceiling reads, and nothing that needs a person is done.
ASKERS: Final = (*ROLES, "tablet+manager", "pin", "stranger", "revoked")

ALL: Final = dict.fromkeys(ASKERS, "ok")
ON_DEVICES: Final = {**ALL, "stranger": "device", "revoked": "revoked"}
ROWS: Final[dict[str, dict[str, str]]] = {
    "open": ALL,
    "device": ON_DEVICES,
    "device, revoked too": {**ON_DEVICES, "revoked": "ok"},
    "read": {**ON_DEVICES, "display": "no", "tablet+manager": "no"},
    "central": ON_DEVICES,
    "read, by name": {**ON_DEVICES, "display": "no", "tablet+manager": "no", "pin": "person"},
    "create": {**ON_DEVICES, "inspector": "no", "display": "no", "tablet+manager": "no"},
    "papers": {
        **ON_DEVICES, "technician": "no", "display": "no", "tablet+manager": "no",
        "pin": "person",
    },
    "growers": {
        **ON_DEVICES, "operator": "no", "technician": "no", "inspector": "no", "display": "no",
        "tablet+manager": "no", "pin": "person",
    },
    "trial papers": {
        **ON_DEVICES, "operator": "no", "display": "no", "tablet+manager": "no", "pin": "person",
    },
    "person": {**ON_DEVICES, "display": "person", "pin": "person"},
    "admin": {
        **dict.fromkeys(ASKERS, "no"), "manager": "ok", "display": "person", "pin": "person",
        "stranger": "device", "revoked": "revoked",
    },
}  # fmt: skip

SHA: Final = "a" * 64
UUID: Final = "00000000-0000-7000-8000-000000000001"
TREATMENT: Final = "treatment=1"
CELL: Final = "measurement=height&assessment=a1"
MIX: Final = f"tank_mix={UUID}&place={UUID}::::&tank=5:L"
# "METHOD rule" -> (row, query or body). Helpers that add a route add its line here.
ROUTES: Final[dict[str, tuple[str, Any]]] = {
    "GET /": ("open", None),
    "GET /<path:route>": ("open", None),
    "GET /app/<path:path>": ("open", None),
    "GET /sw.js": ("open", None),
    "GET /manifest.webmanifest": ("open", None),
    "GET /healthz": ("open", None),
    "GET /api/openapi.json": ("open", None),
    "GET /api/v1/session": ("open", None),
    "POST /api/v1/set-up": ("open", {}),
    "POST /api/v1/sign-in": ("open", {}),
    "POST /api/v1/enrol": ("open", {}),
    "POST /api/v1/sign-out": ("device", {}),
    "POST /api/v1/exchange": ("device, revoked too", {}),
    "GET /api/v1/forms": ("device", None),
    "GET /api/v1/pins": ("read", None),
    "POST /api/v1/pin": ("person", {"pin": "4711"}),
    "POST /api/v1/pin of another": ("admin", {"pin": "4711", "member": UUID}),
    "POST /api/v1/enrolment-codes": ("admin", {}),
    "POST /api/v1/members/<member_id>/password": ("admin", {}),
    "PUT /api/v1/photos/<sha256>/<int:n>": ("create", b"piece"),
    # a wall tablet reads safety data sheets; any other file is not there for it (test_wall.py)
    "GET /api/v1/photos/<sha256>": ("device", None),
    "GET /api/v1/applications": ("read", "month=2026-05"),
    "GET /api/v1/applications/<record_id>/later": ("read", None),
    "GET /api/v1/records/<kind>/<record_id>/history": ("read", None),
    "GET /api/v1/phones": ("read", None),
    "GET /api/v1/arrivals": ("read", None),
    "GET /api/v1/reports/month": ("papers", "month=2026-05"),
    "GET /api/v1/reports/month/standing": ("papers", None),
    "GET /api/v1/papers/application": ("papers", f"application={UUID}"),
    # of one place, lot or day, not of a period: what a phone holds too
    "GET /api/v1/papers/door-notice": ("read, by name", f"restriction={UUID}"),
    "GET /api/v1/papers/entry-log": ("read, by name", f"restriction={UUID}"),
    "GET /api/v1/papers/lot-history": ("read, by name", f"lot={UUID}"),
    "GET /api/v1/papers/period": ("papers", "first=2026-05-01&last=2026-05-31"),
    "GET /api/v1/schemas/applications.json": ("open", None),
    "GET /api/v1/papers/central-display": ("read, by name", None),
    "GET /api/v1/papers/day-plan": ("read, by name", "day=2026-05-12"),
    "GET /api/v1/feeds": ("growers", None),
    "POST /api/v1/feeds": ("growers", {}),
    "POST /api/v1/feeds/<feed>/revoke": ("growers", {}),
    "GET /calendar/<token>.ics": ("open", None),  # the address itself is the key
    "GET /api/v1/trials/<trial_id>/analysis": ("read", None),
    "GET /api/v1/trials/<trial_id>/analysis/cell": ("read", CELL),
    "GET /api/v1/trials/<trial_id>/analysis/chart": ("read", f"{CELL}&name=means"),
    "GET /api/v1/trials/across": ("read", None),
    "GET /api/v1/trials/across/question": ("read", f"key={'a' * 16}"),
    "GET /api/v1/trials/<trial_id>/across": ("read", None),
    "GET /api/v1/trials/<trial_id>/report": ("trial papers", None),
    "GET /api/v1/trials/<trial_id>/export": ("trial papers", "name=values.csv"),
    "GET /api/v1/trials/<trial_id>/papers/labels": ("read", None),
    "GET /api/v1/trials/<trial_id>/papers/map": ("read", None),
    "GET /api/v1/trials/<trial_id>/papers/field-sheet": ("read", None),
    "GET /api/v1/trials/<trial_id>/papers/mixing-sheet": ("read, by name", TREATMENT),
    "POST /api/v1/trials/layout": ("read", {}),
    "POST /api/v1/trials/harvests": ("read", {}),
    "POST /api/v1/trials/size": ("read", {}),
    "POST /api/v1/trials/<trial_id>/potted": ("read", {}),
    "GET /api/v1/trials/<trial_id>/file": ("read", None),
    "GET /api/v1/trials/file-schema": ("read", None),
    "POST /api/v1/trials/file": ("growers", {}),
    "POST /api/v1/trials/<trial_id>/values/dry-run": ("growers", {}),
    "POST /api/v1/trials/<trial_id>/values": ("growers", {}),
    "GET /api/v1/trials/<trial_id>/values/sample": ("growers", None),
    "POST /api/v1/imports/dry-run": ("growers", {}),
    "POST /api/v1/imports": ("growers", {}),
    "GET /api/v1/imports/sample/<kind>": ("growers", None),
    "POST /api/v1/unsent-files": ("growers", {}),
    "POST /api/v1/export": ("admin", {}),
    "GET /api/v1/papers/mixing-sheet": ("read, by name", MIX),
}
VALUES: Final = {"sha256": SHA, "n": "0", "kind": "lot", "path": "app.js", "route": "today"}
REFUSALS: Final = {
    "access.not_permitted": "no", "access.no_person": "person", "access.no_device": "device",
    "access.device_revoked": "revoked",
}  # fmt: skip


class Crowd:
    """One book and everybody who may ask."""

    def __init__(self, book: Book) -> None:
        self.book = book
        self.desks: dict[str, Desk] = {"manager": book.manager}
        for role in ROLES[:5]:
            if role != "manager":
                book.manager.add_member(f"The {role}", role)
                self.desks[role] = Desk(book, f"The {role}")
        for asker, ceiling in (
            ("display", "display"),
            ("tablet+manager", "display"),
            ("pin", "manager"),
        ):
            self.desks[asker] = self.enrolled(ceiling)
        self.sign_in("tablet+manager")
        self.desks["revoked"] = Desk(book, "Ines Prado")
        self.revoke("revoked")
        self.members = {role: self.desks[role].member for role in ROLES[:5]}

    def enrolled(self, ceiling: str) -> Desk:
        """A device that a code let in, with nobody on it; entries of the manager's PIN."""
        made = self.book.manager.post("/api/v1/enrolment-codes", {"label": "x", "ceiling": ceiling})
        desk = object.__new__(Desk)
        desk.book, desk.client = self.book, self.book.app.test_client()
        desk.device, desk.cursor = self.book.uuid(), None
        desk.numbers = iter(range(1, 10_000))  # type: ignore[assignment]
        desk.member, desk.establishment = self.book.manager.member, self.book.establishment
        body = {"code": made.json["code"], "device": {"id": desk.device, "label": "x"}}
        assert desk.post("/api/v1/enrol", body).status_code == 200
        return desk

    def sign_in(self, asker: str) -> None:
        desk = self.desks[asker]
        device = {"id": desk.device, "label": "x"}
        body = {"name": "Ines Prado", "password": PASSWORD, "device": device}
        assert desk.post("/api/v1/sign-in", body).status_code == 200

    def revoke(self, asker: str) -> None:
        fields = {"revoked": True}
        text = self.book.manager.entry(
            "device", "change", record=self.desks[asker].device, fields=fields
        )
        assert self.book.manager.exchange(text)["results"][0]["outcome"] == "accepted"

    def ask(self, asker: str, method: str, address: str, what: Any) -> Any:
        desk = self.desks.get(asker)
        client = self.book.app.test_client() if desk is None else desk.client
        query = what if isinstance(what, str) else None
        body = what if isinstance(what, dict) else None
        data = what if isinstance(what, bytes) else None
        return client.open(
            address, method=method, headers=SAME_ORIGIN, base_url="https://localhost",
            query_string=query, json=body, data=data,
        )  # fmt: skip


@pytest.fixture(scope="module")
def crowd(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Crowd]:
    """Everybody, in one book: no test here asks for an empty one."""
    book = Book(tmp_path_factory.mktemp("crowd"))
    yield Crowd(book)
    book.close()


def test_every_route_is_in_the_table(crowd: Crowd) -> None:
    there = {
        f"{method} {rule.rule}"
        for rule in crowd.book.app.url_map.iter_rules()
        for method in rule.methods - {"HEAD", "OPTIONS"}
    }

    assert there == {name.removesuffix(" of another") for name in ROUTES}


def test_every_kind_is_in_the_table() -> None:
    assert set(KIND_ROWS) == set(KINDS)


def address_of(rule: str) -> str:
    for part in [p for p in rule.split("/") if p.startswith("<")]:
        rule = rule.replace(part, VALUES.get(part.strip("<>").split(":")[-1], UUID))
    return rule


# signing out ends a session that the others need
@pytest.mark.parametrize("route", sorted(ROUTES, key=lambda name: "sign-out" in name))
def test_route_lets_in_whom_the_table_lets_in(crowd: Crowd, route: str) -> None:
    row, what = ROUTES[route]
    method, rule = route.removesuffix(" of another").split(" ", 1)

    found = {}
    for asker in ASKERS:
        reply = crowd.ask(asker, method, address_of(rule), what)
        assert reply.status_code < 500, (asker, reply.text)
        code = (reply.get_json(silent=True) or {}).get("code")
        found[asker] = REFUSALS.get(code, "ok")
        if "sign-out" in route and asker in ("manager", "tablet+manager"):
            crowd.sign_in(asker)
        elif "sign-out" in route and asker in ROLES[:5]:
            desk = crowd.desks[asker]
            body = {
                "name": f"The {asker}",
                "password": PASSWORD,
                "device": {"id": desk.device, "label": "x"},
            }
            assert desk.post("/api/v1/sign-in", body).status_code == 200

    assert found == ROWS[row]


def test_wall_tablet_reads_what_hangs_on_the_wall_and_nobodys_name(crowd: Crowd) -> None:
    operator = crowd.desks["operator"]
    fields = {
        "operator": operator.member, "operator_name": "The operator", "mix_name": "Height",
        "started_at": {"local": "2026-05-12T09:40:00", "offset_min": -240, "zone": "Etc/UTC"},
        "signature": {"member": operator.member, "name": "The operator", "method": "pin",
                      "at": {"local": "2026-05-12T10:00:00", "offset_min": -240, "zone": "Etc/UTC"}},
    }  # fmt: skip
    operator.exchange(operator.entry("application", "create", fields=fields))
    crowd.book.manager.exchange(crowd.book.manager.entry("lot", "create", fields={"code": "L1"}))

    for asker in ("display", "tablet+manager"):
        records = crowd.desks[asker].exchange(cursor=None)["records"]

        kinds = {record["kind"] for record in records}
        assert kinds <= {
            "establishment", "house", "bay", "bench", "product", "label_file", "application",
            "restriction", "conflict",
        }  # fmt: skip
        assert "application" in kinds
        assert "The operator" not in json.dumps(records)
        assert operator.member not in json.dumps(records)


def may(row: str, role: str, ceiling: str) -> str:
    order = ("yes", "password", "ask", "no")
    return max(ACCESS[row][role], ACCESS[row][ceiling], key=order.index)


def expected(kind: str, action: str, word_of: Any, *, has_password: bool) -> tuple[str, str | None]:
    """What the table says of an entry about a record that is not there (its author unknown)."""
    row = KIND_ROWS[kind]
    if row == "restriction":
        row = "create" if action in ("create", "change") else "amend other"
    if row == "create" and action in ("amend", "void", "request"):
        row = "amend other"
    word = word_of(row)
    if action == "restore" or word == "no":
        return "quarantined", "not_permitted"
    if action in ("request", "propose"):
        return "waiting", {"request": "asked_for", "propose": "proposed"}[action]
    if word == "ask":
        return "waiting", "needs_grower"
    if word == "password" and not has_password:
        return "waiting", "needs_password"
    return ("accepted", None) if action == "create" else ("waiting", "record_missing")


ACTIONS: Final = ("create", "change", "amend", "void", "request", "propose", "restore")


@pytest.mark.parametrize(
    ("asker", "author", "ceiling", "has_password"),
    [
        *[(role, role, role, True) for role in ROLES[:5]],
        ("display", "manager", "display", False),
        ("tablet+manager", "manager", "display", True),
        ("pin", "manager", "manager", False),
        ("pin", "grower", "manager", False),
        ("pin", "operator", "manager", False),
    ],
)
def test_every_kind_and_action_does_what_the_table_says(
    crowd: Crowd, asker: str, author: str, ceiling: str, has_password: bool
) -> None:
    desk, member = crowd.desks[asker], crowd.members[author]
    cases = [(kind, action) for kind in KIND_ROWS for action in ACTIONS]
    texts = [
        desk.entry(kind, action, member=member, reason="as the table says")
        for kind, action in cases
    ]

    results = [
        result
        for start in range(0, len(texts), 150)
        for result in desk.exchange(*texts[start : start + 150])["results"]
    ]

    def word(row: str) -> str:
        return may(row, author, ceiling)

    want = {case: expected(*case, word, has_password=has_password) for case in cases}
    assert {
        case: (one["outcome"], one["reason"]) for case, one in zip(cases, results, strict=True)
    } == want


SIGNED: Final = {
    "member": UUID, "name": "x", "method": "pin",
    "at": {"local": "2026-05-12T10:00:00", "offset_min": -240, "zone": "Etc/UTC"},
}  # fmt: skip


@pytest.mark.parametrize("action", ["amend", "void"])
@pytest.mark.parametrize("role", ROLES[:5])
def test_signed_record_is_amended_by_whom_the_table_says(
    crowd: Crowd, role: str, action: str
) -> None:
    desk, operator = crowd.desks[role], crowd.desks["operator"]
    outcomes = []
    for author in (desk, operator if role != "operator" else crowd.desks["grower"]):
        record = crowd.book.uuid()
        author.exchange(
            author.entry("application", "create", record=record, fields={"signature": SIGNED})
        )
        fields = {"note": "no wind"} if action == "amend" else {}
        text = desk.entry("application", action, record=record, fields=fields, reason="mistyped")
        result = desk.exchange(text)["results"][0]
        outcomes.append((result["outcome"], result["reason"]))

    words = {
        "yes": ("accepted", None),
        "password": ("accepted", None),
        "no": ("quarantined", "not_permitted"),
        "ask": ("waiting", "needs_grower"),
    }
    assert outcomes == [words[ACCESS[row][role]] for row in ("amend own", "amend other")]


def at(text: str) -> dict[str, Any]:
    return {"local": text, "offset_min": -240, "zone": "America/New_York"}


# what would let people in, and the row it falls under; before the end it is still being written
LETS_IN: Final = {
    "reopened": "reopen",
    "shorter": "amend other",
    "void": "amend other",
}


@pytest.mark.parametrize("how", LETS_IN)
@pytest.mark.parametrize("role", ROLES[:5])
def test_restricted_area_is_opened_by_whom_the_table_says(
    crowd: Crowd, role: str, how: str
) -> None:
    """Making a restriction void, or its time shorter, lets people in as well."""
    desk, record = crowd.desks[role], crowd.book.uuid()
    operator = crowd.desks["operator"]
    hours = {"value": "4", "unit": "h"}
    fields = {
        "place": "House 1", "started_at": at("2026-05-10T07:00:00"),
        "ended_at": at("2026-05-10T08:00:00"), "rei": hours, "method_class": 5,
        "ventilation_owed": False, "double_notice": False,
    }  # fmt: skip
    operator.exchange(operator.entry("restriction", "create", record=record, fields=fields))
    entries = {
        "reopened": {
            "action": "change",
            "fields": {"reopened_at": at("2026-05-12T09:00:00"), "reopened_by": desk.member},
        },
        "shorter": {
            "action": "change",
            "fields": {"rei": {"was": hours, "to": {"value": "1", "unit": "h"}}},
        },
        "void": {"action": "void", "reason": "never sprayed"},
    }

    result = desk.exchange(desk.entry("restriction", record=record, **entries[how]))["results"][0]

    words = {
        "yes": ("accepted", None), "password": ("accepted", None),
        "ask": ("waiting", "needs_grower"), "no": ("quarantined", "not_permitted"),
    }  # fmt: skip
    assert (result["outcome"], result["reason"]) == words[ACCESS[LETS_IN[how]][role]]


def held_id(text: str) -> str:
    return effect_id(digest_of(text), "held")


def decide(desk: Desk, case: str, kind: str = "held") -> tuple[str, str | None]:
    text = desk.entry(kind, "decide", record=case, fields={"decision": "accept"})
    result = desk.exchange(text)["results"][0]
    return result["outcome"], result["reason"]


@pytest.mark.parametrize("role", ROLES[:5])
def test_proposal_is_decided_by_whom_the_table_says(crowd: Crowd, role: str) -> None:
    operator = crowd.desks["operator"]
    text = operator.entry("house", "propose", fields={"name": "North"})
    operator.exchange(text)

    words = {
        "password": ("accepted", None),
        "no": ("quarantined", "not_permitted"),
        "ask": ("waiting", "needs_grower"),
    }
    assert decide(crowd.desks[role], held_id(text)) == words[ACCESS["decide"][role]]


def test_who_asked_reads_the_answer_and_why(crowd: Crowd) -> None:
    operator, grower = crowd.desks["operator"], crowd.desks["grower"]
    text = operator.entry("bench", "propose", fields={"name": "B9"})
    operator.exchange(text)
    fields = {"decision": "refuse"}
    grower.exchange(
        grower.entry("held", "decide", record=held_id(text), fields=fields, reason="B9 is gone")
    )

    records = operator.exchange()["records"]

    told = next(one["fields"] for one in records if one["id"] == held_id(text))
    assert (told["decision"], told["decided_by"]) == ("refuse", grower.member)
    assert told["decision_reason"] == "B9 is gone"


@pytest.mark.parametrize("asker", ["display", "pin", "tablet+manager"])
def test_nobody_decides_without_a_password_or_on_the_wall(crowd: Crowd, asker: str) -> None:
    operator = crowd.desks["operator"]
    text = operator.entry("house", "propose", fields={"name": "North"})
    operator.exchange(text)

    found = decide(crowd.desks[asker], held_id(text))

    assert found == (
        ("waiting", "needs_password") if asker == "pin" else ("quarantined", "not_permitted")
    )


def role_of(crowd: Crowd, member: str) -> str:
    crowd.book.manager.cursor = None
    records, reply = [], {"more": True}
    while reply["more"]:
        reply = crowd.book.manager.exchange()
        records += reply["records"]
    return next(r["fields"]["role"] for r in records if r["id"] == member)


def test_grower_makes_nobody_a_manager_by_letting_it_in(crowd: Crowd) -> None:
    """Neither the own forged entry, nor an operator's decision on it, nor one made ahead of it."""
    grower, operator = crowd.desks["grower"], crowd.desks["operator"]
    fields = {"role": {"was": "grower", "to": "manager"}}

    def forged() -> str:
        return grower.entry("member", "change", record=grower.member, fields=fields)

    first, second = forged(), forged()
    grower.exchange(first)
    assert decide(grower, held_id(first)) == ("quarantined", "not_permitted")
    by_operator = operator.entry(
        "held", "decide", record=held_id(first), fields={"decision": "accept"}
    )
    operator.exchange(by_operator)
    assert decide(grower, held_id(by_operator)) == ("quarantined", "not_permitted")
    assert decide(grower, held_id(second)) == ("waiting", "record_missing")
    grower.exchange(second)

    assert role_of(crowd, grower.member) == "grower"
    assert decide(crowd.book.manager, held_id(first)) == ("accepted", None)
    assert role_of(crowd, grower.member) == "manager"
    back = {"role": {"was": "manager", "to": "grower"}}
    crowd.book.manager.exchange(
        crowd.book.manager.entry("member", "change", record=grower.member, fields=back)
    )


def test_clash_about_a_person_is_a_managers(crowd: Crowd) -> None:
    manager, grower = crowd.book.manager, crowd.desks["grower"]
    member = crowd.members["technician"]
    clash = manager.entry(
        "member", "change", record=member, fields={"language": {"was": "fr", "to": "es"}}
    )
    before = manager.entry("member", "change", record=member, fields={"language": "en"})
    results = manager.exchange(before, clash)["results"]
    assert [r["outcome"] for r in results] == ["accepted", "conflicted"]
    case = effect_id(digest_of(clash), "language")
    decision = {"decision": {"value": "es", "over": "en"}}

    result = grower.exchange(grower.entry("conflict", "decide", record=case, fields=decision))[
        "results"
    ][0]

    assert (result["outcome"], result["reason"]) == ("quarantined", "not_permitted")


def test_operators_month_holds_the_own_applications_only(crowd: Crowd) -> None:
    from tepal.api.web import WEB_APP
    from tepal.services.catalogue import words_for
    from tepal.services.month import month_view
    from tepal.services.print_base import read_book
    from tepal.store.database import read_session

    operator, grower = crowd.desks["operator"], crowd.desks["grower"]
    start = {"local": "2026-03-02T08:00:00", "offset_min": -300, "zone": "America/New_York"}
    for desk in (operator, grower):
        desk.exchange(desk.entry("application", "create", fields={"started_at": start}))
    words = words_for(WEB_APP / "locale", "en")
    with crowd.book.app.app_context(), read_session() as db:
        book = read_book(
            db, crowd.book.establishment, words, now="2026-05-12T14:00:00.000Z",
            printed_by="x", reprint_number=0,
        )  # fmt: skip
        whole = month_view(book, "2026-03")
        own = month_view(book, "2026-03", only_of=operator.member)

    assert (len(whole.applications), len(own.applications)) == (2, 1)
    assert own.filter != whole.filter
