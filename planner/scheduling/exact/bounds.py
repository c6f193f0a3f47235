"""Least values of the tiers of goals by simple counting, valid when every visit is made: where the solver starts."""

from __future__ import annotations

from itertools import accumulate

from planner.domain.goals import EFFORT_PER_S, Tier
from planner.scheduling.exact.ways import shortest_over
from planner.scheduling.timing.instance import Instance, PickupData, VisitData

Values = tuple[int, ...]


def least_value(instance: Instance, tier: Tier, is_all_planned: bool) -> int:
    """Return a value that no round can be better than in one tier, the tiers before it being what they are.

    Where some visits are left out, nothing is claimed (0), for another round might leave out others.
    """
    if not is_all_planned or not instance.visits:
        return 0
    prices = instance.prices
    if tier is Tier.SERVICE:
        second = sum(len(group) - 1 for group in instance.same_patient)
        return prices.puncture_s * second + least_past_due(instance)
    if tier is Tier.EFFORT:
        return (
            EFFORT_PER_S * least_time_s(instance)
            + prices.arrival_pct * least_arrival(instance)
            + prices.finish_pct * least_finish(instance)
        )
    return 0


def least_past_due(instance: Instance) -> int:
    """Return the least that specimens come too late for the ward or the stat, each brought as if nothing else were."""
    return sum(
        weight * max(0, _brought_s(instance, visit, specimens.by_hand) - due_s)
        for visit in instance.visits
        for specimens in visit.specimens
        for due_s, weight in instance.dues(visit, specimens)
    )


def least_finish(instance: Instance) -> int:
    """Return the least seconds from the begin of the round until the last person is done."""
    ends_s = [_first_end_s(instance, visit) for visit in instance.visits]
    return max(*ends_s, _last_end_s(instance)) - instance.start_s


def least_arrival(instance: Instance) -> int:
    """Return the least sum of the arrivals at the laboratory, in seconds from the begin of the round.

    The visits in the order of their arrivals: the k-th is no earlier than the k-th of all when each is thought
    alone, and no earlier than what is drawn when k visits can be over at all. For that the k shortest are taken,
    each with the shortest way to its bed, and all collectors work without a pause from when they begin.
    """
    counted = [(v, way_s) for v, way_s in zip(instance.visits, _ways_in_s(instance), strict=True) if v.specimens]
    alone_s = sorted(_first_arrival_s(instance, visit) for visit, _way_s in counted)
    work_s = accumulate(sorted(visit.service_s + way_s for visit, way_s in counted))
    ways_out = _ways_out(instance)
    in_turn_s = [_arrives_s(ways_out, _all_busy_until_s(instance, so_far_s)) for so_far_s in work_s]
    return sum(max(0, a - instance.start_s, b - instance.start_s) for a, b in zip(alone_s, in_turn_s, strict=True))


