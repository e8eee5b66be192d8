"""The mixing sheet over a real app and database: numbers by hand, stops, what is refused."""

from __future__ import annotations

import shutil
from typing import TYPE_CHECKING, Any

import pytest

from support.book import Book, Desk
from support.node_calls import APP as WEB_APP
from support.paper_reading import whole_text
from support.web_folder import make_web_folder
from tepal.store.database import read_session
from tepal.store.models import Paper

if TYPE_CHECKING:
    from pathlib import Path


def q(value: str, unit: str) -> dict[str, str]:
    return {"value": value, "unit": unit}


PRODUCT = {
    "name": "Stemwright SL", "kind": "product", "physical_form": "liquid", "formulation_type": "SL",
    "ingredients": [{"ai": "chlormequat chloride", "strength": q("118", "g/L")}],
    "rei": q("12", "h"), "ppe_mixing": "waterproof gloves", "ppe_applying": "waterproof gloves",
}  # fmt: skip
DRY = {
    "name": "Halfpace SG", "kind": "product", "physical_form": "dry", "formulation_type": "SG",
    "ingredients": [{"ai": "daminozide", "strength": q("85", "%"), "basis": "w_w"}],
    "rei": q("24", "h"), "use_within": q("8", "h"),
}  # fmt: skip
CYLINDER = {"name": "250 mL cylinder", "resolution": q("2", "mL"), "capacity": q("250", "mL")}
BALANCE = {"name": "Balance", "resolution": q("0.1", "g"), "capacity": q("500", "g")}


class Shed:
    """A desk whose office knows a bench, a lot, products, measures and a spray mix."""

    def __init__(self, desk: Desk) -> None:
        self.desk = desk
        self.ids: dict[str, str] = {}
        self.add("house", "house", name="House 1")
        self.add("bench", "bench", name="Bench 1", house=self.ids["house"], area=q("39.6", "m2"))
        self.add("lot", "lot", code="1-07", crop="Lantana", benches=[self.ids["bench"]])
        self.add("product", "stemwright", **PRODUCT)
        self.add("product", "halfpace", **DRY)
        self.add("instrument", "cylinder", **CYLINDER)
        self.add("instrument", "balance", **BALANCE)
        self.add(
            "jar_test", "jar", products=[self.ids["stemwright"], self.ids["halfpace"]],
            result="compatible",
        )  # fmt: skip
        self.add("tank_mix", "mix", **self.mix())

    def mix(self, **changed: Any) -> dict[str, Any]:
        return {
            "name": "Height, second week", "method": "spray",
            "volume_per_area": q("200", "mL/m2"),
            "components": [
                {"product": self.ids["stemwright"], "target": q("900", "mg/L")},
                {"product": self.ids["halfpace"], "target": q("1250", "mg/L")},
            ],
        } | changed  # fmt: skip

    def add(self, kind: str, key: str, /, **fields: Any) -> str:
        self.ids[key] = self.desk.book.uuid()
        text = self.desk.entry(kind, "create", record=self.ids[key], fields=fields)
        assert self.desk.exchange(text)["results"][0]["outcome"] == "accepted"
        return self.ids[key]

    def query(self, **changed: str) -> str:
        place = f"{self.ids['bench']}:{self.ids['lot']}:39.6:m2:"
        asked = {"tank_mix": self.ids["mix"], "place": place, "tank": "40:L"} | changed
        return "&".join(f"{key}={value}" for key, value in asked.items())

    def sheet(self, **changed: str) -> Any:
        return self.desk.get(f"/api/v1/papers/mixing-sheet?{self.query(**changed)}")

    def view(self, **changed: str) -> dict[str, Any]:
        reply = self.sheet(**changed)
        assert reply.status_code == 200, reply.text
        with self.desk.book.app.app_context(), read_session() as db:
            papers = db.query(Paper).order_by(Paper.printed_at).all()
            found: dict[str, Any] = papers[-1].view
            return found


@pytest.fixture
def shed(tmp_path: Path) -> Shed:
    web_root = make_web_folder(tmp_path / "web")
    # the words of a paper: all of the catalogue
    (web_root / "locale").mkdir()
    for path in (WEB_APP / "locale").glob("*.json"):
        shutil.copy(path, web_root / "locale")
    return Shed(Book(tmp_path, web_root=web_root).manager)


def test_sheet_prints_amounts_that_come_out_by_hand(shed: Shed) -> None:
    """39.6 m2 x 200 mL/m2 = 7.92 L. 900 x 7.92 / 118 = 60.41 mL, read as 60 mL on divisions of 2;
    1250 x 7.92 / 850 = 11.647 g, read as 11.6 g; 60.41 / 29.5735 = 2.043 fl oz;
    11.647 / 28.3495 = 0.4108 oz.
    """
    (load,) = shed.view()["loads"]

    told = [(step["kind"], step["name"], step["amount"], step["also"]) for step in load["steps"]]
    assert told == [
        ("water_first", "", "3.96 L", "1.046 US gal"),
        ("product", "Halfpace SG", "11.6 g", "0.4108 oz"),
        ("product", "Stemwright SL", "60 mL", "2.043 fl oz"),
        ("water_up_to", "", "7.92 L", "2.092 US gal"),
    ]


