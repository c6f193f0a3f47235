"""Whether an arm is left to draw from (rule ``free-arm``): by the column ``limbs``, and by what texts say of arms."""

from __future__ import annotations

from planner.domain.catalogue import Handling
from planner.domain.orders import Arm, Order
from planner.domain.problem import Problem

_EVERY = frozenset(Arm)


def no_arm(problem: Problem, order: Order) -> str | None:
    """Return why an order can be drawn from neither arm, and what to ask; None where an arm is left, or may be.

    What one order's note says of the arms holds for all orders of the patient.
    """
    patient = problem.patient_of(order)
    own = [other for other in problem.orders if other.patient_id == patient.id]
    in_words = patient.arms_in_words.union(*(other.arms_in_words for other in own))
    barred = patient.arms_barred | in_words
    if barred >= _EVERY:
        words = ", by what alerts or notes say (they stand in the list)" if in_words - patient.arms_barred else ""
        return f"neither arm may be used{words}; ask the doctor from where, and have it drawn by who may"
    heparin = patient.heparin_arms.union(*(other.heparin_arms for other in own))
    if Handling.NO_HEPARIN_LINE in problem.test_of(order).handling and heparin and barred | heparin >= _EVERY:
        return (
            f"heparin runs in every arm that may be used, and {order.test} drawn above or below it is false; ask the "
            "doctor from where, or when the infusion may be stopped"
        )
    return None
