"""The clock times of a policy as elapsed seconds of one round: a day on which the clocks change has 23 or 25 hours."""

from __future__ import annotations

from dataclasses import replace

from planner.domain.orders import TimeWindow
from planner.domain.policy import Policy
from planner.units import SECONDS_PER_HOUR, RoundClock

OTHER_DAY_S = 12 * SECONDS_PER_HOUR
"""A clock time that lies farther before the round than this means the next day (rule book)."""


def policy_on_clock(policy: Policy, clock: RoundClock) -> Policy:
    """Return the policy with every clock time as elapsed seconds after midnight of the round's day."""
    told = policy.round
    begin_s, end_s = clock.wall_to_s(told.start_at_s), clock.wall_to_s(told.end_at_s)
    changed = replace(
        told,
        start_at_s=begin_s,
        end_at_s=end_s if end_s > begin_s else begin_s + told.end_at_s - told.start_at_s,
        breakfast_at_s=clock.wall_to_s(told.breakfast_at_s),
        quiet_hours={ward: tuple(_span(s, clock) for s in spans) for ward, spans in told.quiet_hours.items()},
        needed_by_s={ward: clock.wall_to_s(s) for ward, s in told.needed_by_s.items()},
    )
    return replace(policy, round=changed)


def _span(span: TimeWindow, clock: RoundClock) -> TimeWindow:
    begin_s, end_s = clock.wall_to_s(span.earliest_s), clock.wall_to_s(span.latest_s)
    return TimeWindow(earliest_s=begin_s, latest_s=max(begin_s, end_s))


def policy_of_night(policy: Policy, clock: RoundClock, start_s: int) -> Policy:
    """Return the policy of a round that begins at ``start_s``: what lies far before it is meant for the next day."""

    def placed(seconds: int) -> int:
        return clock.day_after(seconds) if start_s - seconds > OTHER_DAY_S else seconds

    told = policy.round
    changed = replace(
        told,
        breakfast_at_s=placed(told.breakfast_at_s),
        needed_by_s={ward: placed(s) for ward, s in told.needed_by_s.items()},
    )
    return replace(policy, round=changed)
