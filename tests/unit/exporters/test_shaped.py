"""What shaped a route, line by line: each is a fact of the plan, and goes when its cause goes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from planner.domain.orders import OrderId, PatientId
from planner.domain.plan import Plan, Stop
from planner.domain.policy import Policy, RoundPolicy
from planner.domain.problem import Problem
from planner.domain.staff import Phlebotomist
from planner.exporters.view.build import build_view
from planner.exporters.view.context import ViewContext
from planner.exporters.view.people import route_words, shaped_words, share_words, shares_of
from planner.exporters.view.texts import TextCleaner
from planner.visits import order_windows
from tests.builders import clock, make_phlebotomist
from tests.replan_builders import five_wards, given_to_another, make_handover, make_plan, make_visit

BOTH = (make_phlebotomist("AB", name="Ann Bell"), make_phlebotomist("CD", name="Carl Dee-Dale"))
CHILD = frozenset({"child"})


def shaped(problem: Problem, plan: Plan, person: int) -> str:
    context = ViewContext(problem, plan, order_windows(problem)[0], TextCleaner())
    return shaped_words(context, shares_of(context), person)


def shared(problem: Problem, plan: Plan) -> list[str]:
    context = ViewContext(problem, plan, order_windows(problem)[0], TextCleaner())
    return [share_words(share) for share in shares_of(context)]


def split(problem: Problem, *, first: int = 3) -> Plan:
    """Return AB with the first so many of the five visits and CD with the others, 20 minutes apart."""
    visits = [make_visit(problem, [f"O{n}"], f"05:{9 + n}") for n in range(1, 6)]
    return make_plan(visits[:first], visits[first:])


def two(*staff: Phlebotomist) -> Problem:
    return five_wards(staff=staff or BOTH)[0]


def needing(problem: Problem, *numbers: str) -> Problem:
    """Return the round in which these patients need somebody trained for children."""
    patients = {n: replace(p, needs=CHILD) if n in numbers else p for n, p in problem.patients.items()}
    return replace(problem, patients=patients)


def test_fair_share_goes_by_the_hours_there() -> None:
    problem = two()
    hours = problem.staff[0].until_s - problem.staff[0].from_s
    assert shared(problem, split(problem)) == ["3 visits (fair share 2.5)", "2 visits (fair share 2.5)"]
    short = two(BOTH[0], replace(BOTH[1], from_s=BOTH[1].until_s - hours // 4))
    assert shared(short, split(short)) == ["3 visits (fair share 4)", "2 visits (fair share 1)"]


def test_past_visits_are_no_part_of_a_share() -> None:
    told, plan = given_to_another()
    # Of the five visits P1's is past.
    assert [words.split(" (")[0] for words in shared(told, plan)] == ["1 visit", "3 visits"]


def test_own_wards_and_skills_are_said_while_they_bind() -> None:
    problem = needing(two(replace(BOTH[0], skills=CHILD), replace(BOTH[1], wards=frozenset({"Larch (north)"}))), "P1")
    plan = split(problem, first=4)
    assert shaped(problem, plan, 0) == "3 of them nobody else may make"  # P3 lies in Larch
    assert shaped(problem, plan, 1).startswith("goes to Larch (north) only; may make 1 of the 5 visits")
    free = two()
    assert shaped(free, split(free), 0) == shaped(free, split(free), 1) == ""


def test_shift_is_said_while_visits_do_not_fit_it() -> None:
    late = two(BOTH[0], replace(BOTH[1], from_s=clock("06:30")))
    order = replace(late.order(OrderId("O2")), collect_from_s=clock("05:00"), collect_to_s=clock("05:10"))
    late = replace(late, orders=tuple(order if o.id == "O2" else o for o in late.orders))
    # O2 may be drawn until 05:10 and an hour past it, and is given up before CD begins.
    assert "the shift (06:30 to 09:00) leaves time for 4 of the 5" in shaped(late, split(late), 1)
    early = replace(late, staff=BOTH)
    assert "the shift" not in shaped(early, split(early), 1)


def waiting(problem: Problem) -> Plan:
    begin_s = clock("06:20") - 135
    stop = make_visit(problem, ["O4"], "06:20", arrive_s=begin_s - 9 * 60 - 1, start_s=begin_s)
    visits: list[Stop] = [make_visit(problem, [f"O{n}"], f"05:{9 + n}") for n in (1, 2, 3)]
    return make_plan(visits, [stop, make_visit(problem, ["O5"], "06:40")])


def test_wait_names_the_bed_and_the_rule_that_sets_its_time() -> None:
    problem = two()
    order = replace(problem.order(OrderId("O4")), collect_from_s=clock("06:20"))
    timed = replace(problem, orders=tuple(order if o.id == "O4" else o for o in problem.orders))
    said = "waits 10 min, at bed St. Anne, 2nd floor 1A"
    assert shaped(timed, waiting(timed), 1) == f"{said}, not before 06:20 (timed)"
    assert shaped(problem, waiting(problem), 1) == said  # nothing sets that time: no reason is made up
    assert "waits" not in shaped(timed, waiting(timed), 0)


def test_couriers_are_those_of_the_hand_overs() -> None:
    problem = two()
    plan = split(problem)
    first = replace(plan.routes[0], stops=(*plan.routes[0].stops, make_handover("SHELF")))
    with_courier = replace(plan, routes=(first, plan.routes[1]))
    assert shaped(problem, with_courier, 0) == "couriers 06:00"
    assert shaped(problem, with_courier, 1) == ""


def far_words(problem: Problem, first: int) -> Sequence[str]:
    plan = split(problem, first=first)
    return [shaped(problem, plan, person) for person in (0, 1)]


FREE = "no skill, ward or shift asks for this share: walking, windows and prices do"


def test_share_far_from_the_fair_one_is_explained() -> None:
    assert far_words(two(), 3) == ["", ""]  # 3 and 2 of 2.5 each: less than a visit off
    assert far_words(two(), 4) == [FREE, FREE]
    bound = needing(two(replace(BOTH[0], skills=CHILD), BOTH[1]), "P1", "P2", "P3", "P4")
    assert far_words(bound, 4) == ["4 of them nobody else may make", "may make 1 of the 5 visits"]


def test_more_than_a_fair_share_is_explained_by_what_others_may_not() -> None:
    bound = needing(two(replace(BOTH[0], skills=CHILD), BOTH[1]), "P5")
    plan = split(bound, first=4)
    swapped = make_plan(*(route.stops for route in reversed(plan.routes)))
    # AB has P5 alone, whom nobody else may draw; CD has four whom AB may draw as well.
    assert shaped(bound, swapped, 1) == f"may make 4 of the 5 visits; {FREE}"
    assert shaped(bound, swapped, 0) == "1 of them nobody else may make"


def test_few_but_long_visits_are_a_fair_share_of_the_work() -> None:
    problem = two()
    visits = [make_visit(problem, [f"O{n}"], f"05:{9 + n}") for n in range(1, 6)]
    long = replace(visits[4], depart_s=visits[4].start_s + 20 * 60)
    assert shaped(problem, make_plan(visits[:4], [long]), 1) == (
        "these visits take 20.0 min each, longer than the others"
    )


def test_sheets_say_it_of_each_person() -> None:
    problem = two()
    plan = split(problem)
    context = ViewContext(problem, plan, order_windows(problem)[0], TextCleaner())
    view = build_view(problem, plan, order_windows(problem)[0], revision=1)
    assert [route.shaped for route in view.routes] == list(route_words(context).values())
    assert view.packets[1].routes[0].shaped == "2 visits (fair share 2.5)"


def test_one_person_alone_has_no_share() -> None:
    problem, plan = five_wards(policy=Policy(round=RoundPolicy()))
    assert build_view(problem, plan, order_windows(problem)[0], revision=1).routes[0].shaped == ""
    assert PatientId("P1") in problem.patients
