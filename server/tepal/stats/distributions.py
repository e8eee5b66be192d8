"""Tails and quantiles from scipy.special, so that a plain analysis never loads scipy.stats.

scipy.stats takes three times as long to load as scipy.special; only the studentised range and
Shapiro-Wilk had to be written out (ranges.py, normality.py). All arguments may be floats.
"""

from __future__ import annotations

from scipy import special


def t_two_sided(t: float, df: float) -> float:
    """Return P(|T| >= |t|) for Student's t with `df` degrees of freedom.

    Source: any table of t; 2.2281 with 10 df gives 0.05.

    Examples
    --------
    >>> abs(t_two_sided(2.2281388520, 10) - 0.05) < 1e-10
    True
    """
    return 2.0 * float(special.stdtr(df, -abs(t)))


def t_upper(t: float, df: float) -> float:
    """Return P(T >= t) for Student's t with `df` degrees of freedom.

    Examples
    --------
    >>> t_upper(0.0, 7)
    0.5
    """
    return float(special.stdtr(df, -t))


def t_quantile(p: float, df: float) -> float:
    """Return the t below which a share `p` (0 < p < 1) lies.

    Examples
    --------
    >>> abs(t_quantile(0.975, 10) - 2.2281388520) < 1e-9
    True
    """
    return float(special.stdtrit(df, p))


def f_upper(f: float, df1: float, df2: float) -> float:
    """Return P(F >= f), Snedecor's F with (df1, df2) degrees of freedom.

    Examples
    --------
    >>> abs(f_upper(4.9646027437, 1, 10) - 0.05) < 1e-9
    True
    """
    return float(special.fdtrc(df1, df2, max(f, 0.0)))


def f_quantile(p: float, df1: float, df2: float) -> float:
    """Return the F below which a share `p` (0 < p < 1) lies.

    Examples
    --------
    >>> abs(f_quantile(0.95, 1, 10) - 4.9646027437) < 1e-8
    True
    """
    return float(special.fdtri(df1, df2, p))


def chi2_upper(x: float, df: float) -> float:
    """Return P(X >= x), chi-squared with `df` degrees of freedom.

    Examples
    --------
    >>> abs(chi2_upper(3.8414588207, 1) - 0.05) < 1e-10
    True
    """
    return float(special.chdtrc(df, max(x, 0.0)))


def normal_upper(z: float) -> float:
    """Return P(Z >= z) of the standard normal.

    Examples
    --------
    >>> normal_upper(0.0)
    0.5
    """
    return float(special.ndtr(-z))


def normal_quantile(p: float) -> float:
    """Return the z below which a share `p` (0 < p < 1) lies.

    Examples
    --------
    >>> abs(normal_quantile(0.975) - 1.959963984540) < 1e-11
    True
    """
    return float(special.ndtri(p))
