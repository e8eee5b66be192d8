"""Seeded random cases for the pure functions, good and bad, for comparing both languages.

Only the standard library's `random.Random(seed)` is used, whose `random()` stream is stable between
Python versions. The cases hold inputs only; there is no expected value.
"""

from __future__ import annotations

import copy
import random
from typing import Any

from tepal.domain.units import UNITS

Case = dict[str, Any]

FORMATS = (
    {"decimal": ".", "thousands": ","},
    {"decimal": ",", "thousands": "."},
    {"decimal": ",", "thousands": " "},
    {"decimal": ".", "thousands": "'"},
    {"decimal": ".", "thousands": ""},
)
BAD_NUMBERS = (0, -1, -0.0, 1e308, 5e-324, None, "12", True)
JUNK: tuple[Any, ...] = (
    None,
    "",
    "x",
    7,
    True,
    [],
    {},
    [1],
    {"value": "1", "unit": []},
    {"value": 5, "unit": "L"},
)

# function -> (low, high) of each argument, drawn on a logarithmic scale
SMALL: dict[str, dict[str, tuple[float, float]]] = {
    "strength.g_per_l_from_w_w": {"strength_pct_w_w": (0.01, 120), "density": (0.4, 2.6)},
    "strength.g_per_l_from_w_v": {"strength_pct_w_v": (0.01, 120)},
    "strength.g_per_l_from_lb_per_gal": {"strength_lb_per_gal": (0.001, 20)},
    "strength.mg_per_g_from_w_w": {"strength_pct_w_w": (0.01, 120)},
    "strength.density_from_w_w_and_w_v": {"strength_pct_w_w": (1, 90), "strength_pct_w_v": (1, 90)},
    "dilution.product_ml": {
        "target_mg_per_l": (0.01, 20000),
        "final_l": (0.01, 5000),
        "strength_g_per_l": (0.1, 800),
    },
    "dilution.product_g": {
        "target_mg_per_l": (0.01, 20000),
        "final_l": (0.01, 5000),
        "strength_mg_per_g": (0.1, 1200),
    },
    "dilution.concentration_mg_per_l": {
        "amount_ml": (0.001, 5000),
        "strength_g_per_l": (0.1, 800),
        "final_l": (0.1, 5000),
    },
    "dilution.concentration_dry_mg_per_l": {
        "amount_g": (0.001, 5000),
        "strength_mg_per_g": (0.1, 1000),
        "final_l": (0.1, 5000),
    },
    "dilution.implied_strength_g_per_l": {
        "target_mg_per_l": (0.01, 20000),
        "final_l": (0.1, 5000),
        "amount_ml": (0.001, 5000),
    },
    "dilution.stock_volume_ml": {
        "target_mg_per_l": (0.01, 20000),
        "final_l": (0.1, 5000),
        "stock_mg_per_ml": (0.01, 100),
    },
    "dilution.diluted_amount": {
        "wanted_pct": (0.01, 50),
        "total": (0.1, 500),
        "source_pct": (0.1, 99),
    },
    "dilution.adjuvant_ml": {"pct_v_v": (0.001, 110), "final_l": (0.1, 5000)},
    "dilution.scaled_amount": {
        "base_amount": (0.01, 500),
        "base_volume": (0.1, 500),
        "volume": (0.1, 500),
    },
    "dilution.added_to_full_volume_mg_per_l": {
        "target_mg_per_l": (0.01, 20000),
        "amount_ml_per_l": (0.001, 500),
    },
    "dilution.cost_per_mg": {"price_per_l": (1, 5000), "strength_g_per_l": (0.1, 800)},
    "dilution.cost_per_item": {"price_per_mg": (0.0001, 5), "mg_per_item": (0.001, 50)},
    "doses.mg_per_item": {"mg_per_l": (0.01, 5000), "ml_per_item": (1, 2000)},
    "doses.mg_per_l_for_item": {"mg": (0.001, 50), "ml_per_item": (1, 2000)},
    "doses.ml_per_item_for_dose": {"mg": (0.001, 50), "mg_per_l": (0.01, 5000)},
    "doses.mg_per_m2": {"mg_per_l": (0.01, 5000), "ml_per_m2": (10, 2000)},
    "doses.mg_per_l_for_m2": {"mg": (0.001, 5000), "ml_per_m2": (10, 2000)},
    "doses.area_volume_l": {"area_m2": (0.1, 9000), "ml_per_m2": (10, 2000)},
    "doses.items_per_l": {"ml_per_item": (1, 2000)},
    "doses.items_from_volume": {"volume_l": (0.1, 500), "ml_per_item": (1, 2000)},
    "injector.injector_meaning_difference": {"ratio": (0.5, 20000)},
    "injector.injector_pct": {"ratio": (1, 10000)},
    "injector.stock_mg_per_l": {"target_mg_per_l": (0.01, 5000), "factor": (1, 500)},
    "injector.stock_product_ml": {
        "target_mg_per_l": (0.01, 500),
        "factor": (1, 500),
        "stock_l": (0.1, 500),
        "strength_g_per_l": (1, 500),
    },
    "injector.stock_dry_g": {
        "target_mg_per_l": (0.01, 500),
        "factor": (1, 500),
        "stock_l": (0.1, 500),
        "strength_mg_per_g": (1, 1000),
    },
    "injector.injector_flow_ratio": {"diluted_l": (1, 500), "stock_drawn_l": (0.01, 5)},
    "injector.net_ec_ms_per_cm": {"ec_out": (0.1, 5), "ec_water": (0.01, 2)},
    "injector.injector_ec_deviation_pct": {
        "ec_out": (0.1, 5),
        "ec_water": (0.01, 2),
        "ec_chart": (0.1, 5),
    },
    "leftover.left_in_tank_l": {"mixed_l": (1, 500), "used_l": (0.1, 500)},
    "leftover.used_deviation_pct": {"planned_l": (1, 500), "used_l": (0.1, 500)},
    "calibration.flow_ml_per_min": {"catch_ml": (1, 5000), "seconds": (1, 300)},
    "calibration.speed_m_per_min": {"distance_m": (1, 500), "seconds": (1, 900)},
    "calibration.plot_rate_ml_per_m2": {"catch_ml": (1, 9000), "plot_m2": (1, 500)},
    "calibration.acre_128_length_m": {"swath_m": (0.1, 10)},
    "calibration.area_rate_ml_per_m2": {
        "ml_per_min": (10, 90000),
        "m_per_min": (1, 200),
        "swath_m": (0.1, 10),
    },
    "calibration.walked_rate_ml_per_m2": {
        "ml_per_min": (10, 90000),
        "minutes": (0.1, 60),
        "area_m2": (1, 900),
    },
    "calibration.coverage_m2": {"tank_l": (1, 900), "ml_per_m2": (10, 2000)},
    "growth.growth_index_mean2": {"height": (1, 90), "width_1": (1, 90), "width_2": (1, 90)},
    "growth.growth_index_mean3": {"height": (1, 90), "width_1": (1, 90), "width_2": (1, 90)},
    "growth.growth_index_sum": {"height": (1, 90), "width_1": (1, 90), "width_2": (1, 90)},
    "growth.reduction_pct": {"control": (1, 90), "treated": (1, 90)},
    "growth.reduction_pct_from_control_pct": {"treated_pct_of_control": (1, 150)},
    "slips.likely_slip": {"ratio": (0.0005, 2000)},
    "loads.tank_loads": {"volume_l": (0.1, 5000), "capacity_l": (1, 500)},
}

