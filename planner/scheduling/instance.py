"""The scheduling problem as plain numbers: what the route timing, the search and the solver model all read."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass

from planner.domain.draws import Draw
from planner.domain.orders import TimeWindow
from planner.domain.places import PickupKind, PlaceId
from planner.domain.problem import Problem
from planner.domain.staff import Phlebotomist
from planner.visits.draws import uncollected_weight


@dataclass(frozen=True, slots=True, kw_only=True)
class SpecimenData:
    """The tubes of one visit that travel alike: by any pickup, or by hand only (never by tube station).

    ``limit_s`` is the shortest stability among them, counted from the start of the visit (the lead included);
    ``need_weight`` is what a second past the ward's need-by time costs, over the orders they serve.
    """

    by_hand: bool
    limit_s: int
    need_weight: int


@dataclass(frozen=True, slots=True, kw_only=True)
class VisitData:
    """A draw in numbers: node of its bed, time at the bed, allowed starts, soft ends, what its specimens need.

    ``targets`` are (last start that is not late, weight per second past it), ascending.
    ``able`` are the indices of the staff who have the skills.
    """

    node: int
    service_s: int
    windows: tuple[TimeWindow, ...]
    targets: tuple[tuple[int, int], ...]
    weight: int
    specimens: tuple[SpecimenData, ...]
    need_by_s: int | None
    able: frozenset[int]


@dataclass(frozen=True, slots=True, kw_only=True)
class PickupData:
    """A pickup in numbers; ``departures_s`` is empty when specimens leave at once."""

    node: int
    takes_hand: bool
    departures_s: tuple[int, ...]
    transit_s: int

    def lab_arrival_s(self, depart_s: int) -> int | None:
        """Return when specimens given away by then reach the laboratory; None when no courier leaves any more."""
        if not self.departures_s:
            return depart_s + self.transit_s
        index = bisect_left(self.departures_s, depart_s)
        return self.departures_s[index] + self.transit_s if index < len(self.departures_s) else None

    def departs_s(self, depart_s: int) -> int | None:
        """Return the courier's departure that takes what is given away by then; None without a courier."""
        if not self.departures_s:
            return None
        return self.departures_s[bisect_left(self.departures_s, depart_s)]


@dataclass(frozen=True, slots=True, kw_only=True)
class CollectorData:
    """A phlebotomist in numbers. ``break_window`` holds the allowed starts of her break; None: she has none.

    A break is owed unless the route is over while the whole break still fits behind it.
    """

    node: int
    from_s: int
    until_s: int
    break_s: int = 0
    break_window: TimeWindow | None = None

    def owes_break(self, finish_s: int) -> bool:
        """Return whether a route without a break that ends at this second owes one."""
        return self.break_window is not None and finish_s > self.break_window.latest_s


BREAK = -1_000_000
"""The stop of a route at which the collector takes her break, where she is."""

