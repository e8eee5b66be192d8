"""Pages of a PDF as pictures, for eyes: `python -m support.paper_pictures FOLDER` draws the samples.

Run from the top of the tree with `PYTHONPATH=server:tests`; `pictures/` is ignored by git.
"""

from __future__ import annotations

import sys
from pathlib import Path

import pypdfium2

from support import month_sample, sheet_sample
from tepal.reports.application_sheet import render_application_sheet
from tepal.reports.mixing_sheet import render_mixing_sheet
from tepal.reports.month import render_month
from tepal.reports.words import read_catalogue

LOCALE = Path(__file__).parents[2] / "web" / "app" / "locale"
LANGUAGES: tuple[month_sample.Language, ...] = ("en", "es")


def draw_pages(pdf: bytes, folder: Path, name: str, *, grey: bool = False) -> list[Path]:
    """Write each page as a PNG of 110 dots per inch and return the paths."""
    folder.mkdir(parents=True, exist_ok=True)
    document = pypdfium2.PdfDocument(pdf)
    paths = []
    for i in range(len(document)):
        picture = document[i].render(scale=110 / 72, grayscale=grey).to_pil()
        paths.append(folder / f"{name}-{i + 1:02d}.png")
        picture.save(paths[-1])
    document.close()
    return paths


def samples() -> dict[str, bytes]:
    """Return the papers to look at: both languages, both sheets, full, single and empty month."""
    papers: dict[str, bytes] = {}
    for language in LANGUAGES:
        words = read_catalogue(LOCALE / f"papers.{language}.json")
        single = (month_sample.application(language),)
        full = month_sample.month_view(language)
        letter = month_sample.month_view(language, paper="letter", reprint_number=2)
        one = month_sample.month_view(language, applications=single)
        empty = month_sample.month_view(language, applications=())
        papers[f"month-full-a4-{language}"] = render_month(full, words)
        papers[f"month-full-letter-{language}"] = render_month(letter, words)
        papers[f"month-one-{language}"] = render_month(one, words)
        papers[f"month-empty-{language}"] = render_month(empty, words)
        sheet = sheet_sample.application_sheet_view(language)
        void = month_sample.void(language)
        void_sheet = sheet_sample.application_sheet_view(language, record=void, paper="letter")
        papers[f"application-a4-{language}"] = render_application_sheet(sheet, words)
        papers[f"application-void-letter-{language}"] = render_application_sheet(void_sheet, words)
        mixing = sheet_sample.mixing_sheet_view(language)
        stopped = sheet_sample.mixing_sheet_view(
            language, paper="letter", stops=(sheet_sample.STOP[language],)
        )
        papers[f"mixing-a4-{language}"] = render_mixing_sheet(mixing, words)
        papers[f"mixing-stop-letter-{language}"] = render_mixing_sheet(stopped, words)
    return papers


if __name__ == "__main__":
    target = Path(sys.argv[1])
    for paper, pdf in samples().items():
        draw_pages(pdf, target, paper)
    draw_pages(samples()["month-full-a4-en"], target, "grey-month-full-a4-en", grey=True)
