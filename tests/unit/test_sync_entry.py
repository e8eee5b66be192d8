"""Reading entries: whatever arrives is read or refused with a reason, never crashes the push."""

from __future__ import annotations

import json

import pytest

from support.pushing import Pusher, uuid
from tepal.sync.chain import genesis, link
from tepal.sync.cursor import Cursor, read_cursor
from tepal.sync.engine import missing_ranges
from tepal.sync.entry import EntryError, digest_of, identify, parse, storable
from tepal.sync.ids import uuid7
from tepal.sync.ports import Numbers

GOOD = Pusher().entry(fields={"note": "a"})


def changed(**more: object) -> str:
    return json.dumps(json.loads(GOOD) | more)


def test_parse_reads_a_good_entry() -> None:
    entry = parse(GOOD)

    assert (entry.number, entry.action, entry.record) == (1, "create", uuid(1))
    assert entry.changes["note"] == (None, "a")
    assert entry.text == GOOD


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("id", "not-a-uuid"), ("id", None), ("id", uuid(0xA).upper()), ("device", 7),
        ("number", 0), ("number", -1), ("number", True), ("number", 1.0), ("number", "1"),
        ("number", 2**53), ("member", ""), ("kind", "Application"), ("kind", "a" * 64),
        ("kind", "a-b"), ("record", None), ("action", "delete"), ("action", None),
        ("changes", []), ("changes", {"note": "b"}), ("changes", {"note": {"was": 1}}),
        ("changes", {"note": {"was": 1, "to": 2, "by": 3}}), ("changes", {"Note": {"to": 2}}),
        ("reason", 5), ("reason", "x" * 4001), ("reason", "a\x00b"), ("reason", "\ud800"),
        ("made_at", None), ("made_at", {"local": 5}), ("form_version", 0),
        ("form_version", None), ("group", "x"),
    ],
)  # fmt: skip
def test_parse_refuses_malformed_field(field: str, value: object) -> None:
    with pytest.raises(EntryError) as caught:
        parse(changed(**{field: value}))

    assert caught.value.code == "sync.malformed"


@pytest.mark.parametrize(
    "text",
    [
        "", "{", "nonsense", "\ufeff{}", "[" * 100_000, '{"a": 1}}', GOOD.replace('"a"', "NaN"),
        GOOD.replace('"a"', "Infinity"), GOOD.replace('"a"', "1e999"),
        GOOD.replace('"a"', "-1e999"), GOOD.replace('"a"', "9" * 5000),
        GOOD[:-1] + ', "number": 2}', GOOD.replace('"to": "a"', '"to": "a", "to": "b"'),
    ],
    ids=range(13),
)  # fmt: skip
def test_parse_refuses_what_is_no_json(text: str) -> None:
    with pytest.raises(EntryError) as caught:
        parse(text)

    assert caught.value.code == "sync.not_json"


@pytest.mark.parametrize("text", ["[]", "5", "null", '"text"', "true"])
def test_parse_refuses_what_is_no_object(text: str) -> None:
    with pytest.raises(EntryError) as caught:
        parse(text)

    assert caught.value.code == "sync.malformed"


def test_parse_refuses_a_huge_text() -> None:
    with pytest.raises(EntryError) as caught:
        parse(changed(made_at={"local": "x" * 262_144}))

    assert caught.value.code == "sync.too_large"


def test_blank_reason_is_no_reason() -> None:
    assert parse(changed(reason="  \n ")).reason is None


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        (GOOD, (uuid(0x1001), uuid(0xD1), 1)),
        (changed(changes=5), (uuid(0x1001), uuid(0xD1), 1)),
        (changed(number=True), (uuid(0x1001), uuid(0xD1), None)),
        (changed(id=5, number=2**53), (None, uuid(0xD1), None)),
        ("nonsense", (None, None, None)),
        ("[1]", (None, None, None)),
        ("[" * 100_000, (None, None, None)),
        (json.dumps(GOOD), (uuid(0x1001), uuid(0xD1), 1)),
    ],
    ids=range(8),
)
def test_identify_reads_what_it_can(text: str, expected: tuple) -> None:
    assert identify(text) == expected


