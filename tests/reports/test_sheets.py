from dataclasses import replace

import pytest

from support import month_sample
from support.paper_reading import assert_inside_the_margins, is_struck, page_texts, whole_text
from support.sheet_sample import STOP, application_sheet_view, mixing_sheet_view, tank_loads
from tepal.reports.application_sheet import render_application_sheet
from tepal.reports.application_view import ApplicationSheetView, HistoryLine
from tepal.reports.frozen import from_json, to_json
from tepal.reports.mixing_sheet import render_mixing_sheet
from tepal.reports.mixing_view import MixingSheetView, TankLoad
from tepal.reports.record import ContradictionError, Value

LANGUAGES = ("en", "es")
PAPERS = ("a4", "letter")


def changed_load(**changed):
    return (replace(tank_loads()[0], **{"numbers": (1,), **changed}),)


def changed_step(i, **changed):
    steps = list(tank_loads()[0].steps)
    steps[i] = replace(steps[i], **changed)
    return changed_load(steps=tuple(steps))


# --- the sheet of one application ----------------------------------------------------------


@pytest.mark.parametrize("language", LANGUAGES)
def test_application_sheet_prints_record_history_and_photos(catalogues, language):
    view = application_sheet_view(language)

    text = whole_text(render_application_sheet(view, catalogues[language]))

    record = view.record
    for value in (record.date, record.start, record.end, record.place, record.rei_end):
        assert value.text in text
    for line in record.products:
        for value in (line.name, line.registration, line.active_ingredients, line.amount):
            assert value.text in text
    for entry in view.history:
        assert f"{entry.at} " in text
        assert entry.text in text
        assert entry.reason in text
        assert str(entry.seq) in text
    assert all(photo.sha256 in text for photo in view.photos)
    assert all(fact.value.text in text for fact in record.facts)


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("language", LANGUAGES)
def test_application_sheet_stays_inside_its_margins(catalogues, language, paper):
    view = application_sheet_view(language, paper=paper)

    assert_inside_the_margins(render_application_sheet(view, catalogues[language]))


@pytest.mark.parametrize("language", LANGUAGES)
def test_a_complete_application_takes_one_a4_page(catalogues, language):
    view = application_sheet_view(language, record=month_sample.application(language))

    assert len(page_texts(render_application_sheet(view, catalogues[language]))) == 1


def test_application_sheet_strikes_the_old_value(english):
    pdf = render_application_sheet(application_sheet_view(), english)

    assert is_struck(pdf, "28.2 L")[-1] is False  # told in the history, not struck
    assert is_struck(pdf, "28.2")[0] is True


def test_application_sheet_of_a_void_record_is_struck_and_says_why(english):
    pdf = render_application_sheet(application_sheet_view(record=month_sample.void()), english)

    assert is_struck(pdf, "99999-101") == [True]
    assert "VOID Ines Valcourt, 2026-05-15 16:20 −07:00: logged twice" in page_texts(pdf)[0]
    assert "voided by Ines Valcourt, office" in whole_text(pdf)


def test_application_sheet_says_what_is_missing(english):
    view = application_sheet_view(record=month_sample.drench())

    text = whole_text(render_application_sheet(view, english))

    assert "Missing: end time, active ingredients" in text
    assert "End missing" in text


def test_a_history_of_300_entries_is_printed_whole(english):
    lines = [HistoryLine("2026-05-14", "Ø", "p", "create", "", "", 1)]
    lines += [
        HistoryLine("2026-05-15", "Ø", "p", "change", f"entry text {i:03d}", "", i)
        for i in range(2, 302)
    ]
    view = application_sheet_view(record=month_sample.application(), history=tuple(lines))

    text = whole_text(render_application_sheet(view, english))

    assert all(f"entry text {i:03d}" in text for i in range(2, 302))


@pytest.mark.parametrize(
    "wrong",
    [
        {"history": ()},
        {"history": (HistoryLine("t", "a", "p", "amend", "x", "y", 5),)},
        {"history": (HistoryLine("t", "a", "p", "create", "", "", 5),)},  # amended, no entry
        {"photos": ()},
        {"head_seq": 4400},  # older than the record's last entry
        {"record": month_sample.void()},  # void in the record, not in the history
        {"paper": "a5"},
    ],
)
def test_application_sheet_refuses_a_history_of_another_record(wrong):
    with pytest.raises(ContradictionError):
        replace(application_sheet_view(), **wrong)


def test_application_sheet_refuses_a_history_out_of_order():
    view = application_sheet_view()

    with pytest.raises(ContradictionError):
        replace(view, history=view.history[::-1])


# --- the mixing sheet ----------------------------------------------------------------------


@pytest.mark.parametrize("language", LANGUAGES)
def test_mixing_sheet_prints_each_step_in_order_in_both_units(catalogues, language):
    view = mixing_sheet_view(language)

    text = whole_text(render_mixing_sheet(view, catalogues[language]))

    for load in view.loads:
        # Water first, two products, water up to the final volume.
        places = [text.index(f"{step.amount} {step.also}") for step in load.steps]
        assert places == sorted(places)
        for step in load.steps:
            assert step.name in text
            assert step.detail in text


@pytest.mark.parametrize(
    ("language", "said"),
    [
        ("en", ("Loads 1, 2 of 3, each", "Load 3 of 3", "Water, stir", "Water, up to", "load 2")),
        ("es", ("Cargas 1, 2 de 3, cada una", "Carga 3 de 3", "Agua, agitar", "Agua, hasta")),
    ],
)
def test_mixing_sheet_names_loads_water_and_boxes(catalogues, language, said):
    text = whole_text(render_mixing_sheet(mixing_sheet_view(language), catalogues[language]))

    assert all(words in text for words in said)


