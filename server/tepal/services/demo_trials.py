"""The demo's trials: two finished, one under way, two from elsewhere; truth stands in their notes.

Invented. What was observed comes from the seeded simulator, so that an analysis can be held against
the truth. Makes acts, and saves nothing itself.
"""

from __future__ import annotations

from datetime import date, timedelta
from typing import TYPE_CHECKING, Any, Final

from tepal.designs.layouts import lay_out
from tepal.designs.simulator import TrueFlowering, TrueMeasurement, simulate
from tepal.designs.specs import DesignSpec, Treatment
from tepal.services.demo_trial_records import (
    OPERATOR,
    DemoAct,
    DemoTrial,
    assessment,
    contrast,
    measurement,
    quantity,
    trial_acts,
)
from tepal.services.demo_trials_elsewhere import trials_elsewhere
from tepal.services.server_acts import Act
from tepal.sync.ids import shared_id

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

DRENCH_SEED: Final = 20
FACTORIAL_SEED: Final = 34
RUNNING_SEED: Final = 55
# true differences from untreated in height, cm, by treatment: what an analysis is held against
FACTORIAL_TRUTH: Final = {2: -3.1, 3: -6.2, 4: -9.0, 5: 0.0, 6: -3.1, 7: -10.2}
RUNNING_TRUTH: Final = {2: 0.0, 3: -1.4, 4: -2.6}

_HEIGHT = measurement(
    "height", "Height", "From the pot rim to the highest leaf.", "cm", "continuous",
    ("2", "60"), 1, "lower",
)  # fmt: skip
_BRANCHES = measurement(
    "branches", "Branches", "Side shoots of 1 cm or more.", "", "count", ("0", "40"), 0, "higher"
)
_FLOWER = measurement(
    "flower", "First open flower", "The first flower that is fully open, on any branch.", "d",
    "days", ("0", "90"), 0, "lower",
)  # fmt: skip
_WIDTH = measurement(
    "width", "Width", "Widest spread of the leaves, seen from above.", "cm", "continuous",
    ("2", "60"), 1, "none",
)  # fmt: skip


def demo_trials(
    ids: Mapping[str, str], new_id: Callable[[], str], today: date, manager: str
) -> list[DemoAct]:
    """Return the acts that make the demo's trials with all that belongs to them.

    Parameters
    ----------
    ids : name -> id of the demo's other records; a product `tallcheck` is made where it lacks one
    new_id : gives fresh ids
    today : the finished trials lie before it, the one under way around it
    manager : who enters what a grower would
    """
    known = dict(ids)
    new = [
        name for name in ("tallcheck", "tallcheck_blank", "spreader", "permit") if name not in known
    ]
    known |= {name: new_id() for name in new}
    began = today - timedelta(days=70)
    acts = [DemoAct(began, act) for act in _registers(known, new, manager)]
    for trial in (_drench(today), _factorial(today), _running(today)):
        acts += trial_acts(trial, known, new_id, manager)
    acts += trials_elsewhere(new_id, today, manager)
    return [*acts, *_heights(known, today)]


# an ordinary lot of the whole demo, watched every week: it left its lines in the last two
_WATCHED: Final = "3·01"
_WEEKLY_CM: Final = ("9.4", "11.0", "13.6", "16.9", "20.4", "23.6", "27.1", "31.0", "34.6", "38.2")


def _heights(ids: Mapping[str, str], today: date) -> list[DemoAct]:
    lot = ids.get(_WATCHED)
    if lot is None:
        return []
    acts = []
    for week, height in enumerate(_WEEKLY_CM):
        on = today - timedelta(days=3 + 7 * (len(_WEEKLY_CM) - 1 - week))
        fields = {"lot": lot, "assessment": on.isoformat(), "plant": 0, "m_height": height}
        record = shared_id("lot", lot, on.isoformat())
        acts.append(DemoAct(on, Act("observation", record, "create", ids[OPERATOR], fields)))
    return acts


