"""Which product gets which uses of its label from a table: products that are here, and the file's.

A use has no record of its own: it is a row of the product's list, so what a table adds goes into
the record that the product's row creates, or changes one that is here. Reads nothing itself.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any, Final

from tepal.forms.fields import Rows
from tepal.forms.registers import Product
from tepal.services.import_values import CellError

if TYPE_CHECKING:
    from collections.abc import Iterable

    from tepal.sync.merge import RecordState

_USES = Product().fields["uses"]
MOST_USES: Final = _USES.most_rows if isinstance(_USES, Rows) else 0


class ProductUses:
    """Products by registration number and name, each with its uses; a key is an id or a row."""

    def __init__(self, products: Iterable[RecordState]) -> None:
        self._was: dict[int | str, list[dict[str, Any]]] = {}
        self._uses: dict[int | str, list[dict[str, Any]]] = {}
        self._known: dict[int | str, tuple[str, str]] = {}  # (name, number), in plain letters
        for one in products:
            if one.state != "void" and one.fields.get("retired") is not True:
                self._take(one.id, one.fields, list(one.fields.get("uses") or ()))

    def _take(self, key: int | str, fields: Any, uses: list[dict[str, Any]]) -> None:
        self._was[key], self._uses[key] = uses, list(uses)
        self._known[key] = (
            _plain(fields.get("name")), _plain(fields.get("registration_number")),
        )  # fmt: skip

    def add_of_file(self, row: int, values: dict[str, Any]) -> None:
        """Remember a product that the file itself brings."""
        self._take(row, values, [])

    def here(self, values: dict[str, Any]) -> str:
        """Return the id of the product that is here under this name and number.

        Raises
        ------
        CellError   `import.product_retired`: it is here, and not in use any more.
        """
        wanted = (_plain(values.get("name")), _plain(values.get("registration_number")))
        for key, known in self._known.items():
            if known == wanted:
                return str(key)
        raise CellError("import.product_retired", name=wanted[0][:80])

    def find(self, name: str, number: str) -> int | str:
        """Return the product of a registration number, or of a name where there is no number.

        Raises
        ------
        CellError   `import.no_such_product`, `import.several_products`,
                    `import.name_of_another`: the number is that of a product with another name.
        """
        by_number = _plain(number)
        place = 1 if by_number else 0
        wanted = by_number or _plain(name)
        found = [key for key, known in self._known.items() if known[place] == wanted]
        if by_number and name:
            both = [key for key in found if self._known[key][0] == _plain(name)]
            if found and not both:
                raise CellError("import.name_of_another", name=name[:80], number=number[:60])
            found = both
        if not found:
            raise CellError("import.no_such_product", name=(number or name)[:80])
        if len(found) > 1:
            raise CellError("import.several_products", name=(number or name)[:80])
        return found[0]

    def add(self, product: int | str, use: dict[str, Any]) -> bool:
        """Add a use; return whether it was not there yet.

        Raises
        ------
        CellError   `import.too_many_uses`.
        """
        uses = self._uses[product]
        if use in uses:
            return False
        if len(uses) >= MOST_USES:
            raise CellError("import.too_many_uses", most=MOST_USES)
        uses.append(use)
        return True

    def of_file(self, row: int) -> list[dict[str, Any]]:
        """Return the uses of a product that the file brings."""
        return self._uses.get(row, [])

    def changes(self) -> tuple[tuple[str, dict[str, tuple[Any, Any]]], ...]:
        """Return (id, {"uses": (was, to)}) of the products here that get more uses."""
        return tuple(
            (key, {"uses": (was or None, self._uses[key])})
            for key, was in self._was.items()
            if isinstance(key, str) and len(self._uses[key]) > len(was)
        )


def _plain(text: str | None) -> str:
    return re.sub(r"\s+", " ", text or "").strip().lower()
