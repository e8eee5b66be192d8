"""Schemas of trials: the plan with its layout, assessments, observations, exclusions."""

from __future__ import annotations

from marshmallow import Schema

from tepal.forms.fields import (
    Choice,
    Day,
    Decimal,
    Flag,
    Group,
    LongText,
    Moment,
    Quantity,
    Ref,
    Refs,
    Rows,
    Text,
    Texts,
    Whole,
)
from tepal.forms.vocabulary import AREA, METHODS


class FactorLevel(Schema):
    """The level of one factor in a treatment of a factorial."""

    factor = Text(60)
    level = Text(60)


class Treatment(Schema):
    """A treatment, numbered 1, 2, 3; `rate` is the dose for dose response, `rate_unit` its unit."""

    number = Whole(least=1, most=1000)
    name = Text(120)
    role = Choice(("untreated", "water", "standard", "blank", "partner", "mix", "rate", "other"))
    tank_mix = Ref("tank_mix")
    rate = Decimal(most=1_000_000)
    rate_unit = Text(24)
    levels = Rows(FactorLevel, 6)
    blank_of = Whole(least=1, most=1000)


class Measurement(Schema):
    """What is measured, as the pad shows it: definition, unit, type, bounds, decimals."""

    code = Text(24)
    name = Text(120)
    definition = LongText(600)
    unit = Text(24)
    type = Choice(("continuous", "count", "proportion", "days", "rating"))
    per = Choice(("plant", "plot"))
    least = Decimal(least=-1e6, most=1e9)
    most = Decimal(least=-1e6, most=1e9)
    decimals = Whole(most=6)
    wanted = Choice(("lower", "higher", "none"))


class PlannedAssessment(Schema):
    """An assessment by days after treatment, with its window and what is measured then."""

    code = Text(24)
    name = Text(120)
    sort = Choice(("assessment", "daily_round", "harvest", "warm_up"))
    day = Whole(least=-400, most=2000)
    window = Whole(most=60)
    until_day = Whole(least=-400, most=2000)
    measurements = Texts(24)


class Plot(Schema):
    """One plot of the layout; `code` is readable and blinded, `origin` its plant before potting.

    `received` is the treatment it got instead of the planned one, where that was recorded in
    another book or before its plant was moved: an own application says it itself.
    """

    plot = Whole(least=1, most=100_000)
    code = Text(12)
    block = Whole(most=10_000)
    row = Whole(most=10_000)
    column = Whole(most=10_000)
    whole_plot = Whole(most=10_000)
    treatment = Whole(most=1000)
    received = Whole(least=1, most=1000)
    guard = Flag()
    lot = Ref("lot")
    bench = Ref("bench")
    origin = Text(24)


class HarvestPlants(Schema):
    """The plants of one plot that a harvest takes, as "2, 4"; drawn by chance beforehand."""

    plot = Whole(least=1, most=100_000)
    plants = Text(400)


class Harvest(Schema):
    """A harvest: what is cut, when, from which plants, how it is weighed, by whom.

    `assessment` is the planned look at which its weights are entered; empty `blocks` means all.
    """

    assessment = Text(24)
    part = Choice(("shoot", "shoot_and_roots", "leaves", "stems", "flowers", "roots"))
    plants_per_plot = Whole(least=1, most=1000)
    blocks = Texts(12)
    weighing = Choice(("fresh", "dry", "fresh_and_dry"))
    drying_temperature = Quantity(("Cel", "[degF]"), most=400)
    drying_time = Quantity(("h", "d"), most=2000)
    by = Ref("member")
    note = LongText(600)
    plants = Rows(HarvestPlants, 5000)


class Prices(Schema):
    """What the trade-off is reckoned with, in the grower's own prices."""

    currency = Text(3)
    bench_day = Decimal()
    labour_saved = Decimal()
    plant_value = Decimal()
    treatment_cost = Decimal()


class ContrastWeight(Schema):
    """The weight of one treatment in a planned contrast."""

    treatment = Whole(least=1, most=1000)
    weight = Decimal(least=-1000, most=1000)


class PlannedContrast(Schema):
    """A comparison of the trial's own; its weights add up to zero."""

    name = Text(120)
    weights = Rows(ContrastWeight, 200)


class TrialCrop(Schema):
    """A crop of a trial that was made elsewhere: its lots are not in this book."""

    crop = Text(120)
    crop_eppo = Text(6)
    cultivar = Text(120)
    container = Text(80)


