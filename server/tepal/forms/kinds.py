"""The record kinds: one schema each, its form version, and what signs it.

To add a kind: a schema here, a model in store/models.py, words in the catalogue, a line in
`KINDS`; the tests name whatever is missing. Nothing here is *required* to save: a record that
lacks a field is kept and printed with "missing"; `required_on_paper` drives forms and papers.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

from marshmallow import Schema

from tepal.forms.fields import (
    Choice,
    Day,
    Decimal,
    Digest,
    Flag,
    Group,
    LongText,
    Moment,
    Quantity,
    Ref,
    Refs,
    Rows,
    Text,
    Whole,
)

ROLES: Final = ("operator", "technician", "grower", "manager", "inspector", "display")
METHODS: Final = (
    "spray", "sprench", "drench", "liner_dip", "bulb_dip", "sub_irrigation", "injector", "fog",
    "other",
)  # fmt: skip
LENGTH: Final = ("m", "cm", "[ft_i]")
AREA: Final = ("m2", "[sft_i]")
VOLUME: Final = ("mL", "L", "[gal_us]", "[foz_us]")
AMOUNT: Final = ("mL", "L", "g", "kg", "[foz_us]", "[gal_us]", "[oz_av]", "[lb_av]")

# Which acts the kind is open to; services/authority.py gives the words their meaning.
Guard = Literal["field", "register", "admin"]


class Establishment(Schema):
    """The nursery itself; the regulation's word, on screens its own name."""

    name = Text(required_on_paper=True)
    address = LongText(500)
    country = Text(2)
    zone = Text(64)
    number_format = Choice(("1234.5", "1234,5"))
    unit_system = Choice(("metric", "us"))
    paper = Choice(("a4", "letter"))


class Member(Schema):
    """A person who works with Tepal. Secrets are not here."""

    name = Text(120, required_on_paper=True)
    role = Choice(ROLES)
    language = Choice(("en", "es"))
    active = Flag()


class Device(Schema):
    """A phone, an office browser, a wall tablet; `ceiling` is the most it may ever do."""

    label = Text(80)
    ceiling = Choice(ROLES)
    revoked = Flag()


class House(Schema):
    """A greenhouse: the enclosed space that entry rules speak of."""

    name = Text(120, required_on_paper=True)
    code = Text(12)
    area = Quantity(AREA)
    note = LongText(1000)


class Bench(Schema):
    """A bench, bed or floor section inside a house."""

    name = Text(120, required_on_paper=True)
    code = Text(12)
    house = Ref("house")
    length = Quantity(LENGTH)
    width = Quantity(LENGTH)
    area = Quantity(AREA)


class Lot(Schema):
    """A crop lot: plants of one kind that are grown as one."""

    code = Text(24, required_on_paper=True)
    crop = Text(120, required_on_paper=True)
    cultivar = Text(120)
    crop_eppo = Text(6)
    benches = Refs("bench")
    n_containers = Whole(most=10_000_000)
    container = Text(80)
    stage = Text(120)
    started_on = Day()


STRENGTH: Final = ("g/L", "%", "mg/L", "mg/mL", "[lb_av]/[gal_us]")


class Ingredient(Schema):
    """One a.i. of a product: strength as printed; `basis` says which per cent it is."""

    ai = Text(120)
    strength = Quantity(STRENGTH, most=1_000_000)
    basis = Choice(("w_w", "w_v"))
    expressed_as = Choice(("salt", "acid_equivalent"))


class Product(Schema):
    """A crop-protection product, adjuvant or blank, as its label says it (the user's copy)."""

    name = Text(120, required_on_paper=True)
    registration_number = Text(60, required_on_paper=True)
    country = Text(40)
    kind = Choice(("product", "adjuvant", "formulation_blank", "water_conditioner"))
    physical_form = Choice(("liquid", "dry"))
    formulation_type = Text(4)
    ingredients = Rows(Ingredient, 12, required_on_paper=True)
    density = Quantity(("g/mL",), least=0.3, most=3)
    rei = Quantity(("h",), most=2400)
    double_notice = Flag()
    signal_word = Choice(("none", "caution", "warning", "danger", "danger_poison"))
    ppe_mixing = LongText(1000)
    ppe_applying = LongText(1000)
    first_aid = LongText(2000)
    use_within = Quantity(("h",), most=2400)
    water_ph_min = Decimal(most=14)
    water_ph_max = Decimal(most=14)
    label_on = Day()


