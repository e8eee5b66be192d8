"""p-values adjusted for the number of questions; statsmodels has them, two loops load faster."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Literal

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence


Adjustment = Literal[
    "none", "bonferroni", "holm", "hochberg", "bh", "sidak", "scheffe", "single-step"
]


def adjust_p(p: Sequence[float], method: Adjustment) -> list[float]:
    """Adjust p-values for the number of questions asked.

    Parameters
    ----------
    p : (m,) float in [0, 1].
    method : "none", "bonferroni", "sidak", "holm", "hochberg" (family-wise) or "bh" (false
        discovery rate).

    Returns
    -------
    list of m floats in the order given.

    Raises
    ------
    ValueError   The method needs more than p-values ("scheffe", "single-step").

    Notes
    -----
    Holm 1979, Scand. J. Stat. 6:65; Hochberg 1988, Biometrika 75:800; Benjamini & Hochberg 1995,
    J. R. Stat. Soc. B 57:289. statsmodels has these; two loops are not worth loading it.

    Examples
    --------
    >>> adjust_p([0.01, 0.04, 0.03], "holm")
    [0.03, 0.06, 0.06]
    """
    x = np.asarray(p, dtype=float)
    m = len(x)
    if m == 0 or method == "none":
        return [float(v) for v in x]
    order = np.argsort(x, kind="stable")
    rank = np.empty(m, dtype=int)
    rank[order] = np.arange(m)
    ascending = x[order]
    i = np.arange(m)
    if method == "bonferroni":
        return [float(min(1.0, v * m)) for v in x]
    if method == "sidak":
        return [float(-math.expm1(m * math.log1p(-v))) if v < 1 else 1.0 for v in x]
    if method == "holm":
        steps = np.maximum.accumulate(ascending * (m - i))
    elif method == "hochberg":
        steps = np.minimum.accumulate((ascending * (m - i))[::-1])[::-1]
    elif method == "bh":
        steps = np.minimum.accumulate((ascending * m / (i + 1))[::-1])[::-1]
    else:
        raise ValueError(f"{method} needs the model, not only p-values")
    return [float(min(1.0, v)) for v in steps[rank]]
