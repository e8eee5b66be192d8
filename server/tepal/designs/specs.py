"""What is asked of a design: treatments, replication, plots, the bench. Frozen and checked once.

Treatments are numbered 1, 2, 3 ...: letters belong to mean separation.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, get_args

from tepal.domain.errors import TepalError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from tepal.designs.benches import Bench

DesignKind = Literal[
    "completely_randomised",
    "randomised_complete_block",
    "latin_square",
    "split_plot",
    "split_plot_completely_randomised",
]
DESIGN_KINDS: tuple[DesignKind, ...] = get_args(DesignKind)
SPLIT_PLOTS: frozenset[DesignKind] = frozenset({"split_plot", "split_plot_completely_randomised"})
MOST_PLOTS = 10_000


class DesignError(TepalError, ValueError):
    """A design that cannot be laid out as asked."""


@dataclass(frozen=True, slots=True)
class Factor:
    """One thing that is varied, with its levels in order: ("product", ("0", "30 mg/L"))."""

    name: str
    levels: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Treatment:
    """One treatment of a trial.

    Parameters
    ----------
    number : int, from 1    Its number on stakes, pads and papers.
    label : str             What it is, in words; unique within the trial.
    levels : tuple of str   Its level of each factor, in the factors' order; empty for a treatment
                            that stands outside the factorial (an extra control).
    multiple : int, >= 1    Plots it has where another treatment has one (2 for a doubled control).
    """

    number: int
    label: str
    levels: tuple[str, ...] = ()
    multiple: int = 1


@dataclass(frozen=True, slots=True)
class DesignSpec:
    """A design asked for, before chance has a say.

    Parameters
    ----------
    kind : one of DESIGN_KINDS
    treatments : tuple of Treatment, 2 or more
    n_replicates : int, >= 1    Plots per treatment (completely randomised), blocks (randomised
                                complete block, split-plot), squares (Latin square), whole plots
                                per whole-plot treatment (split-plot, completely randomised).
    plants_per_plot : int, >= 1 A plot may be a single plant.
    factors : tuple of Factor   Of a factorial; empty for a plain list.
    whole_plot_factors : tuple of str   Names of the factors that whole plots receive.
    bench : Bench | None        None: a bench that just holds the trial is drawn.

    Raises
    ------
    DesignError     With a code `designs.*`, for anything that cannot be laid out.
    """

    kind: DesignKind
    treatments: tuple[Treatment, ...]
    n_replicates: int
    plants_per_plot: int = 1
    factors: tuple[Factor, ...] = ()
    whole_plot_factors: tuple[str, ...] = ()
    bench: Bench | None = None

    def __post_init__(self) -> None:
        _check_words(self)
        _check_treatments(self)
        _check_counts(self)
        _check_split(self)

    @property
    def n_plots(self) -> int:
        """Measured plots in all, guards not counted."""
        if self.kind == "latin_square":
            return self.n_replicates * len(self.treatments) ** 2
        return self.n_replicates * sum(t.multiple for t in self.treatments)

    @property
    def n_blocks(self) -> int:
        """Blocks that are laid out apart: 0 where the design has none; squares count as blocks."""
        unblocked = {"completely_randomised", "split_plot_completely_randomised"}
        return 0 if self.kind in unblocked else self.n_replicates

    def whole_plot_groups(self) -> tuple[tuple[Treatment, ...], ...]:
        """Return the treatments grouped by what the whole plot receives (split-plot designs)."""
        places = [i for i, f in enumerate(self.factors) if f.name in self.whole_plot_factors]
        groups: dict[tuple[str, ...], list[Treatment]] = {}
        for treatment in self.treatments:
            groups.setdefault(tuple(treatment.levels[i] for i in places), []).append(treatment)
        return tuple(tuple(group) for group in groups.values())


def listed_treatments(labels: Sequence[str], control_multiple: int = 1) -> tuple[Treatment, ...]:
    """Number the labels 1, 2, 3 ...; the first, the control, gets `control_multiple` plots."""
    return tuple(
        Treatment(i, label, multiple=control_multiple if i == 1 else 1)
        for i, label in enumerate(labels, start=1)
    )


def factorial_treatments(
    factors: Sequence[Factor], extra: Sequence[str] = ()
) -> tuple[Treatment, ...]:
    """Return every combination of the factors' levels, after the `extra` labels, numbered from 1.

    The last factor varies fastest. `extra` holds treatments outside the factorial, such as an
    untreated control beside a factorial of products and rates.
    """
    outside = [Treatment(i, label) for i, label in enumerate(extra, start=1)]
    combinations = itertools.product(*(f.levels for f in factors))
    inside = [
        Treatment(
            i, ", ".join(f"{f.name} {x}" for f, x in zip(factors, levels, strict=True)), levels
        )
        for i, levels in enumerate(combinations, start=len(outside) + 1)
    ]
    return (*outside, *inside)


def _check_words(spec: DesignSpec) -> None:
    if spec.kind not in DESIGN_KINDS:
        raise DesignError(
            "designs.kind_unknown",
            f"Design {spec.kind!r} is not known; use one of {', '.join(DESIGN_KINDS)}.",
            kind=str(spec.kind),
        )
    names = [f.name for f in spec.factors]
    words = [t.label for t in spec.treatments]
    for what, given in (("treatment", words), ("factor", names)):
        for word in given:
            if not word.strip() or given.count(word) > 1:
                raise DesignError(
                    "designs.name_not_unique",
                    f"Every {what} needs a name of its own; {word!r} is empty or stands twice.",
                    what=what,
                    name=word,
                )
    for factor in spec.factors:
        if len(factor.levels) < 2 or len(set(factor.levels)) < len(factor.levels):
            raise DesignError(
                "designs.factor_levels",
                f"Factor {factor.name!r} has levels {', '.join(factor.levels) or 'none'}; "
                "give two or more that differ.",
                factor=factor.name,
                levels=list(factor.levels),
            )


def _check_treatments(spec: DesignSpec) -> None:
    if len(spec.treatments) < 2:
        raise DesignError(
            "designs.too_few_treatments",
            f"A trial of {len(spec.treatments)} treatment compares nothing; give two or more, "
            "one of them the untreated control.",
            n_treatments=len(spec.treatments),
        )
    for i, treatment in enumerate(spec.treatments, start=1):
        if treatment.number != i:
            raise DesignError(
                "designs.treatment_numbers",
                f"Treatment {treatment.label!r} has number {treatment.number} in place {i}; "
                "number treatments 1, 2, 3 ... in order.",
                number=treatment.number,
                place=i,
            )
        fits = not treatment.levels or (
            len(treatment.levels) == len(spec.factors)
            and all(x in f.levels for x, f in zip(treatment.levels, spec.factors, strict=True))
        )
        if not fits:
            raise DesignError(
                "designs.treatment_levels",
                f"Treatment {i} has levels {treatment.levels}, which are not one level of each "
                "factor; build factorial treatments from the factors.",
                number=i,
                levels=list(treatment.levels),
            )


def _check_counts(spec: DesignSpec) -> None:
    multiples = [("multiple", t.multiple) for t in spec.treatments]
    for name, value in [
        ("n_replicates", spec.n_replicates),
        ("plants_per_plot", spec.plants_per_plot),
        *multiples,
    ]:
        if isinstance(value, bool) or not isinstance(value, int) or value < 1:
            raise DesignError(
                "designs.count_out_of_range",
                f"{name} is {value}; give a whole number of 1 or more.",
                name=name,
                value=str(value),
            )
    only_one_each = spec.kind == "latin_square" or spec.kind in SPLIT_PLOTS
    if only_one_each and any(t.multiple > 1 for t in spec.treatments):
        raise DesignError(
            "designs.multiple_not_possible",
            f"A {spec.kind.replace('_', ' ')} holds each treatment once; extra control plots need "
            "a completely randomised or a randomised complete block design.",
            kind=spec.kind,
        )
    if spec.n_plots > MOST_PLOTS:
        raise DesignError(
            "designs.too_many_plots",
            f"{spec.n_plots} plots are more than the {MOST_PLOTS} a trial may have; "
            "use fewer replicates or treatments.",
            n_plots=spec.n_plots,
            limit=MOST_PLOTS,
        )


def _check_split(spec: DesignSpec) -> None:
    if spec.kind not in SPLIT_PLOTS:
        if spec.whole_plot_factors:
            raise DesignError(
                "designs.whole_plot_factors",
                f"A {spec.kind.replace('_', ' ')} has no whole plots; leave out the whole-plot "
                "factor or choose a split-plot design.",
                kind=spec.kind,
            )
        return
    names = {f.name for f in spec.factors}
    chosen = set(spec.whole_plot_factors)
    if not chosen or not chosen < names or any(not t.levels for t in spec.treatments):
        raise DesignError(
            "designs.whole_plot_factors",
            f"A split-plot needs factors on whole plots and others within them; of the factors "
            f"{', '.join(sorted(names)) or 'none'}, whole plots were given "
            f"{', '.join(sorted(chosen)) or 'none'}. Name some of the factors, not all, and no "
            "treatment outside the factorial.",
            factors=sorted(names),
            whole_plot_factors=sorted(chosen),
        )
    sizes = {len(group) for group in spec.whole_plot_groups()}
    if len(sizes) > 1:
        raise DesignError(
            "designs.whole_plots_unequal",
            "Whole plots would hold different numbers of sub-plots; give every combination of the "
            "factors.",
            sizes=sorted(sizes),
        )
