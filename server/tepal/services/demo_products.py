"""The demo's products: invented names and labels of real active ingredients.

The label uses and their ceilings are invented for the demo and say so in their note. A demo REI is
never shorter than the usual one for its a.i.; where that is known from stands beside each:
MSU = Michigan State University PGR guide, read (chlormequat chloride 12 h); GG = Greenhouse Grower
article on ethephon, read (48 h, eye protection); all others from memory.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

from tepal.services.demo_book import quantity as q

PPE: Final = "long sleeves, long trousers, shoes and socks, waterproof gloves"
INVENTED: Final = "Invented for the demo: no label says this."
_EYES: Final = "If in eyes: hold the eye open and rinse slowly for 15 to 20 minutes."
_SKIN: Final = "If on skin: rinse at once with plenty of water for 15 to 20 minutes."
# Crops of the demo; EPPO codes from memory, only where they are remembered with confidence.
EPPO: Final = {
    "Lantana": "LANCA", "Salvia": "SALSP", "Petunia": "PEUHY", "Poinsettia": "EPHPU",
    "Pansy": "VIOWI", "Kalanchoe": "KALBL",
}  # fmt: skip
CROPS: Final = (
    "Lantana", "Salvia", "Petunia", "Poinsettia", "Pansy", "Kalanchoe", "Pentas", "Calibrachoa",
    "Pot chrysanthemum", "Geranium", "Angelonia", "Hydrangea", "Coreopsis", "Tulip", "Easter lily",
    "Cyclamen",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Ceiling:
    """What the invented label allows in one method."""

    methods: tuple[str, ...]
    concentration: str | None = None
    per_container: str | None = None
    season: tuple[str, str] | None = None
    interval_d: int | None = None
    applications: int | None = None
    crops: tuple[str, ...] = CROPS

    def uses(self) -> list[dict[str, Any]]:
        """Return the label uses, one for each crop."""
        found: dict[str, Any] = {
            "sites": ["greenhouse", "hoop_house", "shade_house"], "methods": list(self.methods),
            "max_of": "ai", "note": INVENTED,
        }  # fmt: skip
        if self.concentration:
            found["max_concentration"] = q(self.concentration, "mg/L")
        if self.per_container:
            found["max_dose_container"] = q(self.per_container, "mg/{pot}")
        if self.season:
            found["max_season"] = q(*self.season)
        if self.interval_d:
            found["min_interval"] = q(self.interval_d, "d")
        if self.applications:
            found["max_applications"] = self.applications
        return [
            {"crop": crop, **({"crop_eppo": EPPO[crop]} if crop in EPPO else {}), **found}
            for crop in self.crops
        ]


def _product(
    name: str, number: str, form: str, ai: list[dict[str, Any]], rei_h: int, *ceilings: Ceiling,
    dry: bool = False, kind: str = "product", signal: str = "caution", **more: Any,
) -> dict[str, Any]:  # fmt: skip
    fields: dict[str, Any] = {
        "name": name, "country": "US", "kind": kind, "formulation_type": form,
        "physical_form": "dry" if dry else "liquid", "ingredients": ai, "signal_word": signal,
        "label_on": "2026-01-15", "ppe_mixing": PPE, "ppe_applying": PPE, "first_aid": _EYES,
        "maker_phone": "1-555-0100 (invented)",
        "uses": [use for ceiling in ceilings for use in ceiling.uses()],
        "early_entry_ppe": "coveralls, waterproof gloves, shoes and socks",
        "restricted_use": False, "hours_limited": False, "stage_limited": False,
    }  # fmt: skip
    if kind == "product":
        fields |= {"registration_number": number, "rei": q(rei_h, "h"), "tank_mixing": "allowed"}
    return {key: value for key, value in {**fields, **more}.items() if value not in (None, [])}


def _ai(name: str, strength: str, unit: str, basis: str | None = None) -> list[dict[str, Any]]:
    return [{"ai": name, "strength": q(strength, unit), **({"basis": basis} if basis else {})}]


PRODUCTS: Final[dict[str, dict[str, Any]]] = {
    # REI 12 h: MSU
    "stemwright": _product(
        "Stemwright SL", "99001-12", "SL", _ai("chlormequat chloride", "118", "g/L"), 12,
        Ceiling(("spray", "sprench"), "1500", interval_d=7, applications=6),
        signal="warning", first_aid=_SKIN, low_stock=q(2, "L"),
    ),
    # REI 24 h: from memory
    "halfpace": _product(
        "Halfpace SG", "99001-31", "SG", _ai("daminozide", "85", "%", "w_w"), 24,
        Ceiling(("spray",), "5000", interval_d=7), dry=True, low_stock=q(500, "g"),
    ),
    # REI 12 h: from memory
    "rootpost": _product(
        "Rootpost SC", "99001-44", "SC", _ai("paclobutrazol", "0.4", "%", "w_w"), 12,
        Ceiling(("spray",), "60", interval_d=7),
        Ceiling(("drench", "sprench"), "16", "0.5", ("1", "mg/{pot}"), 14),
        Ceiling(("liner_dip", "bulb_dip"), "100", applications=1),
        density=q("1.02", "g/mL"), use_within=q(24, "h"),
    ),
    # REI 12 h: from memory
    "tallcheck": _product(
        "Tallcheck SL", "99001-58", "SL", _ai("uniconazole", "0.05", "%", "w_v"), 12,
        Ceiling(("spray",), "25", interval_d=10),
        Ceiling(("drench", "liner_dip"), "5", "0.2", ("0.4", "mg/{pot}")),
    ),
    # REI 48 h, eye protection: GG
    "budwait": _product(
        "Budwait SL", "99001-63", "SL", _ai("ethephon", "3.9", "%", "w_v"), 48,
        Ceiling(("spray",), "1000", interval_d=14), signal="danger",
        ppe_mixing=f"{PPE}, protective eyewear", ppe_applying=f"{PPE}, protective eyewear",
        water_ph_max="5", double_notice=True,
    ),
    # REI 12 h: from memory
    "shortleaf": _product(
        "Shortleaf SL", "99001-70", "SL", _ai("ancymidol", "0.0264", "%", "w_v"), 12,
        Ceiling(("spray",), "100", interval_d=7),
        Ceiling(("drench",), "4", "0.3", ("0.5", "mg/{pot}")),
    ),
    # REI 12 h: from memory (4 h is usual)
    "longstep": _product(
        "Longstep SP", "99001-77", "SP", _ai("gibberellic acid", "20", "%", "w_w"), 12,
        Ceiling(("spray",), "25", crops=("Geranium", "Hydrangea", "Cyclamen", "Pansy")), dry=True,
    ),
    # REI 12 h: from memory
    "branchlight": _product(
        "Branchlight SL", "99001-81", "SL", _ai("benzyladenine", "2", "%", "w_v"), 12,
        Ceiling(("spray",), "600", interval_d=14),
    ),
    # REI 12 h: from memory
    "evenrow": _product(
        "Evenrow SC", "99001-86", "SC", _ai("flurprimidol", "0.38", "%", "w_v"), 12,
        Ceiling(("spray",), "40", interval_d=7), Ceiling(("drench", "bulb_dip"), "4", "0.3"),
    ),
    # REI 12 h: from memory
    "forkwise": _product(
        "Forkwise SL", "99001-90", "SL",
        _ai("dikegulac sodium", "1.66", "[lb_av]/[gal_us]"), 12,
        Ceiling(("spray",), "1600", applications=2),
    ),
    # REI 12 h: from memory
    "mothgate": _product(
        "Mothgate EC", "99001-104", "EC", _ai("pyrethrins", "1.4", "%", "w_v"), 12,
        Ceiling(("spray",), "40"), hours_limited=True, first_aid=_SKIN,
    ),
    # restricted-use, REI 12 h: from memory
    "wingfall": _product(
        "Wingfall EC", "99001-109", "EC", _ai("bifenthrin", "7.9", "%", "w_v"), 12,
        Ceiling(("spray",), "120", interval_d=14), restricted_use=True, respirator=True,
        signal="warning", ppe_mixing=f"{PPE}, respirator", ppe_applying=f"{PPE}, respirator",
    ),
    # REI 24 h: from memory
    "leafwarden": _product(
        "Leafwarden WP", "99001-117", "WP", _ai("mancozeb", "80", "%", "w_w"), 24,
        Ceiling(("spray",), "1500", interval_d=7, applications=8), dry=True,
    ),
    # REI 12 h: from memory
    "stillgrey": _product(
        "Stillgrey WG", "99001-121", "WG", _ai("fenhexamid", "50", "%", "w_w"), 12,
        Ceiling(("spray",), "1000", interval_d=7), dry=True,
    ),
    "filmlay": _product("Filmlay", "", "SL", [], 0, kind="adjuvant", first_aid=_EYES),
    "blank": _product("Rootpost SC blank", "", "SC", [], 0, kind="formulation_blank",
                      density=q("1.02", "g/mL")),
    "sourdrop": _product("Sourdrop", "", "SL", [], 0, kind="water_conditioner"),
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Mix:
    """A tank mix of the demo: what it is for, how, and on which crops the days use it."""

    name: str
    method: str
    purpose: str
    components: tuple[tuple[str, str, str], ...]
    ml_per_m2: str | None = None
    ml_per_pot: str | None = None
    crops: tuple[str, ...] = ()

    def fields(self, ids: dict[str, str]) -> dict[str, Any]:
        """Return the record's fields."""
        found: dict[str, Any] = {
            "name": self.name, "method": self.method, "purpose": self.purpose,
            "components": [
                {"product": ids[product], "target": q(value, unit)}
                for product, value, unit in self.components
            ],
        }  # fmt: skip
        if self.ml_per_m2:
            found["volume_per_area"] = q(self.ml_per_m2, "mL/m2")
        if self.ml_per_pot:
            found["volume_per_container"] = q(self.ml_per_pot, "mL/{pot}")
            found["extra"] = q(2, "L")
        return found


