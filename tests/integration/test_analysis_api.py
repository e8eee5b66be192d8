"""Analysis online over the demo: cells computed in the worker, kept, stale, printed, exported."""

from __future__ import annotations

import io
import json
import zipfile
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from sqlalchemy import delete

from support.book import SAME_ORIGIN, Clock
from support.paper_reading import whole_text
from tepal.app import create_app
from tepal.config import Config
from tepal.services import demo
from tepal.services.server_acts import Chance
from tepal.store.database import db, write_session
from tepal.store.models import AnalysisResult

if TYPE_CHECKING:
    from collections.abc import Iterator

    from flask import Flask
    from flask.testing import FlaskClient

ROOT = Path(__file__).resolve().parents[2]


class Office:
    """A manager's browser over the demo's database."""

    def __init__(self, app: Flask) -> None:
        self.app = app
        self.client: FlaskClient = app.test_client()
        self.numbers = 0
        body = {
            "name": demo.MANAGER, "password": demo.PASSWORD,
            "device": {"id": "00000000-0000-7000-8000-00000000aaaa", "label": "office"},
        }  # fmt: skip
        self.device = body["device"]["id"]  # type: ignore[index]
        found = self.post("/sign-in", body)
        self.member = found["member"]["id"]
        records: list[dict[str, Any]] = []
        cursor, more = None, True
        while more:
            reply = self.post("/exchange", {"device": self.device, "cursor": cursor})
            records += reply["records"]
            cursor, more = reply["cursor"], reply["more"]
        self.trials = {r["fields"]["code"]: r["id"] for r in records if r["kind"] == "trial"}

    def post(self, path: str, body: dict[str, Any]) -> Any:
        reply = self.client.post(
            f"/api/v1{path}", json=body, headers=SAME_ORIGIN, base_url="https://localhost"
        )
        assert reply.status_code == 200, reply.text
        return reply.json

    def get(self, path: str, status: int = 200) -> Any:
        reply = self.client.get(f"/api/v1/trials/{path}", base_url="https://localhost")
        assert reply.status_code == status, reply.text
        return reply

    def create(self, kind: str, fields: dict[str, Any]) -> None:
        self.numbers += 1
        text = json.dumps(
            {
                "id": f"00000000-0000-7000-8000-{self.numbers:012d}", "device": self.device,
                "number": self.numbers, "member": self.member, "kind": kind,
                "record": f"00000000-0000-7000-8000-0000000b{self.numbers:04d}",
                "action": "create", "reason": None, "group": None, "form_version": 1,
                "changes": {k: {"was": None, "to": v} for k, v in fields.items()},
                "made_at": {"local": "2026-05-12T10:00:00", "offset_min": 0, "zone": "Etc/UTC"},
            }
        )  # fmt: skip
        reply = self.post("/exchange", {"device": self.device, "cursor": None, "entries": [text]})
        assert reply["results"][0]["outcome"] == "accepted", reply


@pytest.fixture(scope="module")
def office(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Office]:
    folder = tmp_path_factory.mktemp("analysis")
    config = Config(
        database_url=f"sqlite:///{folder / 'book.db'}", photos_url=str(folder / "photos"),
        web_root=ROOT / "web" / "app", set_up_token="token",
    )  # fmt: skip
    import random

    chance = Chance(Clock().now, random.Random(3).randbytes)
    app = create_app(config, chance)
    with app.app_context(), write_session() as session:
        demo.fill(session, chance)
    yield Office(app)
    app.extensions["tepal_worker"].close()
    with app.app_context():
        for engine in db.engines.values():
            engine.dispose()


def test_cell_says_shows_and_is_kept(office: Office) -> None:
    trial = office.trials["T08"]
    with office.app.app_context(), write_session() as session, session.begin():
        session.execute(delete(AnalysisResult))  # as before anybody asked, whichever test ran first
    before = office.get(f"{trial}/analysis").json

    found = office.get(f"{trial}/analysis/cell?measurement=width&assessment=a28").json

    assert all(c["state"] is None for c in before["cells"])
    (view,) = found["views"]
    assert all(view[part] for part in ("sentences", "tables", "trust"))
    assert [c["name"] for c in view["charts"]][:2] == ["means", "percent"]
    assert view["charts"][0]["drawing"]["marks"]
    assert view["charts"][0]["alt"]
    after = {
        (c["measurement"], c["assessment"]): c
        for c in office.get(f"{trial}/analysis").json["cells"]
    }
    assert after["width", "a28"]["state"] in ("shown", "not_shown")
    assert after["width", "a28"]["rows"]


def test_excluding_a_plot_makes_a_cell_stale_and_is_printed(office: Office) -> None:
    trial = office.trials["T09"]
    cell = f"{trial}/analysis/cell?measurement=height&assessment=a14"
    first = office.get(cell).json["views"][0]

    office.create("exclusion", {"trial": trial, "plot": 2, "reason": "sprayed <twice> & wilted"})

    stale = {
        c["measurement"]: c["is_stale"]
        for c in office.get(f"{trial}/analysis").json["cells"]
        if c["assessment"] == "a14"
    }
    assert stale["height"]
    second = office.get(cell).json["views"][0]
    assert second["input_hash"] != first["input_hash"]
    assert any("sprayed <twice> & wilted" in note for note in second["trust"])
    assert not any(c["is_stale"] for c in office.get(f"{trial}/analysis").json["cells"])


