"""Closed lists that several schemas share: roles, methods, droplet sizes, and units offered."""

from __future__ import annotations

from typing import Final

ROLES: Final = ("operator", "technician", "grower", "manager", "inspector", "display")
METHODS: Final = (
    "spray", "sprench", "drench", "liner_dip", "bulb_dip", "sub_irrigation", "injector", "fog",
    "other",
)  # fmt: skip
DROPLETS: Final = (
    "extremely_fine", "very_fine", "fine", "medium", "coarse", "very_coarse", "extremely_coarse",
    "ultra_coarse",
)  # fmt: skip
STANDARDS: Final = ("wps", "commercial_restricted_use", "eu", "private_restricted_use")
SITES: Final = ("greenhouse", "hoop_house", "shade_house", "outdoor")
PRODUCT_KINDS: Final = ("product", "adjuvant", "formulation_blank", "water_conditioner")
SIGNAL_WORDS: Final = ("none", "caution", "warning", "danger", "danger_poison")

LENGTH: Final = ("m", "cm", "[ft_i]")
HEIGHT: Final = ("cm", "mm", "[in_i]")
AREA: Final = ("m2", "[sft_i]")
VOLUME: Final = ("mL", "L", "[gal_us]", "[foz_us]")
AMOUNT: Final = ("mL", "L", "g", "kg", "[foz_us]", "[gal_us]", "[oz_av]", "[lb_av]")
STRENGTH: Final = ("g/L", "%", "mg/L", "mg/mL", "[lb_av]/[gal_us]")
TARGET: Final = (
    "mg/L", "mg/{pot}", "mg/m2", "%", "mL/L", "g/L", "[foz_us]/[gal_us]", "[oz_av]/[gal_us]",
    "mL/m2", "g/m2",
)  # fmt: skip
PER_AREA: Final = ("mL/m2", "L/m2", "[qt_us]/(100.[sft_i])", "[gal_us]/(1000.[sft_i])")
PER_CONTAINER: Final = ("mL/{pot}", "[foz_us]/{pot}", "mL/{tray}", "mL/{bulb}")
DOSE: Final = ("mg/m2", "mg/{pot}", "mL/m2", "g/m2")
