"""How far a stop may slip, against the checker's clock: by so much nothing is lost, by a minute more something is."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

import planner
from planner.checker import check_plan
from planner.domain.places import Pickup, PickupKind
from planner.domain.plan import Handover, Plan, PlannedTube, Route, Stop, Visit
from planner.domain.problem import Problem
from planner.domain.revisions.changes import Lost
from planner.domain.staff import Phlebotomist
from planner.exporters.view.context import ViewContext
from planner.exporters.view.slack import Loss, RouteSlack
from planner.exporters.view.texts import TextCleaner
from planner.replanning.next_problem import next_problem
from planner.units import minutes_to_s
from planner.visits import order_windows
from planner.visits.linked import plan_gaps
from planner.visits.to_laboratory import plan_dues_s
from tests.builders import clock
from tests.three_wards import Tables, five_ward_tables, load_tables, plan_quickly, three_ward_tables
from tests.unit.exporters.rounds import TYPICAL, make_round

pytestmark = pytest.mark.slow

ALDER = Path(__file__).parents[3] / "outputs" / "alder-ward"

NOT_LOST = ("goal effort", "goal service:", "goal service, changes")
"""What any slip changes and nobody feels at the bed; a total whose parts are named. Bounds, wishes are dropped too."""


def slipped(problem: Problem, route: Route, index: int, slip_s: int) -> Route:
    """Return the route with one stop begun later, and those behind it as late as that makes them."""
    first = route.stops[index]
    return pushed(problem, route, index, first.arrive_s, first.start_s + slip_s)


def set_out_late(problem: Problem, route: Route, first: int, late_s: int) -> Route:
    """Return the route with its first stop to come reached later; what is waited there makes up for it.

    Its arrival stays as it is: the checker counts every walk from the start of the shift.
    """
    stop = route.stops[first]
    return pushed(problem, route, first, stop.arrive_s, max(stop.start_s, stop.arrive_s + late_s))


def pushed(problem: Problem, route: Route, index: int, arrive_s: int, start_s: int) -> Route:
    stops: list[Stop] = [*route.stops[:index], later(problem, route.stops[index], arrive_s, start_s)]
    for number, stop in enumerate(route.stops[index + 1 :], start=index + 1):
        arrive_s = stops[-1].depart_s + stop.arrive_s - route.stops[number - 1].depart_s
        stops.append(later(problem, stop, arrive_s, max(stop.start_s, arrive_s)))
    return replace(route, stops=tuple(stops))


def later(problem: Problem, stop: Stop, arrive_s: int, start_s: int) -> Stop:
    by_s = start_s - stop.start_s
    moved = replace(stop, arrive_s=arrive_s, start_s=start_s, depart_s=stop.depart_s + by_s)
    if isinstance(moved, Visit):
        return replace(moved, draw_s=moved.draw_s + by_s)
    if isinstance(moved, Handover) and moved.departs_s is None:
        return replace(moved, lab_arrival_s=moved.lab_arrival_s + by_s)
    if isinstance(moved, Handover) and moved.departs_s < moved.depart_s:
        return by_next_courier(problem, moved)
    return moved


def by_next_courier(problem: Problem, stop: Handover) -> Handover:
    """Return a hand-over that has missed its courier with the next one from there; unchanged when none comes."""
    coming = [
        (at_s, at_s + pickup.transit_s)
        for pickup in problem.pickups
        if pickup.place == stop.place
        for at_s in pickup.departures_s
        if at_s >= stop.depart_s
    ]
    departs_s, in_lab_s = min(coming, default=(stop.departs_s, stop.lab_arrival_s))
    return replace(stop, departs_s=departs_s, lab_arrival_s=in_lab_s)


def losses(problem: Problem, plan: Plan) -> Counter[tuple[str, str]]:
    """Return what the checker finds that a patient, a laboratory or a shift would feel."""
    found: Counter[tuple[str, str]] = Counter()
    for finding in check_plan(problem, plan):
        if finding.code in ("goal-bound", "preferences-listed"):
            continue
        if not finding.message.startswith(NOT_LOST):
            found[finding.code, "" if finding.code != "goal-value" else finding.message.split(":")[0]] += 1
    return found


def alder() -> tuple[Problem, Plan]:
    written = planner.read(ALDER)
    return written.problem, written.plan


def tables_of_two_draws(tables: Tables) -> Tables:
    """Give a patient two draws of one series, an hour apart, and others a courier and a need-by time."""
    first = next(order for order in tables["orders"] if order["test"] == "TNT")
    first |= {"series": "S1", "priority": "routine", "collect_at": "2026-03-10 06:00"}
    tables["orders"].append({**first, "order_number": "K0203-9", "collect_at": "2026-03-10 07:00"})
    return tables


@pytest.fixture(
    scope="module", params=["one ward", "three wards", "five wards", "two draws", "replanned", "first waits"]
)
def planned(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> tuple[Problem, Plan]:
    if request.param == "one ward":
        return alder()
    if request.param in ("replanned", "first waits"):
        return {"replanned": replanned, "first waits": first_waits}[request.param](tmp_path_factory.mktemp("slack"))
    tables = {
        "three wards": three_ward_tables,
        "five wards": five_ward_tables,
        "two draws": lambda: tables_of_two_draws(three_ward_tables()),
    }[request.param]()
    problem = load_tables(tables, tmp_path_factory.mktemp("slack") / "round")
    return problem, plan_quickly(problem).plan


def replanned(folder: Path) -> tuple[Problem, Plan]:
    """Return five wards half an hour after the start, when one of three people collects no more."""
    problem = load_tables(five_ward_tables(), folder / "round")
    lost = Lost(name=problem.staff[0].initials)
    following = next_problem(problem, plan_quickly(problem).plan, parent=1, now_s=clock("05:30"), changes=[lost])
    assert not following.refused
    made = plan_quickly(following.problem).plan
    assert any(stop.start_s < clock("05:30") for route in made.routes for stop in route.stops), "somebody has begun"
    return following.problem, made


def first_waits(folder: Path) -> tuple[Problem, Plan]:
    """Return one person whose first bed, of a draw at 05:30, is reached 20 minutes before."""
    tables = three_ward_tables()
    tables["staff"] = tables["staff"][:1]
    timed = next(order for order in tables["orders"] if order["test"] == "TNT")
    tables["orders"] = [timed | {"priority": "routine", "collect_from": "05:30", "collect_to": "05:40"}]
    tables["patients"] = [p for p in tables["patients"] if p["patient_number"] == timed["patient_number"]]
    problem = load_tables(tables, folder / "round")
    made = plan_quickly(problem).plan
    [route] = made.routes
    assert route.stops[0].start_s - route.stops[0].arrive_s > minutes_to_s(15), "it waits at its first bed"
    return problem, made


def contexts(problem: Problem, plan: Plan) -> ViewContext:
    windows, _ = order_windows(problem)
    dues_s = plan_dues_s(problem, plan, windows)
    return ViewContext(problem, plan, windows, TextCleaner(), gaps=plan_gaps(problem, plan), dues_s=dues_s)


def every_stop(problem: Problem, plan: Plan) -> Iterator[tuple[Route, int, RouteSlack]]:
    context = contexts(problem, plan)
    for route in plan.routes:
        slack = RouteSlack(context, route)
        yield from ((route, index, slack) for index in range(context.num_past(route), len(route.stops)))


def with_route(plan: Plan, route: Route) -> Plan:
    return replace(plan, routes=tuple(route if r.phlebotomist == route.phlebotomist else r for r in plan.routes))


def test_slack_is_what_the_checker_allows(planned: tuple[Problem, Plan]) -> None:
    problem, plan = planned
    before = losses(problem, plan)
    seen = 0
    for route, index, slacks in every_stop(problem, plan):
        slack = slacks.of(index)
        assert slack is not None, "every shift ends"
        allowed = with_route(plan, slipped(problem, route, index, slack.seconds))
        assert losses(problem, allowed) == before, (route.phlebotomist, index, slack)
        too_late = with_route(plan, slipped(problem, route, index, slack.seconds + 60))
        assert losses(problem, too_late) != before, (route.phlebotomist, index, slack)
        seen += 1
    assert seen


def test_some_stops_have_little_slack_and_some_much() -> None:
    """Else the test above would hold for a constant."""
    problem, plan = alder()
    found = [s.seconds for _, index, slacks in every_stop(problem, plan) if (s := slacks.of(index))]
    assert min(found) < minutes_to_s(5)
    assert max(found) > minutes_to_s(20)


def test_what_a_late_start_loses_is_what_the_checker_finds(planned: tuple[Problem, Plan]) -> None:
    """A quarter of an hour late from the first walk on: lost is what is named, and nothing else."""
    problem, plan = planned
    context = contexts(problem, plan)
    for route in plan.routes:
        if not context.coming(route):
            continue
        lost = RouteSlack(context, route).lost(minutes_to_s(15))
        late = with_route(plan, set_out_late(problem, route, context.num_past(route), minutes_to_s(15)))
        assert bool(lost) == (losses(problem, late) != losses(problem, plan)), (route.phlebotomist, lost)
        assert [limit.at for limit in lost] == sorted({limit.at for limit in lost})
        where = {f"stop {limit.at + 1}" for limit in lost}
        said = [f.message for f in check_plan(problem, late) if f.code in NAMES_ITS_STOP]
        assert {re.findall(r"stop \d+", message)[0] for message in said} <= where


def test_a_tube_that_comes_before_the_last_of_its_order_may_slip_as_far_as_that() -> None:
    """An order is late by its last specimen (rule `delivery`): it is the ward's need that counts, not each tube's."""
    problem, plan, windows = make_round(10, 1, TYPICAL)
    [route] = plan.routes
    at = [index for index, stop in enumerate(route.stops) if isinstance(stop, Handover)]
    stops: list[Stop] = list(route.stops)
    first, last = (replace(stops[index], kind=PickupKind.TUBE, departs_s=None) for index in at)
    visit = next(v for v in route.visits if len(v.tubes) > 1)
    order = visit.tubes[0].tube.order_ids[0]
    tubes = tuple(
        PlannedTube(tube=replace(p.tube, order_ids=(order,), stability_s=None), handover=at[n])
        for n, p in enumerate(visit.tubes[:2])
    )
    stops[at[0]], stops[at[1]] = first, last
    stops[route.stops.index(visit)] = replace(visit, tubes=tubes)
    route = replace(route, stops=tuple(stops))
    needed_s = first.lab_arrival_s + 60  # the last comes later than that, whatever the first does
    assert needed_s < last.lab_arrival_s
    policy = replace(problem.policy, round=replace(problem.policy.round, needed_by_s={"*": needed_s}))
    context = ViewContext(replace(problem, policy=policy), replace(plan, routes=(route,)), windows, TextCleaner())
    needed = [limit for limit in RouteSlack(context, route).limits if limit.loss is Loss.NEEDED]
    of_order = {limit.room_s for limit in needed if limit.at == at[0]}
    assert last.lab_arrival_s - first.lab_arrival_s in of_order
    assert [limit.room_s for limit in needed if limit.at == at[1]].count(needed_s - last.lab_arrival_s) >= 1


NAMES_ITS_STOP = {"window-requested", "window-clock", "window-fasting", "window-dose", "courier", "absence", "breaks"}
"""Rules whose finding names the stop that is lost."""


def test_a_specimen_drawn_before_the_slip_may_grow_too_old() -> None:
    """The slack behind a draw ends with the tube that is in the tray; before the draw it does not."""
    problem, plan = alder()
    kinds = {s.limit.loss for _, index, slacks in every_stop(problem, plan) if (s := slacks.of(index))}
    assert {Loss.COURIER, Loss.TOO_OLD} <= kinds


@pytest.mark.parametrize(("needed", "loss"), [(None, Loss.SHIFT), ("08:00", Loss.COURIER)])
def test_a_courier_counts_only_if_the_next_is_too_late_for_something(needed: str | None, loss: Loss) -> None:
    """A card on which every stop 'cannot slip', for a courier who is followed by another in time, is not believed."""
    problem, plan, windows = make_round(10, 1, TYPICAL)
    [route] = plan.routes
    index = max(index for index, stop in enumerate(route.stops) if isinstance(stop, Handover))
    stop = route.stops[index]
    assert isinstance(stop, Handover)
    place = Pickup(place=stop.place, kind=PickupKind.COURIER, departures_s=(stop.depart_s, clock("08:15")))
    courier = replace(stop, kind=PickupKind.COURIER, departs_s=stop.depart_s, lab_arrival_s=stop.depart_s)
    stops = [without_limits(other) for other in route.stops]
    stops[index] = courier
    policy = problem.policy
    if needed:
        policy = replace(policy, round=replace(policy.round, needed_by_s={"*": clock(needed)}))
    problem = replace(problem, pickups=(place,), policy=policy, staff=tuple(until(p, "08:10") for p in problem.staff))
    context = ViewContext(problem, replace(plan, routes=(replace(route, stops=tuple(stops)),)), windows, TextCleaner())
    slack = RouteSlack(context, context.plan.routes[0]).of(index)
    assert slack is not None
    assert slack.limit.loss is loss
    assert (slack.seconds == 0) == (loss is Loss.COURIER)


def without_limits(stop: Stop) -> Stop:
    if not isinstance(stop, Visit):
        return stop
    tubes = (replace(p, tube=replace(p.tube, stability_s=None)) for p in stop.tubes)
    return replace(stop, tubes=tuple(tubes))


def until(person: Phlebotomist, text: str) -> Phlebotomist:
    return replace(person, until_s=clock(text), break_window=None, break_s=0)
