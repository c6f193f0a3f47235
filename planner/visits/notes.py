"""Notes and alerts that speak against the plan: shown on the card, and a person decides."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from planner.domain.doses import dose_base_s
from planner.domain.methods import method_of
from planner.domain.orders import Method, NoteSays, Order, OrderId, PatientId
from planner.domain.problem import Problem
from planner.finding_codes import Code
from planner.findings import Finding, Severity

CODE: Code = "note-contradicts"
_WORDS = {
    NoteSays.OTHERS_DRAW: (
        "the ward, a doctor or a line brings the specimen, and the plan sends a phlebotomist. Ask who draws; if it is "
        "not the round, cancel the order or write the performer"
    ),
    NoteSays.HEPARIN: (
        "heparin is running, and the test ordered is that of a patient without it: another time limit, another "
        "reading. Ask which test is meant, and draw away from the infusion"
    ),
    NoteSays.ANTIBIOTIC: (
        "an antibiotic is given before the planned draw of the culture. Ask the ward: can the antibiotic wait, or who "
        "draws the culture first? Given already: draw all the same, and tell the laboratory"
    ),
    NoteSays.ELSEWHERE: (
        "the patient is elsewhere from a time before the planned draw. Ask the ward: can it be drawn before, or when "
        "is the patient back? Write the time, or the span (column away)"
    ),
    NoteSays.GONE: "the patient has left or died, and the plan sends somebody. Ask the ward before anybody goes",
    NoteSays.FROM_SKIN: (
        "the patient is to be drawn from heel or finger, and the plan draws from a vein. Ask the ward, and write the "
        "method (column method: capillary, venous or ward)"
    ),
    NoteSays.NOT_BY_VEIN: (
        "no vein is to be punctured, and the plan draws from one. Ask the ward from where: from a line, by who may "
        "(cancel the order or write the performer), or from heel or finger (column method: capillary)"
    ),
    NoteSays.CLUMPS: (
        "platelets clump in EDTA, and the plan draws EDTA alone. Ask the laboratory: citrate as well (order PLTCIT)?"
    ),
    NoteSays.HIGH_HAZARD: (
        "a haemorrhagic fever or the like is suspected. Nobody goes before infection control and the laboratory have "
        "said who draws, in what, and how the specimen travels"
    ),
    NoteSays.NOT_WANTED: "the draw is not wanted or was made, and the plan has it. Ask, and cancel the order if so",
    NoteSays.TIED: (
        "the draw is tied to a time or to something of the patient's care that the plan does not know. Ask when, and "
        "write the time"
    ),
    NoteSays.COUNTED: (
        "the draw comes a stated span before or after something whose time the plan does not know. Ask when, and "
        "write the time"
    ),
}
"""What the note says against the plan, and what to do."""


def note_findings(problem: Problem, drawn: Iterable[tuple[Order, int]]) -> Iterator[Finding]:
    """Yield a finding for each patient and condition of a note or an alert that planned orders contradict.

    ``drawn`` are the orders, each with the second of its planned draw.
    """
    found: dict[tuple[PatientId, NoteSays], list[OrderId]] = {}
    for order, draw_s in drawn:
        for says in NoteSays:
            if says in order.note_says and _contradicts(problem, order, says, draw_s):
                found.setdefault((order.patient_id, says), []).append(order.id)
    for (patient_id, says), ids in found.items():
        bed = problem.place_name(problem.patients[patient_id].bed)
        what = "order" if len(ids) == 1 else "orders"
        message = f"{what} {', '.join(ids)}, bed {bed}: by a note or an alert, {_WORDS[says]}"
        yield Finding(code=CODE, severity=Severity.WARNING, message=message, order_ids=tuple(ids))


def _contradicts(problem: Problem, order: Order, says: NoteSays, draw_s: int) -> bool:
    """Return whether the plan goes against what a text says: a stated time, or dose, settles what is tied to one."""
    if says is NoteSays.ANTIBIOTIC:
        return any(at_s < draw_s for at_s in order.antibiotic_s)
    if says is NoteSays.ELSEWHERE:
        return any(at_s <= draw_s for at_s in order.elsewhere_s)
    if says is NoteSays.NOT_BY_VEIN and NoteSays.OTHERS_DRAW in order.note_says:
        return False  # said already: from a line, not by vein
    if says in (NoteSays.FROM_SKIN, NoteSays.NOT_BY_VEIN):
        patient = problem.patient_of(order)
        return method_of(patient, problem.clock.day, problem.policy.blood) is not Method.CAPILLARY
    if says not in (NoteSays.TIED, NoteSays.COUNTED):
        return says in _WORDS  # what has no words here is asked on the card alone
    if says is NoteSays.COUNTED and NoteSays.TIED in order.note_says:
        return False
    rule = problem.test_of(order).dose_rule
    return not order.is_timed and (rule is None or dose_base_s(order, rule.kind) is None)
