"""No order is lost and none is drawn twice."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from planner.checker.broken import Broken, Rule
from planner.checker.facts import Facts
from planner.checker.windows import is_other_rounds
from planner.domain.plan import Reason


def once(facts: Facts) -> Iterator[Broken]:
    """Every order is in exactly one visit or unplanned exactly once; what was set aside is unplanned too."""
    visits = Counter(order_id for at in facts.all_visits for order_id in at.visit.order_ids)
    listed = Counter(left.order_id for left in facts.plan.unplanned if left.reason is not Reason.DRAWN_IN_VAIN)
    apart = Counter(left.order_id for left in facts.problem.set_aside)
    for order_id in dict.fromkeys((*facts.orders, *apart)):
        expected = apart[order_id] + (order_id in facts.orders)
        if visits[order_id] + listed[order_id] != expected or listed[order_id] < apart[order_id]:
            yield Broken(
                f"order {order_id}: found in {visits[order_id]} visits and {listed[order_id]} times unplanned, "
                f"expected {expected} in all, {apart[order_id]} of them set aside",
                (order_id,),
            )


def set_aside(facts: Facts) -> Iterator[Broken]:
    """An order that was set aside keeps the reason for which it was."""
    stated = Counter((left.order_id, left.reason) for left in facts.plan.unplanned)
    ids = {left.order_id for left in facts.plan.unplanned}
    for (order_id, reason), count in Counter((o.order_id, o.reason) for o in facts.problem.set_aside).items():
        if order_id in ids and stated[order_id, reason] < count:
            yield Broken(f"order {order_id}: set aside as {reason.value}, but not listed so", (order_id,))


def other_round(facts: Facts) -> Iterator[Broken]:
    """Only an order whose own time lies outside the round may be left to another round."""
    for left in facts.plan.unplanned:
        order = facts.orders.get(left.order_id)
        if order is not None and left.reason is Reason.OTHER_ROUND and not is_other_rounds(facts, order):
            yield Broken(f"order {order.id}: left to another round, but its time lies in this one", (order.id,))


RULES: tuple[Rule, ...] = (once, set_aside, other_round)
