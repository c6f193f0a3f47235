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
from planner.domain.places import PickupKind
from planner.domain.plan import Handover, Plan, Route, Stop, Visit
from planner.domain.problem import Problem
from planner.exporters.view.context import ViewContext
from planner.exporters.view.slack import Loss, RouteSlack
from planner.exporters.view.texts import TextCleaner
from planner.units import minutes_to_s
from planner.visits import order_windows
from planner.visits.linked import plan_gaps
from tests.three_wards import Tables, five_ward_tables, load_tables, plan_quickly, three_ward_tables

pytestmark = pytest.mark.slow

ALDER = Path(__file__).parents[3] / "outputs" / "alder-ward"

NOT_LOST = ("goal changes", "goal arrival", "goal time", "goal finish", "goal precautions")
"""Goals that any slip changes and that nobody feels at the bed; bounds and wishes are dropped as well."""


def slipped(problem: Problem, route: Route, index: int, slip_s: int) -> Route:
    """Return the route with one stop begun later, and those behind it as late as that makes them."""
    stops: list[Stop] = list(route.stops[:index])
    for number, stop in enumerate(route.stops[index:], start=index):
        walk_s = stop.arrive_s - route.stops[number - 1].depart_s if number else 0
        arrive_s = stops[-1].depart_s + walk_s if number > index else stop.arrive_s
        start_s = stop.start_s + slip_s if number == index else max(stop.start_s, arrive_s)
        stops.append(later(problem, stop, arrive_s, start_s))
    return replace(route, stops=tuple(stops))


def later(problem: Problem, stop: Stop, arrive_s: int, start_s: int) -> Stop:
    by_s = start_s - stop.start_s
    moved = replace(stop, arrive_s=arrive_s, start_s=start_s, depart_s=stop.depart_s + by_s)
    if isinstance(moved, Visit):
        return replace(moved, draw_s=moved.draw_s + by_s)
    if isinstance(moved, Handover) and moved.kind is not PickupKind.COURIER:
        return replace(moved, lab_arrival_s=moved.lab_arrival_s + by_s)
    return moved


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


@pytest.fixture(scope="module", params=["one ward", "three wards", "five wards", "two draws"])
def planned(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> tuple[Problem, Plan]:
    if request.param == "one ward":
        return alder()
    tables = {
        "three wards": three_ward_tables,
        "five wards": five_ward_tables,
        "two draws": lambda: tables_of_two_draws(three_ward_tables()),
    }[request.param]()
    problem = load_tables(tables, tmp_path_factory.mktemp("slack") / "round")
    return problem, plan_quickly(problem).plan


def contexts(problem: Problem, plan: Plan) -> ViewContext:
    windows, _ = order_windows(problem)
    return ViewContext(problem, plan, windows, TextCleaner(), gaps=plan_gaps(problem, plan))


def every_stop(problem: Problem, plan: Plan) -> Iterator[tuple[Route, int, RouteSlack]]:
    context = contexts(problem, plan)
    for route in plan.routes:
        slack = RouteSlack(context, route)
        yield from ((route, index, slack) for index in range(len(route.stops)))


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
    assert seen >= 12


def test_some_stops_have_little_slack_and_some_much() -> None:
    """Else the test above would hold for a constant."""
    problem, plan = alder()
    found = [s.seconds for _, index, slacks in every_stop(problem, plan) if (s := slacks.of(index))]
    assert min(found) < minutes_to_s(5)
    assert max(found) > minutes_to_s(20)


def test_what_a_late_start_loses_is_what_the_checker_finds(planned: tuple[Problem, Plan]) -> None:
    """A quarter of an hour late from the first stop on: lost is what is named, and nothing else."""
    problem, plan = planned
    context = contexts(problem, plan)
    for route in plan.routes:
        if not route.stops:
            continue
        lost = RouteSlack(context, route).lost(minutes_to_s(15))
        late = with_route(plan, slipped(problem, route, 0, minutes_to_s(15)))
        assert bool(lost) == (losses(problem, late) != losses(problem, plan)), (route.phlebotomist, lost)
        assert [limit.at for limit in lost] == sorted({limit.at for limit in lost})
        where = {f"stop {limit.at + 1}" for limit in lost}
        said = [f.message for f in check_plan(problem, late) if f.code in NAMES_ITS_STOP]
        assert {re.findall(r"stop \d+", message)[0] for message in said} <= where


NAMES_ITS_STOP = {"window-requested", "window-clock", "window-fasting", "window-dose", "courier", "absence", "breaks"}
"""Rules whose finding names the stop that is lost."""


def test_a_specimen_drawn_before_the_slip_may_grow_too_old() -> None:
    """The slack behind a draw ends with the tube that is in the tray; before the draw it does not."""
    problem, plan = alder()
    kinds = {s.limit.loss for _, index, slacks in every_stop(problem, plan) if (s := slacks.of(index))}
    assert {Loss.COURIER, Loss.TOO_OLD} <= kinds