def _registers(ids: Mapping[str, str], new: Sequence[str], manager: str) -> list[Act]:
    """Return the products that the demo lacks, and the permit for the formulation blank."""
    ppe = "long sleeves, long trousers, shoes and socks, waterproof gloves"
    common = {"country": "US", "ppe_mixing": ppe, "ppe_applying": ppe, "label_on": "2026-01-15"}
    rows: dict[str, dict[str, Any]] = {
        "tallcheck": {
            "name": "Tallcheck SL", "registration_number": "99001-58", "kind": "product",
            "physical_form": "liquid", "formulation_type": "SL", "signal_word": "caution",
            "ingredients": [
                {"ai": "uniconazole", "strength": quantity("0.05", "%"), "basis": "w_v"}
            ],
            "rei": quantity("12", "h"), **common,
            "first_aid": "If swallowed: call a poison center at once.",
        },
        "tallcheck_blank": {
            "name": "Tallcheck SL without a.i.", "kind": "formulation_blank",
            "physical_form": "liquid", "formulation_type": "SL", **common,
        },
        "spreader": {
            "name": "Wetleaf 90", "kind": "adjuvant", "physical_form": "liquid",
            "rei": quantity("12", "h"), **common,
        },
    }  # fmt: skip
    acts = [
        Act("product", ids[name], "create", manager, fields)
        for name, fields in rows.items()
        if name in new
    ]
    permit = {
        "number": "EX-2026-14 (invented)", "sort": "exemption",
        "products": [ids["tallcheck_blank"], ids["tallcheck"]], "crops": "Lantana",
        "valid_from": "2026-01-01", "valid_to": "2027-12-31", "responsible": ids["Dinh Thorne"],
        "crop_fate": "destroy", "rei": quantity("12", "h"), "rei_source": "label of Tallcheck SL",
        "note": "For the formulation blank, which no label names.",
    }  # fmt: skip
    return [*acts, Act("permit", ids["permit"], "create", manager, permit)]


def drench_truth() -> tuple[TrueMeasurement, TrueMeasurement, TrueFlowering]:
    """Return the true effects on height, branches and first flower behind the drench trial."""
    at_44 = {3: -2.8, 4: -4.8, 5: -8.3, 6: -12.5}
    height = TrueMeasurement(
        "height", "continuous", ((0, 9.0), (22, 20.0), (44, 31.2)),
        tuple((t, ((22, e * 0.6), (44, e))) for t, e in at_44.items()),
        block_sd=0.9, plot_sd=0.9, plant_sd=1.2, look_sd=0.3,
    )  # fmt: skip
    branches = TrueMeasurement(
        "branches", "count", ((44, 6.0),),
        ((4, ((44, 1.15),)), (5, ((44, 1.3),)), (6, ((44, 1.3),))),
        block_sd=0.05, plot_sd=0.08, plant_sd=0.1,
    )  # fmt: skip
    flowering = TrueFlowering(
        "flower", 42.0, ((4, 1.0), (5, 3.0), (6, 6.0)), 0.6, 0.7, 2.0, tuple(range(34, 49))
    )
    return height, branches, flowering


def _drench(today: date) -> DemoTrial:
    """Return paclobutrazol drenches on salvia: water and untreated beside four rates."""
    rates = ("", "", "0.5", "1", "2", "4")
    names = ("untreated", "water drench", "0.5 mg/L", "1 mg/L", "2 mg/L", "4 mg/L")
    roles = ("untreated", "water", "rate", "rate", "rate", "rate")
    height, branches, flowering = drench_truth()
    layout = lay_out(_spec("randomised_complete_block", names, 6, 3), DRENCH_SEED)
    lost = {17: 30}
    day_zero = today - timedelta(days=64)
    return DemoTrial(
        layout=layout,
        found=simulate(layout.plots, 3, (height, branches), DRENCH_SEED, flowering, lost),
        lost=lost,
        lost_why="knocked off the bench",
        excluded=(5, 2, "broken by the hose on day 20"),
        day_zero=day_zero,
        method="drench",
        bench="bench3",
        lot="lot2",
        mixes={
            n: [("rootpost", quantity(rate, "mg/L"))]
            for n, rate in enumerate(rates, start=1)
            if rate
        },
        fields={
            "code": "T07", "title": "Drench rates on potted salvia",
            "question": "Which drench keeps salvia near 25 cm, and what does it cost in days?",
            "treatments": [
                {
                    "number": n, "name": name, "role": role,
                    **({"rate": rate, "rate_unit": "mg/L"} if rate else {}),
                }
                for n, (name, role, rate) in enumerate(
                    zip(names, roles, rates, strict=True), start=1
                )
            ],
            "control": 1, "unit": "pot", "treated_how": "each_unit_alone",
            "treated_words": "Each group of three pots was drenched by itself, 60 mL a pot.",
            "design": "rcbd", "blocks_are": "two rows each, door to fan", "n_blocks": 6,
            "plants_per_plot": 3, "plot_area": {"value": "0.09", "unit": "m2"},
            "blinded": True, "primary_response": "height",
            "measurements": [_HEIGHT, _BRANCHES, _FLOWER], "covariate": "height",
            "assessments": [
                assessment("a0", "Before treatment", 0, ("height",), window=1),
                assessment("a22", "22 days", 22, ("height",), window=2),
                assessment("a44", "44 days", 44, ("height", "branches"), window=2),
                assessment("round", "First flowers", 34, ("flower",), until=48),
            ],
            "comparison": "dunnett", "two_sided": True, "alpha": "0.05",
            "contrasts": [
                contrast(
                    "the four rates together against untreated",
                    {1: "-4", 3: "1", 4: "1", 5: "1", 6: "1"},
                ),
                contrast("water alone against untreated", {1: "-1", 2: "1"}),
            ],
            "wanted_value": "25", "cv": quantity("6", "%"),
            "difference_worth": quantity("10", "%"), "power": "0.8",
            "prices": {
                "currency": "USD", "bench_day": "0.004", "labour_saved": "0.06",
                "plant_value": "0.10", "treatment_cost": "0.02",
            },
            "phase": "finished", "finished_on": (day_zero + timedelta(days=49)).isoformat(),
            "demo_notes": (
                "Invented. True height on day 44, untreated 31.2 cm: 0.5 mg/L -2.8, 1 mg/L -4.8, "
                "2 mg/L -8.3, 4 mg/L -12.5 cm; on day 22 0.6 of that; water 0. Branches 6.0 times "
                "1.15 at 1 mg/L and 1.3 at 2 and 4 mg/L. First flower on day 42, 1, 3 and 6 days "
                "later at 1, 2 and 4 mg/L. SD of blocks 0.9, plots 0.9, plants 1.2 cm. Plot 305 "
                f"lost on day 30. Seed {DRENCH_SEED}."
            ),
        },
    )  # fmt: skip