def test_sheet_is_a_pdf_with_place_ppe_and_use_within(shed: Shed) -> None:
    reply = shed.sheet(language="es")

    assert reply.mimetype == "application/pdf"
    text = " ".join(whole_text(reply.data).split())
    for words in ("House 1, Bench 1", "1-07", "waterproof gloves", "Stemwright SL", "8 h"):
        assert words in text, words


def test_same_order_printed_again_says_so_and_keeps_its_number(shed: Shed) -> None:
    first, second = shed.view(), shed.view()

    assert (first["order"], first["reprint_number"]) == (second["order"], 0)
    assert second["reprint_number"] == 1


def test_stop_keeps_the_amounts_off_the_paper(shed: Shed) -> None:
    shed.add("incompatible_pair", "pair", a="daminozide", b="chlormequat chloride", source="label")

    view = shed.view()

    (told,) = view["stops"]
    assert told.endswith("are on file as not to be mixed. Source: label.")
    assert "11.6 g" not in whole_text(shed.sheet().data)


def test_newest_calibration_feeds_a_mix_without_a_volume(shed: Shed) -> None:
    """5 L on 25 m2 is 200 mL/m2; 39.6 m2 x 200 = 7.92 L. The older one (100 mL/m2) does not count."""
    sprayer = shed.add("sprayer", "sprayer", name="Cart", calibrate_every=q("60", "d"))
    for day, used in (("2026-05-01", "5"), ("2026-04-01", "2.5")):
        shed.add(
            "calibration", day, sprayer=sprayer, method="plot", measured_on=day,
            used=q(used, "L"), plot_area=q("25", "m2"),
        )  # fmt: skip
    mix = shed.add("tank_mix", "open", **shed.mix(volume_per_area=None))

    view = shed.view(tank_mix=mix, sprayer=sprayer)

    assert view["volume"]["text"] == "7.92\u00a0L"
    assert view["sprayer"]["text"] == "Cart, calibrated Fri 1 May 2026"


def test_volume_off_the_calibration_is_said_on_the_sheet(shed: Shed) -> None:
    """Planned 200 mL/m2; 6 L on 25 m2 is 240 mL/m2: 20 % above."""
    sprayer = shed.add("sprayer", "sprayer", name="Cart")
    shed.add(
        "calibration", "one", sprayer=sprayer, method="plot", measured_on="2026-05-01",
        used=q("6", "L"), plot_area=q("25", "m2"),
    )  # fmt: skip

    told = shed.view(sprayer=sprayer)["raised"]

    assert any("200 mL/m²;" in one and "240 mL/m²" in one and "20 %" in one for one in told), told


@pytest.mark.parametrize(
    ("changed", "status", "code"),
    [
        ({"tank": "0:L"}, 422, "domain.out_of_range"),
        ({"tank_mix": "00000000-0000-7000-8000-000000000000"}, 404, "mixing.no_such_record"),
        ({"sprayer": "00000000-0000-7000-8000-000000000000"}, 404, "mixing.no_such_record"),
    ],
)
def test_what_cannot_be_printed_is_refused(
    shed: Shed, changed: dict[str, str], status: int, code: str
) -> None:
    reply = shed.sheet(**changed)

    assert (reply.status_code, reply.json["code"]) == (status, code)


@pytest.mark.parametrize(
    "changed",
    [{"tank": "40"}, {"tank": "1e3:L"}, {"place": "x"}, {"language": "xx"}, {"water_ph": "acid"}],
)
def test_query_of_another_shape_is_refused(shed: Shed, changed: dict[str, str]) -> None:
    assert shed.sheet(**changed).status_code == 422


def test_sheet_needs_a_person(shed: Shed) -> None:
    shed.desk.client.delete_cookie("__Host-person", domain="localhost")

    assert shed.sheet().status_code == 401


def test_treatment_of_a_trial_is_mixed_for_its_plots_and_the_overage(shed: Shed) -> None:
    """Two plots of 0.5 m2 x 200 mL/m2 = 200 mL; 20 % more: 240 mL, two halves of 120 mL of water."""
    plots = [
        {"plot": n, "code": f"10{n}", "treatment": 1 + n % 2, "bench": shed.ids["bench"]}
        for n in (1, 2, 3, 4)
    ]
    trial = shed.add(
        "trial", "trial", code="T09", plots=plots, plot_area=q("0.5", "m2"), overage=q("20", "%"),
        treatments=[{"number": 1}, {"number": 2, "tank_mix": shed.ids["mix"]}],
    )  # fmt: skip

    reply = shed.desk.get(f"/api/v1/trials/{trial}/papers/mixing-sheet?treatment=2&tank=5")

    assert reply.status_code == 200, reply.text
    text = " ".join(whole_text(reply.data).split())
    for words in ("240 mL", "2 × 0.5 m²", "20 % more is mixed"):
        assert words in text, (words, text)
