"""Postures that contradict each other: tests after lying flat and tests after two hours out of bed (rule ``posture``).

They are never one draw. The one that is drawn first decides how long the other waits: half an hour of lying after the
upright draw, or two hours out of bed after the lying one (handbooks: lying flat 15 to 30 minutes, up for 2 hours).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import combinations

from planner.domain.catalogue import Handling
from planner.domain.draws import Draw, DrawGap, Ends
from planner.domain.orders import Order
from planner.domain.problem import Problem
from planner.units import hours_to_s, minutes_to_s
from planner.visits.series import NO_END_S

LIE_DOWN_S = minutes_to_s(30)
"""From an upright draw to one after lying: the longer of the handbooks' 15 to 30 minutes."""
GET_UP_S = hours_to_s(2)
"""From a draw after lying to an upright one."""


def posture_of(problem: Problem, order: Order) -> Handling | None:
    """Return the posture that an order's test asks for; None: any."""
    return next((h for h in (Handling.SUPINE, Handling.UPRIGHT_2H) if h in problem.test_of(order).handling), None)


def wait_before_s(posture: Handling) -> int:
    """Return the seconds that a draw of a posture waits after one of the other."""
    return LIE_DOWN_S if posture is Handling.SUPINE else GET_UP_S


def contradicts(problem: Problem, order: Order, group: Iterable[Order]) -> bool:
    """Return whether the group holds an order of the other posture."""
    own = posture_of(problem, order)
    return own is not None and any(posture_of(problem, other) not in (None, own) for other in group)


def posture_gaps(problem: Problem, draws: Sequence[Draw]) -> Iterator[DrawGap]:
    """Yield the gaps between draws of one patient whose postures differ: upright first, where their windows let it."""
    asked = [(draw, {posture_of(problem, order) for order in draw.request.orders} - {None}) for draw in draws]
    for pair in combinations(asked, 2):
        if pair[0][0].request.patient_id != pair[1][0].request.patient_id:
            continue
        for (up, up_asks), (down, down_asks) in (pair, pair[::-1]):
            if Handling.UPRIGHT_2H in up_asks and Handling.SUPINE in down_asks:
                yield _gap(up, down)


def _gap(up: Draw, down: Draw) -> DrawGap:
    first_up_s, last_down_s = up.request.windows[0].earliest_s, down.request.windows[-1].latest_s
    if first_up_s + LIE_DOWN_S <= last_down_s:
        return DrawGap(first=up.id, second=down.id, least_s=wait_before_s(Handling.SUPINE), most_s=NO_END_S)
    return DrawGap(first=down.id, second=up.id, least_s=wait_before_s(Handling.UPRIGHT_2H), most_s=NO_END_S)


def posture_ends(problem: Problem, order: Order) -> Iterator[Ends]:
    """A draw waits for its posture after a draw of the round that asked for the other."""
    own = posture_of(problem, order)
    if own is None:
        return
    for past, drawn_s in problem.drawn_orders:
        if past.patient_id == order.patient_id and posture_of(problem, past) not in (None, own):
            yield Ends(rule="posture", earliest_s=drawn_s + wait_before_s(own))
