"""How the values of `tepal design`'s flags are read.

A wrong value is answered with the flag, the value and the cure; argparse names the flag.
"""

from __future__ import annotations

import argparse
import re
from typing import TYPE_CHECKING

from tepal.designs.chance import SEED_LIMIT
from tepal.designs.specs import Factor

if TYPE_CHECKING:
    from collections.abc import Callable


def labels(text: str) -> tuple[str, ...]:
    """Read "A; B; C"."""
    found = tuple(part.strip() for part in text.split(";"))
    if not all(found):
        raise argparse.ArgumentTypeError(
            f"{text!r} has an empty name; write names with semicolons between, as in "
            '"untreated; water; 30 mg/L"'
        )
    return found


def factor(text: str) -> Factor:
    """Read "NAME = LEVEL; LEVEL"."""
    name, sign, rest = text.partition("=")
    levels = tuple(part.strip() for part in rest.split(";"))
    if not sign or not name.strip() or len(levels) < 2 or not all(levels):
        raise argparse.ArgumentTypeError(
            f'{text!r} is no factor; write "rate = 10; 20; 40 mg/L", with two levels or more'
        )
    return Factor(name.strip(), levels)


def pair(text: str) -> tuple[int, int]:
    """Read "ROWSxCOLUMNS"."""
    match = re.fullmatch(r"\s*(\d{1,5})\s*[xX×]\s*(\d{1,5})\s*", text)
    if not match:
        raise argparse.ArgumentTypeError(
            f"{text!r} is no size; write rows x columns without a unit, as in 4x12"
        )
    return int(match[1]), int(match[2])


def cells(text: str) -> tuple[tuple[int, int], ...]:
    """Read "ROW:COLUMN,ROW:COLUMN"."""
    found = []
    for part in text.split(","):
        match = re.fullmatch(r"\s*(\d{1,5})\s*:\s*(\d{1,5})\s*", part)
        if not match:
            raise argparse.ArgumentTypeError(
                f"{part.strip()!r} is no cell; write row:column, counted from 1, as in 2:3,2:4"
            )
        found.append((int(match[1]), int(match[2])))
    return tuple(found)


def plant_list(text: str) -> tuple[tuple[int, int], ...]:
    """Read "PLOT.PLANT,PLOT.PLANT"."""
    found = []
    for part in text.split(","):
        match = re.fullmatch(r"\s*(\d{1,6})\.(\d{1,6})\s*", part)
        if not match:
            raise argparse.ArgumentTypeError(
                f"{part.strip()!r} is no plant; write plot.plant, as in 1.1,1.2,2.1"
            )
        found.append((int(match[1]), int(match[2])))
    return tuple(found)


def whole(what: str, lowest: int) -> Callable[[str], int]:
    """Return a reader of whole numbers from `lowest` up."""

    def read(text: str) -> int:
        if not re.fullmatch(r"\d{1,9}", text.strip()) or int(text) < lowest:
            raise argparse.ArgumentTypeError(
                f"{text!r} is no number of {what}; give a whole number of {lowest} or more"
            )
        return int(text)

    return read


def seed(text: str) -> int:
    """Read a seed."""
    if not re.fullmatch(r"\d{1,16}", text.strip()) or int(text) >= SEED_LIMIT:
        raise argparse.ArgumentTypeError(
            f"{text!r} is no seed; give a whole number from 0 to {SEED_LIMIT - 1}"
        )
    return int(text)


def number(text: str) -> float:
    """Read a decimal number with a point."""
    if not re.fullmatch(r"\d+(\.\d*)?|\.\d+", text.strip()):
        raise argparse.ArgumentTypeError(
            f"{text!r} is no number; write digits with a decimal point and no unit, as in 12.5"
        )
    return float(text)
