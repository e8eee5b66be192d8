"""Schemas of mixes and of what measures and sprays them."""

from __future__ import annotations

from marshmallow import Schema

from tepal.forms.fields import (
    Choice,
    Day,
    Decimal,
    Flag,
    LongText,
    Quantity,
    Ref,
    Refs,
    Rows,
    Text,
    Whole,
)
from tepal.forms.vocabulary import (
    AMOUNT,
    AREA,
    DROPLETS,
    LENGTH,
    METHODS,
    PER_AREA,
    PER_CONTAINER,
    TARGET,
    VOLUME,
)


class MixComponent(Schema):
    """A partner of a mix with its own target; `matches` names the place of its product.

    `is_reference`: stands only to be matched, does not go into the tank. `stated_per_l`: what a
    wall chart says, compared with what the target needs.
    """

    product = Ref("product")
    target = Quantity(TARGET, most=100_000)
    target_of = Choice(("ai", "product"))
    target_ai = Text(120)
    target_expressed_as = Choice(("salt", "acid_equivalent"))
    matches = Whole(most=12)
    is_reference = Flag()
    stated_per_l = Quantity(("mL/L", "g/L", "[foz_us]/[gal_us]", "mL/[gal_us]", "[oz_av]/[gal_us]"))


class TankMix(Schema):
    """A mix that the establishment uses again: partners, targets, method, volume.

    `extra` is what hose, pump or bath keep, beyond what goes onto the plants.
    """

    name = Text(120, required_on_paper=True)
    method = Choice(METHODS)
    volume_per_area = Quantity(PER_AREA, most=100_000)
    volume_per_container = Quantity(PER_CONTAINER, most=100_000)
    extra = Quantity(("L", "[gal_us]", "%"), most=100_000)
    components = Rows(MixComponent, 12)
    injector_ratio = Decimal(least=1, most=10_000)
    injector_meaning = Choice(("part_in_total", "part_to_water"))
    purpose = Text(200)
    retired = Flag()


class IncompatiblePair(Schema):
    """Two partners that must not meet in a tank: each a product's name or an active ingredient."""

    a = Text(120, required_on_paper=True)
    b = Text(120, required_on_paper=True)
    reason = LongText(500)
    source = Text(200)


class JarTest(Schema):
    """What a small trial of a mix in a jar showed."""

    products = Refs("product")
    result = Choice(("compatible", "incompatible"), required_on_paper=True)
    tested_on = Day()
    note = LongText(1000)


class Instrument(Schema):
    """A measure of the house: what it can read decides what can be measured."""

    name = Text(120, required_on_paper=True)
    sort = Choice(("cylinder", "syringe", "balance", "jug", "other"))
    resolution = Quantity(AMOUNT, most=100_000)
    capacity = Quantity(AMOUNT, most=100_000)
    retired = Flag()


class Sprayer(Schema):
    """A sprayer or other applicator; what it puts down is measured by calibrations."""

    name = Text(120, required_on_paper=True)
    sort = Choice(
        (
            "knapsack",
            "wheelbarrow",
            "boom",
            "hand_gun",
            "drench_lance",
            "injector",
            "fogger",
            "other",
        )
    )
    capacity = Quantity(VOLUME, most=100_000)
    nozzle = Text(120)
    droplet = Choice(DROPLETS)
    calibrate_every = Quantity(("d",), least=1, most=3660)
    retired = Flag()


class Catch(Schema):
    """What one nozzle gave."""

    amount = Quantity(VOLUME)


class Calibration(Schema):
    """One measurement of what a sprayer puts down; core/calibration reads these names."""

    sprayer = Ref("sprayer")
    method = Choice(("plot", "acre_128", "area_rate", "boom", "bench_walk"))
    measured_on = Day()
    used = Quantity(VOLUME)
    plot_area = Quantity(AREA)
    catches = Rows(Catch, 60)
    catch_time = Quantity(("s", "min"))
    swath = Quantity(LENGTH)
    spacing = Quantity(LENGTH)
    speed = Quantity(("m/min", "km/h", "[ft_i]/min", "[mi_i]/h"))
    course = Quantity(LENGTH)
    course_time = Quantity(("s", "min"))
    walk_time = Quantity(("s", "min"))
    area = Quantity(AREA)
    note = LongText(1000)
