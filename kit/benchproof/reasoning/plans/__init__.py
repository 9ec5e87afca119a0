"""What is tried, in which order, until when; may import values and measuring."""

from benchproof.reasoning.plans.blinding import (
    SALT_CHARACTERS,
    BlindKey,
    blind_key,
    opens,
    sealed,
)
from benchproof.reasoning.plans.conditions import (
    Candidates,
    Condition,
    Forbidden,
    crossed,
    forbidden_pairs,
)
from benchproof.reasoning.plans.contactsets import (
    bell_number,
    contact_pairs,
    contact_sets,
    separate_groups,
)
from benchproof.reasoning.plans.covering import (
    chosen_levels,
    covering_rows,
    pairwise_levels,
)
from benchproof.reasoning.plans.designs import (
    fewest_rows,
    uniform_design,
)
from benchproof.reasoning.plans.levels import (
    factor_levels,
    sequences,
    states,
)
from benchproof.reasoning.plans.order import (
    shuffled,
    shuffled_in_blocks,
    shuffled_places,
)
from benchproof.reasoning.plans.stoprules import (
    StopRule,
)
from benchproof.reasoning.plans.trialplan import (
    TrialPlan,
)

__all__ = [
    "BlindKey",
    "Candidates",
    "Condition",
    "Forbidden",
    "SALT_CHARACTERS",
    "StopRule",
    "TrialPlan",
    "bell_number",
    "blind_key",
    "chosen_levels",
    "contact_pairs",
    "contact_sets",
    "covering_rows",
    "crossed",
    "factor_levels",
    "fewest_rows",
    "forbidden_pairs",
    "opens",
    "pairwise_levels",
    "sealed",
    "separate_groups",
    "sequences",
    "shuffled",
    "shuffled_in_blocks",
    "shuffled_places",
    "states",
    "uniform_design",
]
