"""Statistics of trials: counts, rates, arms, sizes; may import values and measuring."""

from benchproof.reasoning.trials.clusters import (
    clustered_limits,
    design_effect,
    effective_attempts,
    outcome_order,
    sitting_correlation,
)
from benchproof.reasoning.trials.comparisons import (
    compare_counts,
    compare_rates,
    fisher_p_value,
    rate_ratio_limits,
    rates_p_value,
)
from benchproof.reasoning.trials.counts import (
    decide_count,
    exact_limits,
    exact_limits_of,
    lower_bound,
    percent_down,
    percent_up,
    rule_of_three,
    shown_count,
    shown_interval,
    upper_bound,
)
from benchproof.reasoning.trials.guesses import (
    chance_of_all_right,
    chance_of_balanced,
    chance_of_guesses,
)
from benchproof.reasoning.trials.likelihoods import (
    RivalOdds,
    log_likelihood_ratio,
    weigh,
)
from benchproof.reasoning.trials.rates import (
    mean_time_limits,
    rate_limits,
    rate_lower_bound,
    rate_upper_bound,
    shown_rate,
)
from benchproof.reasoning.trials.samplesizes import (
    attempts_to_bound,
    attempts_to_see,
    exposure_to_bound,
    exposure_to_see,
)
from benchproof.reasoning.trials.separations import (
    COUNTED_UP_TO,
    attempts_to_separate,
    fisher_power,
)
from benchproof.reasoning.trials.stoppedcounts import (
    StoppedCount,
)

__all__ = [
    "COUNTED_UP_TO",
    "RivalOdds",
    "StoppedCount",
    "attempts_to_bound",
    "attempts_to_see",
    "attempts_to_separate",
    "chance_of_all_right",
    "chance_of_balanced",
    "chance_of_guesses",
    "clustered_limits",
    "compare_counts",
    "compare_rates",
    "decide_count",
    "design_effect",
    "effective_attempts",
    "exact_limits",
    "exact_limits_of",
    "exposure_to_bound",
    "exposure_to_see",
    "fisher_p_value",
    "fisher_power",
    "log_likelihood_ratio",
    "lower_bound",
    "mean_time_limits",
    "outcome_order",
    "percent_down",
    "percent_up",
    "rate_limits",
    "rate_lower_bound",
    "rate_ratio_limits",
    "rate_upper_bound",
    "rates_p_value",
    "rule_of_three",
    "shown_count",
    "shown_interval",
    "shown_rate",
    "sitting_correlation",
    "upper_bound",
    "weigh",
]
