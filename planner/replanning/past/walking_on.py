"""What the last sheet promised of visits to come, and when they would be made if everybody just walked on.

Who is behind moves no stop: a visit that comes later only because its phlebotomist is late is where it was. So each
promise also says when walking on in the promised order brings its phlebotomist to it.

Example: the sheet has bed 4 at 06:00, bed 5 at 06:10 and, after a wait, bed 6 at 06:40, and their phlebotomist is free
at bed 3 only at 06:15 instead of 05:58. Walking on makes bed 4 at 06:17, bed 5 at 06:27 and bed 6 at 06:40.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable, Iterator, Sequence

from planner.domain.places import PlaceId
from planner.domain.plan import Handover, Plan, Route, Stop, Visit
from planner.domain.problem import Problem
from planner.domain.revisions.replan import Held, Past, Promised, Replan
from planner.replanning.past.open_visits import is_stat


def walking_on(
    problem: Problem, sheet: Plan, past: Sequence[Past], older: Iterable[Replan] = ()
) -> tuple[Promised, ...]:
    """Return the visits of the last sheet that have not begun, person by person in their order.

    Parameters
    ----------
    problem
        The round as it stands now: visits of which nobody wants an order any more are not waited for.
    sheet
        The plan of the last sheet.
    past
        Where and when everybody goes on.
    older
        Revisions that are taken back: what was due on their sheets may have been made all the same.
    """
    known = (*filter(None, [problem.replan]), *older)
    begun = {stop.draw_id for one in past for stop in one.stops if isinstance(stop, Visit)}
    return tuple(promised for route in sheet.routes for promised in _route(problem, route, past, begun, known))


def _route(
    problem: Problem, route: Route, past: Sequence[Past], begun: Collection[str], known: Sequence[Replan]
) -> Iterator[Promised]:
    one = next((one for one in past if one.phlebotomist == route.phlebotomist), None)
    wanted = {order.id for order in problem.orders}
    place, free_s = (None, 0) if one is None else (one.place, one.free_s)
    position = 0
    for stop in _to_come(route.stops, () if one is None else one.stops, begun):
        is_wanted = not isinstance(stop, Visit) or bool(wanted & set(stop.order_ids))
        start_s = stop.start_s
        if place is not None and is_wanted:
            there = problem.patients[stop.patient_id].bed if isinstance(stop, Visit) else stop.place
            start_s = max(stop.start_s, free_s + _walk_s(problem, place, there))
            place, free_s = there, start_s + stop.depart_s - stop.start_s
        if isinstance(stop, Visit):
            yield Promised(
                draw_id=stop.draw_id,
                patient_id=stop.patient_id,
                place=stop.place,
                order_ids=stop.order_ids,
                phlebotomist=route.phlebotomist,
                position=position,
                draw_s=stop.draw_s,
                walking_on_s=start_s + stop.draw_s - stop.start_s,
                earlier=_held_before(known, route.phlebotomist, stop),
                is_stat=is_stat(problem, stop),
            )
            position += 1


def _held_before(known: Sequence[Replan], phlebotomist: int, visit: Visit) -> tuple[Held, ...]:
    """Return on whose sheets a visit was before the last, but for a last one of the same person with nothing due."""
    every = dict.fromkeys(held for replan in known for held in replan.held(visit.order_ids))
    held = tuple(sorted(every, key=lambda held: held.until_s))
    is_same = bool(held) and held[-1].phlebotomist == phlebotomist and not held[-1].is_due
    return held[:-1] if is_same else held


def _to_come(stops: Sequence[Stop], made: Iterable[Stop], begun: Collection[str]) -> Iterator[Stop]:
    """Yield the stops of a route that have not been made: visits not begun, hand-overs and breaks not yet counted."""
    paused = Counter(_pause(stop) for stop in made if not isinstance(stop, Visit))
    for stop in stops:
        if isinstance(stop, Visit):
            if stop.draw_id not in begun:
                yield stop
        elif paused[_pause(stop)]:
            paused[_pause(stop)] -= 1
        else:
            yield stop


def _pause(stop: Stop) -> tuple[str, str]:
    return stop.place, stop.kind.value if isinstance(stop, Handover) else ""


def _walk_s(problem: Problem, here: PlaceId, there: PlaceId) -> int:
    """Return the seconds between two places; none where there is no way, as to a bed that was left."""
    try:
        return problem.walking.between(here, there)
    except KeyError:
        return 0
