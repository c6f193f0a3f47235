"""Gives the solver a known round to start from, every variable of it."""

from __future__ import annotations

from ortools.sat.python import cp_model

from planner.scheduling.exact.variables import HandoverSlot, RoundVars, RouteVars
from planner.scheduling.timing.instance import BREAK, Instance
from planner.scheduling.timing.solution import Solution
from planner.scheduling.timing.timing import Stops, Timing

Slots = tuple[HandoverSlot, ...]


def give_hint(model: cp_model.CpModel, instance: Instance, v: RoundVars, slots: Slots, known: Solution) -> None:
    """Hint all decisions of a known round; none when it gives to a departure more often than the model knows.

    It then holds a round as good with fewer hand-overs (the way on from a break counts less), which is not looked for.
    """
    slots_at = [
        _slots_of(instance, slots, stops, timing.starts_s)
        for stops, timing in zip(known.routes, known.timings, strict=True)
    ]
    if None in slots_at:
        return
    planned = {stop for stops in known.routes for stop in stops if stop >= 0}
    for i, is_planned in v.is_planned.items():
        model.add_hint(is_planned, i in planned)
    taken: set[tuple[int, int, int, int]] = set()
    for k, (route, stops, slot_at) in enumerate(zip(v.routes, known.routes, slots_at, strict=True)):
        timing = known.timings[k]
        assert slot_at is not None
        _hint_route(model, v, route, _nodes(v, stops, slot_at), slot_at)
        model.add_hint(route.finish_s, timing.finish_s if stops else instance.collectors[k].from_s)
        _hint_starts(model, v, route, stops, timing, slot_at)
        for position, stop in enumerate(stops):
            if stop >= 0:
                taken |= {(stop, n, k, slot_at[p]) for n, p in enumerate(timing.handovers[position])}
    for key, takes in v.takes.items():
        model.add_hint(takes, key in taken)


def _hint_route(
    model: cp_model.CpModel, v: RoundVars, route: RouteVars, nodes: list[int], slot_at: dict[int, int]
) -> None:
    arcs = set(zip([0, *nodes], [*nodes, 0], strict=True)) if nodes else set()
    for arc, literal in route.arcs.items():
        model.add_hint(literal, arc in arcs)
    for i, serves in route.serves.items():
        model.add_hint(serves, 1 + i in nodes)
    for h, uses in route.uses.items():
        model.add_hint(uses, h in slot_at.values())
    if route.takes_break is not None:
        model.add_hint(route.takes_break, 1 + len(v.start_s) + v.num_slots in nodes)
    model.add_hint(route.is_used, bool(nodes))


def _hint_starts(
    model: cp_model.CpModel, v: RoundVars, route: RouteVars, stops: Stops, timing: Timing, slot_at: dict[int, int]
) -> None:
    for position, stop in enumerate(stops):
        start_s = timing.starts_s[position]
        if stop >= 0:
            model.add_hint(v.start_s[stop], start_s)
        elif stop != BREAK:
            model.add_hint(route.handover_start_s[slot_at[position]], start_s)
        elif route.break_start_s is not None:
            model.add_hint(route.break_start_s, start_s)


def _nodes(v: RoundVars, stops: Stops, slot_at: dict[int, int]) -> list[int]:
    """Return the model's nodes of a route."""
    num_visits = len(v.start_s)
    return [
        1 + stop if stop >= 0 else 1 + num_visits + (v.num_slots if stop == BREAK else slot_at[position])
        for position, stop in enumerate(stops)
    ]


def _slots_of(instance: Instance, slots: Slots, stops: Stops, starts_s: tuple[int, ...]) -> dict[int, int] | None:
    """Return the slot of every hand-over position of a timed route; None when there are not enough."""
    found: dict[int, int] = {}
    for position, stop in enumerate(stops):
        if stop >= 0 or stop == BREAK:
            continue
        departs_s = instance.pickups[~stop].departs_s(starts_s[position] + instance.handover_s)
        free = [
            h for h, s in enumerate(slots) if (s.pickup, s.departs_s) == (~stop, departs_s) and h not in found.values()
        ]
        if not free:
            return None
        found[position] = free[0]
    return found
