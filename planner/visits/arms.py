"""Whether an arm is left to draw from (rule ``free-arm``): by the column ``limbs``, and by what texts say of arms."""

from __future__ import annotations

from collections.abc import Mapping

from planner.domain.orders import Arm, Order, PatientId
from planner.domain.problem import Problem

_EVERY = frozenset(Arm)


def without_arm(problem: Problem) -> Mapping[PatientId, str]:
    """Return the patients who can be drawn from neither arm, each with the reason and what to ask.

    What one order's note says of the arms holds for all orders of the patient.
    """
    notes: dict[PatientId, list[Order]] = {}
    for order in problem.orders:
        if order.arms_in_words or order.infusion_arms or order.arms_unexplained:
            notes.setdefault(order.patient_id, []).append(order)
    found: dict[PatientId, str] = {}
    for number, patient in problem.patients.items():
        in_words = patient.arms_in_words.union(*(order.arms_in_words for order in notes.get(number, ())))
        running = patient.infusion_arms.union(*(order.infusion_arms for order in notes.get(number, ())))
        unexplained = patient.arms_unexplained.union(*(order.arms_unexplained for order in notes.get(number, ())))
        barred = patient.arms_barred | in_words
        closed = barred | running
        if barred >= _EVERY:
            words = ", by what alerts or notes say (they stand in the list)" if in_words - patient.arms_barred else ""
            found[number] = f"neither arm may be used{words}; ask the doctor from where, and have it drawn by who may"
        elif running and closed >= _EVERY:
            found[number] = (
                "by alerts or notes something runs into every arm that may be used; what is drawn there can be false, "
                "and the infusion may not be stopped without the doctor: ask from where, and have it drawn by who may"
            )
        elif len(closed) == 1 and unexplained - closed:
            found[number] = (
                "one arm is closed, and a text names the other with words that are not understood (they stand in the "
                "list); ask which arm may be used, and write the other in column limbs"
            )
        elif closed and not patient.arms_barred and patient.has_sideless_reason:
            found[number] = (
                "one arm is closed, and a text gives a reason against an arm without its side (they stand in the "
                "list); ask which arm may be used, and write the other in column limbs"
            )
    return found
