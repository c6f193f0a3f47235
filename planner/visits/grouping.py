"""Which orders of one patient share a puncture: the fewest visits that their windows allow.

Every order brings the spans of draw times at which it would be on time and somebody can stay at the bed for it. A set
of instants that meets the spans of every order is a set of visits; the smallest is found by trying 1, 2, 3 ... instants
among the ends of spans, which is enough: an instant can be moved right until some span ends without leaving any.
Orders share a visit whenever one moment lies in the spans of all; where nobody can be there at that moment, the round
that is found is tried with the visit in parts (`planner.regrouping`).

Example: CBC any time 05:00-09:00, a trough 05:30-06:00, a timed draw 07:00-07:30. Ends: 09:00, 06:00, 07:30. No
single one meets all; 06:00 with 07:30 does; CBC may join either and goes where its tube is, else to the earlier.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from itertools import combinations

from planner.domain.draws import DrawId, OrderWindow, VisitRequest
from planner.domain.orders import Order, OrderId, TimeWindow
from planner.domain.problem import Problem
from planner.visits.service import least_service
from planner.visits.spans import Windows, clip, cut, intersect
from planner.visits.together import must_part
from planner.visits.window_rules import is_stat

MAX_TRIES = 20_000
"""Steps of the search for fewer groups of one patient; most patients need less than a hundred."""


def group_into_visits(problem: Problem, windows: Mapping[OrderId, OrderWindow]) -> tuple[VisitRequest, ...]:
    """Return the fewest visits that serve all the orders that have a window, patient by patient."""
    by_patient: dict[str, list[Order]] = defaultdict(list)
    for order in problem.open_orders:
        if order.id in windows:
            by_patient[order.patient_id].append(order)
    past = problem.replan.ended if problem.replan else ()
    requests: list[VisitRequest] = []
    for patient_id in sorted(by_patient):
        groups = _groups_of_patient(problem, by_patient[patient_id], windows)
        first = 1 + max((visit_number(v.draw_id) for v in past if v.patient_id == patient_id), default=0)
        requests += [
            request_of(problem, group, windows, DrawId(f"{patient_id}#{n}"))
            for n, group in enumerate(groups, start=first)
        ]
    return tuple(requests)


def visit_number(draw_id: DrawId) -> int:
    """Return the counter at the end of a draw's id."""
    return int(draw_id.rpartition("#")[2])


def _groups_of_patient(
    problem: Problem, orders: Sequence[Order], windows: Mapping[OrderId, OrderWindow]
) -> list[list[Order]]:
    """Return the orders of one patient in groups, earliest visit first."""
    reachable = {o.id: _reachable(problem, windows[o.id]) for o in orders}
    lost = [[o] for o in orders if not reachable[o.id]]
    orders = [o for o in orders if reachable[o.id]]
    spans = {o.id: reachable[o.id] for o in orders}
    instants = _fewest_instants([spans[o.id] for o in orders])
    groups: list[list[Order]] = [[] for _ in instants]
    rooms: list[Windows] = [(TimeWindow(earliest_s=at_s, latest_s=at_s),) for at_s in instants]
    for order in sorted(orders, key=lambda o: (_choices(spans[o.id], instants), o.id)):
        able = [i for i, room in enumerate(rooms) if intersect(room, spans[order.id])]
        free = [i for i in able if not must_part(problem, order, groups[i])]
        if not free:
            groups.append([order])
            rooms.append(spans[order.id])
            continue
        free.sort(key=lambda i: (not _shares_tube(problem, order, groups[i]), i))
        groups[free[0]].append(order)
        rooms[free[0]] = intersect(rooms[free[0]], spans[order.id])
    groups = [group for group in groups if group]
    if len(groups) > len(instants):  # only orders that never share a puncture ask for more
        groups = _fewer_groups(problem, orders, spans, groups)
    filled = [sorted(group, key=lambda o: o.id) for group in groups] + lost
    return sorted(filled, key=lambda g: (_common(g, windows)[0].earliest_s, g[0].id))


