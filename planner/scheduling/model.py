"""The round as a CP-SAT model: variables, all rules, a hint from a known round, and values read back."""

from __future__ import annotations

from dataclasses import dataclass

from ortools.sat.python import cp_model

from planner.scheduling import constraints
from planner.scheduling.instance import Instance
from planner.scheduling.objective import GOALS
from planner.scheduling.reach import reachable_arcs
from planner.scheduling.solution import Solution, Values
from planner.scheduling.timing import Stops
from planner.scheduling.variables import HandoverSlot, RoundVars, RouteVars, handover_slots
from planner.solving.outcome import CpOutcome


@dataclass(frozen=True, slots=True, kw_only=True)
class RoundModel:
    """A model whose only objective is one goal, the goals before it held at known values."""

    model: cp_model.CpModel
    variables: RoundVars
    slots: tuple[HandoverSlot, ...]

    def routes(self, outcome: CpOutcome) -> tuple[Stops, ...]:
        """Return the stops of every collector from the values of a solution."""
        return tuple(self._stops(outcome, route) for route in self.variables.routes)

    def _stops(self, outcome: CpOutcome, route: RouteVars) -> Stops:
        follows = {a: b for (a, b), literal in route.arcs.items() if outcome.value(literal)}
        num_visits = len(self.variables.start_s)
        stops: list[int] = []
        node = follows.get(0, 0)
        while node:
            stops.append(node - 1 if node <= num_visits else ~self.slots[node - 1 - num_visits].pickup)
            node = follows[node]
        return tuple(stops)


def build_model(instance: Instance, known: Solution, goal: int) -> RoundModel:
    """Return the model that improves one goal of a known round and keeps the goals before it at their values."""
    slots = handover_slots(instance)
    model = cp_model.CpModel()
    v = _new_variables(model, instance, slots)
    constraints.once(model, instance, v)
    constraints.circuit(model, v)
    for k in range(len(v.routes)):
        constraints.walking(model, instance, v, k, slots)
    constraints.shift(model, instance, v)
    constraints.handover(model, instance, v, slots)
    constraints.courier(model, instance, v, slots)
    constraints.stability(model, instance, v, slots)
    constraints.alike(model, instance, v)
    _walking_cut(model, instance, v, slots)
    _objective(model, instance, v, slots, known.values, goal)
    _hint(model, instance, v, slots, known)
    return RoundModel(model=model, variables=v, slots=slots)


def _objective(
    model: cp_model.CpModel,
    instance: Instance,
    v: RoundVars,
    slots: tuple[HandoverSlot, ...],
    values: Values,
    goal: int,
) -> None:
    for term, value in zip(GOALS[:goal], values, strict=False):
        model.add(term(model, instance, v, slots) <= value)
    expression = GOALS[goal](model, instance, v, slots)
    model.add(expression <= values[goal])
    model.minimize(expression)


def _new_variables(model: cp_model.CpModel, instance: Instance, slots: tuple[HandoverSlot, ...]) -> RoundVars:
    horizon_s = max(
        [c.until_s for c in instance.collectors] + [d for p in instance.pickups for d in p.departures_s]
    ) + max((p.transit_s for p in instance.pickups), default=0)
    start_s = {
        i: model.new_int_var_from_domain(
            cp_model.Domain.from_intervals([[w.earliest_s, w.latest_s] for w in visit.windows]), f"start_s[{i}]"
        )
        for i, visit in enumerate(instance.visits)
    }
    routes = tuple(_new_route(model, instance, slots, k) for k in range(len(instance.collectors)))
    takes = {
        (i, n, k, h): model.new_bool_var(f"takes[{i},{n},{k},{h}]")
        for i, visit in enumerate(instance.visits)
        for n, specimens in enumerate(visit.specimens)
        for k, route in enumerate(routes)
        if i in route.serves
        for h, slot in enumerate(slots)
        if h in route.uses and (instance.pickups[slot.pickup].takes_hand or not specimens.by_hand)
        if _may_take(instance, slot, i, n)
    }
    return RoundVars(
        start_s=start_s,
        is_planned={i: model.new_bool_var(f"is_planned[{i}]") for i in start_s},
        routes=routes,
        takes=takes,
        lab_arrival_s={
            (i, n): model.new_int_var(0, horizon_s, f"lab_arrival_s[{i},{n}]")
            for i, visit in enumerate(instance.visits)
            for n in range(len(visit.specimens))
        },
        horizon_s=horizon_s,
    )


