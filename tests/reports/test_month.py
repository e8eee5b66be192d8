import os
import subprocess
import sys
import time
from dataclasses import fields, replace

import pypdfium2
import pytest
import segno

from support import month_sample
from support.month_sample import HEAD_HASH, application, month_view, required
from support.paper_reading import (
    assert_inside_the_margins,
    drawn_boxes,
    is_struck,
    letter_boxes,
    opened,
    page_sizes,
    page_texts,
    text_boxes,
    whole_text,
)
from tepal.reports.month import render_month
from tepal.reports.print_facts import Caution, CompleteAsOf, DeviceHeard
from tepal.reports.record import Fact, Rival, Value

pytestmark = pytest.mark.full  # each draws a month
LANGUAGES = ("en", "es")


def with_product(**changed):
    base = application()
    return application(products=(replace(base.products[0], **changed), base.products[1]))


def one(record, **changed):
    return month_view(applications=(record,), **changed)


# --- what is on the paper ------------------------------------------------------------------


@pytest.mark.parametrize("language", LANGUAGES)
def test_month_prints_every_value_of_every_application(catalogues, language):
    view = month_view(language)

    text = whole_text(render_month(view, catalogues[language])).replace(" ", "")

    for record in view.applications:
        for owner in (record, *record.places, *record.products, *record.facts):
            for field in fields(owner):
                value = getattr(owner, field.name)
                if isinstance(value, Value):
                    assert value.text.replace(" ", "") in text
                    assert value.also.replace(" ", "") in text
        assert record.number.replace(" ", "") in text
        assert record.entered.replace(" ", "") in text
        assert all(line.lot_code in text for line in record.places)


@pytest.mark.parametrize("language", LANGUAGES)
def test_month_prints_its_front_and_end(catalogues, language):
    view = month_view(language, reprint_number=3)

    pages = page_texts(render_month(view, catalogues[language]))

    front, end, text = pages[0], pages[-1], " ".join(pages)
    business = view.establishment
    for said in (business.name, *business.address, view.filter, view.rule_set, view.printed_by):
        assert said in front
    assert {"en": "reprint 3", "es": "reimpresión 3"}[language] in front
    for total in (*view.product_totals, *view.active_totals):
        for said in (total.name, total.registration, total.amount, total.also):
            assert said in text
    assert " ".join(HEAD_HASH[i : i + 8] for i in range(0, 64, 8)) in end
    assert view.software in end


def test_month_says_what_it_does_not_know(english):
    front = page_texts(render_month(month_view(), english))[0]

    assert "Complete as of 2026-06-01 07:44 −07:00" in front
    assert "Dinh: last heard 2026-05-29 16:02; later entries on it are not known here." in front
    assert "Its entries 212 to 214 have not arrived." in front


def test_month_counts_its_states(english):
    front = page_texts(render_month(month_view(), english))[0]

    # full_month(): one of each, and six plain ones of nine.
    for said in ("9 applications", "1 void", "1 with fields missing", "1 not signed", "1 amended"):
        assert said in front


def test_month_prints_the_cautions(english):
    front = page_texts(render_month(month_view(), english))[0]

    assert "The label is the law." in front
    assert "The longest of a tank mix holds." in front
    assert "State, provincial, national and local rules can ask for more" in front


@pytest.mark.parametrize(
    ("language", "said"),
    [
        ("en", "from memory: not checked against the official text"),
        ("es", "de memoria: no comprobado con el texto oficial"),
    ],
)
def test_a_fact_from_memory_is_marked_and_the_mark_is_explained_on_each_page(
    catalogues, language, said
):
    pages = page_texts(render_month(month_view(language), catalogues[language]))

    assert f"({said})" in pages[0]  # the caution
    assert any("2028†" in page for page in pages)  # the fact
    assert all(f"† {said}" in page for page in pages)


def test_no_mark_is_explained_that_is_not_used(english):
    record = application(facts=())

    text = whole_text(render_month(one(record, cautions=()), english))

    assert "†" not in text
    assert "▯" not in text


@pytest.mark.parametrize(("language", "said"), [("en", "missing"), ("es", "falta")])
def test_an_empty_required_field_is_printed_as_missing(catalogues, language, said):
    view = month_view(language, applications=(month_sample.drench(language),))

    text = whole_text(render_month(view, catalogues[language]))

    assert f"07:10– {said}" in text or f"07:10–{said}" in text
    named = {"en": "end time, active ingredients", "es": "hora de fin, ingredientes activos"}
    assert named[language] in text


def test_an_empty_optional_field_is_not_called_missing(english):
    record = application(certificate=Value(), area=Value(), n_photos=0)

    assert "missing" not in whole_text(render_month(one(record), english))


