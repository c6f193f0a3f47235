"""What a person may wish a replanned round to be, instead of what the site's prices ask for."""

from __future__ import annotations

from dataclasses import replace
from enum import Enum

from planner.domain.orders import Priority
from planner.domain.policy import Policy

FOUR_HOURS_S = 4 * 3600
"""A stop at this price moves only so that no order is left out."""


class Wish(Enum):
    """A wish. The value is its code in plan.json."""

    FEWEST_CHANGES = "fewest-changes"
    LEAST_LATE = "least-late"
    LEAST_EFFORT = "least-effort"
    """Lateness counts only of what is wanted at once or soon; stops move for nothing."""


def policy_wished(policy: Policy, wish: Wish) -> Policy:
    """Return the prices with which a wished plan is searched; it is counted and checked with the site's own."""
    price_s = FOUR_HOURS_S if wish is Wish.FEWEST_CHANGES else 0
    priced = replace(policy, prices=replace(policy.prices, moved_stop_s=price_s))
    if wish is not Wish.LEAST_EFFORT:
        return priced
    late = {**policy.weights.late, Priority.URGENT: 0, Priority.ROUTINE: 0}
    return replace(priced, weights=replace(policy.weights, late=late, late_timed=0))