def _may_take(instance: Instance, slot: HandoverSlot, i: int, n: int) -> bool:
    """Return whether the courier of a slot can bring a visit's specimens in within their stability."""
    visit = instance.visits[i]
    if slot.departs_s is None:
        return True
    arrival_s = slot.departs_s + instance.pickups[slot.pickup].transit_s
    return (
        visit.windows[0].earliest_s + visit.service_s + instance.handover_s <= slot.last_end_s
        and visit.windows[-1].latest_s + visit.specimens[n].limit_s >= arrival_s
    )


def _new_route(model: cp_model.CpModel, instance: Instance, slots: tuple[HandoverSlot, ...], k: int) -> RouteVars:
    who = instance.collectors[k]
    serves = {i: model.new_bool_var(f"serves[{i},{k}]") for i, visit in enumerate(instance.visits) if k in visit.able}
    usable = [h for h, s in enumerate(slots) if s.last_end_s - instance.handover_s >= who.from_s]
    return RouteVars(
        arcs={
            (a, b): model.new_bool_var(f"arc[{a},{b},{k}]")
            for a, b in reachable_arcs(instance, slots, k, sorted(serves), usable)
        },
        serves=serves,
        uses={h: model.new_bool_var(f"uses[{h},{k}]") for h in usable},
        handover_start_s={h: model.new_int_var(who.from_s, who.until_s, f"handover_start_s[{h},{k}]") for h in usable},
        is_used=model.new_bool_var(f"is_used[{k}]"),
        finish_s=model.new_int_var(who.from_s, who.until_s, f"finish_s[{k}]"),
    )


def _walking_cut(model: cp_model.CpModel, instance: Instance, v: RoundVars, slots: tuple[HandoverSlot, ...]) -> None:
    """A route ends no earlier than its service and its walking take (implied; tightens the linear relaxation)."""
    for k, (who, route) in enumerate(zip(instance.collectors, v.routes, strict=True)):
        walk_s = sum(
            instance.walk[constraints.place_of(instance, k, slots, a)][constraints.place_of(instance, k, slots, b)]
            * literal
            for (a, b), literal in route.arcs.items()
            if b
        )
        service_s = sum(instance.visits[i].service_s * s for i, s in route.serves.items())
        model.add(route.finish_s - who.from_s >= walk_s + service_s + instance.handover_s * sum(route.uses.values()))


def _hint(
    model: cp_model.CpModel, instance: Instance, v: RoundVars, slots: tuple[HandoverSlot, ...], known: Solution
) -> None:
    """Give the solver a known round to start from."""
    num_visits = len(instance.visits)
    planned = {stop for stops in known.routes for stop in stops if stop >= 0}
    for i, is_planned in v.is_planned.items():
        model.add_hint(is_planned, i in planned)
    taken: set[tuple[int, int, int, int]] = set()
    for k, (route, stops) in enumerate(zip(v.routes, known.routes, strict=True)):
        timing = known.timings[k]
        slot_at = _slots_of(instance, slots, stops, timing.starts_s)
        nodes = [1 + s if s >= 0 else 1 + num_visits + slot_at[p] for p, s in enumerate(stops)]
        arcs = set(zip([0, *nodes], [*nodes, 0], strict=True)) if nodes else set()
        for arc, literal in route.arcs.items():
            model.add_hint(literal, arc in arcs)
        for i, serves in route.serves.items():
            model.add_hint(serves, i in stops)
        for h, uses in route.uses.items():
            model.add_hint(uses, h in slot_at.values())
        model.add_hint(route.is_used, bool(stops))
        model.add_hint(route.finish_s, timing.finish_s if stops else instance.collectors[k].from_s)
        for position, stop in enumerate(stops):
            if stop >= 0:
                model.add_hint(v.start_s[stop], timing.starts_s[position])
                taken |= {(stop, n, k, slot_at[p]) for n, p in enumerate(timing.handovers[position])}
            else:
                model.add_hint(route.handover_start_s[slot_at[position]], timing.starts_s[position])
    for key, takes in v.takes.items():
        model.add_hint(takes, key in taken)


def _slots_of(
    instance: Instance, slots: tuple[HandoverSlot, ...], stops: Stops, starts_s: tuple[int, ...]
) -> dict[int, int]:
    """Return the slot of every hand-over position of a timed route."""
    found: dict[int, int] = {}
    for position, stop in enumerate(stops):
        if stop >= 0:
            continue
        departs_s = instance.pickups[~stop].departs_s(starts_s[position] + instance.handover_s)
        found[position] = next(
            h for h, s in enumerate(slots) if s.pickup == ~stop and s.departs_s == departs_s and h not in found.values()
        )
    return found


def count_arcs(instance: Instance) -> int:
    """Return about how many arcs the model would have: squares of the stops that each collector could make."""
    num_slots = len(handover_slots(instance))
    return sum(
        (sum(k in visit.able for visit in instance.visits) + num_slots) ** 2 for k in range(len(instance.collectors))
    )