NO_LIMIT_S = 7 * 86_400
"""Stands for a specimen that no stated limit hurries: longer than any round."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Instance:
    """Visits, pickups and collectors over a square matrix of walking seconds, ``walk[from][to]``."""

    start_s: int
    walk: tuple[tuple[int, ...], ...]
    visits: tuple[VisitData, ...]
    pickups: tuple[PickupData, ...]
    collectors: tuple[CollectorData, ...]
    handover_s: int
    max_sends: int
    same_bed: tuple[tuple[int, int], ...] = ()
    """Pairs of visits of one patient whose stays could overlap (rule ``one-at-the-bed``)."""


def build_instance(problem: Problem, draws: Sequence[Draw]) -> Instance:
    """Return the numbers of a problem; visits in the order of the draws."""
    places: list[PlaceId] = sorted(
        {d.request.bed for d in draws} | {p.place for p in problem.pickups} | {s.starts_at for s in problem.staff}
    )
    node = {place: i for i, place in enumerate(places)}
    walk = tuple(tuple(_walk_s(problem, a, b) for b in places) for a in places)
    visits = tuple(_visit(problem, draw, node[draw.request.bed]) for draw in draws)
    return Instance(
        start_s=problem.start_s,
        walk=walk,
        visits=visits,
        pickups=tuple(
            PickupData(
                node=node[p.place],
                takes_hand=p.kind is not PickupKind.TUBE,
                departures_s=p.departures_s,
                transit_s=p.transit_s,
            )
            for p in problem.pickups
        ),
        collectors=tuple(_collector(who, node[who.starts_at]) for who in problem.staff),
        handover_s=problem.policy.handover.handover_s,
        max_sends=problem.policy.handover.max_sends,
        same_bed=_same_bed(draws, visits),
    )


def _same_bed(draws: Sequence[Draw], visits: Sequence[VisitData]) -> tuple[tuple[int, int], ...]:
    """Return the pairs of visits of one patient that some schedule could let overlap."""
    return tuple(
        (i, j)
        for j, later in enumerate(draws)
        for i, draw in enumerate(draws[:j])
        if draw.request.patient_id == later.request.patient_id
        and visits[i].windows[0].earliest_s < visits[j].windows[-1].latest_s + visits[j].service_s
        and visits[j].windows[0].earliest_s < visits[i].windows[-1].latest_s + visits[i].service_s
    )


def _collector(who: Phlebotomist, node: int) -> CollectorData:
    """Return a phlebotomist's numbers; a break that does not fit into her shift is none (the loader says so)."""
    if not who.break_s:
        return CollectorData(node=node, from_s=who.from_s, until_s=who.until_s)
    window = who.break_window or TimeWindow(earliest_s=who.from_s, latest_s=who.until_s)
    last_start_s = min(window.latest_s, who.until_s) - who.break_s
    if last_start_s < max(window.earliest_s, who.from_s):
        return CollectorData(node=node, from_s=who.from_s, until_s=who.until_s)
    return CollectorData(
        node=node,
        from_s=who.from_s,
        until_s=who.until_s,
        break_s=who.break_s,
        break_window=TimeWindow(earliest_s=window.earliest_s, latest_s=last_start_s),
    )


def _walk_s(problem: Problem, from_place: PlaceId, to_place: PlaceId) -> int:
    try:
        return problem.walking.between(from_place, to_place)
    except KeyError:
        return NO_LIMIT_S


def _visit(problem: Problem, draw: Draw, node: int) -> VisitData:
    needed = problem.policy.round.needed_by_s
    ward = problem.patients[draw.request.patient_id].ward
    specimens = tuple(s for by_hand in (False, True) if (s := _specimens(problem, draw, by_hand)) is not None)
    return VisitData(
        node=node,
        service_s=draw.service_s,
        windows=draw.start_windows,
        targets=_merged_targets(draw),
        weight=sum(uncollected_weight(problem, o) for o in draw.request.orders),
        specimens=specimens,
        need_by_s=needed.get(ward, needed.get("*")),
        able=frozenset(i for i, s in enumerate(problem.staff) if draw.skills <= s.skills),
    )


def _specimens(problem: Problem, draw: Draw, by_hand: bool) -> SpecimenData | None:
    tubes = [t for t in draw.tube_set.tubes if not t.is_discard and t.by_hand is by_hand]
    if not tubes:
        return None
    served = {order_id for t in tubes for order_id in t.order_ids}
    limits = [NO_LIMIT_S if t.stability_s is None else t.stability_s for t in tubes]
    weights = problem.policy.weights.late
    return SpecimenData(
        by_hand=by_hand,
        limit_s=min(limits) + draw.lead_s,
        need_weight=sum(weights[o.priority] for o in draw.request.orders if o.id in served),
    )


def _merged_targets(draw: Draw) -> tuple[tuple[int, int], ...]:
    """Return the targets of the *start*, one a second, weights added."""
    merged: dict[int, int] = {}
    for target_s, weight in draw.targets:
        merged[target_s - draw.lead_s] = merged.get(target_s - draw.lead_s, 0) + weight
    return tuple(sorted(merged.items()))
