"""Finds the smallest single change of each kind that mends an order, by planning again and checking the plan."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

from planner.domain.goals import Part
from planner.domain.orders import Order, OrderId
from planner.domain.plan import Plan
from planner.domain.problem import Problem
from planner.errors import CheckRefusedError
from planner.explaining.reasons import explain
from planner.explaining.tries import Try, families
from planner.pipeline import plan_round
from planner.replanning.next_problem import next_problem
from planner.solving.params import SolveParams
from planner.visits import order_windows

MAX_ONE_BY_ONE = 6
"""Families of no more changes are tried one by one."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Mend:
    """A change that was tried and mends: the order is drawn at ``draw_s``, on time, and no other order is lost.

    ``num_moved`` visits are then made by somebody else, in another order or later.
    """

    words: str
    draw_s: int
    phlebotomist: str
    num_moved: int


def mends(
    problem: Problem,
    plan: Plan,
    revision: int,
    order_id: OrderId,
    params: SolveParams,
    on_try: Callable[[str], None] = lambda _words: None,
) -> Iterator[Mend]:
    """Yield the changes that mend an order which is late or not planned, one of each family at most.

    Each is verified: the changed round is planned again, and the independent checker has passed the plan. ``on_try``
    is told of each change before it is tried.
    """
    order = problem.order(order_id)
    before = explain(problem, plan, order_id)
    assert before is not None
    now_s = problem.begin_s if problem.replan else problem.start_s - 1
    begun = next_problem(problem, plan, parent=revision, now_s=now_s).problem
    # What could mend the order is asked, whatever it moves; the mend says how many stops that is.
    begun = replace(begun, policy=replace(begun.policy, prices=replace(begun.policy.prices, moved_stop_s=0)))
    spared = _harmed(problem, plan) | {order_id}

    def tried(attempt: Try) -> Mend | None:
        on_try(attempt.words)
        return _tried(attempt, order, spared, params)

    for family in families(begun, plan, order, before.window):
        mend = _smallest(family, tried)
        if mend is not None:
            yield mend


def _smallest(family: Sequence[Try], tried: Callable[[Try], Mend | None]) -> Mend | None:
    """Return the mend by the first change of a family that mends.

    A long family is halved again and again, which supposes that whatever is larger than a mend mends too; what is
    returned was tried in any case.
    """
    if len(family) <= MAX_ONE_BY_ONE:
        return next((mend for mend in map(tried, family) if mend is not None), None)
    best = tried(family[-1])
    low, high = 0, len(family) - 1
    while best is not None and low < high:
        middle = (low + high) // 2
        mend = tried(family[middle])
        if mend is None:
            low = middle + 1
        else:
            best, high = mend, middle
    return best


def _tried(attempt: Try, order: Order, spared: frozenset[OrderId], params: SolveParams) -> Mend | None:
    """Return what a change comes to, None when it does not mend the order or costs another."""
    try:
        planned = plan_round(attempt.problem, params)
    except CheckRefusedError:
        return None
    after = explain(attempt.problem, planned.plan, order.id)
    if after is None or after.made is None or after.late_s:
        return None
    if _harmed(attempt.problem, planned.plan) - spared:
        return None
    moved = planned.plan.part(Part.CHANGES).value
    who = attempt.problem.staff[after.made.phlebotomist].initials
    return Mend(words=attempt.words, draw_s=after.made.visit.draw_s, phlebotomist=who, num_moved=moved)


def _harmed(problem: Problem, plan: Plan) -> frozenset[OrderId]:
    """Return the orders to plan that no visit serves, or one past their target."""
    windows, _without = order_windows(problem)
    drawn_s = {o: v.draw_s for route in plan.routes for v in route.visits for o in v.order_ids}
    lost = {order.id for order in problem.orders} - drawn_s.keys()
    targets = {o: w.target_s for o, w in windows.items() if w.target_s is not None and o in drawn_s}
    return frozenset(lost | {o for o, target_s in targets.items() if drawn_s[o] > target_s})