MIXES: Final[dict[str, Mix]] = {
    "mix1": Mix(
        "Height, bedding, second week", "spray", "shorter internodes",
        (("stemwright", "900", "mg/L"), ("halfpace", "1250", "mg/L")), "200",
        crops=("Lantana", "Salvia", "Petunia", "Pentas", "Angelonia"),
    ),
    "mix2": Mix(
        "Drench, one dose per pot", "drench", "compact habit, finished pots",
        (("rootpost", "0.25", "mg/{pot}"),), ml_per_pot="60",
        crops=("Poinsettia", "Pot chrysanthemum", "Kalanchoe"),
    ),
    "finished": Mix(
        "Finished pots, height hold", "spray", "hold height until shipping",
        (("stemwright", "1000", "mg/L"), ("tallcheck", "5", "mg/L")), "200",
        crops=("Poinsettia", "Geranium", "Hydrangea", "Pot chrysanthemum"),
    ),
    "branching": Mix(
        "Branching, after transplant", "spray", "more branches",
        (("branchlight", "300", "mg/L"),), "200",
        crops=("Coreopsis", "Calibrachoa", "Petunia"),
    ),
    "budhold": Mix(
        "Bud hold, young plants", "spray", "no early flowers",
        (("budwait", "500", "mg/L"),), "220", crops=("Lantana", "Angelonia", "Coreopsis"),
    ),
    "plughold": Mix(
        "Plug hold", "spray", "hold plugs one more week",
        (("shortleaf", "10", "mg/L"),), "180", crops=("Pansy", "Salvia"),
    ),
    "stretch": Mix(
        "Longer stems, late", "spray", "undo too much height control",
        (("longstep", "3", "mg/L"),), "200", crops=("Geranium", "Cyclamen"),
    ),
    "linerdip": Mix(
        "Liner dip, uniconazole", "liner_dip", "even liners",
        (("tallcheck", "1", "mg/L"),), ml_per_pot="30", crops=("Calibrachoa", "Pentas"),
    ),
    "bulbs": Mix(
        "Bulb drench, short stems", "drench", "short stems",
        (("evenrow", "0.1", "mg/{pot}"),), ml_per_pot="100", crops=("Tulip", "Easter lily"),
    ),
    "pinch": Mix(
        "Branching without a pinch", "spray", "more branches",
        (("forkwise", "800", "mg/L"),), "200", crops=("Hydrangea", "Lantana"),
    ),
    "aphids": Mix(
        "Whitefly, evening", "spray", "whitefly",
        (("mothgate", "28", "mg/L"), ("filmlay", "0.5", "mL/L")), "150",
        crops=("Poinsettia", "Geranium", "Petunia"),
    ),
    "mites": Mix(
        "Thrips, restricted use", "spray", "thrips",
        (("wingfall", "80", "mg/L"),), "150", crops=("Pot chrysanthemum", "Hydrangea"),
    ),
    "botrytis": Mix(
        "Leaf spots", "spray", "leaf spots",
        (("leafwarden", "1200", "mg/L"),), "150", crops=("Pansy", "Cyclamen", "Easter lily"),
    ),
    "grey": Mix(
        "Grey mould", "spray", "grey mould",
        (("stillgrey", "750", "mg/L"), ("filmlay", "0.5", "mL/L")), "150",
        crops=("Cyclamen", "Kalanchoe", "Geranium"),
    ),
}  # fmt: skip
