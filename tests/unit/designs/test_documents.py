"""Layout files: there and back, by the published schema, and hand-edited files refused."""

import copy
import json

import jsonschema_rs
import pytest

from tepal.designs.benches import Bench
from tepal.designs.documents import (
    layout_document,
    layout_from_document,
    layout_schema,
    potted_document,
    potted_from_document,
)
from tepal.designs.layouts import lay_out, same_layout
from tepal.designs.potting import pot_on
from tepal.designs.specs import (
    DesignError,
    DesignSpec,
    Factor,
    factorial_treatments,
    listed_treatments,
)

AB, RATE = Factor("product", ("A", "B")), Factor("rate", ("10", "20"))
LAYOUTS = {
    "random": lay_out(
        DesignSpec(
            "completely_randomised",
            listed_treatments("abc", 2),
            3,
            bench=Bench(6, 6, 1, 1, ((2, 2),)),
        ),
        4,
    ),
    "blocks": lay_out(DesignSpec("randomised_complete_block", listed_treatments("abc", 2), 3), 4),
    "latin": lay_out(DesignSpec("latin_square", listed_treatments("abcd"), 2), 4),
    "split": lay_out(
        DesignSpec(
            "split_plot",
            factorial_treatments([AB, RATE]),
            2,
            factors=(AB, RATE),
            whole_plot_factors=("rate",),
        ),
        4,
    ),
}
SCHEMA = jsonschema_rs.validator_for(layout_schema())


@pytest.mark.parametrize("name", LAYOUTS)
def test_layout_comes_back_from_json_unchanged(name):
    text = json.dumps(layout_document(LAYOUTS[name]))

    back = layout_from_document(json.loads(text))

    assert back == LAYOUTS[name]
    assert same_layout(back)


@pytest.mark.parametrize("name", LAYOUTS)
def test_document_follows_the_published_schema(name):
    SCHEMA.validate(layout_document(LAYOUTS[name]))


def test_potted_layout_follows_the_schema_and_comes_back():
    potted = pot_on(LAYOUTS["blocks"], Bench(3, 5), 1)

    document = json.loads(json.dumps(potted_document(potted)))

    SCHEMA.validate(document)
    assert potted_from_document(document) == potted


def test_schema_refuses_what_it_does_not_know():
    document = layout_document(LAYOUTS["blocks"]) | {"weather": "fair"}

    assert not SCHEMA.is_valid(document)


def edited(name, change):
    document = copy.deepcopy(layout_document(LAYOUTS[name]))
    change(document)
    return document


def swap_treatment(document):
    plots = document["plots"]
    other = next(p for p in plots if p["treatment"] != plots[0]["treatment"])
    plots[0]["treatment"] = other["treatment"]


def swap_across_whole_plots(document):
    # treatments 1 and 2 share a block but not a whole plot (rate 10, rate 20)
    one, two = (next(p for p in document["plots"] if p["treatment"] == t) for t in (1, 2))
    one["treatment"], two["treatment"] = 2, 1


@pytest.mark.parametrize(
    ("name", "change", "why"),
    [
        ("random", swap_treatment, "each treatment as often"),
        ("blocks", swap_treatment, "block 1"),
        ("latin", swap_treatment, "square 1"),
        ("split", swap_across_whole_plots, "mixes whole-plot treatments"),
        ("blocks", lambda d: d["plots"].pop(), "numbered 1 to 12"),
        ("blocks", lambda d: d["plots"][0].update(d["plots"][1], number=1), "share a bench cell"),
        ("random", lambda d: d["plots"][0].update(row=1, column=1), "stands on a guard"),
        ("random", lambda d: d["plots"][0].update(row=2, column=2), "stands on a guard"),
    ],
)
def test_plots_that_do_not_make_the_design_are_refused(name, change, why):
    with pytest.raises(DesignError, match=why) as caught:
        layout_from_document(edited(name, change))

    assert caught.value.code == "designs.document_plots"


@pytest.mark.parametrize(
    ("change", "place"),
    [
        (lambda d: d.update(format="other"), "format"),
        (lambda d: d.update(what="potted_layout"), "what"),
        (lambda d: d.pop("seed"), "seed"),
        (lambda d: d.update(seed=True), "seed"),
        (lambda d: d["spec"].update(treatments="a, b"), "treatments"),
        (lambda d: d["plots"][0].update(block="one"), "block"),
        (lambda d: d["bench"].update(out_of_use=[[1]]), "out_of_use"),
        (lambda d: d["spec"].update(factors=[3]), "name"),
    ],
)
def test_broken_document_is_refused_with_the_place(change, place):
    with pytest.raises(DesignError) as caught:
        layout_from_document(edited("blocks", change))

    assert caught.value.context["place"] == place


def test_potted_plants_that_share_a_cell_are_refused():
    document = potted_document(pot_on(LAYOUTS["blocks"], Bench(3, 5), 1))
    document["plants"][0] |= {k: document["plants"][1][k] for k in ("row", "column")}

    with pytest.raises(DesignError, match="share a cell"):
        potted_from_document(document)


def test_something_else_entirely_is_refused():
    with pytest.raises(DesignError):
        layout_from_document([1, 2])
