"""Which stops may follow one another directly: arcs that windows, shifts or couriers rule out are never made."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from planner.scheduling.exact.variables import HandoverSlot
from planner.scheduling.timing.instance import Instance


def reachable_arcs(
    instance: Instance, slots: tuple[HandoverSlot, ...], collector: int, visits: Sequence[int], usable: Sequence[int]
) -> list[tuple[int, int]]:
    """Return the arcs (from node, to node) of one collector that some schedule could use.

    Nodes: 0 start and end, 1 + i visit i, 1 + number of visits + h hand-over slot h, the break last. A route begins
    with a visit (or the break) and ends with a hand-over.
    """
    return list(_arcs(instance, slots, collector, visits, usable))


def _arcs(
    instance: Instance, slots: tuple[HandoverSlot, ...], collector: int, visits: Sequence[int], usable: Sequence[int]
) -> Iterator[tuple[int, int]]:
    who = instance.collectors[collector]
    first_slot = 1 + len(instance.visits)
    spans: dict[int, tuple[int, int, int, int]] = {}
    for i in visits:
        visit = instance.visits[i]
        ready_s = who.from_s + instance.walk[who.node][visit.node]
        earliest_s = max(visit.windows[0].earliest_s, ready_s)
        latest_s = min(visit.windows[-1].latest_s, who.until_s - visit.service_s)
        if earliest_s <= latest_s:
            spans[1 + i] = (earliest_s, latest_s, visit.service_s, visit.node)
    for h in usable:
        slot = slots[h]
        earliest_s = max(slot.first_end_s - instance.handover_s, who.from_s)
        latest_s = min(slot.last_end_s, who.until_s) - instance.handover_s
        if earliest_s <= latest_s:
            spans[first_slot + h] = (earliest_s, latest_s, instance.handover_s, instance.pickups[slot.pickup].node)
    rest = break_node(instance, slots)
    if who.break_s:
        yield 0, rest
        for a in spans:
            yield a, rest
            yield rest, a
    for a, (earliest_s, _latest, service_s, node) in spans.items():
        if a < first_slot:
            yield 0, a
        else:
            yield a, 0
        for b, (_earliest, latest_s, _service, other) in spans.items():
            if a != b and earliest_s + service_s + instance.walk[node][other] <= latest_s:
                yield a, b


def break_node(instance: Instance, slots: tuple[HandoverSlot, ...]) -> int:
    """Return the node of a collector's break."""
    return 1 + len(instance.visits) + len(slots)
