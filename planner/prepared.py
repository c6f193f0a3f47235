"""What is known before anybody walks: visits, their tubes, and the orders that cannot be drawn, with reasons."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial

from planner.domain.draws import Draw, OrderWindow, VisitRequest
from planner.domain.orders import Order, OrderId
from planner.domain.plan import Plan, Reason, Unplanned
from planner.domain.problem import Problem
from planner.findings import Finding
from planner.scheduling.rounds.alone import draws_made_alone
from planner.solving.params import SolveParams
from planner.tubes import choose_tubes
from planner.visits import build_draws, group_into_visits, order_windows
from planner.visits.draws import uncollected_weight
from planner.visits.grouping import request_of
from planner.visits.isolating import isolate
from planner.visits.parts import next_number, part_of, with_parts

MAX_PASSES = 3
"""A visit that was parted is looked at again: what a child's blood limit lets wait may have changed with the parts."""


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderWindows:
    """When each order may be drawn, and the orders that no rule leaves a time for, with reasons."""

    of: Mapping[OrderId, OrderWindow]
    without: tuple[Unplanned, ...]

    @classmethod
    def of_round(cls, problem: Problem) -> OrderWindows:
        """Return those of a round; they are worked out once for it."""
        windows, without = order_windows(problem)
        return cls(of=windows, without=without)


@dataclass(frozen=True, slots=True, kw_only=True)
class PreparedRound:
    """Draws with their tubes, and orders that cannot be drawn, with reasons."""

    windows: OrderWindows
    requests: tuple[VisitRequest, ...]
    draws: tuple[Draw, ...]
    unplanned: tuple[Unplanned, ...]
    findings: tuple[Finding, ...]


def prepare_round(problem: Problem, params: SolveParams, left_out: Iterable[Unplanned] = ()) -> PreparedRound:
    """Return the draws of a problem with their minimal tube sets; every order is in a draw or unplanned.

    A visit that nobody could make, were there no other, is parted (`isolate`): what cannot be carried, or not at that
    time, is lost alone. ``left_out`` are orders that no draw is to serve; they are listed by whoever leaves them out.
    """
    gone = {entry.order_id for entry in left_out}
    windows = OrderWindows.of_round(problem)
    requests = group_into_visits(problem, {o: window for o, window in windows.of.items() if o not in gone})
    prepared = with_tubes(problem, windows, requests, params)
    for _ in range(MAX_PASSES):
        requests = _isolated(problem, prepared, params)
        if requests == prepared.requests:
            break
        prepared = with_tubes(problem, windows, requests, params)
    return prepared


def with_tubes(
    problem: Problem, windows: OrderWindows, requests: tuple[VisitRequest, ...], params: SolveParams
) -> PreparedRound:
    """Return the draws that some visits come to; orders without a window are listed too."""
    choice = choose_tubes(problem, requests, params)
    draws, without_start = build_draws(problem, requests, choice.tube_sets)
    return PreparedRound(
        windows=windows,
        requests=requests,
        draws=draws,
        unplanned=(*windows.without, *choice.postponed, *without_start),
        findings=tuple(choice.findings),
    )


def with_other_visits(
    problem: Problem, prepared: PreparedRound, requests: tuple[VisitRequest, ...], params: SolveParams
) -> PreparedRound:
    """Return the round with other visits of some patients, whose tubes alone are chosen anew.

    The findings stay those of ``prepared``: `with_tubes` makes them anew for visits that are kept.
    """
    known = set(prepared.requests)
    changed = {request.patient_id for request in requests if request not in known}
    changed |= {request.patient_id for request in known - set(requests)}
    other = with_tubes(problem, prepared.windows, tuple(r for r in requests if r.patient_id in changed), params)
    draw_of = {draw.id: draw for draw in prepared.draws if draw.request.patient_id not in changed}
    draw_of |= {draw.id: draw for draw in other.draws}
    draws = tuple(draw_of[request.id] for request in requests if request.id in draw_of)
    anew = {order.id for request in other.requests for order in request.orders}
    kept = tuple(u for u in prepared.unplanned if u.order_id not in anew)
    new = tuple(u for u in other.unplanned if u.order_id in anew)
    return replace(prepared, requests=requests, draws=draws, unplanned=(*kept, *new))


def draws_as_planned(problem: Problem, plan: Plan, params: SolveParams) -> tuple[Draw, ...]:
    """Return the draws of a plan's visits to come, and those of the orders that it leaves out, as far as there are any.

    A plan may have other visits than orders are first grouped into (`planner.regrouping`). A draw that is left out has
    a number that no visit of the plan has.
    """
    begun = {visit.draw_id for visit in problem.replan.ended} if problem.replan else set()
    visits = [v for route in plan.routes for v in route.visits if v.draw_id not in begun]
    windows = OrderWindows.of_round(problem)
    made = tuple(
        request_of(problem, [problem.order(o) for o in visit.order_ids], windows.of, visit.draw_id) for visit in visits
    )
    served = {order_id for visit in visits for order_id in visit.order_ids}
    left: list[VisitRequest] = []
    is_whole = all(order.id in served for order in problem.open_orders)
    for request in () if is_whole else prepare_round(problem, params).requests:
        if orders := [order for order in request.orders if order.id not in served]:
            number = next_number(request.patient_id, (*made, *left), begun)
            left.append(part_of(request, orders, number))
    return tuple(
        draw
        for requests in (made, *((request,) for request in left))
        for draw in build_draws(problem, requests, choose_tubes(problem, requests, params).tube_sets)[0]
    )


def lost_weight(problem: Problem, unplanned: Iterable[Unplanned]) -> int:
    """Return what orders that cannot be drawn count in tier ``left-out``."""
    return sum(uncollected_weight(problem, problem.order(u.order_id)) for u in unplanned if u.reason.needs_decision)


def _isolated(problem: Problem, prepared: PreparedRound, params: SolveParams) -> tuple[VisitRequest, ...]:
    """Return the requests, those parted that nobody could make were there no other."""
    draw_of = {draw.id: draw for draw in prepared.draws}
    made = dict(zip(draw_of, draws_made_alone(problem, prepared.draws), strict=True))
    no_stay = {u.order_id for u in prepared.unplanned if u.reason is Reason.NO_COMMON_WINDOW}
    requests = prepared.requests
    for request in prepared.requests:
        can_be_drawn = request.id in draw_of or any(order.id in no_stay for order in request.orders)
        if len(request.orders) > 1 and can_be_drawn and not made.get(request.id, False):
            heaviest_first = sorted(request.orders, key=lambda o: (-uncollected_weight(problem, o), o.id))
            parts = isolate(heaviest_first, partial(_is_made, problem, params, request))
            requests = with_parts(requests, request.id, parts)
    return requests


def _is_made(problem: Problem, params: SolveParams, whole: VisitRequest, orders: Sequence[Order]) -> bool:
    """Return whether somebody could draw some orders of a visit in one visit, were there no other."""
    request = part_of(whole, orders, whole.id)
    draws, _lost = build_draws(problem, [request], choose_tubes(problem, [request], params).tube_sets)
    return all(len(draw.request.orders) == len(orders) for draw in draws) and draws_made_alone(problem, draws) == [True]
