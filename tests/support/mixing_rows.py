"""The published mixing rows as programs of calls that both languages run.

A row of tests/reference/mixing/rows.json has inputs, an expected value and its source. `program_of`
turns the inputs into calls of the domain (units included); it never reads the expected value, the
status or the tolerance.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

ROWS_PATH = Path(__file__).resolve().parents[1] / "reference" / "mixing" / "rows.json"

Step = list[Any]

FT2 = "[sft_i]"
GAL_ACRE = "[gal_us]/[acr_us]"
QT_100FT2 = "[qt_us]/(100.[sft_i])"
LB_GAL = "[lb_av]/[gal_us]"


def rows() -> list[dict[str, Any]]:
    """Return all rows."""
    loaded: list[dict[str, Any]] = json.loads(ROWS_PATH.read_text())
    return loaded


class Program:
    """Collects calls; each returns a reference to its result."""

    def __init__(self) -> None:
        self.steps: list[Step] = []

    def call(self, function: str, **args: Any) -> dict[str, Any]:
        """Add one call and return the reference to its result."""
        self.steps.append([function, args])
        return {"$": len(self.steps) - 1}

    def convert(self, value: Any, from_code: str, to_code: str) -> dict[str, Any]:
        """Add a conversion of units."""
        return self.call("units.convert", value=value, from_code=from_code, to_code=to_code)


def _litres(p: Program, inputs: dict[str, Any], stem: str = "volume") -> Any:
    if f"{stem}_US_gal" in inputs:
        return p.convert(inputs[f"{stem}_US_gal"], "[gal_us]", "L")
    return inputs.get(f"{stem}_L", 1)


def _pot_ml(p: Program, inputs: dict[str, Any]) -> Any:
    if "floz_per_pot" in inputs:
        return p.convert(inputs["floz_per_pot"], "[foz_us]", "mL")
    return inputs["mL_per_pot"]


def _dilution(p: Program, i: dict[str, Any], kind: str, wanted: str) -> None:
    if kind == "lb_per_gal":
        strength: Any = p.call(
            "strength.g_per_l_from_lb_per_gal", strength_lb_per_gal=i["strength_lb_per_gal"]
        )
    else:
        strength = i.get("strength_g_per_L")
    litres = _litres(p, i)
    if wanted == "product_mL":
        p.call(
            "dilution.product_ml",
            target_mg_per_l=i["ppm"],
            final_l=litres,
            strength_g_per_l=strength,
        )
        return
    amount = i.get("product_mL", i.get("product_mL_per_L"))
    if "product_pint" in i:
        amount = p.convert(i["product_pint"], "[pt_us]", "mL")
    p.call(
        "dilution.concentration_mg_per_l",
        amount_ml=amount,
        strength_g_per_l=strength,
        final_l=litres,
    )


def _dry(p: Program, i: dict[str, Any], wanted: str) -> None:
    strength = p.call(
        "strength.mg_per_g_from_w_w", strength_pct_w_w=i.get("strength_pct_ww", i.get("pct"))
    )
    litres = _litres(p, i)
    if wanted == "ppm":
        grams = p.convert(i["oz"], "[oz_av]", "g")
        p.call(
            "dilution.concentration_dry_mg_per_l",
            amount_g=grams,
            strength_mg_per_g=strength,
            final_l=litres,
        )
        return
    grams = p.call(
        "dilution.product_g", target_mg_per_l=i["ppm"], final_l=litres, strength_mg_per_g=strength
    )
    if wanted == "product_oz":
        p.convert(grams, "g", "[oz_av]")


def _strength(p: Program, i: dict[str, Any], wanted: str) -> None:
    to_code = "mg/L" if wanted == "strength_mg_per_L" else "g/L"
    if "pct_wv" in i:
        p.convert(p.call("strength.g_per_l_from_w_v", strength_pct_w_v=i["pct_wv"]), "g/L", to_code)
    elif "lb_per_US_gal" in i:
        g_per_l = p.call("strength.g_per_l_from_lb_per_gal", strength_lb_per_gal=i["lb_per_US_gal"])
        p.convert(g_per_l, "g/L", to_code)
    else:
        codes = {
            "g_per_floz": "g/[foz_us]",
            "lb_per_quart": "[lb_av]/[qt_us]",
            "mg_per_quart": "mg/[qt_us]",
        }
        name = next(key for key in codes if key in i)
        p.convert(i[name], codes[name], to_code)


def _scaling(p: Program, i: dict[str, Any]) -> None:
    if "base_floz" in i:
        base, per, volume = i["base_floz"], i["base_US_gal"], i["volume_US_gal"]
    elif "lb_per_100gal" in i:
        base, per, volume = i["lb_per_100gal"], 100, i["volume_US_gal"]
    else:
        base, per, volume = i["kg_per_500L"], 500, i["volume_L"]
    scaled = p.call("dilution.scaled_amount", base_amount=base, base_volume=per, volume=volume)
    if "lb_per_100gal" in i:
        p.convert(scaled, "[lb_av]", "[oz_av]")


def _coverage(p: Program, i: dict[str, Any], wanted: str) -> None:
    if wanted == "ratio":
        sprench = p.convert(i["qt_per_100ft2_sprench"], QT_100FT2, "mL/m2")
        spray = p.convert(i["qt_per_100ft2_spray"], QT_100FT2, "mL/m2")
        p.call("dilution.scaled_amount", base_amount=sprench, base_volume=spray, volume=1)
    elif "US_gal" in i:
        ml = p.convert(i["US_gal"], "[gal_us]", "mL")
        m2 = p.convert(i["ft2"], FT2, "m2")
        rate = p.call("calibration.plot_rate_ml_per_m2", catch_ml=ml, plot_m2=m2)
        p.convert(rate, "mL/m2", "[gal_us]/(1000.[sft_i])")
    else:
        codes = {
            "mL_per_m2": "mL/m2",
            "qt_per_100ft2": QT_100FT2,
            "US_gal_per_1000ft2": "[gal_us]/(1000.[sft_i])",
            "US_gal_per_acre": GAL_ACRE,
        }
        name = next(key for key in codes if key in i)
        p.convert(i[name], codes[name], codes[wanted])


def _moving(p: Program, i: dict[str, Any]) -> None:
    if "constant" in i:
        i = {"gpm": 1, "mph": 1, "width_in": 1}
    flow = (
        p.convert(i["gpm"], "[gal_us]/min", "mL/min")
        if "gpm" in i
        else p.convert(i["floz_per_min"], "[foz_us]/min", "mL/min")
    )
    speed = (
        p.convert(i["mph"], "[mi_i]/h", "m/min")
        if "mph" in i
        else p.convert(i["ft_per_min"], "[ft_i]/min", "m/min")
    )
    swath = (
        p.convert(i["width_in"], "[in_i]", "m")
        if "width_in" in i
        else p.convert(i["swath_ft"], "[ft_i]", "m")
    )
    rate = p.call(
        "calibration.area_rate_ml_per_m2", ml_per_min=flow, m_per_min=speed, swath_m=swath
    )
    p.convert(rate, "mL/m2", GAL_ACRE)


def _sides(text: str) -> tuple[float, float]:
    first, second = text.split(" x ")
    return float(first), float(second)


def _catch(p: Program, i: dict[str, Any]) -> None:
    if "plot_ft" in i:
        length, width = _sides(i["plot_ft"])
        ft2 = length * width
    else:
        ft2 = i["length_ft"] * i["swath_in"] / 12
    ml = p.convert(i["floz"], "[foz_us]", "mL")
    m2 = p.convert(ft2, FT2, "m2")
    rate = p.call("calibration.plot_rate_ml_per_m2", catch_ml=ml, plot_m2=m2)
    p.convert(rate, "mL/m2", GAL_ACRE)


def _bench(p: Program, i: dict[str, Any]) -> None:
    metric = "bench_m" in i
    width, length = _sides(i["bench_m"] if metric else i["bench_ft"])
    area = p.convert(width * length, "m2" if metric else FT2, "m2")
    rate = i["mL_per_m2"] if metric else p.convert(i["qt_per_100ft2"], QT_100FT2, "mL/m2")
    flow = (
        p.convert(i["L_per_min"], "L/min", "mL/min")
        if metric
        else p.convert(i["gpm"], "[gal_us]/min", "mL/min")
    )
    metres = p.convert(length, "m" if metric else "[ft_i]", "m")
    walk = p.call(
        "calibration.bench_walk", area_m2=area, ml_per_m2=rate, ml_per_min=flow, length_m=metres
    )
    p.convert({**walk, "field": "minutes"}, "min", "min")


def _unit(p: Program, i: dict[str, Any], wanted: str) -> None:
    if "ppm" in i:
        ml = p.convert(i["US_gal"], "[gal_us]", "mL")
        p.call("doses.mg_per_item", mg_per_l=i["ppm"], ml_per_item=ml)
        return
    codes = {
        "in3": "[cin_i]",
        "US_gal": "[gal_us]",
        "imp_gal": "[gal_br]",
        "imperial_vs_US_gallon": "[gal_br]",
        "floz": "[foz_us]",
        "L": "L",
        "lb": "[lb_av]",
        "oz": "[oz_av]",
        "lb_per_US_gal": LB_GAL,
    }
    to_codes = {
        "L": "L",
        "mL": "mL",
        "g": "g",
        "qt": "[qt_us]",
        "ratio": "[gal_us]",
        "g_per_L": "g/L",
    }
    name = next(key for key in codes if key in i)
    p.convert(i[name], codes[name], to_codes[wanted])


def _injector(p: Program, i: dict[str, Any], kind: str, wanted: str) -> None:
    if kind == "injector_convention":
        if wanted == "pct":
            p.call("injector.injector_pct", ratio=i["ratio"])
        else:
            p.call("injector.injector_meaning_difference", ratio=i["ratio"])
        return
    if kind == "injector_ec":
        p.call("injector.net_ec_ms_per_cm", ec_out=i["ec_out"], ec_water=i["ec_water"])
        return
    if kind == "injector_tank":
        if wanted == "total_lb":
            p.convert(i["total_oz"], "[oz_av]", "[lb_av]")
        else:
            p.call(
                "dilution.scaled_amount",
                base_amount=i["oz_per_US_gal_stock"],
                base_volume=1,
                volume=i["stock_US_gal"],
            )
        return
    factor = p.call("injector.injector_factor", ratio=i["ratio"], meaning="part_in_total")
    if kind == "injector_stock":
        strength = p.call("strength.mg_per_g_from_w_w", strength_pct_w_w=i["pct"])
        gallon = p.convert(1, "[gal_us]", "L")
        grams = p.call(
            "injector.stock_dry_g",
            target_mg_per_l=i["ppm"],
            factor=factor,
            stock_l=gallon,
            strength_mg_per_g=strength,
        )
        p.convert(grams, "g", "[oz_av]")
        return
    p.call(
        "injector.stock_product_ml",
        target_mg_per_l=i["ppm"],
        factor=factor,
        stock_l=_litres(p, i, "stock"),
        strength_g_per_l=i["strength_g_per_L"],
    )


def _doses(p: Program, i: dict[str, Any], kind: str, wanted: str) -> None:
    if kind == "drench_mg":
        p.call("doses.mg_per_item", mg_per_l=i["ppm"], ml_per_item=_pot_ml(p, i))
    elif kind == "drench_ppm":
        p.call("doses.mg_per_l_for_item", mg=i["mg_per_pot"], ml_per_item=_pot_ml(p, i))
    elif kind == "volume_from_dose":
        p.call("doses.ml_per_item_for_dose", mg=i["mg_per_plant"], mg_per_l=i["ppm"])
    elif kind == "bulb_dip" and wanted == "bulbs":
        p.call(
            "doses.items_from_volume",
            volume_l=i["volume_used_L"],
            ml_per_item=i["mL_absorbed_per_bulb"],
        )
    elif kind == "bulb_dip":
        p.call("doses.mg_per_item", mg_per_l=i["ppm"], ml_per_item=i["mL_absorbed_per_bulb"])
    elif kind == "pots_per_gallon":
        gallon = p.convert(1, "[gal_us]", "L")
        ml = p.convert(i["floz"], "[foz_us]", "mL")
        p.call("doses.items_from_volume", volume_l=gallon, ml_per_item=ml)
    elif kind == "ai_deposit":
        p.call("doses.mg_per_m2", mg_per_l=i["ppm"], ml_per_m2=i["mL_per_m2"])
    elif kind == "cost_per_mg":
        p.call(
            "dilution.cost_per_mg",
            price_per_l=i["price"],
            strength_g_per_l=i["strength_mg_per_L"] / 1000,
        )
    elif kind == "cost_per_pot":
        p.call(
            "dilution.cost_per_item",
            price_per_mg=i["price_per_mg"] * 100,
            mg_per_item=i["mg_per_pot"],
        )
    elif "area_ft2" in i:
        m2 = p.convert(i["area_ft2"], FT2, "m2")
        rate = p.convert(i["qt_per_100ft2"], QT_100FT2, "mL/m2")
        p.convert(p.call("doses.area_volume_l", area_m2=m2, ml_per_m2=rate), "L", "[gal_us]")
    else:
        ml = p.convert(i["qt_per_plant"], "[qt_us]", "mL")
        litres = p.call("doses.item_volume_l", n_items=i["plants"], ml_per_item=ml)
        p.convert(litres, "L", "[gal_us]")


def _air(p: Program, i: dict[str, Any], kind: str) -> None:
    if kind == "svp":
        p.call("air.svp_kpa", temperature_c=i["T_C"])
    elif kind == "svp_mean":
        p.call("air.mean_svp_kpa", min_c=i["Tmin_C"], max_c=i["Tmax_C"])
    elif kind == "vpd":
        p.call("air.vpd_kpa", temperature_c=i["T_C"], rh_pct=i["RH_pct"])
    elif kind == "vpd_leaf":
        p.call("air.leaf_vpd_kpa", leaf_c=i["T_leaf_C"], air_c=i["T_air_C"], rh_pct=i["RH_pct"])
    elif kind == "dli":
        p.call("air.dli_mol", ppfd_umol=i["ppfd_umol"], hours=i["hours"])
    elif "RH_pct" in i:
        p.call("air.vapour_pressure_kpa", temperature_c=i["T_C"], rh_pct=i["RH_pct"])
    elif "RHmean_pct" in i:
        p.call(
            "air.vapour_pressure_from_mean_rh_kpa",
            min_c=i["Tmin_C"],
            max_c=i["Tmax_C"],
            rh_mean_pct=i["RHmean_pct"],
        )
    elif "RHmin_pct" in i:
        p.call(
            "air.vapour_pressure_daily_kpa",
            min_c=i["Tmin_C"],
            max_c=i["Tmax_C"],
            rh_max_pct=i["RHmax_pct"],
            rh_min_pct=i["RHmin_pct"],
        )
    else:
        p.call("air.vapour_pressure_kpa", temperature_c=i["Tmin_C"], rh_pct=i["RHmax_pct"])


def _other(p: Program, i: dict[str, Any], kind: str, wanted: str) -> None:
    if kind == "implied_strength":
        p.call(
            "dilution.implied_strength_g_per_l",
            target_mg_per_l=i["ppm"],
            final_l=_litres(p, i),
            amount_ml=p.convert(i["product_floz"], "[foz_us]", "mL"),
        )
    elif kind == "density_from_ww_wv":
        p.call(
            "strength.density_from_w_w_and_w_v",
            strength_pct_w_w=i["pct_ww"],
            strength_pct_w_v=i["pct_wv"],
        )
    elif kind == "C1V1":
        p.call(
            "dilution.diluted_amount",
            wanted_pct=i["C2_pct"],
            total=i.get("V2_US_gal", i.get("M2_lb")),
            source_pct=i["C1_pct"],
        )
    elif kind == "lb_ai_to_volume":
        density = p.convert(i["lb_per_gal_water"], LB_GAL, "g/mL")
        strength = p.call("strength.g_per_l_from_w_w", strength_pct_w_w=i["pct"], density=density)
        mg_per_l = p.convert(strength, "g/L", "mg/L")
        mg = p.convert(i["lb_ai"], "[lb_av]", "mg")
        ml = p.call("doses.ml_per_item_for_dose", mg=mg, mg_per_l=mg_per_l)
        p.convert(ml, "mL", "[gal_us]")
    elif kind == "adjuvant_pct_vv":
        p.convert(
            p.call("dilution.adjuvant_ml", pct_v_v=i["pct_vv"], final_l=i["volume_L"]), "mL", "L"
        )
    elif kind == "added_to_water_error":
        p.call(
            "dilution.added_to_full_volume_mg_per_l",
            target_mg_per_l=i["target_ppm"],
            amount_ml_per_l=i["product_mL_per_L"],
        )
    elif kind == "rate_per_tank_gallon":
        name = "pint_per_acre" if "pint_per_acre" in i else "quart_per_acre"
        code = "[pt_us]" if name == "pint_per_acre" else "[qt_us]"
        to_code = "[tbs_us]" if wanted.startswith("tbsp") else "[foz_us]"
        p.call(
            "dilution.scaled_amount",
            base_amount=p.convert(i[name], code, to_code),
            base_volume=i["US_gal_per_acre"],
            volume=1,
        )
    elif kind == "area_conversion":
        p.convert(i["ft2"], FT2, "[acr_us]")
    elif kind == "acre_128":
        p.convert(p.call("calibration.acre_128_length_m", swath_m=1), "m2", FT2)
    elif kind == "acre_128_length":
        swath = p.convert(i["swath_in"], "[in_i]", "m")
        p.convert(p.call("calibration.acre_128_length_m", swath_m=swath), "m", "[ft_i]")
    elif kind == "flow":
        p.convert(i["floz_per_min"], "[foz_us]/min", "[gal_us]/min")
    elif kind == "speed" and "distance_ft" in i:
        metres = p.convert(i["distance_ft"], "[ft_i]", "m")
        speed = p.call("calibration.speed_m_per_min", distance_m=metres, seconds=i["seconds"])
        p.convert(speed, "m/min", "[mi_i]/h")
    elif kind == "speed":
        p.convert(i["mph"], "[mi_i]/h", "[ft_i]/min" if wanted == "ft_per_min" else "[ft_i]/s")
    elif kind == "tank_coverage":
        litres = p.convert(i["tank_US_gal"], "[gal_us]", "L")
        rate = p.convert(i["US_gal_per_acre"], GAL_ACRE, "mL/m2")
        m2 = p.call("calibration.coverage_m2", tank_l=litres, ml_per_m2=rate)
        p.convert(m2, "m2", "[acr_us]")
    elif kind.startswith("growth_index"):
        p.call(f"growth.{kind}", height=i["height"], width_1=i["width1"], width_2=i["width2"])
    elif kind == "pct_reduction":
        p.call("growth.reduction_pct", control=i["control"], treated=i["treated"])
    elif kind == "canopy_volume_pct":
        p.call(
            "growth.reduction_pct_from_control_pct",
            treated_pct_of_control=i["treated_pct_of_control"],
        )
    else:
        raise AssertionError(f"no program for rows of kind {kind}")


def program_of(kind: str, inputs: dict[str, Any], wanted: str) -> list[Step]:
    """Return the calls that compute `wanted` from a row's inputs."""
    p = Program()
    if kind in {"liquid_wv", "liquid_wv_reverse", "lb_per_gal"}:
        _dilution(p, inputs, kind, wanted)
    elif kind in {"dry_ww", "oz_per_100gal_rule"}:
        _dry(p, inputs, wanted)
    elif kind == "two_ai_mix" and wanted == "daminozide_g":
        _dry(
            p, {**inputs, "ppm": inputs["daminozide_ppm"], "pct": inputs["daminozide_pct"]}, wanted
        )
    elif kind == "two_ai_mix":
        chlormequat = {
            **inputs,
            "ppm": inputs["chlormequat_ppm"],
            "strength_lb_per_gal": inputs["chlormequat_lb_per_gal"],
        }
        _dilution(p, chlormequat, "lb_per_gal", "product_mL")
    elif kind in {"strength_basis", "strength_conversion"}:
        _strength(p, inputs, wanted)
    elif kind == "tank_scaling":
        _scaling(p, inputs)
    elif kind == "coverage_conversion":
        _coverage(p, inputs, wanted)
    elif kind in {"gpa_5940", "gpa_46_4", "gpa_area_rate"}:
        _moving(p, inputs)
    elif kind == "acre_128_catch":
        _catch(p, inputs)
    elif kind == "bench_timing":
        _bench(p, inputs)
    elif kind == "unit":
        _unit(p, inputs, wanted)
    elif kind.startswith("injector"):
        _injector(p, inputs, kind, wanted)
    elif kind in {
        "drench_mg",
        "drench_ppm",
        "volume_from_dose",
        "bulb_dip",
        "pots_per_gallon",
        "ai_deposit",
        "cost_per_mg",
        "cost_per_pot",
        "batch_volume",
    }:
        _doses(p, inputs, kind, wanted)
    elif kind in {"svp", "svp_mean", "vapour_pressure", "vpd", "vpd_leaf", "dli"}:
        _air(p, inputs, kind)
    else:
        _other(p, inputs, kind, wanted)
    return p.steps