def test_an_amended_value_is_struck_beside_the_new_one_with_who_when_why(english):
    pdf = render_month(one(month_sample.amended()), english)

    # In the head and in the line below that tells the change.
    assert is_struck(pdf, "28.2") == [True, True]
    assert not any(is_struck(pdf, "22.8"))
    told = "[1] volume: 28.2 L 22.8 L. Rosa Medrano-Teal, 2026-05-17 08:40 −07:00: misread"
    assert told in page_texts(pdf)[0]


def test_a_void_application_is_struck_and_says_who_when_why(english):
    pdf = render_month(one(month_sample.void()), english)

    text = page_texts(pdf)[0]
    assert "VOID" in text
    assert "Ines Valcourt, 2026-05-15 16:20 −07:00: logged twice" in text
    for value in ("99999-101", "Height, bedding, second week", "Rosa Medrano-Teal", "2·04"):
        assert is_struck(pdf, value)[0], value
    assert not any(is_struck(pdf, "logged twice"))


def test_a_valid_application_is_not_struck(english):
    pdf = render_month(one(application()), english)

    assert not any(is_struck(pdf, "Stemwright"))
    assert not any(is_struck(pdf, "22.8"))


def test_two_undecided_values_are_both_printed(english):
    text = whole_text(render_month(one(month_sample.undecided()), english))

    assert "174 mL 5.88 fl oz or 147 mL [1]" in text
    assert "Two values, not decided yet; 174 mL is on file. Dinh Tran-Okafor" in text


@pytest.mark.parametrize(
    ("language", "said"), [("en", "That is not proof that none"), ("es", "Eso no prueba que no")]
)
def test_an_empty_month_does_not_claim_that_nothing_was_sprayed(catalogues, language, said):
    view = month_view(language, applications=())

    assert said in whole_text(render_month(view, catalogues[language]))


# --- the sheets ----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("paper", "size"),
    # ISO 216: 297 x 210 mm; US letter 11 x 8.5 in. 1 in = 72 pt = 25.4 mm.
    [("a4", (841.89, 595.28)), ("letter", (792.0, 612.0))],
)
def test_pages_have_the_size_asked_for(english, paper, size):
    for found in page_sizes(render_month(month_view(paper=paper), english)):
        assert found == pytest.approx(size, abs=0.01)


@pytest.mark.parametrize(("language", "said"), [("en", "page {} of {}"), ("es", "página {} de {}")])
def test_every_page_says_its_number_and_how_many_there_are(catalogues, language, said):
    pages = page_texts(render_month(month_view(language), catalogues[language]))

    assert len(pages) >= 3
    for i, text in enumerate(pages, start=1):
        assert said.format(i, len(pages)) in text


def test_one_application_takes_one_sheet(english):
    assert len(page_texts(render_month(one(application()), english))) == 1


def test_every_later_page_names_business_month_and_anchor(english):
    for text in page_texts(render_month(month_view(), english))[1:]:
        assert text.startswith("Quillwater Bench & Liner Application record, May 2026")
        assert f"journal entry 4812, hash {HEAD_HASH[:12]}" in text


def test_the_document_carries_title_language_and_no_other_font(english):
    with opened(render_month(month_view("es"), english)) as document:
        assert document.get_metadata_value("Title").endswith("Quillwater Bench & Liner")
        fonts = {
            drawn.get_font().get_base_name()
            for page in document
            for drawn in page.get_objects(filter=[pypdfium2.raw.FPDF_PAGEOBJ_TEXT])
        }
    assert all(name.startswith(("Atkinson", "DejaVu")) for name in fonts)


@pytest.mark.parametrize("paper", ["a4", "letter"])
@pytest.mark.parametrize("language", LANGUAGES)
def test_nothing_stands_outside_the_margins(catalogues, language, paper):
    assert_inside_the_margins(render_month(month_view(language, paper=paper), catalogues[language]))


def test_the_anchor_code_is_drawn_as_the_standard_library_encodes_it(english):
    pdf = render_month(one(application()), english)
    matrix = [list(row) for row in segno.make_qr(f"4812:{HEAD_HASH}", error="m").matrix]
    side = max(
        (box for box in drawn_boxes(pdf) if abs((box[2] - box[0]) - (box[3] - box[1])) < 0.5),
        key=lambda box: box[2] - box[0],
    )
    scale = 6
    with opened(pdf) as document:
        page = document[0]
        height = page.get_height()
        picture = page.render(scale=scale, grayscale=True).to_pil()
    module = (side[2] - side[0]) / len(matrix)

    seen = [
        [
            picture.getpixel(
                (
                    int((side[0] + (j + 0.5) * module) * scale),
                    int((height - side[3] + (i + 0.5) * module) * scale),
                )
            )
            < 128
            for j in range(len(matrix))
        ]
        for i in range(len(matrix))
    ]

    assert seen == [[bool(dark) for dark in row] for row in matrix]


