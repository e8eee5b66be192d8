"""Letters for mean separation by insert-and-absorb; no library of ours has them.

A sweep along sorted means claims differences that were not found as soon as significance does not
follow the size of the difference (unequal replicates); the rule here is exact for any pattern.
"""

from __future__ import annotations

import dataclasses
import string
from typing import TYPE_CHECKING

from tepal.stats.results import ComparisonResult, LettersResult, StatsError

if TYPE_CHECKING:
    from collections.abc import Collection, Sequence


def letters(comparison: ComparisonResult, order: Sequence[str] | None = None) -> LettersResult:
    """Return the letters of a family of all pairs.

    Parameters
    ----------
    comparison : ComparisonResult   Of all pairs (`tukey`, `lsd`, `games_howell`).
    order : levels in display order; the first gets `a`. Default: by estimated mean, largest first.

    Returns
    -------
    LettersResult naming the procedure and alpha; letters in display order.

    Raises
    ------
    StatsError   `stats.not_all_pairs`: the family does not hold every pair.

    Notes
    -----
    Two levels share a letter if and only if p_adjusted >= alpha; no letter is redundant.
    Piepho 2004, J. Comput. Graph. Stat. 13:456-466.

    Examples
    --------
    >>> from tepal.stats import fit_linear, lsmeans, tukey
    >>> fit = fit_linear([1, 2, 3, 11, 12, 13], {"t": ["a", "a", "a", "b", "b", "b"]})
    >>> letters(tukey(lsmeans(fit, "t"))).letters
    (('b', 'a'), ('a', 'b'))
    """
    levels: list[str] = []
    height: dict[str, float] = {}
    for c in comparison.comparisons:
        if c.pair is None or c.value is None or c.p_adjusted is None:
            raise StatsError(
                "stats.not_all_pairs", f"{c.label} is not a tested pair: letters need all pairs."
            )
        for level in c.pair:
            if level not in levels:
                levels.append(level)
        height.setdefault(c.pair[0], 0.0)
        height.setdefault(c.pair[1], height[c.pair[0]] - c.value)
    k = len(levels)
    if len({frozenset(c.pair or ()) for c in comparison.comparisons}) != k * (k - 1) // 2:
        raise StatsError(
            "stats.not_all_pairs",
            f"{comparison.procedure} tested {len(comparison.comparisons)} of {k * (k - 1) // 2}"
            " pairs: letters need all of them.",
        )
    shown = list(order) if order is not None else sorted(levels, key=lambda x: -height[x])
    different = [
        c.pair
        for c in comparison.comparisons
        if c.pair is not None and c.p_adjusted is not None and c.p_adjusted < comparison.alpha
    ]
    found = letters_of_pairs(shown, different)
    about = dataclasses.replace(
        comparison.about,
        method=f"letters by insert-and-absorb from {comparison.procedure}",
        notes=(
            *comparison.about.notes,
            "levels sharing a letter were not found to differ, which is not proof of equality",
        ),
    )
    return LettersResult(about, comparison.procedure, comparison.alpha, tuple(found.items()))


def letters_of_pairs(
    levels: Sequence[str], different: Collection[tuple[str, str]]
) -> dict[str, str]:
    """Return level -> letters from the pairs found to differ.

    Parameters
    ----------
    levels : names in display order.
    different : pairs of names, in any order.

    Returns
    -------
    dict in display order. More than 52 letters continue as `a1`, `b1`, ...

    Examples
    --------
    >>> letters_of_pairs(["A", "B", "C"], [("A", "B"), ("B", "C")])  # A and C do not differ
    {'A': 'a', 'B': 'b', 'C': 'a'}
    """
    columns: list[frozenset[str]] = [frozenset(levels)]
    for first, second in different:
        split: list[frozenset[str]] = []
        for column in columns:
            if first in column and second in column:
                split += [column - {first}, column - {second}]
            else:
                split.append(column)
        columns = _absorbed(split)
    columns = _irredundant(columns, levels)
    place = {level: i for i, level in enumerate(levels)}
    columns.sort(key=lambda c: sorted(place[x] for x in c))
    return {
        level: "".join(_name(i) for i, column in enumerate(columns) if level in column)
        for level in levels
    }


def _absorbed(columns: list[frozenset[str]]) -> list[frozenset[str]]:
    distinct = list(dict.fromkeys(columns))
    return [c for c in distinct if not any(c < other for other in distinct)]


def _irredundant(columns: list[frozenset[str]], levels: Sequence[str]) -> list[frozenset[str]]:
    kept = list(columns)
    place = {level: i for i, level in enumerate(levels)}
    for column in sorted(columns, key=lambda c: (len(c), sorted(place[x] for x in c))):
        rest = [c for c in kept if c != column]
        covered = all(any(a in c and b in c for c in rest) for a in column for b in column)
        if covered:
            kept = rest
    return kept


def _name(i: int) -> str:
    names = string.ascii_letters
    return names[i] if i < len(names) else f"{names[i % len(names)]}{i // len(names)}"