def _reachable(problem: Problem, window: OrderWindow) -> Windows:
    """Return the draw times on time at which somebody can be at the bed for as long as a plain draw takes.

    Of a stat that is late whatever is done, the first alone: nothing else may keep it waiting. An order without any
    is not allowed to drag the patient's other orders along: it gets a visit of its own.
    """
    order = problem.order(window.order_id)
    patient = problem.patient_of(order)
    lead_s, service_s = least_service(problem, patient)
    draws_s = cut(
        clip(window.windows, problem.begin_s + lead_s, problem.end_s - (service_s - lead_s)),
        [(w.earliest_s - (service_s - lead_s) + 1, w.latest_s + lead_s) for w in patient.away],
    )
    if not draws_s or window.target_s is None:
        return draws_s
    first_s = draws_s[0].earliest_s
    last_s = max(first_s, window.target_s) if is_stat(order) else window.target_s
    return clip(draws_s, first_s, last_s) or draws_s[:1]


def _fewer_groups(
    problem: Problem, orders: Sequence[Order], spans: Mapping[OrderId, Windows], found: list[list[Order]]
) -> list[list[Order]]:
    """Return the smallest number of groups by trying all ways, those that were found where none is smaller.

    Each order in turn, the soonest over first, goes into each group that has room for it, or into a new one. After
    `MAX_TRIES` steps the best so far is kept.
    """
    best = found
    tries = 0
    in_turn = sorted(orders, key=lambda o: (spans[o.id][-1].latest_s, o.id))

    def place(number: int, groups: list[list[Order]], rooms: list[Windows]) -> None:
        nonlocal best, tries
        tries += 1
        if len(groups) >= len(best) or tries > MAX_TRIES:
            return
        if number == len(in_turn):
            best = [list(group) for group in groups]
            return
        order = in_turn[number]
        for i, group in enumerate(groups):
            room = intersect(rooms[i], spans[order.id])
            if room and not must_part(problem, order, group):
                place(
                    number + 1,
                    [*groups[:i], [*group, order], *groups[i + 1 :]],
                    [*rooms[:i], room, *rooms[i + 1 :]],
                )
        place(number + 1, [*groups, [order]], [*rooms, spans[order.id]])

    place(0, [], [])
    return best


def _meets(windows: Windows, at_s: int) -> bool:
    return any(at_s in w for w in windows)


def _choices(windows: Windows, instants: Iterable[int]) -> int:
    return sum(_meets(windows, at_s) for at_s in instants)


def _fewest_instants(spans: Sequence[Windows]) -> list[int]:
    """Return the fewest instants, ascending, of which each order's spans contain one."""
    distinct = sorted(set(spans), key=lambda windows: windows[-1].latest_s)
    greedy = _greedy_instants(distinct)
    if all(len(windows) == 1 for windows in distinct):
        return greedy
    ends = sorted({w.latest_s for windows in distinct for w in windows})
    for count in range(1, len(greedy)):
        for instants in combinations(ends, count):
            if all(_choices(windows, instants) for windows in distinct):
                return list(instants)
    return greedy


def _greedy_instants(distinct: Sequence[Windows]) -> list[int]:
    """Return instants that meet all spans: always the last second of the span that ends first and is not met.

    Smallest possible when every order has a single span (the textbook stabbing of intervals).
    """
    instants: list[int] = []
    for windows in distinct:
        if not _choices(windows, instants):
            instants.append(windows[-1].latest_s)
    return sorted(instants)


def _shares_tube(problem: Problem, order: Order, group: Iterable[Order]) -> bool:
    """Return whether some order of the group could share a tube with this one."""
    test = problem.test_of(order)
    if any(o.test == order.test for o in group):
        return True
    return test.share_group is not None and any(
        problem.test_of(o).share_group == test.share_group and problem.test_of(o).mode == test.mode for o in group
    )


def _common(group: Sequence[Order], windows: Mapping[OrderId, OrderWindow]) -> Windows:
    """Return the draw times allowed to all orders of a group."""
    common = windows[group[0].id].windows
    for order in group[1:]:
        common = intersect(common, windows[order.id].windows)
    return common


def request_of(
    problem: Problem, group: Sequence[Order], windows: Mapping[OrderId, OrderWindow], draw_id: DrawId
) -> VisitRequest:
    """Return the visit of some orders of one patient, each of which has a window."""
    patient = problem.patients[group[0].patient_id]
    return VisitRequest(
        id=draw_id,
        patient_id=patient.id,
        bed=patient.bed,
        orders=tuple(group),
        windows=_common(group, windows),
        order_windows=tuple(windows[o.id] for o in group),
    )