# --- hard text -----------------------------------------------------------------------------


def test_a_cell_of_200_lines_is_printed_whole(english):
    lines = "\n".join(f"line {i:03d} of the area" for i in range(200))
    record = application(description=required(lines))

    pdf = render_month(one(record), english)

    text = whole_text(pdf)
    assert all(f"line {i:03d} of the area" in text for i in range(200))
    assert "2026-0142, v1, continued" in text
    assert_inside_the_margins(pdf)


def test_a_crop_name_of_200_lines_beside_a_stake_is_printed_whole(english):
    base = application()
    crop = required("\n".join(f"crop line {i:03d}" for i in range(200)))
    record = application(places=(replace(base.places[0], crop=crop),))

    pdf = render_month(one(record), english)

    text = whole_text(pdf)
    assert all(f"crop line {i:03d}" in text for i in range(200))
    assert text.count("2·04") == 1
    assert_inside_the_margins(pdf)


def test_a_front_with_150_phones_and_90_cautions_is_printed_whole(english):
    phones = tuple(DeviceHeard(f"Phone {i:03d}", "now", "heard") for i in range(150))
    known = CompleteAsOf("now", phones, notes=("A note at the end.",))
    cautions = tuple(Caution(f"Caution {i:03d} " + "of some length " * 12) for i in range(90))

    pdf = render_month(month_view(complete_as_of=known, cautions=cautions), english)

    text = whole_text(pdf)
    assert all(f"Phone {i:03d}: heard now." in text for i in range(150))
    assert all(f"Caution {i:03d}" in text for i in range(90))
    assert "A note at the end." in text
    assert_inside_the_margins(pdf)


def test_an_application_on_200_benches_is_printed_whole(english):
    base = application()
    places = tuple(replace(base.places[0], lot_code=f"9·{i:03d}") for i in range(200))

    pdf = render_month(one(application(places=places)), english)

    text = whole_text(pdf)
    assert all(f"9·{i:03d}" in text for i in range(200))
    assert text.count("2026-0142, v1, continued") == len(page_texts(pdf)) - 1 - (
        "continued" not in page_texts(pdf)[-1]
    )


def test_a_note_of_200_lines_is_printed_whole(english):
    record = application(notes=("\n".join(f"note line {i:03d}" for i in range(200)),))

    text = whole_text(render_month(one(record), english))

    assert all(f"note line {i:03d}" in text for i in range(200))


@pytest.mark.parametrize("hostile", ["<b>x</b>", "A & B", "&amp;", "<para>", "%s {n} \\"])
def test_markup_in_a_value_is_printed_as_it_was_typed(english, hostile):
    record = with_product(name=required(hostile))

    view = one(record, printed_by=hostile, filter=hostile)

    assert whole_text(render_month(view, english)).count(hostile) >= 3


def test_a_word_of_300_characters_stays_in_its_column(english):
    pdf = render_month(one(with_product(name=required("ø" * 300))), english)

    boxes = [box for page in letter_boxes(pdf) for letter, box in page if letter == "ø"]
    [rate] = text_boxes(pdf, "900")
    [area] = text_boxes(pdf, "409 ft²")[:1]
    assert len(boxes) == 300
    assert max(right for _, _, right, _ in boxes) < rate[0]
    assert min(left for left, _, _, _ in boxes) > area[2]


@pytest.mark.parametrize(
    "owner", ["name", "registration", "active_ingredients", "rate", "amount", "rei", "batch"]
)
def test_a_very_long_word_in_any_product_cell_is_printed_whole(english, owner):
    pdf = render_month(one(with_product(**{owner: required("Q" * 300)})), english)

    assert whole_text(pdf).replace(" ", "").count("Q") >= 300
    assert_inside_the_margins(pdf)


def test_a_very_long_lot_code_is_printed_whole_without_a_stake(english):
    base = application()
    line = replace(base.places[0], lot_code="ø" * 120)

    pdf = render_month(one(application(places=(line,))), english)

    boxes = [box for page in letter_boxes(pdf) for letter, box in page if letter == "ø"]
    area = text_boxes(pdf, "409 ft²")[0]
    assert len(page_texts(pdf)) == 1
    assert len(boxes) == 120
    assert max(right for _, _, right, _ in boxes) < area[0]


