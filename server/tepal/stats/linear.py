"""Linear models on plot values: QR on centred responses, Type I, II and III tests.

statsmodels fits these too, but loading it costs more than a whole trial's analysis, and its
Type III with default coding and its confounded terms are wrong in silence (design_matrix.py).
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

import numpy as np

from tepal.stats import distributions as dist
from tepal.stats.design_matrix import Design, build_design
from tepal.stats.models import FittedModel
from tepal.stats.results import DegenerateResponseError, DesignRefusedError, Provenance, TermTest

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Responses = Sequence[float | None] | Floats

SsType = Literal[1, 2, 3]
Transform = Literal["none", "ln"]


def fit_linear(
    response: Responses,
    factors: Mapping[str, Sequence[str]],
    covariates: Mapping[str, Responses] | None = None,
    terms: Sequence[str] | None = None,
    ss_type: SsType = 2,
    transform: Transform = "none",
    name: str = "response",
    unit_of_analysis: str = "plot",
) -> FittedModel:
    """Fit a linear model to plot values by least squares.

    Parameters
    ----------
    response : (n,) float, any unit. None or NaN marks a missing plot: the row is left out.
    factors : name -> (n,) labels. For a block design give block before treatment.
    covariates : name -> (n,) float, measured before treatment; a missing one drops its row.
    terms : model terms in order, `A:B` for interactions. None: factors, then covariates.
    ss_type : 1 sequential, 2 each term after all that do not contain it, 3 after all others.
    transform : "ln" analyses natural logarithms (values above zero): differences are log ratios,
        and the back-transformed means are medians.
    name, unit_of_analysis : words for the formula and for n.

    Returns
    -------
    FittedModel. `dispersion` is the error mean square, in squared units of the response.

    Raises
    ------
    DesignRefusedError        The matrix is rank deficient, or no df are left for error.
    DegenerateResponseError   `stats.no_data`, `stats.no_variation`, `stats.not_positive` (ln).

    Notes
    -----
    Responses are centred on the first value and then on the mean before the QR, so that thirteen
    constant leading digits cost no more than binary64 must lose (NIST StRD SmLs07).
    Missing plots: the plots that exist are analysed; the fitted value of the empty cell is the
    estimate of Yates 1933, Emp. J. Exp. Agric. 1:129, without its bias in the treatment SS.

    Examples
    --------
    >>> fit = fit_linear([55, 47, 48, 55, 64, 64, 55, 49, 52, 50, 44, 41],
    ...                  {"process": ["ctrl"] * 3 + ["P1"] * 3 + ["P2"] * 3 + ["P3"] * 3})
    >>> fit.df_error, round(fit.dispersion, 6)
    (8, 19.0)
    """
    covariates = covariates or {}
    y, kept, kept_covariates, used = select_rows(response, factors, covariates)
    if transform == "ln":
        if not (y > 0).all():
            raise DegenerateResponseError(
                "stats.not_positive",
                f"{name} holds {float(y.min()):g}; a logarithm needs values above zero. Analyse the"
                " values as they are, or counts as counts.",
                response=name,
            )
        y = np.log(y)
        name = f"ln({name})"
    design = build_design(kept, kept_covariates, terms)
    if float(np.ptp(y)) == 0.0:
        raise DegenerateResponseError(
            "stats.no_variation",
            f"Every usable plot has {name} = {float(y[0]):.10g}: without variation there is nothing"
            " to test. Check the column and its unit.",
            response=name,
        )
    origin = float(y[0])
    shifted = y - origin
    origin_mean = float(shifted.mean())
    centred = shifted - origin_mean
    Q, R = np.linalg.qr(design.matrix)
    effects = Q.T @ centred
    coef = np.linalg.solve(R, effects)
    residuals = centred - Q @ effects
    residuals = residuals - Q @ (Q.T @ residuals)  # one step of refinement
    n, p = design.matrix.shape
    df = n - p
    rss = float(residuals @ residuals)
    mse = rss / df
    total = float(centred @ centred)
    if rss <= 1e-24 * total:
        raise DegenerateResponseError(
            "stats.no_error_variation",
            f"The plots of {name} follow the model exactly, so there is no error to compare with."
            " Check for copied or averaged values.",
            response=name,
        )
    R_inverse = np.linalg.solve(R, np.eye(p))
    unscaled = R_inverse @ R_inverse.T
    coef = coef.copy()
    coef[0] += origin + origin_mean
    formula = f"{name} ~ {' + '.join(design.terms)}"
    about = Provenance(
        method="linear model, ordinary least squares",
        formula=formula,
        unit_of_analysis=unit_of_analysis,
        n=n,
        df=float(df),
        assumptions=(
            "plots independent given the terms of the model",
            "residuals normal with one variance",
            "terms add up",
        ),
        notes=("back-transformed means are medians (geometric means)",)
        if transform == "ln"
        else (),
    )
    anova = _anova(design, effects, centred, unscaled, coef, mse, df, ss_type)
    return FittedModel(
        kind="linear",
        link="log" if transform == "ln" else "identity",
        about=about,
        design=design,
        response=y,
        used=used,
        coef=coef,
        cov=unscaled * mse,
        dispersion=mse,
        df_error=df,
        fitted=y - residuals,
        residuals=residuals,
        leverage=(Q**2).sum(axis=1),
        anova=anova,
        factors={k: tuple(v) for k, v in kept.items()},
        covariates={k: tuple(float(x) for x in v) for k, v in kept_covariates.items()},
        offset=np.zeros(n),
        weights=np.ones(n),
    )


def select_rows(
    response: Responses,
    factors: Mapping[str, Sequence[str]],
    covariates: Mapping[str, Responses],
) -> tuple[Floats, dict[str, list[str]], dict[str, Floats], NDArray[np.bool_]]:
    """Return response, factors and covariates without rows that lack a value, and the mask."""
    y = np.array([np.nan if v is None else v for v in response], dtype=float)
    used = ~np.isnan(y)
    extra = {}
    for key, column in covariates.items():
        values = np.array([np.nan if v is None else v for v in column], dtype=float)
        _same_length(key, len(values), len(y))
        used &= ~np.isnan(values)
        extra[key] = values
    for key, labels in factors.items():
        _same_length(key, len(labels), len(y))
    if not used.any():
        raise DegenerateResponseError(
            "stats.no_data", "No row has both a response and every covariate."
        )
    if not np.isfinite(y[used]).all():
        raise DegenerateResponseError(
            "stats.not_finite", "A response is infinite; correct it or leave it empty."
        )
    where: list[int] = np.flatnonzero(used).tolist()
    kept = {key: [str(labels[i]) for i in where] for key, labels in factors.items()}
    return y[used], kept, {k: v[used] for k, v in extra.items()}, used


def _same_length(name: str, got: int, wanted: int) -> None:
    if got != wanted:
        raise DesignRefusedError(
            "stats.length", f"{name} has {got} values, the response has {wanted}.", column=name
        )


def _anova(
    design: Design,
    effects: Floats,
    centred: Floats,
    unscaled: Floats,
    coef: Floats,
    mse: float,
    df: int,
    ss_type: SsType,
) -> tuple[TermTest, ...]:
    # coefficients of the terms do not change with the centring of the response
    lines = []
    for term in design.terms:
        where = design.columns[term]
        k = where.stop - where.start
        if ss_type == 1:
            ss = float((effects[where] ** 2).sum())
        elif ss_type == 3 or not _containing(design, term):
            b = coef[where]
            ss = float(b @ np.linalg.solve(unscaled[where, where], b))
        else:
            ss = _type2_ss(design, term, centred)
        f = ss / k / mse
        lines.append(TermTest(term, k, ss, ss / k, f, dist.f_upper(f, k, df), float(df)))
    return tuple(lines)


def _containing(design: Design, term: str) -> list[str]:
    own = set(term.split(":"))
    return [t for t in design.terms if t != term and own < set(t.split(":"))]


def _type2_ss(design: Design, term: str, centred: Floats) -> float:
    # SS(term | all terms that do not contain it)
    inside = {*_containing(design, term), term}
    others = [
        0,
        *(
            j
            for t in design.terms
            if t not in inside
            for j in range(design.columns[t].start, design.columns[t].stop)
        ),
    ]
    own = list(range(design.columns[term].start, design.columns[term].stop))
    Q, _ = np.linalg.qr(design.matrix[:, others + own])
    return float(((Q.T @ centred)[len(others) :] ** 2).sum())
