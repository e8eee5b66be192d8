"""Schemas of the working day: orders, applications, restrictions, and what is kept with them."""

from __future__ import annotations

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
from tepal.forms.registers import Contact, Ingredient
from tepal.forms.vocabulary import (
    AMOUNT,
    AREA,
    DROPLETS,
    METHODS,
    PRODUCT_KINDS,
    SITES,
    TARGET,
    VOLUME,
)


class OrderLine(Schema):
    """One place of a spray order."""

    lot = Ref("lot")
    bench = Ref("bench")
    untreated = Flag()


class SprayOrder(Schema):
    """What is planned: lots, mix, window, operator. Done by applications that name it."""

    title = Text(120)
    lines = Rows(OrderLine, required_on_paper=True)
    tank_mix = Ref("tank_mix", required_on_paper=True)
    sprayer = Ref("sprayer")
    window_from = Day()
    window_to = Day()
    from_time = Text(5)
    to_time = Text(5)
    operator = Ref("member")
    trial = Ref("trial")
    treatment = Whole(most=1000)
    program = Ref("program")
    week = Whole(most=200)
    second_of = Ref("application")
    permit = Ref("permit")
    cancelled = Flag()
    note = LongText(1000)


class OrderOutcome(Schema):
    """How an order ended when it was not simply done: partly, or skipped, and why."""

    order = Ref("spray_order")
    result = Choice(("done", "partly", "skipped"), required_on_paper=True)
    application = Ref("application")
    reason = Text(400)
    at = Moment()


class ProgramStep(Schema):
    """One treatment of a crop's program, by the week of the crop."""

    week = Whole(most=200)
    tank_mix = Ref("tank_mix")
    stage = Text(120)
    note = Text(400)


class Program(Schema):
    """What earned a place for a crop: orders by the week of the crop, and where it comes from."""

    name = Text(120, required_on_paper=True)
    crop = Text(120)
    cultivar = Text(120)
    counted_from = Choice(("stick", "transplant", "pinch", "start"))
    steps = Rows(ProgramStep, 100)
    from_trial = Ref("trial")
    source = Text(400)
    retired = Flag()


class VentilationSpell(Schema):
    """One stretch of ventilation, or of the house standing closed."""

    sort = Choice(("mechanical", "passive", "closed"))
    began_at = Moment()
    ended_at = Moment()
    air_exchanges = Decimal(most=10_000)
    by = Ref("member")


class OralNotice(Schema):
    """Who was told, when, by whom, in what words."""

    told = Text(200)
    at = Moment()
    by = Ref("member")
    words = Text(400)


class Restriction(Schema):
    """Who may not be where, and until when. What happens to it later are its own entries."""

    application = Ref("application")
    house = Ref("house")
    benches = Refs("bench")
    area = Choice(("treated_area", "treated_area_25_ft", "whole_house"))
    area_during = Choice(("treated_area", "treated_area_25_ft", "whole_house"))
    method_class = Whole(least=1, most=5)
    place = Text(400)
    product_names = Text(400)
    started_at = Moment()
    ended_at = Moment()
    rei = Quantity(("h",), most=2400)
    rei_unknown = Flag()
    double_notice = Flag()
    ventilation_owed = Flag()
    inhalation_level = Text(120)
    measured_level = Text(120)
    measured_with = Text(120)
    measured_at = Moment()
    ventilation = Rows(VentilationSpell, 60)
    signs_up_at = Moment()
    signs_up_by = Ref("member")
    signs_down_at = Moment()
    signs_down_by = Ref("member")
    oral_notices = Rows(OralNotice, 60)
    reopened_at = Moment()
    reopened_by = Ref("member")
    reopened_name = Text(120)
    note = LongText(1000)


class EarlyEntry(Schema):
    """One entry into a restricted area before it was reopened, and what allowed it."""

    restriction = Ref("restriction")
    who = Text(200, required_on_paper=True)
    task = Choice(("no_contact", "short_task", "declared_emergency", "limited_contact"))
    began_at = Moment()
    ended_at = Moment()
    ppe = LongText(1000)
    reason = LongText(1000)
    told_by = Ref("member")


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
    stage = Text(120)
    bbch = Whole(most=99)


class AppliedProduct(Schema):
    """One product as it went into the tank, with what its label said on that day."""

    product = Ref("product")
    name = Text(120)
    registration_number = Text(60)
    country = Text(40)
    kind = Choice(PRODUCT_KINDS)
    ingredients = Rows(Ingredient, 12)
    density = Quantity(("g/mL",), least=0.3, most=3)
    formulation_type = Text(4)
    physical_form = Choice(("liquid", "dry"))
    rei = Quantity(("h",), most=2400)
    label_on = Day()
    target = Quantity(TARGET, most=100_000)
    amount = Quantity(AMOUNT)
    batch = Ref("batch")
    batch_code = Text(60)
    double_notice = Flag()
    respirator = Flag()
    restricted_use = Flag()
    hours_limited = Flag()
    stage_limited = Flag()
    ppe_mixing = LongText(1000)
    ppe_applying = LongText(1000)
    sds_on = Day()


class CheckAnswer(Schema):
    """One finding of the checks as it stood before mixing, and what the operator answered."""

    code = Text(80)
    severity = Choice(("stop", "caution", "note"))
    about = Text(200)
    answer = Text(400)


class TreatedPlot(Schema):
    """One plot of a trial that this application treated; `actual` differs where it went wrong."""

    plot = Whole(least=1, most=100_000)
    planned = Whole(most=1000)
    actual = Whole(most=1000)
    note = Text(400)


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
    order = Ref("spray_order")
    trial = Ref("trial")
    permit = Ref("permit")
    plots = Rows(TreatedPlot, 2000)
    site = Choice(SITES)
    droplet = Choice(DROPLETS)
    method_class = Whole(least=1, most=5)
    checks = Rows(CheckAnswer)
    ppe_mixing_worn = Flag()
    ppe_applying_worn = Flag()
    certified_applicator = Ref("member")
    certified_applicator_name = Text(120)
    certified_applicator_number = Text(60)
    customer = Group(Contact)
    area_described = Text(400)
    tank_cleaned = Flag()
    heard_at = Text(24)
    water_due_at = Moment()


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


class VoiceNote(Schema):
    """A spoken note of a record; its bytes travel apart, by their digest."""

    of_kind = Text(62)
    of_id = Ref("application")
    sha256 = Digest()
    size = Whole(least=1, most=8_000_000)
    seconds = Whole(least=0, most=600)
    media_type = Choice(("audio/webm", "audio/mp4"))
    captured_at = Moment()
