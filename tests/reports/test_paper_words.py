import json

import pytest

from support import month_sample
from tepal.reports.gate import Gate
from tepal.reports.words import CatalogueError, Words, parameters, read_catalogue


def test_both_catalogues_hold_the_same_keys_and_parameters(catalogues):
    english, spanish = catalogues["en"], catalogues["es"]

    assert english.keys() == spanish.keys()
    assert {k: parameters(v) for k, v in english.items()} == {
        k: parameters(v) for k, v in spanish.items()
    }


@pytest.mark.parametrize("face", ["text", "strong"])
@pytest.mark.parametrize("language", ["en", "es"])
def test_every_character_of_the_catalogues_has_a_glyph(catalogues, language, face):
    gate = Gate()

    for sentence in catalogues[language].values():
        gate.runs(sentence, face)

    assert gate.replaced == ()


@pytest.mark.parametrize("language", ["en", "es"])
def test_every_character_of_the_sample_month_has_a_glyph(language):
    gate = Gate()

    gate.runs(str(month_sample.month_view(language)), "strong")

    assert gate.replaced == ()


def test_no_word_of_the_catalogue_is_left_in_the_other_language(catalogues):
    same = {
        key
        for key, said in catalogues["en"].items()
        if said == catalogues["es"][key] and any(c.isalpha() for c in said)
    }

    assert same == {
        "papers.change",  # parameters only
        "papers.rival",
        "papers.field.rei",  # the term of the labels, in both languages
        "papers.field.certificate",
    }


def test_say_fills_parameters_and_leaves_braces_of_values_alone():
    words = Words({"k": "{a} of {b}"})

    assert words.say("k", a="{b}", b=2) == "{b} of 2"


def test_say_refuses_an_unknown_key():
    with pytest.raises(CatalogueError) as caught:
        Words({}).say("papers.page")

    assert caught.value.code == "reports.word_missing"


def test_say_refuses_a_sentence_with_an_unfilled_parameter():
    with pytest.raises(CatalogueError) as caught:
        Words({"k": "{a}"}).say("k")

    assert caught.value.code == "reports.parameter_missing"


@pytest.mark.parametrize(("n", "said"), [(0, "0 photos"), (1, "1 photo"), (2, "2 photos")])
def test_count_uses_the_singular_for_one_only(english, n, said):
    assert Words(english).count("papers.photos", n) == said


def test_read_catalogue_refuses_nested_text(tmp_path):
    path = tmp_path / "papers.xx.json"
    path.write_text(json.dumps({"a": {"b": "c"}}), encoding="utf-8")

    with pytest.raises(CatalogueError) as caught:
        read_catalogue(path)

    assert caught.value.code == "reports.catalogue_not_flat"
