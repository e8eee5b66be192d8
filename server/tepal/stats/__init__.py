"""Statistics of trials: arrays and small frames in, frozen results out.

May know: numpy, scipy, statsmodels (only where used), tepal.domain. May not: records, database,
HTTP, papers, formatting. Start reading: results.py, then models.py.
"""

from tepal.stats.comparisons import (
    adjust_p,
    contrasts,
    dunnett,
    games_howell,
    lsd,
    tukey,
)
from tepal.stats.glm import deviance_test, fit_count, fit_proportion, profile_interval
from tepal.stats.letters import letters, letters_of_pairs
from tepal.stats.linear import fit_linear
from tepal.stats.models import FittedModel, lsmeans
from tepal.stats.ratios import (
    back_transformed,
    exponentiated,
    fieller_limits,
    percent_of_control,
    ratio_of_paired_means,
)
from tepal.stats.results import (
    DegenerateResponseError,
    DesignRefusedError,
    NotConvergedError,
    StatsError,
    to_json,
)

__all__ = [
    "DegenerateResponseError",
    "DesignRefusedError",
    "FittedModel",
    "NotConvergedError",
    "StatsError",
    "adjust_p",
    "back_transformed",
    "contrasts",
    "deviance_test",
    "dunnett",
    "exponentiated",
    "fieller_limits",
    "fit_count",
    "fit_linear",
    "fit_proportion",
    "games_howell",
    "letters",
    "letters_of_pairs",
    "lsd",
    "lsmeans",
    "percent_of_control",
    "profile_interval",
    "ratio_of_paired_means",
    "to_json",
    "tukey",
]
