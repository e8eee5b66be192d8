"""Factors and covariates to a model matrix, and the reasons to refuse one.

Written here because patsy alone takes longer to load than the whole analysis takes. Factors are
coded sum-to-zero, so that Type III tests are right without care (statsmodels' default coding is
wrong there) and a least-squares mean is the intercept plus its own codes.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from tepal.stats.results import DesignRefusedError

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]

# A column whose part orthogonal to the columns before it is below this share of its length is
# taken as dependent: far above rounding (1e-15 * columns), far below any planned unbalance.
ALIAS_TOLERANCE = 1e-9


@dataclass(frozen=True)
class Design:
    """A model matrix (n, p) with the columns, levels and centres needed to read it back."""

    matrix: Floats
    terms: tuple[str, ...]
    columns: dict[str, slice]
    levels: dict[str, tuple[str, ...]]
    centres: dict[str, float]

    def row(self, setting: Mapping[str, str], at: Mapping[str, float]) -> Floats:
        """Return the row (p,) that averages equally over every factor not in `setting`."""
        row = np.zeros(self.matrix.shape[1])
        row[0] = 1.0
        for term in self.terms:
            blocks: list[Floats] = []
            for part in term.split(":"):
                if part in self.levels:
                    if part not in setting:
                        blocks = []  # averages to zero over the levels in sum coding
                        break
                    blocks.append(_codes(self.levels[part])[self.levels[part].index(setting[part])])
                else:
                    value = at.get(part, self.centres[part])
                    blocks.append(np.array([value - self.centres[part]]))
            if blocks:
                row[self.columns[term]] = _product_row(blocks)
        return row


def build_design(
    factors: Mapping[str, Sequence[str]],
    covariates: Mapping[str, ArrayLike],
    terms: Sequence[str] | None,
) -> Design:
    """Return the model matrix of `terms`; refuse it with the reason when it is rank deficient.

    Parameters
    ----------
    factors : name -> (n,) labels.           Levels are sorted as `level_order` does.
    covariates : name -> (n,) finite floats. Centred at their mean.
    terms : names, `A:B` for an interaction. None: every factor, then every covariate.

    Raises
    ------
    DesignRefusedError   `stats.one_level`, `stats.empty_cell`, `stats.confounded`,
        `stats.no_error_df`, `stats.unknown_term`.

    Examples
    --------
    >>> d = build_design({"trt": ["a", "b", "a", "b", "b"]}, {}, None)
    >>> d.matrix[:, 1].tolist()
    [1.0, -1.0, 1.0, -1.0, -1.0]
    """
    design = model_matrix(factors, covariates, terms)
    for term in design.terms:
        for part in term.split(":"):
            if part in design.levels and len(design.levels[part]) < 2:
                raise DesignRefusedError(
                    "stats.one_level",
                    f"Every usable row has {part} = {design.levels[part][0]};"
                    " a comparison needs at least two levels.",
                    factor=part,
                )
    _refuse_empty_cells(design.terms, factors, design.levels)
    _refuse_confounded(design)
    return design


def model_matrix(
    factors: Mapping[str, Sequence[str]],
    covariates: Mapping[str, ArrayLike],
    terms: Sequence[str] | None,
    reference: bool = False,
    centre: bool = True,
) -> Design:
    """Return the model matrix without judging it; a factor of one level has no columns.

    `reference` codes a factor by indicators of all levels but the first, which some published
    criteria are quoted for; `centre` takes the mean off the covariates.

    Examples
    --------
    >>> model_matrix({"trt": ["a", "a"]}, {}, None).matrix.shape
    (2, 1)
    """
    names = tuple(terms) if terms is not None else (*factors, *covariates)
    levels = {name: level_order(labels) for name, labels in factors.items()}
    columns: dict[str, slice] = {}
    columns_given = [*factors.values(), *covariates.values()]
    n = len(np.asarray(columns_given[0])) if columns_given else 0
    values = {k: np.asarray(v, dtype=float) for k, v in covariates.items()}
    centres = {k: float(v.mean()) if centre else 0.0 for k, v in values.items()}
    coded: dict[str, Floats] = {k: (v - centres[k])[:, None] for k, v in values.items()}
    for key, labels in factors.items():
        index = {level: i for i, level in enumerate(levels[key])}
        which = np.fromiter((index[x] for x in labels), dtype=int, count=n)
        codes = _reference_codes(levels[key]) if reference else _codes(levels[key])
        coded[key] = codes[which]
    blocks: list[Floats] = [np.ones((n, 1))]
    at = 1
    for term in names:
        parts = term.split(":")
        for part in parts:
            if part not in coded:
                raise DesignRefusedError(
                    "stats.unknown_term",
                    f"The term {term!r} names {part!r}, which is neither a factor nor a covariate.",
                    term=term,
                )
        block = coded[parts[0]]
        for part in parts[1:]:
            block = (block[:, :, None] * coded[part][:, None, :]).reshape(n, -1)
        columns[term] = slice(at, at + block.shape[1])
        at += block.shape[1]
        blocks.append(block)
    return Design(np.hstack(blocks), names, columns, levels, centres)


def level_order(labels: Sequence[str]) -> tuple[str, ...]:
    """Return the distinct labels: by number where all are numbers, else by text.

    Examples
    --------
    >>> level_order(["10", "2", "2"])
    ('2', '10')
    """
    distinct = set(labels)
    try:
        numbers = {label: float(label) for label in distinct}
    except ValueError:
        return tuple(sorted(distinct))
    if not all(math.isfinite(x) for x in numbers.values()):
        return tuple(sorted(distinct))
    return tuple(sorted(distinct, key=lambda label: (numbers[label], label)))


def _codes(levels: tuple[str, ...]) -> Floats:
    k = len(levels)
    return np.vstack([np.eye(k - 1), -np.ones((1, k - 1))])


def _reference_codes(levels: tuple[str, ...]) -> Floats:
    k = len(levels)
    return np.vstack([np.zeros((1, k - 1)), np.eye(k - 1)])


def _product_row(blocks: list[Floats]) -> Floats:
    row = blocks[0]
    for other in blocks[1:]:
        row = (row[:, None] * other[None, :]).ravel()
    return row


def _refuse_empty_cells(
    terms: tuple[str, ...],
    factors: Mapping[str, Sequence[str]],
    levels: Mapping[str, tuple[str, ...]],
) -> None:
    for term in terms:
        parts = [p for p in term.split(":") if p in factors]
        if len(parts) < 2:
            continue
        seen = set(zip(*(factors[p] for p in parts), strict=True))
        for cell in itertools.product(*(levels[p] for p in parts)):
            if cell not in seen:
                named = ", ".join(f"{p} = {v}" for p, v in zip(parts, cell, strict=True))
                raise DesignRefusedError(
                    "stats.empty_cell",
                    f"No usable plot has {named}, so the term {term} cannot be estimated; leave the"
                    " interaction out, or analyse the combinations as one list of treatments.",
                    term=term,
                    cell=named,
                )


def _refuse_confounded(design: Design) -> None:
    X = design.matrix
    n, p = X.shape
    pivots = np.abs(np.diag(np.linalg.qr(X)[1]))
    size = np.sqrt((X**2).sum(axis=0))
    for term in design.terms:
        for j in range(design.columns[term].start, design.columns[term].stop):
            if j < min(n, p) and pivots[j] > ALIAS_TOLERANCE * max(size[j], 1e-300):
                continue
            if n <= p and j >= n - 1:
                break
            others = _explained_by(design, term, j)
            raise DesignRefusedError(
                "stats.confounded",
                f"The term {term} is confounded with {', '.join(others) or 'the mean'}: in these"
                " rows the two cannot be told apart. Leave one of them out, or say so in the plan.",
                term=term,
                confounded_with=others,
            )
    if n <= p:
        raise DesignRefusedError(
            "stats.no_error_df",
            f"{n} usable plots for {p} coefficients leave no degrees of freedom for error: with one"
            " plot per treatment nothing can be said about chance. More replicates are needed.",
            n=n,
            coefficients=p,
        )


def _explained_by(design: Design, term: str, j: int) -> list[str]:
    X = design.matrix
    weights = np.linalg.lstsq(X[:, :j], X[:, j], rcond=None)[0]
    named = []
    for other in design.terms[: design.terms.index(term) + 1]:
        where = design.columns[other]
        share = weights[where.start : min(where.stop, j)]
        if other != term and share.size and float(np.abs(share).max()) > 1e-6:
            named.append(other)
    return named
