"""The record kinds: one schema each, its form version, and what signs it.

To add a kind: a schema (registers, spraying, trials), words in the catalogue, a line in `KINDS`,
a migration; the tests name whatever is missing. Nothing is *required* to save: a record that lacks
a field is kept and printed with "missing"; `required_on_paper` drives forms and papers.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, Literal

from tepal.forms import mixing, registers, spraying, trials
from tepal.forms.fields import Measured
from tepal.forms.vocabulary import METHODS, ROLES

if TYPE_CHECKING:
    from marshmallow import Schema

    from tepal.forms.fields import WireField

__all__ = ["KINDS", "METHODS", "ROLES", "Guard", "Kind", "OpenFields"]

# Which acts the kind is open to; services/authority.py gives the words their meaning.
Guard = Literal["field", "register", "authority", "restriction", "admin"]


@dataclass(frozen=True, slots=True)
class OpenFields:
    """Fields that the user defines: any name with this prefix, all of one type."""

    prefix: str
    field: WireField

    def holds(self, name: str) -> bool:
        """Whether a field of this name is one of them."""
        return re.fullmatch(rf"{self.prefix}[a-z0-9_]{{1,24}}", name) is not None


@dataclass(frozen=True, slots=True)
class Kind:
    """A registered kind. `form_version` grows with each change of the schema."""

    name: str
    schema: Schema
    guard: Guard
    form_version: int = 1
    signed_field: str | None = None
    open_fields: OpenFields | None = None

    def field(self, name: str) -> object:
        """Return the field of this name, or None; it is a `WireField` where there is one."""
        if self.open_fields is not None and self.open_fields.holds(name):
            return self.open_fields.field
        return self.schema.fields.get(name)


MEASURED: Final = OpenFields("m_", Measured())
KINDS: Final[dict[str, Kind]] = {
    kind.name: kind
    for kind in (
        Kind("establishment", registers.Establishment(), "admin"),
        Kind("member", registers.Member(), "admin"),
        Kind("device", registers.Device(), "admin"),
        Kind("certificate", registers.Certificate(), "register"),
        Kind("house", registers.House(), "register"),
        Kind("bay", registers.Bay(), "register"),
        Kind("bench", registers.Bench(), "register"),
        Kind("lot", registers.Lot(), "register"),
        Kind("lot_event", registers.LotEvent(), "register"),
        Kind("supplier_treatment", registers.SupplierTreatment(), "register"),
        Kind("product", registers.Product(), "register"),
        Kind("label_file", registers.LabelFile(), "register"),
        Kind("permit", registers.Permit(), "authority"),
        Kind("batch", registers.Batch(), "register"),
        Kind("stock_count", registers.StockCount(), "register"),
        Kind("tank_mix", mixing.TankMix(), "register"),
        Kind("incompatible_pair", mixing.IncompatiblePair(), "register"),
        Kind("jar_test", mixing.JarTest(), "register"),
        Kind("instrument", mixing.Instrument(), "register"),
        Kind("sprayer", mixing.Sprayer(), "register"),
        Kind("calibration", mixing.Calibration(), "field"),
        Kind("program", spraying.Program(), "register"),
        Kind("spray_order", spraying.SprayOrder(), "register"),
        Kind("order_outcome", spraying.OrderOutcome(), "field"),
        Kind("application", spraying.Application(), "field", signed_field="signature"),
        Kind("restriction", spraying.Restriction(), "restriction"),
        Kind("early_entry", spraying.EarlyEntry(), "field"),
        Kind("photo", spraying.Photo(), "field"),
        Kind("voice_note", spraying.VoiceNote(), "field"),
        Kind("trial", trials.Trial(), "register", form_version=2),
        Kind("assessment", trials.Assessment(), "field", form_version=2),
        Kind(
            "observation", trials.Observation(), "field", open_fields=OpenFields("m_", Measured())
        ),
        Kind("exclusion", trials.Exclusion(), "register"),
    )
}
