"""The plan of the walk that a generated round is made around: a witness that somebody could make the round.

Whose visits they are and their order are the walk's. The planner adds hand-overs and breaks, puts a visit elsewhere for
which that leaves no place, and times all. Whether that breaks a rule is for the checker to say, which shares no
arithmetic with it.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace

from planner.domain.draws import Draw
from planner.domain.goals import Tier
from planner.domain.orders import OrderId, PatientId
from planner.domain.plan import Plan
from planner.domain.problem import Problem
from planner.prepared import prepare_round
from planner.scheduling.compact.compact_start import round_of_walks
from planner.scheduling.rounds.assemble import assemble
from planner.scheduling.rounds.numbers import build_instance
from planner.scheduling.rounds.unplanned import unplanned_orders
from planner.scheduling.scheduler import goals_of
from planner.scheduling.search.estimates import Estimator
from planner.scheduling.search.handovers import tidy_handovers, without_empty
from planner.scheduling.timing.solution import Evaluator
from planner.solving.params import SolveParams
from tests.benchmark.rounds import Walked, round_and_walk


def feasible_round(seed: int, num_visits: int, num_people: int, *, every_rule: bool = True) -> tuple[Problem, Plan]:
    """Return a round and a plan of it that leaves out nothing: the orders that the walk cannot hold are not given."""
    walked = round_and_walk(seed, num_visits, num_people, every_rule=every_rule)
    while True:
        plan = walked_plan(walked)
        left_out = {entry.order_id for entry in plan.unplanned}
        if not left_out:
            return walked.problem, plan
        walked = replace(walked, problem=_without(walked.problem, left_out))


def _without(problem: Problem, order_ids: Collection[OrderId]) -> Problem:
    orders = tuple(order for order in problem.orders if order.id not in order_ids)
    having = {order.patient_id for order in orders} | {draw.patient_id for draw in problem.earlier_draws}
    patients = {patient.id: patient for patient in problem.patients.values() if patient.id in having}
    return replace(problem, orders=orders, patients=patients)


def walked_plan(walked: Walked) -> Plan:
    """Return the plan of the walk; a visit that it has no room for is left out."""
    problem = walked.problem
    prepared = prepare_round(problem, SolveParams())
    instance = build_instance(problem, prepared.draws)
    evaluator = Evaluator(instance)
    estimator = Estimator(evaluator)
    places = _places(walked, prepared.draws)
    walks = [[visit for person, _at_s, visit in places if person == k] for k in range(len(problem.staff))]
    solution = round_of_walks(estimator, walks)
    solution = tidy_handovers(evaluator, solution, range(len(walks)), estimator)
    cleared = without_empty(evaluator, solution)
    assert cleared is not None
    return assemble(
        problem,
        instance,
        prepared.draws,
        (),
        cleared,
        goals_of(evaluator, cleared, [0] * len(Tier)),
        [*problem.set_aside, *prepared.unplanned, *unplanned_orders(problem, instance, prepared.draws, cleared)],
    )


def _places(walked: Walked, draws: tuple[Draw, ...]) -> list[tuple[int, int, int]]:
    """Return (person, second, index) of each draw, in the order of the walks; a patient's second draw comes again."""
    of_patient: dict[PatientId, list[int]] = {}
    for index, draw in enumerate(draws):
        of_patient.setdefault(draw.request.patient_id, []).append(index)
    places = []
    for patient_id, own in of_patient.items():
        step = walked.walk[patient_id]
        for number, index in enumerate(sorted(own, key=lambda i: draws[i].start_windows[0].earliest_s)):
            at_s = step.at_s if number == 0 or step.again_s is None else step.again_s
            places.append((step.person, at_s, index))
    return sorted(places)
