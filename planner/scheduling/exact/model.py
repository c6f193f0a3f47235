"""The round as a CP-SAT model: variables, all rules, a hint from a known round, and values read back."""

from __future__ import annotations

from dataclasses import dataclass

from ortools.sat.python import cp_model

from planner.domain.goals import Tier
from planner.scheduling.exact import constraints
from planner.scheduling.exact.hints import give_hint
from planner.scheduling.exact.objective import Term, tier
from planner.scheduling.exact.reach import reachable_arcs
from planner.scheduling.exact.tighten import Tight, tighten
from planner.scheduling.exact.variables import HandoverSlot, RoundVars, RouteVars, handover_slots
from planner.scheduling.timing.instance import BREAK, CollectorData, Instance
from planner.scheduling.timing.solution import Solution, Values
from planner.scheduling.timing.timing import Stops
from planner.solving.outcome import CpOutcome


@dataclass(frozen=True, slots=True, kw_only=True)
class RoundModel:
    """A model whose only objective is one tier of goals, the tiers before it held at known values."""

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
            slot = node - 1 - num_visits
            if slot < 0:
                stops.append(node - 1)
            else:
                stops.append(~self.slots[slot].pickup if slot < len(self.slots) else BREAK)
            node = follows[node]
        return tuple(stops)


def build_model(instance: Instance, known: Solution, which: Tier, objective: Term | None = None) -> RoundModel:
    """Return the model that improves one tier of a known round and keeps the tiers before it at their values.

    ``objective`` is made small instead of that tier (benchmarks price what no tier of a round prices).
    """
    slots = handover_slots(instance)
    model = cp_model.CpModel()
    tight = _tight(instance, slots, known, which)
    v = _new_variables(model, instance, slots, tight)
    if tight is not None:
        constraints.order(model, instance, v, tight)
    constraints.once(model, instance, v)
    constraints.circuit(model, v)
    for k in range(len(v.routes)):
        constraints.walking(model, instance, v, k, slots)
    constraints.shift(model, instance, v)
    constraints.breaks(model, instance, v)
    constraints.one_at_the_bed(model, instance, v)
    constraints.handover(model, instance, v, slots)
    constraints.courier(model, instance, v, slots)
    constraints.stability(model, instance, v, slots)
    constraints.series_gap(model, instance, v)
    constraints.tray_limit(model, instance, v, slots)
    constraints.trays(model, instance, v)
    _walking_cut(model, instance, v, slots)
    _objective(model, instance, v, slots, known.values, which, objective)
    give_hint(model, instance, v, slots, known)
    return RoundModel(model=model, variables=v, slots=slots)


def _objective(
    model: cp_model.CpModel,
    instance: Instance,
    v: RoundVars,
    slots: tuple[HandoverSlot, ...],
    values: Values,
    which: Tier,
    objective: Term | None,
) -> None:
    for held, value in zip(Tier, values, strict=True):
        if held is which:
            break
        model.add(tier(model, instance, v, slots, held) <= value)
    if objective is not None:
        model.minimize(objective(model, instance, v, slots))
        return
    expression = tier(model, instance, v, slots, which)
    model.add(expression <= values[list(Tier).index(which)])
    model.minimize(expression)


def _tight(instance: Instance, slots: tuple[HandoverSlot, ...], known: Solution, which: Tier) -> Tight | None:
    """Return what is sure of the order of the visits: where one collector must make them all."""
    planned = sum(stop >= 0 for stops in known.routes for stop in stops)
    if which is Tier.LEFT_OUT or len(instance.collectors) > 1 or planned < len(instance.visits) or not planned:
        return None
    tight = tighten(instance, 0, len(slots))
    return tight if tight.is_possible else None


def _new_variables(
    model: cp_model.CpModel, instance: Instance, slots: tuple[HandoverSlot, ...], tight: Tight | None
) -> RoundVars:
    horizon_s = max(
        [c.until_s for c in instance.collectors] + [d for p in instance.pickups for d in p.departures_s]
    ) + max((p.transit_s for p in instance.pickups), default=0)
    start_s = {
        i: model.new_int_var_from_domain(
            cp_model.Domain.from_intervals([[w.earliest_s, w.latest_s] for w in visit.windows]), f"start_s[{i}]"
        )
        for i, visit in enumerate(instance.visits)
    }
    routes = tuple(_new_route(model, instance, slots, k, tight) for k in range(len(instance.collectors)))
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
        num_slots=len(slots),
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


def _new_route(
    model: cp_model.CpModel, instance: Instance, slots: tuple[HandoverSlot, ...], k: int, tight: Tight | None
) -> RouteVars:
    who, begin = instance.collectors[k], len(instance.visits)
    serves = {i: model.new_bool_var(f"serves[{i},{k}]") for i, visit in enumerate(instance.visits) if k in visit.able}
    usable = [h for h, s in enumerate(slots) if s.last_end_s - instance.handover_s >= who.from_s]
    return RouteVars(
        arcs={
            (a, b): model.new_bool_var(f"arc[{a},{b},{k}]")
            for a, b in reachable_arcs(instance, slots, k, sorted(serves), usable)
            if tight is None or not (0 < b <= begin and a <= begin) or ((a - 1) % (begin + 1), b - 1) in tight.arcs
        },
        serves=serves,
        uses={h: model.new_bool_var(f"uses[{h},{k}]") for h in usable},
        handover_start_s={h: model.new_int_var(who.from_s, who.until_s, f"handover_start_s[{h},{k}]") for h in usable},
        break_start_s=_break_start(model, who, k),
        takes_break=model.new_bool_var(f"takes_break[{k}]") if who.break_s else None,
        is_used=model.new_bool_var(f"is_used[{k}]"),
        finish_s=model.new_int_var(who.from_s, who.until_s, f"finish_s[{k}]"),
    )


def _break_start(model: cp_model.CpModel, who: CollectorData, k: int) -> cp_model.IntVar | None:
    if who.break_window is None:
        return None
    return model.new_int_var(who.break_window.earliest_s, who.break_window.latest_s, f"break_start_s[{k}]")


def _walking_cut(model: cp_model.CpModel, instance: Instance, v: RoundVars, slots: tuple[HandoverSlot, ...]) -> None:
    """A route ends no earlier than its service and its walking take (implied; tightens the linear relaxation)."""
    for k, (who, route) in enumerate(zip(instance.collectors, v.routes, strict=True)):
        walk_s = sum(
            constraints.way_s(instance, k, slots, a, b) * literal for (a, b), literal in route.arcs.items() if b
        )
        service_s = sum(instance.visits[i].service_s * s for i, s in route.serves.items())
        model.add(route.finish_s - who.from_s >= walk_s + service_s + instance.handover_s * sum(route.uses.values()))