@pytest.mark.parametrize(
    ("language", "said"),
    [
        ("en", "a character that could not be printed"),
        ("es", "un carácter que no se pudo imprimir"),
    ],
)
def test_letters_that_cannot_be_printed_show_a_box_and_a_note(catalogues, language, said):
    record = application(language, notes=("東京 مرحبا 🌱 ok",))
    view = month_view(language, applications=(record,))

    pages = page_texts(render_month(view, catalogues[language]))

    text = " ".join(pages)
    assert "▯▯ ▯▯▯▯▯ ▯ ok" in text
    assert all(said in page for page in pages)
    assert "U+6771 U+4EAC" in text
    assert "U+1F331" in text


def test_long_and_hostile_names_do_not_break_the_margins(english):
    view = month_view(printed_by="<&" + "M" * 300, month="May " * 60)
    view = replace(view, establishment=replace(view.establishment, name="N" * 300))

    pdf = render_month(view, english)

    assert page_texts(pdf)[0].replace(" ", "").count("N") >= 300
    assert_inside_the_margins(pdf)


def test_an_undecided_value_may_be_empty_on_either_side(english):
    empty = Value("", rivals=(Rival("300 mL", "Dinh", "now"),))
    gone = Value("50 mL", rivals=(Rival("", "Dinh", "now"),))
    base = application()
    first, second = base.products
    lines = (replace(first, amount=empty), replace(second, amount=gone))

    text = whole_text(
        render_month(one(application(states=("undecided",), products=lines)), english)
    )

    assert "(empty) or 300 mL [1]" in text
    assert "50 mL or (empty) [2]" in text


def test_an_undecided_optional_value_is_not_left_out(english):
    certificate = Value("", rivals=(Rival("WA-00999-Y", "Dinh", "now"),))
    record = application(states=("undecided",), certificate=certificate)

    assert "cert. (empty) or WA-00999-Y [1]" in whole_text(render_month(one(record), english))


@pytest.mark.parametrize("odd", ["\ud800", "\x00", "東\n京", "🌱"])
def test_odd_characters_in_title_and_outline_do_not_stop_the_print(english, odd):
    view = month_view()
    named = replace(view.establishment, name=f"Fern{odd} & Daughters")
    record = application(date=required(f"12 May{odd}"))

    pdf = render_month(replace(one(record), establishment=named, month=odd, filter=odd), english)

    with opened(pdf) as document:
        assert "Fern" in document.get_metadata_value("Author")


def test_the_outline_leads_to_every_application(english):
    view = month_view()

    with opened(render_month(view, english)) as document:
        titles = [mark.get_title() for mark in document.get_toc()]

    assert titles == [f"{r.date.text}, {r.place.text}" for r in view.applications]


def test_a_fact_without_a_label_column_of_its_own_is_printed(english):
    record = application(facts=(Fact("Customer", required("Fern & Daughters, 4 Weir Lane")),))

    assert "Customer Fern & Daughters, 4 Weir Lane" in whole_text(
        render_month(one(record), english)
    )


# --- same bytes, sane time -----------------------------------------------------------------


def test_the_same_view_gives_the_same_bytes(english):
    assert render_month(month_view(), english) == render_month(month_view(), english)


def test_the_bytes_do_not_depend_on_the_process():
    code = (
        "import hashlib; from support import month_sample, paper_pictures;"
        "from tepal.reports.month import render_month;"
        "from tepal.reports.words import read_catalogue;"
        "w = read_catalogue(paper_pictures.LOCALE / 'papers.en.json');"
        "print(hashlib.sha256(render_month(month_sample.month_view(), w)).hexdigest())"
    )
    seen = set()
    for seed, zone in (("1", "UTC"), ("77", "Asia/Tokyo")):
        env = {**os.environ, "PYTHONHASHSEED": seed, "TZ": zone}
        env["PYTHONPATH"] = os.pathsep.join(path for path in sys.path if path)
        done = subprocess.run(
            [sys.executable, "-c", code], env=env, capture_output=True, text=True, check=True
        )
        seen.add(done.stdout)

    assert len(seen) == 1


def test_another_view_gives_other_bytes(english):
    assert render_month(month_view(), english) != render_month(
        month_view(printed_by="Someone Else"), english
    )


@pytest.mark.full
def test_three_hundred_applications_are_printed_in_sane_time(english):
    records = tuple(application(n=100 + i, day=1 + i % 28) for i in range(300))
    view = month_view(applications=records)

    start = time.process_time()
    pdf = render_month(view, english)
    spent = time.process_time() - start

    # Measured 2.1 s of processor time; 12 s is a guard against a step that grows with the square.
    assert spent < 12
    text = whole_text(pdf)
    assert all(record.number in text for record in records)
    assert len(pdf) < 2_000_000