@pytest.mark.parametrize("bad", ["\x00", chr(0xD800), chr(0xDFFF)])
def test_storable_wraps_what_no_column_takes(bad: str) -> None:
    text = f'{{"note": "{bad}"}}'

    wrapped = storable(text)

    assert wrapped is not None
    assert wrapped.isascii()
    assert json.loads(wrapped) == text


def test_storable_leaves_others_alone() -> None:
    assert storable(GOOD + " é 🌱 \\u0000") is None


def test_digest_matches_fips_180_example() -> None:
    # FIPS 180-4 example "abc" (NIST, SHA-256 example values)
    assert digest_of("abc") == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"


def test_chain_covers_every_part() -> None:
    start = genesis(uuid(9))
    base = (start, 1, "2026-05-12T14:00:00.000Z", "accepted", "0" * 64)
    others = [
        (genesis(uuid(8)), *base[1:]),
        (start, 2, *base[2:]),
        (*base[:2], "2026-05-12T14:00:00.001Z", *base[3:]),
        (*base[:3], "merged", base[4]),
        (*base[:4], "1" + "0" * 63),
    ]

    assert len({link(*parts) for parts in [base, *others]}) == 6


def test_cursor_goes_and_comes_back() -> None:
    cursor = Cursor("0badcafe", "all1", 17, "ab" * 32)

    assert read_cursor(cursor.text()) == Cursor("0badcafe", "all1", 17, "ab" * 8)


@pytest.mark.parametrize(
    "text", [None, "", "x", "0badcafe.all1.17", "0badcafe.all1.-1." + "a" * 16,
             "0badcafe.all1.17." + "a" * 15, "0badcafe.all1.17." + "a" * 16 + "\n",
             "0badcafe.all1." + "9" * 16 + "." + "a" * 16],
)  # fmt: skip
def test_unreadable_cursor_is_none(text: str | None) -> None:
    assert read_cursor(text) is None


@pytest.mark.parametrize(
    ("ack", "beyond", "limit", "expected"),
    [
        (0, (), 100, (0, [])),
        (3, (), 100, (3, [])),
        (3, ((5, 5),), 100, (5, [[4, 4]])),
        (0, ((2, 3), (7, 7)), 100, (7, [[1, 1], [4, 6]])),
        (0, ((2, 2), (4, 4), (6, 6)), 2, (4, [[1, 1], [3, 3]])),
    ],
)
def test_missing_ranges_names_each_hole(
    ack: int, beyond: tuple, limit: int, expected: tuple
) -> None:
    assert missing_ranges(Numbers(ack, beyond), limit) == expected


@pytest.mark.parametrize(
    ("numbers", "taken", "expected"),
    [
        (Numbers(0), {1, 2}, Numbers(2)),
        (Numbers(3), {5, 6}, Numbers(3, ((5, 6),))),
        (Numbers(3, ((5, 6), (9, 9))), {7, 8}, Numbers(3, ((5, 9),))),
        (Numbers(3, ((5, 6), (9, 9))), {4}, Numbers(6, ((9, 9),))),
        (Numbers(3, ((5, 6),)), {2, 5}, Numbers(3, ((5, 6),))),
    ],
)
def test_numbers_that_meet_become_one_range(
    numbers: Numbers, taken: set[int], expected: Numbers
) -> None:
    assert numbers.with_taken(taken) == expected
    assert all(expected.holds(number) for number in taken)


def test_a_hole_that_stays_costs_one_range_and_no_number_each() -> None:
    numbers = Numbers(4)
    for number in range(6, 5000):
        numbers = numbers.with_taken({number})

    assert numbers == Numbers(4, ((6, 4999),))
    assert [number for number in range(1, 5002) if not numbers.holds(number)] == [5, 5000, 5001]


def test_uuid7_matches_rfc_9562_example() -> None:
    # RFC 9562, appendix A.6: 2022-02-22T19:22:22Z = 0x017F22E279B0 ms, rand_a 0xCC3,
    # rand_b 0x18C4DC0C0C07398F -> 017F22E2-79B0-7CC3-98C4-DC0C0C07398F
    random = bytes.fromhex("0cc3") + bytes.fromhex("18C4DC0C0C07398F")

    assert uuid7(0x017F22E279B0, random) == "017f22e2-79b0-7cc3-98c4-dc0c0c07398f"
