"""How many children may be present at once: the rules of a place, checked over every minute of stays.

`rules/capacity/<country>_<region>.toml` holds the rules with their dates and sources; `custom_rule` makes one from the
owner's own numbers. A rule has tiers and holds while ANY of them does. Ages are whole months (or days) on the local
date; a month is complete on the day of the same number, or on the first of the next month when there is no such day, so
that a child born on 29 February has its birthday on 1 March in a common year, which is the cautious reading.
The files reach back to 2020; a day before that has no rule.
A warning, never a permission: the licence and the licensor decide.
"""

from provider.capacity.evaluation import (
    Adults,
    Breach,
    Child,
    Evaluation,
    Excess,
    Headcount,
    Peak,
    Stay,
    assess,
    evaluate,
    planned_stays,
    room,
    would_exceed,
)
from provider.capacity.rules import (
    CapacityRule,
    Limit,
    PointBand,
    Points,
    Quota,
    Tier,
    UnknownCapacityRule,
    age_in_months,
    capacity_rules,
    custom_rule,
    rule,
)

__all__ = [
    "Adults",
    "Breach",
    "CapacityRule",
    "Child",
    "Evaluation",
    "Excess",
    "Headcount",
    "Limit",
    "Peak",
    "PointBand",
    "Points",
    "Quota",
    "Stay",
    "Tier",
    "UnknownCapacityRule",
    "age_in_months",
    "assess",
    "capacity_rules",
    "custom_rule",
    "evaluate",
    "planned_stays",
    "room",
    "rule",
    "would_exceed",
]
