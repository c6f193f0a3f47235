"""Who is where when somebody drew a visit that another had: reported by itself, on a list, or for who never came."""

from __future__ import annotations

from dataclasses import replace

from planner.domain.plan import Outcome
from planner.domain.revisions.replan import Past
from planner.domain.revisions.reported import Reported
from planner.replanning.next_problem import next_problem
from planner.replanning.past.freeze import freeze
from tests.builders import clock, make_phlebotomist, make_problem
from tests.replan_builders import make_plan
from tests.unit.replanning.frozen_rounds import beds, by_itself, times, told, visit


def taken_over(option: Reported, now: str = "05:40") -> tuple[Past, ...]:
    """AB has B1 at 05:10, B2 at 05:20 and B3 at 05:50; CD has B4 at 06:10, which a report says that AB drew."""
    problem = make_problem(staff=[make_phlebotomist("AB"), make_phlebotomist("CD")])
    mine = [visit(problem, n, at) for n, at in ((1, "05:10"), (2, "05:20"), (3, "05:50"))]
    plan = make_plan(mine, [visit(problem, 4, "06:10")])
    return freeze(problem, plan, [replace(option, drawn_by=0)], clock(now))


def test_visit_made_for_another_leaves_the_stops_before_it_where_they_were() -> None:
    """B4 drawn at 05:36 says nothing of B1 and B2: pushed behind it, B2 would be drawn by CD a second time."""
    ab, cd = taken_over(by_itself(4, Outcome.COLLECTED, "05:36"))
    assert (beds(ab), beds(cd)) == (["B1", "B2", "B4"], [])
    assert ab.assumed == {0, 1}
    assert times(ab)[:2] == [(clock("05:07:45"), clock("05:12:45")), (clock("05:17:45"), clock("05:22:45"))]
    assert (ab.place, ab.free_s) == ("B3", clock("05:40"))  # B4 is over at 05:38:45, B3 is 10 s on and not due


def test_stop_after_a_visit_made_for_another_is_begun_when_that_is_over() -> None:
    # B4 drawn at 05:19 lasts from 05:16:45 to 05:21:45; B2, 20 s on, was due from 05:17:45.
    ab, _cd = taken_over(by_itself(4, Outcome.COLLECTED, "05:19"), now="05:25")
    assert beds(ab) == ["B1", "B4", "B2"]
    assert times(ab)[2][0] == clock("05:22:05")
    # B4 drawn at 05:14 is over at 05:16:45, before B2 is due.
    ab, _cd = taken_over(by_itself(4, Outcome.COLLECTED, "05:14"), now="05:45")
    assert beds(ab) == ["B1", "B4", "B2"]


def test_list_that_names_a_visit_made_for_another_says_that_those_before_it_are_to_come() -> None:
    ab, _cd = taken_over(told(4, at="05:36"))
    assert "B2" not in beds(ab)


def test_visit_of_somebody_who_never_came_that_another_made_stands_in_one_past() -> None:
    problem = make_problem(staff=[make_phlebotomist("AB"), make_phlebotomist("CD")])
    plan = make_plan([visit(problem, 1, "05:10"), visit(problem, 2, "05:20")], [visit(problem, 3, "05:30")])
    first = next_problem(problem, plan, parent=1, now_s=clock("05:30"), reports=[told(1), told(2)]).problem
    assert first.replan is not None
    later = make_plan(*(past.stops for past in first.replan.past))
    reports = [replace(told(1), drawn_by=1), replace(told(3, at="05:05"), drawn_by=0)]
    ab, cd = freeze(first, later, reports, clock("05:40"), never_came={0})
    assert (beds(ab), beds(cd)) == (["B3", "B2"], ["B1"])
    assert times(ab) == sorted(times(ab))
