"""One tube kind for all draws of a test in a series (rule ``series-kind``), chosen for a patient's visits together.

Serum and heparin plasma of one patient differ by more than a fifth in 2 to 11 % of troponins (Clin Chem 2000;46:1338),
so that a change of tube looks like a change of the heart. The draws of a patient and test count as a series whether or
not their orders name one.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import product

from planner.domain.catalogue import LabTest, TubeCode
from planner.domain.draws import VisitRequest
from planner.domain.orders import PatientId
from planner.domain.problem import Problem
from planner.tubes.choice import limited_to
from planner.tubes.demands import Demand
from planner.tubes.in_time import InTime

Kinds = frozenset[TubeCode]
"""The kinds of one alternative: of a test that shares always a single one."""


def in_one_kind(
    problem: Problem, requests: Sequence[VisitRequest], visits: Sequence[Sequence[Demand]]
) -> Iterator[list[list[Demand]]]:
    """Yield a patient's demands, visit by visit, in every way in which each such test has one kind.

    The kind of the last draw made is the only one, where the patient may have it; else a kind in which some draw could
    not arrive in time is left out, where that leaves any.
    """
    tests = {d.test.code: d.test for demands in visits for d in demands if d.test.one_kind_in_series}
    choices = {code: _choices(problem, requests, visits, tests[code]) for code in sorted(tests)}
    for chosen in product(*choices.values()):
        kind_of = dict(zip(choices, chosen, strict=True))
        yield [
            [limited_to(d, kind_of[d.test.code]) if d.test.code in kind_of else d for d in demands]
            for demands in visits
        ]


def kinds_that_differ(
    problem: Problem, patient_id: PatientId, demands: Sequence[Demand]
) -> Iterator[tuple[Demand, TubeCode]]:
    """Yield what is to be drawn into another kind than the last draw of its test, with that kind."""
    for demand in demands:
        made = last_kind(problem, patient_id, demand.test) if demand.test.one_kind_in_series else None
        if made is not None and frozenset({made}) not in _kinds(demand):
            yield demand, made


def _choices(
    problem: Problem, requests: Sequence[VisitRequest], visits: Sequence[Sequence[Demand]], test: LabTest
) -> list[Kinds]:
    """Return the kinds that serve the test in every visit, in preference order."""
    with_test = [
        (request, demand)
        for request, demands in zip(requests, visits, strict=True)
        for demand in demands
        if demand.test.code == test.code
    ]
    possible = [_kinds(demand) for _, demand in with_test]
    common = [kinds for kinds in possible[0] if all(kinds in others for others in possible)]
    made = last_kind(problem, requests[0].patient_id, test)
    if made is not None and frozenset({made}) in common:
        return [frozenset({made})]
    in_time = [
        kinds
        for kinds in common
        if all(InTime(problem, request).allows(test, kind) for request, _ in with_test for kind in kinds)
    ]
    return in_time or common or [frozenset().union(*possible[0])]


def _kinds(demand: Demand) -> list[Kinds]:
    if demand.kinds:
        return [frozenset({code}) for code, _ in demand.kinds]
    return [frozenset(c.kind for c in option.containers) for option in demand.options]


def last_kind(problem: Problem, patient_id: PatientId, test: LabTest) -> TubeCode | None:
    """Return the tube kind into which a patient's last draw of a test was made; None when none is known."""
    made = [
        (draw.draw_s, draw.tube)
        for draw in problem.earlier_draws
        if draw.patient_id == patient_id and draw.test == test.code and draw.tube is not None
    ]
    replan = problem.replan
    for visit in replan.visits if replan else ():
        if visit.patient_id == patient_id:
            brought = set(visit.order_ids)
            made += [
                (visit.draw_s, p.tube.tube)
                for p in visit.tubes
                if test.code in p.tube.tests and brought & set(p.tube.order_ids)
            ]
    for addon in replan.addons if replan else ():
        if addon.patient_id == patient_id and addon.test == test.code:
            made.append((addon.drawn_s, addon.tube))
    return max(made, default=(0, None), key=lambda draw: draw[0])[1]