TARGET: Final = (
    "mg/L", "mg/{pot}", "mg/m2", "%", "mL/L", "g/L", "[foz_us]/[gal_us]", "[oz_av]/[gal_us]",
    "mL/m2", "g/m2",
)  # fmt: skip
PER_AREA: Final = ("mL/m2", "L/m2", "[qt_us]/(100.[sft_i])", "[gal_us]/(1000.[sft_i])")
PER_CONTAINER: Final = ("mL/{pot}", "[foz_us]/{pot}", "mL/{tray}", "mL/{bulb}")


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
    droplet = Choice(
        (
            "extremely_fine",
            "very_fine",
            "fine",
            "medium",
            "coarse",
            "very_coarse",
            "extremely_coarse",
            "ultra_coarse",
        )
    )
    calibrate_every = Quantity(("d",), least=1, most=3660)


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


class AppliedLine(Schema):
    """One place that got some of the tank: a lot on a bench, its area and its share."""

    bench = Ref("bench")
    lot = Ref("lot")
    house = Ref("house")
    place = Text(200)
    lot_code = Text(24)
    crop = Text(240)
    crop_eppo = Text(6)
    area = Quantity(AREA)
    n_containers = Whole(most=10_000_000)
    volume = Quantity(VOLUME)


class AppliedProduct(Schema):
    """One product as it went into the tank, with what its label said on that day."""

    product = Ref("product")
    name = Text(120)
    registration_number = Text(60)
    kind = Choice(("product", "adjuvant", "formulation_blank", "water_conditioner"))
    ingredients = Rows(Ingredient, 12)
    density = Quantity(("g/mL",), least=0.3, most=3)
    formulation_type = Text(4)
    physical_form = Choice(("liquid", "dry"))
    rei = Quantity(("h",), most=2400)
    label_on = Day()
    target = Quantity(TARGET, most=100_000)
    amount = Quantity(AMOUNT)


class Signature(Schema):
    """Who stands for the record, how that was shown, and when."""

    member = Ref("member")
    name = Text(120)
    method = Choice(("password", "pin", "phone"))
    device = Text(80)
    at = Moment()


class Application(Schema):
    """What was applied: one tank over several lots and benches, and when it was done."""

    lines = Rows(AppliedLine, required_on_paper=True)
    tank_mix = Ref("tank_mix")
    mix_name = Text(120)
    method = Choice(METHODS, required_on_paper=True)
    products = Rows(AppliedProduct, 12, required_on_paper=True)
    volume = Quantity(VOLUME, required_on_paper=True)
    area = Quantity(AREA, required_on_paper=True)
    sprayer = Ref("sprayer")
    tank_capacity = Quantity(VOLUME)
    volume_left = Quantity(VOLUME)
    purpose = Text(200)
    operator = Ref("member", required_on_paper=True)
    operator_name = Text(120)
    started_at = Moment(required_on_paper=True)
    ended_at = Moment(required_on_paper=True)
    stopped_early = Flag()
    stopped_note = LongText(1000)
    air_temperature = Quantity(("Cel", "[degF]"), least=-40, most=150)
    air_humidity = Quantity(("%",), most=100)
    note = LongText(4000)
    entered_later = Flag()
    signature = Group(Signature, required_on_paper=True)


class Photo(Schema):
    """A photo of a record; its bytes travel apart, by their digest."""

    of_kind = Text(62)
    of_id = Ref("application")
    sha256 = Digest()
    original_sha256 = Digest()
    size = Whole(least=1, most=8_000_000)
    width = Whole(least=1, most=10_000)
    height = Whole(least=1, most=10_000)
    media_type = Choice(("image/jpeg",))
    captured_at = Moment()


@dataclass(frozen=True, slots=True)
class Kind:
    """A registered kind. `form_version` grows with each change of the schema."""

    name: str
    schema: Schema
    guard: Guard
    form_version: int = 1
    signed_field: str | None = None


KINDS: Final[dict[str, Kind]] = {
    kind.name: kind
    for kind in (
        Kind("establishment", Establishment(), "admin"),
        Kind("member", Member(), "admin"),
        Kind("device", Device(), "admin"),
        Kind("house", House(), "register"),
        Kind("bench", Bench(), "register"),
        Kind("lot", Lot(), "register"),
        Kind("product", Product(), "register"),
        Kind("tank_mix", TankMix(), "register"),
        Kind("incompatible_pair", IncompatiblePair(), "register"),
        Kind("jar_test", JarTest(), "register"),
        Kind("instrument", Instrument(), "register"),
        Kind("sprayer", Sprayer(), "register"),
        Kind("calibration", Calibration(), "field"),
        Kind("application", Application(), "field", signed_field="signature"),
        Kind("photo", Photo(), "field"),
    )
}
