"""The experimental unit: what was independently randomised to a treatment.

References
----------
[1] Hurlbert 1984, Pseudoreplication and the design of ecological field experiments.
    Ecol. Monogr. 54:187-211.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from tepal.domain.errors import Finding

Piece = Literal["plant", "pot", "tray", "bench"]
_SIZE: dict[Piece, int] = {"plant": 0, "pot": 1, "tray": 2, "bench": 3}


@dataclass(frozen=True, slots=True)
class ExperimentalUnit:
    """What counts as one replicate, and what the trial's papers have to say about it."""

    unit: Piece
    findings: tuple[Finding, ...]


def experimental_unit(randomised: Piece, treated_together: Piece) -> ExperimentalUnit:
    """Return the unit of a trial from how its plants are treated and put back.

    Parameters
    ----------
    randomised : Piece          The piece that chance gave to a treatment, and that is put back in
                                its own place after treatment.
    treated_together : Piece    The largest piece that always gets its treatment in one pass.

    Returns
    -------
    ExperimentalUnit. The unit is the piece that was randomised. Pots that were randomised one by
    one but sprayed in one pass per treatment stay units, with a note that all share that pass;
    plants in a tray or on a bench that is randomised whole are samples of it, not units.
    """
    findings = []
    if _SIZE[treated_together] > _SIZE[randomised]:
        findings.append(
            Finding(
                "designs.shared_pass",
                "note",
                f"Each {randomised} was randomised by itself, and those of a treatment were "
                f"treated together as a {treated_together}: a fault of that one pass would look "
                "like an effect of the treatment.",
                field="treated_together",
                source="Hurlbert 1984, Ecol. Monogr. 54:187-211",
                context={"randomised": randomised, "treated_together": treated_together},
            )
        )
    if _SIZE[randomised] > _SIZE["pot"]:
        findings.append(
            Finding(
                "designs.plants_are_samples",
                "note",
                f"The {randomised} is the experimental unit; plants within it are averaged, and "
                f"n counts each {randomised}.",
                field="randomised",
                source="Hurlbert 1984, Ecol. Monogr. 54:187-211",
                context={"randomised": randomised},
            )
        )
    return ExperimentalUnit(randomised, tuple(findings))
