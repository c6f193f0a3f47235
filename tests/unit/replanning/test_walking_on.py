"""When the stops of the last sheet would be made if everybody just walked on."""

from __future__ import annotations

from dataclasses import replace

from planner.domain.places import PlaceId
from planner.domain.plan import Visit
from planner.domain.revisions.replan import Past
from planner.replanning.past.walking_on import walking_on
from tests.builders import clock
from tests.unit.replanning.test_freeze import a_round

# The sheet has B1 at 05:10, B2 at 05:20, the shelf from 05:54, B3 at 06:10 and B4 at 06:30; beds are 10 s apart.


def drawn_at(free: str, *, gone: str = "") -> dict[str, int]:
    """Return when the beds to come are reached by AB, who is free at B2 (its visit is made) at a time."""
    problem, plan = a_round()
    made = tuple(stop for stop in plan.routes[0].stops if isinstance(stop, Visit))[:2]
    past = Past(phlebotomist=0, stops=made, place=PlaceId("B2"), free_s=clock(free))
    problem = replace(problem, orders=tuple(order for order in problem.orders if order.id != gone))
    found = walking_on(problem, plan, (past,))
    assert [p.position for p in found] == [0, 1]
    assert all(p.draw_s == v.draw_s for p, v in zip(found, plan.routes[0].visits[2:], strict=True))
    return {p.place: p.due_s for p in found}


def test_who_is_on_time_waits_as_planned() -> None:
    assert drawn_at("05:22:45") == {"B3": clock("06:10"), "B4": clock("06:30")}


def test_delay_is_carried_on_until_a_wait_swallows_it() -> None:
    problem, _plan = a_round()
    walk_s = problem.walking.between(PlaceId("B2"), PlaceId("PICKUP")) + problem.walking.between(
        PlaceId("PICKUP"), PlaceId("B3")
    )
    # Free at 06:24: a minute at the shelf, then B3, whose draw is 135 s after its begin; from its end, 165 s after the
    # draw, 10 s to B4, whose draw is again 135 s later: past 06:30 too.
    b3_s = clock("06:24") + 60 + walk_s + 135
    assert b3_s + 165 + 10 + 135 > clock("06:30")
    assert drawn_at("06:24") == {"B3": b3_s, "B4": b3_s + 165 + 10 + 135}
    # Four minutes sooner B3 is still late, and the wait before B4 is longer than what is left.
    b3_s -= 240
    assert b3_s > clock("06:10")
    assert drawn_at("06:20") == {"B3": b3_s, "B4": clock("06:30")}


def test_visit_that_nobody_wants_any_more_is_not_waited_for() -> None:
    late = drawn_at("06:24")
    assert drawn_at("06:24", gone="O3")["B4"] < late["B4"]
