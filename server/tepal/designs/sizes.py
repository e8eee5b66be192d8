"""How many replicates a question needs, and what a trial of a given size can find.

Differences and spread are per cent of the control's mean, as growers and papers state them. The
spread is that between plots treated alike (plot-to-plot coefficient of variation), never that
between plants of one plot.
"""

from __future__ import annotations

import dataclasses
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from tepal.designs import noncentral
from tepal.designs.specs import DesignError
from tepal.domain.errors import Finding

if TYPE_CHECKING:
    from collections.abc import Sequence

Comparison = Literal["control", "pairs", "overall"]
SizedKind = Literal["completely_randomised", "randomised_complete_block", "latin_square"]
MOST_REPLICATES = 500


@dataclass(frozen=True, slots=True)
class SizeQuestion:
    """What a trial is to find, and how uneven its plots are.

    Parameters
    ----------
    comparison : "control" | "pairs" | "overall"
        Each treatment against the control (Dunnett), every pair (Tukey), or the F test over all.
    n_treatments : int, 2 to 100            The control included.
    difference_pct : float, %, > 0          True difference of two means, per cent of the control,
                                            that must not be missed. For "overall": of the two most
                                            distant means, all others halfway (least favourable).
    plot_cv_pct : float, %, > 0             SD between plots treated alike / control mean x 100.
    plant_cv_pct : float, %, >= 0           SD between plants of one plot / mean x 100; 0 when
                                            `plot_cv_pct` already is that of plot means.
    plants_per_plot : int, >= 1
    kind : design of the trial              A whole-plot factor: ask as randomised complete block
                                            with the spread between whole plots.
    control_multiple : int, >= 1            Plots of the control per plot of a treatment.
    alpha : float, 0 to 1, exclusive        Two-sided, over all comparisons of the trial.
    power : float, 0 to 1, exclusive        Wanted chance to find the difference in one comparison.

    Raises
    ------
    DesignError     `designs.size_out_of_range`, `designs.multiple_not_possible`.
    """

    comparison: Comparison
    n_treatments: int
    difference_pct: float
    plot_cv_pct: float
    plant_cv_pct: float = 0.0
    plants_per_plot: int = 1
    kind: SizedKind = "randomised_complete_block"
    control_multiple: int = 1
    alpha: float = 0.05
    power: float = 0.8

    def __post_init__(self) -> None:
        _within("n_treatments", self.n_treatments, 2, 100)
        _within("difference_pct", self.difference_pct, 0.01, 10_000)
        _within("plot_cv_pct", self.plot_cv_pct, 0.01, 1_000)
        _within("plant_cv_pct", self.plant_cv_pct, 0, 1_000)
        _within("plants_per_plot", self.plants_per_plot, 1, 10_000)
        _within("control_multiple", self.control_multiple, 1, 20)
        _within("alpha", self.alpha, 1e-6, 0.5)
        _within("power", self.power, 0.05, 0.9999)
        if self.control_multiple > 1 and (
            self.comparison != "control" or self.kind == "latin_square"
        ):
            raise DesignError(
                "designs.multiple_not_possible",
                "Extra control plots are for comparisons with the control, in a completely "
                "randomised or randomised complete block design.",
                comparison=self.comparison,
                kind=self.kind,
            )

    @property
    def plot_mean_sd_pct(self) -> float:
        """SD of plot means in per cent of the control mean: sqrt(plot^2 + plant^2 / plants)."""
        return math.sqrt(
            mean_variance(self.plot_cv_pct**2, self.plant_cv_pct**2, 1, self.plants_per_plot)
        )


@dataclass(frozen=True, slots=True)
class SizeAnswer:
    """What a trial of `n_replicates` can answer.

    Parameters
    ----------
    power : float, 0 to 1               Chance to find the difference asked for.
    detectable_pct : float | None       Smallest difference found with the wanted power; None where
                                        it is above 10,000 %.
    needed_replicates : int | None      Fewest replicates with the wanted power; None where more
                                        than 500 are needed.
    df_error : int
    findings : tuple of Finding         `designs.too_small_for_question` when power is short.
    """

    question: SizeQuestion
    n_replicates: int
    power: float
    detectable_pct: float | None
    needed_replicates: int | None
    df_error: int
    findings: tuple[Finding, ...]


