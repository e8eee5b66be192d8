"""Plot labels: the code is read back from the picture of the printed page by the phone's decoder."""

from __future__ import annotations

import json
import subprocess
from pathlib import Path

import pypdfium2
import pytest

from support.node_calls import node_path
from tepal.reports.plot_labels import SHEETS, PlotLabel, PlotLabelsView, render_plot_labels

READER = Path(__file__).parents[1] / "support" / "js" / "read-code.mjs"
DPI = 150  # a camera a hand's width away sees more


def view(sheet: str, n: int = 8) -> PlotLabelsView:
    labels = tuple(
        PlotLabel(f"T07/{n}", str(n), (f"T07 · block 1, plot {n}", "3 · 1 mg/L", "Drench <rates> & ñ"))
        for n in range(301, 301 + n)
    )  # fmt: skip
    return PlotLabelsView("Plot labels T07", "Quillhaven Nursery", "en", sheet, labels)


@pytest.mark.node
@pytest.mark.parametrize("sheet", sorted(SHEETS))
def test_code_is_read_back_from_the_picture_of_the_page(sheet: str, tmp_path: Path) -> None:
    geometry, px = SHEETS[sheet], DPI / 25.4
    document = pypdfium2.PdfDocument(render_plot_labels(view(sheet)))
    picture = document[0].render(scale=DPI / 72).to_pil().convert("RGBA")
    document.close()
    (tmp_path / "page.rgba").write_bytes(picture.tobytes())
    n = min(8, geometry.columns * geometry.rows)
    places = [divmod(i, geometry.columns) for i in range(n)]

    pieces = [
        ":".join(
            str(int(value * px))
            for value in (
                geometry.left + column * geometry.pitch_x,
                geometry.top + row * geometry.pitch_y,
                geometry.label_width,
                geometry.label_height,
            )
        )
        for row, column in places
    ]
    done = subprocess.run(
        [node_path(), str(READER), str(tmp_path / "page.rgba"), str(picture.width),
         str(picture.height), *pieces],
        capture_output=True, text=True, check=True,
    )  # fmt: skip

    assert json.loads(done.stdout) == [f"T07/{301 + i}" for i in range(n)]


@pytest.mark.parametrize("sheet", sorted(SHEETS))
def test_labels_lie_on_the_sheet_and_do_not_overlap(sheet: str) -> None:
    s = SHEETS[sheet]

    # to a twentieth of a millimetre: inches were turned into millimetres
    assert s.left + (s.columns - 1) * s.pitch_x + s.label_width <= s.page_width + 0.05
    assert s.top + (s.rows - 1) * s.pitch_y + s.label_height <= s.page_height + 0.05
    assert s.columns == 1 or s.pitch_x >= s.label_width
    assert s.rows == 1 or s.pitch_y >= s.label_height


def test_same_view_gives_the_same_bytes_and_as_many_pages_as_labels_need() -> None:
    first, again = (render_plot_labels(view("a4_99x67", 9)) for _ in range(2))

    assert first == again
    assert len(pypdfium2.PdfDocument(first)) == 2
