"""How much later a stop may begin than planned before anything is lost, and what is lost first.

A stop that slips pushes those behind it, less what they would have waited; nobody changes the order. Lost means: a
window, a gap, an absence, a break or the shift is not kept, the last courier who is soon enough has left, a
specimen comes too old, or a draw or a delivery comes later than its target (``late``, ``delivery``, ``stat-to-lab`` of
planner/RULES.md).

Each rule gives a *limit*: how far the start of one stop may slip. With the waits w on the way, stop i may slip by the
least of limit + w(i to its stop) over all limits from i on. Example: bed 4 must be drawn within 6 minutes, and 10
minutes are waited before it: bed 3, which has no limit itself, can slip 16 minutes.

Some limits hold only while an earlier draw was on time: a tube drawn at stop k is too old if what takes it slips, not
if the draw itself slipped as well.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from enum import Enum
from itertools import accumulate

from planner.domain.draws import DrawGap, DrawId
from planner.domain.orders import OrderId
from planner.domain.places import PickupKind
from planner.domain.plan import Break, Handover, PlannedTube, Route, Stop, Visit
from planner.exporters.view.context import ViewContext
from planner.units import SECONDS_PER_HOUR, SECONDS_PER_MINUTE


class Loss(Enum):
    """What a slip costs."""

    TIME_OVER = "time-over"
    """The window of a draw is over: nobody may draw any more."""
    LATE = "late"
    """A draw comes past its target."""
    COURIER = "courier"
    """The last courier from there who is soon enough for all that is given has left."""
    TOO_OLD = "too-old"
    """A specimen comes past its stability."""
    WANTED = "wanted"
    """Stat or asap specimens come to the laboratory later than they should."""
    NEEDED = "needed"
    """Specimens come later than the ward needs them."""
    AWAY = "away"
    OTHER_DRAW = "other-draw"
    """Another draw of the patient is too near, too far, or under way."""
    BREAK = "break"
    SHIFT = "shift"


@dataclass(frozen=True, slots=True, kw_only=True)
class Limit:
    """The stop with index ``at`` may begin up to ``room_s`` seconds later; ``since``: only if that stop was on time."""

    at: int
    room_s: int
    loss: Loss
    since: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class _End:
    """Until when a tube must be in the laboratory; ``since``: only if the stop with that index was on time."""

    at_s: int
    loss: Loss
    since: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Slack:
    """How far a stop may slip, and the limit that ends it; None: nothing ends it."""

    seconds: int
    limit: Limit


_SAID_S = SECONDS_PER_HOUR
"""More slack than that is not counted in minutes (our choice)."""


def slip_words(slack: Slack | None) -> str:
    """Return how far a stop may slip, in whole minutes, rounded down: 'can slip 9 min', 'cannot slip'."""
    if slack is None or slack.seconds > _SAID_S:
        return "can slip over 1 h"
    minutes = slack.seconds // SECONDS_PER_MINUTE
    return f"can slip {minutes} min" if minutes else "cannot slip"


class RouteSlack:
    """The limits of the stops of one route that are still to come."""

    def __init__(self, context: ViewContext, route: Route) -> None:
        self._context, self._route = context, route
        self._first = context.num_past(route)
        self._waited = list(accumulate((stop.start_s - stop.arrive_s for stop in route.stops), initial=0))
        self.limits = tuple(limit for limit in self._limits() if limit.at >= self._first)

    def of(self, index: int) -> Slack | None:
        """Return the slack of the stop with this index on its route; None where nothing can be lost."""
        found = [
            (max(0, limit.room_s) + self._waits_s(index, limit.at), limit.at, limit)
            for limit in self.limits
            if limit.at >= index and (limit.since is None or limit.since < index)
        ]
        if not found:
            return None
        seconds, _, limit = min(found, key=lambda entry: entry[:2])
        return Slack(seconds=seconds, limit=limit)

    def lost(self, late_s: int) -> tuple[Limit, ...]:
        """Return what is lost if somebody sets out so much later: of each stop the first loss, in order.

        They come so much later to the first stop to come; what was to be waited there makes up for it.
        """
        lost: dict[int, Limit] = {}
        for limit in sorted(self.limits, key=lambda limit: (limit.at, limit.room_s)):
            holds = limit.since is None or limit.since < self._first
            waited_s = self._waited[limit.at + 1] - self._waited[self._first]
            if holds and late_s - waited_s > max(0, limit.room_s):
                lost.setdefault(limit.at, limit)
        return tuple(lost.values())

    def _waits_s(self, index: int, at: int) -> int:
        """Return the seconds waited behind the stop ``index`` up to the start of the stop ``at``."""
        return self._waited[at + 1] - self._waited[index + 1]

    def _limits(self) -> Iterator[Limit]:
        for index, stop in enumerate(self._route.stops):
            if index < self._first:
                continue
            if isinstance(stop, Visit):
                yield from self._of_visit(index, stop)
            elif isinstance(stop, Handover):
                yield from self._of_handover(index, stop)
        yield from self._of_person()
        yield from self._of_gaps()

    def _of_visit(self, index: int, visit: Visit) -> Iterator[Limit]:
        for order_id in visit.order_ids:
            window = self._context.windows.get(order_id)
            if window is None:
                continue
            ends = [w.latest_s for w in window.windows if w.earliest_s <= visit.draw_s <= w.latest_s]
            yield Limit(at=index, room_s=min(ends, default=visit.draw_s) - visit.draw_s, loss=Loss.TIME_OVER)
            if window.target_s is not None:
                yield Limit(at=index, room_s=window.target_s - visit.draw_s, loss=Loss.LATE)
        for span in self._context.problem.patients[visit.patient_id].away:
            if visit.depart_s <= span.earliest_s:
                yield Limit(at=index, room_s=span.earliest_s - visit.depart_s, loss=Loss.AWAY)

    def _of_handover(self, index: int, stop: Handover) -> Iterator[Limit]:
        ends = [
            end
            for drawn, visit in enumerate(self._route.stops[:index])
            if isinstance(visit, Visit)
            for planned in visit.tubes
            if planned.handover == index
            for end in self._ends(index, stop, drawn, visit, planned)
        ]
        if stop.departs_s is not None:
            yield from self._of_couriers(index, stop, stop.departs_s, ends)
            return
        for end in ends:
            yield Limit(at=index, room_s=end.at_s - stop.lab_arrival_s, loss=end.loss, since=end.since)

    def _of_couriers(self, index: int, stop: Handover, departs_s: int, ends: Sequence[_End]) -> Iterator[Limit]:
        """Yield the first departure after which the next courier from there is too late for a specimen, or none comes.

        A tube whose draw slips as well is younger; that much later it may come.
        """
        later = (
            (at_s, at_s + pickup.transit_s)
            for pickup in self._context.problem.pickups
            if pickup.place == stop.place and pickup.kind is PickupKind.COURIER
            for at_s in pickup.departures_s
            if at_s > departs_s
        )
        for next_s, in_lab_s in sorted(later):
            room_s = departs_s - stop.depart_s
            lost = [end for end in ends if end.at_s < in_lab_s]
            if any(end.since is None or end.at_s + room_s < in_lab_s for end in lost):
                break
            yield from (Limit(at=index, room_s=room_s, loss=Loss.COURIER, since=end.since) for end in lost)
            departs_s = next_s
        yield Limit(at=index, room_s=departs_s - stop.depart_s, loss=Loss.COURIER)

    def _ends(self, index: int, stop: Handover, drawn: int, visit: Visit, planned: PlannedTube) -> Iterator[_End]:
        """Yield the last moments at which a tube may come to the laboratory; what is in vain already has no end."""
        if planned.tube.stability_s is not None:
            old_s = visit.draw_s + planned.tube.stability_s
            if old_s >= stop.lab_arrival_s:
                yield _End(at_s=old_s, loss=Loss.TOO_OLD, since=drawn)
        needed = self._context.problem.policy.round.needed_by_s
        needed_s = needed.get(self._context.problem.patients[visit.patient_id].ward, needed.get("*"))
        for order_id in planned.tube.order_ids:
            # An order is late by its last specimen: one that comes before another late one may slip as far as that.
            others_s = self._others_arrive_s(visit, order_id, index)
            for end_s, loss in ((needed_s, Loss.NEEDED), (self._context.dues_s.get(order_id), Loss.WANTED)):
                if end_s is not None:
                    yield _End(at_s=max(end_s, others_s), loss=loss)

    def _others_arrive_s(self, visit: Visit, order_id: OrderId, index: int) -> int:
        """Return when the last specimen of an order is in the laboratory that another stop gives away; 0: none is."""
        stops = self._route.stops
        others = {p.handover for p in visit.tubes if order_id in p.tube.order_ids and p.handover is not None} - {index}
        return max((s.lab_arrival_s for s in map(stops.__getitem__, others) if isinstance(s, Handover)), default=0)

    def _of_person(self) -> Iterator[Limit]:
        person, stops = self._context.problem.staff[self._route.phlebotomist], self._route.stops
        if not stops:
            return
        last = len(stops) - 1
        yield Limit(at=last, room_s=person.until_s - stops[last].depart_s, loss=Loss.SHIFT)
        latest_s = person.until_s if person.break_window is None else person.break_window.latest_s
        pauses = [(index, stop) for index, stop in enumerate(stops) if isinstance(stop, Break)]
        for index, pause in pauses:
            yield Limit(at=index, room_s=latest_s - pause.depart_s, loss=Loss.BREAK)
        if person.break_s and not pauses:  # a route that ends later would owe its break
            yield Limit(at=last, room_s=latest_s - person.break_s - stops[last].depart_s, loss=Loss.BREAK)

    def _of_gaps(self) -> Iterator[Limit]:
        mine = {stop.draw_id: index for index, stop in enumerate(self._route.stops) if isinstance(stop, Visit)}
        for gap in self._context.gaps:
            yield from self._of_gap(gap, mine)
        for index, one in enumerate(self._route.stops):
            for other in self._elsewhere(one):
                if one.depart_s <= other.start_s:
                    yield Limit(at=index, room_s=other.start_s - one.depart_s, loss=Loss.OTHER_DRAW)

    def _of_gap(self, gap: DrawGap, mine: Mapping[DrawId, int]) -> Iterator[Limit]:
        first, second = (self._context.visits.get(draw_id) for draw_id in (gap.first, gap.second))
        if first is None or second is None:
            return
        apart_s = second.draw_s - first.draw_s
        here, there = mine.get(gap.first), mine.get(gap.second)
        if there is not None:
            yield Limit(at=there, room_s=gap.most_s - apart_s, loss=Loss.OTHER_DRAW, since=here)
        if here is not None:
            room_s = apart_s - gap.least_s
            if there is None or room_s < self._waits_s(here, there):
                yield Limit(at=here, room_s=room_s, loss=Loss.OTHER_DRAW)

    def _elsewhere(self, stop: Stop) -> Iterator[Visit]:
        """Yield the visits of others to the patient of a visit."""
        if isinstance(stop, Visit):
            for route in self._context.plan.routes:
                if route is not self._route:
                    yield from (visit for visit in route.visits if visit.patient_id == stop.patient_id)
