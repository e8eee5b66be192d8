"""sync's Validator over the registry of kinds: what every push, replay and own act is held to."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from tepal.forms.kinds import KINDS
from tepal.forms.validator import problems
from tepal.sync.ports import KindRules

if TYPE_CHECKING:
    from collections.abc import Mapping


class KindValidator:
    """Rules and problems of the kinds that forms/kinds.py names."""

    def rules(self, kind: str) -> KindRules | None:
        """Return the kind's rules."""
        known = KINDS.get(kind)
        if known is None:
            return None
        return KindRules(known.form_version, known.signed_field, known.guard == "admin")

    def problems(self, kind: str, values: Mapping[str, Any]) -> dict[str, list[str]]:
        """Return what the schema refuses."""
        return problems(kind, values)


VALIDATOR: Final = KindValidator()


def version_of(kind: str) -> int:
    """Return the form version that the server's own entries of a kind have."""
    return KINDS[kind].form_version if kind in KINDS else 1
