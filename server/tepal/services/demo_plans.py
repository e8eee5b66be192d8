"""What the demo has planned: a program, the orders of this week, and how last week's ended."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tepal.services.demo_book import moment
from tepal.services.demo_nursery import LOTS
from tepal.services.demo_products import MIXES

if TYPE_CHECKING:
    from tepal.services.demo_book import DemoBook, Hand

# title, mix, lots, day from today, clock window, operator
_ORDERS = (
    ("Poinsettias, hold", "finished", ("3·03",), 0, ("06:00", "09:00"), "Rosa Lind"),
    ("Pansies, leaf spots", "botrytis", ("5·02",), 0, ("15:00", "18:00"), "Rosa Lind"),
    ("Kalanchoe drench", "mix2", ("4·01", "4·02"), 0, (None, None), "Jovan Ashby"),
    ("Lantana, second week", "mix1", ("1·07",), 1, ("06:00", "08:00"), "Rosa Lind"),
    ("Tulips, short stems", "bulbs", ("6·03",), 2, (None, None), "Jovan Ashby"),
    ("Chrysanthemums, thrips", "mites", ("3·04", "3·05"), 3, ("16:00", "18:00"), "Dinh Thorne"),
    ("Calibrachoa liners", "linerdip", ("2·01",), 4, (None, None), "Rosa Lind"),
)
_PAST = (
    ("Angelonia, bud hold", "budhold", ("1·12",), -5, "skipped", "Too hot: 31 °C at six."),
    ("Geraniums, longer stems", "stretch", ("4·04",), -4, "partly", "Half: the tank was empty."),
    ("Cyclamen, grey mould", "grey", ("4·03",), -2, "done", None),
)


def fill_plans(book: DemoBook, hands: dict[str, Hand]) -> None:
    """Write the program and the orders."""
    office = hands["office"]
    book.add(
        office, book.at(-40, "17:00"), "program", "program1", name="Poinsettia, 15 cm, Vesper",
        crop="Poinsettia", counted_from="pinch", source="last season's best house",
        steps=[
            {"week": 4, "tank_mix": book.ids["finished"], "stage": "before first colour"},
            {"week": 8, "tank_mix": book.ids["mix2"], "stage": "bracts colour"},
            {"week": 12, "tank_mix": book.ids["finished"], "stage": "bracts half coloured"},
        ],
    )  # fmt: skip
    for number, (title, mix, lots, days, (start, end), operator) in enumerate(_ORDERS):
        more = {}
        if title.startswith("Poinsettias"):
            more = {"program": book.ids["program1"], "week": 12}
        book.add(
            office, book.at(-3, "16:10"), "spray_order", f"order{number}", title=title,
            tank_mix=book.ids[mix], lines=_lines(book, lots), window_from=book.day(days),
            window_to=book.day(days + 1), from_time=start, to_time=end,
            operator=book.ids[operator], sprayer=_sprayer(book, mix), **more,
        )  # fmt: skip
    for number, (title, mix, lots, days, result, reason) in enumerate(_PAST):
        at = book.at(days, "08:30")
        book.add(
            office, book.at(days - 3, "16:00"), "spray_order", f"past{number}", title=title,
            tank_mix=book.ids[mix], lines=_lines(book, lots), window_from=book.day(days),
            window_to=book.day(days), operator=book.ids["Rosa Lind"],
        )  # fmt: skip
        book.add(
            hands["phone1"], at, "order_outcome", f"outcome{number}",
            order=book.ids[f"past{number}"], result=result, reason=reason, at=moment(at),
        )  # fmt: skip


def _lines(book: DemoBook, codes: tuple[str, ...]) -> list[dict[str, object]]:
    return [
        {"lot": book.ids[lot.code], "bench": book.ids[f"{lot.house}b{n}"]}
        for lot in LOTS
        if lot.code in codes
        for n in lot.benches
    ]


def _sprayer(book: DemoBook, mix: str) -> str | None:
    return book.ids["lance"] if MIXES[mix].method == "drench" else book.ids["sprayer1"]
