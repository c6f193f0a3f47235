"""Builds a round that has begun: the past of `rounds.make_round` up to an instant, and what was changed since.

At 05:35 on the built round (walked in bed order from 05:00): bed 108 gets a stat visit, by the first phlebotomist; so
bed 107A is drawn 15 minutes later; bed 107B is cancelled; bed 114 goes from the second to the first phlebotomist; bed
115 gets a test more; bed 101 has an add-on. Beds 106 and 113 are under way.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from planner.domain.catalogue import TestCode
from planner.domain.draws import DrawId, OrderWindow
from planner.domain.orders import Order, OrderId, PatientId, Priority
from planner.domain.places import PlaceId
from planner.domain.plan import Handover, Outcome, Plan, PlannedTube, Reason, Route, Stop, Unplanned, Visit
from planner.domain.problem import Problem
from planner.domain.revisions.events import Event, EventId, OrderCancelled, StatOrdered
from planner.domain.revisions.replan import AddOn, Past, Promised, PromisedPause, Replan
from planner.visits.windows import order_windows
from tests.builders import clock, make_order
from tests.unit.exporters.rounds import make_round, visit_of

NOW_S = clock("05:35")

EVENTS = (
    Event(
        id=EventId("2-1"),
        said_s=NOW_S,
        what=StatOrdered(
            patient_id=PatientId("108"), test=TestCode("BMP"), order_ids=(OrderId("S0535-1"),), bed=PlaceId("108")
        ),
    ),
    Event(id=EventId("2-2"), said_s=NOW_S, what=OrderCancelled(order_id=OrderId("000107"))),
)


def promised(plan: Plan, now_s: int) -> tuple[Promised, ...]:
    """Return the visits of a plan that start after an instant, as a sheet promises them."""
    result = []
    for route in plan.routes:
        coming = [v for v in route.visits if v.start_s > now_s]
        result += [
            Promised(
                draw_id=v.draw_id,
                patient_id=v.patient_id,
                place=v.place,
                order_ids=v.order_ids,
                phlebotomist=route.phlebotomist,
                position=i,
                draw_s=v.draw_s,
            )
            for i, v in enumerate(coming)
        ]
    return tuple(result)


def pauses(plan: Plan, now_s: int) -> tuple[PromisedPause, ...]:
    """Return the hand-overs and breaks of a plan that start after an instant, as a sheet promises them."""
    return tuple(
        PromisedPause(
            phlebotomist=route.phlebotomist,
            num_before=sum(isinstance(s, Visit) and s.start_s > now_s for s in route.stops[:index]),
            place=stop.place,
            kind=stop.kind if isinstance(stop, Handover) else None,
            departs_s=stop.departs_s if isinstance(stop, Handover) else None,
        )
        for route in plan.routes
        for index, stop in enumerate(route.stops)
        if not isinstance(stop, Visit) and stop.start_s > now_s
    )


def with_past(problem: Problem, plan: Plan, now_s: int = NOW_S, addons: Sequence[AddOn] = ()) -> tuple[Problem, Plan]:
    """Return a round at an instant: visits begun by then have an outcome, the last of each route is assumed."""
    routes, past = [], []
    for route in plan.routes:
        stops = tuple(_with_outcome(stop, now_s) for stop in route.stops)
        done = tuple(s for s in stops if s.start_s <= now_s)
        last = done[-1] if done else None
        past.append(
            Past(
                phlebotomist=route.phlebotomist,
                stops=done,
                place=last.place if last else problem.staff[route.phlebotomist].starts_at,
                free_s=max(now_s, last.depart_s if last else 0),
                assumed=frozenset({len(done) - 1}) if done else frozenset(),
            )
        )
        routes.append(replace(route, stops=stops))
    replan = Replan(
        parent=1,
        now_s=now_s,
        events=EVENTS,
        log=EVENTS,
        past=tuple(past),
        promised=promised(plan, now_s),
        pauses=pauses(plan, now_s),
        addons=tuple(addons),
    )
    return replace(problem, replan=replan), replace(plan, routes=tuple(routes))


def _with_outcome(stop: Stop, now_s: int) -> Stop:
    return replace(stop, outcome=Outcome.COLLECTED) if isinstance(stop, Visit) and stop.start_s <= now_s else stop


def make_replanned(num_visits: int = 16) -> tuple[Problem, Plan, dict[OrderId, OrderWindow]]:
    """Return the round of the module's first lines at 05:42, its plan, and the windows of its orders."""
    problem, plan, _ = make_round(num_visits)
    first = plan.routes[0].visits[0]
    tube = next(t.tube for t in first.tubes if not t.tube.is_discard)
    addon = AddOn(
        order_id=OrderId("000901"),
        patient_id=first.patient_id,
        place=first.place,
        test=problem.catalogue.tests[tube.tests[0]].code,
        draw_id=first.draw_id,
        tube=tube.tube,
        draw_position=tube.draw_position,
        drawn_s=first.draw_s,
        collector=problem.staff[0].initials,
        limit_s=first.draw_s + 7200,
    )
    problem, plan = with_past(problem, plan, addons=(addon,))
    return _changed(problem, plan)