def _factorial(today: date) -> DemoTrial:
    """Return chlormequat chloride x uniconazole with a formulation blank and an adjuvant."""
    rows = (
        ("untreated", "untreated", ("0", "0"), None, ()),
        ("chlormequat chloride 1000 mg/L", "partner", ("1000 mg/L", "0"), None, ("c",)),
        ("uniconazole 10 mg/L", "partner", ("0", "10 mg/L"), None, ("u",)),
        ("both", "mix", ("1000 mg/L", "10 mg/L"), None, ("c", "u")),
        ("formulation blank of 3", "blank", None, 3, ("b",)),
        ("2 with the blank of 3", "blank", None, 4, ("c", "b")),
        ("both with adjuvant", "other", None, None, ("c", "u", "a")),
    )
    parts = {
        "c": ("stemwright", quantity("1000", "mg/L")),
        "u": ("tallcheck", quantity("10", "mg/L")),
        "b": ("tallcheck_blank", quantity("20", "mL/L")),
        "a": ("spreader", quantity("0.5", "mL/L")),
    }
    height = TrueMeasurement(
        "height", "continuous", ((0, 12.0), (28, 27.5)),
        tuple((t, ((28, e),)) for t, e in FACTORIAL_TRUTH.items()),
        block_sd=0.8, plot_sd=0.7, plant_sd=0.9, look_sd=0.2,
    )  # fmt: skip
    width = TrueMeasurement(
        "width", "continuous", ((28, 24.0),),
        tuple((t, ((28, e * 0.3),)) for t, e in FACTORIAL_TRUTH.items()),
        block_sd=0.6, plot_sd=0.6, plant_sd=1.0,
    )  # fmt: skip
    names = tuple(row[0] for row in rows)
    layout = lay_out(_spec("randomised_complete_block", names, 5, 2), FACTORIAL_SEED)
    day_zero = today - timedelta(days=41)
    factors = ("chlormequat chloride", "uniconazole")
    return DemoTrial(
        layout=layout,
        found=simulate(layout.plots, 2, (height, width), FACTORIAL_SEED),
        day_zero=day_zero,
        method="spray",
        bench="bench2",
        lot="lot1",
        mixes={n: [parts[x] for x in row[4]] for n, row in enumerate(rows, start=1) if row[4]},
        fields={
            "code": "T08", "title": "Two retardants together on finished lantana",
            "question": "Do chlormequat chloride and uniconazole do more together than each alone?",
            "permit": "@permit", "responsible": "@Dinh Thorne",
            "treatments": [
                {
                    "number": n, "name": name, "role": role,
                    **({"blank_of": of} if of else {}),
                    **(
                        {
                            "levels": [
                                {"factor": f, "level": level}
                                for f, level in zip(factors, levels, strict=True)
                            ]
                        }
                        if levels
                        else {}
                    ),
                }
                for n, (name, role, levels, of, _) in enumerate(rows, start=1)
            ],
            "factors": list(factors), "control": 1, "unit": "pot",
            "treated_how": "shared_pass",
            "treated_words": "The pots of a treatment were set together, sprayed in one pass, and "
            "put back in their own places.",
            "design": "rcbd", "blocks_are": "one row each", "n_blocks": 5, "plants_per_plot": 2,
            "plot_area": {"value": "0.12", "unit": "m2"},
            "blinded": False, "primary_response": "height", "covariate": "height",
            "measurements": [_HEIGHT, _WIDTH],
            "assessments": [
                assessment("a0", "Before treatment", 0, ("height",), window=1),
                assessment("a28", "Four weeks", 28, ("height", "width"), window=2),
            ],
            "comparison": "dunnett", "two_sided": True, "alpha": "0.05",
            "contrasts": [contrast("what the adjuvant adds to both", {4: "-1", 7: "1"})],
            "interaction_scale": "multiplicative", "cv": quantity("5", "%"),
            "difference_worth": quantity("10", "%"), "power": "0.8",
            "phase": "finished", "finished_on": (day_zero + timedelta(days=29)).isoformat(),
            "demo_notes": (
                "Invented. True height on day 28, untreated 27.5 cm: chlormequat chloride -3.1, "
                "uniconazole -6.2, both -9.0 (product of the ratios would be -8.6), formulation "
                "blank 0, chlormequat chloride with the blank -3.1, both with adjuvant -10.2 cm. "
                f"Width 24.0 cm, 0.3 of the height's effects. Seed {FACTORIAL_SEED}."
            ),
        },
    )  # fmt: skip


