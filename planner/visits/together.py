"""Which two orders of one patient never share a puncture, whatever their windows have in common.

The same test ordered twice is drawn once and serves both orders, with four exceptions: two draws of a series, two
samples for the blood bank (the second sample is to catch wrong blood in the first tube, so it is another puncture
after another identification), two orders that state different times, and orders that their
notes or samples set apart (`planner.visits.noted`). Nor do tests of contradicting postures share,
nor what was ordered later with a stat that was due and that nobody reported: it may be drawn, and the other is not.
"""

from __future__ import annotations

from collections.abc import Iterable

from planner.domain.derived.two_samples import are_two_samples
from planner.domain.orders import Order
from planner.domain.problem import Problem
from planner.visits.noted import is_noted_apart, state_different_times
from planner.visits.posture import contradicts
from planner.visits.series import is_in_series


def must_part(problem: Problem, order: Order, group: Iterable[Order]) -> bool:
    """Return whether some order of a group may not share a puncture with this one."""
    members = tuple(group)
    return contradicts(problem, order, members) or any(_never_together(problem, order, other) for other in members)


def _never_together(problem: Problem, one: Order, other: Order) -> bool:
    if are_two_samples(problem, one, other) or is_unanswered_alone(problem, one, other):
        return True
    if is_noted_apart(problem, one, other):
        return True
    if one.test != other.test or one.id == other.id:
        return False
    is_one_series = is_in_series(problem, one) and one.series == other.series
    return is_one_series or state_different_times(problem, one, other)


def is_unanswered_alone(problem: Problem, one: Order, other: Order) -> bool:
    """Return whether one of two orders alone was to be drawn with a stat that nobody reported (``unanswered-stat``)."""
    replan = problem.replan
    return replan is not None and replan.unanswered([one.id]) != replan.unanswered([other.id])
