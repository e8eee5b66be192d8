"""Schemas of what everything stands on: the nursery, people, places, lots, products, stock."""

from __future__ import annotations

from marshmallow import Schema

from tepal.forms.fields import (
    Choice,
    Choices,
    Day,
    Decimal,
    Digest,
    FileName,
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
from tepal.forms.vocabulary import (
    AMOUNT,
    AREA,
    DOSE,
    HEIGHT,
    LENGTH,
    METHODS,
    PRODUCT_KINDS,
    ROLES,
    SIGNAL_WORDS,
    SITES,
    STANDARDS,
    STRENGTH,
    TARGET,
)


class Contact(Schema):
    """Who to reach: name, address, telephone."""

    name = Text(120)
    address = LongText(500)
    phone = Text(60)


class Establishment(Schema):
    """The nursery itself; the regulation's word, on screens its own name."""

    name = Text(required_on_paper=True)
    address = LongText(500)
    country = Text(2)
    zone = Text(64)
    number_format = Choice(("1234.5", "1234,5"))
    unit_system = Choice(("metric", "us"))
    paper = Choice(("a4", "letter"))
    region = Text(40)
    standards = Choices(STANDARDS)
    currency = Text(3)
    medical_facility = Group(Contact)
    pesticide_agency = Group(Contact)
    poison_line = Text(60)
    eyewash = Text(200)
    spill = LongText(2000)
    whole_house = Flag()
    ventilation_parts_add = Flag()
    air_temperature_min = Quantity(("Cel", "[degF]"), least=-40, most=150)
    air_temperature_max = Quantity(("Cel", "[degF]"), least=-40, most=150)
    air_humidity_min = Quantity(("%",), most=100)
    air_humidity_max = Quantity(("%",), most=100)
    keep_years = Whole(least=1, most=30)


class Member(Schema):
    """A person who works with Tepal. Secrets are not here."""

    name = Text(120, required_on_paper=True)
    role = Choice(ROLES)
    language = Choice(("en", "es"))
    active = Flag()
    applicator_number = Text(60)
    is_adult = Flag()


class Device(Schema):
    """A phone, an office browser, a wall tablet; `ceiling` is the most it may ever do."""

    label = Text(80)
    ceiling = Choice(ROLES)
    revoked = Flag()


class House(Schema):
    """A greenhouse: the enclosed space that entry rules speak of."""

    name = Text(120, required_on_paper=True)
    code = Text(12)
    site = Choice(SITES)
    length = Quantity(LENGTH)
    width = Quantity(LENGTH)
    area = Quantity(AREA)
    ventilation = Choice(("mechanical", "passive"))
    note = LongText(1000)
    retired = Flag()


class Bay(Schema):
    """A part of a house; `x` and `y` count from the corner of the house left of its door."""

    name = Text(120, required_on_paper=True)
    code = Text(12)
    house = Ref("house")
    x = Quantity(LENGTH)
    y = Quantity(LENGTH)
    length = Quantity(LENGTH)
    width = Quantity(LENGTH)
    retired = Flag()


class Bench(Schema):
    """A bench, bed or floor section; `x` and `y` count from the house's corner left of its door."""

    name = Text(120, required_on_paper=True)
    code = Text(12)
    house = Ref("house")
    bay = Ref("bay")
    x = Quantity(LENGTH)
    y = Quantity(LENGTH)
    length = Quantity(LENGTH)
    width = Quantity(LENGTH)
    area = Quantity(AREA)
    retired = Flag()


class Ingredient(Schema):
    """One a.i. of a product: strength as printed; `basis` says which per cent it is."""

    ai = Text(120)
    strength = Quantity(STRENGTH, most=1_000_000)
    basis = Choice(("w_w", "w_v"))
    expressed_as = Choice(("salt", "acid_equivalent"))


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
    bbch = Whole(most=99)
    plants_per_container = Whole(least=1, most=1000)
    supplier = Text(120)
    from_lots = Refs("lot")
    phase = Choice(("growing", "shipped", "discarded", "merged"))
    growth_start_on = Day()
    start_height = Quantity(HEIGHT, most=10_000)
    finish_on = Day()
    finish_height = Quantity(HEIGHT, most=10_000)
    height_tolerance = Quantity(("%",), most=100)


class LotEvent(Schema):
    """One event in a lot's life; what it changed on the lot stands in entries of the same group."""

    lot = Ref("lot")
    what = Choice(
        (
            "stick", "off_mist", "pinch", "transplant", "moved", "split", "merged", "counted",
            "shipped", "discarded", "stage",
        ),
        required_on_paper=True,
    )  # fmt: skip
    at = Moment()
    n_containers = Whole(most=10_000_000)
    container = Text(80)
    benches = Refs("bench")
    other_lots = Refs("lot")
    stage = Text(120)
    bbch = Whole(most=99)
    customer = Text(200)
    note = LongText(1000)


class SupplierTreatment(Schema):
    """What the supplier already applied to a lot: it counts for intervals and season totals."""

    lot = Ref("lot")
    product_name = Text(120)
    registration_number = Text(60)
    ingredients = Rows(Ingredient, 12)
    method = Choice(METHODS)
    applied_on = Day()
    target = Quantity(TARGET, most=100_000)
    dose = Quantity(DOSE, most=100_000)
    source = Text(200)
    note = LongText(1000)


class LabelUse(Schema):
    """One use on a label: crop, site and method with its ceilings. An empty field: not on file."""

    crop = Text(120)
    crop_eppo = Text(6)
    sites = Choices(SITES)
    methods = Choices(METHODS)
    max_concentration = Quantity(("mg/L", "mL/L", "g/L", "[foz_us]/[gal_us]", "%"), most=1_000_000)
    max_dose_area = Quantity(("mg/m2", "mL/m2", "g/m2"), most=1_000_000)
    max_dose_container = Quantity(("mg/{pot}", "mL/{pot}"), most=1_000_000)
    max_season = Quantity(DOSE, most=1_000_000)
    max_of = Choice(("ai", "product"))
    max_applications = Whole(most=1000)
    min_interval = Quantity(("d",), most=3660)
    bbch_from = Whole(most=99)
    bbch_to = Whole(most=99)
    stage = Text(200)
    note = LongText(1000)


class Product(Schema):
    """A crop-protection product, adjuvant or blank, as its label says it (the user's copy)."""

    name = Text(120, required_on_paper=True)
    registration_number = Text(60, required_on_paper=True)
    country = Text(40)
    region = Text(40)
    kind = Choice(PRODUCT_KINDS)
    physical_form = Choice(("liquid", "dry"))
    formulation_type = Text(4)
    ingredients = Rows(Ingredient, 12, required_on_paper=True)
    density = Quantity(("g/mL",), least=0.3, most=3)
    rei = Quantity(("h",), most=2400)
    double_notice = Flag()
    signal_word = Choice(SIGNAL_WORDS)
    ppe_mixing = LongText(1000)
    ppe_applying = LongText(1000)
    first_aid = LongText(2000)
    use_within = Quantity(("h",), most=2400)
    water_ph_min = Decimal(most=14)
    water_ph_max = Decimal(most=14)
    label_on = Day()
    uses = Rows(LabelUse, 100)
    tank_mixing = Choice(("allowed", "listed_only", "forbidden"))
    tank_mix_partners = LongText(1000)
    adjuvants = Choice(("allowed", "required", "forbidden"))
    water_wait = Quantity(("h",), most=2400)
    early_entry_ppe = LongText(1000)
    respirator = Flag()
    restricted_use = Flag()
    hours_limited = Flag()
    stage_limited = Flag()
    low_stock = Quantity(AMOUNT, most=100_000)
    maker_phone = Text(60)
    retired = Flag()


class LabelFile(Schema):
    """A label or safety data sheet, as file of its version; its bytes travel apart, by digest."""

    product = Ref("product")
    sort = Choice(("label", "sds"), required_on_paper=True)
    version_on = Day()
    file_name = FileName(120)
    sha256 = Digest()
    size = Whole(least=1, most=20_000_000)
    media_type = Choice(("application/pdf", "image/jpeg"))
    replaced = Flag()


class Permit(Schema):
    """A trial authority: what allows a use that no label names, and what becomes of the crop."""

    number = Text(60, required_on_paper=True)
    sort = Choice(("permit", "exemption"))
    products = Refs("product")
    crops = Text(200)
    valid_from = Day()
    valid_to = Day()
    responsible = Ref("member")
    crop_fate = Choice(("destroy", "do_not_sell"))
    rei = Quantity(("h",), most=2400)
    rei_source = Text(200)
    note = LongText(1000)


class Batch(Schema):
    """One delivery of a product with its batch number."""

    product = Ref("product")
    code = Text(60, required_on_paper=True)
    received_on = Day()
    expires_on = Day()
    amount = Quantity(AMOUNT, most=100_000)
    cost = Decimal()
    supplier = Text(120)
    storage = Text(120)
    note = LongText(1000)


class StockCount(Schema):
    """What was found of a batch when somebody looked; it corrects what use would leave."""

    batch = Ref("batch")
    counted_at = Moment()
    amount = Quantity(AMOUNT, most=100_000)
    reason = Text(200)


class Certificate(Schema):
    """A person's certificate or training, with its expiry."""

    member = Ref("member")
    sort = Choice(
        ("certified_applicator", "handler_training", "worker_training", "noncertified_applicator",
         "other")
    )  # fmt: skip
    number = Text(60)
    issued_by = Text(120)
    issued_on = Day()
    expires_on = Day()
    note = LongText(1000)