class Received(Schema):
    """What a treatment of a trial made elsewhere received of one a.i.; `others` have none."""

    treatment = Whole(least=1, most=1000)
    ai = Text(120)
    rate = Quantity(("mg/L",), most=1_000_000)
    method = Choice(METHODS)
    volume_per_container = Quantity(("mL/{pot}",), most=100_000)
    volume_per_area = Quantity(("mL/m2",), most=100_000)
    applications = Whole(least=1, most=1000)
    products = Text(400)
    others = Text(400)


class Trial(Schema):
    """A trial: question, treatments, design and layout, measurements, assessments, comparisons."""

    code = Text(12, required_on_paper=True)
    title = Text(200, required_on_paper=True)
    question = LongText(2000)
    responsible = Ref("member")
    permit = Ref("permit")
    lots = Refs("lot")
    house = Ref("house")
    origin = Ref("trial")
    order = Ref("spray_order")
    treatments = Rows(Treatment, 200)
    factors = Texts(60)
    control = Whole(least=1, most=1000)
    unit = Choice(("pot", "tray", "bench", "plant"))
    treated_how = Choice(("each_unit_alone", "shared_pass"))
    treated_words = LongText(1000)
    design = Choice(("crd", "rcbd", "latin_square", "split_plot"))
    blocks_are = Text(200)
    n_blocks = Whole(least=1, most=1000)
    plants_per_plot = Whole(least=1, most=1000)
    rows = Whole(least=1, most=1000)
    columns = Whole(least=1, most=1000)
    seed = Text(40)
    algorithm = Text(60)
    plots = Rows(Plot, 5000)
    randomised_at = Moment()
    randomised_why = Text(400)
    blinded = Flag()
    primary_response = Text(24)
    measurements = Rows(Measurement, 60)
    assessments = Rows(PlannedAssessment, 200)
    day_zero_on = Day()
    comparison = Choice(("dunnett", "tukey", "lsd", "games_howell"))
    two_sided = Flag()
    alpha = Decimal(least=0.0001, most=0.5)
    interaction_scale = Choice(("absolute", "multiplicative"))
    contrasts = Rows(PlannedContrast, 40)
    wanted_value = Decimal(least=-1e6, most=1e9)
    covariate = Text(24)
    cv = Quantity(("%",), most=1000)
    difference_worth = Quantity(("%",), most=1000)
    power = Decimal(most=1)
    prices = Group(Prices)
    harvests = Rows(Harvest, 40)
    harvest_seed = Text(40)
    harvest_plan = LongText(2000)
    plot_area = Quantity(AREA, most=100_000)
    overage = Quantity(("%",), most=100)
    potted_on = Day()
    phase = Choice(("planned", "running", "finished", "closed"))
    started_on = Day()
    finished_on = Day()
    conclusion = LongText(4000)
    elsewhere = Text(200)
    crops = Rows(TrialCrop, 20)
    received = Rows(Received, 400)
    demo_notes = LongText(4000)
    note = LongText(4000)


class Assessment(Schema):
    """A dated set of observations; its id follows from trial and code, so that phones share it.

    `again_plots`: what is measured once more without a look at the first values, by plot code;
    odd and ordinary plots are mixed in it, and nothing says which are which.
    """

    trial = Ref("trial")
    code = Text(24)
    started_at = Moment()
    finished_at = Moment()
    observers = Refs("member")
    again_plots = Texts(24)
    note = LongText(2000)


class Observation(Schema):
    """What was seen on one plant or plot at one assessment: a top-level field per measurement.

    Fields `m_<code>` hold the measured values; there are as many as the trial defines.
    """

    trial = Ref("trial")
    assessment = Text(24)
    plot = Whole(least=1, most=100_000)
    plant = Whole(least=0, most=1000)
    lot = Ref("lot")
    observer = Ref("member")
    observed_at = Moment()
    condition = Choice(("alive", "dead", "discarded", "not_measured"))
    condition_why = Text(400)
    stage = Text(120)
    bbch = Whole(most=99)
    phytotoxicity = Decimal(most=100)
    again = Flag()
    note = LongText(2000)


class Exclusion(Schema):
    """A plot or plant left out of the analysis, with its reason: kept, and printed."""

    trial = Ref("trial")
    plot = Whole(least=1, most=100_000)
    plant = Whole(least=0, most=1000)
    measurement = Text(24)
    assessment = Text(24)
    reason = Text(400, required_on_paper=True)
    lifted = Flag()