def mean_variance(
    plot_variance: float, plant_variance: float, n_plots: int, plants_per_plot: int
) -> float:
    """Return the variance of a treatment mean: s2_plot / r + s2_plant / (r s).

    Parameters
    ----------
    plot_variance, plant_variance : float, >= 0, squared unit of the response
    n_plots : int, >= 1             Plots of the treatment, r.
    plants_per_plot : int, >= 1     Measured plants of each plot, s.
    """
    return plot_variance / n_plots + plant_variance / (n_plots * plants_per_plot)


def error_df(question: SizeQuestion, n_replicates: int) -> int:
    """Return the degrees of freedom of the error; below 1 there is nothing to judge by.

    `n_replicates` counts blocks, squares, or plots per treatment.
    """
    t, r, m = question.n_treatments, n_replicates, question.control_multiple
    if question.kind == "latin_square":
        # squares, then rows, columns and treatments within r squares of order t
        return r * t * t - 1 - (r - 1) - 2 * r * (t - 1) - (t - 1)
    n_plots = r * (t - 1 + m)
    blocks = r - 1 if question.kind == "randomised_complete_block" else 0
    return n_plots - t - blocks


def overall_power(
    means: Sequence[float], plot_sd: float, n_replicates: int, kind: SizedKind, alpha: float = 0.05
) -> float:
    """Return the power of the treatment F test for given true means.

    Parameters
    ----------
    means : floats, unit of the response
    plot_sd : float, same unit, > 0     SD of plot means treated alike.
    n_replicates : int                  Blocks, squares, or plots per treatment.

    Notes
    -----
    Noncentral F with lambda = n sum((mean - grand mean)^2) / sd^2, n plots per treatment.
    """
    question = SizeQuestion("overall", len(means), 1, 1, kind=kind)
    df = _usable_df(question, n_replicates)
    n = n_replicates * (len(means) if kind == "latin_square" else 1)
    spread = float(np.sum((np.asarray(means) - np.mean(means)) ** 2))
    return noncentral.f_beyond(alpha, n * spread / plot_sd**2, len(means) - 1, df)


def power_at(question: SizeQuestion, n_replicates: int) -> float:
    """Return the chance that a trial with `n_replicates` finds the difference asked for.

    For "control" and "pairs": that of one named comparison at the level that protects them all.

    Raises
    ------
    DesignError     `designs.no_error_df`: nothing would be left to judge by.
    """
    df = _usable_df(question, n_replicates)
    t = question.n_treatments
    n = n_replicates * (t if question.kind == "latin_square" else 1)
    n_control = n * question.control_multiple
    effect = question.difference_pct / question.plot_mean_sd_pct
    if question.comparison == "overall":
        return noncentral.f_beyond(question.alpha, n * effect**2 / 2, t - 1, df)
    if question.comparison == "pairs":
        critical = noncentral.pairs_critical(question.alpha, t, df)
    else:
        critical = noncentral.dunnett_critical(question.alpha, t - 1, n, n_control, df)
    return noncentral.t_beyond(critical, effect / math.sqrt(1 / n + 1 / n_control), df)


def any_difference_power(
    shifts: Sequence[float], n_treated: Sequence[int], n_control: int, df: int, critical: float
) -> float:
    """Return the chance that at least one treatment is told from the control (Dunnett).

    Parameters
    ----------
    shifts : (k,) floats        True differences from the control over the SD of plot means.
    n_treated : (k,) ints       Plots of each treatment.
    n_control : int             Plots of the control.
    df : int, >= 1              Of the error.
    critical : float            As from `noncentral.dunnett_critical`.
    """
    none = noncentral.dunnett_none_beyond(
        critical,
        np.asarray(shifts, dtype=np.float64),
        np.asarray(n_treated, dtype=np.float64),
        n_control,
        df,
    )
    return 1 - none