def test_mixing_sheet_prints_ppe_before_the_first_amount(english):
    view = mixing_sheet_view()

    text = whole_text(render_mixing_sheet(view, english))

    first = text.index(view.loads[0].steps[0].detail)
    assert text.index(view.ppe_mixing[0]) < first
    assert text.index(view.ppe_applying[0]) < first
    assert text.index("The label is the law.") < first


@pytest.mark.parametrize("field", ["ppe_mixing", "ppe_applying"])
def test_mixing_sheet_says_when_ppe_is_not_on_file(english, field):
    text = whole_text(render_mixing_sheet(mixing_sheet_view(**{field: ()}), english))

    assert "Not on file: read it from the label before you open the product." in text


def test_ppe_of_150_lines_is_printed_whole(english):
    lines = tuple(f"PPE line {i:03d}" for i in range(150))

    pdf = render_mixing_sheet(mixing_sheet_view(ppe_mixing=lines), english)

    text = whole_text(pdf)
    assert all(line in text for line in lines)
    assert_inside_the_margins(pdf)


def test_mixing_sheet_says_when_nothing_is_known_of_leftovers(english):
    text = whole_text(render_mixing_sheet(mixing_sheet_view(leftovers=""), english))

    assert "Not on file: follow the label." in text


@pytest.mark.parametrize("language", LANGUAGES)
def test_a_stop_takes_the_place_of_every_amount(catalogues, language):
    view = mixing_sheet_view(language, stops=(STOP[language],))

    text = whole_text(render_mixing_sheet(view, catalogues[language]))

    assert STOP[language] in text
    for load in view.loads:
        for step in load.steps:
            assert f"{step.amount} {step.also}" not in text
    assert view.ppe_mixing[0] not in text


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("language", LANGUAGES)
def test_mixing_sheet_stays_inside_its_margins(catalogues, language, paper):
    view = mixing_sheet_view(language, paper=paper)

    assert_inside_the_margins(render_mixing_sheet(view, catalogues[language]))


def test_300_alike_loads_have_a_box_each(english):
    load = replace(tank_loads()[0], numbers=tuple(range(1, 301)))

    pdf = render_mixing_sheet(mixing_sheet_view(loads=(load,)), english)

    text = whole_text(pdf)
    assert all(f"load {i} " in f"{text} " for i in range(1, 301))
    assert_inside_the_margins(pdf)


def test_a_mix_of_forty_products_is_printed_whole(english):
    load = tank_loads()[0]
    water, product, _, full = load.steps
    products = tuple(replace(product, name=f"Product {i:02d}") for i in range(40))
    whole = replace(load, numbers=(1,), steps=(water, *products, full))

    text = whole_text(render_mixing_sheet(mixing_sheet_view(loads=(whole,)), english))

    assert all(f"Product {i:02d}" in text for i in range(40))
    assert "Load 1 of 1" in text


@pytest.mark.parametrize(
    "loads",
    [
        (),
        changed_load(numbers=()),
        (replace(tank_loads()[0], numbers=(2,)),),
        (replace(tank_loads()[0], numbers=(1, 1)),),
        changed_load(steps=()),
        changed_load(steps=tank_loads()[0].steps[:1]),  # water only
        changed_load(steps=tank_loads()[0].steps[::-1]),
        # Filled up, then a product.
        changed_load(steps=tuple(tank_loads()[0].steps[i] for i in (0, 3, 1))),
        changed_load(steps=tank_loads()[0].steps[1::-1]),  # first water after a product
        changed_step(1, amount=" "),
        changed_step(1, name=""),
    ],
)
def test_mixing_sheet_refuses_loads_that_cannot_be_mixed_as_printed(loads):
    with pytest.raises(ContradictionError):
        mixing_sheet_view(loads=loads)


def test_a_load_without_a_first_water_is_taken():
    load = TankLoad((1,), "10 L", "2.64 gal", tank_loads()[0].steps[1:])

    assert mixing_sheet_view(loads=(load,)).n_loads == 1


# --- both ----------------------------------------------------------------------------------

SHEETS = [
    (ApplicationSheetView, application_sheet_view, render_application_sheet),
    (MixingSheetView, mixing_sheet_view, render_mixing_sheet),
]


@pytest.mark.parametrize(("kind", "build", "render"), SHEETS)
def test_a_stored_sheet_gives_the_same_bytes(english, kind, build, render):
    view = build()

    again = from_json(kind, to_json(view))

    assert again == view
    assert render(again, english) == render(view, english)


@pytest.mark.parametrize(("kind", "build", "render"), SHEETS)
def test_hostile_text_in_a_sheet_is_printed_as_typed(english, kind, build, render):
    pdf = render(build(printed_by="<b>A & B</b> 東京 " + "M" * 300), english)

    text = whole_text(pdf)
    assert "<b>A & B</b> ▯▯" in text
    assert "U+6771 U+4EAC" in text
    assert_inside_the_margins(pdf)


@pytest.mark.parametrize(("kind", "build", "render"), SHEETS)
def test_every_page_of_a_sheet_is_numbered(english, kind, build, render):
    pages = page_texts(render(build(), english))

    assert all(f"page {i} of {len(pages)}" in page for i, page in enumerate(pages, start=1))


def test_a_long_amount_is_printed_whole(english):
    load = changed_step(1, amount="1234567890" * 20 + " mL")

    pdf = render_mixing_sheet(mixing_sheet_view(loads=load), english)

    assert "1234567890" * 20 in whole_text(pdf).replace(" ", "")
    assert_inside_the_margins(pdf)


def test_an_optional_value_that_is_not_on_file_is_a_dash(english):
    text = whole_text(render_mixing_sheet(mixing_sheet_view(sprayer=Value()), english))

    assert "Sprayer –" in text
