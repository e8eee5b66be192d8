"""The month as PDF against a bare ReportLab table of the same rows, in the same run.

    PYTHONPATH=server:tests python tests/bench/bench_month.py [300 3000]

The table holds the same texts: a row for each application, bench and product, a paragraph a cell,
heads repeated, rows free to split. Prints seconds of both, the ratio (at most 2), and memory.
"""

from __future__ import annotations

import io
import resource
import sys
import time
from dataclasses import fields, replace
from itertools import zip_longest
from pathlib import Path
from xml.sax.saxutils import escape

from reportlab.lib.pagesizes import A4, landscape
from reportlab.lib.styles import ParagraphStyle
from reportlab.platypus import LongTable, Paragraph, SimpleDocTemplate, TableStyle

from support import month_sample
from tepal.reports.month import render_month
from tepal.reports.record import Lack, StandardLine, Value
from tepal.reports.words import read_catalogue

LOCALE = Path(__file__).parents[2] / "web" / "app" / "locale"
DATES = "display by Wed 13 May 2026, 08:05, until Thu 11 Jun 2026, 20:05; keep until 12 May 2028"
COMPLETE = StandardLine("US Worker Protection Standard", (), DATES)
LACKING = StandardLine(
    "US Worker Protection Standard",
    (Lack("The end time is missing", "40 CFR 170.311(b)(1)(iv)", from_memory=True),),
    DATES,
)


def records(n: int) -> tuple:
    """Return `n` applications of every state, each with a standard's findings."""
    base = []
    for record in month_sample.full_month():
        lacks = "missing" in record.states
        line = () if record.void else ((LACKING if lacks else COMPLETE),)
        base.append(replace(record, standards=line))
    return tuple(replace(base[i % len(base)], number=f"2026-{i:05d}, v1") for i in range(n))


def texts_of(owner: object) -> list[str]:
    """Return all texts of a record or a line of it."""
    found = []
    for field in fields(owner):
        value = getattr(owner, field.name)
        if isinstance(value, Value):
            found.append(" ".join(t for t in (value.text, value.also) if t))
    return found


def bare_table(all_records: tuple) -> bytes:
    """Return a PDF of one long table that holds the same texts."""
    style = ParagraphStyle("cell", fontName="Helvetica", fontSize=7.4, leading=9)

    def cell(text: str) -> Paragraph:
        return Paragraph(escape(text), style)

    rows = [
        [cell(head) for head in ("when", "where", "quantity", "mix", "REI", "operator", "state")]
    ]
    for r in all_records:
        head = (
            f"{r.date.text} {r.start.text}-{r.end.text} {r.number}",
            f"{r.place.text} {r.description.text}",
            f"{r.area.text} {r.area.also} {r.volume.text} {r.volume.also}",
            f"{r.mix.text} {r.method.text}", f"{r.rei.text} {r.rei_end.text}",
            f"{r.operator.text} {r.certificate.text} {r.signature.text}", ", ".join(r.states),
        )  # fmt: skip
        rows.append([cell(text) for text in head])
        for place, product in zip_longest(r.places, r.products):
            left = texts_of(place) if place else []
            right = texts_of(product) if product else []
            line = [" ".join(left[:1]), " ".join(left[1:4]), " ".join(left[4:]),
                    " ".join(right[:3]), " ".join(right[3:4]), " ".join(right[4:]), ""]  # fmt: skip
            rows.append([cell(text) for text in line])
        below = [f"{s.name} {s.dates} {[lack.text for lack in s.lacks]}" for s in r.standards]
        below.append("; ".join(f"{f.label} {f.value.text}" for f in r.facts) + r.entered)
        rows += [["", "", "", cell(text), "", "", ""] for text in below]
    style_of = [("GRID", (0, 0), (-1, -1), 0.3, "#999999"), ("VALIGN", (0, 0), (-1, -1), "TOP")]
    file = io.BytesIO()
    table = LongTable(rows, colWidths=(90, 150, 85, 155, 105, 100, 65), repeatRows=1)
    table.setStyle(TableStyle(style_of))
    SimpleDocTemplate(file, pagesize=landscape(A4), leftMargin=40, rightMargin=40).build([table])
    return file.getvalue()


def main(sizes: list[int]) -> None:
    """Print a line for each size."""
    words = read_catalogue(LOCALE / "papers.en.json")
    render_month(month_sample.month_view(applications=records(9)), words)  # warm: fonts, caches
    bare_table(records(9))
    for n in sizes:
        all_records = records(n)
        view = month_sample.month_view(
            applications=all_records, product_totals=(), active_totals=(), total_notes=()
        )
        start = time.process_time()
        ours = render_month(view, words)
        middle = time.process_time()
        bare = bare_table(all_records)
        end = time.process_time()
        took, baseline = middle - start, end - middle
        memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        print(
            f"{n} applications: month {took:.2f} s ({len(ours) >> 10} kB), bare table "
            f"{baseline:.2f} s ({len(bare) >> 10} kB), ratio {took / baseline:.2f} (at most 2), "
            f"peak memory {memory:.0f} MB"
        )


if __name__ == "__main__":
    main([int(size) for size in sys.argv[1:]] or [300, 3000])