def _all_busy_until_s(instance: Instance, work_s: int) -> int:
    """Return the first second by which all collectors together can have worked so long."""
    begins_s = sorted(who.from_s for who in instance.collectors)
    ends_s = [-(-(work_s + sum(begins_s[:k])) // k) for k in range(1, len(begins_s) + 1)]
    return min(ends_s)


def _ways_out(instance: Instance) -> list[tuple[PickupData, int]]:
    """Return each pickup with the least seconds from any bed until specimens are given away there."""
    beds = {visit.node for visit in instance.visits if visit.specimens}
    return [
        (pickup, min(instance.walk[bed][pickup.node] for bed in beds) + instance.handover_s)
        for pickup in instance.pickups
        if beds
    ]


def _arrives_s(ways_out: list[tuple[PickupData, int]], ready_s: int) -> int:
    """Return when specimens of a visit that is over by then can be in the laboratory at the earliest."""
    arrivals = (pickup.lab_arrival_s(ready_s + way_s) for pickup, way_s in ways_out)
    return min((arrival_s for arrival_s in arrivals if arrival_s is not None), default=0)


def _last_end_s(instance: Instance) -> int:
    """Return when all can be over, if all collectors worked without a pause and walked the least."""
    return _all_busy_until_s(instance, sum(visit.service_s for visit in instance.visits) + least_time_s(instance))


def _ready_s(instance: Instance, visit: VisitData) -> int:
    """Return the first second at which a visit can be over: its window, and the way from somebody's start."""
    reach_s = min(
        instance.collectors[k].from_s + instance.walk[instance.collectors[k].node][visit.node] for k in visit.able
    )
    starts = [max(w.earliest_s, reach_s) for w in visit.windows if max(w.earliest_s, reach_s) <= w.latest_s]
    return min(starts, default=visit.windows[-1].latest_s) + visit.service_s


def _given_away(instance: Instance, visit: VisitData, by_hand: bool) -> list[tuple[int, int | None]]:
    """Return (end of the hand-over, arrival at the laboratory) if a visit's specimens went straight to each pickup."""
    ready_s = _ready_s(instance, visit)
    ends = [
        (pickup, ready_s + instance.walk[visit.node][pickup.node] + instance.handover_s)
        for pickup in instance.pickups
        if pickup.takes_hand or not by_hand
    ]
    return [(end_s, pickup.lab_arrival_s(end_s)) for pickup, end_s in ends]


def _first_arrival_s(instance: Instance, visit: VisitData) -> int:
    """Return the first second at which all specimens of a visit can be in the laboratory."""
    return max((_brought_s(instance, visit, s.by_hand) for s in visit.specimens), default=0)


def _brought_s(instance: Instance, visit: VisitData, by_hand: bool) -> int:
    """Return the first second at which specimens of a visit can be in the laboratory."""
    return min((a for _end, a in _given_away(instance, visit, by_hand) if a is not None), default=0)


def _first_end_s(instance: Instance, visit: VisitData) -> int:
    """Return the first second at which the route of a visit can be over: its specimens must still be given away."""
    ends = [min((e for e, _a in _given_away(instance, visit, s.by_hand)), default=0) for s in visit.specimens]
    return max(ends, default=_ready_s(instance, visit))


def least_time_s(instance: Instance) -> int:
    """Return the least walking, and one hand-over: the greater of two counts.

    Each bed is entered from somewhere (`_ways_in_s`). And all ways walked join the beds with the starts, so that they
    are no shorter than a least spanning tree, ways over pickups included; one more way leads from a bed to a pickup.
    """
    has_specimens = [visit for visit in instance.visits if visit.specimens]
    last_s = min((instance.walk[v.node][p.node] for v in has_specimens for p in instance.pickups), default=0)
    walking_s = max(sum(_ways_in_s(instance)), _spanning_s(instance)) + last_s
    return walking_s + (instance.handover_s if has_specimens else 0)


def _ways_in_s(instance: Instance) -> list[int]:
    """Return the shortest way into the bed of each visit.

    A bed that shares its place with another stop (a second visit, a pickup, somebody's start) may cost no walk.
    """
    nodes = (
        [v.node for v in instance.visits] + [p.node for p in instance.pickups] + [c.node for c in instance.collectors]
    )
    others = {node: [n for n in nodes if n != node] for node in set(nodes)}
    return [
        min((instance.walk[a][visit.node] for a in others[visit.node]), default=0)
        if nodes.count(visit.node) == 1
        else 0
        for visit in instance.visits
    ]


def _spanning_s(instance: Instance) -> int:
    """Return the length of a least tree that joins all beds with the starts (as one), directions left aside."""
    pickups = [pickup.node for pickup in instance.pickups]
    least_s = shortest_over(instance.walk, pickups)
    starts = {who.node for who in instance.collectors}
    apart_s = {visit.node: min(least_s[start][visit.node] for start in starts) for visit in instance.visits}
    total_s = 0
    while apart_s:  # the bed that is nearest to the tree joins it (Prim)
        bed = min(apart_s, key=lambda bed: apart_s[bed])
        total_s += apart_s.pop(bed)
        for other, way_s in apart_s.items():
            apart_s[other] = min(way_s, least_s[bed][other], least_s[other][bed])
    return total_s