def replicates_needed(question: SizeQuestion) -> int | None:
    """Return the fewest replicates that reach the wanted power; None if over 500."""
    low = 1
    while error_df(question, low) < 1:
        low += 1
    if power_at(question, low) >= question.power:
        return low
    high = low
    while power_at(question, high) < question.power:
        low, high = high, high * 2
        if low >= MOST_REPLICATES:
            return None
    # INVARIANT: `low` is too few, `high` is enough; power rises with replicates
    while high - low > 1:
        middle = (low + high) // 2
        if power_at(question, middle) >= question.power:
            high = middle
        else:
            low = middle
    return high if high <= MOST_REPLICATES else None


def detectable_difference_pct(question: SizeQuestion, n_replicates: int) -> float | None:
    """Return the smallest difference, per cent of the control, found with the wanted power.

    None where even 10,000 % would be missed too often.
    """
    low, high = 0.01, 10_000.0
    if power_at(dataclasses.replace(question, difference_pct=high), n_replicates) < question.power:
        return None
    while high - low > 1e-9 * high:
        middle = (low + high) / 2
        asked = dataclasses.replace(question, difference_pct=middle)
        if power_at(asked, n_replicates) < question.power:
            low = middle
        else:
            high = middle
    return high


def size_answer(question: SizeQuestion, n_replicates: int) -> SizeAnswer:
    """Return what a trial of this size can answer, with a finding where it cannot.

    Raises
    ------
    DesignError     `designs.no_error_df`.
    """
    power = power_at(question, n_replicates)
    detectable = detectable_difference_pct(question, n_replicates)
    needed = replicates_needed(question)
    findings = []
    if power < question.power:
        findings.append(_too_small(question, n_replicates, power, detectable, needed))
    return SizeAnswer(
        question,
        n_replicates,
        power,
        detectable,
        needed,
        error_df(question, n_replicates),
        tuple(findings),
    )


def _too_small(
    question: SizeQuestion,
    n_replicates: int,
    power: float,
    detectable: float | None,
    needed: int | None,
) -> Finding:
    cure = "more than 500 replicates" if needed is None else f"{needed} replicates"
    reach = (
        "no difference" if detectable is None else f"only differences of {detectable:.0f} % or more"
    )
    return Finding(
        "designs.too_small_for_question",
        "caution",
        f"This trial is too small for its question. With {n_replicates} replicates a true "
        f"difference of {question.difference_pct:g} % would be found in {100 * power:.0f} of 100 "
        f"such trials, {100 * question.power:g} are wanted. It can find {reach} that often; the "
        f"difference asked for needs {cure}, more even plots, or fewer treatments.",
        field="n_replicates",
        source="power of the comparison that will be made, at the stated alpha",
        context={
            "n_replicates": n_replicates,
            "difference_pct": question.difference_pct,
            "power": power,
            "wanted_power": question.power,
            "detectable_pct": detectable,
            "needed_replicates": needed,
        },
    )


def _usable_df(question: SizeQuestion, n_replicates: int) -> int:
    _within("n_replicates", n_replicates, 1, 10 * MOST_REPLICATES)
    df = error_df(question, n_replicates)
    if df < 1:
        raise DesignError(
            "designs.no_error_df",
            f"With {n_replicates} replicates of {question.n_treatments} treatments in a "
            f"{question.kind.replace('_', ' ')} design nothing is left to tell chance by "
            f"({df} degrees of freedom of error); use more replicates.",
            n_replicates=n_replicates,
            n_treatments=question.n_treatments,
            df_error=df,
        )
    return df


def _within(name: str, value: float, low: float, high: float) -> None:
    if not low <= value <= high:
        raise DesignError(
            "designs.size_out_of_range",
            f"{name} is {value:g}; give a number from {low:g} to {high:g}.",
            name=name,
            value=value,
            low=low,
            high=high,
        )
