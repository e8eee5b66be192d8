"""What a mixing sheet prints: one order, its tank loads, and what to measure for each, in order."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from tepal.reports.print_facts import PrintFacts, contradiction

# `frozen.from_json` reads the types of the fields at run time, so this import is a real one.
from tepal.reports.record import PlaceLine, Value  # noqa: TC001

StepKind = Literal["water_first", "product", "water_up_to"]


@dataclass(frozen=True, slots=True)
class MixStep:
    """One thing to put into the tank.

    Attributes
    ----------
    kind : "water_first"  part of the water, before the products
           "product"      a product or adjuvant, measured
           "water_up_to"  water until the tank holds `amount`
    name : str            Product name; "" for water, which the catalogue names.
    detail : str          a.i. and concentration, or how to measure; may be "".
    amount, also : str    What to measure, and the same in the other unit system.
    """

    kind: StepKind
    name: str
    detail: str
    amount: str
    also: str


@dataclass(frozen=True, slots=True)
class TankLoad:
    """Tank loads that are mixed alike: their numbers, the final volume, the steps in order."""

    numbers: tuple[int, ...]
    volume: str
    also: str
    steps: tuple[MixStep, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class MixingSheetView(PrintFacts):
    """Everything on the mixing sheet, final.

    Attributes
    ----------
    order : str               Short id of the spray order, version included.
    planned, place, mix, method, volume, area, rei, operator, sprayer : Value
    places : benches and lots the mix is for.
    loads : every load of the order, alike ones together.
    ppe_mixing, ppe_applying : str per line, from the label; empty = not on file, and said so.
    stops : what forbids mixing, in words. While there is one, no amount is printed.
    raised : cautions that the computation raised, in words; they stand before the amounts.
    answered : cautions that were raised and answered, in words.
    leftovers : what to do with what is left and with the rinse, from the label; "" = not on file.
    """

    order: str
    planned: Value
    place: Value
    mix: Value
    method: Value
    volume: Value
    area: Value
    rei: Value
    operator: Value
    sprayer: Value
    places: tuple[PlaceLine, ...]
    loads: tuple[TankLoad, ...]
    ppe_mixing: tuple[str, ...]
    ppe_applying: tuple[str, ...]
    stops: tuple[str, ...] = ()
    raised: tuple[str, ...] = ()
    answered: tuple[str, ...] = ()
    leftovers: str = ""

    def __post_init__(self) -> None:
        """Refuse loads that cannot be mixed as printed (`reports.contradiction`)."""
        PrintFacts.__post_init__(self)
        numbers = sorted(number for load in self.loads for number in load.numbers)
        if numbers != list(range(1, len(numbers) + 1)) or not numbers:
            raise contradiction(f"order {self.order} has loads {numbers}; they must be 1, 2, 3 ...")
        for load in self.loads:
            _check_steps(self.order, load)

    @property
    def n_loads(self) -> int:
        """How many loads the order takes."""
        return sum(len(load.numbers) for load in self.loads)


def _check_steps(order: str, load: TankLoad) -> None:
    named = f"order {order}, load {load.numbers[0] if load.numbers else '?'}"
    kinds = [step.kind for step in load.steps]
    if "product" not in kinds:
        raise contradiction(f"{named} holds no product")
    if "water_up_to" in kinds[:-1]:
        raise contradiction(f"{named} is filled up before the last step")
    if "water_first" in kinds[1:]:
        raise contradiction(f"{named} has its first water after another step")
    for step in load.steps:
        if not step.amount.strip():
            raise contradiction(f"{named} has a step without an amount")
        if step.kind == "product" and not step.name.strip():
            raise contradiction(f"{named} has a product without a name")