def _running(today: date) -> DemoTrial:
    """Return a small trial under way: its second assessment is half-way through the third block."""
    names = ("untreated", "water spray", "daminozide 2500 mg/L", "daminozide 5000 mg/L")
    rates = ("", "", "2500", "5000")
    roles = ("untreated", "water", "rate", "rate")
    height = TrueMeasurement(
        "height", "continuous", ((0, 7.5), (14, 13.0)),
        tuple((t, ((14, e),)) for t, e in RUNNING_TRUTH.items()),
        block_sd=0.5, plot_sd=0.5, plant_sd=0.6,
    )  # fmt: skip
    width = TrueMeasurement("width", "continuous", ((14, 14.0),), (), 0.4, 0.4, 0.8)
    layout = lay_out(_spec("randomised_complete_block", names, 4, 2), RUNNING_SEED)
    return DemoTrial(
        layout=layout,
        found=simulate(layout.plots, 2, (height, width), RUNNING_SEED),
        done_until=(14, 10),
        day_zero=today - timedelta(days=14),
        method="spray",
        bench="bench1",
        lot="lot1",
        mixes={
            n: [("halfpace", quantity(rate, "mg/L"))]
            for n, rate in enumerate(rates, start=1)
            if rate
        },
        fields={
            "code": "T09", "title": "Daminozide before transplant, lantana",
            "question": "Is 2500 mg/L enough to hold liners for two weeks?",
            "treatments": [
                {
                    "number": n, "name": name, "role": role,
                    **({"rate": rate, "rate_unit": "mg/L"} if rate else {}),
                }
                for n, (name, role, rate) in enumerate(
                    zip(names, roles, rates, strict=True), start=1
                )
            ],
            "control": 1, "unit": "tray", "treated_how": "each_unit_alone",
            "treated_words": "Each tray was carried out, sprayed, and put back when dry.",
            "design": "rcbd", "blocks_are": "one row each", "n_blocks": 4, "plants_per_plot": 2,
            "plot_area": {"value": "0.2", "unit": "m2"},
            "blinded": False, "primary_response": "height", "measurements": [_HEIGHT, _WIDTH],
            "assessments": [
                assessment("a0", "Before treatment", 0, ("height",), window=1),
                assessment("a14", "Two weeks", 14, ("height", "width"), window=2),
                assessment("a28", "Four weeks", 28, ("height", "width"), window=2),
            ],
            "comparison": "dunnett", "two_sided": True, "alpha": "0.05",
            "phase": "running",
            "demo_notes": (
                "Invented. True height on day 14, untreated 13.0 cm: 2500 mg/L -1.4, 5000 mg/L "
                f"-2.6 cm, water 0. Seed {RUNNING_SEED}."
            ),
        },
    )  # fmt: skip


def _spec(kind: Any, names: tuple[str, ...], n_blocks: int, plants: int) -> DesignSpec:
    treatments = tuple(Treatment(n, name) for n, name in enumerate(names, start=1))
    return DesignSpec(kind, treatments, n_blocks, plants)
