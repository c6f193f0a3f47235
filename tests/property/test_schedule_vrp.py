"""The planner against PyVRP, a vehicle-routing solver, on rounds stripped to what both can say.

What is compared: beds with hard windows, one or two alike collectors who begin at a fixed second at the base and end
at the courier's pickup. All specimens leave with one courier after everybody's shift, so that parts `delivery` and
`arrival` are the same for every plan. Finish and share are without a price, so that tier `effort` is part `time`
(walking, waiting, handing over), in hundredths of a second.
PyVRP minimises the duration of its routes plus a hand-over for each route that is used; less the time at the beds,
that is part `time`. Left out: skills, stabilities, tube stations, breaks, soft ends. PyVRP is a heuristic: its routes
show what is possible, so a bound above them would be wrong; where nothing is proven the planner may be a little worse.
"""

from __future__ import annotations

import random

import pytest
from pyvrp import Model
from pyvrp.stop import MaxIterations

from planner.domain.goals import EFFORT_PER_S
from planner.domain.plan import Goal
from planner.scheduling import schedule
from planner.solving.params import SolveParams
from tests.reference.tiny import BEGIN_S, TinyOrder, TinyOutlet, TinyPerson, TinyPrices, TinyRound, TinyVisit
from tests.reference.to_planner import to_planner

HANDOVER_S = 60


def stripped_round(seed: int) -> TinyRound:
    """Return 8 to 20 beds on a plane with windows put around a walk that somebody could make."""
    rng = random.Random(seed)
    num_visits, num_people = rng.randint(8, 20), rng.choice([1, 2])
    spot = {f"B{i}": (rng.randrange(60), rng.randrange(60)) for i in range(num_visits)}
    spot |= {"BASE": (0, 0), "OUT0": (30, 0)}
    walk_s = {
        (a, b): 2 * (abs(spot[a][0] - spot[b][0]) + abs(spot[a][1] - spot[b][1])) for a in spot for b in spot if a != b
    }
    visits: list[TinyVisit] = []
    clock_s, place = [BEGIN_S] * num_people, ["BASE"] * num_people
    for i in range(num_visits):
        who = i % num_people
        start_s = clock_s[who] + walk_s[place[who], f"B{i}"]
        service_s = rng.randrange(8, 16) * 30
        clock_s[who], place[who] = start_s + service_s, f"B{i}"
        span = (BEGIN_S, BEGIN_S + 6 * 3600)
        if rng.random() < 0.5:
            span = (max(BEGIN_S, start_s - rng.randrange(1200)), start_s + rng.randrange(1200))
        visits.append(
            TinyVisit(
                bed=f"B{i}", lead_s=135, service_s=service_s, starts=(span,), orders=(TinyOrder(priority="routine"),)
            )
        )
    until_s = max(clock_s) + 1800
    return TinyRound(
        walk_s=walk_s,
        visits=tuple(visits),
        outlets=(TinyOutlet(place="OUT0", kind="courier", departures_s=(until_s,), transit_s=600),),
        people=(TinyPerson(place="BASE", from_s=BEGIN_S, until_s=until_s),) * num_people,
        handover_s=HANDOVER_S,
        prices=TinyPrices(arrival_pct=0, finish_pct=0, share=0, last_minutes_pct=0),
    )


def by_pyvrp(tiny: TinyRound) -> int:
    """Return walking, waiting and handing over of the best routes that PyVRP finds in 2000 iterations."""
    until_s = tiny.people[0].until_s
    model = Model()
    place = {name: model.add_location(x=0, y=0, name=name) for name in tiny.places}
    begin, end = model.add_depot(place["BASE"]), model.add_depot(place["OUT0"])
    for visit in tiny.visits:
        ((first_s, last_s),) = visit.starts
        model.add_client(place[visit.bed], service_duration=visit.service_s, tw_early=first_s, tw_late=last_s)
    for (a, b), seconds in tiny.walk_s.items():
        model.add_edge(place[a], place[b], distance=0, duration=seconds)
    model.add_vehicle_type(
        num_available=len(tiny.people),
        start_depot=begin,
        end_depot=end,
        fixed_cost=tiny.handover_s,
        tw_early=BEGIN_S,
        start_late=BEGIN_S,
        tw_late=until_s - tiny.handover_s,
        unit_distance_cost=0,
        unit_duration_cost=1,
    )
    result = model.solve(MaxIterations(2000), seed=1, collect_stats=False, display=False)
    assert result.is_feasible()
    return int(result.cost()) - sum(v.service_s for v in tiny.visits)


@pytest.fixture(scope="module")
def compared() -> list[tuple[int, Goal, int]]:
    """(Seed, our tier `effort`, the same by PyVRP) of six rounds, none of which leaves a bed out."""
    found = []
    for seed in range(6):
        tiny = stripped_round(seed)
        goals = {g.name: g for g in schedule(*to_planner(tiny), SolveParams(effort="normal")).plan.goals}
        assert goals["left-out"].value == goals["service"].value == 0
        found.append((seed, goals["effort"], EFFORT_PER_S * by_pyvrp(tiny)))
    return found


def test_bound_is_never_above_what_a_routing_solver_finds(compared: list[tuple[int, Goal, int]]) -> None:
    assert [seed for seed, goal, theirs in compared if goal.bound > theirs] == []


def test_what_is_called_proven_is_no_worse_than_a_routing_solver_finds(compared: list[tuple[int, Goal, int]]) -> None:
    assert sum(goal.is_proven for _seed, goal, _theirs in compared) >= 3
    assert [seed for seed, goal, theirs in compared if goal.is_proven and goal.value > theirs] == []


def test_no_round_is_a_fifth_worse_than_a_routing_solver_finds(compared: list[tuple[int, Goal, int]]) -> None:
    assert [seed for seed, goal, theirs in compared if goal.value > 1.2 * theirs] == []
