"""Whether an arm is left to draw from (rule ``free-arm``): by the column ``limbs``, and by what texts say of arms."""

from __future__ import annotations

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
    running = patient.infusion_arms.union(*(other.infusion_arms for other in own))
    if running and barred | running >= _EVERY:
        return (
            "by alerts or notes something runs into every arm that may be used; what is drawn there can be false, and "
            "the infusion may not be stopped without the doctor: ask from where, and have it drawn by who may"
        )
    return None