def _changed(problem: Problem, plan: Plan) -> tuple[Problem, Plan, dict[OrderId, OrderWindow]]:
    """Return the round with the five changes of the module's first lines."""
    one, two = plan.routes
    early, gone, given, last = (visit_of(plan, bed) for bed in ("107A", "107B", "114", "115"))
    stat = make_order("000900", visit_of(plan, "108").patient_id, "BMP", priority=Priority.STAT, ordered_s=NOW_S)
    extra = make_order("000902", last.patient_id, "CRP")
    stat_visit = replace(
        early,
        draw_id=DrawId("stat"),
        patient_id=stat.patient_id,
        place=PlaceId("108"),
        order_ids=(stat.id,),
        tubes=(replace(early.tubes[0], tube=replace(early.tubes[0].tube, tests=(stat.test,), order_ids=(stat.id,))),),
    )
    hand_last = replace(one.stops[-1], arrive_s=clock("06:02"), start_s=clock("06:02"), depart_s=clock("06:03"))
    given_tubes = tuple(replace(t, handover=len(one.stops)) for t in given.tubes)
    stops_one = (*one.stops[:-3], stat_visit, _later(early, 900), _later(replace(given, tubes=given_tubes), 1080))
    last = replace(
        last, order_ids=(*last.order_ids, extra.id), tubes=(*last.tubes[:-1], _served(last.tubes[-1], extra))
    )
    stops_two = (*two.stops[:-3], last, two.stops[-1])
    routes = (_route(one, (*stops_one, hand_last), 1), _route(two, stops_two, -1))
    cancelled = tuple(
        Unplanned(
            order_id=o,
            reason=Reason.CANCELLED,
            detail="cancelled at 05:35",
            patient_id=gone.patient_id,
            bed="107B",
            test=problem.order(o).test,
        )
        for o in gone.order_ids
    )
    orders = (*(o for o in problem.orders if o.id not in gone.order_ids), stat, extra)
    problem = replace(
        problem,
        orders=tuple(sorted(orders, key=lambda o: o.id)),
        set_aside=(*problem.set_aside, *cancelled),
    )
    assert problem.replan is not None
    past = tuple(replace(p, stops=r.stops[: len(p.stops)]) for p, r in zip(problem.replan.past, routes, strict=True))
    problem = replace(problem, replan=replace(problem.replan, past=past))
    windows, _ = order_windows(problem)
    return problem, replace(plan, routes=routes), windows


def _later(visit: Visit, by_s: int) -> Visit:
    times = {name: getattr(visit, name) + by_s for name in ("arrive_s", "start_s", "draw_s", "depart_s")}
    return replace(visit, **times)


def _served(planned: PlannedTube, order: Order) -> PlannedTube:
    """Return a tube that serves one order more."""
    tube = planned.tube
    return replace(planned, tube=replace(tube, tests=(*tube.tests, order.test), order_ids=(*tube.order_ids, order.id)))


def _route(route: Route, stops: Sequence[Stop], shift: int) -> Route:
    """Return the route with other stops; what the old last stop took, the new last stop takes."""
    last = len(route.stops) - 1
    return replace(
        route,
        stops=tuple(
            replace(
                s, tubes=tuple(replace(t, handover=last + shift if t.handover == last else t.handover) for t in s.tubes)
            )
            if isinstance(s, Visit)
            else s
            for s in stops
        ),
    )
