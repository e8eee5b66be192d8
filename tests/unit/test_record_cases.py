"""The 28 record cases: published rules for application records, each by its number.

The table of cases was compiled from published text; its sources stand in each test. "From memory"
marks a number that was not read in the official text. The same cases run in JS as vectors, under the
flags case_1 to case_28 (but 24, which is sync's). Intervals are invented inputs, not label claims.
"""

from __future__ import annotations

from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from support.pushing import SIGNATURE, Pusher
from support.twin import run_py
from tepal.domain.moments import local_text, moment_ms
from tepal.domain.restriction import rei_end_ms

H = 3_600_000
US = {"country": "US"}


def rule(name: str, **args: Any) -> Any:
    """Return what a rule gives, as JSON values."""
    [result] = run_py([{"function": name, "args": args}])
    assert "value" in result, result
    return result["value"]


def moment(text: str, zone: str = "America/New_York") -> dict[str, Any]:
    at = datetime.fromisoformat(text)
    offset = at.utcoffset()
    assert offset is not None
    minutes = int(offset.total_seconds() // 60)
    return {"local": f"{at:%Y-%m-%dT%H:%M:%S}", "offset_min": minutes, "zone": zone}


def ms(text: str) -> int:
    return int(datetime.fromisoformat(text).timestamp() * 1000)


def hours(number: float) -> dict[str, str]:
    return {"value": f"{number:g}", "unit": "h"}


END = ms("2026-05-04T10:30-04:00")


def codes(findings: list[dict[str, Any]]) -> list[str]:
    return [finding["code"].split(".")[1] for finding in findings]


def missing(standard: str, application: dict[str, Any], establishment: dict[str, Any]) -> list[str]:
    found = rule(
        "standards.completeness",
        standard=standard,
        application=application,
        establishment=establishment,
    )
    return [code.removeprefix("missing_") for code in codes(found["missing"])]


def test_case_1_rei_runs_from_the_end() -> None:
    """40 CFR 170.407, READ in WAC 16-233-116."""
    assert rule("restriction.rei_end_ms", ended_ms=END, rei_h=12) == ms("2026-05-04T22:30-04:00")


def test_case_2_display_keeping_and_sign() -> None:
    """40 CFR 170.311(b) READ in the guide, start of the two years and 170.409(b) from memory."""
    dates = rule("restriction.application_dates", ended_ms=END, rei_h=12, offset_min=-240)

    assert dates == {
        "rei_end_ms": ms("2026-05-04T22:30-04:00"),
        "display_by_ms": ms("2026-05-05T10:30-04:00"),
        "display_until_ms": ms("2026-06-03T22:30-04:00"),
        "sign_down_by_ms": ms("2026-05-07T22:30-04:00"),
        "keep_until": "2028-05-04",
    }


def test_case_3_longest_interval_of_a_mix() -> None:
    """40 CFR 170.407(c), READ; sign: University of Wisconsin note, READ."""
    longest = rule("restriction.longest_rei_h", intervals_h=[4, 12, 24])

    end = rule("restriction.rei_end_ms", ended_ms=END, rei_h=longest)
    notice = rule("signs.notice_of", rei_h=longest, is_double_notice=False)
    assert (longest, end) == (24, ms("2026-05-05T10:30-04:00"))
    assert notice["must_post"] is True


def test_case_4_one_unknown_interval_is_never_zero() -> None:
    """Derived from 170.407(c)."""
    assert rule("restriction.longest_rei_h", intervals_h=[4, None, 24]) is None
    state = rule(
        "restriction.restriction_state",
        restriction={"ended_at": moment("2026-05-04T10:30-04:00"), "rei": None, "method_class": 5},
        now_ms=END + 90 * 24 * H,
        heard_ms=END + 90 * 24 * H,
        skew_ms=0,
    )
    assert (state["code"], state["until_ms"], state["is_rei_unknown"]) == ("restricted", None, True)
    assert "rei_unknown" in codes(state["unmet"])


@pytest.mark.parametrize(
    ("number", "rei_h", "is_double", "is_enclosed", "post_tell_either"),
    [
        (5, 4, False, True, (False, False, True)),  # exactly 4 h: post OR tell; from memory
        (6, 4, True, True, (True, True, False)),  # both; 170.409(a)(1)(i), from memory
        (7, 24, False, False, (False, False, True)),  # outdoors
        (7, 24, False, True, (True, False, False)),  # hoop house; 170.305 READ: it is enclosed
    ],
)
def test_cases_5_to_7_notice(
    number: int,
    rei_h: float,
    is_double: bool,
    is_enclosed: bool,
    post_tell_either: tuple[bool, bool, bool],
) -> None:
    notice = rule(
        "signs.notice_of", rei_h=rei_h, is_double_notice=is_double, is_enclosed=is_enclosed
    )

    assert (notice["must_post"], notice["must_tell"], notice["is_either"]) == post_tell_either


def spell(sort: str, begins: str, ends: str | None = None) -> dict[str, Any]:
    def on(clock: str | None) -> dict[str, Any] | None:
        if clock is None:
            return None
        day = "2026-05-04" if clock > "17:00" else "2026-05-05"
        return moment(f"{day}T{clock}-04:00")

    return {"sort": sort, "began_at": on(begins), "ended_at": on(ends)}


FOG_END = ms("2026-05-04T18:00-04:00")


@pytest.mark.parametrize(
    ("number", "spells", "met"),
    [
        (8, [spell("mechanical", "18:00", "20:00")], "2026-05-04T20:00-04:00"),
        (9, [spell("passive", "18:00")], "2026-05-04T22:00-04:00"),
        # 10: from memory
        (
            10,
            [spell("closed", "18:00"), spell("mechanical", "05:00", "06:00")],
            "2026-05-05T06:00-04:00",
        ),
        (
            10,
            [spell("closed", "18:00"), spell("passive", "05:00", "07:00")],
            "2026-05-05T07:00-04:00",
        ),
        (10, [spell("closed", "18:00")], "2026-05-05T18:00-04:00"),
    ],
)
def test_cases_8_to_10_ventilation(number: int, spells: list[dict[str, Any]], met: str) -> None:
    """40 CFR 170.405(b)(3): ii and iii READ."""
    now = ms("2026-05-06T08:00-04:00")

    found = rule("ventilation.ventilation", ended_ms=FOG_END, spells=spells, now_ms=now)

    assert (found["is_met"], found["met_ms"]) == (True, ms(met))


def test_case_11_parts_add_up_in_california_only() -> None:
    """3 CCR 6769 READ; that the federal list has no mixing is from memory."""
    spells = [spell("mechanical", "18:00", "19:00"), spell("passive", "19:00", "21:00")]
    now = ms("2026-05-04T21:00-04:00")

    federal = rule("ventilation.ventilation", ended_ms=FOG_END, spells=spells, now_ms=now)
    california = rule(
        "ventilation.ventilation", ended_ms=FOG_END, spells=spells, now_ms=now, rule="california"
    )

    assert (federal["is_met"], california["is_met"]) == (False, True)


MIST: dict[str, Any] = {
    "started_at": moment("2026-05-04T17:00-04:00"),
    "ended_at": moment("2026-05-04T18:00-04:00"),
    "rei": hours(4),
    "method_class": 2,
    "double_notice": False,
    "signs_up_at": moment("2026-05-04T16:30-04:00"),
    "ventilation": [spell("mechanical", "18:00", "20:00")],
}


def state_of(restriction: dict[str, Any], now: str) -> dict[str, Any]:
    found: dict[str, Any] = rule(
        "restriction.restriction_state",
        restriction=restriction,
        now_ms=ms(now),
        heard_ms=ms(now),
        skew_ms=0,
    )
    return found


def test_case_12_ventilated_is_not_yet_entry() -> None:
    """40 CFR 170.405(b); 170.407(b) READ."""
    at_20 = state_of(MIST, "2026-05-04T20:00-04:00")
    down = {**MIST, "signs_down_at": moment("2026-05-04T22:00-04:00")}
    at_22 = state_of(down, "2026-05-04T22:00-04:00")

    assert at_20["ventilation"]["met_ms"] == ms("2026-05-04T20:00-04:00")
    assert at_20["until_ms"] == ms("2026-05-04T22:00-04:00")
    assert at_20["may_reopen"] is False
    assert at_22["may_reopen"] is True


def test_case_13_sign_still_up() -> None:
    """40 CFR 170.407(b) READ."""
    state = state_of(MIST, "2026-05-04T23:00-04:00")

    assert (state["code"], state["may_reopen"]) == ("restricted", False)
    assert codes(state["unmet"]) == ["signs_up"]


@pytest.mark.parametrize(
    ("number", "zone", "ends", "over"),
    [
        (14, "America/New_York", "2026-03-07T20:00-05:00", "2026-03-08T09:00-04:00"),
        (15, "America/New_York", "2026-10-31T20:00-04:00", "2026-11-01T07:00-05:00"),
        (14, "Europe/Madrid", "2026-03-28T20:00+01:00", "2026-03-29T09:00+02:00"),
        (15, "Europe/Madrid", "2026-10-24T20:00+02:00", "2026-10-25T07:00+01:00"),
        (14, "Australia/Lord_Howe", "2026-10-03T20:00+10:30", "2026-10-04T08:30+11:00"),
        (15, "Australia/Lord_Howe", "2026-04-04T20:00+11:00", "2026-04-05T07:30+10:30"),
    ],
)
def test_cases_14_and_15_clock_changes(number: int, zone: str, ends: str, over: str) -> None:
    """Elapsed hours, derived; the zone's own table gives the offset at the end."""
    ended = moment_ms(moment(ends, zone))

    until = rule("restriction.rei_end_ms", ended_ms=ended, rei_h=12)

    assert until == rei_end_ms(ended, 12) == ms(over)
    there = datetime.fromtimestamp(until / 1000, tz=ZoneInfo(zone))
    offset = there.utcoffset()
    assert offset is not None
    assert there.isoformat(timespec="minutes") == over
    assert local_text(until, int(offset.total_seconds() // 60))[:16] == over[:16]


PRODUCT: dict[str, Any] = {
    "name": "Brevix 4",
    "registration_number": "99999-1",
    "rei": hours(12),
    "amount": {"value": "1.2", "unit": "L"},
}
FULL_PRODUCT = {**PRODUCT, "ingredients": [{"ai": "daminozide"}], "sds_on": "2025-01-10"}
LINE = {"place": "House 2", "house": "h2", "crop": "petunia"}
FULL_LINE = {**LINE, "bench": "b1"}
AREA = {"value": "20", "unit": "m2"}


def test_case_16_general_use_record() -> None:
    """40 CFR 170.311(b)(1), paragraphs from memory."""
    record = {
        "products": [PRODUCT],
        "lines": [LINE],
        "started_at": moment("2026-05-04T09:00-04:00"),
    }

    assert missing("wps", record, US) == ["sds", "active_ingredients", "description", "end"]
    described = {**record, "area_described": "north bay"}
    assert missing("wps", described, US) == ["sds", "active_ingredients", "end"]


def test_case_17_old_restricted_use_record_has_no_clock_time() -> None:
    """7 CFR 110.3(a) READ (rescinded); 14 days READ."""
    record = {
        "products": [FULL_PRODUCT],
        "lines": [FULL_LINE],
        "area": AREA,
        "applied_on": "2025-06-20",
        "certified_applicator_name": "A. Certified",
    }

    old = rule(
        "standards.completeness",
        standard="private_restricted_use",
        application=record,
        establishment=US,
    )
    assert (old["missing"], old["record_by"]) == ([], "2025-07-04")
    assert missing("wps", record, US) == ["start", "end"]


def test_case_18_commercial_record() -> None:
    """40 CFR 171.303(b)(7) READ."""
    record = {
        "products": [FULL_PRODUCT],
        "lines": [FULL_LINE],
        "area": AREA,
        "applied_on": "2026-05-04",
        "operator": "m1",
        "certified_applicator": "m1",
        "certified_applicator_name": "A. Certified",
        "certified_applicator_number": "C-1",
        "customer": {"name": "Invented Liners"},
    }

    assert missing("commercial_restricted_use", record, US) == ["customer_address", "start"]


def test_case_19_no_spot_treatment_in_a_greenhouse() -> None:
    """READ at the Minnesota Department of Agriculture."""
    record = {
        "products": [FULL_PRODUCT],
        "lines": [FULL_LINE],
        "applied_on": "2025-06-20",
        "certified_applicator_name": "A. Certified",
        "spot": True,
    }

    found = rule(
        "standards.completeness",
        standard="private_restricted_use",
        application=record,
        establishment=US,
    )
    assert [(one["code"], one["severity"]) for one in found["findings"]] == [
        ("standards.spot_in_greenhouse", "stop")
    ]
    assert codes(found["missing"]) == ["missing_size"]


EU_PRODUCT = {
    "name": "Brevix 4",
    "registration_number": "024999-00",
    "country": "FR",
    "amount": {"value": "1.2", "unit": "L"},
    "hours_limited": False,
    "stage_limited": False,
}
EU_USE: dict[str, Any] = {
    "products": [EU_PRODUCT],
    "lines": [{**LINE, "crop_eppo": "PEUHY"}],
    "area": AREA,
    "site": "greenhouse",
    "applied_on": "2026-03-15",
}


def test_case_20_complete_eu_record() -> None:
    """Reg. (EC) 1107/2009 Art. 67 READ; Reg. (EU) 2023/564 Annex READ in authority notices."""
    found = rule(
        "standards.completeness",
        standard="eu",
        application=EU_USE,
        establishment={"country": "FR"},
    )
    german = rule(
        "standards.completeness",
        standard="eu",
        application={
            **EU_USE,
            "operator_name": "A. User",
            "products": [{**EU_PRODUCT, "country": "DE"}],
        },
        establishment={"country": "DE"},
    )

    dates = (found["missing"], found["convert_by"], found["keep_until"])
    assert dates == ([], "2026-04-14", "2029-03-15")
    assert (german["missing"], german["keep_until"]) == ([], "2029-12-31")


@pytest.mark.parametrize(
    ("number", "limit", "field"), [(21, "stage_limited", "bbch"), (22, "hours_limited", "start")]
)
def test_cases_21_and_22_conditional_fields(number: int, limit: str, field: str) -> None:
    """Reg. (EU) 2023/564 Annex READ in German authority notices."""
    use = {**EU_USE, "products": [{**EU_PRODUCT, limit: True}]}

    assert missing("eu", use, {"country": "FR"}) == [field]


def test_case_23_us_fields_do_not_fill_an_eu_record() -> None:
    """Reg. (EU) 2023/564 Annex READ."""
    use = {
        "products": [
            {
                "name": "Brevix 4",
                "registration_number": "99999-1",
                "country": "US",
                "rei": hours(12),
                "hours_limited": False,
                "stage_limited": False,
            }
        ],
        "lines": [{"place": "House 2", "crop": "petunia"}],
        "applied_on": "2026-03-15",
    }

    assert sorted(missing("eu", use, {"country": "FR"})) == [
        "authorisation_number",
        "crop_eppo",
        "quantity",
        "size",
        "type_of_use",
    ]


def test_case_24_correction_keeps_both_and_needs_a_reason() -> None:
    """40 CFR 160.130(e) READ; the mark on paper is asked for in tests/reports."""
    phone = Pusher(signed_in="grower")
    old, new = {"value": "1.5", "unit": "L"}, {"value": "1.05", "unit": "L"}
    phone.do(fields={"volume": old, "signature": SIGNATURE})

    without = phone.one(phone.entry("change", fields={"volume": (old, new)}))
    assert (without.outcome, without.reason) == ("waiting", "reason_owed")
    assert phone.fields()["volume"] == old

    phone.one(phone.entry("amend", fields={"volume": (old, new)}, reason="slipped decimal mark"))
    assert phone.fields()["volume"] == new
    kept = phone.journal.rows[-1].text
    assert '"1.5"' in kept
    assert "slipped decimal mark" in kept
    assert "made_at" in kept
    assert "member" in kept


def test_case_25_entered_36_hours_later() -> None:
    """40 CFR 170.311(b)(5) READ; event time and entry time are two facts."""
    record = {
        "products": [FULL_PRODUCT],
        "lines": [FULL_LINE],
        "started_at": moment("2026-05-04T09:00-04:00"),
        "ended_at": moment("2026-05-04T10:30-04:00"),
    }

    found = rule(
        "standards.completeness",
        standard="wps",
        application=record,
        establishment=US,
        entered_ms=END + 36 * H,
    )
    assert [(one["code"], one["context"]) for one in found["findings"]] == [
        ("standards.display_late", {"hours": 12.0})
    ]


def test_case_26_contractors_end_moves() -> None:
    """40 CFR 170.313 READ in the guide (no paragraph)."""
    small = rule("entry.contractor_notice", planned_end_ms=END, ended_ms=END + 45 * 60_000)
    large = rule("entry.contractor_notice", planned_end_ms=END, ended_ms=END + 75 * 60_000)

    assert small == {"is_needed": False, "by_ms": None}
    assert large == {"is_needed": True, "by_ms": END + 75 * 60_000 + 2 * H}


def test_case_27_short_task() -> None:
    """40 CFR 170.603(b): READ in the superseded text; 1 h READ at EPA."""
    task = {
        "sort": "short_task",
        "ended_ms": END,
        "minutes": 30,
        "is_hand_labour": False,
        "is_double_notice": False,
        "is_ventilation_met": True,
        "has_ppe": True,
    }

    early = rule("entry.early_entry_findings", task={**task, "at_ms": END + 3 * H})
    later = rule("entry.early_entry_findings", task={**task, "at_ms": END + 4 * H})
    bare = rule(
        "entry.early_entry_findings",
        task={**task, "at_ms": END + 4 * H, "has_ppe": False, "is_ventilation_met": False},
    )
    assert codes(early) == ["first_4_h"]
    assert later == []
    assert codes(bare) == ["not_ventilated", "no_ppe"]


def test_case_28_letters_of_5_mm() -> None:
    """40 CFR 170.409(b)(3): READ in the superseded WAC 296-307-12025."""
    found = rule(
        "signs.sign_size", width_mm=210, height_mm=297, heading_mm=25, letters_mm=5, circle_mm=80
    )

    assert found["size"] == "too_small"
    assert found["findings"][0]["context"]["least_letters_mm"] == pytest.approx(6.35)
