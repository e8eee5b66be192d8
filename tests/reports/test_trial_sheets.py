"""Maps and field sheets: nothing is cut, nothing is too small to read at the bench."""

from __future__ import annotations

import re

import pypdfium2
import pytest

from tepal.reports.plot_labels import SHEETS, PlotLabel, PlotLabelsView, render_plot_labels
from tepal.reports.trial_sheets import (
    BenchMapView,
    FieldSheetView,
    MapCell,
    SheetHead,
    render_bench_map,
    render_field_sheet,
)

HEAD = SheetHead("T07 · Drench", ("Field sheet",), "Quillhaven Nursery", "Quillhaven", "en")
LONG = " ".join(f"word{n}" for n in range(70))


def texts(pdf: bytes) -> list[str]:
    document = pypdfium2.PdfDocument(pdf)
    found = [document[i].get_textpage().get_text_range() for i in range(len(document))]
    document.close()
    return found


def field_sheet(n_columns: int, n_lines: int = 12, definition: str = LONG) -> bytes:
    lines = tuple((f"1{n:02d}", str(p)) for n in range(1, n_lines // 2 + 1) for p in (1, 2))
    return render_field_sheet(
        FieldSheetView(
            head=HEAD,
            columns=tuple(f"Measurement number {n}, cm" for n in range(n_columns)),
            definitions=tuple(f"M{n}: {definition}" for n in range(n_columns)),
            fixed=("Plot", "Plant"),
            blocks=(("Block 1", lines), ("Block 2", lines)),
            observer="Observer ____",
            note="Note",
            missing="Dead: write it.",
            page_of="page {page} of {pages}",
        )
    )


def test_long_definitions_go_on_over_lines_and_lose_no_word() -> None:
    page = " ".join(texts(field_sheet(1))[0].split())

    assert "…" not in page
    assert all(f"word{n}" in page for n in range(70))


def test_more_measurements_than_a_gloved_hand_has_room_for_take_more_sheets() -> None:
    pages = texts(field_sheet(8, definition="short"))
    said = [" ".join(page.split()) for page in pages]

    assert len(pages) == 2 * 2
    for n in range(8):
        assert sum(f"number {n}," in page for page in said) == 2
    assert all("Note" in page and "Dead: write it." in page for page in pages)


@pytest.mark.parametrize(("n_rows", "n_columns", "n_pages"), [(6, 6, 1), (4, 45, 2), (40, 30, 4)])
def test_a_bench_too_large_to_read_takes_more_pages_and_loses_no_plot(
    n_rows: int, n_columns: int, n_pages: int
) -> None:
    cells = tuple(
        tuple(
            MapCell("plot", f"{n_columns * i + j + 1:04d}", (), i // 2 + 1)
            for j in range(n_columns)
        )
        for i in range(n_rows)
    )

    pages = texts(render_bench_map(BenchMapView(HEAD, cells, "Row 1 is at the aisle", "row", ())))

    assert len(pages) == n_pages
    drawn = re.findall(r"\b\d{4}\b", " ".join(pages))
    assert sorted(drawn) == sorted(cell.code for row in cells for cell in row)


@pytest.mark.parametrize("sheet", sorted(SHEETS))
def test_a_long_treatment_name_breaks_its_line_and_stays_readable(sheet: str) -> None:
    name = "7 · chlormequat chloride 1000 mg/L + uniconazole 10 mg/L"
    view = PlotLabelsView(
        "Labels", "Quillhaven", "en", sheet,
        (PlotLabel("T08/1205", "1205", ("T08 · block 12, plot 5", name)),),
    )  # fmt: skip
    document = pypdfium2.PdfDocument(render_plot_labels(view))
    page = document[0].get_textpage()
    said = " ".join(page.get_text_range().split())
    heights = [page.get_charbox(i) for i in range(page.count_chars())]
    document.close()

    assert "uniconazole" in said
    assert min(top - bottom for _, bottom, _, top in heights if top - bottom > 1.0) > 1.0
    small = SHEETS[sheet]
    right = max(box[2] for box in heights)
    assert right * 25.4 / 72 <= small.left + small.label_width
