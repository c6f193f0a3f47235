"""Which visits nobody is assumed to have made or to be making: those that stay open until somebody reports them."""

from __future__ import annotations

from planner.domain.plan import Visit
from planner.domain.problem import Problem
from planner.domain.revisions.replan import Held


def is_stat(problem: Problem, visit: Visit) -> bool:
    """Return whether a visit draws anything that is wanted at once."""
    return problem.has_stat(visit.order_ids)


def unanswered(problem: Problem, visit: Visit) -> Held | None:
    """Return on whose older sheet a visit was due that draws a stat, or what was to be drawn with one; None: on none.

    It may have been drawn then. That it has a new slot since says nothing, so the question stays until it is reported.
    """
    return next(iter(problem.replan.unanswered(visit.order_ids)), None) if problem.replan else None