# exp occurs: the languages differ in the last digits
WITH_EXP: dict[str, dict[str, tuple[float, float]]] = {
    "air.svp_kpa": {"temperature_c": (0.1, 65)},
    "air.mean_svp_kpa": {"min_c": (0.1, 30), "max_c": (5, 60)},
    "air.vapour_pressure_kpa": {"temperature_c": (0.1, 60), "rh_pct": (1, 105)},
    "air.vapour_pressure_daily_kpa": {
        "min_c": (0.1, 30),
        "max_c": (5, 60),
        "rh_max_pct": (30, 100),
        "rh_min_pct": (5, 90),
    },
    "air.vapour_pressure_from_mean_rh_kpa": {
        "min_c": (0.1, 30),
        "max_c": (5, 60),
        "rh_mean_pct": (5, 100),
    },
    "air.vpd_kpa": {"temperature_c": (0.1, 60), "rh_pct": (1, 105)},
    "air.leaf_vpd_kpa": {"leaf_c": (0.1, 60), "air_c": (0.1, 60), "rh_pct": (1, 105)},
}


class Maker:
    """Draws cases from one seed."""

    def __init__(self, seed: int) -> None:
        self.random = random.Random(seed)

    def pick(self, items: Any) -> Any:
        """Return one of the items."""
        return items[int(self.random.random() * len(items))]

    def log_number(self, low: float, high: float) -> float:
        """Return a number between two bounds, small ones as likely as large ones."""
        number: float = low * (high / low) ** self.random.random()
        # Half of what people type has few digits.
        if self.random.random() < 0.5:
            number = float(f"{number:.3g}")
        return number

    def whole(self, low: int, high: int) -> int:
        """Return a whole number between two bounds, both included."""
        return low + int(self.random.random() * (high - low + 1))

    def text(self, low: float, high: float) -> str:
        """Return a decimal text as a record stores it."""
        number = self.log_number(low, high)
        return f"{number:.{self.whole(0, 4)}f}" if number >= 1 else f"{number:.6f}"

    def quantity(self, unit: str, low: float, high: float) -> dict[str, str]:
        """Return a typed quantity, once in 60 with something wrong."""
        if self.random.random() < 1 / 60:
            value = self.pick(["0", "-3", "1,5", "1e3", "", "12 mL"])
            return {"value": value, "unit": self.pick([unit, "parsec", "mL", "g"])}
        return {"value": self.text(low, high), "unit": unit}

    def volume(self, low_ml: float, high_ml: float) -> dict[str, str]:
        """Return a volume in one of the units people use."""
        unit = self.pick(["mL", "L", "[gal_us]", "[foz_us]", "[qt_us]"])
        factor = UNITS[unit].numerator / UNITS[unit].denominator
        return self.quantity(unit, low_ml / factor, high_ml / factor)

    def product(self, kind: str, number: int) -> dict[str, Any]:
        """Return a product's record."""
        is_dry = self.random.random() < 0.4
        product: dict[str, Any] = {
            "id": f"p{number}",
            "name": f"Product {number}",
            "kind": kind,
            "physical_form": "dry" if is_dry else "liquid",
            "formulation_type": self.pick(["WP", "SG", "SC", "EC", "SL", "XX", None]),
        }
        if not is_dry and self.random.random() < 0.6:
            product["density"] = self.quantity("g/mL", 0.8, 1.4)
        if self.random.random() < 0.3:
            product["water_ph_min"] = self.pick(["4", "5.5"])
            product["water_ph_max"] = self.pick(["6", "7"])
        if self.random.random() < 0.3:
            product["use_within"] = self.quantity(self.pick(["h", "min", "d"]), 1, 90)
        if kind in {"adjuvant", "formulation_blank", "water_conditioner"}:
            return product
        product["ingredients"] = [
            self.ingredient(f"ai {number}{letter}", is_dry)
            for letter in self.pick(["a", "a", "a", "ab"])
        ]
        if self.random.random() < 0.1:
            first = product["ingredients"][0]
            product["ingredients"] = [
                {**first, "expressed_as": "salt"},
                {**first, "expressed_as": "acid_equivalent"},
            ]
        return product

    def ingredient(self, name: str, is_dry: bool) -> dict[str, Any]:
        """Return one active ingredient with its strength on some basis."""
        if is_dry or self.random.random() < 0.5:
            return {
                "ai": name,
                "strength": self.quantity("%", 0.4, 90 if is_dry else 45),
                "basis": "w_w" if is_dry else self.pick(["w_w", "w_v", "w_v", None]),
            }
        unit = self.pick(["g/L", "[lb_av]/[gal_us]", "g/kg"])
        high = 3.0 if unit == "[lb_av]/[gal_us]" else 400.0
        return {"ai": name, "strength": self.quantity(unit, high / 100, high)}

    def component(self, number: int) -> dict[str, Any]:
        """Return one partner of a mix."""
        kind = self.pick(["product"] * 5 + ["adjuvant", "water_conditioner"])
        product = self.product(kind, number)
        component: dict[str, Any] = {"id": f"c{number}", "product": product}
        if kind == "product":
            if self.random.random() < 0.85:
                component["target"] = self.quantity("mg/L", 1, 3000)
            else:
                component["target"] = self.quantity(self.pick(["mg/{pot}", "mg/m2"]), 0.05, 50)
            ais = [one["ai"] for one in product["ingredients"]]
            if len(set(ais)) > 1 and self.random.random() < 0.9:
                component["target_ai"] = ais[0]
            if len(ais) > len(set(ais)) and self.random.random() < 0.9:
                component["target_expressed_as"] = "salt"
        elif product["physical_form"] == "liquid":
            component["target"] = self.quantity(self.pick(["%", "mL/L"]), 0.02, 2)
        else:
            component["target"] = self.quantity("g/L", 0.1, 5)
        if self.random.random() < 0.1:
            component["stated_per_l"] = self.quantity(
                "g/L" if product["physical_form"] == "dry" else "mL/L", 0.1, 20
            )
        return component

    def line(self, number: int, shared: dict[str, str]) -> dict[str, Any]:
        """Return one line of an application."""
        line: dict[str, Any] = {
            "id": f"l{number}",
            "bench": f"B{number}",
            "lot": self.pick(["26-1", "26-2", "26-3", None]),
        }
        way = self.random.random()
        if way < 0.5:
            unit = self.pick(["m2", "[sft_i]"])
            line["area"] = self.quantity(unit, 5, 500)
            line["volume_per_area"] = shared
        elif way < 0.8:
            line["n_containers"] = self.whole(1, 4000)
            line["volume_per_container"] = self.volume(20, 500)
        else:
            line["volume"] = self.volume(500, 90000)
        if self.random.random() < 0.5:
            line["n_plants"] = self.whole(1, 9000)
        return line

    def instruments(self) -> list[dict[str, Any]]:
        """Return the measures of a house."""
        every = [
            ("cylinder 25 mL", "mL", "0.5", "25"),
            ("cylinder 100 mL", "mL", "1", "100"),
            ("cylinder 1 L", "mL", "10", "1000"),
            ("syringe 1 mL", "mL", "0.01", "1"),
            ("syringe 5 mL", "mL", "0.2", "5"),
            ("cup", "[foz_us]", "0.25", "16"),
            ("balance", "g", "0.1", "500"),
            ("fine balance", "g", "0.01", "100"),
            ("scale", "[oz_av]", "0.05", "80"),
        ]
        return [
            {
                "id": f"i{number}",
                "name": name,
                "resolution": {"value": resolution, "unit": unit},
                "capacity": {"value": capacity, "unit": unit},
            }
            for number, (name, unit, resolution, capacity) in enumerate(every)
            if self.random.random() < 0.7
        ]

    def request(self) -> dict[str, Any]:
        """Return one request for a tank plan."""
        components = [self.component(number) for number in range(self.whole(1, 4))]
        if self.random.random() < 0.2:
            components.append(
                {"id": "blank", "product": self.product("formulation_blank", 9), "matches": "c0"}
            )
        shared = self.quantity(self.pick(["mL/m2", "[qt_us]/(100.[sft_i])"]), 1, 8)
        request: dict[str, Any] = {
            "method": self.pick(["spray", "sprench", "drench", "bulb_dip", "injector"]),
            "number_format": dict(self.pick(FORMATS)),
            "components": components,
            "lines": [self.line(number, shared) for number in range(self.whole(1, 4))],
            "tank": {"capacity": self.volume(4000, 400000)},
            "instruments": self.instruments(),
        }
        if self.random.random() < 0.5:
            request["extra"] = self.pick(
                [{"value": "5", "unit": "%"}, {"value": "1.5", "unit": "L"}]
            )
        if request["method"] == "injector" and self.random.random() < 0.9:
            request["injector"] = {
                "ratio": self.pick(["100", "15", "64"]),
                "meaning": self.pick(["part_in_total", "part_to_water", None]),
            }
        if self.random.random() < 0.4:
            request["season"] = [
                {"lot": "26-1", "ai": "ai 0a", "amount": self.quantity("mg/m2", 1, 900)}
            ]
        if self.random.random() < 0.4:
            request["water"] = {"ph": self.pick(["4.8", "6.5", "8.1"])}
        if self.random.random() < 0.3:
            request["incompatible_pairs"] = [{"a": "p0", "b": "ai 1a", "source": "register"}]
        if self.random.random() < 0.3:
            request["jar_tests"] = [{"products": ["p0", "p1"], "result": "compatible"}]
        if self.random.random() < 0.15:
            self.spoil(request)
        return request

    def spoil(self, record: Any) -> None:
        """Put junk in one place of a record, however deep."""
        keys = list(record) if isinstance(record, dict) else list(range(len(record)))
        if not keys:
            return
        key = self.pick(keys)
        if isinstance(record[key], (dict, list)) and self.random.random() < 0.8:
            self.spoil(record[key])
        else:
            record[key] = copy.deepcopy(self.pick(JUNK))

    def calibration(self) -> dict[str, Any]:
        """Return one calibration record."""
        catches = [self.quantity("mL", 80, 130) for _ in range(self.whole(1, 5))]
        record: dict[str, Any] = {
            "method": self.pick(["plot", "acre_128", "area_rate", "boom", "bench_walk", "other"]),
            "used": self.volume(100, 3000),
            "plot_area": self.quantity("[sft_i]", 100, 900),
            "catches": catches,
            "catch_time": self.quantity("s", 10, 60),
            "spacing": self.quantity("[in_i]", 10, 40),
            "swath": self.quantity("m", 0.5, 3),
            "walk_time": self.quantity("min", 1, 20),
            "area": self.quantity("m2", 10, 90),
        }
        if self.random.random() < 0.5:
            record["speed"] = self.quantity("km/h", 1, 6)
        else:
            record["course"] = self.quantity("[ft_i]", 50, 300)
            record["course_time"] = self.quantity("s", 10, 90)
        return record

    def typed_number(self) -> str:
        """Return what someone may type or paste into a number field."""
        number = self.log_number(0.001, 5000000)
        plain = f"{number:.{self.whole(0, 3)}f}"
        grouped = f"{number:,.{self.whole(0, 2)}f}"
        swapped = grouped.translate(str.maketrans(",.", ".,"))
        spaced = grouped.replace(",", self.pick([" ", "\u00a0", "\u202f"]))
        return str(
            self.pick(
                [
                    plain,
                    plain.replace(".", ","),
                    grouped,
                    swapped,
                    spaced,
                    f"-{plain}",
                    f" {plain} ",
                    f"{plain} mL",
                    f"{number:e}",
                    "",
                    ".",
                    "1..2",
                    plain.replace("0", "O"),
                    "٣",
                ]
            )
        )

    def maybe(self, value: Any, chance: float = 0.8) -> Any:
        """Return the value, or None as a field that nobody filled."""
        return value if self.random.random() < chance else None

    def moment(self) -> dict[str, Any]:
        """Return a moment of three days in May, on whole minutes."""
        minute = self.whole(0, 59)
        local = f"2026-05-0{self.whole(3, 5)}T{self.whole(0, 23):02d}:{minute:02d}:00"
        return {"local": local, "offset_min": self.pick([-240, -240, 120, 630]), "zone": "Etc/UTC"}

    def day(self) -> str:
        """Return a day in spring."""
        return f"2026-0{self.whole(3, 5)}-{self.whole(1, 30):02d}"

    def restriction(self) -> dict[str, Any]:
        """Return one restriction with spells of ventilation."""
        spells = [
            {
                "sort": self.pick(["mechanical", "passive", "closed"]),
                "began_at": self.moment(),
                "ended_at": self.maybe(self.moment(), 0.5),
                "air_exchanges": self.maybe(self.text(0.5, 12), 0.3),
            }
            for _ in range(self.whole(0, 4))
        ]
        return {
            "started_at": self.moment(),
            "ended_at": self.maybe(self.moment()),
            "rei": self.maybe(self.quantity("h", 1, 60)),
            "method_class": self.maybe(self.whole(1, 5)),
            "double_notice": self.pick([None, True, False]),
            "signs_up_at": self.maybe(self.moment()),
            "signs_down_at": self.maybe(self.moment(), 0.5),
            "ventilation": [one for one in spells if self.is_forward(one)],
            "inhalation_level": self.pick([None, "", "0.5 mg/m3"]),
            "measured_at": self.maybe(self.moment(), 0.4),
            "reopened_at": self.maybe(self.moment(), 0.2),
        }

    def is_forward(self, spell: dict[str, Any]) -> bool:
        """Whether a spell ends after it began; now and then one that does not is let through."""
        ended = spell["ended_at"]
        if ended is None or self.random.random() < 0.05:
            return True
        same_offset = {**ended, "offset_min": spell["began_at"]["offset_min"]}
        spell["ended_at"] = same_offset
        return bool(same_offset["local"] >= spell["began_at"]["local"])

    def label(self) -> dict[str, Any]:
        """Return a product's label with one or two uses."""
        uses = [
            {
                "crop": self.maybe(self.pick(["petunia", "lantana; petunia"])),
                "sites": self.maybe(["greenhouse"]),
                "methods": self.maybe(["spray", "drench"]),
                "max_concentration": self.maybe(
                    self.quantity(self.pick(["mg/L", "mL/L", "g/L", "%"]), 1, 5000)
                ),
                "max_dose_area": self.maybe(self.quantity(self.pick(["mg/m2", "g/m2"]), 1, 900)),
                "max_season": self.maybe(self.quantity(self.pick(["mg/m2", "mg/{pot}"]), 1, 2000)),
                "max_of": self.pick([None, "ai", "product"]),
                "max_applications": self.maybe(self.whole(1, 4), 0.5),
                "min_interval": self.maybe(self.quantity("d", 1, 30)),
                "bbch_from": self.maybe(self.whole(0, 40), 0.4),
                "bbch_to": self.maybe(self.whole(41, 99), 0.4),
            }
            for _ in range(self.whole(0, 2))
        ]
        return {
            "country": self.pick([None, "US", "DE"]),
            "uses": uses,
            "rei": self.maybe(self.quantity("h", 1, 48)),
            "tank_mixing": self.pick([None, "allowed", "listed_only", "forbidden"]),
            "adjuvants": self.pick([None, "allowed", "required", "forbidden"]),
            "stage_limited": self.pick([None, True, False]),
            "hours_limited": self.pick([None, True, False]),
            "restricted_use": self.pick([None, True, False]),
            "water_wait": self.maybe(self.quantity("h", 1, 24)),
            "ppe_mixing": self.pick([None, "gloves"]),
        }

    def application(self) -> dict[str, Any]:
        """Return fields of an application, some of them not filled."""
        products = [
            {
                "product": f"p{number}",
                "name": self.pick(["Brevix", "Stemlo", "Wetter"]),
                "kind": self.pick([None, "product", "product", "adjuvant"]),
                "physical_form": self.pick([None, "liquid", "dry"]),
                "ingredients": [
                    {
                        "ai": self.pick(["ai 0", "ai 1"]),
                        "strength": self.quantity(self.pick(["g/L", "%"]), 1, 90),
                        "basis": self.pick([None, "w_w", "w_v"]),
                    }
                ],
                "amount": self.maybe(self.quantity(self.pick(["mL", "g", "[foz_us]"]), 1, 900)),
                "rei": self.maybe(self.quantity("h", 1, 48)),
            }
            for number in range(self.whole(1, 3))
        ]
        lines = [
            {
                "lot": self.maybe(self.pick(["l1", "l2"])),
                "place": f"House {number}",
                "bench": self.maybe("b1"),
                "crop": self.pick([None, "petunia", "rose"]),
                "area": self.maybe(self.quantity("m2", 1, 200)),
                "n_containers": self.maybe(self.whole(0, 900)),
                "volume": self.maybe(self.volume(1, 90)),
                "bbch": self.maybe(self.whole(0, 99)),
            }
            for number in range(self.whole(1, 3))
        ]
        return {
            "method": self.pick(["spray", "drench", "injector"]),
            "site": self.pick([None, "greenhouse", "outdoor"]),
            "products": products,
            "lines": lines,
            "volume": self.maybe(self.volume(1, 300)),
            "started_at": self.maybe(self.moment()),
            "ended_at": self.maybe(self.moment(), 0.5),
            "area": self.maybe(self.quantity("m2", 1, 500)),
        }

    def situation(self) -> dict[str, Any]:
        """Return a situation for the checks before mixing."""
        return {
            "today": "2026-05-04",
            "now_ms": self.maybe(1777895999000 + self.whole(0, 9) * 3_600_000),
            "heard_ms": 1777895999000,
            "skew_ms": self.pick([0, 400_000, None]),
            "step": self.pick([None, "mixing", "spraying"]),
            "application": self.application(),
            "products": {f"p{number}": self.label() for number in range(2)},
            "lots": {"l1": {"crop": "petunia", "from_lots": ["l2"], "started_on": self.day()}},
            "applications": [self.application() for _ in range(self.whole(0, 3))],
            "supplier_treatments": [
                {
                    "lot": "l1",
                    "product_name": "Brevix",
                    "ingredients": [{"ai": "ai 0"}],
                    "applied_on": self.maybe(self.day()),
                    "dose": self.maybe(self.quantity("mg/m2", 1, 900)),
                }
            ],
            "restrictions": [self.restriction() for _ in range(self.whole(0, 2))],
            "certificates": [{"sort": "handler_training", "expires_on": self.maybe(self.day())}],
            "operator": {"is_adult": self.pick([None, True, False])},
            "permit": self.maybe(
                {"number": "T 1", "products": ["p0"], "valid_to": self.maybe(self.day())}, 0.2
            ),
            "stock": self.maybe({"p0": self.quantity("mL", 1, 900)}),
            "establishment": {"country": "US", "region": self.pick([None, "TX", "WA"])},
        }

    def rule_case(self) -> Case:
        """Return a case of the rules: restriction, checks, completeness."""
        draw = self.random.random()
        if draw < 0.4:
            return {
                "function": "checks.check_findings",
                "args": {"situation": self.situation()},
            }
        if draw < 0.8:
            now = 1777895999000 + self.whole(-20, 60) * 1_800_000
            place: dict[str, Any] = {
                "restrictions": [self.restriction() for _ in range(self.whole(1, 3))],
                "now_ms": now,
                "heard_ms": self.maybe(now - self.whole(0, 40) * 60_000),
                "skew_ms": 0,
                "parts_add": self.random.random() < 0.5,
            }
            return {"function": "restriction.place_state", "args": place}
        record: dict[str, Any] = {
            "standard": self.pick(["wps", "eu", "commercial_restricted_use"]),
            "application": self.application(),
            "establishment": {"country": self.pick(["US", "DE"]), "region": "PA"},
            "entered_ms": 1778000000000,
        }
        return {"function": "standards.completeness", "args": record}

    def case(self) -> Case:
        """Return one case of any function."""
        if self.random.random() < 0.15:
            return self.rule_case()
        draw = self.random.random()
        if draw < 0.12:
            return {"function": "tank.tank_plan", "args": {"request": self.request()}}
        if draw < 0.16:
            return {
                "function": "calibration.calibration_of",
                "args": {"record": self.calibration()},
            }
        if draw < 0.24:
            args = {"text": self.typed_number(), "number_format": self.pick(FORMATS)}
            return {
                "function": self.pick(["rounding.parse_decimal", "rounding.parse_number"]),
                "args": args,
            }
        if draw < 0.36:
            return self.rounding_case()
        if draw < 0.48:
            return self.unit_case()
        functions = {**SMALL, **WITH_EXP}
        name = self.pick(list(functions))
        number_args: dict[str, Any] = {
            key: self.log_number(low, high) for key, (low, high) in functions[name].items()
        }
        if self.random.random() < 0.04:
            number_args[self.pick(list(number_args))] = self.pick(BAD_NUMBERS)
        return {"function": name, "args": number_args}

    def rounding_case(self) -> Case:
        """Return a case of rounding or formatting; ties on purpose."""
        value: float = self.log_number(1e-7, 1e9)
        if self.random.random() < 0.4:
            value = self.whole(0, 99999) / self.pick([2, 8, 20, 200, 2000])
        draw = self.random.random()
        if draw < 0.3:
            signed = -value if self.random.random() < 0.2 else value
            name = self.pick(["rounding.round_half_up", "rounding.decimal_text"])
            return {"function": name, "args": {"value": signed, "n_decimals": self.whole(0, 6)}}
        if draw < 0.6:
            steps = [0.01, 0.02, 0.05, 0.1, 0.2, 0.25, 0.5, 1.0, 2.0, 5.0, 10.0]
            args = {"value": value, "resolution": self.pick(steps)}
            return {"function": "rounding.for_measuring", "args": args}
        args = {
            "value": value,
            "unit": self.pick(["mL", "[foz_us]", "g", "mg/L", "1"]),
            "number_format": self.pick(FORMATS),
            "n_decimals": self.pick([None, 0, 1, 2]),
            "is_grouped": self.random.random() < 0.5,
        }
        return {"function": "rounding.format_quantity", "args": args}

    def unit_case(self) -> Case:
        """Return a conversion, mostly within one dimension."""
        codes = list(UNITS)
        from_code = self.pick(codes)
        same = [code for code in codes if UNITS[code].dimension == UNITS[from_code].dimension]
        to_code = self.pick(same if self.random.random() < 0.95 else codes)
        args = {
            "value": self.log_number(0.0001, 1e6),
            "from_code": from_code,
            "to_code": to_code,
        }
        return {"function": "units.convert", "args": args}


def twin_cases(seed: int, n_cases: int) -> list[Case]:
    """Return `n_cases` cases drawn from one seed."""
    maker = Maker(seed)
    return [maker.case() for _ in range(n_cases)]


def has_exp(case: Case) -> bool:
    """Return whether a case's function uses exp, so that its last digits may differ."""
    return case["function"] in WITH_EXP
