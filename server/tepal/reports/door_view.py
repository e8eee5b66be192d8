"""What the door notice prints; the sign's fixed words are the renderer's, the rest final text."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

from tepal.reports.print_facts import PrintFacts

SignForm = Literal["sheet", "tiled"]


@dataclass(frozen=True, slots=True)
class Lettering:
    """Heights in mm: capitals of the heading, of the other words, and the circle across."""

    heading_mm: float
    letters_mm: float
    circle_mm: float


# One sheet of A4 or letter holds letters of the larger small sign (7/8 in, 1/2 in, circle 3 in);
# tiles make 14 x 16 in with letters above 1 in: 40 CFR 170.409(b)(3), see domain/signs.py.
LETTERING: Final[dict[SignForm, Lettering]] = {
    "sheet": Lettering(22.5, 13.0, 80.0),
    "tiled": Lettering(34.0, 26.0, 118.0),
}
STANDARD_MM: Final = (355.6, 406.4)  # 14 x 16 in


@dataclass(frozen=True, slots=True, kw_only=True)
class DoorNoticeView(PrintFacts):
    """One notice, final. `below` stands under the sign, never inside its frame."""

    form: SignForm
    title: str
    below: tuple[str, ...]
    size_notes: tuple[str, ...]
