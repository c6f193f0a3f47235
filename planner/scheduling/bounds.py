"""Least values of the goals by simple counting, valid when every visit is made; the solver starts from them."""

from __future__ import annotations

from planner.scheduling.instance import Instance, VisitData

Values = tuple[int, ...]


def least_value(instance: Instance, name: str, is_all_planned: bool) -> int:
    """Return a value that no round can be better than in one goal, the goals before it being what they are.

    Where some visits are left out, nothing is claimed (0), for another round might leave out others.
    """
    if not is_all_planned or not instance.visits:
        return 0
    if name == "punctures":
        return sum(not visit.is_tray for visit in instance.visits)
    if name == "arrival":
        return sum(max(0, _first_arrival_s(instance, visit) - instance.start_s) for visit in instance.visits)
    if name == "finish":
        return max(_first_end_s(instance, visit) for visit in instance.visits) - instance.start_s
    return _least_time_s(instance) if name == "time" else 0


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
    firsts = [
        min((a for _end, a in _given_away(instance, visit, s.by_hand) if a is not None), default=0)
        for s in visit.specimens
    ]
    return max(firsts, default=0)


def _first_end_s(instance: Instance, visit: VisitData) -> int:
    """Return the first second at which the route of a visit can be over: its specimens must still be given away."""
    ends = [min((e for e, _a in _given_away(instance, visit, s.by_hand)), default=0) for s in visit.specimens]
    return max(ends, default=_ready_s(instance, visit))


def _least_time_s(instance: Instance) -> int:
    """Return the least walking: each bed is entered from somewhere, and specimens are given away at least once.

    A bed that shares its place with another stop (a second visit, a pickup, somebody's start) may cost no walk.
    """
    nodes = (
        [v.node for v in instance.visits] + [p.node for p in instance.pickups] + [c.node for c in instance.collectors]
    )
    others = {node: [n for n in nodes if n != node] for node in set(nodes)}
    ways = [
        min((instance.walk[a][visit.node] for a in others[visit.node]), default=0)
        if nodes.count(visit.node) == 1
        else 0
        for visit in instance.visits
    ]
    return sum(ways) + (instance.handover_s if any(v.specimens for v in instance.visits) else 0)