def test_report_prints_whole_and_is_numbered(office: Office) -> None:
    trial = office.trials["T08"]

    pdf = office.get(f"{trial}/report?language=es&style=journal").data

    text = whole_text(pdf)
    for word in ("Colby / Bliss", "Materiales y métodos", "Un resultado de ensayo no es", "NS, *"):
        assert word in text
    again = whole_text(office.get(f"{trial}/report").data)
    assert "reprint 1" in again
    assert "A trial result is no label" in again


@pytest.mark.parametrize(
    "name", ["values.csv", "plots.csv", "results.json", "workbook.xlsx", "models.R"]
)
def test_exports_open(office: Office, name: str) -> None:
    trial = office.trials["T08"]

    reply = office.get(f"{trial}/export?name={name}")

    assert "attachment" in reply.headers["Content-Disposition"]
    if name == "results.json":
        assert json.loads(reply.data)["trial"]["code"] == "T08"
    elif name == "workbook.xlsx":
        sheets = zipfile.ZipFile(io.BytesIO(reply.data)).namelist()
        assert "xl/worksheets/sheet1.xml" in sheets
    else:
        assert len(reply.data.splitlines()) > 20


def test_chart_is_an_svg_with_alternative_text(office: Office) -> None:
    trial = office.trials["T08"]

    svg = office.get(
        f"{trial}/analysis/chart?measurement=height&assessment=a28&name=partners&theme=dark"
    )

    assert svg.mimetype == "image/svg+xml"
    assert "aria-label=" in svg.text
    assert "style=" not in svg.text


def test_what_is_not_there_says_so(office: Office) -> None:
    trial = office.trials["T08"]

    assert office.get(f"{trial}/analysis/cell?measurement=colour", 404).json["code"] == (
        "analysis.no_such_cell"
    )
    nobody = "00000000-0000-7000-8000-000000000000"
    assert office.get(f"{nobody}/analysis", 404).json["code"] == "trials.no_such_trial"
    assert office.get("x/analysis", 404).json["code"] == "trials.no_such_trial"


def test_finished_trials_answer_together_and_a_mix_meets_its_question(office: Office) -> None:
    """Computed trial by trial; files from elsewhere are pooled, marked, and counted once."""

    def computed() -> Any:
        found = office.get("across?language=en").json
        for one in found["waiting"]:
            office.get(f"{one['id']}/across")
        return office.get("across?language=en").json

    def height_at_2(found: Any) -> Any:
        (one,) = (
            q
            for q in found["questions"]
            if (q["measurement"], q["comparator"]) == ("Height", "untreated")
            and q["dose"] == "paclobutrazol 2\u00a0mg/L, drench"
        )
        return one

    found = computed()

    assert found["waiting"] == []
    question = height_at_2(found)
    assert (question["n"], question["n_elsewhere"], question["crop_key"]) == (3, 2, "SALSP")
    mixes = [q["mixes"] for q in found["questions"] if "4\u00a0mg/L" in q["dose"]]
    assert all(mixes)  # the trial's own mix at least
    assert not set(question["mixes"]) & set(mixes[0])

    whole = office.get(f"across/question?key={question['key']}&language=es").json
    assert "3 ensayos terminados juntos" in whole["sentences"][0]
    assert {t["elsewhere"] for t in whole["trials"]} == {
        "", "Sallowmere Nursery", "Quellmoor Gardens",
    }  # fmt: skip
    assert "Un resultado de ensayo no es una etiqueta" in whole["caution"]
    # true ratios: 22.9 / 31.2, 21.3 / 29.0, 24.6 / 33.5: 73 to 74 %
    lower, upper = whole["table"]["rows"][-1][2].removeprefix("de ").split(" a ")
    assert float(lower) <= 73.5 <= float(upper)

    # the own trial's file, taken in again, is the same trial: named, and not counted twice
    document = office.get(f"{office.trials['T07']}/file").json
    assert {(r["treatment"], r["rate"]["value"]) for r in document["received"]} == {
        (3, "0.5"), (4, "1"), (5, "2"), (6, "4"),
    }  # fmt: skip
    made = office.post("/trials/file", {"file": document})
    again = height_at_2(computed())
    assert again["n"] == 3
    notes = office.get(f"across/question?key={again['key']}").json["notes"]
    assert any(f"{made['code']} (Quillhaven Nursery)" in n and "twice" in n for n in notes)

    # a value left out of one trial makes that trial wait, and no other
    elsewhere = office.trials["R03"]
    office.create("exclusion", {"trial": elsewhere, "plot": 2, "reason": "wrong pot"})
    waiting = office.get("across").json["waiting"]
    assert [one["code"] for one in waiting] == ["R03"]
    assert height_at_2(computed())["n"] == 3
    text = whole_text(office.get(f"{elsewhere}/report").data)
    assert "This trial was made at Sallowmere Nursery" in text
    assert office.get(f"across/question?key={'0' * 16}", 404).json["code"] == (
        "across.no_such_question"
    )
