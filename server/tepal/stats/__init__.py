"""Statistics of trials: arrays and small frames in, frozen results out.

May know: numpy, scipy, statsmodels (only where used), tepal.domain. May not: records, database,
HTTP, papers, formatting. Start reading: results.py, then models.py, then analysis.py.
"""

from tepal.stats.analysis import analyse, means_of
from tepal.stats.cells import AnalysisSpec
from tepal.stats.comparisons import contrasts, dunnett, joint_test, lsd, tukey
from tepal.stats.days import between_looks, kaplan_meier, log_rank, restricted_mean_days
from tepal.stats.deviance import deviance_test, profile_interval
from tepal.stats.dose import dose_response, growth_curve
from tepal.stats.glm import fit_count, fit_proportion
from tepal.stats.letters import letters, letters_of_pairs
from tepal.stats.linear import fit_linear
from tepal.stats.mixed import MixedModel, fit_mixed
from tepal.stats.models import FittedModel, lsmeans
from tepal.stats.multiplicity import adjust_p
from tepal.stats.normality import bartlett, brown_forsythe, shapiro_wilk
from tepal.stats.ordinal import fit_ordinal
from tepal.stats.partners import (
    colby_expected_pct,
    formulation,
    interaction,
    percent_departure,
)
from tepal.stats.pooled import PooledResult, pool
from tepal.stats.ratings import (
    friedman,
    kruskal_wallis,
    mann_whitney,
    steel,
)
from tepal.stats.ratios import (
    exponentiated,
    fieller_limits,
    percent_of_control,
    ratio_of_paired_means,
)
from tepal.stats.repeated import plot_summaries, split_plot_in_time
from tepal.stats.results import (
    AnalysisResult,
    DegenerateResponseError,
    DesignRefusedError,
    NotConvergedError,
    StatsError,
    to_json,
)
from tepal.stats.strata import nested_anova, plot_values, split_plot
from tepal.stats.table import Table, TableError, read_table
from tepal.stats.trends import (
    factorial_effects,
    interaction_contrast,
    polynomial_coefficients,
    simple_effects,
    trend,
)
from tepal.stats.trust import additivity, box_cox, influence, spatial_trend, trust
from tepal.stats.unequal import games_howell, welch_anova

__all__ = [
    "AnalysisResult",
    "AnalysisSpec",
    "DegenerateResponseError",
    "DesignRefusedError",
    "FittedModel",
    "MixedModel",
    "NotConvergedError",
    "PooledResult",
    "StatsError",
    "Table",
    "TableError",
    "additivity",
    "adjust_p",
    "analyse",
    "bartlett",
    "between_looks",
    "box_cox",
    "brown_forsythe",
    "colby_expected_pct",
    "contrasts",
    "deviance_test",
    "dose_response",
    "dunnett",
    "exponentiated",
    "factorial_effects",
    "fieller_limits",
    "fit_count",
    "fit_linear",
    "fit_mixed",
    "fit_ordinal",
    "fit_proportion",
    "formulation",
    "friedman",
    "games_howell",
    "growth_curve",
    "influence",
    "interaction",
    "interaction_contrast",
    "joint_test",
    "kaplan_meier",
    "kruskal_wallis",
    "letters",
    "letters_of_pairs",
    "log_rank",
    "lsd",
    "lsmeans",
    "mann_whitney",
    "means_of",
    "nested_anova",
    "percent_departure",
    "percent_of_control",
    "plot_summaries",
    "plot_values",
    "polynomial_coefficients",
    "pool",
    "profile_interval",
    "ratio_of_paired_means",
    "read_table",
    "restricted_mean_days",
    "shapiro_wilk",
    "simple_effects",
    "spatial_trend",
    "split_plot",
    "split_plot_in_time",
    "steel",
    "to_json",
    "trend",
    "trust",
    "tukey",
    "welch_anova",
]
