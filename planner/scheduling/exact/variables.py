"""Solver variables of a round, with readable names: who visits which bed when, where specimens are given away.

A stop of a collector is a node: 0 is her start and end, visit i is node 1 + i, her hand-overs follow, her break is
last. The break happens where she is, which no node can know: the way from it counts as the shortest way to the next
stop from anywhere, so bounds stay true and a round read back is timed again. A courier
gives one hand-over node for each departure (a second one gains at most a better place for the break, and the way from
that counts as the shortest anyhow; or room in the tray, see `num_copies`); a pickup that sends at once gives as many as
rule ``handover-limit`` allows. Of several the first is used first.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from planner.scheduling.timing.instance import Instance

if TYPE_CHECKING:  # how large a model would be is asked before the solver is loaded
    from ortools.sat.python import cp_model


@dataclass(frozen=True, slots=True, kw_only=True)
class HandoverSlot:
    """A possible hand-over: its pickup, which copy it is (of its departure), and when it may end (both included)."""

    pickup: int
    copy: int
    first_end_s: int
    last_end_s: int
    departs_s: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class RouteVars:
    """One collector: arcs between nodes, what she serves, when her hand-overs start and end, when she is done."""

    arcs: dict[tuple[int, int], cp_model.IntVar]
    serves: dict[int, cp_model.IntVar]
    uses: dict[int, cp_model.IntVar]
    handover_start_s: dict[int, cp_model.IntVar]
    break_start_s: cp_model.IntVar | None
    takes_break: cp_model.IntVar | None
    is_used: cp_model.IntVar
    finish_s: cp_model.IntVar
    """End of the last stop; the begin of the shift when there is none."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RoundVars:
    """All decisions of a round.

    ``takes[i, n, k, h]``: hand-over h of collector k takes the n-th specimens of visit i.
    """

    start_s: dict[int, cp_model.IntVar]
    is_planned: dict[int, cp_model.IntVar]
    routes: tuple[RouteVars, ...]
    takes: dict[tuple[int, int, int, int], cp_model.IntVar]
    lab_arrival_s: dict[tuple[int, int], cp_model.IntVar]
    """Arrival of the n-th specimens of visit i at the laboratory; free when the visit is not planned."""
    horizon_s: int
    num_slots: int


def handover_slots(instance: Instance) -> tuple[HandoverSlot, ...]:
    """Return the hand-overs that any collector may make."""
    end_s = max(c.until_s for c in instance.collectors)
    copies = num_copies(instance)
    slots: list[HandoverSlot] = []
    for index, pickup in enumerate(instance.pickups):
        if not pickup.departures_s:
            slots += [
                HandoverSlot(pickup=index, copy=n, first_end_s=0, last_end_s=end_s, departs_s=None)
                for n in range(instance.max_sends)
            ]
            continue
        before_s = -(10**6)
        for departs_s in pickup.departures_s:
            slots += [
                HandoverSlot(pickup=index, copy=n, first_end_s=before_s + 1, last_end_s=departs_s, departs_s=departs_s)
                for n in range(copies)
            ]
            before_s = departs_s
    return tuple(slots)


def num_copies(instance: Instance) -> int:
    """Return how often a collector may give to one courier's departure in the exact model.

    Once, while all tubes of the round fit into a tray. Else two hand-overs that follow one another take more than a
    tray together (or the second would do), if nothing is kept for another way out: two for each tray and a tube, and
    one. One more stands for all others: where it is used, rule ``tray-limit`` asks nothing, so that bounds stay true.
    """
    if instance.tray_limit is None:
        return 1
    tubes = sum(s.num_tubes for visit in instance.visits if not visit.is_tray for s in visit.specimens)
    if tubes <= instance.tray_limit:
        return 1
    return max(1, min(len(instance.visits), 2 + 2 * tubes // (instance.tray_limit + 1)))


def count_arcs(instance: Instance) -> int:
    """Return about how many arcs the model would have: squares of the stops that each collector could make."""
    num_slots = len(handover_slots(instance))
    return sum(
        (sum(k in visit.able for visit in instance.visits) + num_slots) ** 2 for k in range(len(instance.collectors))
    )
