"""How long a visit takes, and how much of it passes before the first tube."""

from __future__ import annotations

from planner.domain.draws import TubeSet
from planner.domain.orders import Patient
from planner.domain.patients.ages import is_child
from planner.domain.problem import Problem


def service_parts(problem: Problem, patient: Patient, tube_set: TubeSet) -> tuple[int, int]:
    """Return (lead, service) in seconds: from the start at the bed to the first tube, and to the departure."""
    policy = problem.policy.service
    lead_s, least_s = least_service(problem, patient)
    sites = len({tube.site for tube in tube_set.tubes})
    service_s = (
        least_s
        + policy.extra_tube_s * max(0, len(tube_set.tubes) - policy.tubes_included)
        + policy.extra_culture_site_s * max(0, sites - 1)
    )
    return lead_s, service_s


def least_service(problem: Problem, patient: Patient) -> tuple[int, int]:
    """Return (lead, service) in seconds of the patient's shortest visit, whatever tubes it takes."""
    policy = problem.policy.service
    gown_s = max((policy.gown_s.get(p, 0) for p in patient.precautions), default=0)
    lead_s = policy.identify_s + policy.prepare_s + gown_s // 2
    service_s = (
        policy.identify_s
        + policy.prepare_s
        + policy.draw_s
        + policy.label_s
        + policy.tidy_s
        + gown_s
        + (policy.child_extra_s if is_child(problem, patient) else 0)
        + (policy.difficult_veins_extra_s if patient.has_difficult_veins else 0)
    )
    return lead_s, service_s
