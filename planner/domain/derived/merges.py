"""Orders that one draw serves because they ask for the same test of the same patient."""

from __future__ import annotations

from dataclasses import dataclass

from planner.domain.catalogue import TestCode
from planner.domain.draws import DrawId
from planner.domain.orders import OrderId, PatientId
from planner.domain.plan import Plan
from planner.domain.problem import Problem


@dataclass(frozen=True, slots=True, kw_only=True)
class Merge:
    """One draw of a test that serves several orders; their numbers ascend."""

    draw_id: DrawId
    patient_id: PatientId
    test: TestCode
    order_ids: tuple[OrderId, ...]


def merges_of(problem: Problem, plan: Plan) -> tuple[Merge, ...]:
    """Return every merge of the visits to come, by patient, test and draw.

    Sets of a culture are never merged: each order is a set of its own.
    """
    found = []
    for visit in (v for route in plan.routes for v in route.visits if v.outcome is None):
        ids_of: dict[TestCode, list[OrderId]] = {}
        for order_id in visit.order_ids:
            ids_of.setdefault(problem.order(order_id).test, []).append(order_id)
        found += [
            Merge(draw_id=visit.draw_id, patient_id=visit.patient_id, test=test, order_ids=tuple(sorted(ids)))
            for test, ids in ids_of.items()
            if len(ids) > 1 and not problem.catalogue.tests[test].is_culture
        ]
    return tuple(sorted(found, key=lambda m: (m.patient_id, m.test, m.draw_id)))
