"""The fitted model that every comparison works on, and its least-squares means."""

from __future__ import annotations

import dataclasses
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np
from scipy import special

from tepal.stats import distributions as dist
from tepal.stats.results import (
    NO_LIMIT,
    DesignRefusedError,
    Estimate,
    MeansResult,
    ModelResult,
    Provenance,
    Scale,
    TermTest,
    known,
    limit_of_log,
)

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    from tepal.domain.errors import Finding
    from tepal.stats.design_matrix import Design

    Floats = NDArray[np.float64]

Kind = Literal["linear", "quasi_poisson", "quasi_binomial"]
Link = Literal["identity", "log", "logit"]
LINK_SCALE: dict[str, Scale] = {"identity": "response", "log": "log", "logit": "logit"}


@dataclass(frozen=True)
class FittedModel:
    """A model after fitting: arrays are in the order of the used rows and must not be written to.

    `used` (n_rows,) bool marks the rows of the caller's table that were analysed. `cov` (p, p) is
    already multiplied by the dispersion. `zero_levels` are (factor, level) pairs of a generalised
    model left out of the fit because every plot lies on the edge of the scale.
    """

    kind: Kind
    link: Link
    about: Provenance
    design: Design
    response: Floats
    used: NDArray[np.bool_]
    coef: Floats
    cov: Floats
    dispersion: float
    df_error: int
    fitted: Floats
    residuals: Floats
    leverage: Floats
    anova: tuple[TermTest, ...]
    factors: dict[str, tuple[str, ...]]
    covariates: dict[str, tuple[float, ...]]
    offset: Floats
    weights: Floats
    deviance: float | None = None
    null_deviance: float | None = None
    zero_levels: tuple[tuple[str, str, float], ...] = ()
    findings: tuple[Finding, ...] = ()

    def term(self, name: str) -> TermTest:
        """Return the line of the table of terms that tests `name`."""
        for line in self.anova:
            if line.term == name:
                return line
        raise DesignRefusedError(
            "stats.unknown_term",
            f"The model has no term {name!r}; it has {', '.join(t.term for t in self.anova)}.",
            term=name,
        )

    def summary(self) -> ModelResult:
        """Return the model as a result without arrays."""
        r2 = cv = None
        if self.kind == "linear":
            y = self.response - self.response[0]
            total = float(((y - y.mean()) ** 2).sum())
            rss = float((self.residuals**2).sum())
            r2 = 1.0 - rss / total if total > 0 else None
            mean = float(self.response.mean())
            cv = 100.0 * math.sqrt(self.dispersion) / abs(mean) if mean else None
        return ModelResult(
            about=self.about,
            kind=self.kind,
            link=self.link,
            terms=self.anova,
            dispersion=self.dispersion,
            df_error=float(self.df_error),
            deviance=self.deviance,
            null_deviance=self.null_deviance,
            r2=r2,
            cv_percent=cv,
            n_missing=int((~self.used).sum()),
            findings=self.findings,
        )


def lsmeans(
    fit: FittedModel,
    factor: str,
    at: Mapping[str, float] | None = None,
    alpha: float = 0.05,
) -> MeansResult:
    """Return least-squares means: every other factor averaged equally, covariates at one value.

    Parameters
    ----------
    fit : FittedModel       From `fit_linear`, `fit_count` or `fit_proportion`.
    factor : str            A factor of the model, or `A:B` for the cells of two factors.
    at : covariate -> value, in the covariate's unit. Default: its mean over the used rows.
    alpha : 0 < alpha < 1   The intervals are pointwise at 1 - alpha, t on the error df.

    Returns
    -------
    MeansResult. On the link scale; `back` holds them on the response scale.

    Raises
    ------
    DesignRefusedError   `stats.unknown_term`: the factor is not in the model.

    Notes
    -----
    L b and sqrt(L V L'), L averaging the design rows.
    Searle, Speed & Milliken 1980, Am. Stat. 34:216.

    Examples
    --------
    >>> from tepal.stats import fit_linear
    >>> fit = fit_linear([30, 33, 45, 26, 27, 35, None, 35, 43], {
    ...     "block": "I I I II II II III III III".split(), "trt": "D E F D E F D E F".split()})
    >>> [round(m.value, 4) for m in lsmeans(fit, "trt").means]  # a plot of D is missing
    [29.3333, 31.6667, 41.0]
    """
    at = dict(at or {})
    parts = factor.split(":")
    for part in parts:
        if part not in fit.design.levels or not any(part in t.split(":") for t in fit.design.terms):
            raise DesignRefusedError(
                "stats.unknown_term", f"{part!r} is not a factor of the model.", term=part
            )
    for name in at:
        if name not in fit.design.centres:
            raise DesignRefusedError(
                "stats.unknown_term", f"{name!r} is not a covariate of the model.", term=name
            )
    cells: list[tuple[str, ...]] = [()]
    for part in parts:
        cells = [(*c, level) for c in cells for level in fit.design.levels[part]]
    L = np.array([fit.design.row(dict(zip(parts, c, strict=True)), at) for c in cells])
    values = L @ fit.coef
    covariance = L @ fit.cov @ L.T
    t = dist.t_quantile(1 - alpha / 2, fit.df_error)
    labels = [":".join(c) for c in cells]
    keys = list(zip(*(fit.factors[p] for p in parts), strict=True))
    counts = {c: keys.count(c) for c in cells}
    scale = LINK_SCALE[fit.link]
    means = []
    for i, label in enumerate(labels):
        se = math.sqrt(max(covariance[i, i], 0.0))
        means.append(
            Estimate(
                label,
                float(values[i]),
                se,
                float(fit.df_error),
                float(values[i] - t * se),
                float(values[i] + t * se),
                scale=scale,
                n=counts[cells[i]],
            )
        )
    notes = [
        f"covariate {name} at {at.get(name, centre):.6g}"
        for name, centre in fit.design.centres.items()
    ]
    back = _back_transformed(fit, factor, means, values)
    if fit.link != "identity":
        notes.append(f"means on the {scale} scale; `back` holds them as responses")
    about = dataclasses.replace(
        fit.about,
        method=f"least-squares means of {factor}",
        notes=(*fit.about.notes, *notes),
    )
    return MeansResult(
        about,
        factor,
        tuple(means),
        tuple(tuple(float(x) for x in row) for row in covariance),
        float(fit.df_error),
        fit.dispersion,
        back,
    )


def _back_transformed(
    fit: FittedModel, factor: str, means: list[Estimate], values: Floats
) -> tuple[Estimate, ...]:
    if fit.link == "identity":
        return ()
    back = []
    for m, value in zip(means, values, strict=True):
        if fit.link == "log":
            y = math.exp(value)
            slope, upper = y, limit_of_log(known(m.upper))
            lower = limit_of_log(known(m.lower))
        else:
            y = float(special.expit(value))
            slope, upper = y * (1 - y), float(special.expit(known(m.upper)))
            lower = float(special.expit(known(m.lower)))
        back.append(
            Estimate(
                m.label,
                y,
                slope * known(m.se),
                m.df,
                lower,
                upper,
                n=m.n,
                reason=NO_LIMIT if upper is None else None,
            )
        )
    for name, level, edge in fit.zero_levels:
        if name == factor:
            back.append(
                Estimate(
                    level,
                    edge,
                    reason="every plot lies on the edge of the scale, so the model has no standard"
                    " error for it; see the deviance test against the control",
                )
            )
    return tuple(back)
